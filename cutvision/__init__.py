"""cutvision: how far a table-saw fence is off, from photos of an offcut or from caliper readings."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cutvision.version import __version__

if TYPE_CHECKING:
    from cutvision.api import Answer, correct, measure

__all__ = ["Answer", "__version__", "correct", "measure"]


def __getattr__(name: str) -> Any:
    """`measure`, `correct` and `Answer`, loaded when they are first asked for: importing the package stays light."""
    if name not in {"Answer", "correct", "measure"}:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from cutvision import api  # noqa: PLC0415  see above

    return getattr(api, name)
