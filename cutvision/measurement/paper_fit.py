"""The windows of the printed sheets as plain numbers, for planning, which knows no sheet."""

from __future__ import annotations

from cutvision.correction.piece_fit import Window
from cutvision.target.sheet import SHEETS


def paper_windows() -> tuple[Window, ...]:
    """The blank window of every sheet that can be printed, the smallest first."""
    windows = []
    for sheet in SHEETS.values():
        left, top, right, bottom = sheet.window_mm
        windows.append(Window(sheet.paper, right - left, bottom - top))
    return tuple(sorted(windows, key=lambda window: window.width_mm * window.height_mm))
