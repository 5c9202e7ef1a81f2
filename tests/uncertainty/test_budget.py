"""A budget's rows: what they add up to and how they are told apart."""

from __future__ import annotations

import math

import pytest

from cutvision.uncertainty.budget import budget
from cutvision.uncertainty.quantity import Influence, Quantity

ROUNDING = 1e-12


def test_rows_are_grouped_by_name_and_ordered_by_size() -> None:
    """3 and 4 of one name make a row of 5, beside 12 of another: shares 25/169 and 144/169 (closed form)."""
    q = Quantity(
        1.0,
        "mm",
        {
            Influence("a/1", "a", "A", "first"): 3.0,
            Influence("a/2", "a", "B", "second"): -4.0,
            Influence("b", "b", "B", "third"): -12.0,
        },
    )
    rows = budget(q)
    assert [(row.name, row.kind, row.sources) for row in rows] == [
        ("b", "B", ("third",)),
        ("a", "A, B", ("first", "second")),
    ]
    assert [row.contribution for row in rows] == pytest.approx([12.0, 5.0], rel=ROUNDING)
    assert [row.share for row in rows] == pytest.approx([144 / 169, 25 / 169], rel=ROUNDING)
    assert math.hypot(*(row.contribution for row in rows)) == pytest.approx(q.standard_uncertainty, rel=ROUNDING)


def test_a_quantity_without_doubt_has_no_rows() -> None:
    """No influence, no row."""
    assert budget(Quantity(1.0, "mm")) == ()
