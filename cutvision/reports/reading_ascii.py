"""A test piece as it lies before the person who reads it, drawn in a terminal's letters."""

from __future__ import annotations

_MITER = r"""
      corner, away from you
                /\
     left leg  /  \  right leg
              /    \
             /______\
       the cut, toward you
"""
_STRIP = r"""
      +------------------------------------------------+
 lay  |  F  ^                                    ^     |
 at   |     | width at the fence    at far end   |     |  far
 the  |     v                                    v     |  end
 fence+------------------------------------------------+
            |<-------------- spacing ------------->|
"""
_DRAWN = {"miter": _MITER, "arms": _MITER, "square": _STRIP}


def reading_ascii(method: str) -> str:
    """The piece of this way of reading; empty where words and the drawn page say it better."""
    return _DRAWN.get(method, "").strip("\n")
