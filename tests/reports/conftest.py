"""A made-up piece on a plain picture, with the evidence that a measurement would bring, from known geometry."""

from __future__ import annotations

import json
import math
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from PIL import Image, ImageDraw

from cutvision.correction import Jig, ReadingCare, correct_miter_from_legs, typed_corner, typed_distance, typed_legs
from cutvision.errors import Note
from cutvision.imaging.photo import ExifFacts, Photo
from cutvision.logbook.records import Conditions, Headline, Inputs, InputValue, JigRecord, JigVersion, MoveSet, Run
from cutvision.measurement.result import EdgeEvidence, Measurement, PhotoEvidence, Shape
from cutvision.reports.objects import correction_object
from cutvision.uncertainty import Influence, Quantity

PX_PER_MM = 4.0
PAPER_ORIGIN_PX = np.array([60.0, 50.0])
FRAME_MM = np.array([[0.0, 0.0], [250.0, 0.0], [250.0, 180.0], [0.0, 180.0]])
EDGE_POINTS = Influence("edge points/photo 1", "edge points", "A", "how blocks along the edge scatter")
STRETCH = Influence("print stretch a", "print stretch", "B", "an ordinary printer")
SHEAR = Influence("print stretch b", "print stretch", "B", "an ordinary printer")
THICKNESS = Influence("thickness", "thickness", "B", "not given")


@dataclass(frozen=True)
class Example:
    """A measured piece and its photo."""

    photo: Photo
    measurement: Measurement


@dataclass(frozen=True)
class Piece:
    """Edges as (name, start, end) and corners, in mm of the sheet's frame, with the quantities that belong to them."""

    edges: tuple[tuple[str, np.ndarray, np.ndarray], ...]
    corners: dict[str, np.ndarray]
    quantities: dict[str, Quantity]


def angle(degrees: float, bound: float) -> Quantity:
    """An angle and its 95 % bound in degrees; the print makes 64 % of its variance, through two influences."""
    u = math.radians(bound / 2)
    print_part = 0.8 * u / math.sqrt(2)
    return Quantity(math.radians(degrees), "rad", {EDGE_POINTS: 0.6 * u, STRETCH: print_part, SHEAR: -print_part})


def length(millimetres: float, bound: float) -> Quantity:
    """A length and its 95 % bound in mm."""
    return Quantity(millimetres, "mm", {THICKNESS: bound / 2})


def reach(start: np.ndarray, degrees: float, millimetres: float) -> np.ndarray:
    """The point so far from `start` in the direction measured from +x toward +y (clockwise as seen)."""
    return start + millimetres * np.array([math.cos(math.radians(degrees)), math.sin(math.radians(degrees))])


def miter(off: float, bound: float) -> Piece:
    """Square corner at the top, left leg 85 mm and longer than the right one when `off` (the split error, deg) > 0."""
    corner = np.array([125.0, 50.0])
    right_mm = 85 * math.tan(math.radians(45 - off))
    left, right = reach(corner, 135, 85), reach(corner, 45, right_mm)
    return Piece(
        (("right leg", corner, right), ("cut", right, left), ("left leg", left, corner)),
        {"corner": corner, "angle_left": left, "angle_right": right},
        {
            "angle_left": angle(45 - off, bound),
            "angle_right": angle(45 + off, bound),
            "corner": angle(90.0, bound),
            "leg_left": length(85, 0.2),
            "leg_right": length(right_mm, 0.2),
            "leg_difference": length(85 - right_mm, 0.05),
            "split_error": angle(off, bound),
        },
    )


def strip(off: float, bound: float) -> Piece:
    """A strip with its fence end, 24 mm wide, to the left; narrower to the right when `off` (its taper, deg) > 0."""
    top, bottom = np.array([38.0, 78.0]), np.array([38.0, 102.0])
    far_top, far_bottom = reach(top, 0, 170), reach(bottom, -off, 170)
    return Piece(
        (("first long edge", top, far_top), ("second long edge", far_bottom, bottom)),
        {},
        {
            "taper": angle(off, bound),
            "width_fence": length(24, 0.1),
            "width_far": length(float(far_bottom[1] - far_top[1]), 0.1),
        },
    )


def corner(off: float, bound: float) -> Piece:
    """The corner of a board at the top left of the window, `off` degrees more than square."""
    at = np.array([70.0, 60.0])
    return Piece(
        (("first edge", reach(at, 90 + off, 85), at), ("second edge", at, reach(at, 0, 145))),
        {"corner": at},
        {"corner": angle(90 + off, bound)},
    )


def board(off: float, bound: float) -> Piece:
    """Corners clockwise from the top left; the second is `off` degrees more than square, the third as much less."""
    one, two = np.array([60.0, 50.0]), np.array([190.0, 50.0])
    four = reach(one, 90, 80)
    three = reach(two, 90 - off, 80 / math.cos(math.radians(off)))
    points = [one, two, three, four]
    return Piece(
        tuple((f"edge {i + 1}", points[i], points[(i + 1) % 4]) for i in range(4)),
        {f"corner_{i + 1}": points[i] for i in range(4)},
        {f"corner_{i + 1}": angle(90 + d, bound) for i, d in enumerate((0.0, off, -off, 0.0))},
    )


PIECES = {"miter": miter, "strip": strip, "corner": corner, "board": board}


def px(point_mm: np.ndarray) -> np.ndarray:
    """Where a point of the sheet lies in the picture."""
    return PAPER_ORIGIN_PX + PX_PER_MM * point_mm


def example(
    shape: Shape, off: float = 0.1, bound: float = 0.02, wood: tuple[int, int, int] = (205, 170, 120)
) -> Example:
    """A piece `off` degrees from true, known within `bound` degrees, in a picture of plain paper and plain wood."""
    piece = PIECES[shape](off, bound)
    image = Image.new("RGB", (1120, 820), (120, 105, 95))
    draw = ImageDraw.Draw(image)
    draw.rectangle([20, 10, 1100, 810], fill=(228, 228, 224))
    draw.polygon([tuple(px(p)) for _, a, b in piece.edges for p in (a, b)], fill=wood)
    edges = []
    for name, a, b in piece.edges:
        along = np.linspace(0.0, 1.0, 41)[:, None]
        points = px(a) + along * (px(b) - px(a))
        edges.append(EdgeEvidence(name, points, points[4:], points[:4] + 3.0, 0.03, 0.0))
    photo = Photo("piece one.jpg", "ab" * 32, np.asarray(image), ExifFacts(model="a phone"))
    evidence = PhotoEvidence(
        file=photo.name,
        sha256=photo.sha256,
        paper="a4",
        used=True,
        width_px=photo.width_px,
        height_px=photo.height_px,
        edges=tuple(edges),
        corners_px={name: (float(px(p)[0]), float(px(p)[1])) for name, p in piece.corners.items()},
        frame_px=px(FRAME_MM),
        scale_px_per_mm=PX_PER_MM,
        lens_height_mm=412.0,
        tilt_deg=6.0,
        saddles_used=280,
        saddle_rms_px=0.06,
        quantities=piece.quantities,
        notes=(Note("points-dropped", "10 % of the cut's points were left out.", "Brush the edge."),),
    )
    form = {name: math.radians(0.009) for name in piece.quantities if name in {"split_error", "taper", "corner"}}
    notes = (
        Note(
            "one-photo", "One photo cannot tell the print's stretch from the piece.", "Turn the piece and shoot again."
        ),
    )
    return Example(photo, Measurement(shape, piece.quantities, (evidence,), form, notes))


@pytest.fixture
def make_example() -> Callable[..., Example]:
    """The maker of examples: shape, degrees off, bound in degrees, colour of the wood."""
    return example


FIRST_DAY = date(2025, 10, 5)
JIG_TEXT = 'kind = "miter"\nfence-length = "380mm"\nkept = "left"\ntolerance = "0.05deg"\n'


def run_of(number: int = 1, day: int = 0, error_deg: float | None = None, **changes: Any) -> Run:
    """A miter run so many days after the first, as the logbook holds it; its figures may be set, and any field.

    bound_deg: 0.02 unless changed. result: what `--json` printed, unless changed that of two typed legs.
    """
    care = ReadingCare()
    fence = Jig(typed_distance(380.0, "lever", care), "left", math.radians(0.05))
    corner = typed_corner(math.pi / 2, care)
    told: dict[str, Any] = correction_object(correct_miter_from_legs(*typed_legs(101.62, 101.15, care), corner, fence))
    told = changes.pop("result", told)
    error = told.get("angle_error", {}).get("value") if error_deg is None else error_deg
    bound = changes.pop("bound_deg", 0.02)
    when = FIRST_DAY + timedelta(days=day)
    recorded = datetime(when.year, when.month, when.day, 12, tzinfo=UTC)
    return Run(
        identity=str(uuid.UUID(int=number)),
        jig=str(uuid.UUID(int=999)),
        recorded_at=recorded,
        conditions=changes.pop("conditions", Conditions(when, fence=changes.pop("fence", "clamped"))),
        inputs=changes.pop("inputs", Inputs(("correct", "miter"), (InputValue("--left-leg", "101.62mm"),))),
        program="0.1.0",
        result_text=json.dumps(told),
        number=number,
        jig_name=changes.pop("jig_name", "sled"),
        headline=changes.pop(
            "headline", Headline(error, bound if error is not None else None, 0.88, None, "move", 0.05)
        ),
        **changes,
    )


def move_of(distance_mm: float, turn: Any = "clockwise", fence: Any = None, note: str = "") -> MoveSet:
    """A move that was set on the first day."""
    return MoveSet(datetime(2025, 10, 5, 13, tzinfo=UTC), distance_mm, turn, fence, note)


@pytest.fixture
def make_run() -> Callable[..., Run]:
    """The maker of runs: number, days after the first, error in degrees, and whatever else is to differ."""
    return run_of


@pytest.fixture
def make_move() -> Callable[..., MoveSet]:
    """The maker of moves: mm, turn, how the fence is held afterwards, note."""
    return move_of


@pytest.fixture
def jig() -> JigRecord:
    """A miter jig as the logbook holds it."""
    return JigRecord(str(uuid.UUID(int=999)), "sled", (JigVersion(datetime(2025, 10, 1, tzinfo=UTC), JIG_TEXT),))
