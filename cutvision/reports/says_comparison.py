"""Caliper against photo: the verdict and what to do first, then the figures."""

from __future__ import annotations

import math
from dataclasses import replace

from cutvision.correction import Correction, StackAdvice
from cutvision.correction.comparison import Cause, Comparison
from cutvision.reports.cautions import brief_caution, cautions
from cutvision.reports.model import Report, Section, Table
from cutvision.reports.says_correction import correction_report
from cutvision.reports.says_measurement import SHOP_WORDS, pencil_line
from cutvision.reports.wording import angle_words
from cutvision.uncertainty import Quantity
from cutvision.units import MM_PER_INCH, format_bound, format_number

_AGAIN = "No single slip explains it. Read the piece again with the caliper, and take one more photo, turned."
_TIPS = {
    "miter": "A caliper's leg ends at the tip as it is, a photo's where two lines meet. That is why angles are "
    "compared, and why half of what a tip may have lost is added to the lengths here.",
    "strip": "The caliper's widths are taken where you read them, the photo's where the strip begins and ends in the "
    "window. That is why the taper is compared.",
}


def comparison_report(
    comparison: Comparison, correction: Correction | None = None, *, shims: StackAdvice | None = None
) -> Report:
    """The whole answer. correction: from the combined value, when the fence was asked about; shims: for its move."""
    shape = "strip" if "taper" in comparison.angles else "miter"
    verdict = _verdict(comparison)
    report = Report(
        headline=(*verdict, *(line for cause in comparison.causes[:1] for line in (cause.message, cause.remedy))),
        figures=_table("Angles, by which they are judged", comparison, lengths=False),
        tables=(
            _table("Lengths, for information", comparison, lengths=True),
            Table("Both together, weighted by uncertainty", (), _combined(comparison)),
        ),
        sections=tuple(one for one in (_causes(comparison),) if one.lines),
        notes=(
            _TIPS[shape],
            pencil_line(shape),
            "E_n is the difference over the root of the sum of both uncertainties squared (ISO/IEC 17043); up to 1 "
            "agrees. The roughness of the sawn edges is left out where both see the same edges; it counts for the "
            "fence.",
        ),
        cautions=cautions("photo", "measure"),
        brief_cautions=brief_caution("measure"),
    )
    if correction is None:
        return report
    fence = correction_report(correction, shims=shims)
    return replace(
        fence,
        sure=(*verdict, *fence.sure),
        figures=report.figures,
        tables=(*report.tables, *fence.tables),
        sections=(*report.sections, *fence.sections),
        notes=(*report.notes, *fence.notes),
        cautions=tuple(dict.fromkeys((*cautions("photo"), *fence.cautions))),
    )


def _verdict(comparison: Comparison) -> tuple[str, ...]:
    number = f"E_n {comparison.number:.2f}" if math.isfinite(comparison.number) else "E_n has no limit"
    again = () if comparison.causes else (_AGAIN,)
    if not comparison.one_size:
        return (
            "Caliper and photo show lengths too far apart for one piece. Do not go by either until you know why; "
            "nothing is combined and no move is advised.",
            *again,
        )
    if comparison.verdict == "disagree":
        return (
            f"Caliper and photo disagree ({number}; up to 1 agrees). Do not go by either until you know why; nothing "
            "is combined and no move is advised.",
            *again,
        )
    if comparison.verdict == "doubtful":
        return (
            f"Caliper and photo fit badly ({number}; up to 1 agrees). Read once more before you go by them; what "
            "both give together carries a larger uncertainty for that.",
            *again,
        )
    lengths = () if comparison.lengths_agree else ("Their lengths do not agree; the angles do not need them.",)
    return (f"Caliper and photo agree in angle ({number}; up to 1 agrees). Go by both together.", *lengths)


def _causes(comparison: Comparison) -> Section:
    of_lengths = comparison.verdict == "agree" or not comparison.one_size
    title = "Why the lengths differ" if of_lengths else "What would make them agree, the likeliest first"
    return Section(title, tuple(_cause(one) for one in comparison.causes))


def _cause(cause: Cause) -> str:
    return f"{cause.message} What to do: {cause.remedy}"


def _table(title: str, comparison: Comparison, *, lengths: bool) -> Table:
    rows = []
    for name, one in (comparison.lengths if lengths else comparison.angles).items():
        for unit in ("mm", "in") if lengths else ("deg",):
            number = f"{one.number:.2f}" if one.number < 100 else "> 99"
            last = ("", "") if unit == "in" else (number, one.verdict)
            rows.append((SHOP_WORDS[name].split(",")[0], _amount(one.first, unit), _amount(one.second, unit), *last))
    return Table(title, ("", "caliper", "photo", "E_n", "verdict"), tuple(rows))


def _amount(quantity: Quantity, unit: str) -> str:
    factor = {"mm": 1.0, "in": 1 / MM_PER_INCH, "deg": math.degrees(1.0)}[unit]
    bound = quantity.expanded_uncertainty * factor
    return f"{format_number(quantity.value * factor, bound)} ± {format_bound(bound)} {unit}"


def _combined(comparison: Comparison) -> tuple[tuple[str, str], ...]:
    return tuple((SHOP_WORDS[name].split(",")[0], angle_words(q)) for name, q in comparison.combined.items())
