"""What would tell, when these readings cannot: what a shop would do, and what it brings, worked out.

A remedy is judged by the influences on the error and the rows they stand in: more readings divide what reading adds, a
longer edge shortens what its roughness, the tips and the readings turn, and so on. The present value is taken to stay.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

from cutvision.correction.cut_spread import NAME as SPREAD
from cutvision.uncertainty import Influence, Quantity, rectangular
from cutvision.units import format_bound

KEPT_SIDE = "say the kept side"
# More than this nobody does for one answer.
MOST_READINGS = 5
MOST_PIECES = 5
MOST_PHOTOS = 4
# A remedy that narrows the uncertainty by less is not worth the walk.
LEAST_GAIN = 0.02
# Standard uncertainty of an angle from two photos with the piece turned: half the median bound stated for such photos
# in the set of rendered photos.
TURNED_PHOTOS_RAD = math.radians(0.011)
# A line drawn along a square's arm, the square turned over and the line drawn again: two pencil lines 300 mm long can
# be seen to part by 0.1 mm, which is twice the square's own error (common practice, no source).
SQUARE_TURNED_OVER_RAD = math.atan(0.1 / 300) / 2
LONGER = {1.5: "half as long again", 2.0: "twice as long", 3.0: "three times as long"}

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
    """Something that narrows the uncertainty.

    name: short and stable. what: what to do, as an imperative without a full stop. bound_before_rad, bound_after_rad:
    the error's 95 % uncertainty now and then. settles: whether it then can be told whether to move, the error staying.
    """

    name: str
    what: str
    bound_before_rad: float
    bound_after_rad: float
    settles: bool

    @property
    def sentence(self) -> str:
        """What to do and what it brings."""
        before, after = (format_bound(math.degrees(one)) for one in (self.bound_before_rad, self.bound_after_rad))
        return f"{self.what}: the uncertainty falls from ±{before} to ±{after} deg."


@dataclass(frozen=True, slots=True)
class _Level:
    """One size of a remedy: what to do, and its effect."""

    words: str
    apply: Callable[[Quantity], Quantity]


@dataclass(frozen=True, slots=True)
class _Way:
    name: str
    levels: tuple[_Level, ...]


def advise(error: Quantity, settled: Callable[[Quantity], bool], pieces: int = 1) -> tuple[Remedy, ...]:
    """Each remedy that the error's influences allow, in order of cost, at the least size that settles the decision.

    error: rad. settled: whether it can be told what to do with an error. pieces: over how many pieces the error is a
    mean already.
    """
    remedies = []
    for way in _ways(error, pieces):
        level = next((one for one in way.levels if settled(one.apply(error))), way.levels[-1])
        after = level.apply(error)
        if after.expanded_uncertainty <= (1 - LEAST_GAIN) * error.expanded_uncertainty:
            remedies.append(_remedy(way.name, level.words, error, after, settles=settled(after)))
    return tuple(remedies)


def kept_side(error: Quantity) -> Remedy:
    """The kept side, which leaves the corner out; the error found changes with it, so nothing is settled before."""
    return _remedy(
        KEPT_SIDE,
        "Say on which side of the blade the work was kept, left or right",
        error,
        _without({"corner"})(error),
        settles=False,
    )


def _remedy(name: str, words: str, error: Quantity, after: Quantity, *, settles: bool) -> Remedy:
    return Remedy(name, words, error.expanded_uncertainty, after.expanded_uncertainty, settles)


def _ways(error: Quantity, pieces: int) -> tuple[_Way, ...]:
    """What these influences allow, the cheapest first."""
    rows, keys = {i.name for i in error.components}, {i.key for i in error.components}
    by_photo = any("/photo " in key for key in keys)
    ways: list[_Way] = []
    if rows & _BY_HAND:
        ways.append(_readings(error))
    if "length beside the gap" in rows:
        farther = {factor: named.replace("long", "far") for factor, named in LONGER.items()}
        ways.append(_longer("Read the gap {} from where the edges touch", farther, rows))
    if "broken tips" in rows:
        words = "Look at both tips through a magnifier; if they are whole, say --tips with half the length assumed"
        ways.append(_Way("tips", (_Level(words, _scaled({"broken tips"}, 0.5)),)))
    if "square's own angle" in rows:
        words = "Check your square: draw a line along it, turn it over, draw again; say --square-to with what you find"
        ways.append(_Way("square", (_Level(words, _square_turned_over),)))
    if by_photo:
        ways.append(_photos(keys))
    if "broken tips" in rows:
        words = "Photograph the piece twice, turned a quarter turn between, instead of reading its legs"
        ways.append(_Way("photos", (_Level(words, _by_photos),)))
    if rows & {"edge form", SPREAD} and "closed joints" not in rows:
        ways.append(_pieces(pieces, counted=SPREAD in rows))
        larger = " (on a larger sheet if need be)" if by_photo else ""
        ways.append(_longer(f"Cut a test piece {{}}{larger}", LONGER, rows))
    return tuple(ways)


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
            _Level(f"Read each place {'twice' if n == 2 else f'{n} times'} and use the mean", _each(of(n)))
            for n in range(max(2, now + 1), most + 1)
        ),
    )


def _is_by_hand(influence: Influence) -> bool:
    return influence.name in _BY_HAND and not influence.key.startswith("step/")


def _times_read(influence: Influence) -> int:
    known = influence.kind == "A" and math.isfinite(influence.degrees_of_freedom)
    return round(influence.degrees_of_freedom) + 1 if known else 1


def _photos(keys: Iterable[str]) -> _Way:
    """A turned photo takes the print's stretch away (reversal), and divides what is each photo's own by their count."""
    now = len({key.rsplit("/photo ", 1)[1] for key in keys if "/photo " in key})
    levels = []
    for more in range(1, max(MOST_PHOTOS - now, 1) + 1):
        words = (
            "Take one more photo with the piece turned a quarter turn on the same sheet"
            if more == 1
            else f"Take {more} more photos, the piece turned and moved on the same sheet between them"
        )
        share = _scaled(_OF_THE_PHOTO, math.sqrt(now / (now + more)))
        levels.append(_Level(words, _all_of(_without({"print stretch"}), share)))
    return _Way("turned photo", tuple(levels))


def _by_photos(error: Quantity) -> Quantity:
    """A photo needs neither jaws nor tips, nor with the kept side the corner; the roughness of the edges stays."""
    rest = _without(_BY_HAND | {"broken tips", "caliper", "corner"})(error)
    source = "median bound stated for photos of a turned piece"
    return rest.with_influence(Influence("photos", "photos", source=source), TURNED_PHOTOS_RAD)


def _square_turned_over(error: Quantity) -> Quantity:
    """The square's own angle known from turning it over, when that is better."""
    known = rectangular(SQUARE_TURNED_OVER_RAD)
    return _each(
        lambda influence, part: (
            influence,
            math.copysign(min(abs(part), known), part) if influence.name == "square's own angle" else part,
        )
    )(error)


def _pieces(now: int, *, counted: bool) -> _Way:
    """The mean of k pieces divides by sqrt(k) what differs from piece to piece. Source: JCGM 100:2008, 4.2.3."""

    def of(total: int) -> Change:
        def change(influence: Influence, part: float) -> tuple[Influence, float]:
            if influence.name not in _OF_THE_PIECE:
                return influence, part
            freedom = influence.degrees_of_freedom * (1 if influence.name == SPREAD else total / now)
            return replace(influence, degrees_of_freedom=freedom), part * math.sqrt(now / total)

        return change

    repeats = "" if counted else ", if the cut repeats (how well it does is not known)"
    levels = []
    for total in range(now + 1, max(MOST_PIECES, now + 1) + 1):
        one_more = total == now + 1
        more = "one more piece" if one_more else f"{total - now} more pieces"
        all_of_them = "both" if one_more and now == 1 else f"all {total}"
        words = f"Cut {more} at this setting and use the mean of {all_of_them}{repeats}"
        levels.append(_Level(words, _each(of(total))))
    return _Way("pieces", tuple(levels))


def _longer(words: str, factors: Mapping[float, str], rows: set[str]) -> _Way:
    """An edge f times as long: what is read at its ends turns it by 1 / f, its roughness by f^-1.5.

    Where only spots of the edge are touched, its roughness goes by 1 / f too. Source: closed form, see `EdgeForm`.
    """
    spots = bool(rows & _DISTANCES)
    levels = []
    for f, named in factors.items():
        by_length, by_form = _scaled(_BY_LENGTH, 1 / f), _scaled({"edge form"}, 1 / f if spots else f**-1.5)
        of_edge = _scaled({"edge points"}, f**-1.5)
        levels.append(_Level(words.format(named), _all_of(by_length, by_form, of_edge)))
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
