"""What an error of the cut means in a frame's joints, in words and for other programs."""

from __future__ import annotations

import math
from typing import Literal, TypedDict

from cutvision.correction.joint import VISIBLE_MM, JointPreview, OpenFrame, open_frame, sight
from cutvision.reports.cautions import ADVISED, cautions
from cutvision.reports.columns import bullets, wrap
from cutvision.reports.measurement_json import QuantityJson, quantity_as_json
from cutvision.uncertainty import Quantity
from cutvision.units import MM_PER_INCH, format_angle, format_angle_with_bound, format_length_with_bound

SCHEMA: Literal["cutvision/joint/1"] = "cutvision/joint/1"
END_WORDS = {"heel": "heel (inner corner)", "toe": "toe (outer corner)"}
EITHER_END = "heel or toe"


class OpenFrameJson(TypedDict):
    """The last joint when the others are shut flush, in mm; negative where the last side overlaps the first."""

    sides: list[float]
    toe: float
    heel: float
    step: float


class JointJson(TypedDict):
    """The object that `joint --json` prints: angles in degrees, lengths in mm."""

    schema: Literal["cutvision/joint/1"]
    sides: int
    nominal: float
    stock: float
    error: QuantityJson
    cuts: Literal["short", "over"] | None
    gapes_at: Literal["heel", "toe"] | None
    face: float
    opening_each: float
    gap_each: QuantityJson
    opening_last: float
    gap_last: QuantityJson
    shows: str
    shut_corner: float
    step_opposite: float
    good_enough: float
    open_frame: OpenFrameJson | None


def joint_text(preview: JointPreview) -> str:
    """The whole answer: what to do, the figures, what adds up and what closes, and cautions when the fence is moved."""
    seen = sight(preview.gap_each.value)
    blocks = [
        "\n".join(wrap(line) for line in _advice(preview)),
        "\n".join(wrap(text, f"{name:25}") for name, text in _rows(preview)),
        bullets("What adds up", _adds_up(preview)),
        bullets("What closes", _closes(preview)),
        bullets("Cautions", cautions(*(("cut",) if seen == "does not show" else ADVISED))),
    ]
    return "\n\n".join(block for block in blocks if block) + "\n"


def joint_block(preview: JointPreview) -> str:
    """What a correction ends with: the fence's error as it stands, in the joints of a frame cut at it."""
    end = END_WORDS[preview.gapes_at] if preview.gapes_at else EITHER_END
    return wrap(
        f"On a frame of {preview.sides} sides, {_plain_length(preview.stock_mm)} wide, with every end cut at this "
        f"fence as it stands: each joint opens by {_length(preview.gap_each)} at its {end}, which "
        f"{sight(preview.gap_each.value)}; all left to the last joint, by {_length(preview.gap_last)}. Cuts true to "
        f"{format_angle(preview.least_error_rad, preview.least_error_rad / 10)} keep each joint below "
        f"{_plain_length(VISIBLE_MM[0])}."
    )


def joint_as_json(preview: JointPreview) -> JointJson:
    """The preview as a plain object that json.dumps takes as it is."""
    frame = preview.open_frame
    return {
        "schema": SCHEMA,
        "sides": preview.sides,
        "nominal": math.degrees(preview.nominal_rad),
        "stock": preview.stock_mm,
        "error": quantity_as_json(preview.error),
        "cuts": None if preview.gapes_at is None else "short" if preview.gapes_at == "toe" else "over",
        "gapes_at": preview.gapes_at,
        "face": preview.face_mm,
        "opening_each": math.degrees(preview.opening_each_rad),
        "gap_each": quantity_as_json(preview.gap_each),
        "opening_last": math.degrees(preview.opening_last_rad),
        "gap_last": quantity_as_json(preview.gap_last),
        "shows": sight(preview.gap_each.value),
        "shut_corner": math.degrees(preview.shut_corner_rad),
        "step_opposite": preview.step_opposite_mm,
        "good_enough": math.degrees(preview.least_error_rad),
        "open_frame": None
        if frame is None
        else {"sides": list(frame.sides_mm), "toe": frame.toe_mm, "heel": frame.heel_mm, "step": frame.step_mm},
    }


def _advice(preview: JointPreview) -> tuple[str, ...]:
    return (*_lengths_first(preview), *_about_cuts(preview))


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
    good = format_angle(preview.least_error_rad, preview.least_error_rad / 10)
    limit = f"{_plain_length(VISIBLE_MM[0])}, the least gap that shows (common practice, no source)"
    if seen == "does not show":
        lines = [f"Cut the frame: shared by all joints, a gap of {_length(gap)} {seen}."]
        if sight(gap.value + gap.expanded_uncertainty) != seen:
            lines.append("At the far end of its bound it would; measure the error better first if that matters.")
        if sight(preview.gap_last.value) != seen:
            lines.append(
                f"Close all joints together: all left to the last one, {_length(preview.gap_last)} would show."
            )
        return tuple(lines)
    return (
        f"True the fence before you cut the frame: shared by all joints, a gap of {_length(gap)} {seen}.",
        f"An error of at most {good} in each cut keeps each joint below {limit}.",
    )


def _rows(preview: JointPreview) -> list[tuple[str, str]]:
    nominal = f"{math.degrees(preview.nominal_rad):.6g} deg"
    end = f" at the {END_WORDS[preview.gapes_at]}" if preview.gapes_at else f" at {EITHER_END}"
    end = end if preview.error.value else ""
    way = {"toe": f" short of {nominal}", "heel": f" over {nominal}", None: f" off {nominal}"}[preview.gapes_at]
    rows = [
        ("frame", f"{preview.sides} sides of {_plain_length(preview.stock_mm)} stock, each end cut at {nominal}"),
        ("error of each cut", f"{_angle(preview.error)}{way if preview.error.value else ''}"),
        ("length of a joint", _plain_length(preview.face_mm)),
        (
            "each joint, shared",
            f"{_opening(preview.opening_each_rad)}: {_length(preview.gap_each)}{end}, {sight(preview.gap_each.value)}",
        ),
        (
            "all at the last joint",
            f"{_opening(preview.opening_last_rad)}: {_length(preview.gap_last)}{end}, {sight(preview.gap_last.value)}",
        ),
    ]
    frame = preview.open_frame
    if frame is not None:
        rows += [
            ("the others shut flush", f"{stands(frame.heel_mm)} at the heel, {stands(frame.toe_mm)} at the toe"),
            ("  sides, in order", ", ".join(_plain_length(side) for side in frame.sides_mm)),
        ]
        if abs(frame.step_mm) >= VISIBLE_MM[0]:
            way = "outside" if frame.step_mm > 0 else "inside"
            rows.append(("  its outer corner", f"{_plain_length(abs(frame.step_mm))} {way} of the first side's"))
    rows.append(("one joint pulled shut", f"makes a corner of {math.degrees(preview.shut_corner_rad):.5g} deg"))
    return rows


def _adds_up(preview: JointPreview) -> list[str]:
    n = preview.sides
    lines = [
        f"Cut at one fence, or on one arm of a V, every end is off the same way: a joint opens by 2 errors, the last "
        f"one, with the others shut, by {2 * n}."
    ]
    frame = preview.open_frame
    if frame is None:
        return lines
    if preview.error.value > 0:
        lines.append(
            "Shut flush one after the other, the sides walk open: the last joint gapes over its whole length, the more "
            "the longer the sides. Clamp all joints together, so that each takes its share."
        )
    elif preview.error.value < 0:
        lines.append("Shut flush one after the other, the sides walk shut: the last one does not go in.")
    if n == 4 and _unequal(frame):
        lines.append(
            "Opposite sides that differ in length by d leave the last joint 0.71 d open, or overlapping, however true "
            "the cuts: cut them to one stop block."
        )
    return lines


def _closes(preview: JointPreview) -> list[str]:
    pair = "A joint whose two cuts are off by as much, one short and one over, closes"
    faces = f"The faces then differ in length by {_plain_length(preview.step_opposite_mm)}."
    if preview.sides != 4:
        return [f"{pair}. {faces}"]
    return [
        f"{pair}: one piece from each arm of a V whose arms stand at 90 deg. {faces}",
        "If the arms are not at 90 deg, it opens by the sum of both arms' errors, which no turning cures.",
        "Opposite sides cut to one stop block are of one length, whether or not their miters are true.",
    ]


def _unequal(frame: OpenFrame) -> bool:
    a, b, c, d = frame.sides_mm
    return a != c or b != d


def stands(gap_mm: float) -> str:
    """How a joint stands at one end, in words: open (positive), shut or overlapping."""
    if abs(gap_mm) < 0.005:
        return "shut"
    return f"open by {_plain_length(gap_mm)}" if gap_mm > 0 else f"overlapping by {_plain_length(-gap_mm)}"


def _opening(opening_rad: float) -> str:
    return f"{math.degrees(opening_rad):.3g} deg"


def _angle(error: Quantity) -> str:
    if error.standard_uncertainty:
        return format_angle_with_bound(abs(error.value), error.expanded_uncertainty)
    return format_angle(abs(error.value), abs(error.value) / 20 or 1e-3)


def _length(gap: Quantity) -> str:
    if gap.standard_uncertainty:
        return format_length_with_bound(gap.value, gap.expanded_uncertainty)
    return _plain_length(gap.value) if gap.value else "0 mm"


def _plain_length(value_mm: float) -> str:
    return f"{round(value_mm, 2):.4g} mm ({value_mm / MM_PER_INCH:.3g} in)" if value_mm else "0 mm"
