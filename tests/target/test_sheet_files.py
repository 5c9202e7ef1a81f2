"""The sheet as printed: every saddle point and marker in its place, on all papers, in all formats."""

from __future__ import annotations

import io
import re
from functools import cache
from pathlib import Path
from xml.etree import ElementTree as ET

import cv2
import numpy as np
import pypdfium2
import pytest
from PIL import Image

from cutvision.target import SHEETS, Sheet
from cutvision.target.drawing import draw_sheet, marker_bits, outline
from cutvision.target.files import ENDINGS, sheet_bytes
from cutvision.target.margins import largest_leg_one_photo_mm, largest_leg_two_photos_mm, sheet_id
from cutvision.target.page import Area, Page, Text, rectangle
from cutvision.target.png import grey_page

READY = Path(__file__).parents[2] / "calibration_targets"
PAPERS = list(SHEETS)
PLACE_MM = 0.01  # how near its place a saddle point must be found (the project's requirement for the sheet)
EDGE_MM = 6.0  # nothing is printed nearer to the paper's edge (the sheet's fixed design)


@cache
def _pdf_picture(paper: str) -> np.ndarray:
    """(H, W) uint8: the ready PDF rendered at 300 pixels per inch by PDFium."""
    with pypdfium2.PdfDocument(READY / f"{paper}.pdf") as document:
        assert len(document) == 1
        page = document[0]
        picture = page.render(scale=300 / 72, grayscale=True).to_numpy().copy()
        page.close()
    return picture.reshape(picture.shape[:2])


def _saddles_off_mm(sheet: Sheet, picture: np.ndarray, px_per_mm: np.ndarray) -> np.ndarray:
    """(N, 2) found less drawn place of every saddle point, in mm, with pixel centres at whole numbers."""
    drawn_px = (sheet.saddles_mm + np.array(sheet.margin_mm)) * px_per_mm - 0.5
    half = int(1.4 * px_per_mm[0])  # under 1.5 mm, so that no marker is seen
    criteria = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_MAX_ITER, 50, 1e-4)
    start = drawn_px.astype(np.float32).reshape(-1, 1, 2) + 0.7  # away from the answer, so that it must be found
    soft = cv2.GaussianBlur(picture, (0, 0), 1.0)  # a hard edge is too steep for the finder's own interpolation
    found = cv2.cornerSubPix(soft, start, (half, half), (-1, -1), criteria)
    return (found.reshape(-1, 2) - drawn_px) / px_per_mm


@pytest.mark.parametrize("paper", PAPERS)
def test_every_saddle_of_the_pdf_lies_in_its_place(paper: str) -> None:
    """PDFium's picture of the PDF shows each saddle point within 0.01 mm of where the sheet's geometry has it."""
    sheet, picture = SHEETS[paper], _pdf_picture(paper)
    high, wide = picture.shape  # PDFium rounds the raster's size up and draws the page to fill it
    off = _saddles_off_mm(sheet, picture, np.array([wide / sheet.paper_width_mm, high / sheet.paper_height_mm]))
    assert off.shape == sheet.saddles_mm.shape
    assert np.max(np.hypot(*off.T)) < PLACE_MM


@pytest.mark.parametrize("dpi", [150.0, 300.0, 611.0])
def test_every_saddle_of_the_png_lies_in_its_place(dpi: float) -> None:
    """The PNG writer puts each saddle point within 0.01 mm of its place, by its stated pixel frame."""
    sheet = SHEETS["letter"]
    off = _saddles_off_mm(sheet, grey_page(draw_sheet(sheet), dpi), np.full(2, dpi / 25.4))
    assert np.max(np.hypot(*off.T)) < PLACE_MM


def test_png_pixels_hold_the_share_that_is_black() -> None:
    """A pixel is as dark as the share of it inside the area: upright, slanted and hollow areas (closed form)."""
    square = Area((rectangle(1.25, 1.5, 3.5, 3.75),))
    triangle = Area((((6.0, 1.0), (8.0, 1.0), (6.0, 3.0)),))
    hole = Area((rectangle(10, 1, 13, 4), rectangle(11, 2, 12, 3)[::-1]))
    page = Page(14.0, 6.0, "", (square, triangle, hole))
    share = 1 - grey_page(page, 25.4) / 255
    expected = np.zeros((6, 14))
    expected[1:4, 1:4] = np.outer([0.5, 1.0, 0.75], [0.75, 1.0, 0.5])
    expected[1, 6:8], expected[2, 6] = [1.0, 0.5], 0.5
    expected[1:4, 10:13] = 1.0
    expected[2, 11] = 0.0
    np.testing.assert_allclose(share, expected, atol=1 / 255)


@pytest.mark.parametrize("paper", PAPERS)
def test_every_marker_of_the_pdf_is_read(paper: str) -> None:
    """OpenCV's detector reads each marker of the sheet by its id, each in its own square, and no other."""
    sheet, picture = SHEETS[paper], _pdf_picture(paper)
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_1000))
    corners, ids, _ = detector.detectMarkers(picture)
    found = dict(zip(np.asarray(ids).ravel().tolist(), corners, strict=True))
    assert set(found) == set(sheet.marker_squares)
    scale = 300 / 25.4
    for marker_id, quad in found.items():
        drawn = (sheet.marker_corners_mm(marker_id) + np.array(sheet.margin_mm)) * scale
        assert np.max(np.abs(np.reshape(quad, (4, 2)) - drawn)) < 0.3 * scale


@pytest.mark.parametrize("paper", PAPERS)
def test_paper_edge_and_window_stay_blank(paper: str) -> None:
    """Nothing is printed within 6 mm of the paper's edge, in the window, or within 1 mm outside the frame."""
    sheet, picture = SHEETS[paper], _pdf_picture(paper)
    scale = 300 / 25.4
    x0, y0 = (m * scale for m in sheet.margin_mm)
    left, top, right, bottom = (v * scale for v in sheet.window_mm)
    one = int(np.ceil(scale))

    def box(x_a: float, y_a: float, x_b: float, y_b: float) -> np.ndarray:
        return picture[round(y_a) + 1 : round(y_b) - 1, round(x_a) + 1 : round(x_b) - 1]

    assert box(x0 + left, y0 + top, x0 + right, y0 + bottom).min() == 255
    inner = picture.copy()
    edge = int(EDGE_MM * scale)
    inner[edge:-edge, edge:-edge] = 255
    assert inner.min() == 255
    around = picture.copy()
    x1, y1 = x0 + sheet.width_mm * scale, y0 + sheet.height_mm * scale
    around[round(y0) - 1 : round(y1) + 2, round(x0) - 1 : round(x1) + 2] = 255
    assert around[round(y0) - one : round(y1) + one, round(x0) - one : round(x1) + one].min() == 255


@pytest.mark.parametrize("paper", PAPERS)
def test_pdf_has_the_papers_size_and_asks_not_to_be_scaled(paper: str) -> None:
    """The PDF's page is the paper to 0.01 mm and its viewer preference is PrintScaling None."""
    content = (READY / f"{paper}.pdf").read_bytes()
    with pypdfium2.PdfDocument(content) as document:
        size_mm = np.array(document.get_page_size(0)) * 25.4 / 72
    assert size_mm == pytest.approx([SHEETS[paper].paper_width_mm, SHEETS[paper].paper_height_mm], abs=0.01)
    assert re.search(rb"/PrintScaling\s*/None", content)


def _without_the_writers_name(pdf: bytes) -> bytes:
    """What the PDF draws: the objects, less the lines in which the PDF package names its own release."""
    objects = pdf[pdf.index(b" obj") : pdf.rindex(b"\nxref")]
    return re.sub(rb"/Producer \(.*\)", b"", objects)


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("ending", ENDINGS)
def test_ready_files_are_what_the_program_makes(paper: str, ending: str) -> None:
    """The files in calibration_targets are remade identically: PDF and SVG by bytes, PNG by pixels.

    Letters in the PNG may differ in a few grey pixels from one release of the font renderer to the next.
    """
    ready, made = (READY / f"{paper}{ending}").read_bytes(), sheet_bytes(SHEETS[paper], ending)
    assert made == sheet_bytes(SHEETS[paper], ending)
    if ending == ".pdf":
        assert _without_the_writers_name(ready) == _without_the_writers_name(made)
    elif ending == ".svg":
        assert ready == made
    else:
        a, b = (np.asarray(Image.open(io.BytesIO(content))) for content in (ready, made))
        assert a.shape == b.shape
        assert np.mean(np.abs(a.astype(int) - b) > 64) < 1e-4
        ring = np.s_[int(20 * 11.9) : -int(20 * 11.9), int(24 * 11.9) : -int(24 * 11.9)]
        np.testing.assert_array_equal(a[ring], b[ring])


@pytest.mark.parametrize("paper", PAPERS)
def test_png_and_pdf_show_the_same_page(paper: str) -> None:
    """The PNG agrees with PDFium's picture of the PDF: squares, drawings and lettering, turned lettering too."""
    with Image.open(READY / f"{paper}.png") as image:
        png = np.asarray(image)
    pdf = _pdf_picture(paper)
    high, wide = (min(a, b) // 12 * 12 for a, b in zip(png.shape, pdf.shape, strict=True))
    millimetre = [p[:high, :wide].reshape(high // 12, 12, wide // 12, 12).mean(axis=(1, 3)) for p in (png, pdf)]
    # of 255 over a square millimetre; letters are hinted a pixel apart (60), one out of place gives 100 and more
    assert np.max(np.abs(millimetre[0] - millimetre[1])) < 75


@pytest.mark.parametrize("paper", PAPERS)
def test_margin_texts_are_legible_and_apart(paper: str) -> None:
    """No margin text is under 7 pt, and no two texts or drawings of the margins overlap."""
    sheet = SHEETS[paper]
    page = draw_sheet(sheet)
    boxes = []
    for item in page.items:
        if isinstance(item, Text):
            assert item.size_pt >= 7
            w, up, down = item.width_mm, 0.75 * item.size_mm, 0.2 * item.size_mm
            box = {
                0: (item.x, item.y - up, item.x + w, item.y + down),
                1: (item.x - up, item.y - w, item.x + down, item.y),
                -1: (item.x - down, item.y, item.x + up, item.y + w),
            }[item.turn]
        else:
            points = np.array(item.loops[0])
            box = (*points.min(axis=0), *points.max(axis=0))
        inside_ring = sheet.margin_mm[0] - 0.01 <= box[0] <= sheet.paper_width_mm - sheet.margin_mm[0] - 1
        inside_ring &= sheet.margin_mm[1] - 0.01 <= box[1] <= sheet.paper_height_mm - sheet.margin_mm[1] - 1
        if not inside_ring or isinstance(item, Text):
            boxes.append((isinstance(item, Text), box))
    texts = [box for is_text, box in boxes if is_text]
    assert len(texts) > 20
    for i, a in enumerate(texts):
        for is_text, b in boxes:
            if is_text and texts.index(b) <= i:
                continue
            apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
            assert apart, (a, b)


@pytest.mark.parametrize("paper", PAPERS)
def test_margins_say_what_the_person_needs(paper: str) -> None:
    """The sheet names itself and says: 100 %, fence end, how a miter lies, which distances to read, caution."""
    words = " ".join(text.words for text in draw_sheet(SHEETS[paper]).texts)
    wanted = (sheet_id(SHEETS[paper]), "100 %", "FENCE END", "quarter", "diagonal down", "diagonal up", "long side")
    for each in (*wanted, "short side", "(date)", "unplugged", "away from the saw", "flat on a board"):
        assert each in words


def test_leg_sizes_are_those_of_the_reference_sheet() -> None:
    """Turned: 114 mm on a4 and letter, 174 tabloid, 194 a3; one photo: 130 a4, 123 letter (the fixed design)."""
    two = {paper: largest_leg_two_photos_mm(sheet) for paper, sheet in SHEETS.items()}
    assert two == {"a4": 114, "letter": 114, "a3": 194, "tabloid": 174}
    assert largest_leg_one_photo_mm(SHEETS["a4"]) == 130
    assert largest_leg_one_photo_mm(SHEETS["letter"]) == 123


def test_svg_is_in_millimetres_and_inside_the_paper() -> None:
    """The SVG's user unit is the millimetre, its size the paper's, and every drawn corner lies inside the margins."""
    root = ET.fromstring(sheet_bytes(SHEETS["a4"], ".svg").decode())  # noqa: S314 - our own file
    assert root.attrib["width"] == "297mm"
    assert root.attrib["viewBox"] == "0 0 297 210"
    paths = [path.attrib["d"] for path in root.iter("{http://www.w3.org/2000/svg}path")]
    points = np.array([float(v) for path in paths for v in re.findall(r"[0-9.]+", path)]).reshape(-1, 2)
    assert np.all(points >= EDGE_MM)
    assert np.all(points <= np.array([297, 210]) - EDGE_MM)
    assert "M23.5 15L33.5 15L33.5 25L23.5 25Z" in paths[0]


def test_outline_keeps_area_and_holes() -> None:
    """The loops round a marker's black cells enclose just those cells, holes turned the other way (closed form)."""
    black = marker_bits(7)
    area = 0.0
    for loop in outline(black):
        x, y = np.array(loop, dtype=float).T
        area += 0.5 * float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
    assert area == np.count_nonzero(black)
    ring = np.ones((3, 3), dtype=bool)
    ring[1, 1] = False
    assert sorted(outline(ring)) == [((0, 0), (3, 0), (3, 3), (0, 3)), ((1, 1), (1, 2), (2, 2), (2, 1))]
