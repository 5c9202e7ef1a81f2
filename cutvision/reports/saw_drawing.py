"""The move on a landscape page: the saw scene, the test piece beside it, what is done, and the cautions."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle

from cutvision.correction import Correction
from cutvision.reports.cautions import cautions
from cutvision.reports.figure import INK, SOFT, blank_page
from cutvision.reports.piece_inset import draw_piece
from cutvision.reports.saw_figure import Pen, draw_scene
from cutvision.reports.saw_scene import SawScene, saw_scene
from cutvision.reports.wording import capitalized, plain_length_words

PAGE_MM = (297.0, 210.0)
BLADE_X = 104.0
_TABLE = (8.0, 66.0, 200.0, 182.0)


def saw_drawing(correction: Correction) -> Figure | None:
    """The page; None when the fence is not to be moved."""
    scene = saw_scene(correction)
    if scene is None:
        return None
    figure, axes = blank_page(*PAGE_MM)
    pen = Pen(axes, complex(BLADE_X, _height(scene)), 1.0)
    _table(axes, scene)
    draw_scene(pen, scene)
    _words(axes, correction, scene)
    draw_piece(axes, correction, (210.0, 108.0, 289.0, 182.0))
    return figure


def _height(scene: SawScene) -> float:
    """Where the scene's origin lies, so that the fence stands in the middle of the table."""
    if scene.kind == "single":
        return 122.0
    return 88.0 - min(point.imag for point in scene.face)


def _table(axes: Axes, scene: SawScene) -> None:
    left, bottom, right, top = _TABLE
    axes.fill([left, right, right, left], [bottom, bottom, top, top], color="#f2f3f5", zorder=1)
    axes.add_patch(Circle((BLADE_X, 55.0), 3.2, facecolor=SOFT, edgecolor="none"))
    axes.fill([BLADE_X + x for x in (-10, -8, 8, 10)], [47, 51, 51, 47], color=SOFT)
    axes.text(BLADE_X + 14, 50, "you stand here, behind the saw", fontsize=8, color=SOFT)
    axes.text(left + 2, 50, "LEFT", fontsize=10, color=INK, fontweight="bold")
    axes.text(right - 2, 50, "RIGHT", fontsize=10, color=INK, ha="right", fontweight="bold")
    if scene.kept is not None:
        x, ha = (left + 3, "left") if scene.kept == "left" else (right - 3, "right")
        axes.text(x, 176.5, f"work kept on the {scene.kept}", fontsize=8, color=SOFT, ha=ha)


def _words(axes: Axes, correction: Correction, scene: SawScene) -> None:
    axes.text(8, 202, scene.title, fontsize=14, color=INK, fontweight="bold", va="center")
    lever = plain_length_words(correction.move.lever.value)
    where = f"{lever} from {'foot to foot' if scene.kind != 'single' else 'the pivot'}"
    said = [f"{capitalized(one)}." for one in scene.captions]
    said[0] = f"{said[0][:-1]}, {where}."
    _lines(axes, 8, 198.5, [" ".join(said)], columns=150, size=9, color=INK)
    legend = [
        *(
            (
                f"Brown: the fence as it stands, its error drawn about {float(f'{scene.enlarged:.2g}'):g} times too "
                "large.",
                "Green, dashed: the fence when true.",
            )
            if scene.enlarged
            else ("Brown: the fence. Move only the end on the side you keep.",)
        ),
        "Orange: what is done, and which way.",
        "Seen from above, for a person who stands behind the saw.",
        scene.remark,
    ]
    _lines(axes, 210, 98, [line for line in legend if line], columns=52, size=7.5)
    every = f"Cautions. {' '.join(cautions('measure', 'adjust', 'cut'))}"
    _lines(axes, 8, 43.5, [every], columns=178, size=8.0, color=INK)


def _lines(
    axes: Axes, x: float, y: float, texts: Sequence[str], *, columns: int, size: float, color: str = SOFT
) -> None:
    wrapped = "\n".join("\n".join(textwrap.wrap(text, columns)) for text in texts)
    axes.text(x, y, wrapped, fontsize=size, color=color, va="top", zorder=10, linespacing=1.3)
