"""Which letters the drawings' typeface has."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import matplotlib as mpl
from matplotlib.ft2font import FT2Font


def font_file(*, bold: bool = False) -> Path:
    """The typeface of drawings and sheets, as matplotlib brings it along."""
    return Path(mpl.get_data_path()) / "fonts" / "ttf" / f"DejaVuSans{'-Bold' if bold else ''}.ttf"


def drawable(text: str) -> str:
    """The text with a box for each letter that the typeface lacks, and a space for each sign that has no shape."""
    return "".join((sign if ord(sign) in _letters() else "\u25a1") if sign.isprintable() else " " for sign in text)


@cache
def _letters() -> frozenset[int]:
    return frozenset(FT2Font(str(font_file())).get_charmap())
