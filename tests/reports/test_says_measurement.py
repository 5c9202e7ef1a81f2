"""What a person reads: the answer first, figures no finer than their bounds, left and right kept apart in words."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any, Literal

import pytest

from cutvision.correction import Jig, correct_miter_from_angles
from cutvision.errors import PhotoRefused
from cutvision.measurement.result import SHAPES, Measurement, Shape
from cutvision.reports.cautions import cautions
from cutvision.reports.saw_ascii import ascii_scene
from cutvision.reports.says_measurement import SHOP_WORDS, measurement_report, piece_headline
from cutvision.reports.says_refusal import refusal_report
from cutvision.reports.terminal import LINES, to_terminal
from cutvision.uncertainty import Quantity

MakeExample = Callable[..., Any]


def flat(text: str) -> str:
    """The text with its line breaks taken back."""
    return " ".join(text.split())


def more(measurement: Measurement) -> str:
    """Everything, as text."""
    return to_terminal(measurement_report(measurement), "more")


@pytest.mark.parametrize("shape", SHAPES)
def test_the_report_fits_80_columns_and_holds_all_its_parts(shape: Shape, make_example: MakeExample) -> None:
    """Every quantity in shop words, photos, budgets, notes with remedies and cautions; the headline last."""
    measurement = make_example(shape).measurement
    text = more(measurement)
    assert max(len(line) for line in text.splitlines() if not line.startswith("Uncertainty budget")) <= 80
    whole = flat(text)
    assert whole.endswith(flat(" ".join(piece_headline(measurement))))
    parts = [SHOP_WORDS[name] for name in measurement.quantities if name != "corner"]
    parts += ["piece one.jpg: a4 sheet", "Turn the piece and shoot again.", "Brush the edge.", "print stretch"]
    assert [part for part in (*parts, *cautions("photo")) if part not in whole] == []


@pytest.mark.parametrize("shape", SHAPES)
def test_by_default_it_is_one_screen_with_the_figures(shape: Shape, make_example: MakeExample) -> None:
    """At most 24 lines of 80 columns, every quantity among them, the saw stopped before the offcut is lifted."""
    measurement = make_example(shape).measurement
    lines = to_terminal(measurement_report(measurement)).splitlines()
    assert len(lines) <= LINES
    assert max(map(len, lines)) <= 80
    assert sum(" ± " in line for line in lines) >= len(measurement.quantities)
    assert "unplugged and stopped before you lift the offcut" in flat(" ".join(lines))


def test_the_table_shows_both_units_for_lengths_and_no_false_figures(make_example: MakeExample) -> None:
    """A leg within 0.20 mm shows two decimals and its inches four; an angle within 0.020 deg shows three."""
    lines = more(make_example("miter", 0.1, 0.02).measurement).splitlines()
    leg = next(line for line in lines if line.startswith("left leg  "))
    assert leg.split() == ["left", "leg", "85.00", "±", "0.20", "mm", "3.3465", "±", "0.0079", "in"]
    cut = next(line for line in lines if line.startswith("left leg to cut"))
    assert cut.split()[-4:] == ["44.900", "±", "0.020", "deg"]


@pytest.mark.parametrize(
    ("shape", "off", "words"),
    [
        ("miter", 0.1, "the left leg is the longer"),
        ("miter", -0.1, "the right leg is the longer"),
        ("miter", 0.01, "evenly, as far as can be seen here"),
        ("strip", 0.1, "wider at the fence end"),
        ("strip", -0.1, "narrower at the fence end"),
        ("strip", -0.01, "parallel, as far as can be seen here"),
        ("corner", 0.1, "0.100 ± 0.020 deg, 0.52 ± 0.10 mm over 300 mm (20.9 ± 4.2 thou over a foot) more than square"),
        ("corner", -0.1, "less than square"),
        ("corner", 0.01, "square, as far as can be seen here"),
        ("board", 0.1, "Corner 2 is the farthest from square"),
        ("board", 0.01, "All four corners are square, as far as can be seen here"),
    ],
)
def test_the_headline_says_which_way_or_that_it_cannot_tell(
    shape: Shape, off: float, words: str, make_example: MakeExample
) -> None:
    """The sign of each quantity reads as the interface defines it, and within the bound no side is claimed."""
    assert words in flat(" ".join(piece_headline(make_example(shape, off, 0.02).measurement)))


@pytest.mark.parametrize(
    ("kept", "off", "words"),
    [
        (
            "left",
            0.1,
            "right leg, which lay at the fence, at 0.100 ± 0.020 deg, 0.52 ± 0.10 mm over 300 mm (20.9 ± 4.2 thou "
            "over a foot) more than the 45 deg wanted",
        ),
        (
            "right",
            0.1,
            "left leg, which lay at the fence, at 0.100 ± 0.020 deg, 0.52 ± 0.10 mm over 300 mm (20.9 ± 4.2 thou "
            "over a foot) less than the 45 deg wanted",
        ),
        ("right", -0.1, "more than the 45 deg wanted"),
    ],
)
def test_a_known_fence_leg_is_judged_by_its_own_angle(
    kept: Literal["left", "right"], off: float, words: str, make_example: MakeExample
) -> None:
    """Kept on the left, the right leg lay at the fence; kept on the right, the left one."""
    assert words in " ".join(piece_headline(make_example("miter", off, 0.02).measurement, kept=kept))


def test_a_miter_other_than_45_deg_is_not_judged_without_its_fence_leg(make_example: MakeExample) -> None:
    """Without --kept both angles are told and neither is called wrong."""
    told = " ".join(piece_headline(make_example("miter", 0.1, 0.02).measurement, nominal_rad=math.radians(22.5)))
    assert "44.900 ± 0.020 deg" in told
    assert "45.100 ± 0.020 deg" in told
    assert "--kept" in told


def test_the_budget_is_among_the_rest(make_example: MakeExample) -> None:
    """A budget row gives the influence, its kind, its part and its share; 64 % of the variance is the print's here."""
    measurement = make_example("strip", 0.1, 0.02).measurement
    assert "budget" not in to_terminal(measurement_report(measurement))
    rows = [line.split() for line in more(measurement).splitlines()]
    assert ["print", "stretch", "B", "0.0080", "64%", "an", "ordinary", "printer"] in rows
    assert ["together", "0.0100", "root", "sum", "of", "squares"] in rows


def test_of_several_photos_each_ones_own_reading_is_given(make_example: MakeExample) -> None:
    """Two photos show what each gives by itself, and one that was not used says so; a single photo repeats nothing."""
    measurement = make_example("strip", 0.1, 0.02).measurement
    (shown,) = measurement.photos
    other = replace(shown, file="two.jpg", quantities={"taper": shown.quantities["taper"].scaled(0.5)}, used=False)
    text = flat(more(replace(measurement, photos=(shown, other))))
    assert "by itself: taper, + wider at the fence end 0.100 ± 0.020 deg." in text
    assert "by itself: taper, + wider at the fence end 0.050 ± 0.010 deg; not used." in text
    assert "by itself" not in more(measurement)


def test_with_a_correction_what_was_measured_stands_beside_the_move(make_example: MakeExample) -> None:
    """The angles that the answer rests on, the drawing, and the move last, on one screen."""
    measurement = make_example("miter", 0.1, 0.02).measurement
    q = measurement.quantities
    jig = Jig(Quantity(380.0, "mm"), "left")
    fence = correct_miter_from_angles(
        q["angle_left"], q["angle_right"], q["corner"], jig, split_error=q["split_error"], edge_form_rad=1e-4
    )
    report = measurement_report(measurement, fence, kept="left")
    text = to_terminal(report)
    assert len(text.splitlines()) <= LINES
    assert "left leg to cut 44.900 ± 0.020 deg, right leg to cut 45.100 ± 0.020 deg" in flat(text)
    assert report.drawing is not None
    assert "\n".join(ascii_scene(report.drawing)) in text
    assert flat(text).endswith(flat(" ".join(report.headline)))


def test_letters_are_compared_where_left_and_right_matter(make_example: MakeExample) -> None:
    """A miter and a strip name the pencil letters; a corner and a board have no left and right."""
    for shape, wanted in (("miter", True), ("strip", True), ("corner", False), ("board", False)):
        assert ("your pencil letter" in flat(more(make_example(shape).measurement))) is wanted


def test_a_refusal_says_which_photo_what_was_seen_and_what_to_do() -> None:
    """Each refused photo has its file, its reason, its message and its remedy."""
    refusal = PhotoRefused("no-offcut", "The window is bare.", "Lay it in.", file="a b.jpg")
    report = refusal_report([refusal], ["good.jpg"])
    assert report.headline == (
        "a b.jpg is refused (no-offcut): The window is bare.",
        "What to do: Lay it in.",
        "These can be measured without it: good.jpg.",
    )
    assert len(to_terminal(report).splitlines()) <= LINES
