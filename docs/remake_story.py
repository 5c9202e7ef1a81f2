"""Make the page a_winter_with_two_jigs.md and its pictures again.

Run `python docs/remake_story.py`. Every block of output on the page is what the command above it printed in an
empty folder. The pictures of the evidence sheet need pypdfium2, which comes with the extra `test`.
"""

from __future__ import annotations

import json
import math
import os
import re
import shlex
import shutil
import subprocess
import sys
import tempfile
import textwrap
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "docs" / "a_winter_with_two_jigs.md"
PICTURES = ROOT / "docs" / "pictures"
ENVIRONMENT = {"CUTVISION_LOGBOOK": "logbook", "COLUMNS": "80", "PYTHONUNBUFFERED": "1", "PYTHONUTF8": "1"}
RECORDED = "Recorded as run"
LEFT_OUT = "..."

Runner = Callable[[Sequence[str], Path], str]


def run_as_process(words: Sequence[str], folder: Path) -> str:
    """Run one line of the page, `cutvision` or `python`, and give both of its outputs as a terminal shows them."""
    program = [sys.executable, "-m", "cutvision"] if words[0] == "cutvision" else [sys.executable]
    done = subprocess.run(  # noqa: S603  the page's own commands
        [*program, *words[1:]],
        cwd=folder,
        env={**os.environ, **ENVIRONMENT},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        encoding="utf-8",
        check=True,
    )
    return done.stdout


# ---- the shop: what is true of the two fences, and what a caliper reads of the pieces they cut


@dataclass(slots=True)
class Shop:
    """An invented shop, seeded. Angles in degrees, counter-clockwise positive; lengths in mm."""

    chance: Random = field(default_factory=lambda: Random(1))  # noqa: S311  scatter, no secret
    sled: float = -0.162  # cuts a corner of 89.838 deg, the one in the sample photos
    miter: float = -0.483  # likewise
    truth: dict[int, float] = field(default_factory=dict)  # the fence's true error at each run

    def turn(self, jig: str, leaf: float, lever: float, seating: float = 0.0) -> None:
        """Turn a fence by a leaf at its lever, + counter-clockwise; it comes to rest `seating` degrees further."""
        setattr(self, jig, getattr(self, jig) + math.degrees(math.atan(leaf / lever)) + seating)

    def strip(self, run: int, between: float = 300.0, width: float = 25.0) -> tuple[str, ...]:
        """Options with the widths of a strip, sawn off after five cuts: its taper is four errors of the sled."""
        self.truth[run] = self.sled
        taper = math.radians(4 * self.sled + self.chance.gauss(0, 0.008))
        far = width - between * math.tan(taper)
        return "--at-fence", self._read(width), "--far-end", self._read(far), "--between", f"{between:.0f}mm"

    def legs(self, run: int, left: float = 140.0) -> tuple[str, ...]:
        """Options with the legs of a miter's test piece, whose corner is the one that the sled cuts."""
        self.truth[run] = self.miter
        right_angle = math.radians(45 - self.miter + self.chance.gauss(0, 0.006))
        left_angle = math.pi - math.radians(90 + self.sled) - right_angle
        right = left * math.sin(left_angle) / math.sin(right_angle)
        return "--left-leg", self._read(left), "--right-leg", self._read(right)

    def _read(self, length: float) -> str:
        """Three readings of a caliper that shows 0.01 mm too little and repeats to 0.012 mm."""
        return ",".join(f"{length - 0.01 + self.chance.gauss(0, 0.012):.2f}mm" for _ in range(3))


# ---- the page


@dataclass(slots=True)
class Page:
    """The page as it grows. folder: where the commands run."""

    folder: Path
    runner: Runner
    parts: list[str] = field(default_factory=list)

    def tell(self, prose: str) -> None:
        """Add prose."""
        self.parts.append(textwrap.dedent(prose).strip())

    def run(self, line: str, *more: str, keep: Sequence[str] = (), hide: bool = False) -> str:
        """Run a command and show it with its output, or the blocks of it that begin with `keep`."""
        words = [*shlex.split(line), *more]
        output = self.runner(words, self.folder).strip("\n")
        if not hide:
            self.parts.append(f"```\n{as_typed(words)}\n{shown(output, keep)}\n```")
        return output

    def picture(self, name: str, words: str) -> None:
        """Show a picture that lies in docs/pictures."""
        self.parts.append(f"![{words}](pictures/{name})")

    @property
    def text(self) -> str:
        """The whole page."""
        return "\n\n".join(self.parts) + "\n"


def as_typed(words: Sequence[str]) -> str:
    """The command as a person types it, over several lines when it is long."""
    pieces: list[str] = []
    for word in words:
        if word.startswith("--") or not pieces or not pieces[-1].startswith("--") or " " in pieces[-1]:
            pieces.append(shlex.quote(word))
        else:
            pieces[-1] += f" {shlex.quote(word)}"
    lines = ["$"]
    for piece in pieces:
        if len(lines[-1]) + len(piece) > 77:
            lines[-1] += " \\"
            lines.append("   ")
        lines[-1] += f" {piece}"
    return "\n".join(lines)


def shown(output: str, keep: Sequence[str]) -> str:
    """The output, or of its blocks those with a line that begins with one of `keep`; "..." where others are left out.

    A block ends at an empty line and before the line that tells the run's number. Raises ValueError for a beginning
    that no line has: then the program's answer is no longer the one that the prose speaks of.
    """
    if not keep:
        return output
    blocks = re.split(rf"\n\n|\n(?={RECORDED})", output)
    missing = [start for start in keep if f"\n{start}" not in f"\n{output}"]
    if missing:
        raise ValueError(f"no line begins with {missing}:\n{output}")
    lines: list[str] = []
    for block in blocks:
        if any(line.startswith(tuple(keep)) for line in block.split("\n")):
            lines += ["", block] if lines and lines[-1] != LEFT_OUT else [block]
        elif not lines or lines[-1] != LEFT_OUT:
            lines.append(LEFT_OUT)
    return "\n".join(lines)


def story(folder: Path, runner: Runner) -> str:
    """The page's text; the pictures' files are left in `folder`."""
    page, shop = Page(folder, runner), Shop()
    for photo in ("miter-1.jpg", "miter-2-turned.jpg"):
        shutil.copy(ROOT / "sample_images" / photo, folder)
    _sled_first(page, shop)
    _miter_jig(page, shop)
    _wrong_way(page, shop)
    _fastened(page, shop)
    _winter(page, shop)
    _handed_on(page)
    _what_was_true(page, shop)
    return page.text


def _sled_first(page: Page, shop: Shop) -> None:
    page.tell("""
        <!-- Made by docs/remake_story.py: change the prose there, and run it. -->
        # A winter with two jigs

        A crosscut sled, the miter jig that leans on it, and the logbook that keeps both, from October to February. The
        shop is invented: the script [`remake_story.py`](remake_story.py) holds how its fences truly stood and draws the
        caliper readings from that, with scatter; the two photos are rendered, not taken. The commands and their output
        are real: `python docs/remake_story.py` (with the extra `test`, for the sheet's pictures) runs them all in an
        empty folder and writes this page and its pictures again. Only the prose was written by hand. `...` stands where
        a part of an output is left out.

        Two lines of cautions stand beside every answer that sends you to the saw, all of them with `--more`. Read the
        [README's](../README.md#cautions) before you do anything of this kind.

        ## October: the sled first

        The miter jig's test pieces get their corner on the sled, so the sled comes first. Its fence turns about its
        left end; a stop stands behind the right end, 560 mm away, and takes the shim.
        """)
    page.run(
        "cutvision jig new sled --kind square --fence single --pivot left --shim-at operator "
        "--fence-length 560mm --kept left --tolerance 0.03deg --cut-spread 0.004deg --shim-set metric-20"
    )
    page.tell("""
        The sled's fence was set by eye. Five cuts, the board turned a quarter after each; the strip that falls off last
        is read with a caliper at both ends, three times each.
        """)
    page.run(
        "cutvision correct square --jig sled",
        *shop.strip(1),
        *shlex.split(
            "--date 2024-10-12 --humidity 62% --wood 'birch plywood' --fence-state clamped --drawing move.png"
        ),
        keep=(),
    )
    page.picture("sled-move.png", "The drawing of the move: the saw table from above, the shim behind the right end")
    page.tell("The move as it was really set, then the check cut that the logbook asks for:")
    page.run(
        "cutvision log move 1 --set 1.6mm --turn counterclockwise --fence-state tacked --date 2024-10-12",
        keep=("After run",),
    )
    shop.turn("sled", 1.6, 560, seating=0.001)
    page.run(
        "cutvision correct square --jig sled",
        *shop.strip(2),
        *shlex.split("--date 2024-10-12 --humidity 62% --check-of 1 --fence-state tacked"),
        keep=("Leave the fence",),
    )
    page.tell("""
        True within its tolerance, so it is screwed down. Screws pull: a fence that was fastened has to prove itself
        again, and the logbook says so until it has.
        """)
    page.run("cutvision log move 2 --set 0mm --fence-state fastened --date 2024-10-12", keep=("After run",))
    shop.sled += 0.003
    page.run(
        "cutvision correct square --jig sled",
        *shop.strip(3),
        *shlex.split("--date 2024-10-13 --humidity 62% --check-of 2 --fence-state fastened"),
        keep=("Leave the fence",),
    )


def _miter_jig(page: Page, shop: Shop) -> None:
    page.tell("""
        ## The miter jig leans on the sled

        A V fence on two feet, 380 mm apart. `--squared-by sled` says whose corner its test pieces have: from now on the
        sled's last run gives it, with its uncertainty, wherever no `--corner` is typed. The tolerance is given as a
        joint: no gap over 0.2 mm in frame stock 60 mm wide.
        """)
    page.run(
        "cutvision jig new 'miter jig' --kind miter --fence v-foot --pivot left --fence-length 380mm --thickness 19mm "
        "--kept left --tolerance gap:0.2mm/60mm --cut-spread 0.008deg --shim-set metric-20 --squared-by sled"
    )
    page.tell("""
        One offcut is at hand already, mitered the day before from a board that had still been squared on the untrue
        sled. Two photos of it, turned a quarter turn between them, measure its corner along with the miter.
        """)
    shop.truth[4] = shop.miter
    page.run(
        "cutvision measure miter-1.jpg miter-2-turned.jpg --jig 'miter jig' "
        "--date 2024-10-12 --humidity 62% --wood 'oak, 19 mm' --fence-state clamped --picture answer.jpg",
    )
    page.picture("miter-answer.jpg", "The annotated photo: fitted edges, the true cut dashed, and the answer")
    page.tell("""
        The corner comes out at 89.84 deg. That is the sled as it was: 0.16 deg clockwise, found in run 1 from a strip
        and a caliper, here from photos of another piece. Legs read with a caliper, and a corner taken for 90 deg,
        would have missed the miter fence's error by half of that.
        """)


def _wrong_way(page: Page, shop: Shop) -> None:
    page.tell("""
        ## A move the wrong way

        3.20 mm of shims, and into the logbook as the answer had it: counterclockwise. But in the shop the fence was
        looked at from its other side, and the shims went behind the left foot.
        """)
    page.run(
        "cutvision log move 4 --set 3.2mm --turn counterclockwise --fence-state clamped --date 2024-10-13",
        keep=("After run",),
    )
    shop.turn("miter", -3.2, 380)
    page.tell("The next test piece, a week later, is squared on the trued sled and read with the caliper.")
    page.run(
        "cutvision correct miter --jig 'miter jig'",
        *shop.legs(5),
        *shlex.split("--date 2024-10-19 --humidity 61% --check-of 4 --fence-state clamped"),
        keep=(),
    )
    page.tell("About twice as bad: the sign of a move the wrong way. What the logbook makes of it:")
    page.run(
        "cutvision log response 'miter jig'",
        keep=(),
    )
    page.tell("""
        So the shims come out from behind the left foot, which turns the fence 3.20 mm back, and go behind the right
        one for another 3.20 mm. Nothing in the logbook is overwritten: what had happened stands in the note.
        """)
    page.run(
        "cutvision log move 5 --set 6.4mm --turn counterclockwise --fence-state tacked --date 2024-10-19 "
        "--note 'after run 4 the shims lay behind the wrong foot'",
        keep=("After run",),
    )
    shop.turn("miter", 6.4, 380, seating=0.008)
    page.run(
        "cutvision correct miter --jig 'miter jig'",
        *shop.legs(6),
        *shlex.split("--date 2024-10-20 --humidity 61% --check-of 5 --fence-state tacked"),
        keep=(),
    )


def _fastened(page: Page, shop: Shop) -> None:
    page.tell("""
        ## Fastened, and the check cut after it

        The V is screwed to its base (`cutvision log move 6 --set 0mm --fence-state fastened`), and that is all that
        happens that day. A week later the logbook still asks:
        """)
    page.run("cutvision log move 6 --set 0mm --fence-state fastened --date 2024-10-20", hide=True)
    shop.miter += 0.012
    page.run("cutvision jig list", keep=("sled:",))
    page.run(
        "cutvision correct miter --jig 'miter jig'",
        *shop.legs(7),
        *shlex.split("--date 2024-10-27 --humidity 60% --check-of 6 --fence-state fastened"),
        keep=(),
    )
    page.tell("Within the tolerance still. Have the screws turned it, by more than the uncertainties explain?")
    page.run("cutvision log compare 6 7", keep=("The errors",))


WINTER = (  # day, humidity in the shop, the fences' true errors by then; the sled is checked too where it has one
    ("2024-11-17", 55, 0.006, None),
    ("2024-12-22", 47, -0.012, 0.005),
    ("2025-01-19", 40, -0.027, None),
    ("2025-02-16", 35, -0.038, 0.004),
)


def _winter(page: Page, shop: Shop) -> None:
    page.tell("""
        ## Winter

        The stove is lit, the air dries, the V's solid wood shrinks across its grain. A check cut a month; in December
        and in February a strip from the sled before it, since the miter's test pieces take their corner from there.
        """)
    run = 8
    for day, humidity, miter, sled in WINTER:
        shop.miter = miter
        said = ("--date", day, "--humidity", f"{humidity}%", "--fence-state", "fastened")
        if sled is not None:
            shop.sled = sled
            page.run(
                "cutvision correct square --jig sled",
                *shop.strip(run),
                *said,
                hide=run > 9,
                keep=("Leave the fence",),
            )
            run += 1
        page.run(
            "cutvision correct miter --jig 'miter jig'",
            *shop.legs(run),
            *said,
            hide=run > 10,
            keep=(),
        )
        run += 1
    page.tell("January and February went the same way. All runs:")
    page.run("cutvision log list")
    page.tell("""
        ## The trend, and when to check again

        Each stretch between two moves or fastenings stands for itself; within the last one the drift shows, though
        every single answer was to leave the fence alone.
        """)
    page.run("cutvision log trend 'miter jig' --out trend.png", keep=("Wrote", "runs", "Notes"))
    page.picture("miter-trend.png", "The trend: error with its uncertainty by day, tolerance band, moves and fastening")
    page.tell("""
        So the next check cut is due within ten days; whether a shim follows, that cut will show. How much of the drift
        the spring takes back, only more runs can. The sled, of plywood, stands still:
        """)
    page.run("cutvision log trend sled", keep=("'sled'", "runs"))


def _handed_on(page: Page) -> None:
    page.tell("""
        ## "How do you know?"

        A friend wants to borrow the miter jig. One file holds its whole story, two pages a run at most: the trend
        first, then each run with its figures, what they rest on, pictures, hashes and cautions. `.html` in place of
        `.pdf` gives one that opens in any browser.
        """)
    page.run("cutvision log sheet 'miter jig' --out miter-jig.pdf")
    page.picture("sheet-jig.png", "The sheet's first page: the jig, its trend, its runs")
    page.picture("sheet-run.png", "The sheet's page of run 4: the answer, the annotated photos, the figures")
    page.tell("""
        (The script enters every run on the day on which it is run: hence "made", "recorded" and "newest" there.)

        A run computed again from what is stored, photos included, gives the same figures:
        """)
    page.run("cutvision log recompute 4")
    page.tell("""
        ## To another machine

        Everything in one zip file, then into an empty logbook elsewhere. `verify` holds every file and every row
        against its hash; exported again, the second logbook gives the same bytes as the first.
        """)
    page.run("cutvision log verify")
    page.run("cutvision log export winter.zip")
    page.run("cutvision log import winter.zip --logbook elsewhere")
    page.run("cutvision log verify --logbook elsewhere")
    page.run("cutvision log export back.zip --logbook elsewhere")
    page.run('python -c \'import filecmp; print(filecmp.cmp("winter.zip", "back.zip", shallow=False))\'')


def _what_was_true(page: Page, shop: Shop) -> None:
    told = json.loads(page.run("cutvision log list --json", hide=True))
    page.tell("""
        ## What was true

        In a real shop nobody knows. Here the script does: the fence's true error at each run beside what was found.
        """)
    rows = [_row(run, shop.truth[run["run"]]) for run in told["runs"]]
    page.parts.append("\n".join(["| run | jig | true | found | inside its ± |", "|---|---|---|---|---|", *rows]))
    page.tell("± is a 95 % uncertainty, so that one in twenty may stand outside.")


def _row(run: Mapping[str, object], true: float) -> str:
    error, bound = float(str(run["error"])), float(str(run["error_expanded_uncertainty"]))
    inside = "yes" if abs(error - true) <= bound else "no"
    return f"| {run['run']} | {run['jig_name']} | {true:+.3f} deg | {error:+.3f} ± {bound:.3f} deg | {inside} |"


def draw(folder: Path) -> None:
    """The pictures from what the commands left in `folder`."""
    import pypdfium2  # noqa: PLC0415  a test package; the text does without it
    from PIL import Image  # noqa: PLC0415  likewise

    PICTURES.mkdir(exist_ok=True)
    for made, name in (("move.png", "sled-move.png"), ("trend.png", "miter-trend.png")):
        shutil.copy(folder / made, PICTURES / name)
    with Image.open(folder / "answer-1.jpg") as answer:
        answer.thumbnail((1200, 2400))
        answer.save(PICTURES / "miter-answer.jpg", quality=80, optimize=True)
    with pypdfium2.PdfDocument(folder / "miter-jig.pdf") as document:
        for number, name in ((0, "sheet-jig.png"), (1, "sheet-run.png")):
            document[number].render(scale=1.5).to_pil().convert("P", palette=1).save(PICTURES / name, optimize=True)


def main() -> None:
    """Write the page and its pictures."""
    with tempfile.TemporaryDirectory() as folder:
        PAGE.write_text(story(Path(folder), run_as_process), encoding="utf-8", newline="\n")
        draw(Path(folder))


if __name__ == "__main__":
    main()
