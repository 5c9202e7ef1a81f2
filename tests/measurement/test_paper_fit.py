"""Whether a piece fits a printed sheet: plain geometry against the sheets themselves."""

from __future__ import annotations

import math

import pytest

from cutvision.correction.piece_fit import CLEAR_MM, LEAN_PER_HEIGHT, Window, fits, fitting, room_mm, triangle_box_mm
from cutvision.measurement.paper_fit import paper_windows
from cutvision.target.sheet import RING_SQUARES, SHEETS, SQUARE_MM

WINDOW = Window("a4", 190.0, 120.0)
THICK_MM = 20.0
MARGIN_MM = CLEAR_MM + LEAN_PER_HEIGHT * THICK_MM


def test_the_windows_are_those_of_the_sheets() -> None:
    """Every sheet's window is its ring of squares less three squares on each side, the smallest first."""
    windows = {window.paper: window for window in paper_windows()}
    assert set(windows) == set(SHEETS)
    for paper, sheet in SHEETS.items():
        inner = (sheet.columns - 2 * RING_SQUARES) * SQUARE_MM, (sheet.rows - 2 * RING_SQUARES) * SQUARE_MM
        assert (windows[paper].width_mm, windows[paper].height_mm) == inner
    areas = [window.width_mm * window.height_mm for window in paper_windows()]
    assert areas == sorted(areas)


def test_a_triangle_lies_on_its_cut() -> None:
    """Legs 60 and 80 mm: a cut of 100 mm and a height of 48 mm over it (closed form, 3-4-5)."""
    assert triangle_box_mm(60.0, 80.0) == (pytest.approx(100.0), pytest.approx(48.0))
    leg = 70.0
    assert triangle_box_mm(leg, leg) == (pytest.approx(leg * math.sqrt(2)), pytest.approx(leg / math.sqrt(2)))


@pytest.mark.parametrize(
    ("box", "flat", "turned"),
    [
        ((100.0, 50.0), True, True),
        ((100.1, 50.0), True, False),
        ((170.0, 100.0), True, False),
        ((170.1, 50.0), False, False),
        ((100.0, 100.1), False, True),
        ((60.0, 170.0), False, True),
    ],
)
def test_flat_and_turned_by_a_quarter_turn(box: tuple[float, float], flat: bool, turned: bool) -> None:  # noqa: FBT001
    """190 by 120 mm less 10 mm on each side is 170 by 100; a quarter turn swaps the sides."""
    assert room_mm(WINDOW, THICK_MM) == (190.0 - 2 * MARGIN_MM, 120.0 - 2 * MARGIN_MM) == (170.0, 100.0)
    fit = fits(box, WINDOW, THICK_MM)
    assert (fit.flat, fit.turned) == (flat, turned)


def test_a_strip_may_run_out_over_the_ends() -> None:
    """A strip of 500 by 30 mm fits both ways when its ends may leave the window, and neither when they may not."""
    strip = (500.0, 30.0)
    assert (fits(strip, WINDOW, THICK_MM).flat, fits(strip, WINDOW, THICK_MM).turned) == (False, False)
    loose = fits(strip, WINDOW, THICK_MM, may_leave=True)
    assert (loose.flat, loose.turned) == (True, True)
    assert not fits((500.0, 130.0), WINDOW, THICK_MM, may_leave=True).flat


def test_thicker_stock_needs_more_room() -> None:
    """What just fits in thin stock does not in thick, whose top leans out over the paper."""
    box = (100.0, 40.0)
    assert fits(box, WINDOW, 20.0).turned
    assert not fits(box, WINDOW, 30.0).turned


def test_every_sheet_is_answered_for() -> None:
    """One answer for each window, in the order given; a piece that fits a window fits every larger one."""
    answers = fitting(triangle_box_mm(70.0, 70.0), paper_windows(), 19.0)
    assert [answer.paper for answer in answers] == [window.paper for window in paper_windows()]
    assert [answer.paper for answer in answers if answer.turned][-1] == "a3"
