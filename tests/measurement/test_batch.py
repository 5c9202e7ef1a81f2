"""A batch of pieces: every result comes, whatever befalls one of them, and those of an earlier run are passed over."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any, cast

from cutvision.imaging.photo import read_photo_file
from cutvision.measurement.batch import Piece, measure_pieces, measured
from cutvision.measurement.pipeline import measure
from cutvision.measurement.request import MeasureRequest

SAMPLES = Path(__file__).parents[2] / "sample_images"
MITER = MeasureRequest("miter", 18.0)
PAIR = (SAMPLES / "cherry-miter-1.jpg", SAMPLES / "cherry-miter-2-turned.jpg")
EMPTY = SAMPLES / "refused" / "no-offcut.jpg"


class Deadly:
    """What ends the process that is handed it."""

    def __reduce__(self) -> tuple[Any, tuple[int]]:
        return os._exit, (1,)


def test_every_piece_has_its_result() -> None:
    """A good piece gives what it gives by itself; refused photos and missing files say why they fail."""
    pieces = [
        Piece("good", PAIR, MITER),
        Piece("empty", (PAIR[0], EMPTY), MITER),
        Piece("missing", (SAMPLES / "nowhere.jpg", EMPTY), MITER),
        Piece("seen before", PAIR, MITER),
        Piece("not a strip", PAIR[:1], MeasureRequest("strip", 18.0)),
    ]
    results = {one.name: one for one in measure_pieces(pieces, done={"seen before"}, processes=2)}
    assert set(results) == {"good", "empty", "missing", "not a strip"}
    alone = measure([read_photo_file(path) for path in PAIR], MITER, lambda _: None)
    batch = results["good"].measurement
    assert batch is not None
    for name, quantity in alone.quantities.items():
        assert batch.quantities[name].value == quantity.value
        assert batch.quantities[name].components == quantity.components
    assert [(t.reason, t.file) for t in results["empty"].troubles] == [("no-offcut", str(EMPTY))]
    assert results["empty"].good == (str(PAIR[0]),)
    assert [t.reason for t in results["missing"].troubles] == ["unreadable"]
    assert [t.reason for t in results["not a strip"].troubles] == ["wrong-shape"]
    assert all(one.measurement is None for name, one in results.items() if name != "good")


def test_a_process_that_dies_costs_only_what_was_in_hand() -> None:
    """A process that ends in the middle leaves those in hand without an answer, told so; the others are measured."""
    deadly = Piece("deadly", PAIR, cast("MeasureRequest", Deadly()))
    pieces = [deadly, *(Piece(f"{k}", PAIR[:1], MITER) for k in range(4))]
    results = {one.name: one for one in measure_pieces(pieces, processes=1)}
    assert set(results) == {"deadly", "0", "1", "2", "3"}
    assert "ended the process" in results["deadly"].troubles[0].message
    assert results["3"].measurement is not None


def test_a_fault_is_told_of_its_piece() -> None:
    """A fault of the program itself is a piece's trouble, with what it was."""
    result = measured(Piece("faulty", PAIR[:1], cast("MeasureRequest", None)))
    assert result.measurement is None
    assert "AttributeError" in result.troubles[0].message


def test_nothing_gives_nothing() -> None:
    """No pieces, or none left, start no process and give no result."""
    assert list(measure_pieces([])) == []
    assert list(measure_pieces([Piece("a", PAIR, MITER)], done=("a",))) == []
