"""What would tell, when a piece cannot: each remedy's effect on the budget, and the bound after it, worked out.

A remedy is judged by the influences on the error and the rows they stand in: more readings divide what reading adds, a
longer edge shortens what its form, the tips and the readings turn, and so on. The present value is taken to stay.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from cutvision.correction.cut_spread import NAME as SPREAD
from cutvision.uncertainty import Influence, Quantity
from cutvision.units import format_number

KEPT_SIDE = "say the kept side"
MOST_READINGS = 10
MOST_PIECES = 10
MOST_PHOTOS = 4
# A remedy that lowers the bound by less is not worth the walk.
LEAST_GAIN = 0.02
# Standard uncertainty of an angle from two turned photos: half the median bound stated for photos of a turned piece in
# the set of rendered photos.
TURNED_PHOTOS_RAD = math.radians(0.011)
MOST_TOGETHER = 3
LONGER = (1.5, 2.0, 3.0)
BETTER = (2.0, 3.0, 5.0)

_BY_HAND = frozenset({"reading", "protractor"})
_DISTANCES = frozenset({"distance between readings", "length beside the gap", "length of the joint"})
# What differs from piece to piece, or is read anew on each.
_OF_THE_PIECE = _BY_HAND | {
    SPREAD,
    "edge form",
    "broken tips",
    "gap",
    "angle of the piece",
    "edge points",
    "photo to photo",
}
_OF_THE_PHOTO = frozenset({"edge points", "pixel and tone residual", "photo to photo"})
# What a length read in error turns the less, the longer the edge.
_BY_LENGTH = _BY_HAND | _DISTANCES | {"caliper", "broken tips", "gap", "pixel and tone residual"}

Change = Callable[[Influence, float], tuple[Influence, float]]


@dataclass(frozen=True, slots=True)
class Remedy:
    """Something that lessens the bound.

    name: short and stable. sentence: what to do and what it brings, with its figures. bound_after_rad: the error's
    expanded uncertainty then. settles: whether the decision then comes out either way, with the present value.
    """

    name: str
    sentence: str
    bound_after_rad: float
    settles: bool


@dataclass(frozen=True, slots=True)
class Advice:
    """remedies: that lessen the bound, in order of cost, each by itself; the last may be several together.

    first: the kept side where it matters, as saying it costs nothing; else the cheapest that settles it, else what gets
    farthest; None when nothing lessens the bound.
    """

    remedies: tuple[Remedy, ...]
    first: Remedy | None


@dataclass(frozen=True, slots=True)
class _Level:
    """One size of a remedy: what to do, as the start of a sentence in small letters, and its effect."""

    words: str
    apply: Callable[[Quantity], Quantity]


@dataclass(frozen=True, slots=True)
class _Way:
    name: str
    levels: tuple[_Level, ...]


def advise(error: Quantity, settled: Callable[[Quantity], bool], pieces: int = 1) -> Advice:
    """Each remedy that the error's influences allow, in order of cost, at the least size that settles the decision.

    error: rad. settled: whether the decision comes out either way for an error. pieces: over how many pieces the error
    is a mean already. When none settles it alone, two or three are taken together.
    """
    remedies, helpful = [], []
    for way in _ways(error, pieces):
        level = next((one for one in way.levels if settled(one.apply(error))), way.levels[-1])
        after = level.apply(error)
        if after.expanded_uncertainty > (1 - LEAST_GAIN) * error.expanded_uncertainty:
            continue
        helpful.append(way)
        remedies.append(_told(way.name, [level], error, settled))
    first = next((one for one in remedies if one.settles or one.name == KEPT_SIDE), None)
    if first is None and len(helpful) > 1:
        first = _together(helpful, error, settled)
        remedies.append(first)
    return Advice(tuple(remedies), first or (remedies[0] if remedies else None))


def _together(ways: Sequence[_Way], error: Quantity, settled: Callable[[Quantity], bool]) -> Remedy:
    """The cheapest two or three ways that together settle it, each no larger than needed; else what gets farthest."""
    groups = [group for size in (2, MOST_TOGETHER) for group in combinations(range(len(ways)), size)]
    groups.sort(key=lambda group: (len(group), sum(group)))
    largest = {group: [ways[index].levels[-1] for index in group] for group in groups}
    bounds = {group: _after(levels, error).expanded_uncertainty for group, levels in largest.items()}
    group = next((one for one in groups if settled(_after(largest[one], error))), None)
    if group is None:
        group = min(groups, key=lambda one: bounds[one])
        limit_rad = (1 + LEAST_GAIN) * bounds[group]
        return _told(
            "together", _least(group, ways, error, lambda q: q.expanded_uncertainty <= limit_rad), error, settled
        )
    return _told("together", _least(group, ways, error, settled), error, settled)


def _least(
    group: Sequence[int], ways: Sequence[_Way], error: Quantity, enough: Callable[[Quantity], bool]
) -> list[_Level]:
    """Of each way in the group the least level that still is enough, the dearest lessened first."""
    chosen = [ways[index].levels[-1] for index in group]
    for place in reversed(range(len(group))):
        trials = ([*chosen[:place], level, *chosen[place + 1 :]] for level in ways[group[place]].levels)
        # The last level is the one chosen already, which is enough.
        chosen = next(trial for trial in trials if enough(_after(trial, error)))
    return chosen


def _after(levels: Iterable[_Level], error: Quantity) -> Quantity:
    for level in levels:
        error = level.apply(error)
    return error


def _told(name: str, levels: Sequence[_Level], error: Quantity, settled: Callable[[Quantity], bool]) -> Remedy:
    after = _after(levels, error)
    what = "; ".join(level.words for level in levels)
    before_deg, after_deg = math.degrees(error.expanded_uncertainty), math.degrees(after.expanded_uncertainty)
    falls = (
        f"the bound falls from {format_number(before_deg, after_deg)} to {format_number(after_deg, after_deg)} deg "
        f"({format_number(60 * before_deg, 60 * after_deg)} to {format_number(60 * after_deg, 60 * after_deg)}')"
    )
    return Remedy(name, f"{what[0].upper()}{what[1:]}: {falls}.", after.expanded_uncertainty, settled(after))


def _ways(error: Quantity, pieces: int) -> tuple[_Way, ...]:
    """What these influences allow, the cheapest first."""
    rows, keys = {i.name for i in error.components}, {i.key for i in error.components}
    frame, by_photo = "closed joints" in rows, any("/photo " in key for key in keys)
    sawn = bool(rows & {"edge form", SPREAD})
    ways: list[_Way] = []
    if "corner/either leg" in keys and by_photo:
        ways.append(_Way(KEPT_SIDE, (_Level("say --kept left or --kept right", _without({"corner"})),)))
    if rows & _BY_HAND:
        ways.append(_readings(error))
    unhelpful = {"caliper", "corner"} if by_photo else {"caliper"}
    ways += [_better(name, row, words) for name, row, words in _KNOWN_BETTER if row in rows and name not in unhelpful]
    if by_photo:
        ways.append(_photos(keys))
    if "broken tips" in rows:
        words = "photograph the piece twice, turned by a quarter turn between, and say --kept"
        ways.append(_Way("photos", (_Level(words, _by_photos),)))
    if sawn and not frame:
        fits = LONGER[:2] if by_photo else LONGER
        words = "cut a test piece whose edges are {} as long" + (", on a larger sheet if need be" if by_photo else "")
        ways += [_pieces(pieces, counted=SPREAD in rows), _longer(words, rows, fits)]
    elif "length beside the gap" in rows:
        ways.append(_longer("read the gap {} as far from where the edges touch", rows, LONGER))
    ways += [_better(name, row, words) for name, row, words in _KNOWN_BETTER if row in rows and name == "caliper"]
    return tuple(ways)


_KNOWN_BETTER = (
    ("tips", "broken tips", "see under a glass how much the tips have lost, {} as closely as assumed, and say --tips"),
    ("angle", "angle of the piece", "measure the piece's angle {} as well"),
    ("corner", "corner", "measure the test piece's corner {} as well and say --corner and --corner-to"),
    ("joints", "closed joints", "clamp the other joints {} as tightly shut and say --shut-to"),
    ("gap", "gap", "read the gap {} as well, with finer leaves, and say --gap-to"),
    ("distance", "distance between readings", "measure the distance between the readings {} as well"),
    ("square", "square's own angle", "use a square {} as true, or draw along yours, turn it over and draw again"),
    ("caliper", "caliper", "use a caliper {} as true"),
)


def _readings(error: Quantity) -> _Way:
    """n readings divide what one adds by sqrt(n), with n - 1 degrees of freedom. Source: JCGM 100:2008, 4.2.3.

    The step of a display stays as it is.
    """
    now = max(_times_read(i) for i in error.components if _is_by_hand(i))

    def of(n: int) -> Change:
        def change(influence: Influence, part: float) -> tuple[Influence, float]:
            if not _is_by_hand(influence):
                return influence, part
            return replace(influence, kind="A", degrees_of_freedom=n - 1.0), part * math.sqrt(
                _times_read(influence) / n
            )

        return change

    most = max(MOST_READINGS, now + 1)
    return _Way(
        "readings",
        tuple(
            _Level(f"read each place {n} times and go by the means", _each(of(n)))
            for n in range(max(2, now + 1), most + 1)
        ),
    )


def _is_by_hand(influence: Influence) -> bool:
    return influence.name in _BY_HAND and not influence.key.startswith("step/")


def _times_read(influence: Influence) -> int:
    known = influence.kind == "A" and math.isfinite(influence.degrees_of_freedom)
    return round(influence.degrees_of_freedom) + 1 if known else 1


def _better(name: str, row: str, words: str) -> _Way:
    """What stands in one row, known so many times as well."""
    return _Way(name, tuple(_Level(words.format(_times(f)), _scaled({row}, 1 / f)) for f in BETTER))


def _photos(keys: Iterable[str]) -> _Way:
    """A turned photo takes the print's stretch away (reversal), and divides what is each photo's own by their count."""
    now = len({key.rsplit("/photo ", 1)[1] for key in keys if "/photo " in key})
    levels = []
    for more in range(1, max(MOST_PHOTOS - now, 1) + 1):
        words = (
            "take one more photo, the piece turned by a quarter turn on the same sheet"
            if more == 1
            else f"take {more} more photos, the piece turned and moved on the same sheet between them"
        )
        share = _scaled(_OF_THE_PHOTO, math.sqrt(now / (now + more)))
        levels.append(_Level(words, _all_of(_without({"print stretch"}), share)))
    return _Way("turned photo", tuple(levels))


def _by_photos(error: Quantity) -> Quantity:
    """A photo needs neither jaws nor tips, nor with the kept side the corner; the roughness of the edges stays."""
    rest = _without(_BY_HAND | {"broken tips", "caliper", "corner"})(error)
    source = "median bound stated for photos of a turned piece"
    return rest.with_influence(Influence("photos", "photos", source=source), TURNED_PHOTOS_RAD)


def _pieces(now: int, *, counted: bool) -> _Way:
    """The mean of k pieces divides by sqrt(k) what differs from piece to piece. Source: JCGM 100:2008, 4.2.3."""

    def of(total: int) -> Change:
        def change(influence: Influence, part: float) -> tuple[Influence, float]:
            if influence.name not in _OF_THE_PIECE:
                return influence, part
            freedom = influence.degrees_of_freedom * (1 if influence.name == SPREAD else total / now)
            return replace(influence, degrees_of_freedom=freedom), part * math.sqrt(now / total)

        return change

    repeats = "" if counted else ", if the cut repeats (how it spreads is not known)"
    levels = []
    for total in range(now + 1, max(MOST_PIECES, now + 1) + 1):
        one_more = total == now + 1
        more = "one more piece" if one_more else f"{total - now} more pieces"
        all_of_them = "both" if one_more and now == 1 else f"all {total}"
        words = f"cut {more} at this setting and go by the mean of {all_of_them}{repeats}"
        levels.append(_Level(words, _each(of(total))))
    return _Way("pieces", tuple(levels))


def _longer(words: str, rows: set[str], factors: Sequence[float]) -> _Way:
    """An edge f times as long: what is read at its ends turns it by 1 / f, its roughness by f^-1.5.

    Where only spots of the edge are touched, its roughness goes by 1 / f too. Source: closed form, see `EdgeForm`.
    """
    spots = bool(rows & _DISTANCES)
    levels = []
    for f in factors:
        by_length, by_form = _scaled(_BY_LENGTH, 1 / f), _scaled({"edge form"}, 1 / f if spots else f**-1.5)
        of_edge = _scaled({"edge points"}, f**-1.5)
        levels.append(_Level(words.format(_times(f)), _all_of(by_length, by_form, of_edge)))
    return _Way("longer edge", tuple(levels))


def _all_of(*changes: Callable[[Quantity], Quantity]) -> Callable[[Quantity], Quantity]:
    def apply(error: Quantity) -> Quantity:
        for change in changes:
            error = change(error)
        return error

    return apply


def _each(change: Change) -> Callable[[Quantity], Quantity]:
    def apply(error: Quantity) -> Quantity:
        return Quantity(error.value, error.unit, dict(change(i, part) for i, part in error.components.items()))

    return apply


def _scaled(names: Iterable[str], factor: float) -> Callable[[Quantity], Quantity]:
    among = frozenset(names)
    return _each(lambda influence, part: (influence, part * factor if influence.name in among else part))


def _without(names: Iterable[str]) -> Callable[[Quantity], Quantity]:
    return _scaled(names, 0.0)


def _times(factor: float) -> str:
    return "twice" if factor == 2 else f"{factor:g} times"
