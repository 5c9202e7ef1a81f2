"""A tolerance the way people say it."""

from __future__ import annotations

import math

import pytest

from cutvision.correction import joint_error, parse_tolerance
from cutvision.errors import InputError

MITER = math.pi / 4


def degrees(text: str, nominal_rad: float | None = MITER) -> float:
    """The error of one cut in degrees."""
    return math.degrees(parse_tolerance(text, "--tolerance", nominal_rad).angle_rad)


@pytest.mark.parametrize("text", ["0.05deg", "3min", "3'", "180sec", " 0.05 deg "])
def test_an_angle_stays_an_angle(text: str) -> None:
    """0.05 deg is 3 minutes of arc is 180 seconds (closed form)."""
    assert degrees(text, None) == pytest.approx(0.05)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("1thou/12in", 0.00477465),
        ("1thou/1ft", 0.00477465),
        ("3thou/18in", 0.00954930),
        ("0.003in/18in", 0.00954930),
        ("3 thou over 18 in", 0.00954930),
        ("0.2908882mm/1m", 1 / 60),
        ("17.455065mm/1000mm", 1.0),
        ("1/1000in/12in", 0.00477465),
        ("0.001in/ft", 0.00477465),
        ("1 thou per foot", 0.00477465),
        ("0.001in over a foot", 0.00477465),
        ("0.2908882mm/m", 1 / 60),
        ("0.001in/in", 0.0572958),
    ],
)
def test_a_deviation_over_a_length(text: str, expected: float) -> None:
    """atan(deviation / length): 0.001 in over 12 in, 0.003 over 18 in, a minute and a degree a metre (closed form)."""
    assert degrees(text, None) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("text", ["2thou/24in", "3thou/12in", "0.002in/24in"])
def test_what_shops_call_good_enough_is_read(text: str) -> None:
    """0.002 to 0.003 in over 12 to 24 in is 0.005 to 0.014 deg for one cut (common practice, no source)."""
    assert 0.0045 < degrees(text) < 0.0145


@pytest.mark.parametrize(
    ("sides", "error_deg", "stock_mm", "gap_mm"),
    [(4, 0.1, 60.0, 0.2961920), (8, 0.1, 60.0, 0.2266956), (6, 0.05, 50.0, 0.1007666)],
)
def test_a_gap_in_a_miter_joint(sides: int, error_deg: float, stock_mm: float, gap_mm: float) -> None:
    """Both cuts off by e open a joint by 2 e over stock / cos(180 / N): the gaps of closed frames, seven figures."""
    found = joint_error(gap_mm, stock_mm, math.pi / sides)
    assert math.degrees(found) == pytest.approx(error_deg, rel=2e-6)
    assert degrees(f"gap:{gap_mm}mm/{stock_mm}mm", math.pi / sides) == pytest.approx(error_deg, rel=2e-6)


def test_a_gap_in_a_butt_joint() -> None:
    """One square cut opens by e over the stock itself: 0.1 mm on 60 mm is 0.0955 deg, to first order gap / width."""
    assert degrees("gap:0.1mm/60mm", 0.0) == pytest.approx(math.degrees(0.1 / 60), rel=1e-6)


@pytest.mark.parametrize("text", ["gap:0.1mm/60mm", "gap 0.1mm on 60mm", "GAP: 0.1 mm / 60 mm", "gap:100um/6cm"])
def test_ways_to_write_a_gap(text: str) -> None:
    """Blanks, capitals and units do not matter."""
    assert degrees(text) == pytest.approx(degrees("gap:0.1mm/60mm"))


def test_inches_and_millimetres_say_the_same() -> None:
    """1 in is 25.4 mm."""
    assert degrees("gap:0.01in/2in") == pytest.approx(degrees("gap:0.254mm/50.8mm"))
    assert degrees("0.01in/18in") == pytest.approx(degrees("0.254mm/457.2mm"))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("3min", "3min"),
        ("3thou/18in", "3thou over 18in"),
        ("gap:0.1mm/60mm", "a gap of at most 0.1mm in a joint of two 45 deg cuts 60mm wide"),
    ],
)
def test_the_words_are_kept(text: str, said: str) -> None:
    """What was said is said again, the gap with the joint that it was reckoned for."""
    assert parse_tolerance(text, "--tolerance", MITER).said == said
    assert "butt joint 60mm wide" in parse_tolerance("gap:0.1mm/60mm", "--tolerance", 0.0).said


@pytest.mark.parametrize(
    ("text", "message", "remedy"),
    [
        ("", "without a unit", "0.05deg"),
        ("0.05", "without a unit", "0.05deg"),
        ("3thou", "a length alone", "3thou/18in"),
        ("0.1/300mm", "a length alone", "0.1mm/300mm"),
        ("gap:0.1mm", "how wide the joint is", "gap:0.1mm/60mm"),
        ("gap:60mm/0.1mm", "wider than a joint", "gap first"),
        ("gap:0mm/60mm", "more than zero", "above zero"),
        ("gap:0.1mm/0mm", "more than zero", "above zero"),
        ("300mm/0.1mm", "no saw needs so much", "deviation first"),
        ("gap:10mm/60mm", "no saw needs so much", "deviation first"),
        ("0mm/300mm", "more than zero", "above zero"),
        ("0deg", "more than zero", "above zero"),
        ("-0.1mm/300mm", "cannot be negative", "without a sign"),
        ("1e400mm/1mm", "more than 100 m", "wrong unit"),
        ("0.1mm/300deg", "an angle; a length is needed", "Type it like"),
        ("nandeg", "cannot be read", "Type an angle"),
        ("infdeg", "cannot be read", "Type an angle"),
        ("5%", "cannot be read", "Type an angle"),
    ],
)
def test_what_is_no_tolerance_is_refused(text: str, message: str, remedy: str) -> None:
    """What was seen, and what to type instead, in the option's name."""
    with pytest.raises(InputError, match=message) as refused:
        parse_tolerance(text, "--tolerance", MITER)
    assert remedy in refused.value.remedy


def test_a_gap_needs_to_know_the_cut() -> None:
    """Without the cut's angle nobody knows how a gap and an error go together."""
    with pytest.raises(InputError, match="at which angle") as refused:
        parse_tolerance("gap:0.1mm/60mm", "--tolerance")
    assert "0.05deg" in refused.value.remedy


@pytest.mark.parametrize(
    ("gap_mm", "stock_mm", "nominal_rad"),
    [
        (0.0, 60.0, 0.5),
        (-1.0, 60.0, 0.5),
        (0.1, math.nan, 0.5),
        (0.1, 0.0, 0.5),
        (0.1, -60.0, 0.5),
        (math.inf, 60.0, 0.5),
        (0.1, 60.0, math.pi / 2),
    ],
)
def test_no_joint_is_refused(gap_mm: float, stock_mm: float, nominal_rad: float) -> None:
    """Lengths above zero and a cut from 0 to below 90 deg, else there is no joint."""
    with pytest.raises(InputError):
        joint_error(gap_mm, stock_mm, nominal_rad)
