"""`cutvision compare` from the outside: caliper readings against photos, or against what was measured before."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from cutvision.jobs.measured_file import photo_reading_from_json

SAMPLES = Path(__file__).parents[2] / "sample_images"
MITER = ["compare", "--shape", "miter"]
LEGS = ["--left-leg", "75.07mm", "--right-leg", "74.80mm", "--corner", "89.95deg"]
STRIP = ["compare", "--shape", "strip", "--at-fence", "27.18mm", "--far-end", "26.82mm", "--between", "160mm"]


def rows(u: float) -> list[dict[str, Any]]:
    """A budget of two rows, one of each type."""
    return [
        {"influence": "edge points", "type": "A", "standard_uncertainty": 0.8 * u, "share": 0.64, "sources": ["s"]},
        {"influence": "print stretch", "type": "A, B", "standard_uncertainty": 0.6 * u, "share": 0.36, "sources": []},
    ]


def measured() -> dict[str, Any]:
    """What `measure --json` would print of a miter, exact to 0.007 deg."""
    angles = {"angle_left": 44.92275, "angle_right": 45.12633, "corner": 89.95092, "split_error": 0.10179}
    lengths = {"leg_left": 75.12048, "leg_right": 74.85426}
    told = {name: ("deg", value, 0.007) for name, value in angles.items()}
    told |= {name: ("mm", value, 0.15) for name, value in lengths.items()}
    return {
        "schema": "cutvision/measurement/1",
        "shape": "miter",
        "photos": [{"lens_height_mm": 315.0, "edges": [{"height_mm": 21.0}, {"height_mm": 0.0}]}],
        "quantities": {
            name: {"value": v, "unit": unit, "standard_uncertainty": u, "coverage_factor": 2.0}
            for name, (unit, v, u) in told.items()
        },
        "edge_form": dict.fromkeys(angles, 0.01),
        "budget": {name: rows(u) for name, (_, _, u) in told.items()},
        "notes": [],
    }


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """The measurement in a file."""
    path = tmp_path / "piece.json"
    path.write_text(json.dumps(measured()), "utf-8")
    return path


def test_a_photo_and_a_caliper_on_the_sample_strip_agree(run: Callable[..., Any]) -> None:
    """The rendered strip's true widths (expected.json: taper 0.13 deg), read to the hundredth, agree in taper."""
    done = run(*STRIP, SAMPLES / "strip.jpg", "--thickness", "20mm", "--fence-length", "560mm", "--kept", "left")
    assert (done.status, done.err) == (0, "")
    assert "Caliper and photo agree in angle" in done.out.rsplit("\n\n", 1)[-1]
    for word in ("taper", "E_n", "nplug", "560 mm"):
        assert word in done.out
    lines = done.out.rstrip().splitlines()
    assert len(lines) <= 24
    assert max(map(len, lines)) <= 80
    more = run(*STRIP, SAMPLES / "strip.jpg", "--thickness", "20mm", "--more")
    assert "Both together" in more.out


def test_what_was_measured_before_can_be_compared_later(run: Callable[..., Any], file: Path) -> None:
    """The JSON object: schema, verdict, every angle with its E_n, the combination and the fence's correction."""
    done = run(*MITER, "--photo-json", file, *LEGS, "--fence-length", "420mm", "--kept", "left", "--json")
    told = json.loads(done.out)
    assert (done.status, told["schema"], told["shape"], told["verdict"]) == (
        0,
        "cutvision/comparison/1",
        "miter",
        "agree",
    )
    assert set(told["angles"]) == {"angle_left", "angle_right", "split_error"}
    for one in told["angles"].values():
        bounds = math.hypot(one["caliper"]["expanded_uncertainty"], one["photo"]["expanded_uncertainty"])
        difference = abs(one["caliper"]["value"] - one["photo"]["value"])
        assert one["e_n"] == pytest.approx(difference / bounds, rel=1e-9)
    assert told["correction"]["angle_error"]["value"] == pytest.approx(45 - told["combined"]["angle_right"]["value"])
    assert told["correction"]["turn"] == "counterclockwise"


def test_exchanged_legs_are_told_and_nothing_is_moved(run: Callable[..., Any], file: Path) -> None:
    """With left and right exchanged the text says so first, and neither combines nor tells a move."""
    exchanged = ["--left-leg", "74.80mm", "--right-leg", "75.07mm", "--tips", "0mm"]
    asked = ["--fence-length", "420mm", "--shim-set", "metric-20"]
    done = run(*MITER, "--photo-json", file, *exchanged, *asked)
    assert done.status == 0
    answer = done.out.rsplit("\n\n", 1)[-1]
    assert answer.startswith("Caliper and photo disagree")
    assert "Left and right are swapped" in answer
    assert max(map(len, done.out.splitlines())) <= 80
    for word in ("Both together", "shim of", "Put a"):
        assert word not in done.out
    told = json.loads(run(*MITER, "--photo-json", file, *exchanged, *asked, "--json").out)
    assert (told["verdict"], told["combined"], "correction" in told) == ("disagree", {}, False)


def test_a_disagreement_that_nothing_explains_says_so(run: Callable[..., Any], file: Path) -> None:
    """Two legs wrong at once are no single slip."""
    done = run(*MITER, "--photo-json", file, "--left-leg", "79.137mm,79.139mm", "--right-leg", "71.411mm,71.412mm")
    assert "No single slip explains it." in done.out


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ([*MITER, *LEGS], "no photo"),
        ([*MITER, "a.jpg", "--photo-json", "FILE", *LEGS], "both given"),
        ([*MITER, "--photo-json", "FILE", "--left-leg", "75mm"], "--right-leg is missing"),
        ([*MITER, "--photo-json", "FILE", *LEGS, "--between", "3mm"], "does not belong to a miter"),
        ([*STRIP, "--photo-json", "FILE", "--tips", "0mm"], "does not belong to a strip"),
        ([*STRIP, "--photo-json", "FILE"], "holds a miter"),
        ([*MITER, "--photo-json", "FILE", *LEGS, "--thickness", "19mm"], "measured already"),
        ([*MITER, "--photo-json", "FILE", *LEGS, "--tolerance", "0.05deg"], "--fence-length is not"),
        ([*MITER, "--photo-json", "FILE", *LEGS, "--turns", "4"], "--turns belongs"),
        ([*MITER, "--photo-json", "none.json", *LEGS], "cannot be read"),
        ([*MITER, "--photo-json", "FILE", "--left-leg", "75", "--right-leg", "74mm"], "without a unit"),
        ([*MITER, "--photo-json", "FILE", "--left-leg", "-75mm", "--right-leg", "74mm"], "negative"),
        ([*MITER, "a.jpg", *LEGS, "--print-read-to", "0.2mm"], "--print-read-to says"),
        ([*MITER, "a.jpg", *LEGS, "--thickness", "1900mm"], "no table saw"),
    ],
)
def test_each_refusal(run: Callable[..., Any], file: Path, arguments: list[str], says: str) -> None:
    """What is missing, at odds or impossible is refused with exit status 2 and what to do."""
    done = run(*(str(file) if word == "FILE" else word for word in arguments))
    assert (done.status, done.out) == (2, "")
    assert says in " ".join(done.err.split())
    assert "What to do" in done.err


def test_a_bad_photo_is_refused_as_by_measure(run: Callable[..., Any], tmp_path: Path) -> None:
    """A file that is no image leaves with exit status 3 and the refusal's object."""
    bad = tmp_path / "a.jpg"
    bad.write_text("no image", "utf-8")
    done = run(*MITER, bad, *LEGS, "--json")
    assert done.status == 3
    assert json.loads(done.out)["schema"] == "cutvision/refusal/1"


def test_the_file_gives_back_value_bound_and_degrees_of_freedom() -> None:
    """k = 2.776 is Student's t for 4 degrees of freedom (JCGM 100:2008, table G.2); angles come back in rad."""
    told = measured()
    told["quantities"]["angle_left"]["coverage_factor"] = 2.7764451
    one = photo_reading_from_json(json.dumps(told), "miter", "f").quantities["angle_left"]
    assert math.degrees(one.value) == pytest.approx(44.92275)
    assert math.degrees(one.standard_uncertainty) == pytest.approx(0.007)
    assert one.degrees_of_freedom == pytest.approx(4.0, rel=1e-5)


@pytest.mark.parametrize(
    "spoil",
    [
        lambda t: t.update(schema="other"),
        lambda t: t.pop("budget"),
        lambda t: t["quantities"].pop("corner"),
        lambda t: t["quantities"]["corner"].update(value="45"),
        lambda t: t["quantities"]["corner"].update(value=math.nan),
        lambda t: t["quantities"]["corner"].update(unit="furlong"),
        lambda t: t["budget"].update(corner=[]),
        lambda t: t.update(photos=[]),
        lambda t: t.update(quantities=[1]),
    ],
)
def test_a_spoiled_file_is_refused_in_words(
    run: Callable[..., Any], file: Path, spoil: Callable[[dict[str, Any]], None]
) -> None:
    """A missing part, a text for a number, NaN or another schema ends in words, not in a trace."""
    told = measured()
    spoil(told)
    file.write_text(json.dumps(told), "utf-8")
    done = run(*MITER, "--photo-json", file, *LEGS)
    assert done.status == 2
    assert "is not what `cutvision measure --json` prints" in " ".join(done.err.split())


def test_a_doubtful_pair_says_read_once_more(run: Callable[..., Any], file: Path) -> None:
    """E_n between 1 and 1.5: both together, with a wider bound, and the doubt said first."""
    doubtful = ["--left-leg", "75.13mm", "--right-leg", "74.80mm", "--corner", "89.95deg", "--tips", "0mm"]
    done = run(*MITER, "--photo-json", file, *doubtful, "--corner-to", "0.01deg", "--read-to", "0.02mm")
    assert done.out.rsplit("\n\n", 1)[-1].startswith("Caliper and photo fit badly (E_n 1.")
    more = run(*MITER, "--photo-json", file, *doubtful, "--corner-to", "0.01deg", "--read-to", "0.02mm", "--more").out
    for words in ("Both together", "What would make them agree"):
        assert words in more


def test_a_photo_without_lengths_is_compared_by_angles_alone(run: Callable[..., Any], file: Path) -> None:
    """Lengths are for information and may be missing."""
    told = measured()
    for name in ("leg_left", "leg_right"):
        del told["quantities"][name]
    file.write_text(json.dumps(told), "utf-8")
    done = run(*MITER, "--photo-json", file, *LEGS)
    assert done.status == 0
    assert "Lengths, for information" not in done.out


def test_a_huge_file_is_refused(run: Callable[..., Any], file: Path) -> None:
    """A file of 21 MB is no measurement."""
    with file.open("r+b") as opened:
        opened.truncate(21_000_000)
    done = run(*MITER, "--photo-json", file, *LEGS)
    assert (done.status, "21,000,000 bytes" in " ".join(done.err.split())) == (2, True)


@pytest.mark.parametrize("content", [b"", b"[]", b"3", b"\xff\xfe", b"{" * 100_000, b"null"])
def test_any_other_content_is_refused(run: Callable[..., Any], file: Path, content: bytes) -> None:
    """Empty, foreign or binary content is refused with exit status 2."""
    file.write_bytes(content)
    assert run(*MITER, "--photo-json", file, *LEGS).status == 2
