"""What becomes of a run's recording: in words, and the drawing that is kept with it."""

from __future__ import annotations

from cutvision.correction import Correction
from cutvision.errors import InputError
from cutvision.logbook.answers import answers_of
from cutvision.logbook.evidence import NewFile
from cutvision.logbook.recording import Recorded
from cutvision.logbook.records import Run
from cutvision.reports.figure import figure_bytes
from cutvision.reports.logbook_text import asked_words
from cutvision.reports.saw_drawing import saw_drawing
from cutvision.reports.says_steps import last_move_sentence


def kept_words(recorded: Recorded | None, *, checked: bool = False) -> str:
    """What became of the recording, in words; nothing when there was none, or it went wrong.

    checked: whether the answer says already how the fence moved.
    """
    if recorded is None or recorded.run is None:
        return ""
    name = recorded.run.jig_name
    line = f"Recorded as run {recorded.run.number} of '{name}'. {asked_words(recorded.asked)}".strip()
    warned = "" if checked or recorded.before is None else _wrong_way(recorded.before, recorded.run)
    return f"{line} {warned}".strip()


def drawn_move(correction: Correction | None) -> tuple[NewFile, ...]:
    """The drawing of the move, to be kept with the run; nothing when there is no move to make."""
    figure = None if correction is None else saw_drawing(correction)
    return () if figure is None else (NewFile("move.png", "drawing", figure_bytes(figure, "png")),)


def _wrong_way(before: Run, now: Run) -> str:
    """A warning when the move set after the run before turned the fence away from true; else nothing."""
    if not before.moves:
        return ""
    try:
        found = answers_of((before, now))
    except InputError:
        return ""  # one of the two does not show the fence's error
    if found.last_move is None or found.last_move.verdict != "wrong way":
        return ""
    return f"{last_move_sentence(found.last_move, found.answers[-1])} See: cutvision log response '{now.jig_name}'."
