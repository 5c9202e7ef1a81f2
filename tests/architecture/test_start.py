"""Starting is light: help and version come before any heavy package is loaded."""

from __future__ import annotations

import subprocess
import sys

import pytest

HEAVY = "{'numpy', 'scipy', 'cv2', 'skimage', 'PIL', 'reportlab', 'matplotlib', 'rich'}"


def run_python(code: str) -> subprocess.CompletedProcess[str]:
    """Run a piece of Python in a fresh interpreter."""
    return subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=False)


def test_importing_the_package_is_light() -> None:
    """`import cutvision` loads none of the heavy packages."""
    done = run_python(
        f"import sys, cutvision; heavy = {HEAVY} & set(sys.modules); sys.exit(str(heavy) if heavy else 0)"
    )
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.parametrize(
    "words",
    ["--help", "--version", "measure --help", "target make --help", "camera calibrate --help", "correct --help"],
)
def test_help_is_light(words: str) -> None:
    """Help is printed with exit status 0 before numpy, OpenCV or any other heavy package is loaded."""
    done = run_python(
        f"import sys\nsys.argv = ['cutvision', *{words.split()!r}]\nfrom cutvision.cli import main\n"
        f"try:\n    main()\nexcept SystemExit as end:\n    heavy = {HEAVY} & set(sys.modules)\n"
        "    sys.exit(str(heavy) if heavy else end.code)"
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout


def test_python_m_runs_the_command_line() -> None:
    """`python -m cutvision` is the same program as the installed command."""
    done = subprocess.run(
        [sys.executable, "-m", "cutvision", "--version"], capture_output=True, text=True, timeout=60, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("cutvision ")
