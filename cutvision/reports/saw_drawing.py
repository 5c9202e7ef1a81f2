"""The saw table from above, for the person standing behind it: fence as it stands and as it should, and the move."""

from __future__ import annotations

import cmath
import math
import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle, FancyArrowPatch, Polygon

from cutvision.correction import Correction, MovePlan, Push
from cutvision.correction.fence_geometry import End
from cutvision.reports.cautions import cautions
from cutvision.reports.figure import ACCENT, GOOD, INK, SOFT, WOOD, blank_page
from cutvision.reports.move_text import clock, push_label
from cutvision.reports.piece_inset import draw_piece
from cutvision.units import MM_PER_INCH, format_length

PAGE_MM = (297.0, 210.0)
BLADE_X = 104.0
SHOWN_RAD = math.radians(6.0)
THICK_MM = 6.0
STOP = "#cfd4db"
_TABLE = (8.0, 46.0, 200.0, 182.0)
_TURN = {"clockwise": "clockwise", "counterclockwise": "counter-clockwise"}


@dataclass(frozen=True, slots=True)
class _Drawn:
    """What is drawn, in mm of the page as complex numbers: x to the right, y away from the person.

    body: the fence when true. spots: where each end is pushed, on the face at the work, or each foot. middle: of a
    single fence, or a V's point. turn_rad: from true to how the fence stands, as drawn. slant_rad: of the push, from
    straight away.
    """

    body: tuple[complex, ...]
    spots: Mapping[str, complex]
    pivot: complex
    middle: complex
    turn_rad: float
    slant_rad: float

    def now(self, point: complex) -> complex:
        return self.pivot + (point - self.pivot) * cmath.rect(1.0, self.turn_rad)

    @property
    def away(self) -> complex:
        return cmath.rect(1.0, math.pi / 2 + self.slant_rad)


def saw_drawing(correction: Correction) -> Figure | None:
    """A landscape A4 page with the move; None when nothing is to be moved or the turn is not known."""
    plan = correction.plan
    if plan is None or plan.turn is None or not correction.decision.moves:
        return None
    drawn = _layout(correction, plan)
    figure, axes = blank_page(*PAGE_MM)
    _table(axes, correction)
    _fence(axes, drawn, plan)
    for push in plan.pushes:
        _push(axes, drawn, plan, push)
    _turning(axes, drawn, plan)
    if plan.fence != "single":
        _point(axes, drawn, plan)
    _words(axes, correction, plan, _remark(correction, plan))
    draw_piece(axes, correction, (210.0, 108.0, 289.0, 182.0))
    return figure


def _remark(correction: Correction, plan: MovePlan) -> str:
    """What to know of a fence that nobody described."""
    if not plan.assumed:
        return ""
    if correction.is_square_cut:
        return f"Drawn with the pivot at the {plan.pivot} end."
    if plan.fence != "single":
        return "Drawn as a V on two feet; a single fence turns the same way, by as much at that distance."
    return f"Wherever your pivot sits, what lies {correction.move.forward_end} of it goes away from you."


def _layout(correction: Correction, plan: MovePlan) -> _Drawn:
    turn = SHOWN_RAD if plan.turn == "clockwise" else -SHOWN_RAD
    if plan.fence != "single":
        return _layout_v(correction, plan, turn)
    slant = correction.nominal_rad if correction.kept == "left" else -correction.nominal_rad
    along = cmath.rect(1.0, slant)
    middle = complex(BLADE_X, 122.0)
    # a steep fence must stay on the table
    half = min(72.0, 42.0 / abs(math.sin(slant))) if slant else 72.0
    ends: dict[str, complex] = {"left": middle - (half - 8) * along, "right": middle + (half - 8) * along}
    near, far = middle - half * along, middle + half * along
    thick = -1j * along * THICK_MM
    pivot = ends["left" if plan.pivot == "left" else "right"]
    return _Drawn((near, far, far + thick, near + thick), ends, pivot, middle, turn, slant)


def _layout_v(correction: Correction, plan: MovePlan, turn: float) -> _Drawn:
    """A V that stands with its point at the kerf; after turning about a foot the point lies beside it."""
    slope = correction.nominal_rad
    half = min(56.0, 52.0 / math.tan(slope))
    foot, crown = THICK_MM / math.sin(slope), THICK_MM / math.cos(slope)
    left, right, point = complex(-half, 0.0), complex(half, 0.0), complex(0.0, half * math.tan(slope))
    body = (left, point, right, right - foot, point - 1j * crown, left + foot)
    spots: Mapping[str, complex] = {"left": left + foot / 2, "right": right - foot / 2}
    pivot = point if plan.pivot == "point" else spots[plan.pivot or ""]
    drawn = _Drawn(body, spots, pivot, point, turn, 0.0)
    to = complex(BLADE_X - drawn.now(point).real, 88.0)
    return _Drawn(
        tuple(corner + to for corner in body),
        {end: spot + to for end, spot in spots.items()},
        pivot + to,
        point + to,
        turn,
        0.0,
    )


def _table(axes: Axes, correction: Correction) -> None:
    left, bottom, right, top = _TABLE
    _area(
        axes,
        [complex(left, bottom + 20), complex(right, bottom + 20), complex(right, top), complex(left, top)],
        "#f2f3f5",
        zorder=1,
    )
    axes.plot([BLADE_X, BLADE_X], [bottom + 20, top], color=SOFT, lw=0.8, ls=(0, (6, 3)), zorder=2)
    _area(axes, [BLADE_X - 0.9 + 150j, BLADE_X + 0.9 + 150j, BLADE_X + 0.9 + 174j, BLADE_X - 0.9 + 174j], INK, zorder=6)
    _text(axes, BLADE_X + 3, 176.5, "blade, cuts away from you", color=INK)
    _arrow(axes, complex(BLADE_X, 174.0), complex(BLADE_X, 181.5), INK, "blade")
    axes.add_patch(Circle((BLADE_X, 55.0), 3.2, facecolor=SOFT, edgecolor="none"))
    _area(axes, [BLADE_X + x + y * 1j for x, y in ((-10, 47), (-8, 51), (8, 51), (10, 47))], SOFT)
    _text(axes, BLADE_X + 14, 50, "you stand here, behind the saw")
    _text(axes, left + 2, 50, "LEFT", size=10, color=INK)
    _text(axes, right - 2, 50, "RIGHT", size=10, color=INK, ha="right")
    if correction.kept is not None:
        x, ha = (left + 3, "left") if correction.kept == "left" else (right - 3, "right")
        _text(axes, x, 176.5, f"work kept on the {correction.kept}", ha=ha)


def _fence(axes: Axes, drawn: _Drawn, plan: MovePlan) -> None:
    """As it stands: filled; true: dashed; and the stop that the leaf or the feet bear on."""
    _area(axes, [drawn.now(corner) for corner in drawn.body], WOOD, edge=INK, zorder=4)
    _area(axes, drawn.body, "none", edge=GOOD, dashed=True, zorder=5)
    if plan.fence != "single":
        left, right = _stop_side(drawn, plan, "left"), _stop_side(drawn, plan, "right")
        along = (right - left) / abs(right - left)
        drop = -8j * along
        _area(
            axes,
            [left - 20 * along, right + 20 * along, right + 20 * along + drop, left - 20 * along + drop],
            STOP,
        )
        _text(axes, (left + right).real / 2, (left + right).imag / 2 - 5.4, "rear stop", ha="center")


def _stop_side(drawn: _Drawn, plan: MovePlan, end: End) -> complex:
    """Where a V's stop lies at a foot: against it as it stands, or once leaves came out; or behind its screw."""
    push = next((push for push in plan.pushes if push.end == end), None)
    spot = drawn.spots[end]
    if push is not None and push.screw is not None:
        return drawn.now(spot) - 6j
    return spot if push is not None and push.way == "toward" else drawn.now(spot)


def _push(axes: Axes, drawn: _Drawn, plan: MovePlan, push: Push) -> None:
    """The leaf, the screw or the bare push at one end, its arrow and the amount."""
    single = plan.fence == "single"
    true = drawn.spots[push.end]
    now = drawn.now(true)
    outward = drawn.away * (1j if push.end == "left" else -1j)
    yours = not single or _on_your_side(plan, push)
    back = -drawn.away if yours else drawn.away
    face = THICK_MM * back if single and yours else 0j
    if push.means.startswith("shim"):
        nearer, farther = sorted((now + face, true + face), key=lambda p: (p * back.conjugate()).real)
        _area(axes, _box(nearer, farther, 4.5 * outward), ACCENT, gid=f"leaf-{push.end}")
        if single:
            _area(axes, _box(farther, farther + 8 * back, 8 * outward), STOP)
            _text(axes, (farther + 11 * back).real, (farther + 11 * back).imag, "stop", ha="center")
    elif push.screw is not None:
        tip = now + face
        _area(axes, _box(tip, tip + 15 * back, 1.2 * outward), SOFT, edge=INK, gid=f"screw-{push.end}")
        _disc(axes, tip + 16.5 * back, 3.4, "white", INK)
    else:
        _disc(axes, now + face, 1.6, ACCENT, ACCENT, f"push-{push.end}")
    beside = outward * (11.0 if single else 13.0)
    extra = 3.0 * drawn.away * (1.0 if push.way == "away" else -1.0)
    _arrow(axes, now + beside - extra, true + beside + extra, ACCENT, f"arrow-{push.end}")
    going = "away from you" if push.way == "away" else "toward you"
    told = {"shim in": "leaf goes in", "shim out": "leaf comes out"}.get(push.means, going)
    if push.screw is not None:
        told = f"screw {push.screw.way}, to {clock(push.screw.mark_ends_at)}"
    amount = format_length(push.distance.value, push.distance.expanded_uncertainty).replace(" (", "\n(")
    label = (now + true) / 2 - 25.0 * back + 14.0 * outward
    x = min(max(label.real, _TABLE[0] + 25), _TABLE[2] - 25)
    _text(axes, x, label.imag, f"{amount}\n{told}", size=9, color=ACCENT, ha="center")


def _on_your_side(plan: MovePlan, push: Push) -> bool:
    """Whether what sets the fence lies between it and the person, rather than on the work's side."""
    if plan.geometry is not None and plan.geometry.screw is not None:
        return plan.geometry.screw.pushes == "away"
    return push.shim_on == "operator"


def _turning(axes: Axes, drawn: _Drawn, plan: MovePlan) -> None:
    """The pivot and the way round."""
    at = drawn.pivot
    _disc(axes, at, 2.6, "white", INK, "pivot")
    sign = -1.0 if plan.turn == "clockwise" else 1.0
    start, stop = (at + cmath.rect(13.0, math.pi / 2 - sign * turn) for turn in (0.9, -0.9))
    axes.add_patch(
        FancyArrowPatch(
            (start.real, start.imag),
            (stop.real, stop.imag),
            connectionstyle=f"arc3,rad={sign * 0.45}",
            arrowstyle="-|>",
            mutation_scale=12,
            color=GOOD,
            lw=1.8,
            zorder=9,
            gid="turn",
        )
    )
    left = plan.pivot == "left"
    label = at + (7 + 2j if plan.pivot == "point" else (-14 if left else 14) * drawn.away * -1j)
    _text(axes, label.real, label.imag, "pivot", ha="right" if left else "left", color=INK)


def _point(axes: Axes, drawn: _Drawn, plan: MovePlan) -> None:
    """The way in which a V's point is brought back to the kerf."""
    if plan.point is None:
        return
    point = drawn.middle
    sign = 1.0 if plan.point.slide == "right" else -1.0
    start = point + 7j - sign * 2
    _arrow(axes, start, start + sign * 12, GOOD, "slide")
    ha = "left" if sign < 0 else "right"
    text = "then slide it back to the kerf"
    if plan.point.slide_mm is not None:
        moved = plan.point.slide_mm
        text = f"then slide it {format_length(moved.value, moved.expanded_uncertainty)}\nback to the kerf"
    _text(axes, start.real - sign * 2, start.imag + 3, text, color=GOOD, ha=ha)


def _words(axes: Axes, correction: Correction, plan: MovePlan, remark: str) -> None:
    part = "end" if plan.fence == "single" else "foot"
    about = "point" if plan.pivot == "point" else f"{plan.pivot} {part}"
    lever_mm = correction.move.lever.value
    lever = f"{lever_mm:.4g} mm ({lever_mm / MM_PER_INCH:.4g} in)"
    title = f"Turn the fence {_TURN[plan.turn or '']}, about its {about}"
    _text(axes, 8, 202, title, size=14, color=INK)
    told = [f"{push.end.capitalize()} {part}: {push_label(push)}." for push in plan.pushes]
    told[0] += f" Lever {lever}{', foot to foot' if part == 'foot' else ' from the pivot'}."
    _text(axes, 8, 195.5, "\n".join(told[:2]), size=9, color=INK, va="top" if len(told) > 1 else "center")
    enlarged = SHOWN_RAD / abs(correction.angle_error.value)
    legend = [
        f"Brown: the fence as it stands, its error drawn about {float(f'{enlarged:.2g}'):g} times too large.",
        "Green, dashed: the fence when true.",
        "Orange: what is done, and which way.",
        "Seen from above, for a person who stands behind the saw.",
        *([remark] if remark else []),
    ]
    _lines(axes, 210, 98, legend, columns=52, size=7.5)
    _lines(
        axes, 8, 40.5, [f"Cautions. {' '.join(cautions('measure', 'adjust', 'cut'))}"], columns=185, size=8.2, color=INK
    )


def _lines(
    axes: Axes, x: float, y: float, texts: Sequence[str], *, columns: int, size: float, color: str = SOFT
) -> None:
    wrapped = "\n".join("\n".join(textwrap.wrap(text, columns)) for text in texts)
    _text(axes, x, y, wrapped, size=size, va="top", color=color)


def _box(start: complex, stop: complex, half_width: complex) -> tuple[complex, ...]:
    return start - half_width, start + half_width, stop + half_width, stop - half_width


def _disc(axes: Axes, at: complex, radius: float, face: str, edge: str, gid: str | None = None) -> None:
    axes.add_patch(Circle((at.real, at.imag), radius, facecolor=face, edgecolor=edge, lw=1.4, zorder=9, gid=gid))


def _area(
    axes: Axes,
    corners: Sequence[complex],
    face: str,
    *,
    edge: str = "none",
    dashed: bool = False,
    zorder: float = 3,
    gid: str | None = None,
) -> None:
    style = {"ls": (0, (4, 2))} if dashed else {}
    axes.add_patch(
        Polygon(
            [(c.real, c.imag) for c in corners],
            closed=True,
            facecolor=face,
            edgecolor=edge,
            lw=1.2 if dashed else 0.8,
            zorder=7 if gid else zorder,
            gid=gid,
            **style,
        )
    )


def _arrow(axes: Axes, start: complex, stop: complex, color: str, gid: str) -> None:
    axes.add_patch(
        FancyArrowPatch(
            (start.real, start.imag),
            (stop.real, stop.imag),
            arrowstyle="-|>",
            mutation_scale=14,
            shrinkA=0,
            shrinkB=0,
            color=color,
            lw=2.0,
            zorder=8,
            gid=gid,
        )
    )


def _text(
    axes: Axes,
    x: float,
    y: float,
    words: str,
    *,
    size: float = 8,
    color: str = SOFT,
    ha: str = "left",
    va: str = "center",
) -> None:
    axes.text(
        x,
        y,
        words,
        fontsize=size,
        color=color,
        ha=ha,
        va=va,
        fontweight="bold" if size >= 9 else "normal",
        zorder=10,
        linespacing=1.3,
    )
