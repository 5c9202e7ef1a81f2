"""Several photos of one piece: what cancels, what is averaged, and what is not."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest

from cutvision.measurement.combine import Combined, combine, named
from cutvision.measurement.observation import Observation
from cutvision.measurement.pipeline import DISAGREE
from cutvision.target import SHEETS
from cutvision.target.print_scale import ORDINARY_SHEAR, ORDINARY_STRETCH, PrintReadings, print_scale
from cutvision.uncertainty import Influence

SHEET = SHEETS["a4"]
LEFT, RIGHT, LEGS = math.radians(44.9), math.radians(45.1), 150.0
NOISE_RAD, NOISE_MM = 5e-5, 0.02
PRINT_UNSEEN = 0.01  # how little one photo tells of the print here
THICKNESS_MM = 0.1


def observation(photo: int, phi_rad: float, a: float, b: float, noise: Sequence[float] = (0, 0, 0)) -> Observation:
    """One photo of a 45 deg miter whose cut runs along phi on a print of anisotropy a and half shear b.

    The photo takes the sheet for one of anisotropy 0 and shear 0, and hardly knows better; so its angles carry the
    print's error as the closed forms say: -a sin 2phi + b cos 2phi in the split error, -2a cos 2phi - 2b sin 2phi in
    the corner.
    """
    split = np.array([-math.sin(2 * phi_rad), math.cos(2 * phi_rad)])
    corner = np.array([-2 * math.cos(2 * phi_rad), -2 * math.sin(2 * phi_rad)])
    # angle_left + angle_right + corner make a half turn; split error is half of right less left
    left, right = -corner / 2 - split, -corner / 2 + split
    by_print = np.zeros((5, 2))
    by_print[0], by_print[1] = left, right
    values = np.array([LEFT, RIGHT, LEGS, 0.0, 0.0]) + by_print @ np.array([a, b]) + np.array([*noise, 0.0, 0.0])
    columns, influences = [], []
    # what the photo gets wrong of the print it gets wrong of the angles too: a misjudged by e changes them by -e
    for k, name in enumerate(("anisotropy", "shear")):
        column = np.zeros(5)
        column[:3] = -by_print[:3, k] * PRINT_UNSEEN
        column[3 + k] = PRINT_UNSEEN * (1.0 if k == 0 else 2.0)
        columns.append(column)
        influences.append(Influence(f"{name}/photo {photo}", "print stretch", "A"))
    for k, size in enumerate((NOISE_RAD, NOISE_RAD, NOISE_MM)):
        columns.append(size * np.eye(5)[k])
        influences.append(Influence(f"edge {k}/photo {photo}", "edge points", "A"))
    columns.append(THICKNESS_MM * np.array([0, 0, -0.4, 0, 0]))
    influences.append(Influence("thickness", "thickness", "B"))
    return Observation(values, tuple(influences), np.column_stack(columns))


def combined(*observations: Observation, readings: PrintReadings | None = None) -> Combined:
    """Photos of a miter brought together with an ordinary or a measured print."""
    return combine("miter", observations, print_scale(SHEET, readings))


def test_a_turned_pair_is_free_of_the_print() -> None:
    """Two photos, one turned by 90 deg, give the true angles on a print worse than ordinary, and say so.

    Reversal (Evans, Hocken and Estler, CIRP Annals 45, 1996): both terms change their sign with a quarter turn.
    """
    a, b = 1.5 * ORDINARY_STRETCH / math.sqrt(2), -1.5 * ORDINARY_SHEAR / 2
    pair = combined(*(observation(k + 1, math.radians(25 + 90 * k), a, b) for k in range(2)))
    quantities = named(pair)
    assert pair.parameters[:2] == pytest.approx([LEFT, RIGHT], abs=1e-6)
    assert quantities["split_error"].standard_uncertainty < 1.5 * NOISE_RAD
    assert quantities["corner"].standard_uncertainty < 2.5 * NOISE_RAD


def test_a_turned_pair_tells_the_print() -> None:
    """The same pair tells the print's anisotropy and shear, which no photo of the piece alone could."""
    a, b = 0.003, -0.001
    pair = combined(*(observation(k + 1, math.radians(25 + 90 * k), a, b) for k in range(2)))
    assert pair.print_shape[1:] == pytest.approx([a, 2 * b], abs=1e-5)


@pytest.mark.parametrize("phi_deg", [0.0, 20.0, 45.0, 80.0])
def test_one_photo_carries_the_ordinary_print_in_its_bound(phi_deg: float) -> None:
    """One photo's bounds hold what an ordinary print may do to the angles, by the closed forms of a and b.

    var(split) = a^2 sin^2 2phi + b^2 cos^2 2phi with a the standard uncertainty of (ex - ey)/2 and b that of g/2. The
    photo's own glimpse of the print, 1 %, takes some thousandths of it away.
    """
    phi = math.radians(phi_deg)
    quantities = named(combined(observation(1, phi, 0.0, 0.0)))
    a, b = ORDINARY_STRETCH / math.sqrt(2), ORDINARY_SHEAR / 2
    split = math.hypot(a * math.sin(2 * phi), b * math.cos(2 * phi), NOISE_RAD / math.sqrt(2))
    corner = math.hypot(2 * a * math.cos(2 * phi), 2 * b * math.sin(2 * phi), NOISE_RAD * math.sqrt(2))
    assert quantities["split_error"].standard_uncertainty == pytest.approx(split, rel=0.02)
    assert quantities["corner"].standard_uncertainty == pytest.approx(corner, rel=0.02)


def test_a_rule_on_the_print_narrows_the_bound() -> None:
    """Both sides read to 0.1 mm narrow what an unequal stretch does to the split error, and tell the legs' scale."""
    seen = observation(1, math.radians(45), 0.001, 0.0)
    readings = PrintReadings(SHEET.width_mm * 1.002, SHEET.height_mm, read_to_mm=0.1)
    plain, read = named(combined(seen)), named(combined(seen, readings=readings))
    assert read["split_error"].standard_uncertainty < 0.6 * plain["split_error"].standard_uncertainty
    assert read["leg_left"].standard_uncertainty < plain["leg_left"].standard_uncertainty
    assert read["split_error"].value == pytest.approx(
        (RIGHT - LEFT) / 2, abs=2 * read["split_error"].standard_uncertainty
    )


def test_a_print_made_larger_makes_lengths_longer() -> None:
    """A frame read 1 % larger than drawn both ways makes the legs 1 % longer and no angle different."""
    seen = observation(1, 0.0, 0.0, 0.0)
    readings = PrintReadings(SHEET.width_mm * 1.01, SHEET.height_mm * 1.01, read_to_mm=0.05)
    plain, read = named(combined(seen)), named(combined(seen, readings=readings))
    assert read["leg_left"].value / plain["leg_left"].value == pytest.approx(1.01, abs=2e-4)
    assert read["corner"].value == pytest.approx(plain["corner"].value, abs=1e-5)


def test_the_order_of_photos_is_irrelevant() -> None:
    """Three photos in any order give the same values and the same uncertainties."""
    rng = np.random.default_rng(2)
    photos = [
        observation(k + 1, math.radians(30 + 90 * k), 0.001, -0.0005, rng.normal(0, [NOISE_RAD, NOISE_RAD, NOISE_MM]))
        for k in range(3)
    ]
    forward, backward = named(combined(*photos)), named(combined(*photos[::-1]))
    for name, quantity in forward.items():
        assert backward[name].value == pytest.approx(quantity.value, rel=1e-9)
        assert backward[name].standard_uncertainty == pytest.approx(quantity.standard_uncertainty, rel=1e-6)


def parts_named(combination: Combined, quantity: str, name: str) -> float:
    """Root sum of squares of a quantity's contributions of one name."""
    components = named(combination)[quantity].components
    return math.sqrt(sum(c**2 for influence, c in components.items() if influence.name == name))


def test_the_thickness_that_photos_share_is_not_averaged_down() -> None:
    """Four photos halve what the edge points do to a leg; what the thickness does stays, for all share the stock."""
    one = combined(observation(1, 0.0, 0.0, 0.0))
    four = combined(*(observation(k + 1, math.radians(90 * k), 0.0, 0.0) for k in range(4)))
    assert parts_named(four, "leg_left", "thickness") == pytest.approx(
        parts_named(one, "leg_left", "thickness"), rel=1e-3
    )
    assert parts_named(four, "leg_left", "edge points") == pytest.approx(
        parts_named(one, "leg_left", "edge points") / 2, rel=0.02
    )


def test_photos_that_differ_more_than_they_say_widen_the_bound() -> None:
    """Two photos whose legs differ by fifteen standard uncertainties are noticed, and their result's bound grows.

    By their angles a turned pair could not tell: a stretched print may explain any difference of those.
    """
    still = observation(1, 0.0, 0.0, 0.0)
    agreeing = combined(still, observation(2, math.radians(90), 0.0, 0.0))
    apart = combined(still, observation(2, math.radians(90), 0.0, 0.0, (0.0, 0.0, 15 * NOISE_MM)))
    assert agreeing.disagreement < 1
    assert apart.disagreement > DISAGREE
    grown, plain = (named(c)["angle_left"].standard_uncertainty for c in (apart, agreeing))
    assert grown > 2 * plain
    assert parts_named(agreeing, "angle_left", "photo to photo") == 0


def test_one_photo_tells_nothing_of_disagreement() -> None:
    """With one photo there is nothing to disagree with."""
    assert math.isnan(combined(observation(1, 0.0, 0.0, 0.0)).disagreement)


def test_what_both_legs_share_leaves_their_difference() -> None:
    """The print's mean stretch and the thickness bear on both legs alike, so their difference hardly feels them."""
    quantities = named(combined(observation(1, 0.0, 0.0, 0.0)))
    for name in ("thickness",):
        leg, difference = (
            sum(c for i, c in quantities[q].components.items() if i.name == name)
            for q in ("leg_left", "leg_difference")
        )
        assert abs(difference) < 0.01 * abs(leg)
