"""What is refused of an edge that was followed."""

from __future__ import annotations

import numpy as np
import pytest

from cutvision.imaging.offcut import _longest_run


@pytest.mark.parametrize(
    ("flags", "longest"),
    [("", 0), ("000", 0), ("111", 3), ("0110111", 3), ("1110110", 3), ("10101", 1)],
)
def test_the_longest_run(flags: str, longest: int) -> None:
    """Counted by hand; at either end, in the middle, and none."""
    assert _longest_run(np.array([flag == "1" for flag in flags], dtype=bool)) == longest
