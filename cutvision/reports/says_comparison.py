"""What a caliper and photos of the same piece say beside each other: do they agree, why not, what do both say."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from cutvision.correction import Correction, StackAdvice
from cutvision.correction.comparison import Cause, Comparison
from cutvision.reports.cautions import brief_caution, cautions
from cutvision.reports.model import Report, Section, Table
from cutvision.reports.says_correction import correction_report
from cutvision.reports.says_measurement import SHOP_WORDS, pencil_line
from cutvision.reports.wording import degrees_words
from cutvision.uncertainty import Quantity
from cutvision.uncertainty.agreement import Agreement
from cutvision.units import MM_PER_INCH, format_bound, format_number

_AGAIN = "No single slip explains it. Read the piece again with the caliper, and take one more photo, turned."
_TIPS = {
    "miter": "A caliper's leg ends at the tip as it is, a photo's where two lines meet: that is why angles are "
    "compared, and why the lengths stand here with half of what a tip may have lost added.",
    "strip": "The caliper's widths are taken where you read them, the photo's where the strip begins and ends in the "
    "window: that is why the taper is compared.",
}
_NAMES = {"split_error": "half of right less left"}
_E_N = (
    "E_n = difference / root of the sum of both uncertainties squared (ISO/IEC 17043). How rough the sawn edges are is "
    "left out where both see the same edges; it counts once the piece speaks of the fence."
)


def comparison_report(
    comparison: Comparison, correction: Correction | None = None, *, shims: StackAdvice | None = None
) -> Report:
    """The verdict and what to do.

    correction: from both together, when the fence was asked about. shims: for its move.
    """
    shape = "strip" if "taper" in comparison.angles else "miter"
    angles = _table("Angles, by which they are judged (deg)", comparison.angles, "deg")
    lengths = _table("Lengths, for information (mm)", comparison.lengths, "mm")
    inches = _table("Lengths (in)", comparison.lengths, "in")
    report = Report(
        headline=_verdict(comparison),
        figures=angles,
        tables=tuple(one for one in (lengths, inches) if one.rows),
        sections=tuple(one for one in (_causes(comparison), _together(comparison)) if one.lines),
        notes=(_TIPS[shape], pencil_line(shape), _E_N),
        cautions=cautions("photo", "measure"),
        brief_cautions=brief_caution("photo"),
    )
    if correction is None:
        return report
    fence = correction_report(correction, shims=shims)
    return replace(
        fence,
        headline=(*report.headline, *fence.headline),
        figures=angles,
        tables=(*report.tables, *fence.tables),
        sections=(*report.sections, *fence.sections),
        notes=(*report.notes, *fence.notes),
        cautions=tuple(dict.fromkeys((*report.cautions, *fence.cautions))),
    )


def _verdict(comparison: Comparison) -> tuple[str, ...]:
    number = f"E_n {comparison.number:.2f}" if math.isfinite(comparison.number) else "E_n has no limit"
    first = tuple(f"{cause.message} {cause.remedy}" for cause in comparison.causes[:1])
    why = first or (_AGAIN,)
    nothing = "do not go by either until you know why. Nothing is combined, and no move is advised."
    if not comparison.one_size:
        return (f"Caliper and photo give lengths too far apart for one piece: {nothing}", *why)
    if comparison.verdict == "disagree":
        return (f"Caliper and photo disagree ({number}; up to 1 agrees): {nothing}", *why)
    if comparison.verdict == "doubtful":
        return (
            f"Caliper and photo fit badly ({number}; up to 1 agrees): read once more before you go by them. Both "
            "together carry a larger uncertainty for that.",
            *why,
        )
    agree = f"Caliper and photo agree in angle ({number}; up to 1 agrees): go by both together."
    return (agree,) if comparison.lengths_agree else (agree, "Their lengths do not agree; the angles do not need them.")


def _causes(comparison: Comparison) -> Section:
    of_lengths = comparison.verdict == "agree" or not comparison.one_size
    title = "Why the lengths differ" if of_lengths else "What would make them agree, the likeliest first"
    return Section(title, tuple(_cause(one) for one in comparison.causes))


def _cause(cause: Cause) -> str:
    return f"{cause.message} What to do: {cause.remedy}"


def _together(comparison: Comparison) -> Section:
    return Section(
        "Both together, each weighted by its uncertainty",
        tuple(
            f"{_short(name)}: {degrees_words(q.value, q.expanded_uncertainty)}"
            for name, q in comparison.combined.items()
        ),
    )


def _table(title: str, found: Mapping[str, Agreement], unit: str) -> Table:
    rows = []
    for name, one in found.items():
        number = f"{one.number:.2f}" if one.number < 100 else "> 99"
        rows.append((_short(name), _amount(one.first, unit), _amount(one.second, unit), number, one.verdict))
    return Table(title, ("", "caliper", "photo", "E_n", "verdict"), tuple(rows))


def _short(name: str) -> str:
    return _NAMES.get(name) or SHOP_WORDS[name].split(",")[0]


def _amount(quantity: Quantity, unit: str) -> str:
    factor = {"mm": 1.0, "in": 1 / MM_PER_INCH, "deg": math.degrees(1.0)}[unit]
    to = quantity.expanded_uncertainty * factor
    return f"{format_number(quantity.value * factor, to)} ± {format_bound(to)}"
