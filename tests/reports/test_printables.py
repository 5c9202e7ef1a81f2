"""The pages in printables/ are what the program draws now."""

from __future__ import annotations

import importlib.util
import io
import re
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2
import pytest
from PIL import Image

from cutvision.correction.result import Method
from cutvision.reports.cautions import cautions

FOLDER = Path(__file__).parents[2] / "printables"
REMAKE = "run python printables/remake.py, and look at what has changed"
OTHER_PIXELS = 1e-4  # share that may differ from one release of the font renderer to the next
SHADE = 64  # of 255: by how much a pixel must differ to count


@pytest.fixture(scope="module")
def remake() -> Any:
    """The script that makes them."""
    spec = importlib.util.spec_from_file_location("remake_printables", FOLDER / "remake.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def made(remake: Any) -> dict[str, bytes]:
    """Each file as it would be written now."""
    contents: dict[str, bytes] = remake.contents()
    return contents


def page_of(pdf: bytes) -> tuple[str, np.ndarray]:
    """The words and the picture of a PDF's only page."""
    with pypdfium2.PdfDocument(pdf) as document:
        assert len(document) == 1
        page = document[0]
        return page.get_textpage().get_text_bounded(), page.render(scale=2, grayscale=True).to_numpy()


def differing(one: np.ndarray, other: np.ndarray) -> float:
    """The share of pixels that differ."""
    assert one.shape == other.shape
    return float(np.mean(np.abs(one.astype(int) - other) > SHADE))


def test_the_folder_holds_what_is_made_and_no_more(made: dict[str, bytes]) -> None:
    """Every file but the README and the script is made, and every file that is made is there."""
    assert {path.name for path in FOLDER.iterdir() if path.is_file()} == {*made, "README.md", "remake.py"}


def test_every_file_is_what_the_program_draws(made: dict[str, bytes]) -> None:
    """Pages have the same words and the same picture, drawings the same picture, the text the same bytes."""
    for name, now in made.items():
        was = (FOLDER / name).read_bytes()
        if name.endswith(".pdf"):
            (words, page), (words_now, page_now) = page_of(was), page_of(now)
            assert words == words_now, f"{name}: {REMAKE}"
            assert differing(page, page_now) < OTHER_PIXELS, f"{name}: {REMAKE}"
        elif name.endswith(".png"):
            pictures = [np.asarray(Image.open(io.BytesIO(content)).convert("L")) for content in (was, now)]
            assert differing(*pictures) < OTHER_PIXELS, f"{name}: {REMAKE}"
        else:
            assert was == now, f"{name}: {REMAKE}"


def test_every_way_of_reading_is_shown_and_the_cautions_come_first(remake: Any) -> None:
    """Each method has its drawing on the page, and every caution stands before the first of them."""
    text = " ".join((FOLDER / remake.HOW_TO_READ).read_text("utf-8").split())
    assert set(re.findall(r"how-to-read-(\w+)\.png", text)) == set(remake.TITLES) == set(Method.__args__)
    before = text[: text.index("## ")]
    assert all(caution in before for caution in cautions("measure", "cut"))


def test_every_sheet_carries_the_cautions(made: dict[str, bytes]) -> None:
    """A printed page lies in the shop alone, so the first caution (saw off and unplugged) stands on each."""
    first = cautions("measure")[0]
    for name, content in made.items():
        if name.endswith(".pdf"):
            assert first in " ".join(page_of(content)[0].split()), name
