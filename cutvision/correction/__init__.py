"""From quantities of a test piece, typed or measured, to the move of the fence. No pixels, no files."""

from cutvision.correction.angle_error import AngleError, Kept
from cutvision.correction.assembly import JointGap, Joints, correct_assembly
from cutvision.correction.cut_spread import CutSpread, spread_of_pieces
from cutvision.correction.decision import Action, Decision, decide, probability_between
from cutvision.correction.edge_form import EdgeForm
from cutvision.correction.feeler_stack import (
    LEAF_SETS,
    FeelerStack,
    Leaf,
    LeafChoice,
    LeafSet,
    StackAdvice,
    find_stack,
    own_leaves,
)
from cutvision.correction.fence_geometry import FENCE_KINDS, FenceGeometry, FenceKind, Screw, ScrewTurn
from cutvision.correction.fence_move import FenceMove, Side, Turn
from cutvision.correction.gap import correct_by_protractor, correct_direct, correct_facing, correct_frame
from cutvision.correction.instruments import INSTRUMENTS, Instrument, instrument
from cutvision.correction.jig import Jig
from cutvision.correction.miter import correct_miter_from_angles, correct_miter_from_legs, leg_angles
from cutvision.correction.readings import (
    Assumption,
    ReadingCare,
    assumptions,
    gap_assumptions,
    outliers,
    typed_angle,
    typed_corner,
    typed_distance,
    typed_gap,
    typed_gauge,
    typed_legs,
    typed_legs_by_difference,
    typed_protractor,
    typed_widths,
    typed_widths_by_difference,
)
from cutvision.correction.remedies import Remedy
from cutvision.correction.result import (
    Candidate,
    Correction,
    FirstOrder,
    MovePlan,
    NextReading,
    PieceRead,
    PointShift,
    Push,
    VAngle,
    VArms,
)
from cutvision.correction.square import correct_square_from_taper, correct_square_from_widths
from cutvision.correction.tolerance import DEFAULT_TOLERANCE, Tolerance, joint_error, parse_tolerance
from cutvision.correction.v_arms import LegPair, correct_arms_from_angles, correct_arms_from_legs

__all__ = [
    "DEFAULT_TOLERANCE",
    "FENCE_KINDS",
    "INSTRUMENTS",
    "LEAF_SETS",
    "Action",
    "AngleError",
    "Assumption",
    "Candidate",
    "Correction",
    "CutSpread",
    "Decision",
    "EdgeForm",
    "FeelerStack",
    "FenceGeometry",
    "FenceKind",
    "FenceMove",
    "FirstOrder",
    "Instrument",
    "Jig",
    "JointGap",
    "Joints",
    "Kept",
    "Leaf",
    "LeafChoice",
    "LeafSet",
    "LegPair",
    "MovePlan",
    "NextReading",
    "PieceRead",
    "PointShift",
    "Push",
    "ReadingCare",
    "Remedy",
    "Screw",
    "ScrewTurn",
    "Side",
    "StackAdvice",
    "Tolerance",
    "Turn",
    "VAngle",
    "VArms",
    "assumptions",
    "correct_arms_from_angles",
    "correct_arms_from_legs",
    "correct_assembly",
    "correct_by_protractor",
    "correct_direct",
    "correct_facing",
    "correct_frame",
    "correct_miter_from_angles",
    "correct_miter_from_legs",
    "correct_square_from_taper",
    "correct_square_from_widths",
    "decide",
    "find_stack",
    "gap_assumptions",
    "instrument",
    "joint_error",
    "leg_angles",
    "outliers",
    "own_leaves",
    "parse_tolerance",
    "probability_between",
    "spread_of_pieces",
    "typed_angle",
    "typed_corner",
    "typed_distance",
    "typed_gap",
    "typed_gauge",
    "typed_legs",
    "typed_legs_by_difference",
    "typed_protractor",
    "typed_widths",
    "typed_widths_by_difference",
]
