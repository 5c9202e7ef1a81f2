"""Before cutting: how large a test piece, how many pieces and readings tell the fence within a tolerance.

Nothing is reckoned here: every bound comes from the methods themselves, given a piece that shows no error, read as the
person would read it. So the plan promises what the correction will say.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from cutvision.correction.chain import JointChain, joint_chain
from cutvision.correction.cut_spread import RUNNER_PLAY_RAD, CutSpread
from cutvision.correction.fence_geometry import FenceKind
from cutvision.correction.gap import correct_facing, correct_frame
from cutvision.correction.jig import Jig
from cutvision.correction.lever_check import LEAVES, check_tolerance
from cutvision.correction.miter import (
    CORNER_RAD,
    NOMINAL_RAD,
    correct_miter_from_angles,
    correct_miter_from_legs,
)
from cutvision.correction.piece_fit import PaperFit, Window, fitting, room_mm, triangle_box_mm
from cutvision.correction.piece_safety import Holding, PlanKind, check_holdable
from cutvision.correction.readings import (
    Reading,
    ReadingCare,
    typed_corner,
    typed_distance,
    typed_gap,
    typed_legs,
    typed_widths,
)
from cutvision.correction.result import Correction
from cutvision.correction.square import (
    BOARD_TURNS,
    STRIP_TURNS,
    correct_square_from_taper,
    correct_square_from_widths,
)
from cutvision.correction.v_arms import LegPair, correct_arms_from_angles, correct_arms_from_legs
from cutvision.errors import InputError
from cutvision.uncertainty import Influence, Quantity, budget, rectangular

Tool = Literal["caliper", "photo", "leaves"]
PieceTestName = Literal[
    "arms", "arms photos", "legs", "two photos", "one photo", "frame", "strip", "board", "strip photo", "facing"
]

ALL_TOOLS: tuple[Tool, ...] = ("caliper", "photo", "leaves")
GOALS = (0.5, 0.75, 1.0)
"""The bound as a part of the tolerance, the most wanted first: at half of it a fence within the other half is told as
in; at the whole only a fence without any error would be."""
MOST_PIECES = 5
READINGS = (1, 3)
WORTH_READING = 0.8
"""Reading three times is asked for when it makes the piece at least this much smaller."""
STEP_MM = 5.0
ROUNDING = 1e-6
LONGEST_MM: dict[PlanKind, float] = {"miter": 200.0, "square": 500.0}
"""What a person is taken to spare when nothing is said: a leg of a triangle, a side of a board."""
JAW_INSET_MM = 5.0
"""From the end of a strip or board to the middle of the caliper's jaws."""
TIP_CLEAR_MM = 2.0
"""The end leg stays so much below the stock's width, or the cut runs past the tip."""
USUAL_STOCK_MM = 60.0
"""Width of the stock whose joint is looked at when nothing is said."""
WANTED_SIZES_MM = (50.0, 75.0, 100.0, 150.0, 200.0, 300.0, 400.0, 500.0)

PHOTO_SOURCE = "median of the stated bounds, measured on rendered photos"
TURNED_PHOTOS_RAD = math.radians(0.031)
ONE_PHOTO_RAD = math.radians(0.089)
TAPER_PHOTO_RAD = math.radians(0.031)
"""95 % bounds of an angle from photos of a turned piece, from one photo with the print not read, and of a strip's
taper from one photo. Source: the README's accuracy table, the larger of phone-like photos and all; they hold for edges
of some 60 mm and more."""
PHOTO_EDGE_MM = 60.0


@dataclass(frozen=True, slots=True)
class PlanQuestion:
    """What is to be told, and with what.

    lever_mm: from the pivot to the leaf. nominal_rad: of a miter, as shops say it. care: how well things are read.
    cut_spread: None takes runner play of 0.1 mm over 450 mm as the spread from cut to cut. tools: at hand.
    fence: how a miter fence is held; None when that was not said. holding: least sizes. longest_mm: the longest leg, or
    side of a board, that can be spared; None for a usual one. stock_width_mm: of the stock that the test piece is sawn
    from. windows: of the sheets that can be printed.
    """

    kind: PlanKind
    tolerance_rad: float
    lever_mm: float
    tools: tuple[Tool, ...]
    holding: Holding
    thickness_mm: float
    nominal_rad: float = NOMINAL_RAD
    kept: Literal["left", "right"] | None = None
    care: ReadingCare = field(default_factory=ReadingCare)
    cut_spread: CutSpread | None = None
    fence: FenceKind | None = None
    longest_mm: float | None = None
    stock_width_mm: float | None = None
    windows: tuple[Window, ...] = ()

    @property
    def spread(self) -> CutSpread:
        if self.cut_spread is not None:
            return self.cut_spread
        return CutSpread(RUNNER_PLAY_RAD, "runner play of 0.1 mm over 450 mm")

    @property
    def end_leg_ratio(self) -> float:
        """The end leg of a true test piece over its fence leg."""
        return math.tan(math.pi / 2 - self.nominal_rad)


@dataclass(frozen=True, slots=True)
class PieceTest:
    """A kind of test.

    cuts: for one piece. photos: 0 for a caliper or leaves. readings: counts of readings that may be asked for.
    one, many: the piece in words, with a place for its size, alone and several of it; means: how it is read.
    """

    name: PieceTestName
    kind: PlanKind
    tool: Tool
    cuts: int
    one: str
    many: str
    means: str
    photos: int = 0
    readings: tuple[int, ...] = (1,)


_TRIANGLE = ("triangle with legs of {}", "triangles with legs of {}")
_BOARD = ("board with sides of {}", "boards with sides of {}")
_PAIR = ("pair of pieces whose cuts are {} long", "pairs of pieces whose cuts are {} long")
_ARMS = (
    "pair of triangles, one cut on each arm, with legs of {}",
    "pairs of triangles, one of each pair cut on each arm, with legs of {}",
)
_FRAME = ("frame of stock {} wide, its sides 300 mm or longer", "frames of stock {} wide, sides 300 mm or longer")
TESTS: tuple[PieceTest, ...] = (
    PieceTest("legs", "miter", "caliper", 1, *_TRIANGLE, "both legs by caliper", readings=READINGS),
    PieceTest("one photo", "miter", "photo", 1, *_TRIANGLE, "one photo", photos=1),
    PieceTest("two photos", "miter", "photo", 1, *_TRIANGLE, "two photos, turned between them", photos=2),
    PieceTest(
        "arms",
        "miter",
        "caliper",
        2,
        *_ARMS,
        "all legs by caliper, the same edge of one board at both arms",
        readings=READINGS,
    ),
    PieceTest("arms photos", "miter", "photo", 2, *_ARMS, "two photos of each, turned between them", photos=2),
    PieceTest("frame", "miter", "leaves", 8, *_FRAME, "a shim in its last joint"),
    PieceTest("strip", "square", "caliper", 5, *_BOARD, "the strip sawn off fifth, by caliper", readings=READINGS),
    PieceTest("board", "square", "caliper", 3, *_BOARD, "its width after three cuts, by caliper", readings=READINGS),
    PieceTest("strip photo", "square", "photo", 5, *_BOARD, "one photo of the strip sawn off fifth", photos=1),
    PieceTest("facing", "square", "leaves", 2, *_PAIR, "one turned over, a shim between"),
)


@dataclass(frozen=True, slots=True)
class Trial:
    """What one test would tell.

    size_mm: the triangle's shorter leg, the board's side, or the frame's stock. other_mm: the triangle's other leg, as
    long without a triangle. readings: of each length. pieces: cut at one setting and averaged.
    bound_rad: expanded bound of the fence's error, as the correction will state it. most: its largest influence.
    shows_mm: by how much a fence just at the tolerance makes the end leg too long, the widths differ or the gap open.
    tells_mm: the smallest such amount that the instrument tells (its own expanded bound).
    papers: which sheets the piece fits; empty without a photo.
    """

    test: PieceTest
    size_mm: float
    other_mm: float
    readings: int
    pieces: int
    bound_rad: float
    most: str
    shows_mm: float
    tells_mm: float
    papers: tuple[PaperFit, ...]

    @property
    def cuts(self) -> int:
        return self.test.cuts * self.pieces


@dataclass(frozen=True, slots=True)
class PiecePlan:
    """One kind of test for the question.

    trial: the piece that is advised; None when no bound below the tolerance is to be had so. goal: the part of the
    tolerance that its bound keeps to. table: single pieces of other sizes, and the trial among them.
    best: the finest that this test reaches with what can be spared.
    """

    test: PieceTest
    trial: Trial | None
    goal: float
    table: tuple[Trial, ...]
    best: Trial


@dataclass(frozen=True, slots=True)
class Plan:
    """What to cut, and what each kind of test at hand would tell. chosen: the plan to follow."""

    question: PlanQuestion
    chosen: PiecePlan
    tests: tuple[PiecePlan, ...]


def make_plan(question: PlanQuestion) -> Plan:
    """The piece to cut: the nearest goal, then the fewest cuts, then the smallest piece.

    Raises InputError for a tolerance that is not positive, a piece too small to cut safely, a miter whose method needs
    to know more, and a tolerance finer than anything at hand can show, with what would.
    """
    check_tolerance(question.tolerance_rad)
    if not _at_hand(question):
        raise InputError(
            f"No kind of test with {' or '.join(question.tools)} is known for a miter of "
            f"{math.degrees(question.nominal_rad):g} deg: no frame closes with it.",
            "Plan with a caliper or photos (--with both).",
        )
    tests = _plan_tests(question)
    if not tests:
        raise InputError(
            f"No sheet has room for a piece of {question.holding.piece_mm:g} mm, the least that is safe to cut here.",
            "Plan with a caliper (--with caliper).",
        )
    told = [one for one in tests if one.trial is not None]
    if not told:
        raise _too_fine(question, [one.best for one in tests])
    return Plan(question, min(told, key=_rank), tuple(sorted(tests, key=_rank)))


def chain_for(plan: Plan, joint_width_mm: float | None, said_rad: Mapping[str, float]) -> JointChain:
    """The chain to a tight joint cut at the planned fence: `joint_chain` with what the chosen piece tells.

    joint_width_mm: None for the face of a joint in stock 60 mm wide. Raises InputError as `joint_chain`.
    """
    question = plan.question
    nominal_rad = question.nominal_rad if question.kind == "miter" else 0.0
    trial = plan.chosen.trial or plan.chosen.best
    return joint_chain(
        question.kind,
        question.tolerance_rad,
        trial.bound_rad,
        joint_width_mm=USUAL_STOCK_MM / math.cos(nominal_rad) if joint_width_mm is None else joint_width_mm,
        thickness_mm=question.thickness_mm,
        said_rad=said_rad,
        single=question.fence == "single",
        corner_counts=trial.test.name == "legs"
        or (trial.test.name in {"one photo", "two photos"} and question.kept is None),
    )


def try_test(question: PlanQuestion, test: PieceTest, size_mm: float, readings: int = 1, pieces: int = 1) -> Trial:
    """What one piece of this size, or the mean of several, would tell. Raises InputError as the method does."""
    averaged = replace(question, care=replace(question.care, pieces=pieces))
    correction, told = _METHODS[test.name](averaged, size_mm, readings, _jig(averaged, pieces))
    rows = budget(correction.angle_error)
    other_mm = size_mm * _longer_ratio(question) if question.kind == "miter" and test.name != "frame" else size_mm
    return Trial(
        test,
        size_mm,
        other_mm,
        readings,
        pieces,
        correction.angle_error.expanded_uncertainty,
        rows[0].name if rows else "",
        told.shows_mm,
        told.tells_mm,
        _papers(question, test, size_mm, other_mm),
    )


@dataclass(frozen=True, slots=True)
class _Told:
    shows_mm: float
    tells_mm: float


_Method = Callable[[PlanQuestion, float, int, Jig], tuple[Correction, _Told]]


def _jig(question: PlanQuestion, pieces: int) -> Jig:
    lever = typed_distance(question.lever_mm, "lever", question.care)
    return Jig(lever, question.kept, question.tolerance_rad, replace(question.spread, pieces=pieces))


def _legs(question: PlanQuestion, size_mm: float, readings: int, jig: Jig) -> tuple[Correction, _Told]:
    fence_mm, end_mm = _legs_mm(question, size_mm)
    left_mm, right_mm = (end_mm, fence_mm) if question.kept == "left" else (fence_mm, end_mm)
    care = question.care
    left, right = typed_legs(_read(left_mm, readings, care), _read(right_mm, readings, care), care)
    corner = typed_corner(CORNER_RAD, care)
    correction = correct_miter_from_legs(
        left, right, corner, jig, nominal_rad=question.nominal_rad, edge_form=care.edge_form
    )
    return correction, _Told(_end_leg_mm(question, fence_mm), (left - right).expanded_uncertainty)


def _miter_photos(bound_rad: float) -> _Method:
    def method(question: PlanQuestion, size_mm: float, _readings: int, jig: Jig) -> tuple[Correction, _Told]:
        fence_mm, end_mm = _legs_mm(question, size_mm)
        nominal = question.nominal_rad
        at_fence, at_end = (_photo_angle(angle, bound_rad, name) for angle, name in _angles(nominal))
        left, right = (at_end, at_fence) if question.kept == "left" else (at_fence, at_end)
        form = question.care.edge_form
        form_rad = math.hypot(form.direction_rad(math.hypot(fence_mm, end_mm)), form.direction_rad(fence_mm))
        correction = correct_miter_from_angles(
            left,
            right,
            _photo_angle(CORNER_RAD, bound_rad, "corner"),
            jig,
            split_error=_photo_angle(0.0, bound_rad, "split"),
            nominal_rad=nominal,
            edge_form_rad=form_rad,
        )
        return correction, _Told(_end_leg_mm(question, fence_mm), _end_leg_mm(question, fence_mm, bound_rad))

    return method


def _arms(question: PlanQuestion, size_mm: float, readings: int, jig: Jig) -> tuple[Correction, _Told]:
    fence_mm, end_mm = _legs_mm(question, size_mm)
    care = question.care
    fence, end = _read(fence_mm, readings, care), _read(end_mm, readings, care)
    left_arm, right_arm = LegPair(*typed_legs(end, fence, care)), LegPair(*typed_legs(fence, end, care))
    correction = correct_arms_from_legs(
        left_arm,
        right_arm,
        typed_corner(CORNER_RAD, care),
        replace(jig, kept=None),
        nominal_rad=question.nominal_rad,
        edge_form=care.edge_form,
    )
    tells = (left_arm.left - left_arm.right).expanded_uncertainty
    return correction, _Told(_end_leg_mm(question, fence_mm), tells)


def _arms_photos(question: PlanQuestion, size_mm: float, _readings: int, jig: Jig) -> tuple[Correction, _Told]:
    fence_mm, _ = _legs_mm(question, size_mm)
    at_fence = math.pi / 2 - question.nominal_rad
    left_arm, right_arm = (_photo_angle(at_fence, TURNED_PHOTOS_RAD, name) for name in ("left arm", "right arm"))
    correction = correct_arms_from_angles(
        left_arm,
        right_arm,
        replace(jig, kept=None),
        nominal_rad=question.nominal_rad,
        leg_mm=fence_mm,
        edge_form=question.care.edge_form,
    )
    tells = _end_leg_mm(question, fence_mm, TURNED_PHOTOS_RAD)
    return correction, _Told(_end_leg_mm(question, fence_mm), tells)


def _frame(question: PlanQuestion, size_mm: float, _readings: int, jig: Jig) -> tuple[Correction, _Told]:
    sides = frame_sides(question.nominal_rad)
    if sides is None:
        raise InputError("No closed frame has such joints.", "Use a caliper or photos for this miter.")
    care = question.care
    gap = typed_gap(0.0, care)
    kept = jig.kept or "left"  # the bound is the same on either side
    stock = typed_distance(size_mm, "stock", care)
    correction = correct_frame(gap, stock, sides, "toe", replace(jig, kept=kept), edge_form=care.edge_form)
    face_mm = size_mm / math.cos(math.pi / sides)
    shows = 2 * face_mm * math.sin(sides * question.tolerance_rad)
    return correction, _Told(shows, _least_gap_mm(gap))


def _widths(turns: int) -> _Method:
    def method(question: PlanQuestion, size_mm: float, readings: int, jig: Jig) -> tuple[Correction, _Told]:
        care = question.care
        width_mm = question.holding.strip_mm if turns == STRIP_TURNS else size_mm
        reading = _read(width_mm, readings, care)
        at_fence, far_end = typed_widths(reading, reading, care)
        between_mm = size_mm - 2 * JAW_INSET_MM
        between = typed_distance(between_mm, "between", care)
        correction = correct_square_from_widths(at_fence, far_end, between, jig, turns=turns, edge_form=care.edge_form)
        shows = between_mm * math.tan(turns * question.tolerance_rad)
        return correction, _Told(shows, (at_fence - far_end).expanded_uncertainty)

    return method


def _strip_photo(question: PlanQuestion, size_mm: float, _readings: int, jig: Jig) -> tuple[Correction, _Told]:
    rooms = [room_mm(window, question.thickness_mm)[0] for window in question.windows]
    seen_mm = min(size_mm, max(rooms, default=size_mm))
    form_rad = math.sqrt(2) * question.care.edge_form.direction_rad(seen_mm)
    taper = _photo_angle(0.0, TAPER_PHOTO_RAD, "taper")
    correction = correct_square_from_taper(taper, jig, turns=STRIP_TURNS, edge_form_rad=form_rad)
    shows, tells = (seen_mm * math.tan(angle) for angle in (STRIP_TURNS * question.tolerance_rad, TAPER_PHOTO_RAD))
    return correction, _Told(shows, tells)


def _facing(question: PlanQuestion, size_mm: float, _readings: int, jig: Jig) -> tuple[Correction, _Told]:
    care = question.care
    over_mm = size_mm - 2 * JAW_INSET_MM
    gap = typed_gap(0.0, care)
    over = typed_distance(over_mm, "over", care)
    correction = correct_facing(gap, over, "fence", jig, edge_form=care.edge_form)
    return correction, _Told(over_mm * math.tan(2 * question.tolerance_rad), _least_gap_mm(gap))


_METHODS: dict[PieceTestName, _Method] = {
    "legs": _legs,
    "one photo": _miter_photos(ONE_PHOTO_RAD),
    "two photos": _miter_photos(TURNED_PHOTOS_RAD),
    "arms": _arms,
    "arms photos": _arms_photos,
    "frame": _frame,
    "strip": _widths(STRIP_TURNS),
    "board": _widths(BOARD_TURNS),
    "strip photo": _strip_photo,
    "facing": _facing,
}


def frame_sides(nominal_rad: float) -> int | None:
    """How many sides a frame has whose every cut is this miter; None when it closes with no count from 3 to 24."""
    sides = math.pi / nominal_rad
    return round(sides) if abs(sides - round(sides)) < 1e-6 and 3 <= round(sides) <= 24 else None


def _read(value_mm: float, readings: int, care: ReadingCare) -> Reading:
    """One reading, or several that scatter as one reading is said to repeat, so that the method sees what it will."""
    if readings == 1:
        return value_mm
    scatter = rectangular(care.one_reading_mm)
    places = [2 * i - (readings - 1) for i in range(readings)]
    own = math.sqrt(math.fsum(p * p for p in places) / (readings - 1))
    return [value_mm + place / own * scatter for place in places]


def _photo_angle(value_rad: float, bound_rad: float, name: str) -> Quantity:
    return Quantity(value_rad, "rad", {Influence(f"photo/{name}", "photo", source=PHOTO_SOURCE): bound_rad / 2})


def _angles(nominal_rad: float) -> tuple[tuple[float, str], tuple[float, str]]:
    """The true piece's angles at the fence leg and at the end leg."""
    return (math.pi / 2 - nominal_rad, "fence leg"), (nominal_rad, "end leg")


def _legs_mm(question: PlanQuestion, size_mm: float) -> tuple[float, float]:
    """Fence leg and end leg of a true piece whose shorter leg is size_mm."""
    ratio = question.end_leg_ratio
    return (size_mm, size_mm * ratio) if ratio >= 1 else (size_mm / ratio, size_mm)


def _longer_ratio(question: PlanQuestion) -> float:
    return max(question.end_leg_ratio, 1 / question.end_leg_ratio)


def _end_leg_mm(question: PlanQuestion, fence_leg_mm: float, angle_rad: float | None = None) -> float:
    """How much an error, the tolerance unless said, lengthens the end leg: what the legs then differ by more."""
    at_fence = math.pi / 2 - question.nominal_rad
    off = question.tolerance_rad if angle_rad is None else angle_rad
    return fence_leg_mm * (math.tan(at_fence + off) - math.tan(at_fence))


def _least_gap_mm(gap: Quantity) -> float:
    return max(gap.expanded_uncertainty, min(leaf.thickness_mm for leaf in LEAVES))


def _papers(question: PlanQuestion, test: PieceTest, size_mm: float, other_mm: float) -> tuple[PaperFit, ...]:
    if test.tool != "photo":
        return ()
    if test.kind == "miter":
        return fitting(triangle_box_mm(size_mm, other_mm), question.windows, question.thickness_mm)
    strip = (size_mm, question.holding.strip_mm)
    return fitting(strip, question.windows, question.thickness_mm, may_leave=True)


def _at_hand(question: PlanQuestion) -> list[PieceTest]:
    return [
        test
        for test in TESTS
        if test.kind == question.kind
        and test.tool in question.tools
        and (test.name != "frame" or frame_sides(question.nominal_rad) is not None)
        and (not test.name.startswith("arms") or question.fence in {"v-foot", "v-point"})
    ]


def _sizes(question: PlanQuestion, test: PieceTest) -> list[float]:
    """What may be cut, in steps: from the least that can be held to the most that can be spared and, for a photo, seen.

    Raises InputError when there is nothing between.
    """
    holding = question.holding
    most = LONGEST_MM[question.kind] if question.longest_mm is None else question.longest_mm
    why = "a usual limit" if question.longest_mm is None else "the longest that you can spare"
    if question.kind == "miter" and test.name != "frame":
        most /= _longer_ratio(question)
    if question.stock_width_mm is not None:
        width = question.stock_width_mm
        if question.kind == "miter" and test.name != "frame":
            width = (width - TIP_CLEAR_MM) / max(1.0, question.end_leg_ratio)
        if width < most:
            most, why = width, f"from stock {question.stock_width_mm:.4g} mm wide"
    check_holdable(holding, most, why)
    least = holding.piece_mm
    sizes = [least + STEP_MM * i for i in range(1 + int((most - least) / STEP_MM + ROUNDING))]
    if test.tool == "photo" and question.windows:
        turned = test.photos > 1
        sizes = [size for size in sizes if _fits_some(question, test, size, turned=turned)]
    return sizes


def _fits_some(question: PlanQuestion, test: PieceTest, size_mm: float, *, turned: bool) -> bool:
    fits = _papers(question, test, size_mm, size_mm * (_longer_ratio(question) if test.kind == "miter" else 1.0))
    return any(fit.flat and (fit.turned or not turned) for fit in fits)


def _plan_tests(question: PlanQuestion) -> list[PiecePlan]:
    """Every test at hand for which a piece can be cut, and seen whole."""
    sized = [(test, _sizes(question, test)) for test in _at_hand(question)]
    return [_plan_test(question, test, sizes) for test, sizes in sized if sizes]


def _plan_test(question: PlanQuestion, test: PieceTest, sizes: Sequence[float]) -> PiecePlan:
    tried = {
        (n, k): try_test(question, test, sizes[-1], n, k) for n in test.readings for k in range(1, MOST_PIECES + 1)
    }
    best = min(tried.values(), key=lambda trial: trial.bound_rad)
    found, goal = _first_goal(question, test, sizes, tried)
    return PiecePlan(test, found, goal, tuple(_table(question, test, sizes, found)), best)


def _first_goal(
    question: PlanQuestion, test: PieceTest, sizes: Sequence[float], largest: dict[tuple[int, int], Trial]
) -> tuple[Trial | None, float]:
    """The nearest goal that can be kept to, with the fewest pieces and then the smallest one."""
    for goal in GOALS:
        for pieces in range(1, MOST_PIECES + 1):
            fit = None
            for readings in test.readings:
                if not keeps(largest[readings, pieces], question.tolerance_rad, goal):
                    continue
                trial = next(
                    trial
                    for size in sizes
                    if keeps(trial := try_test(question, test, size, readings, pieces), question.tolerance_rad, goal)
                )
                if fit is None or trial.size_mm <= WORTH_READING * fit.size_mm:
                    fit = trial
            if fit is not None:
                return fit, goal
    return None, math.inf


def keeps(trial: Trial, tolerance_rad: float, goal: float) -> bool:
    """Whether the bound keeps to this part of the tolerance; at the whole of it, it must be below."""
    limit = goal * tolerance_rad
    return trial.bound_rad < limit if goal == 1 else trial.bound_rad <= limit


def _table(question: PlanQuestion, test: PieceTest, sizes: Sequence[float], found: Trial | None) -> Iterator[Trial]:
    shown = {_nearest(sizes, wanted) for wanted in WANTED_SIZES_MM}
    if found is not None:
        shown.add(found.size_mm)
    for size in sorted(shown):
        yield try_test(question, test, size)
        if found is not None and size == found.size_mm and (found.readings, found.pieces) != (1, 1):
            yield found


def _nearest(sizes: Sequence[float], wanted_mm: float) -> float:
    return min(sizes, key=lambda size: abs(size - wanted_mm))


def _rank(plan: PiecePlan) -> tuple[float, int, float]:
    if plan.trial is None:
        return math.inf, 0, plan.best.bound_rad
    return plan.goal, plan.trial.cuts, plan.trial.size_mm


def _too_fine(question: PlanQuestion, bests: Sequence[Trial]) -> InputError:
    """What to say when nothing at hand shows so fine a tolerance: how near it comes, why, and what would show it."""
    best = min(bests, key=lambda trial: trial.bound_rad)
    tolerance, bound = (f"{math.degrees(angle):.2g} deg" for angle in (question.tolerance_rad, best.bound_rad))
    message = (
        f"The tolerance of {tolerance} is finer than anything at hand can show: the best, {_named(best)}, tells the "
        f"fence to ±{bound}, most of it from the {best.most}."
    )
    return InputError(message, _what_would(question), at_the_saw=True)


def _named(trial: Trial) -> str:
    size = f"{trial.size_mm:g} mm"
    count = "one" if trial.pieces == 1 else f"{trial.pieces}"
    words = trial.test.one if trial.pieces == 1 else trial.test.many
    return f"{count} {words.format(size)} ({trial.test.means})"


def _what_would(question: PlanQuestion) -> str:
    """The first change that brings the bound below the tolerance, tried through the same methods."""
    tools = [tool for tool in ALL_TOOLS if tool not in question.tools]
    known = _with_care(question, corner_to_rad=math.radians(0.01))
    strongest = replace(_calmer(_with_care(question, corner_to_rad=0.0, tips_mm=0.0), 0.5), tools=ALL_TOOLS)
    changes = [(f"Use {tool} (--with {tool})", replace(question, tools=(tool,))) for tool in tools]
    if question.kind == "miter" and question.fence is None:
        on_both = "If the fence is a V, take a piece of each arm (--fence v-foot)"
        changes.insert(0, (on_both, replace(question, fence="v-foot")))
    if question.kind == "miter":
        changes.append(("Measure the blank's corner to 0.01 deg (--corner-to)", known))
    calmer = "halve the spread of the cut (true the runners, clamp the work; --cut-spread)"
    changes += [(f"{calmer.capitalize()}", _calmer(question, 0.5))]
    changes += [
        (f"Use {tool} (--with {tool}), and {calmer}", _calmer(replace(question, tools=(tool,)), 0.5)) for tool in tools
    ]
    if question.kind == "miter":
        changes.append((f"Measure the blank's corner to 0.01 deg (--corner-to), and {calmer}", _calmer(known, 0.5)))
    for words, changed in changes:
        told = [plan.trial for plan in _plan_tests(changed) if plan.trial is not None]
        if told:
            trial = min(told, key=lambda one: one.cuts)
            return f"{words}: then {_named(trial)} would tell it to ±{math.degrees(trial.bound_rad):.2g} deg."
    reached = min(plan.best.bound_rad for plan in _plan_tests(strongest))
    return (
        "Ask for less, and better the saw first: even with every instrument, the corner known, tips whole and half the "
        f"spread of the cut the bound is ±{math.degrees(reached):.2g} deg."
    )


def _with_care(question: PlanQuestion, *, corner_to_rad: float, tips_mm: float | None = None) -> PlanQuestion:
    care = replace(question.care, corner_to_rad=corner_to_rad)
    return replace(question, care=care if tips_mm is None else replace(care, tips_mm=tips_mm))


def _calmer(question: PlanQuestion, factor: float) -> PlanQuestion:
    spread = question.spread
    return replace(
        question,
        cut_spread=replace(spread, standard_deviation_rad=spread.standard_deviation_rad * factor),
    )
