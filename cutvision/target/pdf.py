"""The page as a vector PDF of true size."""

from __future__ import annotations

import io

from cutvision.target.page import MM_PER_PT, Page, font_file


def pdf_bytes(page: Page) -> bytes:
    """One page of the paper's size that asks the viewer not to scale it; equal pages give equal bytes.

    Nothing is compressed, so that the bytes do not hang on the compressor that a machine has.
    """
    from reportlab.pdfbase import pdfmetrics  # noqa: PLC0415 - heavy
    from reportlab.pdfbase.ttfonts import TTFont  # noqa: PLC0415 - heavy
    from reportlab.pdfgen.canvas import FILL_EVEN_ODD, Canvas  # noqa: PLC0415 - heavy

    faces = {bold: "VeraBd" if bold else "Vera" for bold in (False, True)}
    for bold, name in faces.items():
        pdfmetrics.registerFont(TTFont(name, font_file(bold=bold)))
    out = io.BytesIO()
    size = page.width_mm / MM_PER_PT, page.height_mm / MM_PER_PT
    canvas = Canvas(out, pagesize=size, pageCompression=0, invariant=1)
    canvas.setTitle(page.title)
    canvas.setAuthor("cutvision")
    canvas.setCreator("cutvision")
    canvas.setViewerPreference("PrintScaling", "None")
    for grey in sorted({area.grey for area in page.areas}):
        # one path for all: drawn alone, an upright square is snapped to whole pixels by some viewers
        path = canvas.beginPath()
        for loop in (loop for area in page.areas if area.grey == grey for loop in area.loops):
            for i, (x, y) in enumerate(loop):
                (path.lineTo if i else path.moveTo)(x / MM_PER_PT, size[1] - y / MM_PER_PT)
            path.close()
        canvas.setFillGray(grey)
        canvas.drawPath(path, stroke=0, fill=1, fillMode=FILL_EVEN_ODD)
    canvas.setFillGray(0)
    for text in page.texts:
        canvas.saveState()
        canvas.translate(text.x / MM_PER_PT, size[1] - text.y / MM_PER_PT)
        if text.turn:
            canvas.rotate(90 * text.turn)
        canvas.setFont(faces[text.bold], text.size_pt)
        canvas.drawString(0, 0, text.words)
        canvas.restoreState()
    canvas.showPage()
    canvas.save()
    return out.getvalue()
