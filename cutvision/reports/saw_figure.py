"""The saw scene as a matplotlib drawing, at any size: on the page of its own, on a card, on a worksheet."""

from __future__ import annotations

import cmath
import math
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.patches import Circle, FancyArrowPatch, Polygon

from cutvision.reports.figure import ACCENT, GOOD, INK, SOFT, WOOD
from cutvision.reports.saw_scene import THICK_MM, PushMark, SawScene

STOP = "#cfd4db"
_REACH_MM = 52.0
# Labels stay on the table.
_LABEL_X, _LABEL_Y, _LABEL_COLUMNS = 72.0, 52.0, 20


@dataclass(frozen=True, slots=True)
class Pen:
    """Draws on a page in mm.

    at: where the scene's origin lies. scale: page mm to scene mm. points: of letters.
    """

    axes: Axes
    at: complex
    scale: float
    points: float = 8.0
    words: bool = True

    def on_page(self, point: complex) -> complex:
        return self.at + point * self.scale

    def area(
        self,
        corners: Sequence[complex],
        face: str,
        *,
        edge: str = "none",
        dashed: bool = False,
        zorder: float = 3,
        gid: str | None = None,
    ) -> None:
        """A polygon through scene points."""
        points = [self.on_page(corner) for corner in corners]
        style = {"ls": (0, (4, 2))} if dashed else {}
        self.axes.add_patch(
            Polygon(
                [(p.real, p.imag) for p in points],
                closed=True,
                facecolor=face,
                edgecolor=edge,
                lw=1.2 if dashed else 0.8,
                zorder=7 if gid else zorder,
                gid=gid,
                **style,
            )
        )

    def disc(self, at: complex, radius: float, face: str, edge: str, gid: str | None = None) -> None:
        """A circle about a scene point, its radius in mm of the scene."""
        p = self.on_page(at)
        self.axes.add_patch(
            Circle((p.real, p.imag), radius * self.scale, facecolor=face, edgecolor=edge, lw=1.4, zorder=9, gid=gid)
        )

    def arrow(self, start: complex, stop: complex, color: str, gid: str, bend: float = 0.0) -> None:
        """An arrow from one scene point to another."""
        a, b = self.on_page(start), self.on_page(stop)
        self.axes.add_patch(
            FancyArrowPatch(
                (a.real, a.imag),
                (b.real, b.imag),
                connectionstyle=f"arc3,rad={bend}",
                arrowstyle="-|>",
                mutation_scale=14 * max(0.55, self.scale),
                shrinkA=0,
                shrinkB=0,
                color=color,
                lw=2.0 * max(0.6, self.scale),
                zorder=8,
                gid=gid,
            )
        )

    def text(self, at: complex, words: str, *, color: str = SOFT, ha: str = "left", size: float | None = None) -> None:
        """Words at a scene point."""
        if not self.words:
            return
        p = self.on_page(at)
        size = size or self.points
        self.axes.text(
            p.real,
            p.imag,
            words,
            fontsize=size,
            color=color,
            ha=ha,
            va="center",
            fontweight="bold" if size > self.points else "normal",
            zorder=10,
            linespacing=1.3,
        )


def draw_scene(pen: Pen, scene: SawScene) -> None:
    """Blade, fence as it stands and true, what is done at which end and which way, pivot and turn."""
    _blade(pen, scene)
    if scene.turn is not None:
        pen.area([scene.as_it_stands(corner) for corner in scene.body], WOOD, edge=INK, zorder=4)
        pen.area(scene.body, "none", edge=GOOD, dashed=True, zorder=5)
    else:
        pen.area(scene.body, WOOD, edge=INK, zorder=4)
    if scene.stop is not None:
        _rear_stop(pen, scene.stop)
    for mark in scene.marks:
        _mark(pen, scene, mark)
    if scene.pivot is not None:
        _turning(pen, scene, scene.pivot)
    if scene.slide is not None:
        _slide(pen, scene, scene.slide)


def highest(scene: SawScene) -> float:
    """How far the drawing reaches up, in the scene's mm."""
    return max(_blade_reach(scene) + 18, max(point.imag for point in scene.face) + 20)


def _blade_reach(scene: SawScene) -> float:
    top = max(point.imag for point in scene.face)
    return min(max(top + 14, 0.55 * _REACH_MM), 40.0)


def _blade(pen: Pen, scene: SawScene) -> None:
    reach = _blade_reach(scene)
    low, high = pen.on_page(complex(0, -_REACH_MM)), pen.on_page(complex(0, reach + 18))
    pen.axes.plot([low.real, high.real], [low.imag, high.imag], color=SOFT, lw=0.8, ls=(0, (6, 3)), zorder=2)
    pen.area(
        [complex(x, y) for x, y in ((-0.9, reach - 4), (0.9, reach - 4), (0.9, reach + 14), (-0.9, reach + 14))],
        INK,
        zorder=6,
    )
    pen.text(complex(4, reach + 12), "blade", color=INK)


def _rear_stop(pen: Pen, stop: tuple[complex, complex]) -> None:
    left, right = stop
    along = (right - left) / abs(right - left)
    drop = -8j * along
    pen.area([left - 20 * along, right + 20 * along, right + 20 * along + drop, left - 20 * along + drop], STOP)
    pen.text((left + right) / 2 + 0.6 * drop, "rear stop", ha="center")


def _mark(pen: Pen, scene: SawScene, mark: PushMark) -> None:
    """The shim, the screw or the bare push at one end, its arrow and the amount."""
    push, single = mark.push, scene.kind == "single"
    back = -mark.away if mark.yours else mark.away
    face = THICK_MM * back if single and mark.yours else 0j
    color = SOFT if mark.maybe else ACCENT
    true, now = mark.true, mark.now
    if push.means.startswith("shim"):
        nearer, farther = sorted((now + face, true + face), key=lambda p: (p * back.conjugate()).real)
        pen.area(_box(nearer, farther, 4.5 * mark.outward), color, gid=f"shim-{mark.end}")
        if single:
            pen.area(_box(farther, farther + 8 * back, 8 * mark.outward), STOP)
            pen.text(farther + 11.5 * back, "stop", ha="center")
    elif push.screw is not None:
        tip = now + face
        pen.area(_box(tip, tip + 15 * back, 1.2 * mark.outward), SOFT, edge=INK, gid=f"screw-{mark.end}")
        pen.disc(tip + 16.5 * back, 3.4, "white", INK)
    else:
        pen.disc(now + face, 1.6, color, color, f"push-{mark.end}")
    beside = mark.outward * (11.0 if single else 13.0)
    sign = 1.0 if push.way == "away" else -1.0
    extra = (3.0 if scene.turn is not None else 7.0) * mark.away * sign
    pen.arrow(now + beside - extra, true + beside + extra, color, f"arrow-{mark.end}")
    said = "\n".join(textwrap.wrap(mark.label, _LABEL_COLUMNS))
    if mark.maybe:
        said = f"if you keep the {mark.end}:\n{said}"
    steep = abs((scene.face[-1] - scene.face[0]).imag) > abs((scene.face[-1] - scene.face[0]).real) / 2
    label = (now + true) / 2 - 27.0 * back + (0.0 if steep else 16.0) * mark.outward
    label = complex(min(max(label.real, -_LABEL_X), _LABEL_X), min(label.imag, _LABEL_Y))
    pen.text(label, said, color=color, ha="center", size=pen.points + 1)


def _turning(pen: Pen, scene: SawScene, pivot: complex) -> None:
    """The pivot and the way round."""
    pen.disc(pivot, 2.6, "white", INK, "pivot")
    sign = -1.0 if scene.turn == "clockwise" else 1.0
    start, stop = (pivot + cmath.rect(13.0, math.pi / 2 - sign * turn) for turn in (0.9, -0.9))
    pen.arrow(start, stop, GOOD, "turn", bend=sign * 0.45)
    if scene.pivot_at == "point":
        pen.text(pivot + 7 + 2j, "pivot", color=INK)
        return
    left = scene.pivot_at == "left"
    along = (scene.face[-1] - scene.face[0]) / abs(scene.face[-1] - scene.face[0])
    pen.text(pivot + (-14 if left else 14) * along, "pivot", ha="right" if left else "left", color=INK)


def _slide(pen: Pen, scene: SawScene, slide: str) -> None:
    """The way in which a V's point is brought back to the kerf."""
    sign = 1.0 if slide == "right" else -1.0
    start = scene.face[1] + 7j - sign * 2
    pen.arrow(start, start + sign * 12, GOOD, "slide")
    words = scene.slide_label.replace(" (", "\n(").replace(", back", "\nback")
    pen.text(start - sign * 3 + 5j, words, color=GOOD, ha="right" if sign > 0 else "left")


def _box(start: complex, stop: complex, half_width: complex) -> tuple[complex, ...]:
    return start - half_width, start + half_width, stop + half_width, stop - half_width
