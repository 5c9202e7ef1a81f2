"""Make again what needs no data: worksheets, the check list for a V fence, and how to read the pieces.

Run `python printables/remake.py`.
"""

from __future__ import annotations

from pathlib import Path

from cutvision.correction.result import Method
from cutvision.reports.cautions import cautions
from cutvision.reports.columns import wrap
from cutvision.reports.figure import figure_bytes
from cutvision.reports.printed_sheet import PAPERS_MM
from cutvision.reports.reading_drawing import reading_drawing
from cutvision.reports.reading_help import how_to_read
from cutvision.reports.v_check_list import v_check_list
from cutvision.reports.worksheet import miter_worksheet, square_worksheet

FOLDER = Path(__file__).parent
HOW_TO_READ = "how_to_read.md"
TITLES: dict[Method, str] = {
    "miter": "A miter's two legs",
    "square": "A strip's or a board's two widths",
    "direct": "A square or a protractor against the blade",
    "facing": "Two pieces, one turned over",
    "frame": "A frame's last joint",
    "arms": "One piece from each arm of a V fence",
    "assembly": "Joints of a V fence's own pieces",
}


def contents() -> dict[str, bytes]:
    """Each file's content by its name."""
    pages = {f"worksheet-miter-{paper}.pdf": miter_worksheet(paper).bytes("pdf") for paper in PAPERS_MM}
    pages |= {f"worksheet-square-{paper}.pdf": square_worksheet(paper).bytes("pdf") for paper in PAPERS_MM}
    pages |= {"check-list-v-fence.pdf": figure_bytes(v_check_list(), "pdf")}
    pages |= {f"how-to-read-{method}.png": figure_bytes(reading_drawing(method), "png") for method in TITLES}
    return {**pages, HOW_TO_READ: how_to_read_page().encode()}


def how_to_read_page() -> str:
    """One page with every drawing, its sentences, and the cautions before them."""
    return (
        "\n\n".join(
            [
                "<!-- Made by printables/remake.py: change the words where it takes them from, and run it. -->",
                "# How to read the pieces",
                _list(cautions("measure", "cut")),
                *(part for method, title in TITLES.items() for part in _section(method, title)),
            ]
        )
        + "\n"
    )


def _section(method: Method, title: str) -> tuple[str, ...]:
    return f"## {title}", f"![{title}](how-to-read-{method}.png)", _list(how_to_read(method))


def _list(sentences: tuple[str, ...]) -> str:
    return "\n".join(wrap(sentence, "- ", "  ") for sentence in sentences)


def main() -> None:
    """Write the files."""
    for name, content in contents().items():
        (FOLDER / name).write_bytes(content)


if __name__ == "__main__":
    main()
