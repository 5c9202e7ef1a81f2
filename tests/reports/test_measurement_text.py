"""What a person reads: the answer first, figures no finer than their bounds, left and right kept apart in words."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any, Literal

import pytest

from cutvision.errors import PhotoRefused
from cutvision.measurement.result import SHAPES, Shape
from cutvision.reports.cautions import cautions
from cutvision.reports.measurement_text import SHOP_WORDS, headline, measurement_text, refusal_text

MakeExample = Callable[..., Any]


def flat(text: str) -> str:
    """The text with its line breaks taken back."""
    return " ".join(text.split())


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("answer", [(), ("Put a leaf of 0.45 mm there.",)])
def test_the_report_fits_80_columns_and_holds_all_its_parts(
    shape: Shape, answer: tuple[str, ...], make_example: MakeExample
) -> None:
    """Answer or headline first; then every quantity in shop words, photos, notes with remedies and cautions."""
    measurement = make_example(shape).measurement
    text = measurement_text(measurement, answer, with_budget=True)
    assert max(len(line) for line in text.splitlines()) <= 80
    assert flat(text).startswith(flat((answer or headline(measurement))[0]))
    whole = flat(text)
    parts = [SHOP_WORDS[name] for name in measurement.quantities]
    parts += ["piece one.jpg: a4 sheet", "Turn the piece and shoot again.", "Brush the edge.", "print stretch"]
    parts += cautions("adjust", "cut") if answer else cautions("photo")
    assert [part for part in parts if part not in whole] == []


def test_the_table_shows_both_units_for_lengths_and_no_false_figures(make_example: MakeExample) -> None:
    """A leg within 0.20 mm shows two decimals and its inches four; an angle within 0.020 deg shows three."""
    lines = measurement_text(make_example("miter", 0.1, 0.02).measurement).splitlines()
    leg = next(line for line in lines if line.startswith("left leg  "))
    assert leg.split() == ["left", "leg", "85.00", "±", "0.20", "mm", "3.3465", "±", "0.0079", "in"]
    cut = next(line for line in lines if line.startswith("left leg to cut"))
    assert cut.split()[-4:] == ["44.900", "±", "0.020", "deg"]


@pytest.mark.parametrize(
    ("shape", "off", "words"),
    [
        ("miter", 0.1, "the left leg is the longer"),
        ("miter", -0.1, "the right leg is the longer"),
        ("miter", 0.01, "evenly, as far as this can tell"),
        ("strip", 0.1, "wider at the fence end"),
        ("strip", -0.1, "narrower at the fence end"),
        ("strip", -0.01, "parallel, as far as this can tell"),
        ("corner", 0.1, "0.100 ± 0.020 deg (6.0 ± 1.2') more than square"),
        ("corner", -0.1, "less than square"),
        ("corner", 0.01, "square, as far as this can tell"),
        ("board", 0.1, "Corner 2 is the farthest from square"),
        ("board", 0.01, "All four corners are square, as far as this can tell"),
    ],
)
def test_the_headline_says_which_way_or_that_it_cannot_tell(
    shape: Shape, off: float, words: str, make_example: MakeExample
) -> None:
    """The sign of each quantity reads as the interface defines it, and within the bound no side is claimed."""
    assert words in flat(" ".join(headline(make_example(shape, off, 0.02).measurement)))


@pytest.mark.parametrize(
    ("kept", "off", "words"),
    [
        (
            "left",
            0.1,
            "right leg, which lay at the fence, at 0.100 ± 0.020 deg (6.0 ± 1.2') more than the 45 deg wanted",
        ),
        (
            "right",
            0.1,
            "left leg, which lay at the fence, at 0.100 ± 0.020 deg (6.0 ± 1.2') less than the 45 deg wanted",
        ),
        ("right", -0.1, "more than the 45 deg wanted"),
    ],
)
def test_a_known_fence_leg_is_judged_by_its_own_angle(
    kept: Literal["left", "right"], off: float, words: str, make_example: MakeExample
) -> None:
    """Kept on the left, the right leg lay at the fence; kept on the right, the left one."""
    assert words in " ".join(headline(make_example("miter", off, 0.02).measurement, kept=kept))


def test_a_miter_other_than_45_deg_is_not_judged_without_its_fence_leg(make_example: MakeExample) -> None:
    """Without --kept both angles are told and neither is called wrong."""
    told = " ".join(headline(make_example("miter", 0.1, 0.02).measurement, nominal_rad=math.radians(22.5)))
    assert "44.900 ± 0.020 deg" in told
    assert "45.100 ± 0.020 deg" in told
    assert "--kept" in told


def test_the_budget_is_printed_on_request_alone(make_example: MakeExample) -> None:
    """A budget row gives the influence, its kind, its part and its share; 64 % of the variance is the print's here."""
    measurement = make_example("strip", 0.1, 0.02).measurement
    assert "Budget" not in measurement_text(measurement)
    rows = [line.split() for line in measurement_text(measurement, with_budget=True).splitlines()]
    assert ["print", "stretch", "B", "0.0080", "64%"] in rows
    assert ["edge", "points", "A", "0.0060", "36%"] in rows
    assert ["together", "0.0100"] in rows


def test_of_several_photos_each_ones_own_reading_is_told(make_example: MakeExample) -> None:
    """Two photos show what each says by itself, and one that was not used says so; a single photo repeats nothing."""
    measurement = make_example("strip", 0.1, 0.02).measurement
    (shown,) = measurement.photos
    other = replace(shown, file="two.jpg", quantities={"taper": shown.quantities["taper"].scaled(0.5)}, used=False)
    text = flat(measurement_text(replace(measurement, photos=(shown, other))))
    assert "by itself: taper (+ wider at the fence end) 0.100 ± 0.020 deg two.jpg" in text
    assert "by itself: taper (+ wider at the fence end) 0.050 ± 0.010 deg; not used" in text
    assert "by itself" not in measurement_text(measurement)


def test_letters_are_compared_where_left_and_right_matter(make_example: MakeExample) -> None:
    """A miter and a strip name the pencil letters; a corner and a board have no left and right."""
    for shape, wanted in (("miter", True), ("strip", True), ("corner", False), ("board", False)):
        assert ("pencil letters" in flat(measurement_text(make_example(shape).measurement))) is wanted


def test_a_refusal_says_which_photo_what_was_seen_and_what_to_do() -> None:
    """Each refused photo has its file, its reason, its message and its remedy."""
    text = flat(refusal_text([PhotoRefused("no-offcut", "The window is bare.", "Lay it in.", file="a b.jpg")]))
    assert text == "a b.jpg is refused (no-offcut). Seen: The window is bare. Do: Lay it in."
