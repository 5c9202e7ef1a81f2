"""The page by which a V fence is checked: everything on it, inside it, nothing over anything else."""

from __future__ import annotations

from itertools import pairwise

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.transforms import Bbox

from cutvision.reports.cautions import cautions
from cutvision.reports.v_check_list import CHECKS, PAGE_MM, v_check_list

MM_PER_INCH = 25.4
MARGIN_MM = 8.0


def boxes(figure: Figure) -> dict[str, list[Bbox]]:
    """Where every text lies, in mm, by its words."""
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    found: dict[str, list[Bbox]] = {}
    for text in figure.axes[0].texts:
        box = text.get_window_extent(canvas.get_renderer())
        scale = MM_PER_INCH / figure.dpi
        found.setdefault(text.get_text(), []).append(Bbox(box.get_points() * scale))
    found.pop("", None)  # arrows are texts without words
    return found


def test_the_page_prints_on_a4_and_letter() -> None:
    """No wider than A4 (210 mm), no higher than Letter (279.4 mm; ISO 216, ASME Y14.1), all words inside a margin."""
    figure = v_check_list()
    assert tuple(figure.get_size_inches() * MM_PER_INCH) == pytest.approx(PAGE_MM)
    assert PAGE_MM[0] <= 210
    assert PAGE_MM[1] <= 279.4
    for words, places in boxes(figure).items():
        for box in places:
            assert box.x0 >= MARGIN_MM, words
            assert box.y0 >= MARGIN_MM, words
            assert box.x1 <= PAGE_MM[0] - MARGIN_MM, words
            assert box.y1 <= PAGE_MM[1] - MARGIN_MM, words


def test_no_text_lies_over_another() -> None:
    """Every pair of texts is apart: blanks beside titles, numbers beside labels, lines below lines."""
    listed = [(words, box) for words, places in boxes(v_check_list()).items() for box in places]
    for i, (words, box) in enumerate(listed):
        for other, other_box in listed[i + 1 :]:
            apart = Bbox.intersection(box, other_box)
            assert apart is None or min(apart.width, apart.height) < 0.3, (words, other)


def test_every_place_is_numbered_on_the_drawing_and_has_a_box() -> None:
    """Numbers 1 to 12 stand on the drawing and at the head of each check, in order down the page."""
    found = boxes(v_check_list())
    heads = [found[f"{number}  {check.title}"][0] for number, check in enumerate(CHECKS, 1)]
    assert all(str(number) in found for number in range(1, len(CHECKS) + 1))
    assert all(above.y0 > below.y1 for above, below in pairwise(heads))


def test_what_is_asked_of_a_v_fence_stands_on_it() -> None:
    """Square point, equal arms, both feet bearing by a gauge, dust relief, runners, and the cautions at the foot."""
    found = boxes(v_check_list())
    told = " ".join(found)
    for word in ("Square at the point", "Equal arms", "Both feet bear", "Dust relief", "Runners", "gauge of 0.05 mm"):
        assert word in told
    flat = " ".join(" ".join(words.removeprefix("- ").split()) for words in found)
    assert all(caution in flat for caution in cautions("measure", "adjust", "cut"))
    lowest_check = min(box.y0 for words, places in found.items() if words.startswith("12  ") for box in places)
    assert found["Cautions"][0].y1 < lowest_check
