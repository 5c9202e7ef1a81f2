"""Seconds until the program has started: its help, and `import cutvision`, against Python alone.

python tests/benchmarks/start.py [--times 5]
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import time

CODE = {
    "python alone": "",
    "import cutvision": "import cutvision",
    "cutvision --help": "import sys; sys.argv = ['cutvision', '--help']; from cutvision.cli import main; main()",
    "cutvision measure --help": (
        "import sys; sys.argv = ['cutvision', 'measure', '--help']; from cutvision.cli import main; main()"
    ),
}


def main() -> None:
    """Time each start and print the best of some runs, which stands for an idle machine."""
    parser = argparse.ArgumentParser(description="Seconds until the program has started.")
    parser.add_argument("--times", type=int, default=5)
    options = parser.parse_args()
    for name, code in CODE.items():
        seconds = []
        for _ in range(options.times):
            start = time.perf_counter()
            subprocess.run([sys.executable, "-c", code], check=True, stdout=subprocess.DEVNULL)
            seconds.append(time.perf_counter() - start)
        sys.stdout.write(f"{name:28}{min(seconds):8.2f} s\n")


if __name__ == "__main__":
    main()
