"""The saw from above as one scene in mm: fence, pivot, pushes and their way, made from the move's plan alone.

Points are complex numbers: x to the right, y away from the person behind the saw. The blade runs along x = 0 and cuts
away from the person; the origin is where the fence's face meets it.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass, replace
from typing import Literal

from cutvision.correction import Correction, FenceKind, Kept, MovePlan, Push, Turn
from cutvision.correction.fence_geometry import OTHER_END, End
from cutvision.reports.move_words import pivot_words, plan_remark, push_label, slide_words, turn_words, way_label
from cutvision.reports.wording import short_length_words

# The error as drawn, whatever it is.
SHOWN_RAD = math.radians(6.0)
THICK_MM = 6.0
_HALF_MM, _INSET_MM = 72.0, 8.0
# A steep fence must stay on the table.
_TALLEST_MM = 42.0
_V_HALF_MM, _V_TALL_MM = 56.0, 52.0


@dataclass(frozen=True, slots=True)
class PushMark:
    """What is done at one end of the fence, and where that is drawn.

    end: where the mark stands. true, now: where that end lies when the fence is true, and as it stands. away: unit, the
    push's line, away from the person. outward: unit, along the fence, off its end. yours: whether what sets the fence
    lies on the person's side of it. maybe: one of two ends, of which only the one on the kept side is moved.
    """

    end: End
    push: Push
    true: complex
    now: complex
    away: complex
    outward: complex
    yours: bool
    label: str
    amount: str
    maybe: bool = False


@dataclass(frozen=True, slots=True)
class SawScene:
    """What is drawn of a move.

    face: the fence's face at the work when it is true: two points, or a V's foot, point and foot. body: its outline.
    turn: the way it is to be turned; None when that is not known, and then no turn is drawn. shown_rad: from true to
    how it is drawn standing, counterclockwise positive. stop: of a V, the rear stop's line.
    captions: what is done, a line for each end, and about what the fence turns. ways: the same without amounts.
    remark: what was assumed of the fence.
    enlarged: by how much the error is drawn too large; 0 when it is not drawn.
    """

    kind: FenceKind
    face: tuple[complex, ...]
    body: tuple[complex, ...]
    pivot: complex | None
    pivot_at: Literal["left", "right", "point"] | None
    turn: Turn | None
    shown_rad: float
    marks: tuple[PushMark, ...]
    stop: tuple[complex, complex] | None
    kept: Kept | None
    slide: End | None
    slide_label: str
    title: str
    captions: tuple[str, ...]
    ways: tuple[str, ...]
    remark: str
    enlarged: float

    def as_it_stands(self, point: complex) -> complex:
        """Where a point of the true fence lies now."""
        return point if self.pivot is None else self.pivot + (point - self.pivot) * cmath.rect(1.0, self.shown_rad)


def saw_scene(correction: Correction) -> SawScene | None:
    """The move as it is advised; None when the fence is not to be moved."""
    return scene_of_plan(correction) if correction.decision.moves else None


def scene_of_plan(correction: Correction) -> SawScene | None:
    """The move that the correction holds, whether or not it is advised; None without one."""
    plan = correction.plan
    if plan is None:
        return None
    scene = _v_scene(correction, plan) if plan.fence != "single" else _single_scene(correction, plan)
    size = abs(correction.angle_error.value)
    return replace(scene, enlarged=SHOWN_RAD / size if size and scene.turn is not None else 0.0)


def _single_scene(correction: Correction, plan: MovePlan) -> SawScene:
    slant = correction.nominal_rad if correction.kept == "left" else -correction.nominal_rad
    along = cmath.rect(1.0, slant)
    half = min(_HALF_MM, _TALLEST_MM / abs(math.sin(slant))) if slant else _HALF_MM
    spots: dict[End, complex] = {"left": -(half - _INSET_MM) * along, "right": (half - _INSET_MM) * along}
    thick = -1j * along * THICK_MM
    body = (-half * along, half * along, half * along + thick, -half * along + thick)
    pivot = spots[plan.pivot] if plan.pivot in ("left", "right") else None
    return _scene(correction, plan, (-half * along, half * along), body, spots, pivot)


def _v_scene(correction: Correction, plan: MovePlan) -> SawScene:
    """A V that stands with its point at the kerf; once turned about a foot its point lies beside it."""
    slope = correction.nominal_rad
    half = min(_V_HALF_MM, _V_TALL_MM / math.tan(slope))
    foot, crown = THICK_MM / math.sin(slope), THICK_MM / math.cos(slope)
    left, right, point = complex(-half, 0.0), complex(half, 0.0), complex(0.0, half * math.tan(slope))
    body = (left, point, right, right - foot, point - 1j * crown, left + foot)
    spots: dict[End, complex] = {"left": left + foot / 2, "right": right - foot / 2}
    pivot = point if plan.pivot == "point" else spots[plan.pivot or "left"]
    scene = _scene(correction, plan, (left, point, right), body, spots, pivot)
    return _moved(scene, -scene.as_it_stands(point))


def _scene(
    correction: Correction,
    plan: MovePlan,
    face: tuple[complex, ...],
    body: tuple[complex, ...],
    spots: dict[End, complex],
    pivot: complex | None,
) -> SawScene:
    shown = 0.0 if plan.turn is None else SHOWN_RAD if plan.turn == "clockwise" else -SHOWN_RAD
    single = plan.fence == "single"
    away = 1j * (face[-1] - face[0]) / abs(face[-1] - face[0])
    point = plan.point
    scene = SawScene(
        kind=plan.fence,
        face=face,
        body=body,
        pivot=pivot,
        pivot_at=plan.pivot,
        turn=plan.turn,
        shown_rad=shown,
        marks=(),
        stop=None,
        kept=correction.kept,
        slide=None if point is None else point.slide,
        slide_label="" if point is None else slide_words(point),
        title=turn_words(plan),
        captions=(*(push_label(push, plan) for push in plan.pushes), *pivot_words(plan)),
        ways=(*(way_label(push, plan) for push in plan.pushes), *pivot_words(plan)),
        remark=plan_remark(plan, correction),
        enlarged=0.0,
    )
    marks = []
    for push in plan.pushes:
        ends: tuple[End, ...] = ("left", "right") if push.end == "kept" else (push.end,)
        for end in ends:
            outward = away * (1j if end == "left" else -1j)
            now = scene.as_it_stands(spots[end])
            yours = not single or _on_your_side(plan, push)
            label, amount = push_label(push, plan, short=True), short_length_words(push.distance)
            marks.append(PushMark(end, push, spots[end], now, away, outward, yours, label, amount, push.end == "kept"))
    return replace(scene, marks=tuple(marks), stop=None if single else _stop(scene, plan, spots))


def _stop(scene: SawScene, plan: MovePlan, spots: dict[End, complex]) -> tuple[complex, complex]:
    """Where a V's stop lies at each foot: against it as it stands, or once shims came out; or behind its screw."""

    def at(end: End) -> complex:
        push = next((push for push in plan.pushes if push.end == end), None)
        now = scene.as_it_stands(spots[end])
        if push is not None and push.screw is not None:
            return now - 6j
        return spots[end] if push is not None and push.way == "toward" else now

    return at("left"), at("right")


def _on_your_side(plan: MovePlan, push: Push) -> bool:
    """Whether what sets the fence lies between it and the person, not on the work's side."""
    if plan.geometry is not None and plan.geometry.screw is not None:
        return plan.geometry.screw.pushes == "away"
    return push.shim_on == "operator"


def _moved(scene: SawScene, by: complex) -> SawScene:
    return replace(
        scene,
        face=tuple(point + by for point in scene.face),
        body=tuple(point + by for point in scene.body),
        pivot=None if scene.pivot is None else scene.pivot + by,
        marks=tuple(replace(mark, true=mark.true + by, now=mark.now + by) for mark in scene.marks),
        stop=None if scene.stop is None else (scene.stop[0] + by, scene.stop[1] + by),
    )


def other_end(mark: PushMark) -> End:
    """The end across from a mark's."""
    return OTHER_END[mark.end]
