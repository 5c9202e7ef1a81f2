"""The rows of every budget: what an influence is shared by, and what narrows it. Whoever asks either asks here."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

SharedBy = Literal["nothing", "photo", "piece", "sheet", "instrument", "saw"]


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a budget, and so one kind of influence.

    shared_by: the least that two results must have in common for it to be the same in both: "nothing" when each reading
    meets it anew. by_readings, by_pieces, by_photos: whether the mean of n readings, pieces or photos divides it by the
    root of n (JCGM 100:2008, 4.2.3). by_length: p, when edges f times as long turn it by f^-p; 0 for none.
    reversed: whether photos of the piece turned on its sheet take it away (reversal).
    """

    name: str
    shared_by: SharedBy = "nothing"
    by_readings: bool = False
    by_pieces: bool = False
    by_photos: bool = False
    by_length: float = 0.0
    reversed: bool = False


# What is read by hand, and with what.
READING = Row("reading", by_readings=True, by_pieces=True, by_length=1)
RESOLUTION = Row("resolution", by_pieces=True, by_length=1)
CALIPER = Row("caliper", "instrument", by_length=1)
TIPS = Row("broken tips", "piece", by_pieces=True, by_length=1)
CORNER = Row("corner", "piece")
PROTRACTOR = Row("protractor", by_readings=True, by_pieces=True, by_length=1)
SQUARE = Row("square's own angle", "instrument")
GAP = Row("gap", by_pieces=True, by_length=1)
PIECE_ANGLE = Row("angle of the piece", "piece", by_pieces=True)
LEVER = Row("lever", "saw")
BETWEEN = Row("distance between readings", by_length=1)
BESIDE_GAP = Row("length beside the gap", by_length=1)
JOINT_LENGTH = Row("length of the joint", by_length=1)
STOCK = Row("width of the stock", "piece")
CLOSED_JOINTS = Row("closed joints", "piece")
# What stands between the piece and the saw's path.
EDGE_FORM = Row("edge form", "piece", by_pieces=True, by_length=1.5)
SPREAD = Row("spread of the cut", "piece", by_pieces=True)
# What a photo adds.
EDGE_POINTS = Row("edge points", "photo", by_pieces=True, by_photos=True, by_length=1.5)
RESIDUAL = Row("pixel and tone residual", "photo", by_photos=True, by_length=1)
STEP = Row("which step it is", "photo", by_photos=True, by_length=1)
BLUR = Row("blur of the edge", "photo", by_photos=True, by_length=1)
PHOTO_TO_PHOTO = Row("photo to photo", "photo", by_pieces=True, by_photos=True)
TILT = Row("tilt of the piece", "photo")
MAPPING = Row("mapping", "photo")
READOUT = Row("sensor readout", "instrument")
FLATNESS = Row("sheet flatness", "sheet")
LENS = Row("lens height and foot point", "instrument")
THICKNESS = Row("thickness", "piece")
PRINT = Row("print stretch", "sheet", reversed=True)
# Studies and runs.
PHOTOS = Row("photos", "photo")
PHOTO = Row("photo", "photo")
DISAGREEMENT = Row("caliper against photo")
MEASURING = Row("measuring the cuts")
COMMON = Row("shared by all cuts", "instrument")
SETTING = Row("setting the moves")
MOVE_TO_MOVE = Row("move to move")
SAID = Row("error of the cut")

ROWS = MappingProxyType({row.name: row for row in list(globals().values()) if isinstance(row, Row)})


def row_of(name: str) -> Row:
    """The row of this name; one that nothing narrows when the name is not ours, as in a file from elsewhere."""
    return ROWS.get(name) or Row(name)
