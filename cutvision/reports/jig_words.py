"""A jig's file in words, and for other programs."""

from __future__ import annotations

import math
from typing import Literal, TypedDict

from cutvision.correction.jig_file import OPTION_KEYS, JigFile
from cutvision.reports.columns import wrap
from cutvision.units import MM_PER_INCH, parse_angle, parse_lengths

SCHEMA: Literal["cutvision/jig/1"] = "cutvision/jig/1"
_KINDS = {"miter": "cuts miters", "square": "cuts square"}


class JigJson(TypedDict):
    """The object that `jig show --json` prints; `options` as the file tells them, by option name without dashes."""

    schema: Literal["cutvision/jig/1"]
    name: str
    kind: str
    options: dict[str, str]
    made_by: str
    made_on: str | None
    note: str


def jig_words(jig: JigFile, source: str) -> str:
    """What the jig is, what each key says, in both units, and what is left to be typed. source: the file's name."""
    name = f'"{jig.name}" ' if jig.name else ""
    made = " ".join(part for part in (jig.made_by and f"by {jig.made_by}", _day(jig)) if part)
    blocks = [
        wrap(f"{source}: {name}{_KINDS[jig.kind]}; every line was read and makes sense."),
        "\n".join(
            wrap(f"{value_words(key, text)}: {OPTION_KEYS[key].means}", f"{key:14}")
            for key, text in jig.options.items()
        ),
        wrap(f"Made {made}.") if made else "",
        "\n".join(wrap(line) for line in jig.note.splitlines()),
    ]
    left = [f"--{key}" for key in OPTION_KEYS if key not in jig.options]
    if left:
        blocks.append(wrap(f"Not said, so to be typed where it matters: {', '.join(left)}."))
    return "\n\n".join(block for block in blocks if block) + "\n"


def jig_as_json(jig: JigFile) -> JigJson:
    """The jig as a plain object."""
    return {
        "schema": SCHEMA,
        "name": jig.name,
        "kind": jig.kind,
        "options": dict(jig.options),
        "made_by": jig.made_by,
        "made_on": None if jig.made_on is None else jig.made_on.isoformat(),
        "note": jig.note,
    }


def _day(jig: JigFile) -> str:
    return "" if jig.made_on is None else f"on {jig.made_on.isoformat()}"


def value_words(key: str, text: str) -> str:
    """What stands after the key, lengths and angles in both units."""
    unit = OPTION_KEYS[key].unit
    if unit == "mm":
        return ", ".join(f"{mm:.6g} mm ({mm / MM_PER_INCH:.4g} in)" for mm in parse_lengths(text, key, zero=True))
    if unit == "deg" and "/" not in text:
        degrees = math.degrees(parse_angle(text, key, zero=True))
        return f"{degrees:.6g} deg ({60 * degrees:.4g}')"
    return text
