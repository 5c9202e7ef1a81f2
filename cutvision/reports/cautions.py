"""The cautions that stand beside every advice to measure at the saw, adjust or cut. No other module words them."""

from __future__ import annotations

from typing import Literal, get_args

Topic = Literal["photo", "measure", "adjust", "cut"]
ADVISED: tuple[Topic, ...] = ("adjust", "cut")
MEASURED: tuple[Topic, ...] = ("photo",)
TOPICS: tuple[Topic, ...] = get_args(Topic)

_STOPPED = (
    "Switch the saw off, unplug it and wait until the blade stands still before you measure, adjust or lift an offcut."
)
_CUT = (
    "Cut with the guard on; on a sled, with a riving knife, a cover over the blade, a block where the blade comes out "
    "and a stop that halts the sled before that."
)
_LAST = "The saw maker's manual and local rules come first."

_BY_TOPIC: dict[Topic, tuple[str, ...]] = {
    "photo": (_STOPPED, "Take the piece away from the saw and photograph it there."),
    "measure": (_STOPPED,),
    "adjust": (
        _STOPPED,
        "Before a test cut, clamp or fasten the fence and see that the leaf and the clamps are clear of the blade.",
    ),
    "cut": (
        _CUT,
        "Never use the rip fence as an end stop for an offcut.",
        "Clamp small pieces; do not cut a piece that is too small to clamp.",
        "Never draw a piece back over a running blade.",
        "Protect eyes, ears and lungs; wear no gloves.",
    ),
}


def cautions(*topics: Topic) -> tuple[str, ...]:
    """What keeps a person whole while they do what the topics name: sentences, each once, in the order of the work.

    topics: "photo" (taking the picture), "measure" (at the saw, or lifting an offcut), "adjust" (moving the fence),
    "cut" (a test cut and what goes before it), in any order. Raises KeyError for any other.
    """
    order = sorted({topic: _BY_TOPIC[topic] for topic in topics}, key=TOPICS.index)
    return tuple(dict.fromkeys([*(text for topic in order for text in _BY_TOPIC[topic]), _LAST]))
