"""Write the kept schemas anew, after a change of keys that is meant: python tests/reports/schemas/remake.py."""

from __future__ import annotations

import json
from pathlib import Path

from cutvision.correction import Correction
from cutvision.measurement.result import Measurement
from cutvision.reports.encode import schema_of

HERE = Path(__file__).parent

if __name__ == "__main__":
    for name, cls in (("correction", Correction), ("measurement", Measurement)):
        (HERE / f"{name}.json").write_text(json.dumps(schema_of(cls), indent=1, sort_keys=True) + "\n", "utf-8")
