"""`cutvision correct arms` and `assembly`: both arms of a V fence to its move, and its own angle."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Literal

import typer

from cutvision.cli.correct_options import (
    AnswerOptions,
    BlankOptions,
    CaliperOptions,
    EdgeFormText,
    ExplainedAnswer,
    FenceOptions,
    GapOptions,
    angles,
    given,
    length,
    noted,
)
from cutvision.cli.drawing_option import DrawingOptions
from cutvision.cli.leaves import LeafOptions
from cutvision.cli.spread import SpreadOptions
from cutvision.errors import InputError

if TYPE_CHECKING:
    from cutvision.correction.assembly import JointGap
    from cutvision.correction.readings import ReadingCare

GapAt = Literal["heel", "toe"]
FeetApart = Annotated[
    str,
    typer.Option("--fence-length", metavar="LENGTH", help="From one foot of the V to the other, square to the push."),
]
_LEG_OPTIONS = (
    "--left-arm-left-leg",
    "--left-arm-right-leg",
    "--right-arm-left-leg",
    "--right-arm-right-leg",
)


def arms(
    fence_length: FeetApart,
    left_arm_left_leg: Annotated[
        str | None,
        typer.Option(
            "--left-arm-left-leg",
            metavar="LENGTH",
            help="Of the piece cut on the left arm (work kept left of the blade), its cut toward you: the leg on your "
            "left.",
        ),
    ] = None,
    left_arm_right_leg: Annotated[
        str | None,
        typer.Option("--left-arm-right-leg", metavar="LENGTH", help="Of the same piece, the leg on your right."),
    ] = None,
    right_arm_left_leg: Annotated[
        str | None,
        typer.Option(
            "--right-arm-left-leg",
            metavar="LENGTH",
            help="Of the piece cut on the right arm (work kept right), its cut toward you: the leg on your left.",
        ),
    ] = None,
    right_arm_right_leg: Annotated[
        str | None,
        typer.Option("--right-arm-right-leg", metavar="LENGTH", help="Of the same piece, the leg on your right."),
    ] = None,
    left_arm_angle: Annotated[
        str | None,
        typer.Option(
            "--left-arm-angle",
            metavar="ANGLE",
            help="Instead of legs, as `measure` gives it: angle_right of the piece cut on the left arm.",
        ),
    ] = None,
    right_arm_angle: Annotated[
        str | None,
        typer.Option(
            "--right-arm-angle", metavar="ANGLE", help="Likewise angle_left of the piece cut on the right arm."
        ),
    ] = None,
    angle_to: Annotated[
        str | None, typer.Option("--angle-to", metavar="ANGLE", help="The 95 % bound (±) of each of these angles.")
    ] = None,
    leg_length: Annotated[
        str | None,
        typer.Option("--leg-length", metavar="LENGTH", help="With angles: about how long the legs at the fence are."),
    ] = None,
    nominal: Annotated[
        str, typer.Option("--nominal", metavar="ANGLE", help="The miter as shops say it, from a square cut.")
    ] = "45deg",
    corners: Annotated[
        Literal["same", "own"],
        typer.Option(
            "--corners",
            help="same: both ends of one board were cut square at one fence, the same edge at it (the board turned "
            "over end for end), and that edge lay at both arms. own: anything else.",
        ),
    ] = "same",
    *,
    blank: BlankOptions,
    caliper: CaliperOptions,
    fence: FenceOptions,
    spread: SpreadOptions,
    leaves: LeafOptions,
    drawn: DrawingOptions,
    told: ExplainedAnswer,
) -> None:
    """Find how far a V fence stands from true, and its own angle, from one piece cut on each arm.

    Left arm off by 45 deg - (right angle of its piece), right arm by (left angle of its piece) - 45 deg,
    counter-clockwise positive. The V's turn is their mean; its own angle is off by right less left, which no turning
    cures: share it, or true one arm, and the answer gives both moves. By the shop's rule each arm's error is (right -
    left leg) / 2 / mean leg. What is not known of the pieces' corner leaves the turn alone when it is the same on both
    (see --corners) and goes into the V's own angle; angles from photos need no corner.

    cutvision correct arms --left-arm-left-leg 101.62mm --left-arm-right-leg 101.35mm --right-arm-left-leg 101.58mm
    --right-arm-right-leg 101.41mm --fence-length 500mm
    """
    from cutvision.correction import (
        assumptions,
        correct_arms_from_angles,
        correct_arms_from_legs,
        outliers,
        typed_angle,
        typed_corner,
        typed_legs,
    )
    from cutvision.correction.explained_ways import explain_arms
    from cutvision.correction.miter import is_45
    from cutvision.correction.readings import angle_assumptions
    from cutvision.correction.v_arms import LEG_MM, LegPair
    from cutvision.units import parse_angle

    drawn.check()
    care = caliper.care(blank.tips, blank.corner_to, spread.count())
    legs = (left_arm_left_leg, left_arm_right_leg, right_arm_left_leg, right_arm_right_leg)
    nominal_rad, corner_rad = parse_angle(nominal, "--nominal"), parse_angle(blank.corner, "--corner")
    jig = fence.jig(fence_length, None, care, spread.asked(wood_read=True), nominal_rad)
    if left_arm_angle is not None or right_arm_angle is not None:
        if any(leg is not None for leg in legs):
            raise InputError("Legs and angles are two ways to tell the same.", "Give one of them for both arms.")
        if left_arm_angle is None or right_arm_angle is None or angle_to is None:
            raise InputError(
                "By angles it takes that of each arm and how well they are known.",
                "Give --left-arm-angle, --right-arm-angle and --angle-to, the bound (±) that measure prints.",
            )
        bound_rad = parse_angle(angle_to, "--angle-to", zero=True)
        leg_mm = length(leg_length, "--leg-length")
        correction = correct_arms_from_angles(
            typed_angle(angles(left_arm_angle, "--left-arm-angle"), bound_rad, "left arm"),
            typed_angle(angles(right_arm_angle, "--right-arm-angle"), bound_rad, "right arm"),
            jig,
            nominal_rad=nominal_rad,
            leg_mm=LEG_MM if leg_mm is None else leg_mm,
            edge_form=care.edge_form,
        )
        if told.explain:
            raise InputError(
                "From angles there is little to write out: each arm's error is its angle less the true one, or the "
                "other way round, and the V's is their mean.",
                "Leave --explain out, or give the legs.",
            )
        drawn.write(correction)
        told.tell(correction, angle_assumptions(care, None if leg_length is not None else LEG_MM), leaves)
        return
    if angle_to is not None or leg_length is not None:
        raise InputError("--angle-to and --leg-length belong to angles, which are not given.", "Leave them out.")
    missing = [option for option, text in zip(_LEG_OPTIONS, legs, strict=True) if text is None]
    if missing:
        raise InputError(
            f"{' and '.join(missing)} {'is' if len(missing) == 1 else 'are'} not given.",
            "Give both legs of the piece from each arm, or --left-arm-angle and --right-arm-angle.",
        )
    read = {
        option.removeprefix("--").replace("-", " "): given(text, option)
        for option, text in zip(_LEG_OPTIONS, legs, strict=True)
        if text is not None
    }
    values = tuple(read.values())
    pairs = [typed_legs(values[0], values[1], care), typed_legs(values[2], values[3], care)]
    correction = correct_arms_from_legs(
        LegPair(*pairs[0]),
        LegPair(*pairs[1]),
        typed_corner(corner_rad, care),
        jig,
        nominal_rad=nominal_rad,
        same_corner=corners == "same",
        edge_form=care.edge_form,
    )
    correction = noted(correction, outliers(read, care))
    longest_mm = max(leg.value for pair in pairs for leg in pair)
    assumed = assumptions(care, "legs", longest_mm, all_repeated=all(len(leg) > 1 for leg in values))
    if told.explain and not is_45(nominal_rad):
        raise InputError("A V's calculation is written out for miters of 45 deg.", "Leave --explain out.")
    drawn.write(correction)
    told.tell_explained(
        correction,
        assumed,
        leaves,
        lambda found: explain_arms(found, (values[0], values[1]), (values[2], values[3]), corner_rad),
    )


def assembly(
    face: Annotated[
        str, typer.Option("--face", metavar="LENGTH", help="The joint's length from heel to toe, the same for all.")
    ],
    fence_length: FeetApart,
    left_pair_gap: Annotated[
        str | None,
        typer.Option(
            "--left-pair-gap",
            metavar="LENGTH",
            help="Two pieces of the left arm: the leaf that just fits (0mm if none).",
        ),
    ] = None,
    left_pair_gap_at: Annotated[
        GapAt | None, typer.Option("--left-pair-gap-at", help="Where it gapes: heel (inner corner) or toe (outer).")
    ] = None,
    right_pair_gap: Annotated[
        str | None, typer.Option("--right-pair-gap", metavar="LENGTH", help="Likewise two pieces of the right arm.")
    ] = None,
    right_pair_gap_at: Annotated[
        GapAt | None, typer.Option("--right-pair-gap-at", help="Where it gapes: heel or toe.")
    ] = None,
    mixed_gap: Annotated[
        str | None, typer.Option("--mixed-gap", metavar="LENGTH", help="Likewise one piece of each arm.")
    ] = None,
    mixed_gap_at: Annotated[GapAt | None, typer.Option("--mixed-gap-at", help="Where it gapes: heel or toe.")] = None,
    least_gap: Annotated[
        str | None,
        typer.Option("--least-gap", metavar="LENGTH", help="Up to which a joint counts as closed (0.1mm unless said)."),
    ] = None,
    square_to: Annotated[
        str | None, typer.Option("--square-to", metavar="ANGLE", help="How true the square is that holds the joints.")
    ] = None,
    edge_form: EdgeFormText = None,
    *,
    opening: GapOptions,
    fence: FenceOptions,
    spread: SpreadOptions,
    leaves: LeafOptions,
    drawn: DrawingOptions,
    told: AnswerOptions,
) -> None:
    """Prove a V fence by assembly: joints of its own pieces held in a true square, the gap told by a leaf.

    Two pieces of one arm show its error doubled, at most two such joints; one piece of each arm shows the V's own
    angle. At least two joints are needed; three check each other. With opening = 2 asin(gap / (2 face)), positive at
    the heel: left arm = left pair / 2, right arm = - right pair / 2, left less right = mixed, counter-clockwise
    positive; by the shop's rule gap / face for opening. A gap at the heel: the miters are over 45 deg.

    cutvision correct assembly --left-pair-gap 0.3mm --left-pair-gap-at heel --mixed-gap 0.1mm --mixed-gap-at toe --face
    85mm --fence-length 500mm
    """
    from cutvision.correction import correct_assembly, gap_assumptions, typed_distance, typed_gauge
    from cutvision.correction.assembly import LEAST_GAP_MM, Joints
    from cutvision.correction.joint import frame_miter
    from cutvision.correction.readings import Assumption

    drawn.check()
    care = opening.care(edge_form=edge_form, square_to=square_to, pieces=spread.count())
    least_mm = length(least_gap, "--least-gap")
    correction = correct_assembly(
        Joints(
            _joint("--left-pair-gap", left_pair_gap, left_pair_gap_at, care),
            _joint("--right-pair-gap", right_pair_gap, right_pair_gap_at, care),
            _joint("--mixed-gap", mixed_gap, mixed_gap_at, care),
        ),
        typed_distance(given(face, "--face"), "face", care),
        typed_gauge(care),
        fence.jig(fence_length, None, care, spread.asked(wood_read=True), frame_miter(4)),
        least_gap_mm=LEAST_GAP_MM if least_mm is None else least_mm,
        edge_form=care.edge_form,
    )
    assumed = list(gap_assumptions(care, "assembly"))
    if least_mm is None:
        assumed.append(Assumption("least gap", LEAST_GAP_MM, "mm", "common practice, no source"))
    drawn.write(correction)
    told.tell(correction, assumed, leaves)


def _joint(option: str, gap: str | None, gap_at: GapAt | None, care: ReadingCare) -> JointGap | None:
    """A joint that was put together; None when it was not. Raises InputError in the option's name."""
    from cutvision.correction import typed_gap
    from cutvision.correction.assembly import JointGap

    if gap is None:
        if gap_at is not None:
            raise InputError(f"{option}-at says where, but {option} is not given.", f"Give {option} too.")
        return None
    values = given(gap, option, zero=True)
    if gap_at is None and any(values):
        raise InputError(f"{option} does not say where the joint gapes.", f"Say {option}-at heel or {option}-at toe.")
    return JointGap(typed_gap(values, care), gap_at or "toe")
