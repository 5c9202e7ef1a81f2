"""A run of test cuts and moves to how the fence answered, the next move, and when to stop."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, ClassVar, Literal

from cutvision.errors import InputError
from cutvision.files import LIMITS, read_bounded
from cutvision.jobs.fence import FENCE_LENGTH, RepeatsSaid
from cutvision.jobs.reading import CARE, NOMINAL
from cutvision.jobs.said import ANGLE, ANGLE_OR_NONE, FILE, LENGTH_OR_NONE, TEXT, TOLERANCE, Needs, Say, angle, length
from cutvision.units import parse_angle, parse_length, parse_lengths

if TYPE_CHECKING:
    from cutvision.correction.adjustments import Adjustments, Step
    from cutvision.uncertainty import Quantity

Turn = Literal["clockwise", "counterclockwise"]

_EXAMPLE = "'cut 0.30deg ccw to 0.02deg' or 'move 1.5mm cw'"
_KINDS: dict[str, Literal["cut", "move"]] = {"cut": "cut", "move": "move", "moved": "move"}
_TURNS: dict[str, Turn] = {
    **dict.fromkeys(("cw", "clockwise"), "clockwise"),
    **dict.fromkeys(("ccw", "counterclockwise", "counter-clockwise", "anticlockwise"), "counterclockwise"),
}
_FIGURES = re.compile(r"[-+\d./½¼¾]+")


@dataclass(frozen=True, kw_only=True)
class Steps(RepeatsSaid):
    """From a run of test cuts and moves: how far the fence moved of what was set, the next move, and when to stop.

    cutvision correct steps --fence-length 380mm "cut 0.30deg ccw to 0.02deg" "move 1.5mm cw" "cut 0.08deg ccw to
    0.02deg"

    A cut is the fence's error that a test cut shows, as `correct` or `measure` gives it, with its 95 % uncertainty
    ("to", or a ± sign): counter-clockwise (ccw, or a +) or clockwise (cw, or a -), seen from above. Cuts that follow
    each other are pieces at one setting. A move is how far the fence was moved at --fence-length (or "at 300mm") and
    which way it was to turn (of a V held at its point: both feet together).
    """

    needs: ClassVar[Needs] = (("fence_length",),)
    steps: Annotated[tuple[str, ...], Say(f"Cuts and moves in order: {_EXAMPLE}.", TEXT, option="STEP")] = ()
    fence_length: Annotated[str, FENCE_LENGTH]
    tolerance: Annotated[
        str | None,
        Say("The fence error that is good enough: 0.05deg, 3min, 0.1mm/300mm or gap:0.1mm/60mm.", TOLERANCE, main=True),
    ] = None
    nominal: Annotated[str | None, NOMINAL] = None
    file: Annotated[
        Path | None,
        Say("The steps in a text or CSV file, one a line, before those typed; # begins a remark.", FILE, main=True),
    ] = None
    cut_to: Annotated[
        str | None, Say("The 95 % uncertainty (±) of every cut that names none.", ANGLE, CARE, main=True)
    ] = None
    common: Annotated[
        str | None,
        Say("The part of the cuts' uncertainty that is the same in all (a piece's corner).", ANGLE_OR_NONE, CARE),
    ] = None
    move_to: Annotated[str | None, Say("How well a move was set (0.02mm unless you say).", LENGTH_OR_NONE, CARE)] = None
    distance_to: Annotated[str | None, Say("How well the fence length is known.", LENGTH_OR_NONE, CARE)] = None


def run_steps(asked: Steps) -> Adjustments:
    """The run's outcome. Raises InputError in the step's own words, or the option's name."""
    from cutvision.correction import ReadingCare, parse_tolerance, typed_distance
    from cutvision.correction.adjustments import judge_run

    care = ReadingCare(distance_to_mm=length(asked.distance_to, "--distance-to", zero=True))
    lever = typed_distance(parse_lengths(asked.fence_length, "--fence-length"), "lever", care)
    limit_rad, said = None, ""
    if asked.tolerance is not None:
        tolerance = parse_tolerance(asked.tolerance, "--tolerance", angle(asked.nominal, "--nominal", zero=True))
        limit_rad, said = tolerance.angle_rad, tolerance.said
    texts = [*([] if asked.file is None else _lines(asked.file)), *((text, f"'{text}'") for text in asked.steps)]
    if not texts:
        raise InputError("There is no step.", f"Give cuts and moves in the order in which they were made: {_EXAMPLE}.")
    reader = _Reader(asked, lever)
    return judge_run([reader.step(text, where) for text, where in texts], lever, limit_rad, said)


class _Reader:
    """Reads steps one by one, counting cuts and moves, so that each has an uncertainty of its own."""

    def __init__(self, asked: Steps, lever: Quantity) -> None:
        from cutvision.correction.adjustments import MOVED_TO_MM

        self._lever = lever
        self._repeats = asked.repeats()
        self._cut_to = angle(asked.cut_to, "--cut-to")
        self._common = angle(asked.common, "--common", zero=True) or 0.0
        move_to = length(asked.move_to, "--move-to", zero=True)
        self._move_to = MOVED_TO_MM if move_to is None else move_to
        self._distance_to = length(asked.distance_to, "--distance-to", zero=True)
        self._cuts = self._moves = 0

    def step(self, text: str, where: str) -> Step:
        """One step. where: what stands for it in messages."""
        words = re.sub(r"\+/-|\+-|±", " to ", text.strip().lower()).replace(";", ",").replace(",", " , ").split()
        kind = _KINDS.get(words[0]) if words else None
        if kind is None:
            raise InputError(f"{where} is neither a cut nor a move.", f"Begin it with cut or move: {_EXAMPLE}.")
        values, turns = _sorted(words[1:], where)
        if len(turns) > 1:
            raise InputError(f"{where} names more than one way.", "Give one way, ccw or cw.")
        turn = turns[0] if turns else None
        return self._cut(values, turn, where) if kind == "cut" else self._move(values, turn, where)

    def _cut(self, values: dict[str, str], turn: Turn | None, where: str) -> Step:
        from cutvision.correction.adjustments import shown_by_cut

        self._cuts += 1
        _known(values, ("", "to"), where)
        if "" not in values:
            raise InputError(f"{where} names no error.", f"Type it like {_EXAMPLE}.")
        text = values[""]
        sign = text[0] if text[0] in "+-−" else ""
        size = parse_angle(text.lstrip("+-−"), f"The error in {where}", zero=True)
        if sign and turn is not None:
            raise InputError(f"{where} has a sign and a way, which may be at odds.", "Give one: a sign, or ccw or cw.")
        if not sign and turn is None and size:
            raise InputError(
                f"{where} does not say which way the fence stands.", "Add ccw (counter-clockwise) or cw, or a sign."
            )
        bound = parse_angle(values["to"], f"The uncertainty in {where}") if "to" in values else self._cut_to
        if bound is None:
            raise InputError(
                f"{where} has no uncertainty, without which nothing can be judged.",
                "Add the ± that was given with it, as in 'cut 0.30deg ccw to 0.02deg', or give --cut-to for all.",
            )
        value = -size if turn == "clockwise" or sign in ("-", "−") else size
        return shown_by_cut(value, bound, self._cuts, common_rad=self._common, spread=self._repeats)

    def _move(self, values: dict[str, str], turn: Turn | None, where: str) -> Step:
        from cutvision.correction import ReadingCare, typed_distance
        from cutvision.correction.adjustments import move_made

        self._moves += 1
        _known(values, ("", "at"), where)
        if "" not in values or turn is None:
            missing = "how far" if "" not in values else "which way the fence was to turn"
            raise InputError(f"{where} does not say {missing}.", f"Type it like {_EXAMPLE}.")
        lever = self._lever
        if "at" in values:
            care = ReadingCare(distance_to_mm=self._distance_to)
            lever = typed_distance(parse_length(values["at"], f"The lever in {where}"), "lever", care)
        distance_mm = parse_length(values[""], f"The distance in {where}")
        return move_made(distance_mm, turn, lever, self._moves, to_mm=self._move_to)


def _sorted(words: list[str], where: str) -> tuple[dict[str, str], list[Turn]]:
    """Values by the word before them ("", "to", "at"), and the ways.

    Parts that follow each other are one value (1deg 5min); after a comma or a way a second bare one is a cut's
    uncertainty.
    """
    values: dict[str, str] = {}
    turns: list[Turn] = []
    role, closed, figures = "", False, list[str]()
    for word in [*words, ","]:
        if _FIGURES.fullmatch(word):
            figures.append(word)
            continue
        parts = word in _TURNS or word in {",", "to", "at"}
        if parts and figures:
            raise InputError(
                f"{where} holds {' '.join(figures)} without a unit.", f"Give every value with its unit: {_EXAMPLE}."
            )
        if parts:
            turns += [_TURNS[word]] if word in _TURNS else []
            role, closed = (word, False) if word in {"to", "at"} else ("" if values else role, True)
        elif word not in {"by", "of"}:
            role = "to" if closed and role == "" and "" in values else role
            if closed and role in values:
                raise InputError(f"{where} holds more values than it can use.", f"Type it like {_EXAMPLE}.")
            values[role] = " ".join([*([values[role]] if role in values else []), *figures, word])
            closed, figures = False, []
    return values, turns


def _known(values: dict[str, str], roles: tuple[str, ...], where: str) -> None:
    if strange := [f"{role} {text}" for role, text in values.items() if role not in roles]:
        raise InputError(f"{where} holds '{strange[0]}', which does not belong there.", f"Type it like {_EXAMPLE}.")


def _lines(file: Path) -> list[tuple[str, str]]:
    """The file's steps, each with the words that name its line. Raises InputError when it cannot be read."""
    try:
        lines = read_bounded(file, "steps").decode("utf-8-sig").splitlines()
    except UnicodeDecodeError as error:
        raise InputError(f"{file} cannot be read: it is no text.", LIMITS["steps"].remedy) from error
    plain = [(line.partition("#")[0].strip(), number) for number, line in enumerate(lines, 1)]
    return [(text, f"{file.name}, line {number}, '{text[:60]}'") for text, number in plain if text]
