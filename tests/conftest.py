"""Every test process keeps to one thread, as there is one process a core."""

from __future__ import annotations

import os

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):  # read when numpy is loaded, which is after this
    os.environ.setdefault(name, "1")
