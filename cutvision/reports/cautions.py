"""The cautions that stand beside every advice to measure at the saw, adjust or cut. No other module words them."""

from __future__ import annotations

from typing import Literal, get_args

Topic = Literal["photo", "measure", "adjust", "cut"]
ADVISED: tuple[Topic, ...] = ("adjust", "cut")
MEASURED: tuple[Topic, ...] = ("photo",)
TOPICS: tuple[Topic, ...] = get_args(Topic)

_FIRST = "The saw maker's manual and your local safety regulations come first."
_STOPPED = (
    "Switch the saw off, unplug it and wait until the blade has stopped before you measure, adjust or lift an offcut."
)

_BY_TOPIC: dict[Topic, tuple[str, ...]] = {
    "photo": (_STOPPED, "Take the piece away from the saw and photograph it there."),
    "measure": (_STOPPED,),
    "adjust": (
        _STOPPED,
        "Before a test cut, clamp or fasten the fence and see that shims are trapped and cannot slip out. Turn the "
        "blade by hand, still unplugged, to see that fence, shims and clamps are clear of it.",
    ),
    "cut": (
        "Put the guard and the riving knife back before you plug the saw in; on a sled, a riving knife, a cover over "
        "the blade, a block where the blade comes out, and a stop that halts the sled before the blade leaves it.",
        "Stand out of the blade's line.",
        "Never use the rip fence as an end stop for an offcut.",
        "Clamp small pieces; do not cut a piece that is too small to clamp.",
        "Never back a piece out over a running blade.",
        "Protect eyes, ears and lungs; wear no gloves.",
    ),
}
_BRIEF: dict[Topic, str] = {
    "photo": "Saw off, unplugged and stopped before you lift the offcut; photograph it away from the saw. Maker's "
    "manual and local regulations first.",
    "measure": "Saw off, unplugged and stopped while you measure. The saw maker's manual and local safety "
    "regulations come first.",
    "adjust": "Maker's manual and local regulations first. Saw off and unplugged to adjust. Before a test cut: fence "
    "clamped, shims trapped, guard back.",
    "cut": "Maker's manual and local regulations first. Guard or riving knife on, out of the blade's line, small "
    "pieces clamped, eyes and ears.",
}


def cautions(*topics: Topic) -> tuple[str, ...]:
    """What keeps a person whole while they do what the topics name: sentences, each once, in the order of the work.

    The maker's manual and the regulations come first. topics: "photo" (taking the picture), "measure" (at the saw, or
    lifting an offcut), "adjust" (moving the fence), "cut" (a test cut and what goes before it), in any order. Raises
    KeyError for any other.
    """
    order = sorted({topic: _BY_TOPIC[topic] for topic in topics}, key=TOPICS.index)
    return tuple(dict.fromkeys([_FIRST, *(text for topic in order for text in _BY_TOPIC[topic])]))


def brief_caution(topic: Topic) -> str:
    """What matters most for this step, in at most two lines of a terminal. Raises KeyError as `cautions`."""
    return _BRIEF[topic]
