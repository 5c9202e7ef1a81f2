"""A jig as a small readable file: what stays the same from one test piece to the next, under the options' own names.

The file is TOML without sections, one `key = value` a line. Text in, a checked record out, and back; no file is opened.
"""

from __future__ import annotations

import difflib
import json
import math
import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from types import MappingProxyType
from typing import Any, Literal, get_args

from cutvision.correction.feeler_stack import own_leaves
from cutvision.correction.instruments import INSTRUMENTS
from cutvision.correction.readings import ReadingCare, typed_distance
from cutvision.correction.tolerance import parse_tolerance
from cutvision.errors import InputError
from cutvision.units import parse_angle, parse_length, parse_lengths

JigKind = Literal["miter", "square"]
KINDS: tuple[JigKind, ...] = get_args(JigKind)
MOST_CHARACTERS = 20_000
MOST_LINES = 200
LONGEST_NAME = 80
LONGEST_NOTE = 1000
DAY_EXAMPLE = "2026-11-25"


@dataclass(frozen=True, slots=True)
class JigFile:
    """A jig as its file tells it.

    options: text by option name without the dashes, each as a person would type it, such as "380mm". kind: whether it
    cuts miters or squares. made_on: the day on which it was built.
    """

    kind: JigKind
    name: str = ""
    options: Mapping[str, str] = field(default_factory=dict)
    made_by: str = ""
    made_on: date | None = None
    note: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "options", MappingProxyType(dict(self.options)))


@dataclass(frozen=True, slots=True)
class Key:
    """What may stand after a key: how its text is checked, an example of it, and what it is in a few words.

    bare: whether a whole number without quotes is meant.
    """

    check: Callable[[str, str], object]
    example: str
    means: str
    bare: bool = False

    @property
    def unit(self) -> Literal["mm", "deg", ""]:
        """The unit that it is told in; empty for a choice or a count."""
        number = self.example[0].isdigit()
        return "mm" if number and self.example.endswith("mm") else "deg" if self.example.endswith("deg") else ""

    def shown(self, value: str) -> str:
        """The value as it stands in the file."""
        return value if self.bare else quoted(value)


def _length(text: str, what: str) -> object:
    return parse_length(text, what)


def _small_length(text: str, what: str) -> object:
    return parse_length(text, what, zero=True)


def _angle(text: str, what: str) -> object:
    return parse_angle(text, what)


def _tolerance(text: str, what: str) -> object:
    return parse_tolerance(text, what, 0.0)


def _small_angle(text: str, what: str) -> object:
    return parse_angle(text, what, zero=True)


def _lever(text: str, what: str) -> object:
    read = parse_lengths(text, what)
    return _told(what, lambda: typed_distance(read, "lever", ReadingCare()))


def _shims(text: str, what: str) -> object:
    read = [(thickness_mm, f"{thickness_mm:g} mm") for thickness_mm in parse_lengths(text, what)]
    return _told(what, lambda: own_leaves(read))


def _day_text(text: str, what: str) -> object:
    return _day(text, what, f"{what.rsplit(maxsplit=1)[-1].removeprefix('--')} = {quoted(DAY_EXAMPLE)}")


def _words(text: str, what: str) -> object:
    return _plain_words(text, what, LONGEST_NOTE)


def _told(what: str, check: Callable[[], object]) -> object:
    """What `check` gives; what it refuses is told in the words of `what`."""
    try:
        return check()
    except InputError as problem:
        raise InputError(f"{what}: {problem.message}", problem.remedy) from problem


def _one_of(*choices: str) -> Callable[[str, str], object]:
    def check(text: str, what: str) -> object:
        if text not in choices:
            near = (
                [] if text.lstrip("-").isdigit() else difflib.get_close_matches(text.lower(), choices, n=1, cutoff=0.4)
            )
            meant = f"Did you mean '{near[0]}'? It" if near else "It"
            raise InputError(f"{what} is '{text}', which is none of its values.", f"{meant} is one of {_or(choices)}.")
        return text

    return check


def _count(least: int, most: int) -> Callable[[str, str], object]:
    def check(text: str, what: str) -> object:
        if not (re.fullmatch(r"[0-9]{1,3}", text) and least <= int(text) <= most):
            raise InputError(f"{what} is {text}.", f"Write a whole number from {least} to {most}, without quotes.")
        return int(text)

    return check


OPTION_KEYS: Mapping[str, Key] = MappingProxyType(
    {
        "fence-length": Key(_lever, "380mm", "from the pivot to where the fence is pushed"),
        "fence": Key(_one_of("single", "v-foot", "v-point"), "single", "how the fence is held"),
        "pivot": Key(_one_of("left", "right"), "left", "the end, or the V's foot, about which it turns"),
        "shim-at": Key(_one_of("operator", "work"), "operator", "the side on which a single fence's stop is"),
        "screw-pitch": Key(_length, "1mm", "how far one turn of its screw moves it"),
        "screw-pushes": Key(_one_of("away", "toward"), "away", "the way it goes when the screw is turned in"),
        "point-ahead": Key(_length, "190mm", "of a V, from the line through its feet to its point"),
        "nominal": Key(_angle, "45deg", "the miter as shops say it, from a square cut"),
        "kept": Key(_one_of("left", "right"), "left", "the side of the blade on which the work is kept"),
        "turns": Key(_one_of("4", "2"), "4", "quarter turns of the board between the two edges", bare=True),
        "tolerance": Key(_tolerance, "0.05deg", "the fence error that is good enough"),
        "shim-set": Key(_one_of("metric-13", "metric-20", "inch-26"), "metric-13", "the feeler-gauge blades at hand"),
        "shims": Key(_shims, "0.05mm,0.10mm,0.15mm", "or your own shims"),
        "most-shims": Key(_count(1, 5), "3", "how many shims may lie together", bare=True),
        "shim-to": Key(_small_length, "0.005mm", "how true each shim is"),
        "cut-spread": Key(_small_angle, "0.013deg", "standard deviation from one cut to the next"),
        "instrument": Key(_one_of(*INSTRUMENTS), "caliper-0.01mm", "what you read the test piece with"),
        "read-to": Key(_small_length, "0.03mm", "how well a caliper reading repeats"),
        "accuracy": Key(_small_length, "0.02mm", "the caliper's limit of error"),
        "distance-to": Key(_small_length, "1mm", "how well the longer distances are known"),
        "edge-form": Key(_small_length, "0.03mm", "RMS roughness of a sawn edge"),
        "tips": Key(_small_length, "0.1mm", "how much of a tip may be missing"),
        "corner": Key(_angle, "90deg", "the test piece's corner between the legs"),
        "corner-to": Key(_small_angle, "0.05deg", "how well that corner is known"),
        "gap-to": Key(_small_length, "0.05mm", "how well a gap is known"),
        "square-to": Key(_small_angle, "0.03deg", "how true the square or protractor is"),
        "thickness": Key(_length, "19mm", "the stock's thickness"),
        "long-side": Key(_length, "250.4mm", "the printed frame's long side, as read on the paper"),
        "short-side": Key(_length, "179.8mm", "its short side"),
        "diagonal-down": Key(_length, "308.3mm", "its diagonal from top left to bottom right"),
        "diagonal-up": Key(_length, "307.9mm", "its diagonal from bottom left to top right"),
        "sheet-read-to": Key(_length, "0.2mm", "the largest error of such a reading"),
        "sheet-read-on": Key(_day_text, DAY_EXAMPLE, "the day on which the sheet was read"),
        "camera": Key(_words, "phone.camera.json", "the file that `cutvision camera calibrate` wrote"),
    }
)
LISTS = ("fence-length", "shims")
# What a rule read on one print; a new reading puts all of the old one aside.
PRINT_KEYS = ("long-side", "short-side", "diagonal-down", "diagonal-up", "sheet-read-to", "sheet-read-on")
FORMERLY = {
    "leaf-at": "shim-at",
    "leaf-set": "shim-set",
    "leaves": "shims",
    "most-leaves": "most-shims",
    "leaf-to": "shim-to",
}
"""How older files and logbooks spell a key."""
ABOUT_KEYS = ("name", "kind", "made-by", "made-on", "note")
# Two ways of saying one thing; a file holds one of them, and a typed one puts the other aside.
RIVALS: tuple[tuple[str, str], ...] = (
    ("shim-set", "shims"),
    ("cut-spread", "cut-angles"),
    ("shim-at", "screw-pitch"),
    ("shim-at", "screw-pushes"),
)


def read_jig_file(text: str, source: str) -> JigFile:
    """The jig that the text tells of. source: the file's name, for messages.

    Raises InputError with the file, the line, the key and what to write instead: for text that is no TOML, a section, a
    key that is unknown or stands twice, a value of the wrong kind or unit, a missing kind, and a text that is too long.
    """
    if len(text) > MOST_CHARACTERS or text.count("\n") > MOST_LINES:
        raise InputError(
            f"{source} is no jig file: it is longer than {MOST_LINES} lines or {MOST_CHARACTERS} characters.",
            "A jig file is a few lines; `cutvision jig new --out FILE` writes one.",
        )
    about: dict[str, Any] = {}
    options: dict[str, str] = {}
    lines: dict[str, int] = {}
    for written, value, number in _statements(text.removeprefix("\ufeff"), source):
        where = f"{source}, line {number}: {written}"
        key = FORMERLY.get(written, written)
        _refuse_unknown(key, value, where)
        if key in lines:
            raise InputError(f"{where} stands on line {lines[key]} already.", "Keep one of the two lines.")
        lines[key] = number
        if key in ABOUT_KEYS:
            about[key.replace("-", "_")] = check_about(key, value, where)
        else:
            options[key] = check_option(key, _as_text(key, value, where), where)
    if "kind" not in lines:
        raise InputError(
            f"{source}: no line says the jig's kind.",
            'Put kind = "miter" on line 1 for a jig that cuts miters, kind = "square" for one that cuts square.',
        )
    for rivals in RIVALS:
        both = [key for key in rivals if key in lines]
        if len(both) > 1:
            first, second = sorted(both, key=lines.__getitem__)
            raise InputError(
                f"{source}, line {lines[second]}: {second} does not go with {first} on line {lines[first]}.",
                "Keep one of the two lines.",
            )
    jig = JigFile(options=options, **about)
    at_odds = fence_at_odds(jig)
    if at_odds is not None:
        key, problem = at_odds
        raise InputError(f"{source}, line {lines[key]}: {key}: {problem.message}", problem.remedy)
    return jig


def fence_at_odds(jig: JigFile) -> tuple[str, InputError] | None:
    """The key by which the jig's fence cannot be, and why; None when what is said of it goes together."""
    said = jig.options
    kind = said.get("fence")
    if kind is None:
        return None
    if kind != "single" and jig.kind == "square":
        return "fence", InputError("A V fence makes miters; this jig cuts square.", "Say that the fence is single.")
    for key, only in (("shim-at", "single"), ("point-ahead", "v-foot or v-point"), ("pivot", "single or v-foot")):
        if key in said and kind not in only.split():
            return key, InputError(f"It goes with a fence that is {only}, not {kind}.", "Leave it out.")
    return None


def check_option(key: str, text: str, what: str) -> str:
    """The value as typed, once it has been checked. Raises InputError in the words of `what`."""
    OPTION_KEYS[key].check(text, what)
    return text


def jig_file_text(jig: JigFile) -> str:
    """The jig as the text of its file, which `read_jig_file` reads back to the same record."""
    about = {"name": jig.name, "kind": jig.kind}
    made = {"made-by": jig.made_by, "note": jig.note}
    lines = ["# A jig for cutvision: give it to any command with --jig FILE. Keys are the options' names."]
    lines += [f"{key} = {quoted(value)}" for key, value in about.items() if value]
    lines += [f"{key} = {row.shown(jig.options[key])}" for key, row in OPTION_KEYS.items() if key in jig.options]
    lines += [f"made-on = {jig.made_on.isoformat()}"] if jig.made_on else []
    lines += [f"{key} = {quoted(value)}" for key, value in made.items() if value]
    return "\n".join(lines) + "\n"


def with_print_read(text: str, read: Mapping[str, str], source: str) -> str:
    """A jig file's text with what was read on the print in place of an earlier reading; all other lines stay.

    read: text by key of `PRINT_KEYS`. Raises InputError as `read_jig_file`.
    """
    lines = text.splitlines()
    old = {number for key, _, number in _statements(text.removeprefix("\ufeff"), source) if key in PRINT_KEYS}
    kept = [line for number, line in enumerate(lines, 1) if number not in old]
    kept += [f"{key} = {quoted(read[key])}" for key in PRINT_KEYS if key in read]
    changed = "\n".join(kept) + "\n"
    read_jig_file(changed, source)
    return changed


def quoted(value: str) -> str:
    """A TOML string: for any text that can be shown, JSON's is one."""
    return json.dumps(value, ensure_ascii=False)


def _statements(text: str, source: str) -> list[tuple[str, Any, int]]:
    """Each key with its value and the number of the line where it begins.

    The file has no sections, so that a statement can be read by itself: as few lines as make sense to tomllib.
    """
    found: list[tuple[str, Any, int]] = []
    lines = text.replace("\r\n", "\n").split("\n")
    start = 0
    while start < len(lines):
        problem: ValueError | RecursionError | None = None
        for end in range(start + 1, len(lines) + 1):
            try:
                read = tomllib.loads("\n".join(lines[start:end]))
            except (ValueError, RecursionError) as error:  # also a number of thousands of figures, or brackets as deep
                problem = problem or error
                continue
            found += [(key, value, start + 1) for key, value in read.items()]
            start = end
            break
        else:
            raise _syntax(lines[start], start + 1, source, problem)
    return found


def _syntax(line: str, number: int, source: str, problem: ValueError | RecursionError | None) -> InputError:
    """What is wrong with a line that is no TOML, and the line as it was probably meant."""
    key, _, value = (part.strip() for part in line.partition("="))
    where = f"{source}, line {number}"
    if (
        re.fullmatch(r"[A-Za-z0-9_-]{1,40}", key) is None or "=" not in line
    ):  # the line may be of a file that is no jig's
        return InputError(
            f"{where}: this is no statement: a key, an = sign and a value.", 'Write one a line, such as kind = "miter".'
        )
    where = f"{where}: {key}"
    if FORMERLY.get(key, key) not in {*OPTION_KEYS, *ABOUT_KEYS}:
        return _unknown_key(key, where)
    row = OPTION_KEYS.get(FORMERLY.get(key, key))
    if row is not None and len(value) > LONGEST_NOTE:
        return InputError(f"{where} is {len(value)} characters long.", f"Write {key} = {row.shown(row.example)}.")
    plain = re.split("[\"'#]", value.lstrip("\"'"))[0].strip()
    meant = f"Write {key} = {quoted(plain) if row is None else row.shown(plain or row.example)}."
    if key == "made-on":
        meant = f"Write made-on = {DAY_EXAMPLE}."
    if value[:1].isalnum():
        return InputError(f"{where} is {value}, without quotes.", meant)
    told = str(problem) if isinstance(problem, tomllib.TOMLDecodeError) else "too long or too deep"
    reason = re.sub(r" \(at .*\)$", "", told).lower()
    return InputError(f"{where} cannot be read as TOML ({reason}).", meant)


def _refuse_unknown(key: str, value: object, where: str) -> None:
    if key in OPTION_KEYS or key in ABOUT_KEYS:
        if isinstance(value, dict):
            raise InputError(f"{where} begins a section; a jig file has none.", "Write one key = value a line.")
        return
    raise _unknown_key(key, where)


def _unknown_key(key: str, where: str) -> InputError:
    near = difflib.get_close_matches(key.lower().replace("_", "-"), [*ABOUT_KEYS, *OPTION_KEYS], n=1, cutoff=0.6)
    remedy = f"Leave the line out, or use one of {_or((*ABOUT_KEYS, *OPTION_KEYS))}."
    return InputError(f"{where} is no key of a jig file.", f"Did you mean {near[0]}?" if near else remedy)


def _as_text(key: str, value: object, where: str) -> str:
    """The value as a person would type it after the option. Raises InputError when it is of another type."""
    row = OPTION_KEYS[key]
    if isinstance(value, str) and not row.bare:
        return value
    number = isinstance(value, int | float) and not isinstance(value, bool)
    if row.bare and isinstance(value, int) and number:
        return str(value)
    if row.bare:
        raise InputError(
            f"{where} is {_shown(value)}, but it is a whole number without quotes.", f"Write {key} = {row.example}."
        )
    if number and row.unit:
        raise InputError(
            f"{where} is {value}, a number without a unit.",
            f'Write it with its unit and in quotes: {key} = "{value}{row.unit}".'
            if math.isfinite(float(str(value)))
            else f'Write it like {key} = "{row.example}".',
        )
    if isinstance(value, list) and all(isinstance(part, str) for part in value) and key in LISTS:
        raise InputError(f"{where} is a list in brackets.", f"Write {key} = {quoted(','.join(value))}.")
    raise InputError(
        f"{where} is {_shown(value)}, but it is text in quotes.", f"Write {key} = {row.shown(row.example)}."
    )


def check_about(key: str, value: object, where: str) -> str | date:
    """The value of a key that describes the jig. Raises InputError when it is of another type or too long."""
    if key == "made-on":
        return _day(value, where, f"made-on = {DAY_EXAMPLE}")
    if not isinstance(value, str):
        example = "miter" if key == "kind" else "..."
        raise InputError(f"{where} is {_shown(value)}, but it is text in quotes.", f'Write {key} = "{example}".')
    if key == "kind":
        _one_of(*KINDS)(value, where)
        return value
    return _plain_words(value, where, LONGEST_NOTE if key == "note" else LONGEST_NAME)


def _plain_words(value: str, where: str, longest: int) -> str:
    """Text for people. Raises InputError when it is longer, or holds signs that a terminal would obey, not show."""
    if len(value) > longest:
        raise InputError(f"{where} is {len(value)} characters long.", f"Use at most {longest}.")
    if not all(sign.isprintable() or (sign == "\n" and longest == LONGEST_NOTE) for sign in value):
        raise InputError(f"{where} holds a sign that cannot be shown.", "Use letters, figures, spaces and points.")
    return value.strip()


def _day(value: object, where: str, example: str) -> date:
    if isinstance(value, date) and not isinstance(value, datetime):
        return value
    if isinstance(value, str):
        try:
            return date.fromisoformat(value)
        except ValueError:
            pass
    raise InputError(f"{where} is {_shown(value)}, which is no day.", f"Write {example}.")


def _shown(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    return quoted(value) if isinstance(value, str) else str(value)


def _or(words: tuple[str, ...]) -> str:
    return f"{', '.join(words[:-1])} or {words[-1]}"
