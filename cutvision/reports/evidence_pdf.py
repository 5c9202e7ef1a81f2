"""The evidence of a run, or of a whole jig, as a PDF: what the HTML sheet says, on at most two pages a run."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from datetime import datetime
from functools import cache
from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus import (
    CondPageBreak,
    Flowable,
    Image,
    PageBreak,
    Paragraph,
    SimpleDocTemplate,
    Spacer,
    Table,
    TableStyle,
)

from cutvision.logbook.records import JigRecord, Run
from cutvision.reports.evidence import HISTORY_COLUMNS, JigSheet, Paper, Row, RunSheet, jig_sheet
from cutvision.reports.evidence_pictures import Picture
from cutvision.reports.figure import ACCENT, INK, SOFT
from cutvision.reports.glyphs import drawable, font_file

MARGIN = 13 * mm
FOOT = 6 * mm
MOST_PAGES = 2
PHOTO_HEIGHT = 88 * mm
DRAWING_HEIGHT = 92 * mm
# A run that takes too much is set again with smaller pictures and letters.
SIZES = (1.0, 0.85, 0.7, 0.5, 0.35)
_PAGES = {"a4": A4, "letter": LETTER}
_RULE = HexColor("#d9dde2")


def evidence_pdf(
    jig: JigRecord,
    runs: Sequence[Run],
    files: Mapping[str, bytes],
    *,
    made_at: datetime,
    program: str,
    paper: Paper = "a4",
) -> bytes:
    """The sheet as PDF: of several runs the jig with its trend first. Equal content gives equal bytes.

    files: by sha256, those that could be read. made_at: the caller's clock. Photos lose their EXIF on the way in.
    """
    sheet = jig_sheet(jig, runs, files, made_at=made_at, program=program)
    out = io.BytesIO()
    page = _PAGES[paper]
    document = SimpleDocTemplate(
        out,
        pagesize=page,
        leftMargin=MARGIN,
        rightMargin=MARGIN,
        topMargin=MARGIN,
        bottomMargin=MARGIN,
        title=drawable(sheet.title),
        author="",
        creator=f"cutvision {program}",
        invariant=1,
    )
    width, height = page[0] - 2 * MARGIN - 12, page[1] - 2 * MARGIN - 12  # a frame keeps 6 points free on each side
    story: list[Flowable] = []
    if len(sheet.runs) > 1:
        story += [*_cover(sheet, width, height), PageBreak()]
    for run in sheet.runs:
        story += [*_fitted(run, sheet.made, width, height), PageBreak()]

    def foot(canvas: Any, document: Any) -> None:
        canvas.setFont(_font(), 7)
        canvas.setFillColor(HexColor(SOFT))
        canvas.drawString(MARGIN + 6, FOOT, drawable(f"{sheet.title}. {sheet.made}."))
        canvas.drawRightString(page[0] - MARGIN - 6, FOOT, str(document.page))

    document.build(story[:-1], onFirstPage=foot, onLaterPages=foot)
    return out.getvalue()


def _fitted(run: RunSheet, made: str, width: float, height: float) -> list[Flowable]:
    """The run at the largest size at which it takes no more than two pages."""
    story: list[Flowable] = []
    for size in SIZES:
        story = _run(run, made, width, size)
        # what may be lost at the foot of the first page: the drawing, the tallest thing that is not split
        if _height(story, width) <= MOST_PAGES * height - (DRAWING_HEIGHT * size + 10 * mm):
            break
    return story


def _height(story: Sequence[Flowable], width: float) -> float:
    heights = (one.wrap(width, 1e6)[1] + one.getSpaceBefore() + one.getSpaceAfter() for one in story)
    return float(sum(heights))


def _run(run: RunSheet, made: str, width: float, size: float) -> list[Flowable]:
    look = _Look(size)
    story: list[Flowable] = [look.title(run.title)]
    if run.struck:
        story.append(look.words(run.struck, color=ACCENT, bold=True))
    story += [look.words(line, bold=number == 0) for number, line in enumerate(run.answer) if line]
    story.append(look.cautions(run.cautions, width))
    photos = [picture for picture in run.pictures if not picture.drawn]
    if photos:
        story.append(_photos(photos, look, width, size))
    for picture in run.pictures:
        if picture.kind == "png":
            story.append(_image(picture.data, width, DRAWING_HEIGHT * size))
        elif picture.kind == "svg+xml":
            story.append(look.small(f"Drawing: {picture.name}, in the logbook and on the HTML sheet."))
    if run.figures:
        story += [*look.heading("Figures"), look.rows(run.figures, width)]
    if run.budget:
        lines = [(row.influence, row.kind, row.part, row.share, row.source) for row in run.budget]
        shares = (0.24, 0.07, 0.12, 0.09, 0.48)
        head = ("influence", "type", "part", "share", "source")
        story += [*look.heading("Budget of the fence's error, deg"), look.table(head, lines, width, shares)]
    story += look.bullets("Set afterwards", run.moves)
    story += look.bullets("Notes", run.notes)
    if run.conditions:
        story += [*look.heading("Conditions"), look.rows(run.conditions, width)]
    story += [*look.heading(f"Computed from: {run.command}"), look.two_columns(run.inputs, width)]
    if run.files:
        story += look.heading("Files")
        story += [look.small(f"{name}  {sha256}") for name, sha256 in run.files]
    story.append(Spacer(1, 2 * mm))
    story.append(look.small(" ".join(f"{name} {text}." for name, text in run.versions) + f" {made}."))
    return story


def _cover(sheet: JigSheet, width: float, height: float) -> list[Flowable]:
    look = _Look(1.0)
    story: list[Flowable] = [look.title(sheet.title)]
    story += [look.words(line, bold=number == 0) for number, line in enumerate(sheet.verdict)]
    story.append(look.cautions(sheet.cautions, width))
    if sheet.trend is not None:
        story.append(_image(sheet.trend, width, 0.42 * height))
    story += [*look.heading("The jig"), look.rows(sheet.jig, width), *look.heading("Its runs")]
    story.append(look.table(HISTORY_COLUMNS, sheet.history, width, (0.07, 0.14, 0.24, 0.16, 0.27, 0.12)))
    return story


def _photos(pictures: Sequence[Picture], look: _Look, width: float, size: float) -> Table:
    """The photos side by side, each with its caption."""
    room = width / max(2, len(pictures))
    cells = [_image(picture.data, room - 4 * mm, PHOTO_HEIGHT * size) for picture in pictures]
    captions = [look.small(f"{picture.caption}: {picture.name}") for picture in pictures]
    table = Table([cells, captions], colWidths=[room] * len(pictures), hAlign="LEFT")
    table.setStyle(TableStyle([("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (-1, -1), 0)]))
    return table


def _image(data: bytes, width: float, height: float) -> Image:
    image = Image(io.BytesIO(data))
    scale = min(width / image.imageWidth, height / image.imageHeight)
    image.drawWidth, image.drawHeight = image.imageWidth * scale, image.imageHeight * scale
    image.hAlign = "LEFT"
    return image


class _Look:
    """Paragraphs and tables at one size."""

    def __init__(self, size: float) -> None:
        self._size = max(0.72, size)

    def words(self, text: str, points: float = 8.6, *, color: str = INK, bold: bool = False) -> Paragraph:
        points *= self._size
        style = ParagraphStyle(
            "words",
            fontName=_font(bold=bold),
            fontSize=points,
            leading=1.28 * points,
            textColor=HexColor(color),
            spaceAfter=0.5 * mm,
            splitLongWords=True,
        )
        return Paragraph(escape(drawable(text)), style)

    def title(self, text: str) -> Paragraph:
        return self.words(text, 14.0, bold=True)

    def heading(self, text: str) -> list[Flowable]:
        """A heading that is not left alone at a page's foot; what follows it may be split."""
        return [CondPageBreak(16 * mm), Spacer(1, 1.6 * mm * self._size), self.words(text, 9.4, bold=True)]

    def small(self, text: str) -> Paragraph:
        return self.words(text, 7.2, color=SOFT)

    def cautions(self, lines: Sequence[str], width: float) -> Table:
        """The cautions in two columns, beside the advice that they belong to."""
        half = (len(lines) + 1) // 2
        columns = [[self.words(f"–  {line}", 7.2) for line in part] for part in (lines[:half], lines[half:])]
        table = Table([[self.words("Cautions", 7.6, bold=True), ""], columns], colWidths=[width / 2] * 2, hAlign="LEFT")
        edges = [
            ("SPAN", (0, 0), (1, 0)),
            ("BOX", (0, 0), (-1, -1), 1, HexColor(ACCENT)),
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ]
        table.setStyle(
            TableStyle([*edges, ("TOPPADDING", (0, 0), (-1, -1), 1), ("BOTTOMPADDING", (0, 0), (-1, -1), 1)])
        )
        return table

    def bullets(self, title: str, lines: Sequence[str]) -> list[Flowable]:
        return [*self.heading(title), *(self.words(f"–  {line}") for line in lines)] if lines else []

    def rows(self, pairs: Sequence[Row], width: float) -> Table:
        return self._grid([[self.words(a, color=SOFT), self.words(b)] for a, b in pairs], [0.24 * width, 0.76 * width])

    def two_columns(self, pairs: Sequence[Row], width: float) -> Table:
        """Pairs beside each other, read down the left half and then the right one."""
        half = (len(pairs) + 1) // 2
        left, right = pairs[:half], [*pairs[half:], ("", "")][:half]
        lines = [[*self._pair(a), *self._pair(b)] for a, b in zip(left, right, strict=True)]
        return self._grid(lines, [share * width for share in (0.17, 0.33, 0.17, 0.33)])

    def _pair(self, pair: Row) -> list[Paragraph]:
        return [self.words(pair[0], 7.8, color=SOFT), self.words(pair[1], 7.8)]

    def table(
        self, head: Sequence[str], lines: Sequence[Sequence[str]], width: float, shares: Sequence[float]
    ) -> Table:
        cells = [[self.words(one, 7.8, color=SOFT) for one in head]]
        cells += [[self.words(one, 7.8) for one in line] for line in lines]
        return self._grid(cells, [share * width for share in shares], repeat=1)

    @staticmethod
    def _grid(cells: list[list[Paragraph]], widths: list[float], repeat: int = 0) -> Table:
        table = Table(cells or [[""] * len(widths)], colWidths=widths, repeatRows=repeat, hAlign="LEFT")
        style: list[Any] = [(side, (0, 0), (-1, -1), 0) for side in ("LEFTPADDING", "BOTTOMPADDING")]
        style += [("TOPPADDING", (0, 0), (-1, -1), 1.2), ("LINEBELOW", (0, 0), (-1, -1), 0.4, _RULE)]
        table.setStyle(TableStyle([*style, ("VALIGN", (0, 0), (-1, -1), "TOP")]))
        return table


@cache
def _font(*, bold: bool = False) -> str:
    name = f"cutvision-sans{'-bold' if bold else ''}"
    pdfmetrics.registerFont(TTFont(name, str(font_file(bold=bold))))
    return name
