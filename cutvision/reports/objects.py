"""The JSON objects that commands print: a result, encoded, under its schema's name, with its cautions."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from cutvision.correction import Correction, FeelerStack, StackAdvice
from cutvision.correction.adjustments import Adjustments, Cut
from cutvision.correction.comparison import Comparison
from cutvision.correction.joint import JointPreview
from cutvision.correction.spread_study import SpreadStudy
from cutvision.errors import PhotoRefused
from cutvision.measurement.result import Measurement
from cutvision.reports.cautions import cautions
from cutvision.reports.encode import Json, encode
from cutvision.reports.says_correction import correction_cautions

CORRECTION: Final = "cutvision/correction/1"
MEASUREMENT: Final = "cutvision/measurement/1"
REFUSAL: Final = "cutvision/refusal/1"
JOINT: Final = "cutvision/joint/1"
COMPARISON: Final = "cutvision/comparison/1"
ADJUSTMENTS: Final = "cutvision/adjustments/1"
REPEATABILITY: Final = "cutvision/spread/1"


def correction_object(
    correction: Correction, shims: StackAdvice | None = None, joints: JointPreview | None = None
) -> Json:
    """What `correct --json` prints. shims: when they were asked for; joints: when a frame was."""
    told = {"schema": CORRECTION, **encode(correction), "cautions": list(correction_cautions(correction))}
    if shims is not None:
        told["shims"] = shims_object(correction, shims)
    if joints is not None:
        told["joint"] = {"schema": JOINT, **encode(joints)}
    return told


def measurement_object(
    measurement: Measurement,
    correction: Correction | None = None,
    shims: StackAdvice | None = None,
    joints: JointPreview | None = None,
) -> Json:
    """What `measure --json` prints; the correction stands under its own key when the fence was asked about."""
    told = {"schema": MEASUREMENT, **encode(measurement), "cautions": list(cautions("photo"))}
    if correction is not None:
        told["correction"] = correction_object(correction, shims, joints)
    return told


def refusals_object(refusals: Sequence[PhotoRefused]) -> Json:
    """What `measure --json` prints when photos are refused."""
    told = [
        {"file": refused.file, "reason": refused.reason, "message": refused.message, "remedy": refused.remedy}
        for refused in refusals
    ]
    return {"schema": REFUSAL, "refusals": told}


def joint_object(preview: JointPreview) -> Json:
    """What `joint --json` prints."""
    return {"schema": JOINT, **encode(preview), "cautions": list(cautions("adjust", "cut"))}


def comparison_object(
    comparison: Comparison, correction: Correction | None = None, shims: StackAdvice | None = None
) -> Json:
    """What `compare --json` prints; `combined` is empty when they disagree."""
    told = {"schema": COMPARISON, **encode(comparison), "cautions": list(cautions("photo", "measure"))}
    if correction is not None:
        told["correction"] = correction_object(correction, shims)
    return told


def adjustments_object(run: Adjustments) -> Json:
    """What `correct steps --json` prints; each step says whether it is a cut or a move."""
    told = {"schema": ADJUSTMENTS, **encode(run), "cautions": list(cautions("measure", "adjust", "cut"))}
    told["steps"] = [{"kind": "cut" if isinstance(one, Cut) else "move", **encode(one)} for one in run.steps]
    return told


def repeatability_object(study: SpreadStudy) -> Json:
    """What `repeatability --json` prints; standard deviations, `least` and `most` the 95 % limits of the cut's."""
    return {"schema": REPEATABILITY, **encode(study), "cautions": list(cautions("measure", "cut"))}


def shims_object(correction: Correction, advice: StackAdvice) -> Json:
    """The best stack of at most `most` shims, and the next best; `set` and `source` say whose they are."""
    lever_mm = correction.move.shim_lever_mm
    return {
        "set": advice.choice.leaf_set.name,
        "source": advice.choice.leaf_set.source,
        "most": advice.choice.most_leaves,
        "shim_to": advice.choice.leaf_to_mm,
        "best_total_uncertainty": advice.choice.bound_mm(advice.best),
        "best": _stack(advice.best, lever_mm),
        "next_best": None if advice.next_best is None else _stack(advice.next_best, lever_mm),
    }


def _stack(stack: FeelerStack, lever_mm: float) -> Json:
    """Marks and thicknesses, thickest first; what the stack leaves of the move, and of the fence's error."""
    return {
        "shims": [leaf.mark for leaf in stack.leaves],
        "thickness": [leaf.thickness_mm for leaf in stack.leaves],
        "total": stack.total_mm,
        "short": stack.short_mm,
        "angle_left": math.degrees(stack.angle_left_rad(lever_mm)),
    }
