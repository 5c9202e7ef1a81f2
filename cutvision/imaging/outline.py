"""The coarse outline of the piece: which straight sides it shows, as the shape asked for orders them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage
from skimage import measure
from skimage.filters import threshold_otsu

from cutvision.errors import PhotoRefused
from cutvision.imaging.likeness import Likeness, biggest_patch, core_of, likeness_to
from cutvision.imaging.masks import eroded, extent, filled, grown
from cutvision.imaging.opencv import cv2
from cutvision.imaging.pieces import Steps, second_piece, steps_of, things_in
from cutvision.imaging.wood import WoodMap
from cutvision.plane import polygon_area
from cutvision.target import Sheet

LEAST_HUE = 0.02
SHORT_SIDE_MM = 14.0
MOST_OF_SIDES = 0.7
"""Of the length of all straight runs, what the sides of the shape must hold (a choice: three tips broken by 14 mm each
leave more of the smallest piece that the sheet's margin advises)."""
SMOOTHING, SMOOTHING_REACH = 0.7, 8
"""Standard deviation of the blur of a mask before its contour is drawn, and how far it is surely spent, in cells."""
LIKENESS_LEVELS = (0.5, 0.65, 0.8, 0.9)
"""Where wood may begin between paper, 0, and face, 1: shadows under lamps of different colours reach 0.9 beside pale
wood (rendered photos), and walls in such a shadow fall to 0.65."""
BRIGHTEST = 0.3
LIKENESS_SPREAD = 0.1
"""How far the face's likeness wanders with the mixture of two lamps over the piece (rendered photos: 0.03 to 0.1)."""
BESIDE_MM = 0.5
RIM_MM = 0.7
LEAST_WOOD, LEAST_PARTED, LEAST_PARTED_LIGHT = 0.5, 0.1, 0.15
"""A line lies on the rim where the map is so much like the face so far within it, and parts by so much of the face's
hue, or of the light as a logarithm, beyond it. True edges do so along 0.8 of their length, with few exceptions all of
it; a shadow's rim, where the map within is like the face by 0.4 at the most, along next to none (rendered photos)."""
LEAST_QUALITY = 0.2
"""A part of a piece that grain or a shadow sets off reaches 0.13, the poorest whole piece 0.43 (rendered photos)."""
BEYOND_MM = (2.0, 12.0)
CLEAR_OF_PIECE_MM = 1.5
LEAST_BEYOND = 12
COVER_STEP = 0.15
"""A side is a cover's when its line goes on as a step of so much, as a logarithm over 1 mm, at so many of 25 places
between so many mm beyond its end, clear of the piece's own rim."""
MOST_AT_FRAME_MM = 9.0
"""Of a piece's surroundings of five cells beyond the picture's border, in strips a cell wide: 3 mm of its outline."""
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
    """Sides in the shape's own order, the wood's cells, how rough the coarse sides are, and the map they rest on.

    Order: miter: right leg, cut, left leg; strip: the long side toward the sheet's top, then the other; corner: the
    side before it (clockwise from above), the side after; board: from the corner nearest the sheet's origin, clockwise.
    """

    shape: str
    sides: tuple[Side, ...]
    mask: np.ndarray
    roughness_mm: float
    alike: Likeness
    mm_per_cell: float


def on_rim(outline: Outline, start_mm: np.ndarray, end_mm: np.ndarray, wall_mm: float = 0.0) -> np.ndarray:
    """(40,) bool: where along a line on the paper, clockwise round the piece, wood lies within and not beyond.

    Within it, past a side wall of the given width, which may be burnt or in deep shade, the map must be like the face;
    beyond it less so, or in another light.
    """
    side = Side(start_mm, end_mm)
    within, beyond = (_along(side, away, outline.alike, outline.mm_per_cell) for away in (-RIM_MM - wall_mm, RIM_MM))
    parted = (within.face - beyond.face > LEAST_PARTED) | (np.abs(within.light - beyond.light) > LEAST_PARTED_LIGHT)
    return np.asarray((within.face > LEAST_WOOD) & parted)


def find_outline(sheet: Sheet, wood: WoodMap, shape: str) -> Outline:
    """The piece's outline, for the shape asked for.

    Raises PhotoRefused: "no-offcut", "several-offcuts", "wrong-shape" or "offcut-hidden".
    """
    hue = wood.hue
    if float(np.ptp(hue)) < LEAST_HUE:
        raise PhotoRefused(
            "no-offcut",
            "The photo has no colour, and it is by its colour that wood is told from paper.",
            "Take the photo in colour, without a black-and-white filter.",
        )
    steps = steps_of(wood)
    first = (hue > max(float(threshold_otsu(hue)), LEAST_HUE)) & wood.shown
    dark = _dark_wood(wood) & wood.shown
    sharp = next((things[0] for mask in (first, dark) if (things := things_in(mask, steps))), None)
    # with its soft shadow even a piece may have no sharp rim
    seed = biggest_patch(first) if sharp is None else sharp
    if not seed.any():
        raise _nothing_shows()
    alike = likeness_to(wood, seed)
    # past the paper's own light lies a glossy spot, not wood
    by_likeness = [(alike.face > t) & (alike.light < BRIGHTEST) & wood.shown for t in LIKENESS_LEVELS]
    candidates: list[tuple[float, Outline]] = []
    reasons: list[PhotoRefused] = []
    for mask in [*by_likeness, first, *_split_by_brightness(wood, by_likeness[0]), dark]:
        try:
            outline = _outline_of(sheet, things_in(mask, steps), shape, steps, alike)
        except PhotoRefused as refusal:
            reasons.append(refusal)
            continue
        quality = _quality(outline, alike, wood.mm_per_cell)
        if quality >= LEAST_QUALITY:
            candidates.append((quality, outline))
    if not candidates and all(refusal.reason == "no-offcut" for refusal in reasons):
        raise _nothing_shows()
    if not candidates:
        raise _commonest(reasons, _two_pieces(sheet, by_likeness, steps))
    best = max(candidates, key=lambda pair: pair[0])[1]
    if any(_ends_going_on(s.start_mm, s.end_mm, sheet, best.mask, steps) == (2, 2) for s in best.sides):
        raise _covered()
    other = second_piece(sheet, best.mask, steps)
    if other is not None:
        raise _second_patch(best.mask, other, wood.mm_per_cell)
    return best


def _nothing_shows() -> PhotoRefused:
    return PhotoRefused("no-offcut", "Nothing in the window as large as an offcut differs from the paper as wood does.")


def _two_pieces(sheet: Sheet, masks: list[np.ndarray], steps: Steps) -> PhotoRefused | None:
    """The refusal of two pieces, when beside the largest thing of the masks lies another, of whatever wood."""
    for mask in masks:
        things = things_in(mask, steps)
        if things:
            other = second_piece(sheet, things[0], steps)
            return None if other is None else _second_patch(things[0], other, steps.mm_per_cell)
    return None


def _commonest(reasons: list[PhotoRefused], two: PhotoRefused | None) -> PhotoRefused:
    """What most masks say in which a piece shows; that it is hidden, when as many say so as say anything else."""
    telling = [refusal for refusal in reasons if refusal.reason != "no-offcut"] or reasons
    said = [refusal.reason for refusal in telling[: len(LIKENESS_LEVELS)]]
    commonest = max(said, key=lambda reason: (said.count(reason), reason == "offcut-hidden"))
    if two is not None and commonest != "offcut-hidden":
        return two
    return next(refusal for refusal in telling if refusal.reason == commonest)


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


def _quality(outline: Outline, alike: Likeness, cell: float) -> float:
    """How much the outline looks like a piece's: like the face just inside every side, a step there, straight sides.

    What lies inside a shadow's rim is not like the face, and a soft shadow has no step. The face's own rim before a
    side wall counts as well as the wall's: the fit of the edges knows where the geometry puts walls and looks there.
    """
    core = alike.face[core_of(outline.mask)]
    scatter = 1.4826 * float(np.median(np.abs(core - np.median(core))))
    spread = max(LIKENESS_SPREAD, 3 * scatter)
    worth = []
    for side in outline.sides:
        within, beyond = (_along(side, away, alike, cell) for away in (-BESIDE_MM, BESIDE_MM))
        like = np.exp(-0.5 * (np.minimum(within.face - 1, 0.0) / spread) ** 2)
        step = np.minimum(1.0, np.hypot(within.face - beyond.face, within.light - beyond.light))
        worth.append(float(np.quantile(like, 0.3) * np.quantile(step, 0.25)))
    return min(worth) / (0.1 + outline.roughness_mm)


def _along(side: Side, away_mm: float, alike: Likeness, cell: float) -> Likeness:
    """Likeness and light at 40 places (40,) along a side without its ends, so far outward of it."""
    across = np.array([side.direction[1], -side.direction[0]])
    places = side.start_mm + np.linspace(0.08, 0.92, 40)[:, None] * (side.end_mm - side.start_mm) + away_mm * across
    x, y = ((places / cell - 0.5).astype(np.float32)).T
    face, light = (
        np.asarray(cv2.remap(m.astype(np.float32), x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)).ravel()
        for m in (alike.face, alike.light)
    )
    return Likeness(face, light)


def _outline_of(sheet: Sheet, things: list[np.ndarray], shape: str, steps: Steps, alike: Likeness) -> Outline:
    """The outline of the only thing of a mask. Raises PhotoRefused."""
    if not things:
        raise _nothing_shows()
    if len(things) > 1:
        raise _second_patch(things[0], things[1], steps.mm_per_cell)
    piece = filled(things[0])
    if (grown(piece, 5) & ~steps.shown).sum() * steps.mm_per_cell > MOST_AT_FRAME_MM:
        raise PhotoRefused(
            "offcut-hidden",
            "The piece runs out of the picture, so that not every edge can be seen whole.",
            "Step back until the whole piece and the squares round it are in the picture.",
        )
    contour = _contour(piece, steps.mm_per_cell)
    found = _straight_sides(contour, sheet)
    sides, roughness = _arranged(sheet, shape, contour, found, piece, steps)
    return Outline(shape, tuple(sides), piece, roughness, alike, steps.mm_per_cell)


def _second_patch(piece: np.ndarray, other: np.ndarray, cell: float) -> PhotoRefused:
    """The refusal of two patches of wood: one piece with something laid across it, or two pieces."""
    hull = measure.regionprops((piece | other).astype(np.uint8))[0]
    away = cv2.distanceTransform((~piece).view(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    gap = float(away[other].min()) * cell
    if hull.solidity > 0.85 and gap < 25:
        return PhotoRefused("offcut-hidden", "Something lies across the piece: its wood shows on both sides of a gap.")
    areas = (float(patch.sum()) * cell * cell for patch in (piece, other))
    return PhotoRefused(
        "several-offcuts",
        "Two separate pieces show: {:.0f} and {:.0f} square millimetres.".format(*areas),
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


def _arranged(
    sheet: Sheet, shape: str, contour: np.ndarray, found: _Sides, mask: np.ndarray, steps: Steps
) -> tuple[list[Side], float]:
    """The sides that the shape calls for, in its own order, and how rough they are, mm. Raises PhotoRefused."""
    runs = found.runs
    free = [run for run in runs if not run.cut_off]
    cut_off = len(free) < len(runs)
    wanted = SIDES[shape]
    while len(free) > wanted and min(run.length for run in free) < SHORT_SIDE_MM and shape != "corner":
        # a broken tip, or the upright arris between two side walls
        free.pop(min(range(len(free)), key=lambda k: free[k].length))
    # a round piece has many short sides, and none that could be left out
    round_off = sum(run.length for run in free) < MOST_OF_SIDES * sum(run.length for run in runs if not run.cut_off)
    rms = max((run.rms for run in free), default=0.0)
    if shape == "corner":
        sides = _corner_sides(sheet, runs)
    elif shape == "strip" and len(free) in (2, 3):
        sides = _strip_sides_leaving(sheet, runs)
    else:
        if len(free) != wanted or cut_off or round_off:
            raise _not_the_shape(sheet, shape, free, found, contour, mask, steps)
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
    return sides, rms


def _not_the_shape(
    sheet: Sheet, shape: str, free: list[_Run], found: _Sides, contour: np.ndarray, mask: np.ndarray, steps: Steps
) -> PhotoRefused:
    """The refusal: "offcut-hidden" when the piece is covered, notched or leaves the sheet, else "wrong-shape"."""
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
    ends = [_ends_going_on(*_along_run(run), sheet, mask, steps) for run in free]
    if any(0 < on == seen for on, seen in ends):
        return _covered()
    return PhotoRefused(
        "wrong-shape",
        f"The piece shows {len(free)} straight sides; a {shape} has {SIDES[shape]}"
        + (
            f" (straight sides explain {100 * found.explained:.0f} % of its outline)." if found.explained < 0.8 else "."
        ),
    )


def _covered() -> PhotoRefused:
    return PhotoRefused(
        "offcut-hidden",
        "Something lies over the piece: what looks like one of its sides runs on past the wood over the paper.",
    )


def _ends_going_on(start: np.ndarray, end: np.ndarray, sheet: Sheet, mask: np.ndarray, steps: Steps) -> tuple[int, int]:
    """At how many ends of a side its line goes on as a sharp edge over the paper, and at how many that can be seen.

    A shadow's rim may by chance go on from one end; a cover that crosses the piece shows at both, where paper does.
    """
    near = grown(mask, round(CLEAR_OF_PIECE_MM / steps.mm_per_cell))
    left, top, right, bottom = sheet.window_mm
    direction = (end - start) / np.hypot(*(end - start))
    on, seen = 0, 0
    for foot, way in ((start, -1), (end, 1)):
        places = foot + way * np.linspace(*BEYOND_MM, 25)[:, None] * direction
        x, y = places.T
        blank = (x > left + 1) & (x < right - 1) & (y > top + 1) & (y < bottom - 1)
        column, row = np.rint(places[blank] / steps.mm_per_cell - 0.5).astype(int).T
        clear = ~near[row, column] & steps.shown[row, column]
        if clear.sum() >= LEAST_BEYOND:
            seen += 1
            on += bool(np.quantile(steps.step[row, column][clear], 0.25) > COVER_STEP)
    return on, seen


def _along_run(run: _Run) -> tuple[np.ndarray, np.ndarray]:
    """(2,), (2,) the run's ends brought onto its line."""
    first, last = (run.point + float((p - run.point) @ run.direction) * run.direction for p in run.points[[0, -1]])
    return first, last


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
