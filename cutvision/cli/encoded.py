"""What a job found, as the object that `--json` prints and the logbook keeps."""

from __future__ import annotations

from typing import Any

from cutvision.errors import PhotosRefused


def encoded(found: object) -> dict[str, Any]:
    """Of a correction, a measurement (with its correction inside), or refused photos."""
    from cutvision.jobs.correct import CorrectResult
    from cutvision.jobs.measure import MeasureResult
    from cutvision.reports.correction_json import correction_as_json
    from cutvision.reports.measurement_json import measurement_as_json
    from cutvision.reports.refusal_json import refusals_as_json

    if isinstance(found, PhotosRefused):
        return dict(refusals_as_json(found.refusals))
    if isinstance(found, CorrectResult):
        return dict(correction_as_json(found.correction, found.shims, found.joints))
    if not isinstance(found, MeasureResult):
        raise TypeError(type(found))
    plain: dict[str, Any] = {**measurement_as_json(found.measurement)}
    if found.correction is not None:
        plain["correction"] = correction_as_json(found.correction, found.shims, found.joints)
    return plain
