"""A jig's file: read, refused with its line, and written."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutvision.correction.jig_file import (
    FORMERLY,
    LONGEST_NAME,
    LONGEST_NOTE,
    MOST_LINES,
    OPTION_KEYS,
    JigFile,
    check_option,
    jig_file_text,
    read_jig_file,
    with_print_read,
)
from cutvision.errors import InputError

KIND = 'kind = "miter"\n'
SHOWN = st.text(st.characters(exclude_categories=("C", "Z")), max_size=LONGEST_NAME)


def test_a_file_is_read() -> None:
    """Comments, blank lines, a byte order mark and line ends of either kind are nothing to stumble over."""
    lines = ["\ufeff# my jig", "", 'name = "Sled"', 'kind = "square"  # mine', "turns = 4", "made-on = 2026-01-02", ""]
    text = "\r\n".join(lines)
    jig = read_jig_file(text, "sled.toml")
    assert jig == JigFile("square", "Sled", {"turns": "4"}, made_on=date(2026, 1, 2))


@pytest.mark.parametrize("key", OPTION_KEYS)
def test_each_example_is_what_its_key_takes(key: str) -> None:
    """The example told beside each key passes that key's own check, in a file and as an option."""
    row = OPTION_KEYS[key]
    assert check_option(key, row.example, f"--{key}") == row.example
    assert read_jig_file(f"{KIND}{key} = {row.shown(row.example)}", "x").options == {key: row.example}


@given(
    name=SHOWN,
    by=SHOWN,
    note=st.text(st.characters(exclude_categories=("C", "Z")) | st.just("\n"), max_size=LONGEST_NOTE),
    keys=st.sets(st.sampled_from(sorted(set(OPTION_KEYS) - {"shims", "shim-at", "point-ahead"}))),
    day=st.none() | st.dates(),
    kind=st.sampled_from(["miter", "square"]),
)
@settings(max_examples=100, deadline=None)
def test_what_is_written_is_read_back(
    name: str, by: str, note: str, keys: set[str], day: date | None, kind: str
) -> None:
    """Any jig, with any letters in its texts, comes back from its file as it was."""
    options = {key: OPTION_KEYS[key].example for key in keys}  # among them a single fence, which has no point
    jig = JigFile(kind, name, options, by, day, note.strip())  # type: ignore[arg-type]
    assert read_jig_file(jig_file_text(jig), "x") == jig


@pytest.mark.parametrize(
    ("text", "line", "said", "remedy"),
    [
        ('kind = "miter"\nfence_length = "380mm"', 2, "fence_length is no key", "fence-length?"),
        (f"{KIND}wibble = 3", 2, "wibble is no key", "Leave the line out"),
        (f"{KIND}[saw]\nkept = 1", 2, "saw is no key", "Leave the line out"),
        (f'{KIND}kept.side = "left"', 2, "kept begins a section", "one key = value a line"),
        (f"{KIND}\n\nfence-length = 380", 4, "380, a number without a unit", 'fence-length = "380mm"'),
        (f"{KIND}tolerance = 0.05", 2, "0.05, a number without a unit", 'tolerance = "0.05deg"'),
        (f'{KIND}fence-length = "380"', 2, "without a unit", "380mm or 380in"),
        (f'{KIND}fence-length = "3deg"', 2, "which is an angle", "Type it like 19mm"),
        (f'{KIND}nominal = "45mm"', 2, "which is a length", "Type it like 45deg"),
        (f'{KIND}fence-length = "-3mm"', 2, "cannot be negative", "without a sign"),
        (f'{KIND}fence-length = "nanmm"', 2, "cannot be read", "with its unit"),
        (f'{KIND}fence-length = "infmm"', 2, "cannot be read", "with its unit"),
        (f'{KIND}fence-length = "1e400mm"', 2, "more than 100 m", "wrong unit"),
        (f"{KIND}fence-length = nan", 2, "nan", "fence-length = "),
        (f'{KIND}fence-length = "0mm"', 2, "more than zero", "above zero"),
        (f'{KIND}turns = "4"', 2, "whole number without quotes", "turns = 4"),
        (f"{KIND}turns = 3", 2, "none of its values", "4 or 2"),
        (f"{KIND}turns = true", 2, "whole number", "turns = 4"),
        (f"{KIND}most-shims = 9", 2, "most-shims is 9", "from 1 to 5"),
        (f"{KIND}most-shims = 2.5", 2, "whole number", "most-shims = 3"),
        (f"{KIND}kept = true", 2, "text in quotes", 'kept = "left"'),
        (f'{KIND}kept = "lefft"', 2, "none of its values", "'left'?"),
        ('kind = "mitre"', 1, "none of its values", "'miter'?"),
        ("kind = 45", 1, "text in quotes", 'kind = "miter"'),
        (f'{KIND}shims = ["0.1mm", "0.2mm"]', 2, "list in brackets", 'shims = "0.1mm,0.2mm"'),
        (f"{KIND}shims = [1, 2]", 2, "text in quotes", 'shims = "0.05mm'),
        (f'{KIND}kept = "left"\n# again\nkept = "right"', 4, "stands on line 2 already", "Keep one"),
        (f'{KIND}shims = "0.1mm"\nshim-set = "metric-13"', 3, "does not go with shims on line 2", "Keep one"),
        (f"{KIND}fence-length = 380mm", 2, "without quotes", 'fence-length = "380mm"'),
        (f"{KIND}kept = left # mine", 2, "without quotes", 'kept = "left"'),
        (f'{KIND}fence-length = "380mm', 2, "unterminated string", 'fence-length = "380mm"'),
        (f'{KIND}note = """one\ntwo', 2, "cannot be read as TOML", 'note = "one"'),
        (f'{KIND}note = """one\ntwo"""\nkept = 3', 4, "text in quotes", 'kept = "left"'),
        (f"{KIND}kept =", 2, "cannot be read as TOML", 'kept = "left"'),
        (f"{KIND}my jig", 2, "no statement", 'kind = "miter"'),
        (f"{KIND}= 3", 2, "no statement", 'kind = "miter"'),
        (f'{KIND}made-on = "spring"', 2, "which is no day", "made-on = 2026-11-25"),
        (f"{KIND}made-on = 2026-1-2", 2, "without quotes", "made-on = 2026-11-25"),
        (f"{KIND}made-on = 2026-01-02T10:00:00", 2, "which is no day", "made-on = 2026-11-25"),
        (f"{KIND}made-on = 5", 2, "which is no day", "made-on = 2026-11-25"),
        (f'{KIND}sheet-read-on = "spring"', 2, "which is no day", 'sheet-read-on = "2026-11-25"'),
        (f'{KIND}name = "a\\u001b[2Jb"', 2, "cannot be shown", "letters"),
        (f'{KIND}name = "{"a" * 81}"', 2, "81 characters", "at most 80"),
        (f'{KIND}note = "{"a" * 1001}"', 2, "1001 characters", "at most 1000"),
        (f'{KIND}fence-length = "1mm"', 2, "too short", "at least 25 mm"),
        (f'{KIND}fence-length = "380mm,100mm"', 2, "280 mm apart", "misread"),
        (f'{KIND}shims = "0.1mm,10m"', 2, "thicker than 25.4 mm (1 in)", "unit"),
        (f"{KIND}fence-length = {'[' * 5000}", 2, "5000 characters long", 'fence-length = "380mm"'),
        (f"{KIND}turns = {'4' * 5000}", 2, "5000 characters long", "turns = 4"),
        (
            f'{KIND}fence = "single"\npoint-ahead = "190mm"',
            3,
            "that is v-foot or v-point, not single",
            "Leave it",
        ),
        (f'{KIND}fence = "v-foot"\nshim-at = "work"', 3, "goes with a fence that is single, not v-foot", "Leave it"),
        (f'{KIND}fence = "v-point"\npivot = "left"', 3, "single or v-foot, not v-point", "Leave it"),
        ('kind = "square"\nfence = "v-foot"', 2, "this jig cuts square", "single"),
        (f"{KIND}name = {'[' * 5000}", 2, "too long or too deep", "name = "),
        (f"{KIND}name = 3", 2, "text in quotes", 'name = "..."'),
    ],
)
def test_each_fault_is_told_with_its_line(text: str, line: int, said: str, remedy: str) -> None:
    """The message names the file, the line and the key; the remedy says what to write instead."""
    with pytest.raises(InputError) as refused:
        read_jig_file(text, "sled.toml")
    assert refused.value.message.startswith(f"sled.toml, line {line}: ")
    assert said in refused.value.message
    assert remedy in refused.value.remedy


@pytest.mark.parametrize(("old", "new"), FORMERLY.items())
def test_an_older_files_keys_are_read(old: str, new: str) -> None:
    """A file with the former spelling holds the same, and is written with today's."""
    jig = read_jig_file(f"{KIND}{old} = {OPTION_KEYS[new].shown(OPTION_KEYS[new].example)}", "x")
    assert jig.options == {new: OPTION_KEYS[new].example}
    assert f"\n{new} = " in jig_file_text(jig)


def test_both_spellings_of_a_key_are_one_key() -> None:
    """The former spelling beside today's stands there twice."""
    with pytest.raises(InputError, match="stands on line 2 already"):
        read_jig_file(f'{KIND}shim-at = "work"\nleaf-at = "operator"\n', "x")


def test_a_new_reading_of_the_print_puts_all_of_the_old_one_aside() -> None:
    """Every other line stays as it was, remarks too; what was read of the earlier print is gone."""
    old = f'# mine\n{KIND}long-side = "249mm"\nkept = "left" # so\ndiagonal-up = "307.9mm"\n'
    new = with_print_read(old, {"long-side": "250.4mm", "sheet-read-on": "2026-11-25"}, "x")
    assert new == f'# mine\n{KIND}kept = "left" # so\nlong-side = "250.4mm"\nsheet-read-on = "2026-11-25"\n'


def test_the_kind_must_be_said() -> None:
    """Without its kind a jig's lever could give a wrong move, so it is asked for."""
    with pytest.raises(InputError, match=r"sled\.toml: no line says the jig's kind") as refused:
        read_jig_file('fence-length = "380mm"\n', "sled.toml")
    assert 'kind = "miter" on line 1' in refused.value.remedy


def test_a_long_text_is_no_jig_file() -> None:
    """A text of more lines than any jig has is refused before it is read; so is one of too many characters."""
    for text in ("\n" * (MOST_LINES + 1), "#" * 30_000):
        with pytest.raises(InputError, match="longer than"):
            read_jig_file(KIND + text, "novel.toml")
    assert read_jig_file(KIND + "\n" * (MOST_LINES - 1), "x").kind == "miter"


@pytest.mark.parametrize(
    "line", ["hidden words here", "PASSWORD=hidden", "a hidden = b", "password = 'hidden", "= hidden"]
)
def test_a_file_that_is_no_jigs_is_not_quoted(line: str) -> None:
    """Whoever names the wrong file by mistake sees a line's number and key, nothing else of it."""
    with pytest.raises(InputError) as refused:
        read_jig_file(f"{line}\n", "notes.txt")
    assert "line 1" in str(refused.value)
    assert "hidden" not in f"{refused.value} {refused.value.remedy}"
