"""Which leaves make up the move: only leaves that the person has, each used once."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from cutvision.errors import InputError
from cutvision.uncertainty import rectangular
from cutvision.units import MM_PER_INCH

SetName = Literal["metric-13", "metric-20", "inch-26"]
MOST_LEAVES = 3
MANY_LEAVES = 5
LONGEST_LIST = 40
# Judged: what is thicker is no leaf or packing of a fence but a wrong unit.
THICKEST_MM = 25.4
_NM_PER_MM = 1_000_000


@dataclass(frozen=True, slots=True)
class Leaf:
    """One leaf: its thickness in mm, and as it is marked."""

    thickness_mm: float
    mark: str

    @property
    def thickness_nm(self) -> int:
        """In whole nanometres, so that sums of leaves compare exactly."""
        return round(self.thickness_mm * _NM_PER_MM)


@dataclass(frozen=True, slots=True)
class LeafSet:
    """The leaves at hand. source: where the list comes from, in words."""

    name: str
    leaves: tuple[Leaf, ...]
    source: str


@dataclass(frozen=True, slots=True)
class LeafChoice:
    """Whose leaves, at most how many together, and how true each is (mm, a half-width; None when nobody said).

    Raises InputError for a count below 1 or above 5, and when a leaf is said to be no truer than it is thick.
    """

    leaf_set: LeafSet
    most_leaves: int = MOST_LEAVES
    leaf_to_mm: float | None = None

    def __post_init__(self) -> None:
        if not 1 <= self.most_leaves <= MANY_LEAVES:
            raise InputError(
                f"A stack of at most {self.most_leaves} shims is none that holds still.", f"Give 1 to {MANY_LEAVES}."
            )
        thinnest = min(self.leaf_set.leaves, key=lambda leaf: leaf.thickness_nm)
        if self.leaf_to_mm is not None and not 0 <= self.leaf_to_mm < thinnest.thickness_mm:
            raise InputError(
                f"Each shim is said to be true to {self.leaf_to_mm:g} mm, and the thinnest is marked {thinnest.mark}.",
                "Give what a leaf may be off by, such as 0.005mm.",
            )

    def bound_mm(self, stack: FeelerStack) -> float | None:
        """Expanded uncertainty (k = 2) of a stack's thickness: independent leaves, each rectangular within its limit.

        Source: JCGM 100:2008, 4.3.7 and 5.1.2. None when nobody said how true the leaves are.
        """
        if self.leaf_to_mm is None:
            return None
        return 2.0 * math.sqrt(len(stack.leaves)) * rectangular(self.leaf_to_mm)


@dataclass(frozen=True, slots=True)
class FeelerStack:
    """Leaves laid together, the thickest first; no leaf at all is a stack too. wanted_mm: the move they are for."""

    leaves: tuple[Leaf, ...]
    wanted_mm: float

    @property
    def total_mm(self) -> float:
        return sum(leaf.thickness_nm for leaf in self.leaves) / _NM_PER_MM

    @property
    def short_mm(self) -> float:
        """What the stack leaves of the move; negative when it goes past it."""
        return self.wanted_mm - self.total_mm

    def angle_left_rad(self, lever_mm: float) -> float:
        """The fence's error after the stack was set, with the sign of `short_mm`: atan(wanted/F) - atan(total/F)."""
        return math.atan(self.wanted_mm / lever_mm) - math.atan(self.total_mm / lever_mm)


@dataclass(frozen=True, slots=True)
class StackAdvice:
    """The best stack for a move and the next best, which has other leaves; None when there is no other."""

    choice: LeafChoice
    best: FeelerStack
    next_best: FeelerStack | None


def _marked(unit: Literal["mm", "in"], sizes: Sequence[str]) -> tuple[Leaf, ...]:
    return tuple(Leaf(float(size) * (25.4 if unit == "in" else 1.0), f"{size} {unit}") for size in sizes)


_COMMON = "a common set, from memory, no standard read: compare it with yours"
_METRIC_13 = ("0.05", "0.10", "0.15", "0.20", "0.25", "0.30", "0.40", "0.50", "0.60", "0.70", "0.80", "0.90", "1.00")
_INCH_26 = ("0.0015", "0.002", "0.0025", "0.003", *(f"{thousandths / 1000:.3f}" for thousandths in range(4, 26)))
LEAF_SETS: Mapping[SetName, LeafSet] = MappingProxyType(
    {
        "metric-13": LeafSet("metric-13", _marked("mm", _METRIC_13), _COMMON),
        "metric-20": LeafSet("metric-20", _marked("mm", [f"{n * 0.05:.2f}" for n in range(1, 21)]), _COMMON),
        "inch-26": LeafSet("inch-26", _marked("in", _INCH_26), _COMMON),
    }
)


def own_leaves(leaves: Sequence[tuple[float, str]]) -> LeafSet:
    """A person's own leaves, thickness in mm and mark; measured paper or foil may be among them.

    Raises InputError for none, for more than 40, for a thickness that is not positive, and for one over an inch.
    """
    if not 1 <= len(leaves) <= LONGEST_LIST:
        raise InputError(
            f"A list of {len(leaves)} shims cannot be searched.", f"Give 1 to {LONGEST_LIST}, each once for each shim."
        )
    for thickness_mm, mark in leaves:
        if not (math.isfinite(thickness_mm) and thickness_mm > 0):
            raise InputError(f"The shim '{mark}' has no thickness.", "Give the thickness that is marked on it.")
        if thickness_mm > THICKEST_MM:
            raise InputError(
                f"A shim of '{mark}' is thicker than {THICKEST_MM:g} mm ({THICKEST_MM / MM_PER_INCH:g} in).",
                "Is the unit right? Give the thickness that is marked on the leaf.",
            )
    return LeafSet("your own", tuple(Leaf(thickness_mm, mark) for thickness_mm, mark in leaves), "as you listed them")


def find_stack(wanted_mm: float, choice: LeafChoice) -> StackAdvice:
    """The stack of at most so many leaves that comes nearest to the move (mm, not negative).

    Of equally near ones the fewest leaves are taken; then a stack that falls short, since it can be added to; then the
    one with the thickest leaf.
    """
    wanted_nm = round(wanted_mm * _NM_PER_MM)

    def rank(leaves: tuple[Leaf, ...]) -> tuple[int, int, bool, tuple[int, ...]]:
        left = wanted_nm - sum(leaf.thickness_nm for leaf in leaves)
        return abs(left), len(leaves), left < 0, tuple(-leaf.thickness_nm for leaf in leaves)

    ranked = sorted(_stacks(choice.leaf_set.leaves, choice.most_leaves), key=rank)
    best = ranked[0]
    other = next((leaves for leaves in ranked if _sizes(leaves) != _sizes(best)), None)
    return StackAdvice(choice, FeelerStack(best, wanted_mm), None if other is None else FeelerStack(other, wanted_mm))


def _stacks(leaves: Sequence[Leaf], most_leaves: int) -> Iterator[tuple[Leaf, ...]]:
    thickest_first = sorted(leaves, key=lambda leaf: -leaf.thickness_nm)
    for count in range(most_leaves + 1):
        yield from itertools.combinations(thickest_first, count)


def _sizes(leaves: Sequence[Leaf]) -> tuple[int, ...]:
    return tuple(leaf.thickness_nm for leaf in leaves)
