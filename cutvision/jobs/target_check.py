"""What a rule reads on the printed sheet: what the printer did to it, and what that does to an angle and a length."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, ClassVar, Literal

from cutvision.errors import InputError
from cutvision.jobs.photos import SHEET
from cutvision.jobs.said import LENGTH, LENGTHS, Kind, Needs, Say, length
from cutvision.units import parse_lengths

if TYPE_CHECKING:
    from cutvision.target.print_scale import PrintReadings, PrintScale
    from cutvision.target.sheet import Sheet

DAY = Kind("DAY", "2026-11-25", lambda _text, _what: None)
COVERAGE_FACTOR = 2.0
# How many standard deviations of what is ordinary still pass for ordinary.
ORDINARY_TIMES = 2.0
Verdict = Literal["ordinary", "scaled", "uneven"]


@dataclass(frozen=True, kw_only=True)
class TargetCheck:
    """Check what the printer did: read the printed frame with a rule, from outer corner to outer corner.

    Lay the sheet flat, landscape, "cutvision" upright. Read each side and both diagonals to a quarter of a millimeter,
    each twice if you can.

    cutvision target check --long-side 250.4mm,250.5mm --short-side 179.8mm --diagonal-down 308.3mm --diagonal-up
    307.9mm --jig sled

    With --jig the readings are kept with the jig, and `measure --jig` uses them.
    """

    needs: ClassVar[Needs] = (("long_side",), ("short_side",))
    long_side: Annotated[
        str | None,
        Say("The printed frame's long side; of several readings put commas between.", LENGTHS, SHEET, main=True),
    ] = None
    short_side: Annotated[str | None, Say("Its short side.", LENGTHS, SHEET, main=True)] = None
    diagonal_down: Annotated[
        str | None, Say("Its diagonal from top left to bottom right.", LENGTHS, SHEET, main=True)
    ] = None
    diagonal_up: Annotated[
        str | None, Say("Its diagonal from bottom left to top right.", LENGTHS, SHEET, main=True)
    ] = None
    read_to: Annotated[
        str | None,
        Say(
            "The largest error of one reading (0.25mm, a steel rule by eye, unless you say).", LENGTH, SHEET, main=True
        ),
    ] = None
    paper: Annotated[
        Literal["a4", "letter", "a3", "tabloid"] | None,
        Say("The sheet's paper, where the readings do not show it.", group=SHEET),
    ] = None
    read_on: Annotated[str | None, Say("The day of reading (today unless you say).", DAY, SHEET)] = None


@dataclass(frozen=True, slots=True)
class Side:
    """A length of the frame. name: such as "long side". drawn_mm: on a perfect print. read_mm: each reading."""

    name: str
    drawn_mm: float
    read_mm: tuple[float, ...]

    @property
    def mean_mm(self) -> float:
        """The mean of the readings."""
        return math.fsum(self.read_mm) / len(self.read_mm)


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value and its standard uncertainty, in one unit."""

    value: float
    standard_uncertainty: float

    @property
    def expanded_uncertainty(self) -> float:
        """About 95 %, coverage factor 2."""
        return COVERAGE_FACTOR * self.standard_uncertainty


@dataclass(frozen=True, slots=True)
class TargetCheckResult:
    """What the printer did.

    read_to_mm: half-width of each reading's error, widened where repeated readings lie further apart. long_stretch,
    short_stretch: of the sides, dimension one. shear_rad: by which the short sides lean, positive with the bottom to
    the right. angle_off_rad: the most by which an angle of 45 deg on the print differs from the drawn one, whichever
    way it lies. length_off: the largest stretch of any length, dimension one. angle_unread_rad, angle_left_rad: the
    print's part in the 95 % uncertainty of an angle of 45 deg at worst, without these readings and with them.
    """

    paper: str
    sides: tuple[Side, ...]
    read_to_mm: float
    long_stretch: Estimate
    short_stretch: Estimate
    shear_rad: Estimate
    angle_off_rad: float
    length_off: float
    angle_unread_rad: float
    angle_left_rad: float
    verdict: Verdict
    shear_read: bool


ALL_KEYS = ("long-side", "short-side", "diagonal-down", "diagonal-up", "sheet-read-to", "sheet-read-on")


def run_target_check(asked: TargetCheck) -> TargetCheckResult:
    """What the readings say of the print. Raises InputError for what no sheet can give, in the option's name."""
    from cutvision.target.print_scale import ORDINARY_SHEAR, ORDINARY_STRETCH, print_scale

    read = _read(asked)
    if not read:
        raise InputError(
            "Nothing was read on the print.", "Give --long-side, --short-side and, better, both diagonals too."
        )
    read_to_mm = _read_to_mm(asked, read)
    sheet = _sheet(asked, read)
    readings = _readings({option: _mean(values) for option, values in read.items()}, read_to_mm)
    scale = print_scale(sheet, readings)
    ex, ey, g = (float(value) for value in scale.estimate)
    limit = ORDINARY_TIMES * ORDINARY_STRETCH
    uneven = abs(ex - ey) > math.sqrt(2) * limit or abs(g) > ORDINARY_TIMES * ORDINARY_SHEAR
    return TargetCheckResult(
        paper=sheet.paper,
        sides=tuple(_side(option, values, sheet) for option, values in read.items()),
        read_to_mm=read_to_mm,
        long_stretch=_estimate(scale, 0),
        short_stretch=_estimate(scale, 1),
        shear_rad=_estimate(scale, 2),
        angle_off_rad=math.hypot(ex - ey, g) * math.sin(math.pi / 4),
        length_off=_largest_stretch(scale),
        angle_unread_rad=_angle_uncertainty(print_scale(sheet)),
        angle_left_rad=_angle_uncertainty(scale),
        verdict="uneven" if uneven else "scaled" if abs(ex + ey) / 2 > limit else "ordinary",
        shear_read=bool(asked.diagonal_down or asked.diagonal_up),
    )


def kept_in_jig(asked: TargetCheck, found: TargetCheckResult, day: str) -> dict[str, str]:
    """What a jig keeps of it, text by key. day: of reading, as 2026-11-25."""
    texts = {"sheet-read-to": f"{found.read_to_mm:g}mm", "sheet-read-on": day}
    for option, values in _read(asked).items():
        said = str(getattr(asked, option.removeprefix("--").replace("-", "_")))
        texts[option.removeprefix("--")] = said if len(values) == 1 else f"{_mean(values):.3f}mm"
    return texts


def _read(asked: TargetCheck) -> dict[str, tuple[float, ...]]:
    """Every reading in mm, by option."""
    said = {
        "--long-side": asked.long_side,
        "--short-side": asked.short_side,
        "--diagonal-down": asked.diagonal_down,
        "--diagonal-up": asked.diagonal_up,
    }
    return {option: parse_lengths(text, option) for option, text in said.items() if text is not None}


def _read_to_mm(asked: TargetCheck, read: Mapping[str, tuple[float, ...]]) -> float:
    """As it was said; half of how far repeated readings lie apart where that is more, as one of the two is so wrong."""
    from cutvision.target.print_scale import READ_TO_MM

    said_mm = length(asked.read_to, "--read-to")
    return max(READ_TO_MM if said_mm is None else said_mm, *((max(one) - min(one)) / 2 for one in read.values()))


def _readings(mm: Mapping[str, float], read_to_mm: float) -> PrintReadings:
    from cutvision.target.print_scale import PrintReadings

    return PrintReadings(
        long_side_mm=mm.get("--long-side"),
        short_side_mm=mm.get("--short-side"),
        read_to_mm=read_to_mm,
        diagonal_down_mm=mm.get("--diagonal-down"),
        diagonal_up_mm=mm.get("--diagonal-up"),
    )


def _sheet(asked: TargetCheck, read: Mapping[str, tuple[float, ...]]) -> Sheet:
    """The sheet that was said, else the one whose frame the readings are nearest to."""
    from cutvision.target.sheet import SHEETS

    if asked.paper is not None:
        return SHEETS[asked.paper]

    def off(sheet: Sheet) -> float:
        return max(abs(math.log(_mean(values) / _drawn_mm(option, sheet))) for option, values in read.items())

    return min(SHEETS.values(), key=off)


def _drawn_mm(option: str, sheet: Sheet) -> float:
    sides = {"--long-side": sheet.width_mm, "--short-side": sheet.height_mm}
    return sides.get(option, math.hypot(sheet.width_mm, sheet.height_mm))


def _side(option: str, values: tuple[float, ...], sheet: Sheet) -> Side:
    return Side(option.removeprefix("--").replace("-", " "), _drawn_mm(option, sheet), values)


def _mean(values: tuple[float, ...]) -> float:
    return math.fsum(values) / len(values)


def _estimate(scale: PrintScale, index: int) -> Estimate:
    return Estimate(float(scale.estimate[index]), math.sqrt(float(scale.covariance[index, index])))


def _largest_stretch(scale: PrintScale) -> float:
    """The largest of |s - 1| over the two singular values s of I + E."""
    import numpy as np

    return float(np.abs(np.linalg.svd(np.eye(2) + scale.matrix, compute_uv=False) - 1).max())


def _angle_uncertainty(scale: PrintScale) -> float:
    """The print's part in the 95 % uncertainty of an angle of 45 deg, at the worst orientation, rad.

    A line at phi turns by (ey - ex) sin phi cos phi - g sin^2 phi, so that an angle a changes by sin a times the length
    of (ex - ey, g) seen along some direction; closed form, first order.
    """
    import numpy as np

    to_both = np.array([[1.0, -1.0, 0.0], [0.0, 0.0, 1.0]])
    worst = float(np.linalg.eigvalsh(to_both @ scale.covariance @ to_both.T).max())
    return COVERAGE_FACTOR * math.sqrt(worst) * math.sin(math.pi / 4)
