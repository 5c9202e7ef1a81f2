"""The jobs beside measure and correct, as people who write Python call them."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import fields
from pathlib import Path
from typing import Any

import pytest

from cutvision.correction.jig_file import JigFile
from cutvision.errors import InputError
from cutvision.jobs.card import MiterCard, SquareCard, run_miter_card, run_square_card
from cutvision.jobs.compare import Compare, run_compare
from cutvision.jobs.jig import KnownJig, fill
from cutvision.jobs.joint import JointAsked, run_joint
from cutvision.jobs.measure import Measure
from cutvision.jobs.plan import PlanSaid, run_plan
from cutvision.jobs.repeatability import Repeatability, run_repeatability
from cutvision.jobs.said import declared, request, said_of
from cutvision.jobs.steps import Steps, run_steps
from cutvision.jobs.target_check import TargetCheck, kept_in_jig, run_target_check

SAMPLES = Path(__file__).parents[2] / "sample_images"
RUN = ("cut 0.30deg ccw to 0.02deg", "move 1.5mm cw", "cut 0.08deg ccw to 0.02deg")
JOBS: dict[type, tuple[Callable[[Any], object], dict[str, Any]]] = {
    Compare: (
        run_compare,
        {
            "photos": (SAMPLES / "strip.jpg",),
            "shape": "strip",
            "at_fence": "26.14mm",
            "far_end": "25.84mm",
            "between": "160mm",
            "thickness": "18mm",
        },
    ),
    Repeatability: (run_repeatability, {"angles": "44.97deg,45deg,45.03deg"}),
    PlanSaid: (run_plan, {"kind": "miter", "fence_length": "380mm", "tolerance": "0.1deg"}),
    JointAsked: (run_joint, {"error": "0.1deg", "sides": "4", "stock": "60mm"}),
    Steps: (run_steps, {"steps": RUN, "fence_length": "380mm"}),
    MiterCard: (run_miter_card, {"fence_length": "380mm", "piece_width": "102mm"}),
    SquareCard: (run_square_card, {"fence_length": "560mm", "between": "380mm", "kept": "left"}),
    TargetCheck: (run_target_check, {"long_side": "250.4mm", "short_side": "179.8mm"}),
}
BAD = {
    "LENGTH": "19",
    "ANGLE": "45mm",
    "ANGLES": "45",
    "TOLERANCE": "0.05",
}


@pytest.mark.parametrize("kind", JOBS)
def test_every_text_is_checked_in_its_options_name(kind: type) -> None:
    """A number without its unit, or of the wrong kind, is refused before anything is computed."""
    _, least = JOBS[kind]
    checked = [one for one in declared(kind) if one.say.kind is not None and one.say.kind.metavar in BAD]
    assert checked
    for one in checked:
        assert one.say.kind is not None
        with pytest.raises(InputError, match=f"^{one.option}"):
            request(kind, {**least, one.field: BAD[one.say.kind.metavar]})


@pytest.mark.parametrize("kind", JOBS)
def test_a_choice_that_is_none_and_a_name_that_is_none_are_refused(kind: type) -> None:
    """The message names the option, and what it may be; a field that the job does not know is refused too."""
    _, least = JOBS[kind]
    for one in (other for other in declared(kind) if other.choices):
        with pytest.raises(InputError, match=one.option) as refused:
            request(kind, {**least, one.field: "nothing"})
        assert one.choices[0] in refused.value.remedy
    with pytest.raises(InputError, match="wibble"):
        request(kind, {**least, "wibble": "1mm"})


@pytest.mark.parametrize("kind", JOBS)
def test_a_request_says_again_what_was_said(kind: type) -> None:
    """What a request holds builds the same request, so that a kept one can be run again; every field is declared."""
    _, least = JOBS[kind]
    asked = request(kind, least)
    assert request(kind, said_of(asked)) == asked
    assert {one.field for one in declared(kind)} == {one.name for one in fields(kind)}  # type: ignore[arg-type]


@pytest.mark.parametrize("kind", JOBS)
def test_each_job_runs_from_python(kind: type) -> None:
    """The least that a job needs gives a result, the same each time."""
    run, least = JOBS[kind]
    if kind is not Compare:  # photos take seconds, and are compared elsewhere
        assert run(request(kind, least)) == run(request(kind, least))


def test_the_figures_are_those_of_the_formulas() -> None:
    """Each job's main figure by its closed form."""
    joint = run_joint(request(JointAsked, {**JOBS[JointAsked][1]}))
    face_mm = 60 / math.cos(math.pi / 4)
    assert joint.gap_each.value == pytest.approx(2 * face_mm * math.sin(math.radians(0.2) / 2), rel=1e-12)
    study = run_repeatability(request(Repeatability, JOBS[Repeatability][1]))
    assert study.spread.standard_deviation_rad == pytest.approx(math.radians(0.03), rel=1e-9)
    run = run_steps(request(Steps, JOBS[Steps][1]))
    assert run.gain is not None
    assert run.gain.quantity.value == pytest.approx(-0.22 / -math.degrees(math.atan(1.5 / 380)), rel=1e-9)
    card = run_miter_card(request(MiterCard, JOBS[MiterCard][1]))
    row = card.rows.metric[-1]
    error = math.pi / 4 - math.atan((102 + row.difference_mm / 2) / (102 - row.difference_mm / 2))
    assert abs(row.correction.angle_error.value) == pytest.approx(abs(error), rel=1e-9)
    assert row.correction.move.distance.value == pytest.approx(380 * math.tan(abs(error)), rel=1e-9)


def test_a_plan_without_a_tolerance_takes_the_stated_one() -> None:
    """0.1 mm over 300 mm is atan(1 / 3000), closed form."""
    plan = run_plan(request(PlanSaid, {"kind": "square", "fence_length": "560mm"})).plan
    assert plan.question.tolerance_rad == pytest.approx(math.atan(1 / 3000), rel=1e-12)


def test_a_card_holds_the_fence_as_the_jig_says_it() -> None:
    """A jig's fence, pivot, shim place and screw stand in the move of every row."""
    options = {"fence-length": "560mm", "fence": "single", "pivot": "left", "kept": "left", "screw-pitch": "1mm"}
    jig = KnownJig(JigFile("square", options={**options, "screw-pushes": "away"}), "sled")
    filled = fill(SquareCard, {"between": "380mm"}, jig, "square")
    assert filled.said["screw_pitch"] == "1mm"
    assert set(filled.sources.values()) == {"jig"}
    held = run_square_card(request(SquareCard, filled.said)).rows.more.move.geometry
    assert held is not None
    assert (held.kind, held.pivot) == ("single", "left")
    assert held.screw is not None
    assert held.screw.pitch_mm == 1.0


@pytest.mark.parametrize("kind", [PlanSaid, MiterCard, Steps, Compare, Repeatability])
def test_a_miter_jig_fills_each_job(kind: type) -> None:
    """What is typed wins over the jig's."""
    jig = KnownJig(JigFile("miter", options={"fence-length": "380mm", "kept": "left", "cut-spread": "0.01deg"}), "sled")
    known = {one.field for one in declared(kind)}
    said = fill(kind, dict.fromkeys(known), jig).said
    assert {name: said[name] for name in ("fence_length", "kept", "cut_spread") if name in known} == {
        name: text
        for name, text in {"fence_length": "380mm", "kept": "left", "cut_spread": "0.01deg"}.items()
        if name in known
    }
    for name in {"fence_length", "kept"} & known:
        assert fill(kind, {**dict.fromkeys(known), name: "typed"}, jig).said[name] == "typed"


def test_a_jigs_sheet_is_about_photos_alone() -> None:
    """The sheet's readings go to what reads photos, under each job's own option; not to what was measured already."""
    sheet = {"long-side": "250.4mm", "sheet-read-to": "0.2mm", "read-to": "0.03mm"}
    jig = KnownJig(JigFile("miter", options=sheet), "sled")
    compare = fill(Compare, {}, jig).said
    assert (compare["long_side"], compare["print_read_to"], compare["read_to"]) == ("250.4mm", "0.2mm", "0.03mm")
    assert fill(Measure, {}, jig).said["read_to"] == "0.2mm"
    assert fill(Repeatability, {}, jig).said["read_to"] == "0.2mm"
    assert "long_side" not in fill(Compare, {"photo_json": Path("piece.json")}, jig).said


def test_a_square_jig_means_a_shape_that_it_cuts() -> None:
    """A squaring jig is measured by its strip, and its cuts' repeatability by corners."""
    jig = KnownJig(JigFile("square"), "sled")
    assert [fill(kind, {}, jig).said["shape"] for kind in (Measure, Compare, Repeatability)] == [
        "strip",
        "strip",
        "corner",
    ]


def printed(ex: float, ey: float, g: float) -> dict[str, str]:
    """What a perfect rule reads on an A4 sheet, 250 by 180 mm, printed with I + [[ex, g], [0, ey]] (closed form)."""
    wide, high = 250.0, 180.0
    return {
        "long_side": f"{(1 + ex) * wide:.6f}mm",
        "short_side": f"{math.hypot(g * high, (1 + ey) * high):.6f}mm",
        "diagonal_down": f"{math.hypot((1 + ex) * wide + g * high, (1 + ey) * high):.6f}mm",
        "diagonal_up": f"{math.hypot((1 + ex) * wide - g * high, (1 + ey) * high):.6f}mm",
        "read_to": "0.0001mm",
    }


@pytest.mark.parametrize(
    ("ex", "ey", "g", "verdict"),
    [
        (0.0, 0.0, 0.0, "ordinary"),
        (0.002, -0.001, 0.001, "ordinary"),
        (0.0085, 0.008, 0.0, "scaled"),
        (0.006, -0.002, 0.0, "uneven"),
        (0.0, 0.0, -0.004, "uneven"),
    ],
)
def test_what_the_printer_did_comes_back(ex: float, ey: float, g: float, verdict: str) -> None:
    """Stretch and shear come back from perfect readings, and no length or angle of 45 deg is off by more than told."""
    found = run_target_check(request(TargetCheck, printed(ex, ey, g)))
    assert (found.paper, found.verdict) == ("a4", verdict)
    for one, true in ((found.long_stretch, ex), (found.short_stretch, ey), (found.shear_rad, g)):
        assert one.value == pytest.approx(true, abs=2e-6)
    angles, lengths = [], []
    for step in range(360):
        one, other = (complex(math.cos(phi), math.sin(phi)) for phi in (math.radians(step), math.radians(step + 45)))
        seen = [complex((1 + ex) * v.real + g * v.imag, (1 + ey) * v.imag) for v in (one, other)]
        turned = seen[1] / seen[0]
        angles.append(abs(math.atan2(turned.imag, turned.real) - math.pi / 4))
        lengths.append(abs(abs(seen[0]) - 1))
    assert found.angle_off_rad == pytest.approx(max(angles), abs=3e-5)  # second order in the stretch
    assert found.length_off == pytest.approx(max(lengths), abs=1e-6)


def test_reading_the_print_narrows_what_it_leaves() -> None:
    """More sides read leave a smaller part in an angle's uncertainty; unread it is that of an ordinary printer."""
    said = printed(0.001, 0.0, 0.0005) | {"read_to": "0.25mm"}
    left = []
    for count in (1, 2, 3, 4):
        some = dict(list(said.items())[:count])
        found = run_target_check(request(TargetCheck, {**some, "read_to": "0.25mm"}))
        left.append(found.angle_left_rad)
        assert found.angle_left_rad < found.angle_unread_rad
    assert left == sorted(left, reverse=True)


def test_readings_that_lie_apart_are_known_no_better_than_that() -> None:
    """Two readings 1 mm apart: one of them is wrong by half of that at least, whatever was said of reading."""
    found = run_target_check(
        request(TargetCheck, {"long_side": "250mm,251mm", "short_side": "180.1mm", "read_to": "0.1mm"})
    )
    assert found.read_to_mm == pytest.approx(0.5)
    assert found.sides[0].mean_mm == pytest.approx(250.5)


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({}, "Nothing was read"),
        ({"long_side": "210mm"}, "no printer is off by"),
        ({"long_side": "250mm", "paper": "letter"}, "on the letter sheet"),
        ({"long_side": "250mm", "read_to": "20mm"}, "read to 20 mm"),
        (printed(0.0, 0.0, 0.0) | {"diagonal_up": "305mm", "read_to": "0.25mm"}, "do not fit one another"),
    ],
)
def test_what_no_sheet_gives_is_refused(said: dict[str, str], words: str) -> None:
    """Nothing at all, another paper's side, another paper, a rule that reads nothing, and sides at odds."""
    with pytest.raises(InputError) as refused:
        run_target_check(request(TargetCheck, said))
    assert words in refused.value.message


def test_a_jig_keeps_what_measures_as_it_was_read() -> None:
    """One reading stays as it was typed; of several the mean is kept; how well it was read, and the day, too."""
    asked = request(TargetCheck, {"long_side": "9 7/8in", "short_side": "180.1mm,180.3mm"})
    kept = kept_in_jig(asked, run_target_check(asked), "2026-11-25")
    assert kept == {
        "sheet-read-to": "0.25mm",
        "sheet-read-on": "2026-11-25",
        "long-side": "9 7/8in",
        "short-side": "180.200mm",
    }
