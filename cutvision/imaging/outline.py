"""The coarse outline of the piece: which straight sides it shows, as the shape asked for orders them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage
from skimage import measure
from skimage.filters import threshold_multiotsu, threshold_otsu

from cutvision.errors import PhotoRefused
from cutvision.imaging.masks import eroded, extent, filled, opened, patches
from cutvision.imaging.opencv import cv2
from cutvision.imaging.wood import WoodMap
from cutvision.plane import polygon_area
from cutvision.target import Sheet

SMALLEST_PIECE_MM2 = 80.0
LEAST_HUE = 0.02
SHORT_SIDE_MM = 14.0
SMOOTHING, SMOOTHING_REACH = 0.7, 8
"""Standard deviation of the blur of a mask before its contour is drawn, and how far it is surely spent, in cells."""
DARK, DARK_HUE = 0.3, 0.35
"""Light of dark wood beside the paper's, and its hue for its light: walnut has 0.06 and 0.7, a shadow of paper under
lamps of different colours 0.4 and 0.3 at the most, ink 0.05 and none (rendered photos)."""
SIDES = {"miter": 3, "strip": 4, "board": 4, "corner": 2}


@dataclass(frozen=True, slots=True)
class Side:
    """A straight side as seen on the paper, in the sheet's frame, running clockwise round the piece (seen from above).

    start_mm, end_mm: (2,) where it meets its neighbours, or where it leaves the view.
    """

    start_mm: np.ndarray
    end_mm: np.ndarray

    @property
    def length_mm(self) -> float:
        return float(np.hypot(*(self.end_mm - self.start_mm)))

    @property
    def direction(self) -> np.ndarray:
        return np.asarray((self.end_mm - self.start_mm) / self.length_mm)


@dataclass(frozen=True, slots=True)
class Outline:
    """Sides in the shape's own order, the wood's cells, and how rough the coarse sides are.

    Order: miter: right leg, cut, left leg; strip: the long side toward the sheet's top, then the other; corner: the
    side before it (clockwise from above), the side after; board: from the corner nearest the sheet's origin, clockwise.
    """

    shape: str
    sides: tuple[Side, ...]
    mask: np.ndarray
    roughness_mm: float


def find_outline(sheet: Sheet, wood: WoodMap, shape: str) -> Outline:
    """The piece's outline, for the shape asked for.

    Raises PhotoRefused: "no-offcut", "several-offcuts", "wrong-shape", "offcut-hidden" or "overexposed".
    """
    hue = wood.hue
    if float(np.ptp(hue)) < LEAST_HUE:
        raise PhotoRefused(
            "no-offcut",
            "The photo has no colour, and it is by its colour that wood is told from paper.",
            "Take the photo in colour, without a black-and-white filter.",
        )
    burnt = _burnt_share(sheet, wood)
    first = float(threshold_otsu(hue))
    inside = hue[hue >= first]
    level = float(np.median(inside))
    paper = hue[hue < first]
    noise = 1.4826 * float(np.median(np.abs(paper - np.median(paper))))
    candidates: list[tuple[float, Outline]] = []
    reasons: list[PhotoRefused] = []
    thresholds = [first, 0.35 * level, 0.5 * level, 0.65 * level, 0.78 * level]
    if level > LEAST_HUE:
        thresholds.append(float(threshold_multiotsu(hue, classes=3, nbins=128)[1]))
    by_hue = [hue > t for t in sorted({max(t, LEAST_HUE, 4 * noise) for t in thresholds})]
    for mask in [*by_hue, *_split_by_brightness(wood, by_hue[0]), _dark_wood(wood)]:
        try:
            outline = _outline_of(sheet, mask, shape, wood.mm_per_cell)
        except PhotoRefused as refusal:
            reasons.append(refusal)
            continue
        candidates.append((_quality(outline, wood), outline))
    if candidates:
        return max(candidates, key=lambda pair: pair[0])[1]
    if burnt > 0.25:
        raise PhotoRefused(
            "overexposed",
            f"{100 * burnt:.0f} % of the paper in the window is burnt out to white, and the piece's edges with it.",
        )
    said = [refusal.reason for refusal in reasons[: len(by_hue)]]
    commonest = max(said, key=said.count)
    raise next(refusal for refusal in reasons if refusal.reason == commonest)


def _burnt_share(sheet: Sheet, wood: WoodMap) -> float:
    left, top, right, bottom = (round(v / wood.mm_per_cell) for v in sheet.window_mm)
    return float(wood.burnt[top:bottom, left:right].mean())


def _split_by_brightness(wood: WoodMap, mask: np.ndarray) -> list[np.ndarray]:
    """The brighter and the darker part of a mask: face and shaded wall, or wood and coloured shadow."""
    bright = wood.colour.mean(axis=2)
    core = eroded(mask, 3)
    if core.sum() < 200:
        return []
    divide = float(threshold_otsu(bright[core]))
    return [mask & (bright >= divide), mask & (bright < divide)]


def _dark_wood(wood: WoodMap) -> np.ndarray:
    """(h, w) what is dark and yet coloured: dark wood has little hue in all, but more for its light than any shadow."""
    bright = wood.colour.mean(axis=2)
    return np.asarray((bright < DARK) & (wood.hue > DARK_HUE * bright))


def _quality(outline: Outline, wood: WoodMap) -> float:
    """How much a piece of wood it looks: its face's colour just inside every side, a step there, straight sides.

    A coloured shadow differs from the face; so does a side wall in the shade, whose inner edge is then taken: the fit
    of the edges knows where the geometry puts the wall and looks there.
    """
    core = eroded(outline.mask, 6)
    if not core.any():
        core = outline.mask
    face = np.median(wood.colour[core], axis=0)
    reach = max(0.05, float(np.linalg.norm(face - 1.0)))
    bands = [wood.colour[..., k] for k in range(3)]
    worth = []
    for side in outline.sides:
        across = np.array([side.direction[1], -side.direction[0]])
        along = np.linspace(0.08, 0.92, 40)[:, None] * (side.end_mm - side.start_mm) + side.start_mm
        colours = []
        for sign in (-1, 1):
            cells = ((along + sign * 0.8 * across) / wood.mm_per_cell - 0.5).T[::-1]
            colours.append(np.column_stack([ndimage.map_coordinates(b, cells, order=1, mode="nearest") for b in bands]))
        alike = 1 - np.linalg.norm(colours[0] - face, axis=1) / reach
        step = np.linalg.norm(colours[0] - colours[1], axis=1) / reach
        within, beyond = (c @ np.array([0.5, 0.5, -1.0]) for c in colours)
        if face.mean() < DARK:
            # a shadow may have more hue than dark wood, but never more for its light
            within, beyond = (
                h / np.maximum(c.mean(axis=1), 0.03) for h, c in zip((within, beyond), colours, strict=True)
            )
        like_the_face = max(0.0, float(np.quantile(alike, 0.3)))
        worth.append(like_the_face**3 * float(np.quantile(step, 0.25)) * float(np.mean(within > beyond)))
    return min(worth) / (0.1 + outline.roughness_mm)


def _outline_of(sheet: Sheet, mask: np.ndarray, shape: str, cell: float) -> Outline:
    found = patches(opened(mask, 2))
    labels, areas = found.labels, found.areas * cell * cell
    if len(areas) == 0:
        raise PhotoRefused("no-offcut", "Nothing in the window differs from the paper as wood does.")
    biggest = int(np.argmax(areas))
    if areas[biggest] < SMALLEST_PIECE_MM2:
        raise PhotoRefused(
            "no-offcut", "Nothing in the window as large as an offcut differs from the paper as wood does."
        )
    least = max(SMALLEST_PIECE_MM2, 0.04 * areas[biggest])
    others = [k for k in np.argsort(areas)[::-1] if k != biggest and areas[k] > least]
    piece = filled(labels == biggest + 1)
    if others:
        raise _second_patch(labels, biggest, int(others[0]), areas, cell)
    contour = _contour(piece, cell)
    return _arranged(sheet, shape, contour, _straight_sides(contour, sheet), piece)


def _second_patch(labels: np.ndarray, biggest: int, other: int, areas: np.ndarray, cell: float) -> PhotoRefused:
    """The refusal of two patches of wood: one piece with something laid across it, or two pieces."""
    both = (labels == biggest + 1) | (labels == other + 1)
    hull = measure.regionprops(both.astype(np.uint8))[0]
    away = cv2.distanceTransform((labels != biggest + 1).view(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    gap = float(away[labels == other + 1].min()) * cell
    if hull.solidity > 0.85 and gap < 25:
        return PhotoRefused("offcut-hidden", "Something lies across the piece: its wood shows on both sides of a gap.")
    return PhotoRefused(
        "several-offcuts",
        f"Two separate pieces show: {areas[biggest]:.0f} and {areas[other]:.0f} square millimetres.",
    )


def _contour(piece: np.ndarray, cell: float) -> np.ndarray:
    """(N, 2) closed contour in mm, clockwise as seen from above."""
    padded = np.pad(piece, 1)
    rows, columns = extent(padded, SMOOTHING_REACH)
    smooth = ndimage.gaussian_filter(padded[rows, columns].astype(float), SMOOTHING)
    longest = max(measure.find_contours(smooth, 0.5), key=len)[:, ::-1] + [columns.start - 1, rows.start - 1]
    contour = np.asarray((longest[:-1] + 0.5) * cell)
    return contour if polygon_area(contour) > 0 else contour[::-1]


@dataclass(frozen=True, slots=True)
class _Run:
    """A straight run of contour points (N, 2): a fitted line (point, direction) and its extent along it.

    cut_off: it runs along the map's border, where the piece leaves the sheet.
    """

    points: np.ndarray
    point: np.ndarray
    direction: np.ndarray
    length: float
    rms: float
    cut_off: bool


@dataclass(frozen=True, slots=True)
class _Sides:
    """The straight runs in order round the contour, and the share of the contour that they explain."""

    runs: list[_Run]
    explained: float


def _fit_run(points: np.ndarray, sheet: Sheet) -> _Run:
    """The line of a run without its ends, where the contour turns."""
    return _fit_line(_trimmed(points), points, cut_off=_at_border(points, sheet))


def _joined(a: _Run, b: _Run) -> _Run:
    inner = np.concatenate([_trimmed(a.points), _trimmed(b.points)])
    return _fit_line(inner, np.concatenate([a.points, b.points]), cut_off=a.cut_off)


def _fit_line(points: np.ndarray, whole: np.ndarray, *, cut_off: bool) -> _Run:
    middle = points.mean(axis=0)
    keep = np.ones(len(points), dtype=bool)
    for _ in range(4):
        middle = points[keep].mean(axis=0)
        _, _, axes = np.linalg.svd(points[keep] - middle, full_matrices=False)
        away = (points - middle) @ np.array([-axes[0][1], axes[0][0]])
        scale = max(0.12, 1.4826 * float(np.median(np.abs(away[keep]))))
        keep = np.abs(away) < 3 * scale
    direction = axes[0] if (points[-1] - points[0]) @ axes[0] > 0 else -axes[0]
    along = (points - middle) @ direction
    return _Run(whole, middle, direction, float(np.ptp(along)), float(np.sqrt((away[keep] ** 2).mean())), cut_off)


def _at_border(points: np.ndarray, sheet: Sheet) -> bool:
    x, y = points[1:-1].T if len(points) > 2 else points.T
    near = (x < 1) | (y < 1) | (x > sheet.width_mm - 1) | (y > sheet.height_mm - 1)
    return bool(near.mean() > 0.8)


def _straight_sides(contour: np.ndarray, sheet: Sheet) -> _Sides:
    """The runs longer than a broken tip, collinear neighbours joined."""
    simple = cv2.approxPolyDP(contour.astype(np.float32).reshape(-1, 1, 2), 1.0, closed=True)
    vertices = np.asarray(simple).reshape(-1, 2)
    index = sorted(int(np.argmin(np.hypot(*(contour - v).T))) for v in vertices)
    pieces = []
    for start, end in zip(index, [*index[1:], index[0] + len(contour)], strict=True):
        pieces.append(np.take(contour, range(start, end + 1), axis=0, mode="wrap"))
    perimeter = float(np.hypot(*(contour - np.roll(contour, 1, axis=0)).T).sum())
    shortest = max(6.0, 0.035 * perimeter)
    long_enough = [p for p in pieces if np.hypot(*(p[-1] - p[0])) >= shortest]
    explained = sum(float(np.hypot(*(p[-1] - p[0]))) for p in long_enough) / perimeter
    return _Sides(_with_collinear_joined([_fit_run(p, sheet) for p in long_enough]), explained)


def _with_collinear_joined(runs: list[_Run]) -> list[_Run]:
    runs = list(runs)
    k = 0
    while k < len(runs) and len(runs) > 2:
        after = (k + 1) % len(runs)
        if _collinear(runs[k], runs[after]):
            runs[k] = _joined(runs[k], runs[after])
            runs.pop(after)
            k = 0
        else:
            k += 1
    return runs


def _collinear(a: _Run, b: _Run) -> bool:
    turn = abs(a.direction[0] * b.direction[1] - a.direction[1] * b.direction[0])
    apart = abs((b.point - a.point) @ np.array([-a.direction[1], a.direction[0]]))
    return bool(a.direction @ b.direction > 0 and turn < 0.06 and apart < 1.2 and a.cut_off == b.cut_off)


def _trimmed(points: np.ndarray) -> np.ndarray:
    """The run without its ends, where the contour turns."""
    cut = min(len(points) // 6, 4)
    return points[cut : len(points) - cut]


def _meet(a: _Run, b: _Run) -> np.ndarray:
    system = np.column_stack([a.direction, -b.direction])
    s = np.linalg.solve(system, b.point - a.point)
    return np.asarray(a.point + s[0] * a.direction)


def _arranged(sheet: Sheet, shape: str, contour: np.ndarray, found: _Sides, mask: np.ndarray) -> Outline:
    """The sides that the shape calls for, in its own order. Raises PhotoRefused."""
    runs = found.runs
    free = [run for run in runs if not run.cut_off]
    cut_off = len(free) < len(runs)
    wanted = SIDES[shape]
    while len(free) > wanted and min(run.length for run in free) < SHORT_SIDE_MM and shape != "corner":
        # a broken tip, or the upright arris between two side walls
        free.pop(min(range(len(free)), key=lambda k: free[k].length))
    rms = max((run.rms for run in free), default=0.0)
    if shape == "corner":
        sides = _corner_sides(sheet, runs)
    elif shape == "strip" and len(free) in (2, 3):
        sides = _strip_sides_leaving(sheet, runs)
    else:
        if len(free) != wanted or cut_off:
            raise _not_the_shape(shape, free, found, contour)
        points = [_meet(free[k - 1], free[k]) for k in range(len(free))]
        sides = [Side(points[k], points[(k + 1) % len(points)]) for k in range(len(points))]
        covered = abs(polygon_area(np.array(points)))
        seen = abs(polygon_area(contour))
        if seen < 0.93 * covered:
            raise PhotoRefused(
                "offcut-hidden",
                f"The piece's sides enclose {covered:.0f} square millimetres, and only {seen:.0f} of wood show: "
                "something covers a part of it.",
            )
        sides = _in_order(shape, sides)
    return Outline(shape, tuple(sides), mask, rms)


def _not_the_shape(shape: str, free: list[_Run], found: _Sides, contour: np.ndarray) -> PhotoRefused:
    """The refusal: "offcut-hidden" when the piece is notched or leaves the sheet, else "wrong-shape"."""
    hull = cv2.convexHull(contour.astype(np.float32).reshape(-1, 1, 2)).reshape(-1, 2)
    filled = abs(polygon_area(contour)) / abs(polygon_area(np.asarray(hull, dtype=float)))
    if filled < 0.93:
        return PhotoRefused(
            "offcut-hidden",
            f"A part of the piece is covered: its outline has a notch (only {100 * filled:.0f} % of its hull shows as "
            "wood).",
        )
    if any(run.cut_off for run in found.runs):
        return PhotoRefused(
            "offcut-hidden", "The piece runs out of the sheet, so that not every edge can be seen whole."
        )
    return PhotoRefused(
        "wrong-shape",
        f"The piece shows {len(free)} straight sides; a {shape} has {SIDES[shape]}"
        + (
            f" (straight sides explain {100 * found.explained:.0f} % of its outline)." if found.explained < 0.8 else "."
        ),
    )


def _in_order(shape: str, sides: list[Side]) -> list[Side]:
    if shape == "miter":
        # the square corner is the widest; the cut faces it
        def opening(k: int) -> float:
            return float(sides[k - 1].direction @ sides[k].direction)

        corner = max(range(3), key=opening)
        # clockwise from above: right leg starts at the corner, then the cut, then the left leg
        ordered = [sides[corner], sides[(corner + 1) % 3], sides[(corner + 2) % 3]]
        widest = np.degrees(np.pi - np.arccos(np.clip(ordered[2].direction @ ordered[0].direction, -1, 1)))
        if not 75 <= widest <= 105:
            raise PhotoRefused(
                "wrong-shape", f"The piece is a triangle with no square corner: its widest is {widest:.1f} deg."
            )
        return ordered
    if shape == "strip":
        longest = max(range(4), key=lambda k: sides[k].length_mm + sides[(k + 2) % 4].length_mm)
        first = sides[longest], sides[(longest + 2) % 4]
        slant = abs(first[0].direction[0] * first[1].direction[1] - first[0].direction[1] * first[1].direction[0])
        if slant > np.sin(np.radians(5)):
            raise PhotoRefused("wrong-shape", "The piece's two long sides are over 5 deg from parallel: not a strip.")
        return _strip_order(list(first))
    if shape == "board":
        corners = [side.start_mm for side in sides]
        nearest = min(range(4), key=lambda k: float(np.hypot(*corners[k])))
        return [sides[(nearest + k) % 4] for k in range(4)]
    return sides


def _strip_order(pair: list[Side]) -> list[Side]:
    """The upper long side (running to the right, clockwise seen from above) first, then the lower."""
    return sorted(pair, key=lambda side: -side.direction[0])


def _clipped(sheet: Sheet, run: _Run, ends: list[np.ndarray]) -> Side:
    """The run between two ends, cut to the window."""
    left, top, right, bottom = sheet.window_mm
    t = sorted(float((end - run.point) @ run.direction) for end in ends)
    low, high = t[0], t[1]
    for axis, (least, most) in enumerate(((left, right), (top, bottom))):
        slope = run.direction[axis]
        if abs(slope) < 1e-9:
            continue
        crossing = sorted(((least - run.point[axis]) / slope, (most - run.point[axis]) / slope))
        low, high = max(low, crossing[0]), min(high, crossing[1])
    if high - low < 10:
        raise PhotoRefused("offcut-hidden", "Too little of an edge shows inside the window.")
    return Side(run.point + low * run.direction, run.point + high * run.direction)


def _corner_sides(sheet: Sheet, runs: list[_Run]) -> list[Side]:
    """The two edges that meet at the only corner inside the window."""
    left, top, right, bottom = sheet.window_mm
    found = []
    for k, run in enumerate(runs):
        before = runs[k - 1]
        if run.cut_off or before.cut_off or run is before:
            continue
        if abs(before.direction @ run.direction) > np.cos(np.radians(20)):
            continue
        x, y = _meet(before, run)
        if left < x < right and top < y < bottom:
            found.append((before, run, np.array([x, y])))
    if len(found) != 1:
        raise PhotoRefused(
            "wrong-shape", f"{len(found)} corners of the piece show inside the window; a corner photo shows one."
        )
    before, run, corner = found[0]
    far = 2 * sheet.width_mm
    return [
        _clipped(sheet, before, [corner - far * before.direction, corner]),
        _clipped(sheet, run, [corner, corner + far * run.direction]),
    ]


def _strip_sides_leaving(sheet: Sheet, runs: list[_Run]) -> list[Side]:
    """The two long sides of a strip that leaves the window at one end or both."""
    free = sorted((run for run in runs if not run.cut_off), key=lambda run: -run.length)[:2]
    if free[0].direction @ free[1].direction > -np.cos(np.radians(5)):
        raise PhotoRefused("wrong-shape", "The piece's two long sides are over 5 deg from parallel: not a strip.")
    sides = []
    for run in free:
        half = run.length / 2
        sides.append(_clipped(sheet, run, [run.point - half * run.direction, run.point + half * run.direction]))
    return _strip_order(sides)
