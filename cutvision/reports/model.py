"""What a result says, as data: written once for each job, laid out by writers that know no meaning."""

from __future__ import annotations

from dataclasses import dataclass

from cutvision.reports.saw_scene import SawScene


@dataclass(frozen=True, slots=True)
class Table:
    """A titled table; every row has as many cells as the head has names. head: empty for rows of name and value."""

    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Section:
    """A titled list of sentences."""

    title: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Report:
    """What a person is shown of one result.

    headline: what to do first, in the imperative, with amount, place and way. sure: how sure, and the error in every
    form that people use. drawing: of the saw; None when nothing is moved. figures: the few that a short report has room
    for. tables, sections, notes, assumed: the rest. assumed: the defaults that the result rests on.
    cautions: all that apply. brief_cautions: what matters most for this step, short enough for two lines of a terminal.
    """

    headline: tuple[str, ...]
    sure: tuple[str, ...] = ()
    drawing: SawScene | None = None
    figures: Table | None = None
    tables: tuple[Table, ...] = ()
    sections: tuple[Section, ...] = ()
    notes: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    brief_cautions: str = ""
