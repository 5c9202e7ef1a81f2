"""Which straight sides a piece shows, in the shape's own order, and every reason to refuse, on drawn maps of wood."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np
import pytest

from cutvision.errors import PhotoRefused
from cutvision.imaging.locate import locate_sheet
from cutvision.imaging.outline import Outline, find_outline, on_rim
from cutvision.imaging.pose import fit_pose, prior_from_photo
from cutvision.imaging.wood import MAP_PX_PER_MM, WoodMap, map_wood
from cutvision.target import SHEETS
from simulation.photo_file import as_photo
from simulation.pieces import board_outline, miter_outline, strip_outline, turned
from simulation.refused_scenes import good_scene
from simulation.render import render
from simulation.scene import Ambient, Light

SHEET = SHEETS["a4"]
CELL_MM = 1 / MAP_PX_PER_MM
COARSE_MM = 0.7  # what corners are good to that lines through cells of a third of a millimetre make, sharp ones most
WOOD = np.array([0.75, 0.55, 0.35])
MIDDLE = (125.0, 90.0)
Points = Sequence[tuple[float, float]]


def drawn(pieces: Sequence[Points], covers: Sequence[Points] = ()) -> WoodMap:
    """A map with pieces of pale wood, and paper laid over them, given by their corners in mm."""
    size = (round(SHEET.height_mm / CELL_MM), round(SHEET.width_mm / CELL_MM))
    share = np.zeros(size, np.float32)
    for value, shapes in ((1.0, pieces), (0.0, covers)):
        for shape in shapes:
            corners = (np.array(shape) / CELL_MM - 0.5) * 256
            cv2.fillPoly(share, [np.rint(corners).astype(np.int32)], value, cv2.LINE_8, 8)
    share = cv2.GaussianBlur(share, (0, 0), 0.8)
    rng = np.random.default_rng(1)
    colour = 1 + share[..., None] * (WOOD - 1) + rng.normal(0, 0.004, (*size, 3))
    hue = (colour[..., 0] + colour[..., 1]) / 2 - colour[..., 2]
    return WoodMap(hue, colour.astype(np.float32), np.ones(size, bool), CELL_MM)


def miter(turn_deg: float = 0.0, cut_mm: float = 105.0, middle: tuple[float, float] = MIDDLE) -> Points:
    """A triangle with its right leg first (corner, right tip, left tip), turned."""
    return turned(miter_outline(cut_mm, math.radians(44), math.radians(46)), math.radians(turn_deg), middle)


def board(width_mm: float, height_mm: float, turn_deg: float = 0.0, middle: tuple[float, float] = MIDDLE) -> Points:
    """A rectangle, turned."""
    right = (math.pi / 2,) * 3
    return turned(board_outline(width_mm, height_mm, right), math.radians(turn_deg), middle)


def polygon(sides: int, radius_mm: float) -> Points:
    """A regular polygon."""
    return [
        (MIDDLE[0] + radius_mm * math.cos(a), MIDDLE[1] + radius_mm * math.sin(a))
        for a in np.linspace(0.2, 0.2 + 2 * math.pi, sides, endpoint=False)
    ]


def ends_of(outline: Outline) -> np.ndarray:
    """(K, 2, 2) start and end of each side."""
    return np.array([[side.start_mm, side.end_mm] for side in outline.sides])


def refused(wood: WoodMap, shape: str) -> PhotoRefused:
    """The refusal of a map."""
    with pytest.raises(PhotoRefused) as refusal:
        find_outline(SHEET, wood, shape)
    return refusal.value


@pytest.mark.parametrize("turn_deg", [0, 47, 90, 133, 180, 224, 270, 311])
def test_a_miter_s_sides_stand_in_their_order_at_every_turn(turn_deg: float) -> None:
    """A triangle gives right leg, cut, left leg, clockwise as seen from above, however it lies."""
    corners = np.array(miter(turn_deg))
    ends = ends_of(find_outline(SHEET, drawn([miter(turn_deg)]), "miter"))
    assert np.abs(ends[:, 0] - corners).max() < COARSE_MM
    assert np.abs(ends[:, 1] - np.roll(corners, -1, axis=0)).max() < COARSE_MM


@pytest.mark.parametrize("turn_deg", [-9, 0, 8])
def test_a_strip_s_upper_side_comes_first(turn_deg: float) -> None:
    """Of a strip's two long sides the one toward the sheet's top comes first and runs to the right."""
    corners = turned(strip_outline(150.0, 26.0, 0.004), math.radians(turn_deg), MIDDLE)
    first, second = ends_of(find_outline(SHEET, drawn([corners]), "strip"))
    assert np.abs(first - np.array(corners[:2])).max() < COARSE_MM
    assert np.abs(second - np.array(corners[2:])).max() < COARSE_MM


def test_a_strip_may_leave_the_window() -> None:
    """A strip that runs off the sheet at both ends shows its two long sides, cut to the window."""
    corners = turned(strip_outline(320.0, 30.0, 0.0), 0.03, MIDDLE)
    first, second = ends_of(find_outline(SHEET, drawn([corners]), "strip"))
    left, _, right, _ = SHEET.window_mm
    assert first[:, 0] == pytest.approx([left, right], abs=COARSE_MM)
    assert second[:, 0] == pytest.approx([right, left], abs=COARSE_MM)
    assert first[0, 1] < second[1, 1]


@pytest.mark.parametrize("turn_deg", [-25, 0, 20])
def test_a_board_s_sides_start_at_the_corner_nearest_the_origin(turn_deg: float) -> None:
    """A board's four sides run clockwise from the corner nearest the sheet's origin."""
    corners = np.array(board(96.0, 70.0, turn_deg))
    nearest = int(np.argmin(np.hypot(*corners.T)))
    ends = ends_of(find_outline(SHEET, drawn([board(96.0, 70.0, turn_deg)]), "board"))
    assert np.abs(ends[:, 0] - np.roll(corners, -nearest, axis=0)).max() < COARSE_MM


def test_a_corner_s_two_edges_meet_at_the_corner() -> None:
    """A board that reaches off the sheet shows one corner: the edge that runs into it, then the edge that leaves it."""
    corners = [(90.0, 70.0), (400.0, 78.0), (380.0, 400.0), (80.0, 380.0)]
    before, after = ends_of(find_outline(SHEET, drawn([corners]), "corner"))
    assert before[1] == pytest.approx(corners[0], abs=COARSE_MM)
    assert after[0] == pytest.approx(corners[0], abs=COARSE_MM)
    assert after[1, 0] == pytest.approx(SHEET.window_mm[2], abs=COARSE_MM)
    assert before[0, 1] == pytest.approx(SHEET.window_mm[3], abs=COARSE_MM)


def test_a_broken_tip_is_no_side() -> None:
    """A tip broken off by 4 mm does not count as a side; its neighbours meet where the tip was."""
    corner, right, left = (np.array(p) for p in miter())
    cut = (left - right) / np.hypot(*(left - right))
    leg = (corner - right) / np.hypot(*(corner - right))
    broken = [tuple(p) for p in (corner, right + 5 * leg, right + 5 * cut, left)]
    ends = ends_of(find_outline(SHEET, drawn([broken]), "miter"))
    assert np.abs(ends[1, 0] - right).max() < 2 * COARSE_MM


def test_chips_do_not_break_a_side() -> None:
    """A leg with three bites 3 mm wide and 1.5 mm deep stays one side."""
    corners = np.array(miter())
    bites = []
    for share in (0.25, 0.5, 0.75):
        at = corners[1] + share * (corners[2] - corners[1])
        bites.append(
            [(at[0] - 1.5, at[1] - 1.5), (at[0] + 1.5, at[1] - 1.5), (at[0] + 1.5, at[1] + 2), (at[0] - 1.5, at[1] + 2)]
        )
    outline = find_outline(SHEET, drawn([miter()], bites), "miter")
    assert np.abs(ends_of(outline)[:, 0] - corners).max() < 2 * COARSE_MM


def test_an_empty_window_is_refused() -> None:
    """Bare paper with its noise shows no offcut; neither does a crumb of 8 by 8 mm."""
    assert refused(drawn([]), "miter").reason == "no-offcut"
    assert refused(drawn([board(8.0, 8.0)]), "miter").reason == "no-offcut"


def test_two_pieces_are_refused() -> None:
    """Two pieces side by side are refused, and their sizes told."""
    wood = drawn([miter(0, 70.0, (80.0, 90.0)), miter(30, 70.0, (175.0, 90.0))])
    refusal = refused(wood, "miter")
    assert refusal.reason == "several-offcuts"
    assert "square millimetres" in refusal.message


def test_a_piece_with_something_across_it_is_refused() -> None:
    """A rule laid right across the piece leaves wood on both sides of a gap: the piece is hidden, not two."""
    band = [(40.0, 86.0), (220.0, 80.0), (220.0, 92.0), (40.0, 98.0)]
    refusal = refused(drawn([board(110.0, 90.0)], [band]), "board")
    assert refusal.reason == "offcut-hidden"
    assert "across" in refusal.message


def test_a_notched_piece_is_refused() -> None:
    """Something that covers a part of an edge leaves a notch in the outline, and the piece is hidden."""
    left, right = np.array(miter()[2]), np.array(miter()[1])
    middle = (left + right) / 2
    cover = [
        (middle[0] - 14, middle[1] - 22),
        (middle[0] + 14, middle[1] - 22),
        (middle[0] + 14, 200),
        (middle[0] - 14, 200),
    ]
    assert refused(drawn([miter()], [cover]), "miter").reason == "offcut-hidden"


def test_a_covered_corner_is_refused() -> None:
    """A covered corner leaves sides that enclose more than shows: the piece is hidden, or not of the shape."""
    corner = np.array(miter()[0])
    cover = [
        (corner[0] - 40, corner[1] - 40),
        (corner[0] + 40, corner[1] - 40),
        (corner[0] + 40, corner[1] + 12),
        (corner[0] - 40, corner[1] + 12),
    ]
    assert refused(drawn([miter()], [cover]), "miter").reason in {"offcut-hidden", "wrong-shape"}


def test_a_piece_off_the_sheet_is_refused() -> None:
    """A miter that runs off the sheet is refused as hidden."""
    refusal = refused(drawn([miter(0, 160.0, (215.0, 110.0))]), "miter")
    assert refusal.reason == "offcut-hidden"


@pytest.mark.parametrize(
    ("corners", "shape"),
    [
        (board(90.0, 60.0, 12.0), "miter"),
        (miter(20.0), "strip"),
        (miter(20.0), "board"),
        (polygon(6, 50.0), "miter"),
        (polygon(6, 50.0), "board"),
        (polygon(3, 55.0), "miter"),
        (polygon(40, 45.0), "miter"),
        ([(60.0, 60.0), (190.0, 70.0), (190.0, 100.0), (60.0, 140.0)], "strip"),
        (board(90.0, 60.0, 12.0), "corner"),
    ],
)
def test_another_shape_is_refused(corners: Points, shape: str) -> None:
    """A piece of another shape than asked for is refused: too many or too few sides, no square corner, not parallel."""
    assert refused(drawn([corners]), shape).reason == "wrong-shape"


def painted(wood: WoodMap, shape: Points, factors: tuple[float, float, float], soft_mm: float = 0.3) -> WoodMap:
    """The map with its colours multiplied inside a shape: a shadow, or another wood on the paper."""
    share = np.zeros(wood.hue.shape, np.float32)
    corners = (np.array(shape) / CELL_MM - 0.5) * 256
    cv2.fillPoly(share, [np.rint(corners).astype(np.int32)], 1.0, cv2.LINE_8, 8)
    share = cv2.GaussianBlur(share, (0, 0), soft_mm / CELL_MM)[..., None]
    colour = wood.colour * (1 + share * (np.array(factors) - 1))
    hue = (colour[..., 0] + colour[..., 1]) / 2 - colour[..., 2]
    return replace(wood, hue=hue, colour=colour.astype(np.float32))


@pytest.mark.parametrize("soft_mm", [0.3, 2.0])
@pytest.mark.parametrize("shade", [(0.6, 0.54, 0.45), (0.45, 0.45, 0.45), (0.5, 0.53, 0.6)])
def test_a_shadow_of_any_hue_is_no_part_of_the_piece(shade: tuple[float, float, float], soft_mm: float) -> None:
    """A warm, a neutral and a cool shadow, hard or soft, that clings to the cut leaves the corners where they are.

    The warm one has 0.4 of the wood's own hue.
    """
    corners = np.array(miter())
    down = np.array([3.0, 9.0])
    shadow = [tuple(p) for p in (corners[1], corners[1] + down, corners[2] + down, corners[2])]
    under = painted(drawn([]), shadow, shade, soft_mm)
    piece = drawn([miter()])
    lit = (np.abs(piece.colour - 1).max(axis=2) > 0.05)[..., None]
    colour = np.where(lit, piece.colour, under.colour)
    hue = (colour[..., 0] + colour[..., 1]) / 2 - colour[..., 2]
    outline = find_outline(SHEET, replace(piece, hue=hue, colour=colour), "miter")
    assert np.abs(ends_of(outline)[:, 0] - corners).max() < 2 * COARSE_MM


@pytest.mark.parametrize("other", [(0.8, 0.72, 0.58), (0.3, 0.16, 0.09), (0.6, 0.33, 0.24)])
def test_a_second_piece_of_any_wood_is_noticed(other: tuple[float, float, float]) -> None:
    """Beside a miter of pale wood lies a board of pale, dark or red wood, 15 mm off or more: two pieces, no miter."""
    wood = painted(drawn([miter(0, 70.0, (80.0, 90.0))]), board(50.0, 30.0, 20.0, (170.0, 100.0)), other)
    assert refused(wood, "miter").reason == "several-offcuts"


def test_a_piece_that_runs_out_of_the_picture_is_hidden() -> None:
    """A miter whose right tip lies beyond the picture's border is hidden, not of another shape."""
    wood = drawn([miter()])
    beyond = np.zeros(wood.hue.shape, dtype=bool)
    beyond[:, round(160.0 / CELL_MM) :] = True
    colour = np.where(beyond[..., None], 0.0, wood.colour).astype(np.float32)
    refusal = refused(replace(wood, hue=np.where(beyond, 0.0, wood.hue), colour=colour, shown=~beyond), "miter")
    assert refusal.reason == "offcut-hidden"
    assert "picture" in refusal.message


def test_a_cover_s_edge_that_runs_on_is_a_cover() -> None:
    """A grey card laid across a tip makes a fourth side, but its edge goes on over the paper: the piece is hidden."""
    corners = np.array(miter())
    along = (corners[2] - corners[1]) / np.hypot(*(corners[2] - corners[1]))
    across = np.array([-along[1], along[0]])
    start = corners[1] + 40 * along
    card = [tuple(start + a * along + b * across) for a, b in ((0, -22), (0, 80), (-70, 80), (-70, -22))]
    wood = painted(drawn([miter()], [card]), card, (0.5, 0.5, 0.5))
    assert refused(wood, "miter").reason == "offcut-hidden"


def test_dust_and_a_lamp_s_gradient_are_no_piece() -> None:
    """Specks of wood, two a square centimetre, on paper whose colour changes by 6 % across it: an empty window."""
    wood = drawn([])
    rng = np.random.default_rng(4)
    specks = np.zeros(wood.hue.shape, np.float32)
    for x, y in rng.uniform((30, 30), (220, 150), (450, 2)) / CELL_MM:
        cv2.circle(specks, (int(x), int(y)), 1, 1.0, -1)
    warm = np.linspace(-0.03, 0.03, wood.hue.shape[1])[None, :, None] * np.array([1.0, 0.0, -1.0])
    colour = (wood.colour * (1 + warm) * (1 + specks[..., None] * (WOOD - 1))).astype(np.float32)
    hue = (colour[..., 0] + colour[..., 1]) / 2 - colour[..., 2]
    assert refused(replace(wood, hue=hue, colour=colour), "miter").reason == "no-offcut"


def test_a_line_lies_on_the_rim_or_not() -> None:
    """Along its own side the rim is found all the way; 2 mm to either side nowhere, and past a wall 2 mm wide it is."""
    outline = find_outline(SHEET, drawn([miter()]), "miter")
    side = outline.sides[1]
    outward = np.array([side.direction[1], -side.direction[0]])
    assert on_rim(outline, side.start_mm, side.end_mm).all()
    for away in (-2.0, 2.0):
        assert not on_rim(outline, side.start_mm + away * outward, side.end_mm + away * outward).any()
    beyond = (side.start_mm + 2 * outward, side.end_mm + 2 * outward)
    assert on_rim(outline, *beyond, 2.0).mean() > 0.9


@pytest.mark.parametrize(
    ("species", "lamp", "sky"),
    [
        ("walnut", (0.95, 1.0, 1.06), (1.08, 1.0, 0.88)),
        ("walnut", (1.12, 1.0, 0.8), (0.93, 1.0, 1.1)),
        ("maple", (0.95, 1.0, 1.06), (1.08, 1.0, 0.88)),
    ],
)
def test_a_piece_stands_out_from_its_coloured_shadow(
    species: str, lamp: tuple[float, float, float], sky: tuple[float, float, float]
) -> None:
    """Under lamp and sky of different colours the corners are those of the piece, not of its shadow.

    The top face shows up to 6 % farther out than its footprint (18 mm under a lens at 313 mm), and walls show on the
    other side; the coarse corners lie between, within 0.5 mm and that reach.
    """
    scene = good_scene()
    scene = replace(
        scene,
        pieces=(replace(scene.pieces[0], species=species),),
        lights=(Light(-350.0, -200.0, 600.0, 30.0, 0.6, lamp),),
        ambient=Ambient(0.4, sky),
    )
    photo = as_photo(render(scene))
    pose = fit_pose(locate_sheet(photo), prior_from_photo(photo))
    outline = find_outline(pose.sheet, map_wood(photo, pose), "miter")
    away = np.hypot(*(ends_of(outline)[:, 0] - scene.pieces[0].vertices_mm).T)
    reach = 0.061 * np.hypot(*(scene.pieces[0].vertices_mm - scene.pose.centre_mm[:2]).T)
    assert (away < 1.0 + 1.5 * reach).all()
