"""What may be said of the fence: how it is held and set, what is good enough, the shims, how the cut repeats."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Literal

from cutvision.errors import InputError
from cutvision.jobs.said import (
    ANGLE,
    ANGLE_OR_NONE,
    ANGLES,
    LENGTH,
    LENGTH_OR_NONE,
    LENGTHS,
    TOLERANCE,
    Say,
    length,
)
from cutvision.units import parse_angle, parse_angles, parse_length, parse_lengths

if TYPE_CHECKING:
    from cutvision.correction import Correction, CutSpread, FenceGeometry, Jig, LeafChoice, ReadingCare, Tolerance
    from cutvision.correction.feeler_stack import StackAdvice
    from cutvision.correction.joint import JointPreview


Side = Literal["left", "right"]
FENCE, REPEATS, SHIMS, JOINT = "The fence", "How the cut repeats", "Shims", "The joints of a frame"
FENCE_LENGTH = Say(
    "From the fence's pivot to where the shim goes or the fence is pushed, at right angles to the push; for a V on two "
    "feet, from foot to foot.",
    LENGTHS,
    FENCE,
    main=True,
    in_jig="380mm",
)
KEPT = Say(
    "The side of the blade on which the work lay and was kept (the offcut fell on the other).",
    group=FENCE,
    main=True,
    in_jig="left",
)


@dataclass(frozen=True, kw_only=True)
class FenceSaid:
    """The tolerance, and how the fence is held and moved."""

    tolerance: Annotated[
        str | None,
        Say(
            "The fence error that is good enough: 0.05deg, 3min; over a length 0.1mm/300mm, 3thou/18in, 0.001in/ft; or "
            "a gap in a joint, gap:0.1mm/60mm. Without one 0.1mm/300mm.",
            TOLERANCE,
            FENCE,
            main=True,
            in_jig="0.05deg",
        ),
    ] = None
    fence: Annotated[
        Literal["single", "v-foot", "v-point"] | None,
        Say(
            "How it is held: one straight fence with a pivot at an end; a V on two feet against a rear stop, turned "
            "about a foot; or such a V held at its point, so that each foot goes half the way.",
            group=FENCE,
            in_jig="single",
        ),
    ] = None
    pivot: Annotated[
        Side | None,
        Say("The end, or the V's foot, about which it turns, as you stand behind the saw.", group=FENCE, in_jig="left"),
    ] = None
    shim_at: Annotated[
        Literal["operator", "work"] | None,
        Say(
            "Where a single fence's stop is, and so its shim: on your (the operator's) side, where a shim pushes it "
            "away from you, or on the work's side, where it pushes it toward you.",
            group=FENCE,
            in_jig="operator",
            formerly="leaf-at",
        ),
    ] = None
    screw_pitch: Annotated[
        str | None,
        Say(
            "A screw moves it instead of a shim: how far with one turn, 1mm, or 1/20in for 20 threads an inch.",
            LENGTH,
            FENCE,
            in_jig="1mm",
        ),
    ] = None
    screw_pushes: Annotated[
        Literal["away", "toward"] | None,
        Say(
            "Which way the fence goes when the screw is turned in: away from you (a V, unless you say) or toward you.",
            group=FENCE,
            in_jig="away",
        ),
    ] = None
    point_ahead: Annotated[
        str | None,
        Say(
            "Of a V: from the line through its feet to its point. Shows how far to slide it back to the kerf.",
            LENGTH,
            FENCE,
            in_jig="190mm",
        ),
    ] = None

    def geometry(self) -> FenceGeometry | None:
        """How the fence is held and moved; None when nothing was said of it. Raises InputError for options at odds."""
        from cutvision.correction import FenceGeometry, Screw

        if self.screw_pushes is not None and self.screw_pitch is None:
            raise InputError("--screw-pushes is about a screw, but no screw is given.", "Give --screw-pitch 1mm too.")
        said = (self.fence, self.pivot, self.shim_at, self.screw_pitch, self.point_ahead)
        if all(one is None for one in said):
            return None
        kind = self.fence
        if kind is None:
            if self.point_ahead is not None or self.pivot is None:
                raise InputError(
                    "--shim-at, --screw-pitch and --point-ahead say how the fence is moved, but not how it is held.",
                    "Give --fence single, v-foot or v-point too.",
                )
            kind = "single"
        screw = None
        if self.screw_pitch is not None:
            if kind == "single" and self.screw_pushes is None:
                raise InputError(
                    "--screw-pitch says how far the screw moves the fence, but not which way.",
                    "Give --screw-pushes away or toward: where the fence goes when the screw is turned in.",
                )
            screw = Screw(parse_length(self.screw_pitch, "--screw-pitch"), self.screw_pushes or "away")
        return FenceGeometry(kind, self.pivot, self.shim_at, screw, length(self.point_ahead, "--point-ahead"))

    def asked_tolerance(self, nominal_rad: float | None = None) -> Tolerance | None:
        """The error that is good enough, when one was said.

        nominal_rad: of the cut, which a tolerance said as a joint's gap needs. Raises InputError in the option's name.
        """
        from cutvision.correction import parse_tolerance

        return None if self.tolerance is None else parse_tolerance(self.tolerance, "--tolerance", nominal_rad)

    def jig(
        self,
        fence_length: str,
        kept: Side | None,
        care: ReadingCare,
        cut_spread: CutSpread | None = None,
        nominal_rad: float | None = None,
    ) -> Jig:
        """The fence as it was said. nominal_rad: as for `asked_tolerance`. Raises InputError in the option's name."""
        from cutvision.correction import Jig, typed_distance

        lever = typed_distance(parse_lengths(fence_length, "--fence-length"), "lever", care)
        asked = self.asked_tolerance(nominal_rad)
        limit_rad, said = (None, "") if asked is None else (asked.angle_rad, asked.said)
        return Jig(lever, kept, limit_rad, cut_spread, self.geometry(), said)


@dataclass(frozen=True, kw_only=True)
class RepeatsSaid:
    """How the cut repeats, as a figure or by pieces, and over how many pieces the readings are means."""

    cut_spread: Annotated[
        str | None,
        Say(
            "Standard deviation from one cut to the next at one setting. Runner play of 0.1mm over 450mm: 0.013deg.",
            ANGLE_OR_NONE,
            REPEATS,
            in_jig="0.013deg",
        ),
    ] = None
    cut_angles: Annotated[
        str | None,
        Say("Or one angle of three or more pieces cut at one setting: 44.98deg,45.01deg,44.97deg.", ANGLES, REPEATS),
    ] = None
    cut_angles_to: Annotated[
        str | None,
        Say(
            "The 95 % uncertainty of each of --cut-angles, as far as it differs from piece to piece; it is taken off "
            "their scatter.",
            ANGLE_OR_NONE,
            REPEATS,
        ),
    ] = None
    pieces: Annotated[
        int | None,
        Say(
            "The readings are means over so many pieces cut at one setting (1 unless you say): what differs from piece "
            "to piece averages, the instrument's error does not.",
            group=REPEATS,
        ),
    ] = None

    def count(self) -> int:
        """Over how many pieces the readings are means."""
        return 1 if self.pieces is None else self.pieces

    def repeats(self, *, wood_read: bool = False) -> CutSpread | None:
        """How the cut repeats; None when nothing was said of it.

        wood_read: whether `count` is used for edges and tips too, so that it may stand alone. Raises InputError for
        options at odds.
        """
        from cutvision.correction import CutSpread, spread_of_pieces

        count = self.count()
        if self.cut_angles_to is not None and self.cut_angles is None:
            raise InputError(
                "--cut-angles-to says how well --cut-angles were measured, but they are not given.",
                "Give --cut-angles with an angle of three or more pieces too.",
            )
        if self.cut_spread is not None and self.cut_angles is not None:
            raise InputError("--cut-spread and --cut-angles both say how the cut repeats.", "Give one of them.")
        if self.cut_angles is not None:
            to = self.cut_angles_to
            measured_to_rad = None if to is None else parse_angle(to, "--cut-angles-to", zero=True)
            return spread_of_pieces(parse_angles(self.cut_angles, "--cut-angles"), count, measured_to_rad)
        if self.cut_spread is not None:
            return CutSpread(parse_angle(self.cut_spread, "--cut-spread", zero=True), "as you said", pieces=count)
        if self.pieces is not None and not wood_read:
            raise InputError(
                "--pieces divides how the cut repeats, but nothing is said of that.",
                "Give --cut-spread 0.013deg, or --cut-angles with an angle of three or more pieces.",
            )
        return None


@dataclass(frozen=True, kw_only=True)
class ShimsSaid:
    """The shims at hand: a common set of feeler-gauge blades or a person's own."""

    shim_set: Annotated[
        Literal["metric-13", "metric-20", "inch-26"] | None,
        Say(
            "Name the shims for the move, from a common set of feeler-gauge blades.",
            group=SHIMS,
            in_jig="metric-13",
            formerly="leaf-set",
        ),
    ] = None
    shims: Annotated[
        str | None,
        Say(
            "Or from your own, such as 0.05mm,0.10mm,0.15mm.",
            LENGTHS,
            SHIMS,
            in_jig="0.05mm,0.10mm,0.15mm",
            formerly="leaves",
        ),
    ] = None
    most_shims: Annotated[
        int | None,
        Say("At most so many together (1 to 5; 3 unless you say).", group=SHIMS, in_jig="3", formerly="most-leaves"),
    ] = None
    shim_to: Annotated[
        str | None,
        Say(
            "How true each is, as a half-width, such as 0.005mm.",
            LENGTH_OR_NONE,
            SHIMS,
            in_jig="0.005mm",
            formerly="leaf-to",
        ),
    ] = None

    def choice(self) -> LeafChoice | None:
        """Whose shims to choose from; None when nobody asked. Raises InputError for options at odds."""
        from cutvision.correction import LEAF_SETS, LeafChoice, own_leaves
        from cutvision.correction.feeler_stack import MOST_LEAVES

        if self.shim_set is None and self.shims is None:
            about = {"--most-shims": self.most_shims, "--shim-to": self.shim_to}
            said = [option for option, value in about.items() if value is not None]
            if said:
                raise InputError(
                    f"{said[0]} is about your shims, but not which you have.",
                    "Give --shim-set metric-13, metric-20 or inch-26, or your own --shims 0.05mm,0.10mm.",
                )
            return None
        if self.shim_set is not None and self.shims is not None:
            raise InputError("--shim-set and --shims both say which shims you have.", "Give one of them.")
        if self.shims is not None:
            marks = [mark.strip() for mark in self.shims.split(",")]
            chosen = own_leaves(list(zip(parse_lengths(self.shims, "--shims"), marks, strict=True)))
        else:
            chosen = next(one for name, one in LEAF_SETS.items() if name == self.shim_set)
        true_to_mm = length(self.shim_to, "--shim-to", zero=True)
        return LeafChoice(chosen, MOST_LEAVES if self.most_shims is None else self.most_shims, true_to_mm)

    def stack(self, correction: Correction) -> StackAdvice | None:
        """The shims for the move; None when nobody asked."""
        from cutvision.correction import find_stack

        choice = self.choice()
        return None if choice is None else find_stack(correction.move.at_shim.value, choice)


@dataclass(frozen=True, kw_only=True)
class JointSaid:
    """A frame to be cut at this fence, whose joints end the answer."""

    joint_sides: Annotated[
        int | None,
        Say("Add the gaps in a frame of so many sides whose every end is cut at this fence.", group=JOINT),
    ] = None
    joint_stock: Annotated[str | None, Say("The width of that frame's sides, as 60mm.", LENGTH, JOINT)] = None

    def check_joint(self, nominal_rad: float) -> None:
        """Raise InputError, before anything is measured, for half a frame or one that takes another miter."""
        from cutvision.correction.joint import check_miter

        if self._joint_stock_mm() is not None and self.joint_sides is not None:
            check_miter(self.joint_sides, nominal_rad)

    def joints(self, correction: Correction) -> JointPreview | None:
        """The frame's joints; None when nobody asked. Raises InputError also for a frame of another miter."""
        from cutvision.correction.joint import preview_from

        stock_mm = self._joint_stock_mm()
        sides = self.joint_sides
        return None if stock_mm is None or sides is None else preview_from(correction, sides, stock_mm)

    def _joint_stock_mm(self) -> float | None:
        sides, stock = self.joint_sides, self.joint_stock
        if sides is None and stock is None:
            return None
        if sides is None or stock is None:
            here, missing = (
                ("--joint-sides", "--joint-stock 60mm") if stock is None else ("--joint-stock", "--joint-sides 4")
            )
            raise InputError(f"{here} alone does not say which frame.", f"Give {missing} too.")
        return parse_length(stock, "--joint-stock")


__all__ = [
    "ANGLE",
    "FENCE",
    "FENCE_LENGTH",
    "KEPT",
    "FenceSaid",
    "JointSaid",
    "RepeatsSaid",
    "ShimsSaid",
    "Side",
]
