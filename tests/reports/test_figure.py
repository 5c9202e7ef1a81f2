"""Drawings in millimetres as files."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from PIL import Image

from cutvision.errors import InputError
from cutvision.reports.figure import FORMATS, PNG_DPI, Format, blank_page, figure_bytes, format_of
from cutvision.units import MM_PER_INCH


def test_a_page_has_its_size() -> None:
    """A page of 100 x 50 mm is that many pixels at the stated density (1 in is 25.4 mm)."""
    figure, axes = blank_page(100.0, 50.0)
    axes.plot([0, 100], [0, 50])
    image = Image.open(io.BytesIO(figure_bytes(figure, "png")))
    assert image.size == pytest.approx((100 / MM_PER_INCH * PNG_DPI, 50 / MM_PER_INCH * PNG_DPI), abs=1)


@pytest.mark.parametrize("as_format", FORMATS)
def test_equal_drawings_give_equal_bytes(as_format: Format) -> None:
    """Nothing of the clock or of chance goes into a file."""

    def once() -> bytes:
        figure, axes = blank_page(60.0, 40.0)
        axes.text(10, 10, "leaf ±0.05 mm")
        return figure_bytes(figure, as_format)

    assert once() == once()


def test_the_ending_names_the_format() -> None:
    """Upper case passes; another ending is refused in words."""
    assert format_of(Path("move.SVG")) == "svg"
    with pytest.raises(InputError, match=r"\.svg, \.png, \.pdf"):
        format_of(Path("move.bmp"))
