"""What would tell, when these readings cannot: what a shop would do, and what it brings, worked out.

A remedy is judged by the influences on the error and the rows they stand in: more readings divide what reading adds, a
longer edge shortens what its roughness, the tips and the readings turn, and so on. The present value is taken to stay.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from functools import partial

from cutvision.uncertainty import Influence, Quantity, Row, rectangular, rows
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

# What a photo of the piece does away with.
_OF_THE_CALIPER = (rows.READING, rows.RESOLUTION, rows.PROTRACTOR, rows.CALIPER, rows.TIPS, rows.CORNER)
# Their presence says that the edges are touched in spots, where their roughness turns by 1 / length.
_TOUCHED = frozenset({rows.BETWEEN, rows.BESIDE_GAP, rows.JOINT_LENGTH})

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
        _scaled(lambda row: 0.0 if row is rows.CORNER else 1.0)(error),
        settles=False,
    )


def _remedy(name: str, words: str, error: Quantity, after: Quantity, *, settles: bool) -> Remedy:
    return Remedy(name, words, error.expanded_uncertainty, after.expanded_uncertainty, settles)


def _ways(error: Quantity, pieces: int) -> tuple[_Way, ...]:
    """What these influences allow, the cheapest first."""
    there = {i.row for i in error.components}
    photos = {i.photo for i in error.components if i.photo is not None}
    ways: list[_Way] = []
    if any(row.by_readings for row in there):
        ways.append(_readings(error))
    if rows.BESIDE_GAP in there:
        farther = {factor: named.replace("long", "far") for factor, named in LONGER.items()}
        ways.append(_longer("Read the gap {} from where the edges touch", farther, there))
    if rows.TIPS in there:
        words = "Look at both tips through a magnifier; if they are whole, say --tips with half the length assumed"
        ways.append(_Way("tips", (_Level(words, _scaled(lambda row: 0.5 if row is rows.TIPS else 1.0)),)))
    if rows.SQUARE in there:
        words = "Check your square: draw a line along it, turn it over, draw again; say --square-to with what you find"
        ways.append(_Way("square", (_Level(words, _square_turned_over),)))
    if photos:
        ways.append(_photos(len(photos)))
    if rows.TIPS in there:
        words = "Photograph the piece twice, turned a quarter turn between, instead of reading its legs"
        ways.append(_Way("photos", (_Level(words, _by_photos),)))
    if there & {rows.EDGE_FORM, rows.SPREAD} and rows.CLOSED_JOINTS not in there:
        ways.append(_pieces(pieces, counted=rows.SPREAD in there))
        larger = " (on a larger sheet if need be)" if photos else ""
        ways.append(_longer(f"Cut a test piece {{}}{larger}", LONGER, there))
    return tuple(ways)


def _readings(error: Quantity) -> _Way:
    """n readings divide what one adds by sqrt(n), with n - 1 degrees of freedom. Source: JCGM 100:2008, 4.2.3.

    The step of a display stays as it is.
    """
    now = max(_times_read(i) for i in error.components if i.row.by_readings)

    def of(n: int) -> Change:
        def change(influence: Influence, part: float) -> tuple[Influence, float]:
            if not influence.row.by_readings:
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


def _times_read(influence: Influence) -> int:
    known = influence.kind == "A" and math.isfinite(influence.degrees_of_freedom)
    return round(influence.degrees_of_freedom) + 1 if known else 1


def _photos(now: int) -> _Way:
    """A turned photo takes the print's stretch away (reversal), and divides what is each photo's own by their count."""
    levels = []
    for more in range(1, max(MOST_PHOTOS - now, 1) + 1):
        words = (
            "Take one more photo with the piece turned a quarter turn on the same sheet"
            if more == 1
            else f"Take {more} more photos, the piece turned and moved on the same sheet between them"
        )
        levels.append(_Level(words, _scaled(partial(_in_photos, share=math.sqrt(now / (now + more))))))
    return _Way("turned photo", tuple(levels))


def _in_photos(row: Row, share: float) -> float:
    return 0.0 if row.reversed else share if row.by_photos else 1.0


def _by_photos(error: Quantity) -> Quantity:
    """A photo needs neither jaws nor tips, nor with the kept side the corner; the roughness of the edges stays."""
    rest = _scaled(lambda row: 0.0 if row in _OF_THE_CALIPER else 1.0)(error)
    source = "median bound stated for photos of a turned piece"
    return rest.with_influence(Influence("photos", "photos", source=source), TURNED_PHOTOS_RAD)


def _square_turned_over(error: Quantity) -> Quantity:
    """The square's own angle known from turning it over, when that is better."""
    known = rectangular(SQUARE_TURNED_OVER_RAD)
    return _each(
        lambda influence, part: (
            influence,
            math.copysign(min(abs(part), known), part) if influence.row is rows.SQUARE else part,
        )
    )(error)


def _pieces(now: int, *, counted: bool) -> _Way:
    """The mean of k pieces divides by sqrt(k) what differs from piece to piece. Source: JCGM 100:2008, 4.2.3."""

    def of(total: int) -> Change:
        def change(influence: Influence, part: float) -> tuple[Influence, float]:
            if not influence.row.by_pieces:
                return influence, part
            freedom = influence.degrees_of_freedom * (1 if influence.row is rows.SPREAD else total / now)
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


def _longer(words: str, factors: Mapping[float, str], there: Collection[Row]) -> _Way:
    """An edge f times as long: what is read at its ends turns it by 1 / f, its roughness by f^-1.5.

    Where only spots of the edge are touched, its roughness goes by 1 / f too. Source: closed form, see `EdgeForm`.
    """
    spots = not _TOUCHED.isdisjoint(there)

    def turned(row: Row, factor: float) -> float:
        power = 1.0 if spots and row is rows.EDGE_FORM else row.by_length
        return 1.0 if power == 0 else float(factor**-power)

    levels = [_Level(words.format(named), _scaled(partial(turned, factor=f))) for f, named in factors.items()]
    return _Way("longer edge", tuple(levels))


def _each(change: Change) -> Callable[[Quantity], Quantity]:
    def apply(error: Quantity) -> Quantity:
        return Quantity(error.value, error.unit, dict(change(i, part) for i, part in error.components.items()))

    return apply


def _scaled(share: Callable[[Row], float]) -> Callable[[Quantity], Quantity]:
    """Every influence times what is left of its row."""
    return _each(lambda influence, part: (influence, part * share(influence.row)))
