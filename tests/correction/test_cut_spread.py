"""The spread of the cut: what pieces tell of it, and what it does to each way of finding the fence."""

from __future__ import annotations

import math

import pytest

from cutvision.correction import (
    Correction,
    CutSpread,
    EdgeForm,
    Jig,
    correct_direct,
    correct_facing,
    correct_frame,
    correct_miter_from_angles,
    correct_miter_from_legs,
    correct_square_from_taper,
    spread_of_pieces,
)
from cutvision.correction.cut_spread import NAME, RUNNER_PLAY_RAD
from cutvision.errors import InputError
from cutvision.reports.says_correction import correction_report
from cutvision.reports.terminal import to_terminal
from cutvision.uncertainty import Quantity, budget

SMOOTH = EdgeForm(rms_mm=0.0)
RIGHT_ANGLE = Quantity(math.pi / 2, "rad")
SAID = CutSpread(math.radians(0.013), "as said")


def mm(value: float) -> Quantity:
    """An exact length."""
    return Quantity(value, "mm")


def rad(degrees: float) -> Quantity:
    """An exact angle."""
    return Quantity(math.radians(degrees), "rad")


def every_way(spread: CutSpread | None) -> dict[str, tuple[Correction, int]]:
    """Each method on exact readings and smooth edges, with the count of cuts that it averages."""
    jig = Jig(mm(380.0), "left", None, spread)
    return {
        "legs": (correct_miter_from_legs(mm(101.62), mm(101.35), RIGHT_ANGLE, jig, edge_form=SMOOTH), 1),
        "angles": (correct_miter_from_angles(rad(44.9), rad(45.1), RIGHT_ANGLE, jig), 1),
        "strip": (correct_square_from_taper(rad(0.2), jig), 4),
        "board": (correct_square_from_taper(rad(0.2), jig, turns=2), 2),
        "facing": (correct_facing(mm(0.5), mm(300.0), "far", jig, edge_form=SMOOTH), 2),
    }


def test_three_pieces_give_a_standard_deviation_with_two_degrees_of_freedom() -> None:
    """Errors of 0.01, 0.02, 0.03 deg, or angles of 44.99, 45.00, 45.01: s = 0.01 deg, 2 freedoms (closed form)."""
    for angles in ((0.01, 0.02, 0.03), (44.99, 45.0, 45.01), (-0.01, 0.0, 0.01)):
        spread = spread_of_pieces([math.radians(a) for a in angles])
        assert math.degrees(spread.standard_deviation_rad) == pytest.approx(0.01, abs=1e-12)
        assert spread.degrees_of_freedom == 2


def test_runner_play() -> None:
    """Play of 0.1 mm over 450 mm turns a sled by 0.0127 deg, about 0.013 (closed form)."""
    assert math.degrees(RUNNER_PLAY_RAD) == pytest.approx(0.0127324, abs=1e-7)


@pytest.mark.parametrize("way", every_way(None))
def test_the_mean_of_the_cuts_counts(way: str) -> None:
    """s over the root of the cuts that the method averages: a strip shows four, two pieces two, a miter one."""
    correction, cuts = every_way(SAID)[way]
    (row,) = (row for row in budget(correction.angle_error) if row.name == NAME)
    assert math.degrees(row.contribution) == pytest.approx(0.013 / math.sqrt(cuts), rel=1e-12)
    assert correction.angle_error.value == every_way(None)[way][0].angle_error.value
    assert all(row.name != NAME for row in budget(every_way(None)[way][0].angle_error))


def test_a_frame_averages_all_its_cuts_and_a_square_sees_none() -> None:
    """2 N cuts in a frame of N sides; a square held to the fence shows the fence without any cut."""
    jig = Jig(mm(380.0), "left", None, SAID)
    frame = correct_frame(mm(1.0), mm(60.0), 4, "toe", jig, edge_form=SMOOTH)
    (row,) = (row for row in budget(frame.angle_error) if row.name == NAME)
    assert math.degrees(row.contribution) == pytest.approx(0.013 / math.sqrt(8), rel=1e-12)
    direct = correct_direct(mm(0.5), mm(300.0), "far", rad(0.0), jig)
    assert budget(direct.angle_error) == ()
    assert "--cut-spread" not in to_terminal(correction_report(direct), "more")


def test_pieces_divide_it_and_few_freedoms_widen_the_bound() -> None:
    """The mean of four pieces halves it; from three pieces t for 2 freedoms, 4.303, is the factor (closed form)."""
    seen = spread_of_pieces([math.radians(a) for a in (44.99, 45.0, 45.01)], pieces=4)
    correction = every_way(seen)["legs"][0]
    (row,) = (row for row in budget(correction.angle_error) if row.name == NAME)
    assert math.degrees(row.contribution) == pytest.approx(0.005, rel=1e-9)
    assert row.kind == "A"
    assert correction.angle_error.coverage_factor == pytest.approx(4.303, abs=0.0005)


def test_the_text_says_when_more_pieces_help() -> None:
    """When the spread makes most of the doubt, more pieces help, not better measuring; unknown, it is told."""
    assert "more pieces help, measuring better does not" in " ".join(
        to_terminal(correction_report(every_way(SAID)["legs"][0]), "more").split()
    )
    assert "is not counted" in to_terminal(correction_report(every_way(None)["legs"][0]), "more")
    wide = Jig(mm(380.0), "left", math.radians(0.05), CutSpread(math.radians(0.05), "as said"))
    told = correct_miter_from_legs(mm(101.62), mm(101.35), RIGHT_ANGLE, wide, edge_form=SMOOTH).decision
    assert told.action == "cannot-tell"
    assert told.remedy is not None
    assert "one more piece" in told.remedy.what


def test_what_is_no_spread_is_refused() -> None:
    """Two pieces, pieces over 1 deg apart, a negative or endless spread, a mean of no pieces."""
    with pytest.raises(InputError, match="2 pieces show too little"):
        spread_of_pieces([0.001, 0.002])
    with pytest.raises(InputError, match="deg apart"):
        spread_of_pieces([0.0, 0.0, 0.02])
    with pytest.raises(InputError, match=r"deg apart|no angle"):
        spread_of_pieces([0.0, 0.0, math.nan])
    for bad in (-0.001, math.nan, math.inf):
        with pytest.raises(InputError, match="no angle"):
            CutSpread(bad, "")
    with pytest.raises(InputError, match="mean of 0"):
        CutSpread(0.001, "", pieces=0)


def test_what_each_piece_was_measured_to_is_taken_off_the_scatter() -> None:
    """Angles 0, 3 and 6 scatter by 3; measured each to 2 u = 4 leaves sqrt(9 - 4); to 2 u = 8 nothing (closed form).

    The degrees of freedom stay those of the pieces (JCGM 100:2008, 4.2.2).
    """
    unit = math.radians(0.01)
    angles = [0.0, 3 * unit, 6 * unit]
    for measured_to, left in ((4 * unit, math.sqrt(5) * unit), (8 * unit, 0.0)):
        spread = spread_of_pieces(angles, 2, measured_to)
        assert spread.standard_deviation_rad == pytest.approx(left, rel=1e-12)
        assert (spread.degrees_of_freedom, spread.pieces) == (2, 2)
        assert f"measuring each to {math.degrees(measured_to):g} deg" in spread.source
    assert spread_of_pieces(angles).standard_deviation_rad == pytest.approx(3 * unit, rel=1e-12)
