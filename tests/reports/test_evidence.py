"""Evidence sheets: all that a run rests on, safe in HTML, two pages at most, no place in any picture."""

from __future__ import annotations

import base64
import hashlib
import io
import json
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from html.parser import HTMLParser
from typing import Any

import numpy as np
import pypdfium2
import pytest
from PIL import Image

from cutvision.errors import PhotoRefused
from cutvision.logbook.records import (
    Conditions,
    EvidenceFile,
    Headline,
    Inputs,
    InputValue,
    JigRecord,
    JigVersion,
    Run,
    Struck,
)
from cutvision.reports.evidence import MOST_FIGURES, MOST_NOTES, MOST_ROWS, jig_sheet, run_sheet
from cutvision.reports.evidence_pdf import MOST_PAGES, evidence_pdf
from cutvision.reports.evidence_sheet import evidence_html
from cutvision.reports.objects import measurement_object, refusals_object

Make = Callable[..., Any]
MADE: dict[str, Any] = {"made_at": datetime(2026, 5, 1, 10, tzinfo=UTC), "program": "0.1.0"}
HOSTILE = "<script>alert('\"&</script><img src=x onerror=y>{{ 7 * 7 }}"
PLACE = b"N 48 12 30"


def photo(seed: int = 1, size: tuple[int, int] = (60, 80)) -> bytes:
    """A JPEG of so many rows and columns with a GPS position, a maker and a comment in it."""
    exif = Image.Exif()
    exif[0x010F] = PLACE.decode()
    exif.get_ifd(0x8825).update({1: "N", 2: (48.0, 12.0, 30.0), 3: "E", 4: (16.0, 22.0, 0.0)})
    pixels = np.random.default_rng(seed).integers(0, 255, (*size, 3), dtype=np.uint8)
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "JPEG", exif=exif, comment=PLACE)
    return out.getvalue()


def drawing(size: tuple[int, int] = (120, 60)) -> bytes:
    """A PNG."""
    out = io.BytesIO()
    Image.new("RGB", size, "white").save(out, "PNG")
    return out.getvalue()


def kept(data: bytes, name: str, kind: Any, **more: Any) -> EvidenceFile:
    """How the logbook names a file."""
    return EvidenceFile(hashlib.sha256(data).hexdigest(), name, kind, len(data), **more)


def by_hash(*files: bytes) -> dict[str, bytes]:
    """Files as the sheet is given them."""
    return {hashlib.sha256(data).hexdigest(): data for data in files}


def pages(pdf: bytes) -> list[str]:
    """The text of each page."""
    document = pypdfium2.PdfDocument(pdf)
    return [document[number].get_textpage().get_text_range() for number in range(len(document))]


def largest(make_run: Make, make_move: Make) -> tuple[Run, dict[str, bytes]]:
    """A run with as much as a run may hold, and more, of everything."""
    long = "a long word or two " * 60
    told = json.loads(make_run().result_text)
    row = {"influence": "an influence with a long name", "type": "B", "standard_uncertainty": 0.004, "share": 0.02}
    told["budget"] = [{**row, "sources": [long, long]} for _ in range(40)]
    told["notes"] = [{"name": str(n), "message": f"{n} {long}", "remedy": long} for n in range(40)]
    quantity = {**told["angle_error"], "unit": "mm"}
    told["quantities"] = {f"quantity_{n}": quantity for n in range(40)}
    files, drawn = [photo(n, (400, 300)) for n in range(6)], drawing((1500, 900))
    move = make_move(1.0, "clockwise", "clamped", long)
    run = make_run(
        result=told,
        inputs=Inputs(("correct", "miter"), tuple(InputValue(f"--option-{n}", long) for n in range(60))),
        conditions=Conditions(make_run().conditions.day, long, long, long, long, "fastened"),
        moves=(move,) * 30,
        struck=Struck(datetime(2026, 1, 1, tzinfo=UTC), long[:300]),
        evidence=tuple(kept(data, f"{n}{long}", "annotated") for n, data in enumerate(files)) * 4
        + (kept(drawn, "move.png", "drawing"),),
    )
    return run, by_hash(*files, drawn)


class Tags(HTMLParser):
    """The tags of a page, and what they load."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.opened: list[str] = []
        self.loaded: list[str] = []
        self.handlers: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Keep the tag."""
        self.opened.append(tag)
        self.loaded += [value or "" for name, value in attrs if name in {"src", "href"}]
        self.handlers += [name for name, _ in attrs if name.startswith("on")]


def test_the_sheet_holds_what_the_run_rests_on(make_run: Make, make_move: Make, jig: JigRecord) -> None:
    """Figures, budget, decision, inputs, moves, conditions, files with their hashes, versions and cautions, in both."""
    picture = photo()
    run = make_run(
        3,
        evidence=(kept(picture, "one.jpg", "photo"),),
        moves=(make_move(0.9, "counterclockwise", "fastened", "by feel"),),
        conditions=Conditions(make_run().conditions.day, "45 %", "new blade", "maple", "rain", "clamped"),
        check_of=make_run(2).identity,
    )
    said = evidence_html(jig, [run], by_hash(picture), **MADE)
    printed = " ".join(" ".join(pages(evidence_pdf(jig, [run], by_hash(picture), **MADE))).split())
    for words in (
        "sled: run 3, 2025-10-05",
        "broken tips",
        "root sum of squares",
        "101.62mm",
        "0.9 mm (0.0354 in) counterclockwise, fastened: by feel",
        "45 %",
        "new blade",
        "maple",
        "rain",
        run.evidence[0].sha256,
        run.identity,
        "cutvision/correction/1",
        "cutvision 0.1.0",
        "This cut checks the run 00000000",
    ):
        assert words in " ".join(said.split()).replace("&#39;", "'"), words
        assert words in printed, words
    assert "unplug" in said
    assert "unplug" in printed


def test_hostile_words_stay_words(make_run: Make, make_move: Make) -> None:
    """Whatever a person, a file name or a jig's text holds, the page has no script, no handler, nothing it loads."""
    hostile = JigRecord("x", HOSTILE, (JigVersion(datetime(2025, 1, 1, tzinfo=UTC), f"{HOSTILE}\n"),))
    told = json.loads(make_run().result_text)
    told["notes"] = [{"name": "x", "message": HOSTILE, "remedy": HOSTILE}]
    told["budget"][0] |= {"influence": HOSTILE, "sources": [HOSTILE]}
    told["decision"] |= {"action": "leave", "tolerance_said": HOSTILE}
    run = make_run(
        jig_name=HOSTILE,
        result=told,
        inputs=Inputs((HOSTILE,), (InputValue(HOSTILE, HOSTILE), InputValue("PHOTO", HOSTILE, sha256="0"))),
        conditions=Conditions(make_run().conditions.day, HOSTILE, HOSTILE, HOSTILE, HOSTILE),
        moves=(make_move(1.0, None, None, HOSTILE),),
        evidence=(kept(photo(), HOSTILE, "annotated"), kept(drawing(), HOSTILE, "drawing")),
        struck=Struck(datetime(2026, 1, 1, tzinfo=UTC), HOSTILE),
    )
    files = by_hash(photo(), drawing())
    page = Tags(evidence_html(hostile, [run, replace(run, number=2)], files, **MADE))
    assert "script" not in page.opened
    assert page.handlers == []
    assert page.loaded
    assert all(source.startswith("data:image/") for source in page.loaded)
    assert page.opened.count("img") == 4  # of each run the photo and the drawing; one struck run has no trend
    assert "{{ 7 * 7 }}" in "".join(pages(evidence_pdf(hostile, [run], files, **MADE)))
    assert ">49<" not in evidence_html(hostile, [run], files, **MADE)


def test_no_place_leaves_the_logbook(make_run: Make, jig: JigRecord) -> None:
    """Photos come into the sheet with their pixels alone, and of a path the file's name alone."""
    assert PLACE in photo()
    inputs = Inputs(("measure",), (InputValue("PHOTO", "/home/anna/pics/one.jpg", sha256="0"),))
    run = make_run(evidence=(kept(photo(), "one.jpg", "photo"),), inputs=inputs)
    said = evidence_html(jig, [run], by_hash(photo()), **MADE)
    embedded = [base64.b64decode(found) for found in re.findall(r"data:image/jpeg;base64,([^\"]+)", said)]
    assert len(embedded) == 1
    with Image.open(io.BytesIO(embedded[0])) as shown:
        assert not shown.getexif()
        assert "comment" not in shown.info
        assert shown.size == (80, 60)
    printed = evidence_pdf(jig, [run], by_hash(photo()), **MADE)
    assert PLACE not in embedded[0] + printed
    assert "anna" not in said + "".join(pages(printed))


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_run_takes_two_pages_at_most(make_run: Make, make_move: Make, jig: JigRecord, paper: Any) -> None:
    """However much a run holds; what is left out is counted. A plain run takes one page or two."""
    run, files = largest(make_run, make_move)
    printed = pages(evidence_pdf(jig, [run], files, paper=paper, **MADE))
    assert len(printed) == MOST_PAGES
    assert "more in the logbook" in printed[1]
    assert len(pages(evidence_pdf(jig, [make_run()], {}, paper=paper, **MADE))) == 1
    document = pypdfium2.PdfDocument(evidence_pdf(jig, [make_run()], {}, paper=paper, **MADE))
    wide, high = (side / 72 * 25.4 for side in document[0].get_size())
    assert (wide, high) == pytest.approx((210, 297) if paper == "a4" else (215.9, 279.4), abs=0.05)


def test_every_list_is_capped(make_run: Make, make_move: Make) -> None:
    """The words of the largest run are no more than two pages of print hold."""
    sheet = run_sheet(*largest(make_run, make_move))
    assert len(sheet.figures) == MOST_FIGURES + 1
    assert len(sheet.files) == MOST_ROWS + 1
    assert len(sheet.notes) == len(sheet.moves) == MOST_NOTES + 1
    assert len(sheet.budget) == MOST_ROWS + 3
    assert len(sheet.pictures) == 3
    assert sheet.budget[MOST_ROWS].influence == "30 more"


def test_a_jig_begins_with_its_trend(make_run: Make, jig: JigRecord) -> None:
    """Several runs: a page of the jig with chart and history, then each run anew; a retired jig is called so."""
    runs = [make_run(n, 20 * n, 0.01 * n) for n in range(1, 5)]
    printed = pages(evidence_pdf(jig, runs, {}, **MADE))
    assert len(printed) == 5
    assert "380 mm (14.96 in)" in printed[0]
    assert "2025-12-24" in printed[0]
    assert "run 4, 2025-12-24" in printed[4]
    sheet = jig_sheet(replace(jig, retired_at=datetime(2026, 1, 1, tzinfo=UTC)), runs, {}, **MADE)
    assert sheet.trend is not None
    assert sheet.title == "sled (retired)"
    without = jig_sheet(jig, [replace(run, headline=Headline()) for run in runs], {}, **MADE)
    assert without.trend is None
    assert "no trend" in without.verdict[0]


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"action": "leave"}, "Leave the fence alone."),
        ({"action": "cannot-tell"}, "Leave the fence as it is: its error is too small to see"),
    ],
)
def test_the_decision_leads(make_run: Make, changes: dict[str, Any], said: str) -> None:
    """The action first, then how the fence stands, with the cautions that go with it."""
    told = json.loads(make_run().result_text)
    told["decision"] |= changes
    sheet = run_sheet(make_run(result=told), {})
    assert said in sheet.answer[0]
    assert "clockwise of true" in sheet.answer[-1]
    assert any("unplug" in line for line in sheet.cautions)


def test_the_shims_of_a_run_stand_with_its_move(make_run: Make) -> None:
    """By the key of this version and of the first."""
    told = json.loads(make_run().result_text)
    for key, marks in (("shims", "shims"), ("leaf_stack", "leaves")):
        run = make_run(result={**told, key: {"best": {marks: ["0.50 mm", "0.40 mm"]}}})
        assert "Shims: 0.50 mm + 0.40 mm." in run_sheet(run, {}).answer


def test_what_cannot_be_read_is_not_made_up(make_run: Make) -> None:
    """A correction of an unknown kind gives a sheet that says so, and no move."""
    told = json.loads(make_run().result_text)
    sheet = run_sheet(make_run(result={**told, "method": "by guess"}), {})
    assert sheet.answer[0] == "This run's correction cannot be read by this version of the program."
    assert len(sheet.answer) == 1


def test_a_refusal_and_a_bare_measurement_have_sheets(
    make_run: Make, make_example: Callable[..., Any], jig: JigRecord
) -> None:
    """A refused photo says why; a measurement without a fence says what was measured, angles and lengths."""
    refusal = PhotoRefused("blurred", "It is blurred.", "Hold it still.", "a.jpg")
    refused = make_run(result=refusals_object([refusal]), headline=Headline(refused="blurred"))
    said = evidence_html(jig, [refused], {}, **MADE)
    assert "a.jpg is refused (blurred): It is blurred." in said
    assert "What to do: Hold it still." in said
    bare = make_run(result=measurement_object(make_example("miter").measurement), headline=Headline())
    printed = "".join(pages(evidence_pdf(jig, [bare], {}, **MADE)))
    assert "leg difference" in printed
    assert "Measured; nothing was asked about the fence." in printed


def test_a_file_that_is_no_picture_is_named_only(make_run: Make, jig: JigRecord) -> None:
    """Spoilt, missing or left where it was: the list names it and the sheet is made all the same."""
    spoilt, vector = b"\xff\xd8\xff not a photo", b"<svg xmlns='http://www.w3.org/2000/svg'/>"
    evidence = (
        kept(spoilt, "spoilt.jpg", "photo"),
        kept(b"gone", "gone.jpg", "photo", left_at="/home/anna/gone.jpg"),
        kept(vector, "move.svg", "drawing"),
    )
    run = make_run(evidence=evidence)
    said = evidence_html(jig, [run], by_hash(spoilt, vector), **MADE)
    assert said.count("<img") == 1  # an SVG drawing shows as it is
    assert "data:image/svg+xml;base64," in said
    assert "not read here" in said
    assert "anna" not in said
    printed = "".join(pages(evidence_pdf(jig, [run], by_hash(spoilt, vector), **MADE)))
    assert "move.svg, in the logbook" in printed


def test_an_svg_is_no_photo(make_run: Make, jig: JigRecord) -> None:
    """Only a drawing may be an SVG: a photo that turns out to be one is not shown."""
    vector = b"<?xml version='1.0'?><svg/>"
    run = make_run(evidence=(kept(vector, "one.jpg", "photo"),))
    assert "<img" not in evidence_html(jig, [run], by_hash(vector), **MADE)


def test_equal_content_gives_equal_bytes(make_run: Make, jig: JigRecord) -> None:
    """A sheet made twice is the same file."""
    run = make_run(evidence=(kept(photo(), "one.jpg", "photo"),))
    for make in (evidence_html, evidence_pdf):
        assert make(jig, [run], by_hash(photo()), **MADE) == make(jig, [run], by_hash(photo()), **MADE)  # type: ignore[operator]
