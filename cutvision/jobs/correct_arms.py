"""Both arms of a V fence: from one piece cut on each, or from joints of its own pieces put together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Literal

from cutvision.errors import InputError
from cutvision.jobs.correct import CorrectResult, CorrectSaid
from cutvision.jobs.fence import FENCE, RepeatsSaid
from cutvision.jobs.reading import CARE, EDGE_FORM, NOMINAL, SQUARE_TO, BlankSaid, CaliperSaid, GapSaid, noted
from cutvision.jobs.said import ANGLE, ANGLE_OR_NONE, ANGLES, LENGTH, LENGTHS, LENGTHS_OR_NONE, Say, length
from cutvision.units import parse_angle, parse_angles, parse_lengths

if TYPE_CHECKING:
    from cutvision.correction import ReadingCare
    from cutvision.correction.assembly import JointGap


GapAt = Literal["heel", "toe"]
FEET_APART = Say(
    "From one foot of the V to the other, at right angles to the push.", LENGTHS, FENCE, main=True, in_jig="500mm"
)
BY_ANGLE = "By angles instead of legs"


@dataclass(frozen=True, kw_only=True)
class Arms(CorrectSaid, RepeatsSaid, CaliperSaid, BlankSaid):
    """Find how far a V fence stands from true, and its own angle, from one piece cut on each arm.

    Left arm off by 45 deg - (right angle of its piece), right arm by (left angle of its piece) - 45 deg,
    counter-clockwise positive. The V's turn is their mean; its own angle is off by right less left, which no turning
    cures: share it, or true one arm, and the answer gives both moves. By the shop's rule each arm's error is (right -
    left leg) / 2 / mean leg. What is not known of the pieces' corner leaves the turn alone when it is the same on both
    (see --corners) and goes into the V's own angle; angles from photos need no corner.

    cutvision correct arms --left-arm-left-leg 101.62mm --left-arm-right-leg 101.35mm --right-arm-left-leg 101.58mm
    --right-arm-right-leg 101.41mm --fence-length 500mm
    """

    left_arm_left_leg: Annotated[
        str | None,
        Say(
            "Of the piece cut on the left arm (work kept left of the blade), its cut toward you: the leg on your left.",
            LENGTHS,
            main=True,
        ),
    ] = None
    left_arm_right_leg: Annotated[str | None, Say("Of the same piece, the leg on your right.", LENGTHS, main=True)] = (
        None
    )
    right_arm_left_leg: Annotated[
        str | None,
        Say(
            "Of the piece cut on the right arm (work kept right), its cut toward you: the leg on your left.",
            LENGTHS,
            main=True,
        ),
    ] = None
    right_arm_right_leg: Annotated[str | None, Say("Of the same piece, the leg on your right.", LENGTHS, main=True)] = (
        None
    )
    fence_length: Annotated[str, FEET_APART]
    nominal: Annotated[str, NOMINAL] = "45deg"
    left_arm_angle: Annotated[
        str | None,
        Say("Instead of legs, as `measure` gives it: angle_right of the piece cut on the left arm.", ANGLES, BY_ANGLE),
    ] = None
    right_arm_angle: Annotated[
        str | None, Say("And angle_left of the piece cut on the right arm.", ANGLES, BY_ANGLE)
    ] = None
    angle_to: Annotated[
        str | None, Say("The 95 % uncertainty (±) of each of these angles.", ANGLE_OR_NONE, BY_ANGLE)
    ] = None
    leg_length: Annotated[
        str | None, Say("With angles: about how long the legs at the fence are.", LENGTH, BY_ANGLE)
    ] = None
    corners: Annotated[
        Literal["same", "own"],
        Say(
            "same: both ends of one board were cut square at one fence, the same edge at it (the board turned over end "
            "for end), and that edge lay at both arms. own: anything else.",
            group="The test piece before the cut",
        ),
    ] = "same"

    @property
    def _legs(self) -> dict[str, str | None]:
        return {
            "--left-arm-left-leg": self.left_arm_left_leg,
            "--left-arm-right-leg": self.left_arm_right_leg,
            "--right-arm-left-leg": self.right_arm_left_leg,
            "--right-arm-right-leg": self.right_arm_right_leg,
        }


def run_arms(asked: Arms) -> CorrectResult:
    """The V from one piece of each arm. Raises InputError in the option's name."""
    from cutvision.correction import assumptions, correct_arms_from_legs, outliers, typed_corner, typed_legs
    from cutvision.correction.v_arms import LegPair

    if asked.left_arm_angle is not None or asked.right_arm_angle is not None:
        return _by_angles(asked)
    if asked.angle_to is not None or asked.leg_length is not None:
        raise InputError("--angle-to and --leg-length belong to angles, which are not given.", "Leave them out.")
    legs = asked._legs  # noqa: SLF001  a request's own table, read by its own job
    missing = [option for option, text in legs.items() if text is None]
    if missing:
        raise InputError(
            f"{' and '.join(missing)} {'is' if len(missing) == 1 else 'are'} not given.",
            "Give both legs of the piece from each arm, or --left-arm-angle and --right-arm-angle.",
        )
    care = asked.care(asked.tips, asked.corner_to, asked.count())
    nominal_rad, corner_rad = parse_angle(asked.nominal, "--nominal"), parse_angle(asked.corner, "--corner")
    read = {
        option.removeprefix("--").replace("-", " "): parse_lengths(text, option)
        for option, text in legs.items()
        if text is not None
    }
    values = tuple(read.values())
    pairs = [typed_legs(values[0], values[1], care), typed_legs(values[2], values[3], care)]
    correction = correct_arms_from_legs(
        LegPair(*pairs[0]),
        LegPair(*pairs[1]),
        typed_corner(corner_rad, care),
        asked.jig(asked.fence_length, None, care, asked.repeats(wood_read=True), nominal_rad),
        nominal_rad=nominal_rad,
        same_corner=asked.corners == "same",
        edge_form=care.edge_form,
    )
    longest_mm = max(leg.value for pair in pairs for leg in pair)
    return asked.result(
        noted(correction, outliers(read, care)),
        tuple(assumptions(care, "legs", longest_mm, all_repeated=all(len(leg) > 1 for leg in values))),
        {option.replace(" ", "_"): readings for option, readings in read.items()},
    )


def _by_angles(asked: Arms) -> CorrectResult:
    from cutvision.correction import correct_arms_from_angles, typed_angle
    from cutvision.correction.readings import angle_assumptions
    from cutvision.correction.v_arms import LEG_MM

    if any(leg is not None for leg in asked._legs.values()):  # noqa: SLF001
        raise InputError("Legs and angles are two ways to say the same.", "Give one of them for both arms.")
    left, right, to = asked.left_arm_angle, asked.right_arm_angle, asked.angle_to
    if left is None or right is None or to is None:
        raise InputError(
            "By angles it takes that of each arm and how well they are known.",
            "Give --left-arm-angle, --right-arm-angle and --angle-to, the uncertainty (±) that measure prints.",
        )
    care = asked.care(asked.tips, asked.corner_to, asked.count())
    nominal_rad = parse_angle(asked.nominal, "--nominal")
    to_rad = parse_angle(to, "--angle-to", zero=True)
    leg_mm = length(asked.leg_length, "--leg-length")
    correction = correct_arms_from_angles(
        typed_angle(parse_angles(left, "--left-arm-angle"), to_rad, "left arm"),
        typed_angle(parse_angles(right, "--right-arm-angle"), to_rad, "right arm"),
        asked.jig(asked.fence_length, None, care, asked.repeats(wood_read=True), nominal_rad),
        nominal_rad=nominal_rad,
        leg_mm=LEG_MM if leg_mm is None else leg_mm,
        edge_form=care.edge_form,
    )
    return asked.result(correction, tuple(angle_assumptions(care, LEG_MM if leg_mm is None else None)))


@dataclass(frozen=True, kw_only=True)
class Assembly(CorrectSaid, RepeatsSaid, GapSaid):
    """Prove a V fence by assembly: joints of its own pieces held in a true square, each gap filled by a shim.

    Two pieces of one arm show its error doubled, at most two such joints; one piece of each arm shows the V's own
    angle. At least two joints are needed; three check each other. With opening = 2 asin(gap / (2 face)), positive at
    the heel: left arm = left pair / 2, right arm = - right pair / 2, left less right = mixed, counter-clockwise
    positive; by the shop's rule gap / face for opening. A gap at the heel: the miters are over 45 deg.

    cutvision correct assembly --left-pair-gap 0.3mm --left-pair-gap-at heel --mixed-gap 0.1mm --mixed-gap-at toe --face
    85mm --fence-length 500mm
    """

    left_pair_gap: Annotated[
        str | None,
        Say("Two pieces of the left arm: the shim that just fits (0mm if none).", LENGTHS_OR_NONE, main=True),
    ] = None
    left_pair_gap_at: Annotated[GapAt | None, Say("Where it gapes: heel (inner corner) or toe (outer).", main=True)] = (
        None
    )
    right_pair_gap: Annotated[
        str | None, Say("Two pieces of the right arm, in the same way.", LENGTHS_OR_NONE, main=True)
    ] = None
    right_pair_gap_at: Annotated[GapAt | None, Say("Where it gapes: heel or toe.", main=True)] = None
    mixed_gap: Annotated[str | None, Say("One piece of each arm, in the same way.", LENGTHS_OR_NONE, main=True)] = None
    mixed_gap_at: Annotated[GapAt | None, Say("Where it gapes: heel or toe.", main=True)] = None
    face: Annotated[str, Say("The joint's length from heel to toe, the same for all.", LENGTHS, main=True)]
    fence_length: Annotated[str, FEET_APART]
    least_gap: Annotated[
        str | None, Say("Up to which a joint counts as closed (0.1mm unless you say).", LENGTH, CARE)
    ] = None
    square_to: Annotated[str | None, SQUARE_TO] = None
    edge_form: Annotated[str | None, EDGE_FORM] = None


def run_assembly(asked: Assembly) -> CorrectResult:
    """The V from joints of its own pieces. Raises InputError in the option's name."""
    from cutvision.correction import Assumption, correct_assembly, gap_assumptions, typed_distance, typed_gauge
    from cutvision.correction.assembly import LEAST_GAP_MM, Joints
    from cutvision.correction.joint import frame_miter

    care = asked.care(edge_form=asked.edge_form, square_to=asked.square_to, pieces=asked.count())
    least_mm = length(asked.least_gap, "--least-gap")
    correction = correct_assembly(
        Joints(
            _joint("--left-pair-gap", asked.left_pair_gap, asked.left_pair_gap_at, care),
            _joint("--right-pair-gap", asked.right_pair_gap, asked.right_pair_gap_at, care),
            _joint("--mixed-gap", asked.mixed_gap, asked.mixed_gap_at, care),
        ),
        typed_distance(parse_lengths(asked.face, "--face"), "face", care),
        typed_gauge(care),
        asked.jig(asked.fence_length, None, care, asked.repeats(wood_read=True), frame_miter(4)),
        least_gap_mm=LEAST_GAP_MM if least_mm is None else least_mm,
        edge_form=care.edge_form,
    )
    assumed = list(gap_assumptions(care, "assembly"))
    if least_mm is None:
        assumed.append(Assumption("least gap", LEAST_GAP_MM, "mm", "common practice, no source"))
    return asked.result(correction, tuple(assumed))


def _joint(option: str, gap: str | None, gap_at: GapAt | None, care: ReadingCare) -> JointGap | None:
    """A joint that was put together; None when it was not. Raises InputError in the option's name."""
    from cutvision.correction import typed_gap
    from cutvision.correction.assembly import JointGap

    if gap is None:
        if gap_at is not None:
            raise InputError(f"{option}-at says where, but {option} is not given.", f"Give {option} too.")
        return None
    values = parse_lengths(gap, option, zero=True)
    if gap_at is None and any(values):
        raise InputError(f"{option} does not say where the joint gapes.", f"Add {option}-at heel or {option}-at toe.")
    return JointGap(typed_gap(values, care), gap_at or "toe")


__all__ = ["ANGLE", "Arms", "Assembly", "run_arms", "run_assembly"]
