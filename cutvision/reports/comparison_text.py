"""Caliper against photo as a person reads it: the verdict and what to do first, then the figures."""

from __future__ import annotations

import math

from cutvision.correction import Correction, StackAdvice
from cutvision.correction.comparison import Cause, Comparison
from cutvision.reports.cautions import Topic, cautions
from cutvision.reports.columns import bullets, wrap
from cutvision.reports.correction_text import answer_lines, budget_table, figures, leaf_block, note_lines
from cutvision.reports.measurement_text import SHOP_WORDS, pencil_line
from cutvision.reports.move_drawing import move_drawing
from cutvision.uncertainty import Quantity
from cutvision.uncertainty.agreement import Agreement
from cutvision.units import MM_PER_INCH, format_angle_with_bound, format_bound, format_number

_AGAIN = "No single slip explains it. Read the piece again with the caliper, and take one more photo, turned."


def comparison_text(
    comparison: Comparison,
    correction: Correction | None = None,
    *,
    with_budget: bool = False,
    leaves: StackAdvice | None = None,
) -> str:
    """The whole report; at most 80 columns. correction: from the combined value, when the fence was asked about.

    with_budget: whether the fence error's budget is printed too. leaves: the stack for its move.
    """
    shape = "strip" if "taper" in comparison.angles else "miter"
    moved = correction is not None and correction.decision.moves
    topics: tuple[Topic, ...] = ("photo", "measure") if correction is None else ("photo", "measure", "adjust", "cut")
    blocks = [
        "\n".join(wrap(line) for line in _verdict(comparison)),
        *([] if correction is None else _fence(correction, leaves)),
        _causes(comparison),
        _table("Angles, by which they are judged (deg)", comparison, lengths=False),
        _table("Lengths, for information (mm; in below)", comparison, lengths=True),
        _combined(comparison),
        budget_table(correction.angle_error) if correction is not None and with_budget else "",
        "\n".join(move_drawing(correction)) if correction is not None and moved else "",
        bullets("Notes", [*_notes(shape), *([] if correction is None else note_lines(correction))]),
        bullets("Cautions", cautions(*topics)),
    ]
    return "\n\n".join(block for block in blocks if block) + "\n"


def _verdict(comparison: Comparison) -> list[str]:
    number = f"E_n {comparison.number:.2f}" if math.isfinite(comparison.number) else "E_n has no limit"
    if not comparison.one_size:
        lines = [
            "Caliper and photo tell lengths too far apart for one piece: do not go by either until you know why. "
            "Nothing is combined and no move is told."
        ]
        return [*lines, *([] if comparison.causes else [_AGAIN])]
    if comparison.verdict == "disagree":
        lines = [
            f"Caliper and photo disagree ({number}; up to 1 agrees): do not go by either until you know why. Nothing "
            "is combined and no move is told."
        ]
        return [*lines, *([] if comparison.causes else [_AGAIN])]
    if comparison.verdict == "doubtful":
        lines = [
            f"Caliper and photo fit badly ({number}; up to 1 agrees): read once more before you go by them. What both "
            "say together carries a wider bound for that."
        ]
        return [*lines, *([] if comparison.causes else [_AGAIN])]
    lines = [f"Caliper and photo agree in angle ({number}; up to 1 agrees): go by both together."]
    return lines if comparison.lengths_agree else [*lines, "Their lengths do not agree; the angles do not need them."]


def _fence(correction: Correction, leaves: StackAdvice | None) -> list[str]:
    return [
        "\n".join(wrap(line) for line in answer_lines(correction)),
        leaf_block(correction, leaves),
        figures(correction),
    ]


def _causes(comparison: Comparison) -> str:
    if not comparison.causes:
        return ""
    of_lengths = comparison.verdict == "agree" or not comparison.one_size
    title = "Why the lengths differ" if of_lengths else "What would make them agree, the likeliest first"
    return "\n".join([title, *(_cause(place, one) for place, one in enumerate(comparison.causes, 1))])


def _cause(place: int, cause: Cause) -> str:
    return f"{wrap(cause.message, f'{place}. ')}\n{wrap(cause.remedy, '   What to do: ', '   ')}"


def _table(title: str, comparison: Comparison, *, lengths: bool) -> str:
    rows = comparison.lengths if lengths else comparison.angles
    if not rows:
        return ""
    lines = [title, f"  {'':24}{'caliper':>18}{'photo':>18}{'E_n':>7}  verdict"]
    for name, one in rows.items():
        lines.append(f"  {_short(name):24}{_row(one, 'mm' if lengths else 'deg')}{_number(one)}")
        if lengths:
            lines.append(f"  {'':24}{_row(one, 'in')}")
    return "\n".join(lines)


def _short(name: str) -> str:
    return SHOP_WORDS[name].split(" (")[0]


def _row(one: Agreement, unit: str) -> str:
    return f"{_amount(one.first, unit):>18}{_amount(one.second, unit):>18}"


def _amount(quantity: Quantity, unit: str) -> str:
    factor = {"mm": 1.0, "in": 1 / MM_PER_INCH, "deg": math.degrees(1.0)}[unit]
    bound = quantity.expanded_uncertainty * factor
    return f"{format_number(quantity.value * factor, bound)} ± {format_bound(bound)}"


def _number(one: Agreement) -> str:
    number = f"{one.number:.2f}" if one.number < 100 else "> 99"
    return f"{number:>7}  {one.verdict}"


def _combined(comparison: Comparison) -> str:
    if not comparison.combined:
        return ""
    rows = [
        wrap(format_angle_with_bound(q.value, q.expanded_uncertainty), f"  {_short(name):24}")
        for name, q in comparison.combined.items()
    ]
    return "\n".join(["Both together, each weighted by its bound", *rows])


def _notes(shape: str) -> list[str]:
    tips = {
        "miter": "A caliper's leg ends at the tip as it is, a photo's where two lines meet: that is why angles are "
        "compared, and why the lengths stand here with half of what a tip may have lost added.",
        "strip": "The caliper's widths are taken where you read them, the photo's where the strip begins and ends in "
        "the window: that is why the taper is compared.",
    }
    return [
        tips[shape],
        pencil_line(shape),
        "E_n = difference / root of the sum of both bounds squared (ISO/IEC 17043). How rough the sawn edges are is "
        "left out where both see the same edges; it counts once the piece speaks of the fence.",
    ]
