"""What the photos themselves say against how they came: copies of one look, and pixels that are not square."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cutvision.errors import InputError
from cutvision.imaging.offcut import Offcut
from cutvision.imaging.pose import predicted_px
from cutvision.measurement.observation import Observation
from cutvision.target.print_scale import PrintScale

SAME_LOOK = 1e-3
"""How far a place may lie apart in two files of one look, as a share of the picture's long side: a hand, or a piece
laid down anew, moves it by a hundredth and more (common practice, no source)."""
MOST_STRETCH = 4.0
"""Standard uncertainties by which a photo's unequal stretch or shear may differ from what is known of the print; over
150 rendered photos the largest was 2.5."""


def copies_among(offcuts: Sequence[Offcut]) -> list[int | None]:
    """For each photo the index of an earlier one that is the same look, saved again or shrunk; None for a new look.

    Sheet and piece then stand at the same places of the picture. It tells no more of the piece than the earlier one
    does: grain, shadow and lens err alike in both.
    """
    places = [_places(offcut) for offcut in offcuts]
    result: list[int | None] = []
    for k, here in enumerate(places):
        earlier = (j for j in range(k) if result[j] is None and places[j].shape == here.shape)
        result.append(next((j for j in earlier if np.abs(places[j] - here).max() < SAME_LOOK), None))
    return result


def _places(offcut: Offcut) -> np.ndarray:
    """(N, 2) the ring's corners and the edges' carriers, as shares of the picture's long side from its middle."""
    photo, pose, sheet = offcut.photo, offcut.pose, offcut.pose.sheet
    w, h = sheet.width_mm, sheet.height_mm
    ring = predicted_px(sheet, pose.values, pose.turned_from, np.array([[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]]))
    pixels = np.concatenate([ring, *(edge.carrier_px for edge in offcut.edges)])
    middle = np.array([photo.width_px - 1, photo.height_px - 1]) / 2
    return np.asarray((pixels - middle) / max(photo.width_px, photo.height_px))


def check_square_pixels(observations: Sequence[Observation], prints: PrintScale) -> None:
    """Raise InputError when a photo shows the print stretched or sheared as no print of it is.

    Either its pixels are not square (a picture stretched or dewarped after it was taken) or the print was not made, or
    read, as was said: then no bound holds.
    """
    ex, ey, shear = prints.estimate
    known = np.array([(ex - ey) / 2, shear])
    turn = np.array([[0.5, -0.5, 0.0], [0.0, 0.0, 1.0]])
    print_variance = np.diag(turn @ prints.covariance @ turn.T)
    for observation in observations:
        own = (observation.components[-2:] ** 2).sum(axis=1)
        away = np.abs(observation.values[-2:] - known) / np.sqrt(own + print_variance)
        if float(away.max()) > MOST_STRETCH:
            percent = 100 * float(np.abs(observation.values[-2:] - known)[int(np.argmax(away))])
            raise InputError(
                f"The sheet shows stretched or sheared by {percent * (2 if int(np.argmax(away)) == 0 else 1):.1f} %, "
                "more than a printer does it or the readings say: the picture was stretched or straightened after it "
                "was taken, or a reading of the print is wrong.",
                "Send the photo as the phone stored it, not through a scanner or an editor, and read the frame's sides "
                "again.",
            )
