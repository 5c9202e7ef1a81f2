"""Forms are made from what the requests declare, and from nothing else."""

from __future__ import annotations

import pytest

from cutvision.jobs.jig_new import JigSaid
from cutvision.jobs.registry import JOBS
from cutvision.jobs.said import declared
from cutvision.logbook.moved import MoveSaid
from cutvision.web.forms import fields_of, said_in, spoken

KINDS = [*(job.kind for job in JOBS.values()), JigSaid, MoveSaid]


@pytest.mark.parametrize("kind", KINDS)
def test_a_form_asks_for_everything_but_files(kind: type) -> None:
    """Every option of the command line is on the page once, with help and choices; a path of this computer never."""
    fields = fields_of(kind, {})
    shown = [*fields.main, *(one for _, group in fields.others for one in group)]
    wanted = {one.field: one for one in declared(kind) if not one.is_file and not one.is_list}
    assert sorted(one.name for one in shown) == sorted(wanted)
    for one in shown:
        assert one.help
        assert one.choices == wanted[one.name].choices


@pytest.mark.parametrize("kind", KINDS)
def test_no_sent_name_reaches_a_file(kind: type) -> None:
    """Whatever names are sent, no field that holds a path is said."""
    sent = {one.field: "/etc/passwd" for one in declared(kind)} | {"anything": "x"}
    paths = {one.field for one in declared(kind) if one.is_file or one.is_list}
    assert not paths & set(said_in(kind, sent))
    assert "anything" not in said_in(kind, sent)


@pytest.mark.parametrize("kind", KINDS)
def test_what_a_job_needs_is_asked_first(kind: type) -> None:
    """What the command line asks for when it is missing stands in the first part of the form."""
    main = {one.name for one in fields_of(kind, {}).main}
    assert {name for group in getattr(kind, "needs", ()) for name in group} <= main


def test_what_the_jig_holds_is_shown_and_not_asked() -> None:
    """A value of the jig moves its field out of the first part, and stands beside it there."""
    kind = JOBS["measure",].kind
    fields = fields_of(kind, {}, {"kept": "left"})
    assert "kept" not in {one.name for one in fields.main}
    (kept,) = (one for _, group in fields.others for one in group if one.name == "kept")
    assert kept.filled == "left"


def test_options_are_called_by_their_labels() -> None:
    """Words written for the command line name the fields of the form; other words stay."""
    kind = JOBS["measure",].kind
    assert spoken("Give --fence-length too.", kind) == "Give “Fence length” too."
    assert spoken("See --help-all.", kind) == "See --help-all."
