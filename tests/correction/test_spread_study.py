"""The spread of the cut, with what measuring and the edges' form add taken off."""

from __future__ import annotations

import math

import numpy as np
import pytest

from cutvision.correction.spread_study import PieceAngle, study_spread
from cutvision.errors import InputError

FLOAT = 1e-12
SERIES = 600
# 95 % of 600 series within their limits; five standard deviations of that count are 4.4 %.
COVERAGE = (0.906, 0.994)


def pieces(*values_rad: float, measured_rad: float = 0.0, form_rad: float = 0.0) -> list[PieceAngle]:
    """Pieces of these angles."""
    return [PieceAngle(f"piece {n}", value, measured_rad, form_rad) for n, value in enumerate(values_rad)]


def test_three_pieces_and_their_limits() -> None:
    """-s, 0, s: deviation s on 2 dof; limits by chi-square, which is -2 ln p for 2 dof (closed form)."""
    study = study_spread(pieces(-1e-3, 0.0, 1e-3))
    assert study.spread.standard_deviation_rad == pytest.approx(1e-3, rel=FLOAT)
    assert study.spread.degrees_of_freedom == 2
    assert study.least_rad == pytest.approx(1e-3 * math.sqrt(2 / (-2 * math.log(0.025))), rel=1e-9)
    assert study.most_rad == pytest.approx(1e-3 * math.sqrt(2 / (-2 * math.log(0.975))), rel=1e-9)
    assert (study.mean_rad, study.by_chance) == (0.0, 0.0)


def test_measuring_and_form_are_taken_off_in_squares() -> None:
    """Seen 5, measuring 3, form sqrt(7): 25 - 9 - 7 = 9 leaves 3; by chance exp(-25/16) on 2 dof (closed form)."""
    study = study_spread(pieces(-5e-4, 0.0, 5e-4, measured_rad=3e-4, form_rad=math.sqrt(7) * 1e-4))
    assert study.seen_rad == pytest.approx(5e-4, rel=FLOAT)
    assert study.spread.standard_deviation_rad == pytest.approx(3e-4, rel=1e-9)
    assert study.by_chance == pytest.approx(math.exp(-25 / 16), rel=1e-9)


def test_never_below_nothing() -> None:
    """Pieces that differ less than they were measured leave no spread, but an upper limit where one is left."""
    study = study_spread(pieces(-1e-4, 0.0, 1e-4, measured_rad=3e-4))
    assert study.spread.standard_deviation_rad == 0.0
    assert study.least_rad == 0.0
    assert study.most_rad > 0.0


def test_order_and_setting_change_nothing() -> None:
    """Any order, any common angle: the same spread."""
    one = study_spread(pieces(1e-3, 3e-3, 2e-3, 7e-3))
    other = study_spread(pieces(0.5 + 7e-3, 0.5 + 2e-3, 0.5 + 1e-3, 0.5 + 3e-3))
    assert other.spread.standard_deviation_rad == pytest.approx(one.spread.standard_deviation_rad, rel=1e-9)


def test_the_limits_hold_the_truth_as_often_as_they_say() -> None:
    """600 seeded series of 5 pieces with known measuring scatter: limits hold the cut's spread in 95 % of them."""
    random = np.random.default_rng(11)
    cut, measured = 2e-4, 1e-4
    held = 0
    for values in random.normal(0.0, math.hypot(cut, measured), (SERIES, 5)):
        study = study_spread(pieces(*values.tolist(), measured_rad=measured))
        held += study.least_rad <= cut <= study.most_rad
    assert COVERAGE[0] <= held / SERIES <= COVERAGE[1]


@pytest.mark.parametrize("values", [(0.0, 0.0), (0.0, 0.0, 0.1)])
def test_too_few_and_too_far_apart(values: tuple[float, ...]) -> None:
    """Two pieces, and pieces over 1 deg apart, are refused with the cautions of a new cut."""
    with pytest.raises(InputError) as refused:
        study_spread(pieces(*values))
    assert refused.value.at_the_saw
