"""Where, and against what, to hold the caliper, the feeler gauge or the protractor for each reading."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from cutvision.correction.result import Way

_JAWS = (
    "Hold the caliper still, its beam flat on a stop or a board, and slide the piece up to the jaw until it stops. "
    "Close the other jaw until it just touches: soft wood gives by some hundredths when squeezed."
)
_SAME = "Use the same depth of the jaws and the same pressure for both readings, and read each three times."
_TIP = (
    "A leg goes from the outer side of the other leg to the tip. Lay that other leg's whole edge on the flat of one "
    "jaw, away from crumbs, and bring the tip to the other jaw without pressing it."
)
_LEAF = (
    "Try feeler-gauge blades from thin to thick, straight in, without bending: the last that goes in without force "
    "is the gap. Wipe saw dust and burr off first."
)

_BY_METHOD: Mapping[str, tuple[str, ...]] = {
    "miter": (
        "Take the offcut away from the saw. Lay it face up with the cut toward you and the corner away, and pencil L "
        "and R on its legs.",
        _JAWS,
        _TIP,
        "For the other leg turn the piece over and do the same, so that both are read alike.",
        _SAME,
    ),
    "arms": (
        "Take both offcuts away from the saw. Pencil on each which arm it was cut on, lay it face up with the cut "
        "toward you and the corner away, and pencil L and R on its legs.",
        _JAWS,
        _TIP,
        "For the other leg turn the piece over and do the same, so that all four are read alike.",
        _SAME,
    ),
    "square": (
        "Mark on the strip, before you lift it, the end that lay at the fence, and a point as far from either end, "
        "clear of chips and of the bevel where the saw came out.",
        _JAWS,
        "Hold the beam square to the sawn edges: rock it a little and take the least width.",
        "Measure along the strip from the middle of the jaws at one reading to the middle at the other.",
        _SAME,
    ),
    "facing": (
        "Away from the saw, clamp one straight edge down. Push both pieces' edges that lay at the fence against it, "
        "one piece turned over like a page, and slide them together until their cuts touch.",
        _LEAF,
        "Put the blade of the gauge in at the end where they gape, and measure along the cut from where they touch "
        "to it.",
    ),
    "frame": (
        "Away from the saw, lay the frame on a flat surface and clamp all joints but the last shut along their whole "
        "faces.",
        "Let the last joint stand open by itself. Clamp it at neither corner: pressed shut, it would bend the sides.",
        _LEAF,
        "Read the gap at its toe (outer corner) and at its heel (inner corner), as far out as the joint goes. What "
        "counts is the one less the other: give the wider as --gap, the narrower as --other-gap.",
    ),
    "assembly": (
        "Away from the saw, lay two sides in the corner of a true square, outer edges on its blades, and slide one up "
        "until the faces touch at one end.",
        _LEAF,
        "Put the blade in at the heel (inner corner) or the toe (outer corner), as far out as the joint goes. The face "
        "is the joint's length from heel to toe.",
        "For a pair of one arm turn one piece over, so that two cuts of the same arm meet.",
    ),
    "direct": (
        "Saw off and unplugged. Raise the blade, wipe the fence, and hold the square's stock along the fence over its "
        "whole length.",
        "Slide it until its arm touches the blade's plate between two teeth, never a tooth: teeth are set to the side.",
        _LEAF,
        "Measure along the arm from where it touches to the blade of the gauge, then take the square off and do it "
        "again.",
    ),
}
_PROTRACTOR = (
    "Saw off and unplugged. Raise the blade, wipe the fence, and hold the protractor's stock along the fence over its "
    "whole length.",
    "Swing its arm until it lies on the blade's plate between two teeth, never on a tooth, with no light between.",
    "Zero a digital one on the fence itself, or on a true square; read, take it off, and read again, three times.",
)


def how_to_read(method: str, way: Way | None = None) -> tuple[str, ...]:
    """Sentences in the order of the work. method, way: as in a `Correction`. Raises KeyError for any other method."""
    return _PROTRACTOR if way == "reading of a protractor" else _BY_METHOD[method]
