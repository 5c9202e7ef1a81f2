"""The annotated photo: what is drawn where, what stays out of the file, and what happens when it cannot be written."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from cutvision.errors import InputError
from cutvision.measurement.result import SHAPES, Shape
from cutvision.reports import annotated, canvas
from cutvision.reports.annotated import annotate, write_picture

MakeExample = Callable[..., Any]
SIGNS = "±°×'ÄÖÜäöüßéèñ"
NEAR = 40  # of 255: what resampling and casing leave of a colour in its middle


def drawn(picture: Image.Image, colour: canvas.Colour) -> int:
    """How many pixels of the picture are nearly of a colour."""
    return int(np.sum(np.max(np.abs(np.asarray(picture, dtype=int) - np.array(colour)), axis=2) < NEAR))


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("wood", [(232, 214, 180), (60, 40, 28)])
def test_every_shape_is_drawn_with_ghost_rings_and_frame(
    shape: Shape, wood: tuple[int, int, int], make_example: MakeExample
) -> None:
    """The picture is 1600 px wide and shows the true edge, the dropped points and the frame in their colours."""
    case = make_example(shape, 0.1, 0.02, wood)
    before = case.photo.stored.copy()
    picture = annotate(case.photo, case.measurement, 0)
    assert picture.mode == "RGB"
    assert picture.width == annotated.LONG_SIDE_PX
    assert drawn(picture, annotated.GHOST) > 500
    assert drawn(picture, annotated.DROPPED) > 50
    assert drawn(picture, annotated.FRAME) > 500
    assert np.array_equal(case.photo.stored, before)


def test_no_true_cut_is_drawn_where_none_is_known(make_example: MakeExample) -> None:
    """A 22.5 deg miter without --kept shows no ghost line."""
    case = make_example("miter")
    assert drawn(annotate(case.photo, case.measurement, 0, nominal_rad=np.radians(22.5)), annotated.GHOST) == 0


def test_the_arrow_is_left_out_when_the_side_is_not_known(
    make_example: MakeExample, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An arrow is drawn for a departure beyond its bound and for no other."""
    arrows: list[int] = []
    monkeypatch.setattr(canvas, "arrow", lambda *_: arrows.append(1))
    for off, expected in ((0.1, 1), (0.01, 0)):
        arrows.clear()
        case = make_example("miter", off, 0.02)
        annotate(case.photo, case.measurement, 0)
        assert len(arrows) == expected


@pytest.mark.parametrize(
    ("shape", "wanted"),
    [
        ("miter", {"left leg", "right leg", "cut", "44.900° ± 0.020°", "45.100° ± 0.020°", "90.000° ± 0.020°"}),
        ("strip", {"fence end", "far end", "first long edge", "second long edge"}),
        ("corner", {"first edge", "second edge", "90.100° ± 0.020°"}),
        ("board", {"1: 90.000° ± 0.020°", "2: 90.100° ± 0.020°", "3: 89.900° ± 0.020°", "4: 90.000° ± 0.020°"}),
    ],
)
def test_plates_name_every_edge_and_corner_without_covering_each_other(
    shape: Shape,
    wanted: set[str],
    make_example: MakeExample,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Each shape's plates carry its names and angles with bounds; no two overlap and all lie inside the picture."""
    plates: dict[str, canvas.Box] = {}
    original = canvas.plate
    size = (0, 0)

    def remembered(draw: Any, text: str, *arguments: Any) -> canvas.Box:
        nonlocal size
        plates[text] = original(draw, text, *arguments)
        size = arguments[-1]
        return plates[text]

    monkeypatch.setattr(canvas, "plate", remembered)
    case = make_example(shape, 0.1, 0.02)
    annotate(case.photo, case.measurement, 0)
    assert set(plates) == wanted
    boxes = list(plates.values())
    assert all(box[0] >= 0 and box[1] >= 0 and box[2] <= size[0] and box[3] <= size[1] for box in boxes)
    pairs = [(a, b) for i, a in enumerate(boxes) for b in boxes[:i]]
    assert not any(a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3] for a, b in pairs)


def test_the_fence_end_is_named_at_the_sheets_left_however_the_camera_was_held(
    make_example: MakeExample,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """With the photo upside down the fence end's plate lies to the right."""
    places: dict[str, float] = {}
    monkeypatch.setattr(
        canvas, "plate", lambda _draw, text, at, *_: places.update({text: float(at[0])}) or (0.0, 0.0, 0.0, 0.0)
    )
    case = make_example("strip")
    annotate(case.photo, case.measurement, 0)
    assert places["fence end"] < places["far end"]
    size = np.array([case.photo.width_px - 1, case.photo.height_px - 1])
    shown = case.measurement.photos[0]
    edges = tuple(
        replace(e, line_px=size - e.line_px, used_px=size - e.used_px, dropped_px=size - e.dropped_px)
        for e in shown.edges
    )
    turned = replace(shown, edges=edges, frame_px=size - shown.frame_px)
    annotate(case.photo, replace(case.measurement, photos=(turned,)), 0)
    assert places["fence end"] > places["far end"]


def test_the_answer_and_the_cautions_stand_in_the_picture(
    make_example: MakeExample, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The panels hold the answer first, then pencil letters, the enlargement in words, and the cautions for a cut."""
    told: list[str] = []
    original = canvas.panel

    def remembered(paragraphs: Any, width_px: int) -> Image.Image:
        told.extend(text for text, _, _ in paragraphs)
        return original(paragraphs, width_px)

    monkeypatch.setattr(canvas, "panel", remembered)
    case = make_example("miter", 0.1, 0.02)
    annotate(case.photo, case.measurement, 0, ["Put a leaf of 0.45 mm there.", "Off by 0.1 deg."])
    assert told[:2] == ["Put a leaf of 0.45 mm there.", "Off by 0.1°."]
    text = " ".join(told)
    for words in ("pencil letters L and R", "50 times larger", "unplug", "clamp or fasten the fence", "manual"):
        assert words in text


def test_a_sixteen_bit_photo_is_drawn_like_an_eight_bit_one(make_example: MakeExample) -> None:
    """Sixteen-bit pixels give the picture that their upper eight bits give."""
    case = make_example("corner")
    deep = replace(case.photo, stored=case.photo.stored.astype(np.uint16) << 8)
    shallow = annotate(case.photo, case.measurement, 0)
    assert np.array_equal(np.asarray(annotate(deep, case.measurement, 0)), np.asarray(shallow))


def test_the_typeface_has_every_sign_that_is_drawn() -> None:
    """No sign is drawn as the box that stands for a missing one."""
    typeface = canvas.font(40)
    missing = typeface.getmask("\U0010ffff").getbbox(), bytes(typeface.getmask("\U0010ffff"))
    for sign in SIGNS:
        mask = typeface.getmask(sign)
        assert (mask.getbbox(), bytes(mask)) != missing, sign


@pytest.mark.parametrize(("name", "form"), [("a b.png", "PNG"), ("ä.JPG", "JPEG"), ("c.jpeg", "JPEG")])
def test_a_picture_is_written_whole_and_says_nothing_of_the_place(
    name: str, form: str, make_example: MakeExample, tmp_path: Path
) -> None:
    """The file's form follows its ending, it carries no EXIF, and nothing else is left in the folder."""
    case = make_example("corner")
    picture = annotate(case.photo, case.measurement, 0)
    write_picture(picture, tmp_path / name)
    with Image.open(tmp_path / name) as back:
        assert (back.format, back.size) == (form, picture.size)
        assert dict(back.getexif()) == {}
    assert [path.name for path in tmp_path.iterdir()] == [name]


@pytest.mark.parametrize("name", ["a.gif", "a", "missing/a.png", "folder.png"])
def test_a_picture_that_cannot_be_written_is_said_in_words(name: str, tmp_path: Path) -> None:
    """Another ending, a folder that is not there or a folder in the file's place raise InputError and leave nothing."""
    (tmp_path / "folder.png").mkdir()
    with pytest.raises(InputError) as caught:
        write_picture(Image.new("RGB", (4, 4)), tmp_path / name)
    assert caught.value.remedy
    assert [path.name for path in tmp_path.iterdir()] == ["folder.png"]
