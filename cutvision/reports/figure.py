"""Drawings in true millimetres, written as SVG, PNG or PDF: one look for the saw table, joints, charts and sheets."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any, Literal, get_args

from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from cutvision.errors import InputError
from cutvision.units import MM_PER_INCH

Format = Literal["svg", "png", "pdf"]
FORMATS: tuple[Format, ...] = get_args(Format)
PNG_DPI = 200

INK = "#10141c"
SOFT = "#7a828e"
WOOD = "#ead9bd"
ACCENT = "#b4460a"
GOOD = "#1d6f5c"

# Equal drawings give equal bytes, and letters look the same wherever the file is opened.
STYLE: Any = {
    "svg.hashsalt": "cutvision",
    "svg.fonttype": "path",
    "pdf.fonttype": 42,
    "font.family": "DejaVu Sans",
    "text.parse_math": False,
}
_METADATA: dict[Format, dict[str, Any]] = {
    "svg": {"Date": None, "Creator": "cutvision"},
    "png": {"Software": "cutvision"},
    "pdf": {"CreationDate": None, "ModDate": None, "Creator": "cutvision", "Producer": "cutvision"},
}


def blank_page(width_mm: float, height_mm: float) -> tuple[Figure, Axes]:
    """A white page and axes over all of it, in mm: x to the right, y up (on a saw table: away from you)."""
    figure = Figure(figsize=(width_mm / MM_PER_INCH, height_mm / MM_PER_INCH), facecolor="white")
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_xlim(0.0, width_mm)
    axes.set_ylim(0.0, height_mm)
    axes.set_axis_off()
    return figure, axes


def format_of(path: Path) -> Format:
    """The format that the file's ending names. Raises InputError for any other."""
    for known in FORMATS:
        if path.suffix.lower() == f".{known}":
            return known
    raise InputError(
        f"{path}: a drawing is written as {', '.join('.' + known for known in FORMATS)}.",
        "Give the file one of these endings.",
    )


def figure_bytes(figure: Figure, as_format: Format) -> bytes:
    """The drawing as a file's content; equal drawings give equal bytes."""
    out = io.BytesIO()
    with rc_context(STYLE):
        figure.savefig(out, format=as_format, dpi=PNG_DPI, metadata=_METADATA[as_format])
    return out.getvalue()
