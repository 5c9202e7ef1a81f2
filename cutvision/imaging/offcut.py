"""One photo looked at whole: the sheet, the camera, the piece's sides and the straight line of each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from cutvision.errors import InputError, PhotoRefused
from cutvision.imaging.camera import project, world_from_sheet
from cutvision.imaging.chart import Chart, read_chart
from cutvision.imaging.doubt import doubt_of
from cutvision.imaging.edge_model import WallGuess
from cutvision.imaging.edges import EdgePoints, trace_edge
from cutvision.imaging.exposure import MOST_BURNT, burnt_share
from cutvision.imaging.lines import FitFailed, FittedLine, fit_edge
from cutvision.imaging.locate import SheetSighting, locate_sheets
from cutvision.imaging.outline import Outline, Side, find_outline, on_rim
from cutvision.imaging.photo import Photo
from cutvision.imaging.pose import (
    CameraPrior,
    SheetPose,
    fit_pose,
    parameter_steps,
    pose_of,
    predicted_px,
    predicted_view_px,
    to_paper,
)
from cutvision.imaging.sharpness import Optics, measure_optics
from cutvision.imaging.unread import why_unread
from cutvision.imaging.wood import map_wood

EDGE_NAMES = {
    "miter": ("right leg", "cut", "left leg"),
    "strip": ("first long edge", "second long edge"),
    "corner": ("first edge", "second edge"),
    "board": ("edge 1", "edge 2", "edge 3", "edge 4"),
}
USUAL_THICKNESS_MM = 16.0
"""When nobody measured it: the middle of what a table saw's test pieces are made of (3 to 30 mm)."""
USUAL_SPREAD_MM = 6.0
THINNEST_MM, THICKEST_MM = 2.0, 50.0
THICKNESS_FOUND_MM = 1.5
"""Standard uncertainty of a thickness guessed from the walls that show, while the edges are sought."""
THICKNESS_READ_MM = 0.12
"""Standard uncertainty of a stated one, good to 0.2 mm, rectangular (planed stock; common practice, no source)."""
LEAST_TELLING_WALL_PX = 4.0
MOST_BLUR_MM = 0.22
MOST_BLUR_PX = 1.6
MOST_DROPPED = 0.6
MOST_DROPPED_TOGETHER = 0.25
"""Of an edge's points in one unbroken run: a chip is short, and so long a run says that another step was followed."""
SAID_OF_A_PIECE = {"wrong-shape", "several-offcuts", "offcut-hidden"}
LEAST_ON_RIM = 0.5
EVEN_LIGHT = "Light the piece from two sides so that no shadow lies along it, brush the sheet, and take a new photo."
COARSEST_STEP = 55.0
"""Mean rounding of brightness in a JPEG's blocks: quality 50 of the usual tables has 58, chats use 20 to 35."""
DOUBTFUL_THICKNESS_MM = 40.0
MUCH_BETTER = 1.5
"""Stock thicker than a table saw's usual test pieces is believed unless the picture speaks so much for thinner."""
CONTRADICTED = 3.0
"""Standard uncertainties by which a wall's width may differ from what geometry says of it."""
LEAST_GAIN = 25.0
"""How far a step must lower a block's cost on the mean: true edges gain 100 and more, bare paper about 8."""


@dataclass(frozen=True, slots=True)
class SeenEdge:
    """One side: its points, its line in the plane at height_mm, and the two pixels that carry that line.

    carrier_px: (2, 2) the photo's pixels of two points of the line, at a sixth and five sixths of its length: mapped
    anew under other parameters they tell how the line moves with them.
    ends_mm: (2, 2) where the side starts and ends, in the plane at height_mm.
    """

    name: str
    points: EdgePoints
    line: FittedLine
    height_mm: float
    carrier_px: np.ndarray
    ends_mm: np.ndarray


@dataclass(frozen=True, slots=True)
class Offcut:
    """What one photo shows of a piece. sheets: how many printed sheets show in it."""

    photo: Photo
    pose: SheetPose
    optics: Optics
    shape: str
    edges: tuple[SeenEdge, ...]
    thickness_mm: float
    sheets: int = 1


def look_at(
    photo: Photo,
    shape: str,
    thickness_mm: float | None,
    prior: CameraPrior,
    progress: Callable[[str], None],
    u_thickness_mm: float = THICKNESS_READ_MM,
) -> Offcut:
    """From a photo to the lines of the piece's sides; without a thickness one is found. Raises PhotoRefused.

    When several sheets show, the one the piece lies on counts.
    """
    progress(f"{photo.name}: looking for the sheet")
    try:
        sightings = locate_sheets(photo)
    except PhotoRefused as refusal:
        raise why_unread(photo, refusal) from refusal
    seen: list[Offcut] = []
    refusals: list[PhotoRefused] = []
    for sighting in sightings:
        try:
            seen.append(_look_on(sighting, photo, shape, thickness_mm, prior, progress, u_thickness_mm))
        except PhotoRefused as refusal:
            refusals.append(refusal)
    pieces = len(seen) + sum(refusal.reason in SAID_OF_A_PIECE for refusal in refusals)
    if seen and pieces > 1:
        raise PhotoRefused(
            "several-offcuts",
            f"{len(sightings)} printed sheets show, with something on {pieces} of them.",
            "Photograph one sheet with one piece at a time.",
        )
    if not seen:
        raise next((refusal for refusal in refusals if refusal.reason != "no-offcut"), refusals[0])
    return replace(seen[0], sheets=len(sightings))


def _look_on(
    sighting: SheetSighting,
    photo: Photo,
    shape: str,
    thickness_mm: float | None,
    prior: CameraPrior,
    progress: Callable[[str], None],
    u_thickness_mm: float,
) -> Offcut:
    """The piece on one of the sheets in the photo."""
    if photo.jpeg_step > COARSEST_STEP:
        raise PhotoRefused(
            "blurred",
            "The file was saved with so much compression that wood and its shadow run into one another.",
            "Send the photo as the phone stored it, as a file, not through a chat that shrinks it.",
        )
    try:
        pose = fit_pose(sighting, prior)
    except PhotoRefused as refusal:
        raise why_unread(photo, refusal) from refusal
    optics = measure_optics(photo, pose)
    if optics.smear_px > MOST_BLUR_PX and optics.smear_px > MOST_BLUR_MM * optics.scale_px_per_mm:
        raise PhotoRefused(
            "blurred",
            f"The squares' edges are smeared over {2 * optics.smear_px / optics.scale_px_per_mm:.2f} mm on the paper "
            f"({2 * optics.smear_px:.1f} px); sharp photos show a quarter of that.",
        )
    if burnt_share(photo, _window_px(pose)) > MOST_BURNT:
        raise PhotoRefused(
            "overexposed", "The paper in the window is burnt out to white, and the piece's edges with it."
        )
    progress(f"{photo.name}: looking for the piece")
    wood = map_wood(photo, pose)
    outline = find_outline(pose.sheet, wood, shape)
    progress(f"{photo.name}: finding its edges")
    chart = read_chart(photo, pose)
    thickness = _thickness(photo, pose, outline, chart) if thickness_mm is None else thickness_mm
    u_thickness = THICKNESS_FOUND_MM if thickness_mm is None else u_thickness_mm
    if thickness > DOUBTFUL_THICKNESS_MM:
        _check_thickness(photo, pose, outline, chart, thickness)
    edges = tuple(
        _followed(
            pose, outline, _by_its_hue(photo, pose, _edge(photo, pose, chart, name, side, thickness, u_thickness))
        )
        for name, side in zip(EDGE_NAMES[shape], outline.sides, strict=True)
    )
    return Offcut(photo, pose, optics, shape, edges, thickness)


def _window_px(pose: SheetPose) -> np.ndarray:
    """(N, 2) pixels spread over the window."""
    left, top, right, bottom = pose.sheet.window_mm
    x, y = np.meshgrid(np.linspace(left + 3, right - 3, 30), np.linspace(top + 3, bottom - 3, 20))
    return predicted_px(pose.sheet, pose.values, pose.turned_from, np.column_stack([x.ravel(), y.ravel()]))


def wall_on_paper(
    pose: SheetPose, start: np.ndarray, end: np.ndarray, thickness_mm: float, u_thickness_mm: float
) -> WallGuess:
    """The side wall that the lens sees under an edge, and how well the geometry knows it.

    The lens at height Z over the outer side of a line at distance h sees the wall between the bottom edge on the paper
    and the top edge, which shows h t / (Z - t) farther in; over the inner side it sees none.
    """
    direction = (end - start) / np.hypot(*(end - start))
    outward = np.array([direction[1], -direction[0]])

    def width(values: np.ndarray, thickness: float) -> float:
        x, y, lens = pose_of(values, pose.turned_from).centre_mm
        return float((np.array([x, y]) - start) @ outward * thickness / (lens - thickness))

    steps = parameter_steps(pose.values)
    slopes = np.zeros(len(steps))
    for k in range(10, 16):
        nudge = np.zeros(len(steps))
        nudge[k] = steps[k]
        slopes[k] = (width(pose.values + nudge, thickness_mm) - width(pose.values - nudge, thickness_mm)) / (
            2 * steps[k]
        )
    by_thickness = (
        u_thickness_mm * (width(pose.values, thickness_mm + 0.05) - width(pose.values, thickness_mm - 0.05)) / 0.1
    )
    doubt = float(np.sqrt(slopes @ pose.covariance @ slopes + by_thickness**2))
    return WallGuess(width(pose.values, thickness_mm), doubt)


def _thickness(photo: Photo, pose: SheetPose, outline: Outline, chart: Chart) -> float:
    """A thickness to look for walls with, when none is known: the one that the widest wall in the photo calls for."""
    guesses = [wall_on_paper(pose, s.start_mm, s.end_mm, USUAL_THICKNESS_MM, USUAL_SPREAD_MM) for s in outline.sides]
    widest = max(range(len(guesses)), key=lambda k: guesses[k].width_mm)
    per_mm = guesses[widest].width_mm / USUAL_THICKNESS_MM
    if guesses[widest].width_mm * chart.scale_px_per_mm < LEAST_TELLING_WALL_PX:
        return USUAL_THICKNESS_MM
    side = outline.sides[widest]
    wall = trace_edge(photo, pose, side.start_mm, side.end_mm, guesses[widest], chart).wall_mm
    # w = h t / (Z - t), and the guess gives h / (Z - t) for the usual thickness
    lens = float(pose.pose.centre_mm[2])
    outside = per_mm * (lens - USUAL_THICKNESS_MM)
    found = wall * lens / (outside + wall)
    return found if THINNEST_MM < found < THICKEST_MM else USUAL_THICKNESS_MM


def _check_thickness(photo: Photo, pose: SheetPose, outline: Outline, chart: Chart, stated_mm: float) -> None:
    """Raise InputError when the side walls look like those of usual stock and not like those of the stated thickness.

    The side is asked whose wall would be the widest; where that is narrow, nothing can be seen of it.
    """

    def wall(side: Side, thickness_mm: float, u_mm: float) -> WallGuess:
        return wall_on_paper(pose, side.start_mm, side.end_mm, thickness_mm, u_mm)

    side = max(outline.sides, key=lambda s: wall(s, stated_mm, THICKNESS_READ_MM).width_mm)
    stated, usual = wall(side, stated_mm, THICKNESS_READ_MM), wall(side, USUAL_THICKNESS_MM, USUAL_SPREAD_MM)
    if stated.width_mm * chart.scale_px_per_mm < LEAST_TELLING_WALL_PX:
        return
    as_stated, as_usual = (
        trace_edge(photo, pose, side.start_mm, side.end_mm, guess, chart) for guess in (stated, usual)
    )
    if as_usual.gain * as_usual.used.mean() > MUCH_BETTER * as_stated.gain * as_stated.used.mean():
        raise InputError(
            f"The piece's side does not look {stated_mm:.0f} mm high, as --thickness says, but like thinner stock.",
            "Measure the stock's thickness with a caliper and give that.",
        )


def _edge(
    photo: Photo, pose: SheetPose, chart: Chart, name: str, side: Side, thickness: float, u_thickness: float
) -> SeenEdge:
    """The edge along a coarse side, sought where geometry allows its wall. Raises PhotoRefused.

    A dark arris or a shadow beside the edge can pass for a wall. Where that contradicts geometry, or breaks the line,
    the edge is sought again with the wall that geometry calls for.
    """
    guess = wall_on_paper(pose, side.start_mm, side.end_mm, thickness, u_thickness)
    strict = WallGuess(guess.width_mm, guess.sd_mm / CONTRADICTED)
    try:
        edge = _edge_with(photo, pose, chart, name, side, guess, thickness)
    except PhotoRefused:
        return _edge_with(photo, pose, chart, name, side, strict, thickness)
    wall_mm = edge.points.wall_mm
    if wall_mm > 0 and abs(wall_mm - guess.width_mm) > CONTRADICTED * guess.sd_mm:
        return _edge_with(photo, pose, chart, name, side, strict, thickness)
    return edge


def _edge_with(
    photo: Photo, pose: SheetPose, chart: Chart, name: str, side: Side, guess: WallGuess, thickness: float
) -> SeenEdge:
    points = trace_edge(photo, pose, side.start_mm, side.end_mm, guess, chart)
    if points.gain < LEAST_GAIN:
        raise PhotoRefused(
            "offcut-hidden",
            f"Along the {name} no step from wood to paper could be followed.",
            "Clear and brush the sheet, and light the piece from two sides, so that every edge stands out.",
        )
    height = 0.0 if points.wall_mm > 0 else thickness
    mm = to_paper(pose, points.pixels, height)
    ends = to_paper(pose, predicted_view_px(pose, np.array([side.start_mm, side.end_mm])), height)
    scale = points.scale_px_per_mm
    shows = _off_the_print(pose, points)
    line = fit_edge(mm, points.sigma_px / scale, points.used & shows, ends[0], ends[1])
    if isinstance(line, FitFailed):
        raise PhotoRefused("offcut-hidden", f"The {name} could not be followed: {line.reason}.")
    if line.dropped_share > MOST_DROPPED:
        raise PhotoRefused(
            "offcut-hidden",
            f"Only {100 * (1 - line.dropped_share):.0f} % of the {name} looks like a straight edge of wood on paper.",
        )
    return SeenEdge(name, points, line, height, _carriers(pose, line, height), ends)


def _ends_on_paper(pose: SheetPose, edge: SeenEdge) -> np.ndarray:
    """(2, 2) where the ends of an edge's line show on the paper."""
    line = edge.line
    along = np.array([np.cos(line.angle_rad), np.sin(line.angle_rad)])
    ends = line.point_mm + np.array([[-0.5], [0.5]]) * line.length_mm * along
    return to_paper(pose, _view_px(pose, ends, edge.height_mm), 0.0)


def _by_its_hue(photo: Photo, pose: SheetPose, edge: SeenEdge) -> SeenEdge:
    """The edge moved to where its hue changes, or surer of less, when the step of light that was followed is doubtful.

    A wall in another lamp's shade has another hue than the face, so an edge with one is left as it is.
    """
    doubt = None if edge.points.wall_mm > 0 else doubt_of(photo, pose, *_ends_on_paper(pose, edge))
    if doubt is None:
        return edge
    line = edge.line
    moved = replace(
        line,
        offset_mm=line.offset_mm + doubt.shift_mm,
        slope=line.slope + doubt.turn,
        covariance=line.covariance + np.diag([doubt.u_shift_mm**2, doubt.u_turn**2]),
        residual_mm=line.residual_mm - doubt.shift_mm - doubt.turn * (edge.points.along_mm - line.length_mm / 2),
    )
    return replace(edge, line=moved, carrier_px=_carriers(pose, moved, edge.height_mm))


def _carriers(pose: SheetPose, line: FittedLine, height_mm: float) -> np.ndarray:
    """(2, 2) pixels of two points of the line, a third of its length to each side of its middle."""
    along = np.array([np.cos(line.angle_rad), np.sin(line.angle_rad)])
    return _view_px(pose, line.point_mm + np.array([[-1.0], [1.0]]) * line.length_mm / 3 * along, height_mm)


def _followed(pose: SheetPose, outline: Outline, edge: SeenEdge) -> SeenEdge:
    """The edge, unless its line leaves the piece's rim as the coarse map shows it. Raises PhotoRefused.

    A long run of points off the line is forgiven where that map shows the rim on it: pencil or a chip lies there. Then
    the line through all points is possible too, and a rectangle holds both.
    """
    line = edge.line
    start, end = _ends_on_paper(pose, edge)
    rim = on_rim(outline, start, end, edge.points.wall_mm)
    if rim.mean() < LEAST_ON_RIM:
        raise PhotoRefused(
            "offcut-hidden",
            f"Along the {edge.name} the line that was found does not lie where wood meets paper.",
            EVEN_LIGHT,
        )
    astray = _off_the_print(pose, edge.points) & ~line.used
    if _longest_run(astray) <= MOST_DROPPED_TOGETHER * len(astray):
        return edge
    at = np.linspace(0, len(rim) - 1, len(astray)).round().astype(int)
    if _longest_run(astray & ~rim[at]) > MOST_DROPPED_TOGETHER * len(astray):
        raise PhotoRefused(
            "offcut-hidden",
            f"Along a quarter of the {edge.name} or more, wood and paper do not part where the rest of it says.",
            EVEN_LIGHT,
        )
    along = edge.points.along_mm - edge.points.along_mm.mean()
    slope, offset = np.polyfit(along, line.residual_mm, 1)
    wider = line.covariance + np.diag([offset**2, slope**2]) / 3
    return replace(edge, line=replace(line, covariance=wider))


def _view_px(pose: SheetPose, points_mm: np.ndarray, height_mm: float) -> np.ndarray:
    """(N, 2) points in the plane at a height -> (N, 2) pixels."""
    raised = np.column_stack([points_mm, np.full(len(points_mm), height_mm)])
    return project(pose.camera, pose.pose, world_from_sheet(raised))


def _longest_run(flags: np.ndarray) -> int:
    """How many flags in a row are set, at most."""
    breaks = np.flatnonzero(np.concatenate([[True], ~flags, [True]]))
    return int(np.diff(breaks).max()) - 1


def _off_the_print(pose: SheetPose, points: EdgePoints) -> np.ndarray:
    """(N,) points whose neighbourhood outside the piece is blank paper; all when that would leave too few."""
    left, top, right, bottom = pose.sheet.window_mm
    outside = points.pixels + 9.0 * points.across
    x, y = to_paper(pose, outside, 0.0).T
    blank = (x > left) & (x < right) & (y > top) & (y < bottom)
    return blank if blank.mean() > 1 - MOST_DROPPED else np.ones(len(blank), dtype=bool)
