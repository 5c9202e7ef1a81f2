"""The chain that ends in a tight joint: what each link of saw, sled and blank may add to the gap.

A link's value is a half-width: it lies within plus or minus that. Every effect is a length over which the angle opens,
times how often it comes in. For a miter two joints are told apart: both cuts made on one arm of the fence, whose own
error counts twice, and one cut from each arm of a V, where turning the V changes nothing but its own angle counts.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from cutvision.correction.cut_spread import RUNNER_PLAY_RAD
from cutvision.correction.piece_safety import PlanKind
from cutvision.errors import InputError

JointKind = Literal["one arm", "each arm", "square"]
SAID = "as you said"
VISIBLE_GAP_MM = 0.1
"""From about here on a gap shows (common practice, no source)."""
BLADE_RADIUS_MM = 127.0
BLADE_OVER_WOOD_MM = 10.0
MOST_LINK_RAD = math.radians(5.0)


@dataclass(frozen=True, slots=True)
class Link:
    """One link: how far it may be off (half-width, rad), and what careful work leaves of it.

    reason: where the value comes from. truing: how to better it, in a sentence.
    """

    name: str
    half_width_rad: float
    least_rad: float
    reason: str
    truing: str


@dataclass(frozen=True, slots=True)
class Effect:
    """gap = times x over_mm x tan(value); independent: each time drawn anew, as runner play is in every cut."""

    over_mm: float
    times: float
    independent: bool = False

    def squares_mm(self, angle_rad: float) -> float:
        """The part that goes into the root sum of squares, in mm."""
        times = math.sqrt(self.times) if self.independent else self.times
        return times * self.over_mm * math.tan(angle_rad)

    def worst_mm(self, angle_rad: float) -> float:
        """The part when everything falls the same way, in mm."""
        return self.times * self.over_mm * math.tan(angle_rad)


@dataclass(frozen=True, slots=True)
class LinkShare:
    """What one link may add to the gap of one joint, in mm. share: of the sum of squares, 0 to 1.

    removable: the part of the whole sum of squares that truing the link as well as careful work can would take away.
    """

    link: Link
    squares_mm: float
    worst_mm: float
    share: float
    removable: float


@dataclass(frozen=True, slots=True)
class Joint:
    """The gap that all links together may leave on one kind of joint, in mm: root sum of squares, and worst case."""

    kind: JointKind
    shares: tuple[LinkShare, ...]
    squares_mm: float
    worst_mm: float


@dataclass(frozen=True, slots=True)
class JointChain:
    """The joints of a job, the worse first; true_next: the link whose truing takes most away, None when none would.

    joint_width_mm: the length along which the two cuts meet. thickness_mm: of the stock.
    """

    joint_width_mm: float
    thickness_mm: float
    joints: tuple[Joint, ...]
    true_next: Link | None


def blade_lean_mm(thickness_mm: float) -> float:
    """The length over which a blade that stands off its slot leans the cut's face, in mm.

    The kept face is cut where the rear teeth reach farthest: half of the blade's chord behind its middle, more at the
    table than at the top of the wood. Closed form, for a blade of 254 mm raised 10 mm over the wood.
    """
    top = BLADE_RADIUS_MM - BLADE_OVER_WOOD_MM
    return math.sqrt(BLADE_RADIUS_MM**2 - (top - thickness_mm) ** 2) - math.sqrt(BLADE_RADIUS_MM**2 - top**2)


_DEG = math.radians(1.0)
_BLADE_TILT = Link(
    "blade to table",
    0.1 * _DEG,
    0.03 * _DEG,
    "0.1 mm of light in 60 mm of a try square, common practice",
    "Set the blade to the table with a square against its plate, between the teeth, then cut, turn one piece over and "
    "hold the cuts together: the gap shows the lean doubled.",
)
_BLADE_SLOT = Link(
    "blade to slot",
    0.05 * _DEG,
    0.02 * _DEG,
    "0.2 mm from the front of the blade to its rear, common practice",
    "Measure from the miter slot to one and the same tooth at the front and, turned there by hand, at the rear; shift "
    "the table or the trunnions until both agree.",
)
_RUNNERS = Link(
    "runner play",
    RUNNER_PLAY_RAD,
    math.atan(0.03 / 450),
    "0.1 mm over runners 450 mm long",
    "Take the play out of the runners, or push the sled against one side of the slot in every cut.",
)
_SLED = Link(
    "sled square",
    0.02 * _DEG,
    0.005 * _DEG,
    "0.1 mm in 300 mm, common practice; it makes the blank's corner",
    "True the crosscut sled by a board cut five times (cutvision correct square), since it makes every blank's corner.",
)
_BLANK = Link(
    "blank's corner",
    0.05 * _DEG,
    0.02 * _DEG,
    "0.1 mm in 115 mm, a fair crosscut; half of it goes into the split of the legs",
    "Test with blanks whose corner is measured (a corner photo), or take the mean of one piece from each arm.",
)
_V_ANGLE = Link(
    "V's own angle",
    0.05 * _DEG,
    0.01 * _DEG,
    "0.1 mm in 115 mm, common practice; it counts on joints of one cut from each arm",
    "True one arm of the V with a piece cut on each arm: no turning of the fence cures the V's own angle.",
)


def link_names(kind: PlanKind) -> tuple[str, ...]:
    """The names of the links of a job, in the order of the work."""
    return tuple(link.name for link in _links(kind, 1.0, 1.0))


def _links(kind: PlanKind, tolerance_rad: float, bound_rad: float) -> tuple[Link, ...]:
    least = min(bound_rad, tolerance_rad)
    if kind == "miter":
        setting = "Cut the test piece, measure it, and move the fence."
        fence = Link(
            "miter setting", tolerance_rad, least, "your tolerance, and no finer than the test piece shows", setting
        )
        return (_BLADE_TILT, _BLADE_SLOT, _RUNNERS, _SLED, _BLANK, _V_ANGLE, fence)
    edges = Link(
        "blank's edges",
        0.02 * _DEG,
        0.01 * _DEG,
        "0.1 mm in 300 mm, a fair jointed edge; it lies at the fence",
        "Joint the edge that lies at the fence, and rip the other parallel to it.",
    )
    setting = "Cut the test piece, measure it, and move the fence."
    fence = Link(
        "square setting", tolerance_rad, least, "your tolerance, and no finer than the test piece shows", setting
    )
    return (_BLADE_TILT, _BLADE_SLOT, _RUNNERS, edges, fence)


def _effects(kind: JointKind, width_mm: float, thickness_mm: float, *, corner_counts: bool) -> Mapping[str, Effect]:
    """Each link's effect on one joint; a link that is not named has none."""
    lean = blade_lean_mm(thickness_mm)
    cuts = 1.0 if kind == "square" else 2.0
    shared = {
        "blade to table": Effect(thickness_mm, cuts),
        "blade to slot": Effect(lean, cuts),
        "runner play": Effect(width_mm, cuts, independent=True),
    }
    if kind == "square":
        return {**shared, "blank's edges": Effect(width_mm, 1.0), "square setting": Effect(width_mm, 1.0)}
    if kind == "each arm":
        return {**shared, "V's own angle": Effect(width_mm, 1.0)}
    # half of the corner's error turns the fence, and both cuts of the joint carry that
    corner = Effect(width_mm, 2 * 0.5 if corner_counts else 0.0)
    return {**shared, "sled square": corner, "blank's corner": corner, "miter setting": Effect(width_mm, 2.0)}


def joint_chain(
    kind: PlanKind,
    tolerance_rad: float,
    bound_rad: float,
    *,
    joint_width_mm: float,
    thickness_mm: float,
    said_rad: Mapping[str, float] | None = None,
    corner_counts: bool = True,
    single: bool = False,
) -> JointChain:
    """The gap that the whole chain may leave, and which link to true next.

    bound_rad: what the planned test piece tells of the fence (expanded), which no setting can better.
    said_rad: links as a person knows them, half-widths by name, instead of the defaults.
    corner_counts: whether the fence is set by the split of two legs, into which half of the blank's corner goes; not so
    for the fence leg's own angle from a photo, or a frame.
    single: whether the miter fence has one arm, so that there is no V.
    Raises InputError for a link of another name, for one over 5 deg, and for a width that is not positive.
    """
    if not (math.isfinite(joint_width_mm) and joint_width_mm > 0):
        raise InputError(f"A joint {joint_width_mm:g} mm wide is none.", "Give the length along which the cuts meet.")
    said = {} if said_rad is None else said_rad
    links = tuple(link for link in _links(kind, tolerance_rad, bound_rad) if not (single and link is _V_ANGLE))
    for name, value in said.items():
        _check_link(name, value, [link.name for link in links])
    links = tuple(
        Link(one.name, said[one.name], min(one.least_rad, said[one.name]), SAID, one.truing)
        if one.name in said
        else one
        for one in links
    )
    kinds: tuple[JointKind, ...] = (
        ("square",) if kind == "square" else ("one arm",) if single else ("one arm", "each arm")
    )
    joints = sorted(
        (_joint(one, links, _effects(one, joint_width_mm, thickness_mm, corner_counts=corner_counts)) for one in kinds),
        key=lambda joint: -joint.squares_mm,
    )
    best = max(joints[0].shares, key=lambda share: share.removable)
    return JointChain(joint_width_mm, thickness_mm, tuple(joints), best.link if best.removable > 0 else None)


def _joint(kind: JointKind, links: tuple[Link, ...], effects: Mapping[str, Effect]) -> Joint:
    none = Effect(0.0, 0.0)
    total = math.fsum(effects.get(one.name, none).squares_mm(one.half_width_rad) ** 2 for one in links)
    shares = []
    for one in links:
        effect = effects.get(one.name, none)
        now, then = effect.squares_mm(one.half_width_rad), effect.squares_mm(one.least_rad)
        shares.append(
            LinkShare(
                one,
                now,
                effect.worst_mm(one.half_width_rad),
                now**2 / total if total > 0 else 0.0,
                (now**2 - then**2) / total if total > 0 else 0.0,
            )
        )
    return Joint(kind, tuple(shares), math.sqrt(total), math.fsum(share.worst_mm for share in shares))


def _check_link(name: str, value_rad: float, names: list[str]) -> None:
    listed = ", ".join(names)
    if name not in names:
        raise InputError(f"There is no link '{name}' in this chain.", f"Name one of these: {listed}.")
    if not (math.isfinite(value_rad) and 0 <= value_rad <= MOST_LINK_RAD):
        raise InputError(
            f"The link '{name}' is off by {math.degrees(value_rad):g} deg.",
            f"Give how far it may be off, from 0 to {math.degrees(MOST_LINK_RAD):g} deg, such as 0.05deg.",
        )
