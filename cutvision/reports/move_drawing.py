"""Which way to move the fence, drawn in plain characters for a person who stands behind the saw."""

from __future__ import annotations

from cutvision.correction import Correction
from cutvision.units import MM_PER_INCH, format_length

_HEAD = ("Seen from above; you stand at the bottom, the blade cuts away from you.", "")
_V_FENCE = (
    r"                        | blade",
    r"    work beyond         |",
    r"    the fence          /|\ ",
    r"                     /  |  \ ",
    r"                   /    |    \ ",
    r"                 /      |      \ ",
    r"               /        |        \ ",
)
_RISING = (
    r"                        | blade",
    r"    work beyond         |     / ",
    r"    the fence           |   / ",
    r"                        | / ",
    r"                        o   pivot, wherever yours sits",
    r"                      / ",
    r"                    / ",
    r"                  / ",
)
_FALLING = (
    r"                        | blade",
    r"                  \     |         work beyond",
    r"                    \   |         the fence",
    r"                      \ | ",
    r"                        o   pivot, wherever yours sits",
    r"                          \ ",
    r"                            \ ",
    r"                              \ ",
)
_LEFT, _RIGHT = 15, 33
_WIDTH = 49


def move_drawing(correction: Correction) -> tuple[str, ...]:
    """Lines of ASCII text: saw table, blade, fence, pivot, arrow, amount, turn; none when nothing is to be turned."""
    if correction.is_square_cut:
        lines = _square(correction) if correction.side is not None else ()
    elif correction.turn is None:
        lines = ()
    else:
        lines = _v_fence(correction) if correction.side is not None else _single_fence(correction)
    return tuple(line.rstrip() for line in lines)


def _v_fence(correction: Correction) -> tuple[str, ...]:
    """A V on two feet: the leaf goes between one foot and the rear stop, the other foot is the pivot."""
    end = correction.move.forward_end
    pushed, pivot = (_LEFT, _RIGHT) if end == "left" else (_RIGHT, _LEFT)
    return (
        *_HEAD,
        *_V_FENCE,
        _at((pushed, "^"), (pivot, "o")),
        _at((pushed, "#"), (pivot, "o")),
        f"{'=' * _WIDTH} rear stop",
        _at((pushed - 1, "leaf"), (pivot - 2, "pivot")),
        "",
        f"Leaf (#) of {_amount(correction)} behind the {end} foot:",
        "that foot goes away from you,",
        f"the fence turns {_turn(correction)} about its other foot (o).",
    )


def _single_fence(correction: Correction) -> tuple[str, ...]:
    """One slanted fence; as it is not known where its pivot sits, both sides of the pivot are told."""
    away, toward = "^ goes away from you", "v comes toward you"
    left, right = (away, toward) if correction.turn == "clockwise" else (toward, away)
    return (
        *_HEAD,
        *(_RISING if correction.kept == "left" else _FALLING),
        "",
        f"left of the pivot {left},",
        f"right of the pivot {right}:",
        f"{_amount(correction)} at {_lever(correction)} from the pivot.",
        f"The fence turns {_turn(correction)}.",
    )


def _square(correction: Correction) -> tuple[str, ...]:
    """A fence across the table: its end on the kept side moves, the other end is the pivot."""
    toward = correction.side == "toward-work"
    end, pivot = (_WIDTH - 4, 3) if correction.kept == "right" else (3, _WIDTH - 4)
    arrow = (_at((end, "^")), _at((end, "|"))) if toward else (_at((end, "|")), _at((end, "v")))
    fence = list("=" * _WIDTH)
    fence[_WIDTH // 2], fence[end], fence[pivot] = "|", "#", "o"
    labels = _at((end - 1, "end"), (pivot - 2, "pivot"))
    way = "toward the work, away from you" if toward else "away from the work, toward you"
    kept = "the side you keep" if correction.kept is None else f"the {correction.kept}, the side you keep,"
    last = (
        f"The fence turns {_turn(correction)} about its other end (o)."
        if correction.turn is not None
        else "Drawn for work kept on the left of the blade; kept on the right, mirror it."
    )
    return (
        *_HEAD,
        "                        | blade",
        "    work beyond         |",
        "    the fence           |",
        *(arrow if toward else ()),
        f"{''.join(fence)} fence",
        *(() if toward else arrow),
        labels,
        "",
        f"The fence's end (#) on {kept} goes",
        f"{way},",
        f"by {_amount(correction)}",
        f"at {_lever(correction)} from the pivot.",
        last,
    )


def _at(*marks: tuple[int, str]) -> str:
    line = ""
    for column, mark in sorted(marks):
        line = line.ljust(column) + mark
    return line


def _amount(correction: Correction) -> str:
    return format_length(correction.fence_move.value, correction.fence_move.expanded_uncertainty)


def _lever(correction: Correction) -> str:
    lever_mm = correction.move.lever.value
    return f"{lever_mm:.4g} mm ({lever_mm / MM_PER_INCH:.4g} in)"


def _turn(correction: Correction) -> str:
    return "clockwise" if correction.turn == "clockwise" else "counter-clockwise"
