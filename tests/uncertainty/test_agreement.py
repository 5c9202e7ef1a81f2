"""E_n against the published definition, and what covariance does to it."""

from __future__ import annotations

import math

import pytest

from cutvision.uncertainty import Influence, Quantity
from cutvision.uncertainty.agreement import agreement, verdict_of

FLOAT = 1e-12


def of(value: float, **parts: float) -> Quantity:
    """A length with these components, by key."""
    return Quantity(value, "mm", {Influence(key, key): part for key, part in parts.items()})


def test_the_published_formula() -> None:
    """45.031, U 0.009 against 45.018, U 0.012: E_n 0.866667 (ISO/IEC 17043's formula, closed form)."""
    one = agreement(of(45.031, a=0.0045), of(45.018, b=0.006))
    assert one.number == pytest.approx(0.866667, abs=5e-7)
    assert one.verdict == "agree"


@pytest.mark.parametrize(("number", "word"), [(0.0, "agree"), (1.0, "agree"), (1.01, "doubtful"), (1.6, "disagree")])
def test_a_word_for_each_number(number: float, word: str) -> None:
    """Up to 1 agrees, up to 1.5 (a z score of 3, ISO 13528) is doubtful, above disagrees; a limit belongs below."""
    assert verdict_of(number) == word


def test_what_both_share_is_taken_out() -> None:
    """A common influence of 0.1 leaves the difference's own bound as it is: E_n 0.03/sqrt(2 x 0.02^2) (closed form)."""
    first, second = of(10.03, both=0.1, a=0.01), of(10.0, both=0.1, b=0.01)
    assert agreement(first, second).number == pytest.approx(0.03 / math.sqrt(2 * 0.02**2), rel=FLOAT)


def test_exact_values_agree_only_when_equal() -> None:
    """Without any doubt equal values give 0 and others infinity, and mixed units are refused."""
    assert agreement(of(1.0), of(1.0)).number == 0.0
    assert agreement(of(1.0), of(1.1)).number == math.inf
    with pytest.raises(ValueError, match="cannot be added"):
        agreement(of(1.0), Quantity(1.0, "rad"))


def test_few_readings_widen_the_bound() -> None:
    """With 2 degrees of freedom k is 4.30 (JCGM 100:2008, table G.2), so that E_n falls by that over 2."""
    few = Quantity(1.0, "mm", {Influence("few", "few", "A", degrees_of_freedom=2): 0.1})
    assert agreement(few, of(1.43)).number == pytest.approx(0.43 / 0.4303, rel=1e-3)
    assert agreement(of(1.43), few).number == agreement(few, of(1.43)).number
