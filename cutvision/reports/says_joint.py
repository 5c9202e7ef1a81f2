"""What an error of the cut means in a frame's joints."""

from __future__ import annotations

import math

from cutvision.correction.joint import VISIBLE_MM, JointPreview, OpenFrame, open_frame, sight
from cutvision.reports.cautions import ADVISED, brief_caution, cautions
from cutvision.reports.model import Report, Section, Table
from cutvision.reports.wording import angle_words, degrees_words, length_words
from cutvision.uncertainty import Quantity
from cutvision.units import MM_PER_INCH

END_WORDS = {"heel": "heel (inner corner)", "toe": "toe (outer corner)"}
EITHER_END = "heel or toe"


def joint_report(preview: JointPreview) -> Report:
    """What to do, the figures, what adds up and what closes."""
    shows = sight(preview.gap_each.value) != "does not show"
    return Report(
        headline=(*_lengths_first(preview), *_about_cuts(preview)),
        sure=(f"Each joint shares it evenly: {length_words_or_plain(preview.gap_each)} at its {_end(preview)}.",),
        figures=Table("", (), tuple(_rows(preview))),
        sections=(Section("What adds up", _adds_up(preview)), Section("What closes", _closes(preview))),
        cautions=cautions(*(ADVISED if shows else ("cut",))),
        brief_cautions=brief_caution("adjust" if shows else "cut"),
    )


def joint_lines(preview: JointPreview) -> tuple[str, ...]:
    """What stands beside a correction: the fence's error as it stands, in the joints of a frame cut at it."""
    return (
        f"With every end of a frame of {preview.sides} sides, {_plain_length(preview.stock_mm)} wide, cut at this "
        f"fence as it stands, each joint opens by {length_words_or_plain(preview.gap_each)} at its {_end(preview)}, "
        f"which {sight(preview.gap_each.value)}.",
        f"All left to the last joint, that opens by {length_words_or_plain(preview.gap_last)}.",
        f"Cuts true to {_limit(preview)} keep each joint below {_plain_length(VISIBLE_MM[0])}.",
    )


def stands(gap_mm: float) -> str:
    """How a joint stands at one end, in words: open (positive), shut or overlapping."""
    if abs(gap_mm) < 0.005:
        return "shut"
    return f"open by {_plain_length(gap_mm)}" if gap_mm > 0 else f"overlapping by {_plain_length(-gap_mm)}"


def length_words_or_plain(gap: Quantity) -> str:
    """A gap with its uncertainty, or as it is when it has none."""
    return length_words(gap) if gap.standard_uncertainty else _plain_length(gap.value) if gap.value else "0 mm"


def _end(preview: JointPreview) -> str:
    return END_WORDS[preview.gapes_at] if preview.gapes_at else EITHER_END


def _limit(preview: JointPreview) -> str:
    return degrees_words(float(f"{preview.least_error_rad:.2g}"), 0.0)


def _lengths_first(preview: JointPreview) -> tuple[str, ...]:
    """Sides of unequal lengths spoil a frame of true cuts too."""
    frame = preview.open_frame
    if preview.sides != 4 or frame is None:
        return ()
    true_cuts = open_frame(frame.sides_mm, 4, preview.stock_mm, 0.0)
    alone_mm = max(abs(true_cuts.toe_mm), abs(true_cuts.step_mm))
    if sight(alone_mm) == "does not show":
        return ()
    return (
        "Cut opposite sides to one length first: as they are, the last joint of true cuts would be "
        f"{_plain_length(alone_mm)} off.",
    )


def _about_cuts(preview: JointPreview) -> tuple[str, ...]:
    gap = preview.gap_each
    seen = sight(gap.value)
    limit = f"{_plain_length(VISIBLE_MM[0])}, the least gap that shows (common practice, no source)"
    if seen != "does not show":
        return (
            f"True the fence before you cut the frame: shared by all joints, a gap of {length_words_or_plain(gap)} "
            f"{seen}.",
            f"An error of at most {_limit(preview)} in each cut keeps each joint below {limit}.",
        )
    lines = [f"Cut the frame: shared by all joints, a gap of {length_words_or_plain(gap)} {seen}."]
    if sight(gap.value + gap.expanded_uncertainty) != seen:
        lines.append("At the far end of its uncertainty it would. Measure the error better first if that matters.")
    if sight(preview.gap_last.value) != seen:
        last = length_words_or_plain(preview.gap_last)
        lines.append(f"Close all joints together: all left to the last one, {last} would show.")
    return tuple(lines)


def _rows(preview: JointPreview) -> list[tuple[str, str]]:
    nominal = f"{math.degrees(preview.nominal_rad):.6g} deg"
    end = f" at the {_end(preview)}" if preview.error.value else ""
    way = {"toe": f" short of {nominal}", "heel": f" over {nominal}", None: f" off {nominal}"}[preview.gapes_at]
    error = Quantity(abs(preview.error.value), "rad", preview.error.components)
    rows = [
        ("frame", f"{preview.sides} sides of {_plain_length(preview.stock_mm)} stock, each end cut at {nominal}"),
        ("error of each cut", f"{angle_words(error)}{way if preview.error.value else ''}"),
        ("length of a joint", _plain_length(preview.face_mm)),
    ]
    for name, opening_rad, gap in (
        ("each joint, shared", preview.opening_each_rad, preview.gap_each),
        ("all at the last joint", preview.opening_last_rad, preview.gap_last),
    ):
        opening = f"{math.degrees(opening_rad):.3g} deg"
        rows.append((name, f"{opening}: {length_words_or_plain(gap)}{end}, {sight(gap.value)}"))
    frame = preview.open_frame
    if frame is not None:
        rows += [
            ("the others shut flush", f"{stands(frame.heel_mm)} at the heel, {stands(frame.toe_mm)} at the toe"),
            ("  sides, in order", ", ".join(_plain_length(side) for side in frame.sides_mm)),
        ]
        if abs(frame.step_mm) >= VISIBLE_MM[0]:
            where = "outside" if frame.step_mm > 0 else "inside"
            rows.append(("  its outer corner", f"{_plain_length(abs(frame.step_mm))} {where} of the first side's"))
    rows.append(("one joint pulled shut", f"makes a corner of {math.degrees(preview.shut_corner_rad):.5g} deg"))
    return rows


def _adds_up(preview: JointPreview) -> tuple[str, ...]:
    n = preview.sides
    lines = [
        "Cut at one fence, or on one arm of a V, every end is off the same way: a joint opens by 2 errors, the last "
        f"one, with the others shut, by {2 * n}."
    ]
    frame = preview.open_frame
    if frame is None:
        return tuple(lines)
    if preview.error.value > 0:
        lines.append(
            "Shut flush one after the other, the sides walk open: the last joint gapes over its whole length, the more "
            "the longer the sides. Clamp all joints together, so that each takes its share."
        )
    elif preview.error.value < 0:
        lines.append("Shut flush one after the other, the sides walk shut: the last one does not go in.")
    if n == 4 and _unequal(frame):
        lines.append(
            "Opposite sides that differ in length by some amount leave the last joint 0.71 times as much open, or "
            "overlapping, however true the cuts. Cut them to one stop block."
        )
    return tuple(lines)


def _closes(preview: JointPreview) -> tuple[str, ...]:
    pair = "A joint whose two cuts are off by as much, one short and one over, closes"
    faces = f"The faces then differ in length by {_plain_length(preview.step_opposite_mm)}."
    if preview.sides != 4:
        return (f"{pair}. {faces}",)
    return (
        f"{pair}: one piece from each arm of a V whose arms stand at 90 deg. {faces}",
        "If the arms are not at 90 deg, it opens by the sum of both arms' errors, which no turning cures.",
        "Opposite sides cut to one stop block are of one length, whether or not their miters are true.",
    )


def _unequal(frame: OpenFrame) -> bool:
    first, second, third, fourth = frame.sides_mm
    return first != third or second != fourth


def _plain_length(value_mm: float) -> str:
    return f"{round(value_mm, 2):.4g} mm ({value_mm / MM_PER_INCH:.3g} in)" if value_mm else "0 mm"
