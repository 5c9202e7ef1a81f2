"""What a person does there, from a new jig to the check cut, and that nothing is recorded twice or half."""

from __future__ import annotations

import re

import pytest
from web.visitor import SAMPLES, Visitor, answered, multipart, new_jig

from cutvision.jobs.registry import CORRECT
from cutvision.logbook.book import open_book
from cutvision.logbook.recompute import recompute
from cutvision.logbook.records import Run
from cutvision.logbook.verification import verify
from cutvision.reports.cautions import cautions
from cutvision.reports.encoded import encoded
from cutvision.web.bench import Bench
from cutvision.web.guard import Guard
from cutvision.web.render import page

MITER = [(name, (SAMPLES / name).read_bytes()) for name in ("miter-1.jpg", "miter-2-turned.jpg")]
LEGS = {"left_leg": "101.62mm", "right_leg": "101.05mm"}


def runs(bench: Bench) -> tuple[Run, ...]:
    """All that was recorded."""
    if not bench.folder.exists():
        return ()
    with open_book(bench.folder) as book:
        return book.runs()


def text_of(shown: str) -> str:
    """A page's words without its marks."""
    plain = re.sub(r"<[^>]+>", " ", shown)
    for name, sign in (("&#39;", "'"), ("&amp;", "&"), ("&lt;", "<"), ("&gt;", ">"), ("&#34;", '"')):
        plain = plain.replace(name, sign)
    return " ".join(plain.split())


def carries(shown: str, *topics: str) -> bool:
    """Whether the page shows every caution of the topics, word for word."""
    text = text_of(shown)
    return all(one in text for one in cautions(*topics))  # type: ignore[arg-type]


def test_from_photos_to_the_check_cut(here: Visitor, bench: Bench) -> None:
    """Two photos give the answer, its drawings and run 1; a move asks for a check cut, which says how it moved."""
    jig = new_jig(here)
    asked = here.get(f"{jig}/photo").text
    assert carries(asked, "photo", "cut")
    assert 'capture="environment"' in asked
    assert 'accept="image/*"' in asked
    shown = answered(here, here.post(f"{jig}/photo", {"thickness": "19mm"}, MITER))
    text = text_of(shown.text)
    assert carries(shown.text, "photo", "measure", "adjust", "cut")
    # the legs were rendered at 44.679 and 45.483 deg: kept on the left the fence stands 0.483 deg clockwise
    (error,) = re.findall(r"The fence stands (\d\.\d+) ± (\d\.\d+) deg \(95 %\) clockwise", text)
    assert abs(float(error[0]) - 0.48273) < 1.5 * float(error[1])
    assert "counterclockwise" in text
    assert "Recorded as run 1 of 'vee'." in text
    pictures = re.findall(r'src="(/answer/[^"]+)"', shown.text)
    assert len(pictures) == 3
    kinds = [here.get(path).headers["content-type"].split(";")[0] for path in pictures]
    assert sorted(kinds) == ["image/jpeg", "image/jpeg", "image/svg+xml"]

    (run,) = runs(bench)
    assert [value.value for value in run.inputs.values if value.option == "PHOTO"] == ["photo-1.jpg", "photo-2.jpg"]
    assert str(bench.uploads) not in run.result_text
    assert [one.kind for one in run.evidence].count("photo") == 2
    with open_book(bench.folder) as book:
        assert verify(book).sound
        assert recompute(book, run, encoded) == ()
    assert list(bench.uploads.iterdir()) == []

    page_of_run = here.get("/run/1").text
    assert carries(page_of_run, "measure", "adjust", "cut")
    moved = here.post("/run/1/move", {"set_to": "3.0mm", "turn": "clockwise"}, form="/run/1")
    assert carries(moved.text, "adjust", "cut")
    assert "the run advised counterclockwise" in text_of(moved.text)
    assert "check cut" in text_of(here.get("/").text)
    checking = here.get(f"{jig}/read/miter").text
    assert "It checks run 1" in checking
    legs = {"left_leg": "101.62mm", "right_leg": "100.05mm", "check_of": "1"}
    checked = answered(here, here.post(f"{jig}/read/miter", legs))
    assert "Recorded as run 2 of 'vee'." in text_of(checked.text)
    assert runs(bench)[1].check_of == run.identity
    assert "check" in (runs(bench)[1].correction or {})


def test_a_refused_photo_says_how_to_retake_it(here: Visitor, bench: Bench) -> None:
    """Why, what to do, the photo as it was seen, the cautions, and a way back; the refusal is recorded too."""
    jig = new_jig(here)
    photo = (SAMPLES / "refused" / "no-offcut.jpg").read_bytes()
    shown = answered(here, here.post(f"{jig}/photo", {}, [("x.jpg", photo)]))
    text = text_of(shown.text)
    assert "photo-1.jpg is refused (no-offcut)" in text
    assert "Lay the offcut in the blank window" in text
    assert carries(shown.text, "photo")
    assert f'href="{jig}/photo"' in shown.text
    (seen,) = re.findall(r'src="(/answer/[^"]+jpg)"', shown.text)
    assert here.get(seen).content.startswith(b"\xff\xd8")
    (run,) = runs(bench)
    assert run.headline.refused == "no-offcut"
    assert here.get("/run/1").status_code == 200
    assert "/run/1/picture-" not in here.get("/run/1").text  # a stranger's photo is not decoded in the page's process


READINGS = {
    "miter": ("miter", LEGS),
    "square": ("square", {"at_fence": "24.91mm", "far_end": "24.78mm", "between": "380mm"}),
    "direct": ("square", {"gap": "0.15mm", "over": "200mm", "gap_at": "far", "square_on": "left"}),
    "facing": ("square", {"gap": "0.3mm", "over": "200mm", "gap_at": "fence"}),
    "frame": ("miter", {"gap": "0.5mm", "gap_at": "heel", "stock": "60mm", "sides": "4"}),
    "arms": (
        "miter",
        {
            "left_arm_left_leg": "101.6mm",
            "left_arm_right_leg": "101.4mm",
            "right_arm_left_leg": "101.6mm",
            "right_arm_right_leg": "101.5mm",
        },
    ),
    "assembly": (
        "miter",
        {
            "left_pair_gap": "0.2mm",
            "left_pair_gap_at": "heel",
            "right_pair_gap": "0.3mm",
            "right_pair_gap_at": "heel",
            "mixed_gap": "0.25mm",
            "mixed_gap_at": "heel",
            "face": "80mm",
        },
    ),
}


def test_every_way_of_reading_is_tried() -> None:
    """No way that `correct` knows is left out here."""
    assert set(READINGS) == set(CORRECT)


@pytest.mark.parametrize("way", READINGS)
def test_typed_readings_are_answered_and_recorded(here: Visitor, bench: Bench, way: str) -> None:
    """Each way has its form with drawing and cautions, and gives a recorded answer that computes the same again."""
    kind, readings = READINGS[way]
    jig = new_jig(here, kind=kind)
    assert f'href="{jig}/read/{way}"' in here.get(f"{jig}/read").text
    asked = here.get(f"{jig}/read/{way}").text
    assert f"/how/{way}.svg" in asked
    assert b"<svg" in here.get(f"/how/{way}.svg").content
    assert carries(asked, "measure", "cut")
    shown = answered(here, here.post(f"{jig}/read/{way}", readings))
    assert "Recorded as run 1 of 'vee'." in text_of(shown.text), text_of(shown.text)
    (run,) = runs(bench)
    assert run.inputs.command == ("correct", way)
    with open_book(bench.folder) as book:
        assert recompute(book, run, encoded) == ()


def test_a_reading_without_unit_is_asked_again(here: Visitor, bench: Bench) -> None:
    """The form comes back with what was typed and what is wrong, in the form's own words; nothing is recorded."""
    jig = new_jig(here)
    shown = here.post(f"{jig}/read/miter", {**LEGS, "left_leg": "101.62"})
    assert shown.status_code == 422
    assert "“Left leg”" in text_of(shown.text)
    assert 'value="101.05mm"' in shown.text
    assert runs(bench) == ()


def test_another_kinds_way_is_not_there(here: Visitor) -> None:
    """A square jig has no miter's readings."""
    jig = new_jig(here, kind="square")
    assert here.get(f"{jig}/read/miter").status_code == 404


def test_the_same_upload_sent_again_makes_no_second_run(here: Visitor, bench: Bench) -> None:
    """A form sent again, as after a broken line, gives the same answer and one run; so do readings, moves and jigs."""
    jig = new_jig(here)
    photo = (SAMPLES / "refused" / "no-target.jpg").read_bytes()
    hidden = here.hidden(f"{jig}/photo")
    boundary, whole = multipart([*hidden.items()], [("x.jpg", photo)])
    headers = here.form_headers(boundary)
    assert here.ask("POST", f"{jig}/photo", headers=headers, content=whole[:-2000]).status_code == 400
    first, again = (here.ask("POST", f"{jig}/photo", headers=headers, content=whole) for _ in range(2))
    assert first.headers["location"] == again.headers["location"]
    answered(here, first)
    assert len(runs(bench)) == 1

    hidden = here.hidden(f"{jig}/read/miter")
    sent = [here.post(f"{jig}/read/miter", {**hidden, **LEGS}, form="") for _ in range(3)]
    answered(here, sent[0])
    assert len({one.headers["location"] for one in sent}) == 1
    assert len(runs(bench)) == 2

    hidden = here.hidden("/run/2")
    move = {**hidden, "set_to": "0.5mm", "turn": "clockwise"}
    words = {here.post("/run/2/move", move, form="").text.split("<main>")[1] for _ in range(2)}
    assert len({text_of(one) for one in words}) == 1
    assert len(runs(bench)[1].moves) == 1

    hidden = here.hidden("/jigs/new")
    made = [here.post("/jigs/new", {**hidden, "name": "sled", "kind": "square"}, form="") for _ in range(2)]
    assert len({one.headers["location"] for one in made}) == 1
    assert len(re.findall('class="card', here.get("/").text)) == 2


def test_a_broken_worker_records_nothing(here: Visitor, bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """The answer says so, the page goes on, and the photo's copy is gone."""
    from cutvision.web.worker import WorkerLostError

    def lost(_task: object) -> None:
        raise WorkerLostError("crash")

    jig = new_jig(here)
    monkeypatch.setattr(bench.desk.worker, "ask", lost)
    shown = answered(here, here.post(f"{jig}/photo", {}, MITER[:1]))
    assert "broke down" in text_of(shown.text)
    assert runs(bench) == ()
    assert list(bench.uploads.iterdir()) == []
    assert here.get(jig).status_code == 200


def test_a_full_queue_says_so(here: Visitor, bench: Bench) -> None:
    """When as many wait as may, the page says that it is busy; nothing is kept."""
    jig = new_jig(here)
    bench.desk.most_waiting = 0
    busy = here.post(f"{jig}/read/miter", LEGS)
    assert busy.status_code == 503
    assert "busy" in text_of(busy.text)
    assert runs(bench) == ()


NASTY = "<script>alert(1)</script>\"'&"


def test_script_in_names_and_notes_is_shown_as_text(here: Visitor) -> None:
    """What people type stays text wherever it is shown."""
    made = here.post(
        "/jigs/new", {"name": NASTY.replace("/", ""), "kind": "miter", "fence_length": "380mm", "note": NASTY}
    )
    assert made.status_code == 303
    jig = made.headers["location"]
    shown = answered(here, here.post(f"{jig}/read/miter", {**LEGS, "kept": "left"}))
    here.post("/run/1/move", {"set_to": "0.5mm", "turn": "clockwise", "note": NASTY}, form="/run/1")
    again = here.post(f"{jig}/read/miter", {**LEGS, "left_leg": NASTY})
    assert again.status_code == 422
    for text in (
        shown.text,
        again.text,
        *(here.get(path).text for path in ("/", jig, "/runs", "/run/1", f"{jig}/photo")),
    ):
        assert "<script" not in text
        assert "alert(1)" not in text or "&lt;script&gt;" in text


def test_a_jig_that_is_at_odds_is_asked_again(here: Visitor, bench: Bench) -> None:
    """What the command line refuses the page refuses, with what was typed still there."""
    shown = here.post("/jigs/new", {"name": "sled", "fence_length": "380"})
    assert shown.status_code == 422
    assert 'value="380"' in shown.text
    shown = here.post("/jigs/new", {"name": "sled"})
    assert "It is not said what the jig cuts." in text_of(shown.text)
    assert not bench.folder.exists()


def test_everything_can_be_taken_along(here: Visitor) -> None:
    """Evidence sheets, table, export, reference sheets and worksheets are downloads with names of the page's own."""
    jig = new_jig(here)
    answered(here, here.post(f"{jig}/read/miter", LEGS))
    wanted = {
        "/run/1/run.pdf": b"%PDF",
        f"{jig}/jig.pdf": b"%PDF",
        f"{jig}/runs.csv": b"run,day",
        "/logbook.zip": b"PK",
        "/print/sheet-letter.pdf": b"%PDF",
        "/print/miter-a4.pdf": b"%PDF",
    }
    for path, begins in wanted.items():
        got = here.get(path)
        assert got.content.startswith(begins), path
        assert got.headers["content-disposition"].startswith('attachment; filename="')
    for path in ("/print/sheet-a9.pdf", "/print/evil-a4.pdf", "/print/miter-a3.pdf"):
        assert here.get(path).status_code == 404


def test_the_answer_is_the_command_lines(here: Visitor, bench: Bench) -> None:
    """The page's headline is the recorded run's, word for word."""
    jig = new_jig(here)
    shown = text_of(answered(here, here.post(f"{jig}/read/miter", LEGS)).text)
    from cutvision.reports.encode import recorded_correction
    from cutvision.reports.says_correction import headline

    (run,) = runs(bench)
    correction = run.correction
    assert correction is not None
    assert all(line in shown for line in headline(recorded_correction(correction)))


def test_pages_are_escaped_by_rule(app: Guard) -> None:
    """Every template escapes, and none marks anything as safe."""
    from cutvision.web.render import TEMPLATES, _templates

    assert app is not None
    assert page is not None
    assert _templates().autoescape is True
    for template in TEMPLATES.iterdir():
        assert "|safe" not in template.read_text("utf-8").replace(" ", "")
