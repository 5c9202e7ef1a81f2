"""The sheet as a file in the format that its name asks for."""

from __future__ import annotations

from pathlib import Path

from cutvision.errors import InputError
from cutvision.files import write_output
from cutvision.target.drawing import draw_sheet
from cutvision.target.sheet import SHEETS, Sheet

ENDINGS = (".pdf", ".svg", ".png")
PNG_DPI = 300.0
LEAST_DPI, MOST_DPI = 50.0, 1200.0  # below, a marker's cell is 2 px; above, a page is 100 MB and no printer shows more


def sheet_of_paper(paper: str) -> Sheet:
    """The sheet of a paper. Raises InputError for a paper that has none."""
    try:
        return SHEETS[paper.strip().lower()]
    except KeyError:
        papers = ", ".join(SHEETS)
        raise InputError(f"There is no reference sheet for the paper {paper!r}.", f"Choose one of: {papers}.") from None


def sheet_bytes(sheet: Sheet, ending: str, dpi: float = PNG_DPI) -> bytes:
    """The sheet as a .pdf, .svg or .png; equal calls give equal bytes. dpi: pixels per inch of a .png.

    Raises InputError for another ending or a resolution out of reason.
    """
    if ending not in ENDINGS:
        raise InputError(
            f"A sheet cannot be written as {ending or 'a file without an ending'!r}.",
            "Let the file's name end in .pdf (best for printing), .svg or .png.",
        )
    if not LEAST_DPI <= dpi <= MOST_DPI:
        raise InputError(
            f"{dpi:g} pixels per inch is out of reason for a sheet.",
            f"Give --dpi between {LEAST_DPI:g} and {MOST_DPI:g}; {PNG_DPI:g} suits most printers.",
        )
    page = draw_sheet(sheet)
    if ending == ".pdf":
        from cutvision.target.pdf import pdf_bytes  # noqa: PLC0415 - each writer loads its own heavy package

        return pdf_bytes(page)
    if ending == ".svg":
        from cutvision.target.svg import svg_text  # noqa: PLC0415

        return svg_text(page).encode()
    from cutvision.target.png import png_bytes  # noqa: PLC0415

    return png_bytes(page, dpi)


def write_sheet(sheet: Sheet, path: Path, dpi: float = PNG_DPI, *, force: bool = False) -> None:
    """Writes the sheet in the format of the path's ending, whole or not at all.

    Raises InputError as `sheet_bytes` does, and when the file cannot be written.
    """
    write_output(path, sheet_bytes(sheet, path.suffix.lower(), dpi), "reference sheet", force=force)
