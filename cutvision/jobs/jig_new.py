"""What a jig holds: everything about a fence, its instruments and its sheet that stays the same between test pieces."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Literal

from cutvision.errors import InputError
from cutvision.jobs.fence import FENCE_LENGTH, KEPT, REPEATS, FenceSaid, ShimsSaid, Side
from cutvision.jobs.photos import SHEET, PhotosSaid
from cutvision.jobs.reading import BLANK, CARE, NOMINAL, SQUARE_TO, TURNS, CaliperSaid
from cutvision.jobs.said import ANGLE, ANGLE_OR_NONE, LENGTH, LENGTH_OR_NONE, TEXT, Kind, Say, declared

if TYPE_CHECKING:
    from cutvision.correction.jig_file import JigFile

DAY = Kind("DAY", "2026-11-25", lambda _text, _what: None)
ABOUT = "About the jig"


@dataclass(frozen=True, kw_only=True)
class JigSaid(FenceSaid, ShimsSaid, CaliperSaid, PhotosSaid):
    """Set up a jig; in a terminal it asks for what you do not type.

    cutvision jig new sled --kind miter --fence-length 380mm --kept left --tolerance 0.05deg

    It is kept in the logbook, which then keeps its runs too. With --out it is a small file to read, to edit and to hand
    on; with --jig OTHER it begins as a copy of the other.
    """

    name: Annotated[str | None, Say("What you call it.", TEXT, option="NAME", main=True)] = None
    kind: Annotated[
        Literal["miter", "square"] | None, Say("Whether it cuts miters or squares.", group=ABOUT, main=True)
    ] = None
    fence_length: Annotated[str | None, FENCE_LENGTH] = None
    kept: Annotated[Side | None, KEPT] = None
    nominal: Annotated[str | None, NOMINAL] = None
    turns: Annotated[int | None, TURNS] = None
    cut_spread: Annotated[
        str | None,
        Say("Standard deviation from one cut to the next at one setting.", ANGLE_OR_NONE, REPEATS, in_jig="0.013deg"),
    ] = None
    corner: Annotated[str | None, Say("The test piece's corner between the legs.", ANGLE, BLANK, in_jig="90deg")] = None
    corner_to: Annotated[
        str | None, Say("How well that corner is known, as a half-width.", ANGLE_OR_NONE, BLANK, in_jig="0.05deg")
    ] = None
    tips: Annotated[
        str | None, Say("How much of a tip may be missing (0mm if none).", LENGTH_OR_NONE, BLANK, in_jig="0.1mm")
    ] = None
    gap_to: Annotated[str | None, Say("How well a gap is known.", LENGTH_OR_NONE, CARE, in_jig="0.05mm")] = None
    square_to: Annotated[str | None, SQUARE_TO] = None
    sheet_read_to: Annotated[str | None, Say("How well the printed sheet was read.", LENGTH, SHEET, in_jig="0.2mm")] = (
        None
    )
    sheet_read_on: Annotated[str | None, Say("When it was read.", DAY, SHEET, in_jig="2026-11-25")] = None
    made_by: Annotated[str | None, Say("Who made it.", TEXT, ABOUT)] = None
    made_on: Annotated[str | None, Say("When it was made, such as 2026-11-25.", DAY, ABOUT)] = None
    note: Annotated[str | None, Say("What else should be known of it.", TEXT, ABOUT)] = None


def jig_from(asked: JigSaid) -> JigFile:
    """The jig that was described. Raises InputError for a value that a jig cannot hold, and without its kind."""
    from cutvision.correction.jig_file import OPTION_KEYS, JigFile, check_about, check_option, fence_at_odds

    if asked.kind is None:
        raise InputError("It is not said what the jig cuts.", "Give --kind miter or --kind square.")
    options = {}
    for one in declared(JigSaid):
        value = getattr(asked, one.field)
        if one.say.in_jig and one.key in OPTION_KEYS and value is not None:
            options[one.key] = check_option(one.key, str(value), one.option)
    about = {"name": asked.name, "made-by": asked.made_by, "made-on": asked.made_on, "note": asked.note}
    checked = {key.replace("-", "_"): check_about(key, text, f"--{key}") for key, text in about.items() if text}
    asked.choice()  # refuses what is at odds
    jig = JigFile(asked.kind, options=options, **checked)  # type: ignore[arg-type]
    at_odds = fence_at_odds(jig)
    if at_odds is not None:
        key, problem = at_odds
        raise InputError(f"--{key}: {problem.message}", problem.remedy)
    return jig
