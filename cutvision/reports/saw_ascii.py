"""The saw scene in plain characters, small enough to stand on a terminal screen beside its answer."""

from __future__ import annotations

import math
from itertools import pairwise

from cutvision.reports.columns import COLUMNS
from cutvision.reports.saw_scene import PushMark, SawScene

HEAD = "Seen from above. You stand at the bottom; the blade cuts away from you."
_WIDTH = 48
# Rows that the fence may take: a slanted one, each arm of a V.
_SLANTED_ROWS, _V_ROWS = 6, 3
_ARROW = {"away": "^", "toward": "v"}

Grid = dict[tuple[int, int], str]


def ascii_scene(scene: SawScene) -> tuple[str, ...]:
    """Lines of at most 80 signs: table, blade, fence, pivot (o), shim (#), arrow, and what is done."""
    points = scene.face
    tall = max(p.imag for p in points) - min(p.imag for p in points)
    wide = max(p.real for p in points) - min(p.real for p in points)
    rows = _V_ROWS if scene.kind != "single" else _SLANTED_ROWS - 1
    row_mm = max(tall / rows, 2 * wide / _WIDTH)
    grid: Grid = {}
    cells = [_cell(p, row_mm) for p in points]
    for start, end in pairwise(cells):
        _line(grid, start, end)
    top = min(row for row, _ in grid) - (2 if not tall else 1 if scene.kind != "single" else 0)
    v = scene.kind != "single"
    for row in range(top, 1 if v else 0):
        grid.setdefault((row, 0), "|")
    if not v:
        grid.setdefault((0, 0), "|")
    rises = scene.face[-1].imag > scene.face[0].imag
    _beside(grid, top, 0, "blade", leftward=rises)
    if v:
        row = cells[1][0]
        grid[row, -1], grid[row, 0], grid[row, 1] = "/", "|", "\\"
        _feet(grid, scene, row_mm)
    else:
        _ends(grid, scene, row_mm)
    return (HEAD, *_rendered(grid))


def _feet(grid: Grid, scene: SawScene, row_mm: float) -> None:
    """A V's feet on their rear stop: arrow and shim (or screw) at a foot that is moved, the other one the pivot."""
    left, right = (_cell(scene.face[n], row_mm) for n in (0, 2))
    column = {"left": left[1], "right": right[1]}
    foot = max(left[0], right[0])
    for at in column.values():
        grid[foot, at] = grid[foot + 1, at] = "o"
    if scene.pivot_at == "point":
        grid[_cell(scene.face[1], row_mm)] = "o"
    for at in range(left[1] - 4, right[1] + 5):
        grid[foot + 2, at] = "="
    _put(grid, foot + 2, right[1] + 6, "rear stop")
    for mark in scene.marks:
        at = column[mark.end]
        grid[foot, at] = _ARROW[mark.push.way]
        grid[foot + 1, at] = "S" if mark.push.screw is not None else "#"
        word = "screw" if mark.push.screw is not None else mark.push.means
        _beside(grid, foot, at, mark.amount, leftward=mark.end == "left")
        _beside(grid, foot + 1, at, word, leftward=mark.end == "left")
    if scene.pivot_at in column:
        _beside(grid, foot, column[scene.pivot_at], "pivot", leftward=scene.pivot_at == "left")


def _ends(grid: Grid, scene: SawScene, row_mm: float) -> None:
    """A straight fence: what is done at its ends, and its pivot."""
    flat = abs((scene.face[-1] - scene.face[0]).imag) < 1e-9
    for mark in scene.marks:
        row, column = _cell(mark.true, row_mm)
        above, below = _stacked(mark)
        signs = [(row - len(above) + n, one) for n, one in enumerate(above)]
        signs += [(row + 1 + n, one) for n, one in enumerate(below)]
        for at, (sign, word) in signs:
            grid[at, column] = sign
            _beside(grid, at, column, word, leftward=mark.end == "left" and not flat)
        if mark.maybe:
            _put(grid, row + 1 + len(below), column - 3, f"if kept {mark.end}")
    if scene.pivot is not None and scene.pivot_at is not None:
        row, column = _cell(scene.pivot, row_mm)
        grid[row, column] = "o"
        if flat:
            _put(grid, row + 1, column - 2, "pivot")
        else:
            # clear of the fence's last signs
            _beside(
                grid, row, column + (-3 if scene.pivot_at == "left" else 3), "pivot", leftward=scene.pivot_at == "left"
            )


def _stacked(mark: PushMark) -> tuple[list[tuple[str, str]], list[tuple[str, str]]]:
    """Signs and words above and below the end that is pushed: its arrow, the shim and the stop that it bears on."""
    push = mark.push
    arrow = (_ARROW[push.way], mark.amount)
    if push.screw is not None:
        screw = ("S", "screw")
        if push.way == "away":
            return ([arrow], [screw]) if mark.yours else ([screw, arrow], [])
        return ([], [arrow, screw]) if mark.yours else ([screw], [arrow])
    if push.means == "push":
        return ([arrow], []) if push.way == "away" else ([], [arrow])
    shim, stop = ("#", push.means), ("=", "stop")
    if push.means == "shim in":
        return ([arrow], [shim, stop]) if push.way == "away" else ([stop, shim], [arrow])
    return ([stop, shim, arrow], []) if push.way == "away" else ([], [arrow, shim, stop])


def _line(grid: Grid, start: tuple[int, int], end: tuple[int, int]) -> None:
    """A line of characters: level, steep, or in steps of a third of a row."""
    (r0, c0), (r1, c1) = start, end
    down, across = r1 - r0, c1 - c0
    if not down:
        for column in range(min(c0, c1), max(c0, c1) + 1):
            grid[r0, column] = "="
        return
    if abs(down) >= 0.35 * abs(across):
        sign = "\\" if (down > 0) == (across > 0) else "/"
        for n in range(abs(down) + 1):
            grid[r0 + (n if down > 0 else -n), round(c0 + across * n / abs(down))] = sign
        return
    for n in range(abs(across) + 1):
        height = r0 + down * n / abs(across)
        row = math.floor(height + 0.5)
        grid[row, c0 + (n if across > 0 else -n)] = "'-."[min(2, int((height + 0.5 - row) * 3))]


def _cell(point: complex, row_mm: float) -> tuple[int, int]:
    """(row, column): rows downward, twice as tall as columns are wide; the blade stands in column 0."""
    return round(-point.imag / row_mm), round(2 * point.real / row_mm)


def _beside(grid: Grid, row: int, column: int, word: str, *, leftward: bool) -> None:
    _put(grid, row, column - len(word) - 1 if leftward else column + 2, word)


def _put(grid: Grid, row: int, column: int, word: str) -> None:
    for n, sign in enumerate(word):
        grid[row, column + n] = sign


def _rendered(grid: Grid) -> list[str]:
    first = min(-_WIDTH // 2, *(column for _, column in grid))
    lines = []
    for row in range(min(row for row, _ in grid), max(row for row, _ in grid) + 1):
        columns = {column - first: sign for (at, column), sign in grid.items() if at == row}
        line = "".join(columns.get(n, " ") for n in range(max(columns, default=-1) + 1))
        lines.append(line[:COLUMNS].rstrip())
    return lines
