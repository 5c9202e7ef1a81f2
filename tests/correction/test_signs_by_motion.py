"""Every sign, settled by the motion itself: a saw, a fence and a piece are turned, cut, turned, cut and measured.

The table seen from above: x to the right, y away from the person behind the saw, the blade's path x = 0, the work
beyond (above) the fence. Nothing of the program's formulas is used here: edges come from clipping polygons, angles from
edges.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutvision.correction import (
    Correction,
    EdgeForm,
    Jig,
    LegPair,
    correct_arms_from_angles,
    correct_arms_from_legs,
    correct_miter_from_angles,
    correct_miter_from_legs,
    correct_square_from_taper,
    correct_square_from_widths,
)
from cutvision.uncertainty import Quantity

FLOAT_RAD = 1e-11  # float noise of some twenty rotations and clippings of pieces some 500 mm wide
SAID = "kept side said"
SMOOTH = EdgeForm(rms_mm=0.0)
many = settings(max_examples=300, deadline=None, derandomize=True)

errors_deg = st.floats(-1.0, 1.0).filter(lambda e: abs(e) > 1e-6)
sides = st.sampled_from(["left", "right"])


def mm(value: float) -> Quantity:
    """An exact length."""
    return Quantity(value, "mm")


def rad(value: float) -> Quantity:
    """An exact angle."""
    return Quantity(value, "rad")


@dataclass(frozen=True)
class Piece:
    """A convex piece: corners counterclockwise as complex numbers, and the name of the edge that starts at each."""

    corners: tuple[complex, ...]
    names: tuple[str, ...]

    def edge(self, name: str) -> tuple[complex, complex]:
        i = self.names.index(name)
        return self.corners[i], self.corners[(i + 1) % len(self.corners)]

    def direction(self, name: str) -> float:
        a, b = self.edge(name)
        return cmath.phase(b - a)

    def corner_between(self, first: str, second: str) -> float:
        """Inside angle where edge `first` ends and edge `second` begins."""
        return math.pi - (self.direction(second) - self.direction(first)) % (2 * math.pi)

    def laid_on(self, fence: Fence, name: str, past_the_blade: float, kept: str) -> Piece:
        """The piece beyond the fence, the edge along it, its end `past_the_blade` mm past the blade."""
        a, b = self.edge(name)
        turned = fence.along / ((b - a) / abs(b - a))
        end = b if kept == "left" else a
        reach = past_the_blade if kept == "left" else -past_the_blade
        target = fence.at_blade() + fence.along * reach / fence.along.real
        return Piece(tuple((c - end) * turned + target for c in self.corners), self.names)

    def half(self, side: str, cut_name: str) -> Piece:
        """What lies on one side of the blade; the sawn edge gets the cut's name."""
        sign = -1 if side == "left" else 1
        corners: list[complex] = []
        names: list[str] = []
        for i, c in enumerate(self.corners):
            d = self.corners[(i + 1) % len(self.corners)]
            if sign * c.real >= 0:
                corners.append(c)
                names.append(self.names[i])
            if (sign * c.real >= 0) != (sign * d.real >= 0):
                crossing = c + (d - c) * (c.real / (c.real - d.real))
                corners.append(complex(0.0, crossing.imag))
                names.append(cut_name if sign * c.real >= 0 else self.names[i])
        return Piece(tuple(corners), tuple(names))


@dataclass(frozen=True)
class Fence:
    """A straight face through `point` in the direction `along` (pointing right), fixed to a body that can be turned."""

    point: complex
    along: complex

    def at_blade(self) -> complex:
        return self.point - self.along * self.point.real / self.along.real

    def turned(self, pivot: complex, pushed_from: complex, pushed_to: complex) -> Fence:
        """After the body was turned about `pivot` until the place `pushed_from` lies toward `pushed_to`."""
        turn = (pushed_to - pivot) / (pushed_from - pivot)
        turn /= abs(turn)
        return Fence(pivot + (self.point - pivot) * turn, self.along * turn)


def fence_at(angle_rad: float, point: complex = 7 - 40j) -> Fence:
    """A fence whose face runs at this angle, counterclockwise from square to the blade."""
    return Fence(point, cmath.rect(1.0, angle_rad))


def true_angle(kept: str, miter_rad: float) -> float:
    """Direction of a true fence: rising to the right for work kept on the left, so that the offcut is a triangle."""
    return miter_rad if kept == "left" else -miter_rad


def triangle(fence: Fence, kept: str, corner_rad: float) -> Piece:
    """Cut a board's end off against the fence; the triangle's edges are the fence leg, the end leg and the cut."""
    length, width = 900.0, 600.0
    lean = cmath.rect(width, corner_rad)
    if kept == "left":
        corners = (0j, length + 0j, length - lean.conjugate(), 0j + width * 1j)
        names = ("fence leg", "end leg", "far edge", "other end")
    else:
        corners = (0j, length + 0j, length + width * 1j, lean)
        names = ("fence leg", "other end", "far edge", "end leg")
    board = Piece(corners, names)
    offcut = "right" if kept == "left" else "left"
    return board.laid_on(fence, "fence leg", 60.0, kept).half(offcut, "cut")


def seen_with_cut_toward_you(piece: Piece) -> dict[str, float]:
    """Legs and angles by left and right, the piece turned until the cut lies nearest and level."""
    a, b = piece.edge("cut")
    turn = abs(b - a) / (b - a)
    level = Piece(tuple(c * turn for c in piece.corners), piece.names)
    (left, right) = level.edge("cut")
    assert left.real < right.real
    top = max(level.corners, key=lambda c: c.imag)
    assert len(level.corners) == 3
    return {
        "leg_left": abs(top - left),
        "leg_right": abs(top - right),
        "angle_left": cmath.phase(top - left),
        "angle_right": math.pi - cmath.phase(top - right),
        "corner": math.pi - cmath.phase(top - left) - (math.pi - cmath.phase(top - right)),
    }


def fence_leg_angle(piece: Piece, kept: str) -> float:
    """The angle between the cut and the leg that lay at the fence."""
    seen = seen_with_cut_toward_you(piece)
    return seen["angle_right" if kept == "left" else "angle_left"]


@pytest.mark.parametrize("way", ["legs", "angles"])
@given(error=errors_deg, corner=st.floats(89.0, 91.0), kept=sides, feet=st.floats(200.0, 900.0))
@many
def test_a_leaf_behind_the_foot_that_is_named_trues_either_arm_of_a_v(
    way: str, error: float, corner: float, kept: str, feet: float
) -> None:
    """A V on two feet, either arm, any corner: the advised leaf at the advised foot leaves no error (closed form)."""
    fence = fence_at(true_angle(kept, math.pi / 4) + math.radians(error))
    seen = seen_with_cut_toward_you(triangle(fence, kept, math.radians(corner)))
    jig = Jig(mm(feet), kept)  # type: ignore[arg-type]
    if way == "legs":
        correction = correct_miter_from_legs(
            mm(seen["leg_left"]), mm(seen["leg_right"]), rad(math.radians(corner)), jig, edge_form=SMOOTH
        )
    else:
        correction = correct_miter_from_angles(
            rad(seen["angle_left"]), rad(seen["angle_right"]), rad(seen["corner"]), jig
        )
    assert correction.angle_error.value == pytest.approx(math.radians(error), abs=FLOAT_RAD)
    left_foot, right_foot = complex(-feet / 2, -200), complex(feet / 2, -200)
    pushed, pivot = (left_foot, right_foot) if correction.side == "left" else (right_foot, left_foot)
    moved = fence.turned(pivot, pushed, pushed + 1j * correction.fence_move.value)
    assert correction.turn == ("clockwise" if error > 0 else "counterclockwise")
    after = fence_leg_angle(triangle(moved, kept, math.radians(corner)), kept)
    assert after == pytest.approx(math.pi / 4, abs=FLOAT_RAD)


@given(error=errors_deg, kept=sides)
@many
def test_without_the_kept_side_a_true_corner_still_tells_the_fence(error: float, kept: str) -> None:
    """With a corner of 90 deg either arm's error follows from the split alone, and the short leg's side is named."""
    fence = fence_at(true_angle(kept, math.pi / 4) + math.radians(error))
    seen = seen_with_cut_toward_you(triangle(fence, kept, math.pi / 2))
    correction = correct_miter_from_legs(
        mm(seen["leg_left"]), mm(seen["leg_right"]), rad(math.pi / 2), Jig(mm(400.0)), edge_form=SMOOTH
    )
    assert correction.angle_error.value == pytest.approx(math.radians(error), abs=FLOAT_RAD)
    assert correction.side == ("left" if seen["leg_left"] < seen["leg_right"] else "right")
    assert {c.kept: c.angle_error.value for c in correction.candidates} == pytest.approx(
        {"left": math.radians(error), "right": math.radians(error)}, abs=FLOAT_RAD
    )


@given(error=errors_deg, corner=st.floats(89.0, 91.0), kept=sides)
@many
def test_one_of_the_candidates_is_the_truth(error: float, corner: float, kept: str) -> None:
    """Kept side unsaid: the candidate of the kept side is right, the answer off by half of the corner's error."""
    fence = fence_at(true_angle(kept, math.pi / 4) + math.radians(error))
    seen = seen_with_cut_toward_you(triangle(fence, kept, math.radians(corner)))
    correction = correct_miter_from_angles(
        rad(seen["angle_left"]), rad(seen["angle_right"]), rad(seen["corner"]), Jig(mm(400.0))
    )
    candidates = {c.kept: c.angle_error.value for c in correction.candidates}
    assert candidates[kept] == pytest.approx(math.radians(error), abs=FLOAT_RAD)  # type: ignore[index]
    half = math.radians(abs(corner - 90)) / 2
    assert abs(correction.angle_error.value - math.radians(error)) == pytest.approx(half, abs=FLOAT_RAD)
    assert correction.angle_error.standard_uncertainty == pytest.approx(half, abs=FLOAT_RAD)


@pytest.mark.parametrize("way", ["legs", "angles"])
@given(
    error=errors_deg,
    miter=st.floats(15.0, 75.0).filter(lambda m: abs(m - 45) > 0.01),
    corner=st.floats(89.0, 91.0),
    kept=sides,
    lever=st.floats(100.0, 900.0),
    pivot_x=st.floats(-500.0, 500.0),
)
@many
def test_turning_a_single_fence_as_told_trues_any_miter(
    way: str, error: float, miter: float, corner: float, kept: str, lever: float, pivot_x: float
) -> None:
    """Any miter, pivot anywhere: the place on the named side of the pivot, pushed away from you, trues the fence."""
    fence = fence_at(true_angle(kept, math.radians(miter)) + math.radians(error))
    seen = seen_with_cut_toward_you(triangle(fence, kept, math.radians(corner)))
    jig = Jig(mm(lever), kept)  # type: ignore[arg-type]
    if way == "legs":
        correction = correct_miter_from_legs(
            mm(seen["leg_left"]),
            mm(seen["leg_right"]),
            rad(math.radians(corner)),
            jig,
            nominal_rad=math.radians(miter),
            edge_form=SMOOTH,
        )
    else:
        correction = correct_miter_from_angles(
            rad(seen["angle_left"]), rad(seen["angle_right"]), rad(seen["corner"]), jig, nominal_rad=math.radians(miter)
        )
    assert correction.side is None
    assert correction.angle_error.value == pytest.approx(math.radians(error), abs=FLOAT_RAD)
    pivot = fence.point + fence.along * (pivot_x - fence.point.real) / fence.along.real
    outward = -fence.along if correction.move.forward_end == "left" else fence.along
    pushed = pivot + lever * outward
    away = 1j * fence.along  # the normal that points away from the person
    moved = fence.turned(pivot, pushed, pushed + correction.fence_move.value * away)
    after = fence_leg_angle(triangle(moved, kept, math.radians(corner)), kept)
    assert after == pytest.approx(math.pi / 2 - math.radians(miter), abs=FLOAT_RAD)


def squaring(fence: Fence, kept: str, cuts: int, start: Piece) -> tuple[Piece, Piece]:
    """Saw a strip off, turn the board so that the sawn edge lies at the fence, and again: board and last strip."""
    board, strip = start, start
    offcut = "right" if kept == "left" else "left"
    name = "cut 0"
    for n in range(1, cuts + 1):
        laid = board.laid_on(fence, name, 45.0, kept)
        board, strip = laid.half(kept, f"cut {n}"), laid.half(offcut, f"cut {n}")
        name = f"cut {n}"
    return board, strip


def fresh_board(leans: tuple[float, float, float]) -> Piece:
    """A board whose first edge is straight; its other corners are where a rough board's might be."""
    a, b, c = leans
    return Piece((0j, 700 + a * 1j, 705 + b + 690j, -4 + c + 700j), ("cut 0", "right", "far", "left"))


def width_across(piece: Piece, along_name: str, other_name: str, from_fence: Fence, at_mm: float) -> float:
    """Width square to one edge, at a distance along it from its end at the fence, up to the other edge's line."""
    a, b = piece.edge(along_name)
    if abs(a - from_fence.at_blade()) > abs(b - from_fence.at_blade()):
        a, b = b, a
    along = (b - a) / abs(b - a)
    spot = a + at_mm * along
    p, q = piece.edge(other_name)
    normal = along * 1j
    # Solve spot + w normal = p + s (q - p) for w.
    side = q - p
    return abs(((p - spot) * side.conjugate()).imag / (normal * side.conjugate()).imag)


@pytest.mark.parametrize("way", ["widths", "taper"])
@pytest.mark.parametrize("told", [SAID, "kept side not said"])
@given(
    error=errors_deg,
    kept=sides,
    cuts=st.integers(5, 8),
    lever=st.floats(200.0, 1200.0),
    leans=st.tuples(*(st.floats(-15.0, 15.0),) * 3),
)
@many
def test_strips_of_the_fifth_to_eighth_cut_true_a_square_fence(
    way: str, told: str, error: float, kept: str, cuts: int, lever: float, leans: tuple[float, float, float]
) -> None:
    """Four turns, whatever the cut's number and the board's first shape: the advised move leaves a corner of 90 deg."""
    fence = fence_at(math.radians(error))
    board, strip = squaring(fence, kept, cuts, fresh_board(leans))
    last, before = f"cut {cuts}", f"cut {cuts - 4}"
    at_fence = width_across(strip, last, before, fence, 20.0)
    far_end = width_across(strip, last, before, fence, 320.0)
    jig = Jig(mm(lever), kept if told == SAID else None)  # type: ignore[arg-type]
    if way == "widths":
        correction = correct_square_from_widths(mm(at_fence), mm(far_end), mm(300.0), jig, edge_form=SMOOTH)
    else:
        taper = abs(math.remainder(strip.direction(last) - strip.direction(before) - math.pi, 2 * math.pi))
        correction = correct_square_from_taper(rad(math.copysign(taper, at_fence - far_end)), jig)
    check_square(correction, error, kept, fence, board, last, said=told == SAID)


@pytest.mark.parametrize("told", [SAID, "kept side not said"])
@given(
    error=errors_deg,
    kept=sides,
    lever=st.floats(200.0, 1200.0),
    leans=st.tuples(*(st.floats(-15.0, 15.0),) * 3),
)
@many
def test_the_boards_own_width_after_three_cuts_trues_a_square_fence(
    told: str, error: float, kept: str, lever: float, leans: tuple[float, float, float]
) -> None:
    """Two turns: the board between its first and third cut is narrower at the fence for a corner over 90 deg."""
    fence = fence_at(math.radians(error))
    board, _ = squaring(fence, kept, 3, fresh_board(leans))
    at_fence = width_across(board, "cut 3", "cut 1", fence, 20.0)
    far_end = width_across(board, "cut 3", "cut 1", fence, 420.0)
    jig = Jig(mm(lever), kept if told == SAID else None)  # type: ignore[arg-type]
    correction = correct_square_from_widths(mm(at_fence), mm(far_end), mm(400.0), jig, turns=2, edge_form=SMOOTH)
    check_square(correction, error, kept, fence, board, "cut 3", said=told == SAID)


def check_square(
    correction: Correction, error: float, kept: str, fence: Fence, board: Piece, last: str, *, said: bool
) -> None:
    """The error is what the fence had, and the end on the kept side, moved as told about the other end, trues it."""
    at_fence = f"cut {int(last.split()[1]) - 1}"
    corner = board.corner_between(at_fence, last) if kept == "left" else board.corner_between(last, at_fence)
    excess = corner - math.pi / 2
    assert excess == pytest.approx(math.radians(error if kept == "left" else -error), abs=FLOAT_RAD)
    expected = math.radians(error) if said else excess
    assert correction.angle_error.value == pytest.approx(expected, abs=FLOAT_RAD)
    assert correction.side == ("toward-work" if excess > 0 else "away-from-work")
    assert correction.turn == (None if not said else "clockwise" if error > 0 else "counterclockwise")
    lever = correction.move.lever.value
    pivot = fence.point
    end = pivot + (-lever if kept == "left" else lever) * fence.along
    toward = 1j * fence.along if correction.side == "toward-work" else -1j * fence.along
    moved = fence.turned(pivot, end, end + correction.fence_move.value * toward)
    after, _ = squaring(moved, kept, 1, fresh_board((3.0, -4.0, 5.0)))
    corner = after.corner_between("cut 0", "cut 1") if kept == "left" else after.corner_between("cut 1", "cut 0")
    assert corner == pytest.approx(math.pi / 2, abs=FLOAT_RAD)


@given(error=errors_deg, kept=sides, scale=st.floats(0.2, 5.0))
@many
def test_scale_changes_nothing_and_a_mirror_flips_the_sign(error: float, kept: str, scale: float) -> None:
    """A piece twice as large has the same error; left and right swapped, kept side too, has the opposite one."""
    fence = fence_at(true_angle(kept, math.pi / 4) + math.radians(error))
    seen = seen_with_cut_toward_you(triangle(fence, kept, math.radians(90.3)))
    mirror = {"left": "right", "right": "left"}[kept]

    def error_of(left: float, right: float, side: str) -> float:
        corner, jig = rad(math.radians(90.3)), Jig(mm(400.0), side)  # type: ignore[arg-type]
        return correct_miter_from_legs(mm(left), mm(right), corner, jig).angle_error.value

    plain = error_of(seen["leg_left"], seen["leg_right"], kept)
    assert error_of(scale * seen["leg_left"], scale * seen["leg_right"], kept) == pytest.approx(plain, abs=FLOAT_RAD)
    assert error_of(seen["leg_right"], seen["leg_left"], mirror) == pytest.approx(-plain, abs=FLOAT_RAD)


def v_pieces(left_deg: float, right_deg: float, corner: float) -> tuple[Fence, Fence, dict[str, dict[str, float]]]:
    """Both faces of a V whose arms stand so far off, and what a piece cut on each shows; corner in rad."""
    left = fence_at(true_angle("left", math.pi / 4) + math.radians(left_deg))
    right = fence_at(true_angle("right", math.pi / 4) + math.radians(right_deg))
    shown = {
        kept: seen_with_cut_toward_you(triangle(fence, kept, corner))
        for kept, fence in (("left", left), ("right", right))
    }
    return left, right, shown


def after_turn(arm: Fence, kept: str, feet: float, turn: str, distance: float) -> float:
    """What an arm stands off, in rad, after a leaf so thick turned the V that way about its other foot."""
    left_foot, right_foot = complex(-feet / 2, -200), complex(feet / 2, -200)
    pushed, pivot = (left_foot, right_foot) if turn == "clockwise" else (right_foot, left_foot)
    moved = arm.turned(pivot, pushed, pushed + 1j * distance)
    seen = fence_leg_angle(triangle(moved, kept, math.pi / 2), kept)
    return (math.pi / 4 - seen) if kept == "left" else (seen - math.pi / 4)


@pytest.mark.parametrize("way", ["legs", "angles"])
@given(left=errors_deg, right=errors_deg, corner=st.floats(89.0, 91.0), feet=st.floats(200.0, 900.0))
@many
def test_a_v_turned_as_told_shares_its_angle_and_one_arm_can_be_trued(
    way: str, left: float, right: float, corner: float, feet: float
) -> None:
    """Both arms off at will: turned by the mean, each is off by half the V's own error; trued alone, an arm is true."""
    left_arm, right_arm, shown = v_pieces(left, right, math.radians(corner))
    jig = Jig(mm(feet))
    if way == "legs":
        pairs = [LegPair(mm(shown[kept]["leg_left"]), mm(shown[kept]["leg_right"])) for kept in ("left", "right")]
        correction = correct_arms_from_legs(*pairs, rad(math.radians(corner)), jig, edge_form=SMOOTH)
    else:
        angles = (rad(shown["left"]["angle_right"]), rad(shown["right"]["angle_left"]))
        correction = correct_arms_from_angles(*angles, jig, edge_form=SMOOTH)
    assert correction.arms is not None
    assert math.degrees(correction.angle_error.value) == pytest.approx((left + right) / 2, abs=1e-9)
    # The angle between the arms, below the point where the person stands, is 90 deg plus this.
    between = cmath.phase(right_arm.along / -left_arm.along) % math.pi
    assert correction.arms.opening.value == pytest.approx(between - math.pi / 2, abs=FLOAT_RAD)
    if correction.turn is not None:
        for arm, kept, sign in ((left_arm, "left", -1), (right_arm, "right", 1)):
            stands = after_turn(arm, kept, feet, correction.turn, correction.fence_move.value)
            assert stands == pytest.approx(sign * correction.arms.opening.value / 2, abs=1e-9)
    for alone, arm in zip(correction.candidates, (left_arm, right_arm), strict=True):
        assert alone.turn is not None
        stands = after_turn(arm, alone.kept, feet, alone.turn, alone.fence_move.value)
        assert stands == pytest.approx(0.0, abs=1e-10)


@given(left=errors_deg, right=errors_deg, off=st.floats(-0.5, 0.5))
@many
def test_a_corner_that_nobody_knows_leaves_the_vs_turn_alone(left: float, right: float, off: float) -> None:
    """Legs of two pieces with one corner taken for 90 deg: the mean holds to second order, the opening takes it all."""
    _, _, shown = v_pieces(left, right, math.radians(90 + off))
    pairs = [LegPair(mm(shown[kept]["leg_left"]), mm(shown[kept]["leg_right"])) for kept in ("left", "right")]
    correction = correct_arms_from_legs(*pairs, rad(math.pi / 2), Jig(mm(400.0)), edge_form=SMOOTH)
    assert correction.arms is not None
    # Second order: half of the corner's error times the arms' difference, in rad, at most 0.5 x 0.0087 x 0.035.
    assert correction.angle_error.value == pytest.approx(math.radians(left + right) / 2, abs=1.6e-4)
    # Likewise the corner's error times the arms', at most 0.0087 x 2 deg.
    assert math.degrees(correction.arms.opening.value) == pytest.approx(right - left + off, abs=0.0175)


@given(error=errors_deg, turned_over=st.booleans())
@many
def test_which_crosscuts_give_both_pieces_the_same_corner(error: float, *, turned_over: bool) -> None:
    """Both ends cut at one fence with one edge at it: the same corner when the board is turned over end for end.

    Slid along and cut on the other side of the blade, the corners differ by twice the fence's error instead.
    """
    fence = fence_at(math.radians(error))
    board = Piece((0j, 900 + 0j, 900 + 300j, 0 + 300j), ("edge", "right", "far", "left"))
    once = board.laid_on(fence, "edge", 45.0, "left").half("left", "first")
    first = once.corner_between("edge", "first")
    if turned_over:
        ends = {"edge": "edge", "first": "left", "far": "far", "left": "right"}
        corners = [-c.conjugate() for c in once.corners]
        # Mirrored and read the other way round; each edge then starts where it ended.
        flipped = Piece((corners[0], *reversed(corners[1:])), tuple(ends[n] for n in reversed(once.names)))
        twice = flipped.laid_on(fence, "edge", 45.0, "left").half("left", "second")
        second = twice.corner_between("edge", "second")
        assert second == pytest.approx(first, abs=FLOAT_RAD)
    else:
        twice = once.laid_on(fence, "edge", 45.0, "right").half("right", "second")
        second = twice.corner_between("second", "edge")
        assert first - second == pytest.approx(2 * math.radians(error), abs=FLOAT_RAD)
