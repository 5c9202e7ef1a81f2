"""What differs between a result as it was recorded and the same computed again."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

ROUNDING = 1e-9  # relative: another processor may sum in another order
_NAMES_ONLY = frozenset({"file"})  # a photo is known by its hash; where it lay does not matter


@dataclass(frozen=True, slots=True)
class Difference:
    """One value that differs. where: the keys that lead to it, with points between; None where it is missing."""

    where: str
    recorded: Any
    computed: Any


def differences(
    recorded: Any,
    computed: Any,
    where: str = "",
    copies: Mapping[str, str] = MappingProxyType({}),
    *,
    shared: bool = False,
) -> Iterator[Difference]:
    """Every value that differs by more than rounding, in the order of the result.

    shared: whether only what both hold is compared, for a result that an older program wrote in another form.
    copies: the sha256 of each cleaned copy that stands in for a photo, and the photo's own, which counts as the same.
    """
    if isinstance(recorded, dict) and isinstance(computed, dict):
        for key in dict.fromkeys([*recorded, *computed]):
            missing = key not in recorded or key not in computed
            if key not in _NAMES_ONLY and not (shared and missing):
                inner = f"{where}.{key}" if where else str(key)
                yield from differences(recorded.get(key), computed.get(key), inner, copies, shared=shared)
    elif isinstance(recorded, list) and isinstance(computed, list) and len(recorded) == len(computed):
        for number, (one, other) in enumerate(zip(recorded, computed, strict=True)):
            yield from differences(one, other, f"{where}[{number}]", copies, shared=shared)
    elif shared and (recorded is None or recorded == ""):
        return  # the older form left empty what has a figure now
    elif not _same(recorded, copies.get(computed, computed) if isinstance(computed, str) else computed):
        yield Difference(where, recorded, computed)


def _same(one: Any, other: Any) -> bool:
    numbers = all(isinstance(value, int | float) and not isinstance(value, bool) for value in (one, other))
    if numbers:
        return math.isclose(one, other, rel_tol=ROUNDING, abs_tol=1e-15)
    return type(one) is type(other) and bool(one == other)
