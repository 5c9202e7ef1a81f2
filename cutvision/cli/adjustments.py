"""`cutvision adjustments`: a run of test cuts and moves to how the fence answers, and what to do next."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from cutvision.cli.correct_options import DistanceTo, Lever, ToleranceText, given
from cutvision.cli.jig_option import JigText
from cutvision.cli.output import answer, answer_json, tell
from cutvision.cli.spread import SpreadOptions
from cutvision.errors import InputError
from cutvision.files import LIMITS, read_bounded, write_output

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


@dataclass(frozen=True, slots=True)
class RunOptions:
    """The run in a file, and how well its cuts and moves are known."""

    file: Annotated[
        Path | None,
        typer.Option(
            "--file",
            metavar="FILE",
            help="The steps in a text or CSV file, one a line, before those typed; # begins a remark.",
        ),
    ] = None
    cut_to: Annotated[
        str | None, typer.Option("--cut-to", metavar="ANGLE", help="The 95 % bound of every cut that names none.")
    ] = None
    common: Annotated[
        str | None,
        typer.Option(
            "--common", metavar="ANGLE", help="The part of the cuts' bounds that is the same in all (a piece's corner)."
        ),
    ] = None
    move_to: Annotated[
        str | None, typer.Option("--move-to", metavar="LENGTH", help="How well a move was set (0.02mm unless said).")
    ] = None
    distance_to: DistanceTo = None
    chart: Annotated[
        Path | None,
        typer.Option("--chart", metavar="FILE", help="Draw the run as .svg, .png or .pdf."),
    ] = None
    jig_file: JigText = None

    def steps(self, typed: list[str], lever: Quantity, spread: SpreadOptions) -> list[Step]:
        """The run in order. Raises InputError in the step's own words."""
        texts = [*([] if self.file is None else _lines(self.file)), *((text, f"'{text}'") for text in typed)]
        if not texts:
            raise InputError(
                "There is no step.", f"Give cuts and moves in the order in which they were made: {_EXAMPLE}."
            )
        reader = _Reader(self, lever, spread)
        return [reader.step(text, where) for text, where in texts]


def adjustments(
    fence_length: Lever,
    steps: Annotated[
        list[str] | None, typer.Argument(metavar="[STEP...]", help=f"Cuts and moves in order: {_EXAMPLE}.")
    ] = None,
    tolerance: ToleranceText = None,
    nominal: Annotated[
        str | None,
        typer.Option("--nominal", metavar="ANGLE", help="Of the cut, from a square cut, for a tolerance as a gap."),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object instead of text.")] = False,
    *,
    run: RunOptions,
    spread: SpreadOptions,
) -> None:
    """From a run of test cuts and moves: how the fence answers, the next move, and when to stop.

    cutvision adjustments --fence-length 380mm "cut 0.30deg ccw to 0.02deg" "move 1.5mm cw" "cut 0.08deg ccw to 0.02deg"

    A cut is the fence's error that a test cut shows, as `correct` or `measure` tells it, with its 95 % bound ("to", or
    a ± sign): counter-clockwise (ccw, or a +) or clockwise (cw, or a -), seen from above. Cuts that follow each other
    are pieces at one setting. A move is how far the fence was moved at --fence-length (or "at 300mm") and which way it
    was to turn (of a V held at its point: both feet together). The fence's gain is the turn seen over the turn asked.
    """
    from cutvision.correction import ReadingCare, typed_distance
    from cutvision.correction.adjustments import judge_run
    from cutvision.units import parse_angle, parse_length

    distance_to_mm = None if run.distance_to is None else parse_length(run.distance_to, "--distance-to", zero=True)
    lever = typed_distance(given(fence_length, "--fence-length"), "lever", ReadingCare(distance_to_mm=distance_to_mm))
    _check_chart(run.chart)
    limit_rad, said = None, ""
    if tolerance is not None:
        from cutvision.correction.tolerance import parse_tolerance

        nominal_rad = None if nominal is None else parse_angle(nominal, "--nominal", zero=True)
        asked = parse_tolerance(tolerance, "--tolerance", nominal_rad)
        limit_rad, said = asked.angle_rad, asked.said
    result = judge_run(run.steps(steps or [], lever, spread), lever, limit_rad, said)
    _write_chart(result, run.chart)
    if as_json:
        from cutvision.reports.adjustments_json import adjustments_as_json

        answer_json(adjustments_as_json(result))
    else:
        from cutvision.reports.adjustments_text import adjustments_text

        answer(adjustments_text(result).rstrip())


class _Reader:
    """Reads steps one by one, counting cuts and moves, so that each carries a doubt of its own."""

    def __init__(self, run: RunOptions, lever: Quantity, spread: SpreadOptions) -> None:
        from cutvision.correction.adjustments import MOVED_TO_MM
        from cutvision.units import parse_angle, parse_length

        self._lever = lever
        self._spread = spread.asked()
        self._cut_to = None if run.cut_to is None else parse_angle(run.cut_to, "--cut-to")
        self._common = 0.0 if run.common is None else parse_angle(run.common, "--common", zero=True)
        self._move_to = MOVED_TO_MM if run.move_to is None else parse_length(run.move_to, "--move-to", zero=True)
        self._distance_to = run.distance_to
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
        from cutvision.units import parse_angle

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
        bound = parse_angle(values["to"], f"The bound in {where}") if "to" in values else self._cut_to
        if bound is None:
            raise InputError(
                f"{where} has no bound, without which nothing can be judged.",
                "Add the ± that was told with it, as in 'cut 0.30deg ccw to 0.02deg', or give --cut-to for all.",
            )
        value = -size if turn == "clockwise" or sign in ("-", "−") else size
        return shown_by_cut(value, bound, self._cuts, common_rad=self._common, spread=self._spread)

    def _move(self, values: dict[str, str], turn: Turn | None, where: str) -> Step:
        from cutvision.correction import ReadingCare, typed_distance
        from cutvision.correction.adjustments import move_made
        from cutvision.units import parse_length

        self._moves += 1
        _known(values, ("", "at"), where)
        if "" not in values or turn is None:
            missing = "how far" if "" not in values else "which way the fence was to turn"
            raise InputError(f"{where} does not say {missing}.", f"Type it like {_EXAMPLE}.")
        lever = self._lever
        if "at" in values:
            to_mm = None if self._distance_to is None else parse_length(self._distance_to, "--distance-to", zero=True)
            care = ReadingCare(distance_to_mm=to_mm)
            lever = typed_distance(parse_length(values["at"], f"The lever in {where}"), "lever", care)
        distance_mm = parse_length(values[""], f"The distance in {where}")
        return move_made(distance_mm, turn, lever, self._moves, to_mm=self._move_to)


def _sorted(words: list[str], where: str) -> tuple[dict[str, str], list[Turn]]:
    """Values by the word before them ("", "to", "at"), and the ways.

    Parts that follow each other are one value (1deg 5min); after a comma or a way a second bare one is a cut's bound.
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


def _check_chart(chart: Path | None) -> None:
    if chart is not None:
        from cutvision.reports.figure import format_of

        format_of(chart)


def _write_chart(run: Adjustments, chart: Path | None) -> None:
    if chart is None:
        return
    from cutvision.reports.adjustments_chart import adjustments_chart
    from cutvision.reports.figure import figure_bytes, format_of

    write_output(chart, figure_bytes(adjustments_chart(run), format_of(chart)), "drawing")
    tell(f"Wrote {chart}.")
