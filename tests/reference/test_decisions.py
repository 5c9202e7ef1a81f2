"""Decisions against a tolerance: outside values, each with its document and clause."""

from __future__ import annotations

import math

import pytest
from scipy import integrate, stats

from cutvision.correction import decide, probability_between
from cutvision.uncertainty import Influence, Quantity


def measured(value: float, u: float, freedom: float = math.inf) -> Quantity:
    """A value with a standard uncertainty."""
    return Quantity(value, "1", {Influence("all", "all", degrees_of_freedom=freedom): u})


@pytest.mark.parametrize(
    ("value", "u", "lower", "upper", "printed", "finer"),
    [
        (-5.47, 0.05, -math.inf, -5.40, 0.92, 0.91924),
        (509.7, 8.6, 490.0, math.inf, 0.99, 0.98901),
        (13.6, 1.8, 12.5, 16.3, 0.66, 0.66263),
    ],
)
def test_conformance_probability(
    value: float, u: float, lower: float, upper: float, printed: float, finer: float
) -> None:
    """JCGM 106:2012, clause 7 examples, one-sided below and above and two-sided (from memory); the last column closed.

    Rounding of a printed figure: half of its last digit.
    """
    found = probability_between(measured(value, u), lower, upper)
    assert found == pytest.approx(printed, abs=5e-3)
    assert found == pytest.approx(finer, abs=5e-6)


@pytest.mark.parametrize(("pc", "z"), [(0.80, 0.84), (0.90, 1.28), (0.95, 1.64), (0.99, 2.33), (0.999, 3.09)])
def test_the_table_of_probabilities(pc: float, z: float) -> None:
    """JCGM 106:2012, Table 1: the distance from one limit in standard uncertainties (from memory; closed form)."""
    slope = float(stats.norm.pdf(z))
    assert probability_between(measured(0.0, 1.0), -math.inf, z) == pytest.approx(pc, abs=0.005 * slope + 1e-9)


@pytest.mark.parametrize(("band", "risk"), [(0.0, 0.5), (1.0, 0.1587), (1.645, 0.0500), (2.0, 0.02275), (3.0, 0.00135)])
def test_the_risk_at_a_guarded_limit(band: float, risk: float) -> None:
    """A result at the acceptance limit, w = 0, u, 1.645 u, 2 u, 3 u inside the tolerance's (closed form)."""
    assert 1 - probability_between(measured(-band, 1.0), -math.inf, 0.0) == pytest.approx(risk, abs=5e-5)


def test_few_readings_make_the_same_band_much_less_safe() -> None:
    """w = 4.5 u: risk 3.4e-6 when u is known, 5.41e-3 with 4 degrees of freedom, where 1 % needs 3.747 u (closed)."""
    assert 1 - probability_between(measured(-4.5, 1.0), -math.inf, 0.0) == pytest.approx(3.4e-6, rel=0.01)
    assert 1 - probability_between(measured(-4.5, 1.0, 4), -math.inf, 0.0) == pytest.approx(5.41e-3, abs=5e-6)
    assert 1 - probability_between(measured(-3.747, 1.0, 4), -math.inf, 0.0) == pytest.approx(0.01, abs=5e-6)


@pytest.mark.parametrize(("error_deg", "probability"), [(0.040, 0.84134), (0.030, 0.97725), (0.080, 0.00135)])
def test_the_odds_beside_three_errors(error_deg: float, probability: float) -> None:
    """Tolerance 0.05 deg, u 0.010: the probability of lying within it (closed form)."""
    error = Quantity(math.radians(error_deg), "rad", {Influence("all", "all"): math.radians(0.010)})
    assert decide(error, math.radians(0.05)).probability_within == pytest.approx(probability, abs=5e-6)


@pytest.mark.parametrize(("accept", "consumer", "producer"), [(0.18, 0.00988, 0.06903), (0.20, 0.01894, 0.03721)])
def test_risks_over_a_process(accept: float, consumer: float, producer: float) -> None:
    """JCGM 106:2012, clause 9: process N(1500, 0.12), tolerance +-0.2, u 0.04, accepted within +-0.18: 1 % and 7 %.

    The printed per cents from memory, the finer figures and those without a guard band recomputed; the probability of a
    reading within the acceptance limits, given the true value, integrated over the process.
    """

    def accepted(true: float) -> float:
        return probability_between(measured(true, 0.04), -accept, accept)

    def over(lower: float, upper: float, *, taken: bool) -> float:
        def density(true: float) -> float:
            yes = accepted(true)
            return float(stats.norm.pdf(true, scale=0.12)) * (yes if taken else 1 - yes)

        return float(integrate.quad(density, lower, upper, epsabs=1e-9)[0])

    assert over(-1.2, -0.2, taken=True) + over(0.2, 1.2, taken=True) == pytest.approx(consumer, abs=5e-6)
    assert over(-0.2, 0.2, taken=False) == pytest.approx(producer, abs=5e-6)
    assert probability_between(measured(0.0, 0.12), -0.2, 0.2) == pytest.approx(0.904, abs=5e-4)
