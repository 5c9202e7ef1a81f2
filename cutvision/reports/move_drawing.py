"""Which way to move the fence, drawn in plain characters for a person who stands behind the saw."""

from __future__ import annotations

from cutvision.correction import Correction, MovePlan, Push
from cutvision.reports.columns import wrap
from cutvision.reports.move_text import push_label, said_plan
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
    plan = said_plan(correction)
    lines: tuple[str, ...]
    if plan is not None:
        lines = _planned(correction, plan)
    elif correction.is_square_cut:
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


def _planned(correction: Correction, plan: MovePlan) -> tuple[str, ...]:
    """The fence as it was said to be held: what is done at which end, and about what it turns."""
    if plan.fence != "single":
        drawn, part = _planned_v(plan), "foot"
    else:
        drawn, part = _planned_single(correction, plan), "end"
    about = "point" if plan.pivot == "point" else f"{plan.pivot} {part}"
    told = [f"{push.end.capitalize()} {part}: {push_label(push)}." for push in plan.pushes]
    told.append(f"The fence turns {_turn(correction)} about its {about} (o).")
    if plan.point is not None:
        told.append(f"Then the V slides to the {plan.point.slide}, until its point is back at the kerf.")
    return (*_HEAD, *drawn, "", *(line for text in told for line in wrap(text).splitlines()))


def _planned_v(plan: MovePlan) -> tuple[str, ...]:
    """A V on two feet against its rear stop."""
    column = {"left": _LEFT, "right": _RIGHT}
    upper = dict.fromkeys(column.values(), "o")
    lower = dict(upper)
    names = {} if plan.pivot == "point" else {column[plan.pivot or ""] - 2: "pivot"}
    for push in plan.pushes:
        at = column[push.end]
        upper[at], lower[at] = _ARROW[push.way], "S" if push.screw is not None else "#"
        names[at - 2] = "screw" if push.screw is not None else push.means
    top = list(_V_FENCE)
    if plan.pivot == "point":
        top[2] = top[2].replace("|", "o")
    return (*top, _at(*upper.items()), _at(*lower.items()), f"{'=' * _WIDTH} rear stop", _at(*names.items()))


def _planned_single(correction: Correction, plan: MovePlan) -> tuple[str, ...]:
    """A straight fence across the table or at an angle: the pivot at one end, the push at the other."""
    (push,) = plan.pushes
    middle = _WIDTH // 2
    if correction.is_square_cut:
        lean, fence = 0, {(0, column): "=" for column in range(_WIDTH)}
        ends = {"left": (0, 3), "right": (0, _WIDTH - 4)}
        work = middle - 20 if push.end == "right" else middle + 9
    else:
        # kept on the right, a triangle falls off to the left, and the fence runs the other way
        lean = 1 if correction.kept == "left" else -1
        sign = "/" if lean > 0 else "\\"
        fence = {(row, middle - 2 * lean * row): sign for row in range(-4, 5)}
        ends = {"right": (-4 * lean, middle + 8), "left": (4 * lean, middle - 8)}
        work = middle - 20 if lean > 0 else middle + 9
    top = -5 if correction.is_square_cut else -8
    grid = fence | {(row, middle): "|" for row in range(top, 0)} | ({} if lean else {(0, middle): "|"})
    row, column = ends[push.end]
    above, below = _beside(push)
    marks = [(row - len(above) + n, mark) for n, mark in enumerate(above)]
    marks += [(row + 1 + n, mark) for n, mark in enumerate(below)]
    leftward = push.end == "left" and not correction.is_square_cut
    for at, (mark, word) in marks:
        _write(grid, at, column, mark, word, leftward=leftward)
    _write(grid, ends[plan.pivot or ""][0], ends[plan.pivot or ""][1], "o", "", leftward=False)
    shift = (1, -2) if correction.is_square_cut else (0, 3 if plan.pivot == "right" else -7)
    _put(grid, ends[plan.pivot or ""][0] + shift[0], ends[plan.pivot or ""][1] + shift[1], "pivot")
    _put(grid, top, middle + 2, "blade")
    _put(grid, top + 1, work, "work beyond")
    _put(grid, top + 2, work, "the fence")
    rows = range(min(r for r, _ in grid), max(r for r, _ in grid) + 1)
    return tuple(_at(*((c, mark) for (r, c), mark in grid.items() if r == row)) for row in rows)


_ARROW = {"away": "^", "toward": "v"}


def _beside(push: Push) -> tuple[list[tuple[str, str]], list[tuple[str, str]]]:
    """Marks and words above and below the end that is pushed: its arrow, the leaf and the stop that it comes from."""
    arrow = (_ARROW[push.way], "")
    if push.means not in {"shim in", "shim out"}:
        return ([arrow], []) if push.way == "away" else ([], [arrow])
    leaf, stop = ("#", push.means), ("=", "stop")
    if push.means == "shim in":
        return ([arrow], [leaf, stop]) if push.way == "away" else ([stop, leaf], [arrow])
    return ([stop, leaf, arrow], []) if push.way == "away" else ([], [arrow, leaf, stop])


def _write(grid: dict[tuple[int, int], str], row: int, column: int, mark: str, word: str, *, leftward: bool) -> None:
    """A mark, and a word beside it on the side where the fence is not."""
    grid[row, column] = mark
    _put(grid, row, column - len(word) - 1 if leftward else column + 2, word)


def _put(grid: dict[tuple[int, int], str], row: int, column: int, word: str) -> None:
    for n, letter in enumerate(word):
        grid[row, column + n] = letter


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
