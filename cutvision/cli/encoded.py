"""What a job found, as the object that `--json` prints and the logbook keeps."""

from __future__ import annotations

from typing import Any

from cutvision.errors import PhotosRefused


def encoded(found: object) -> dict[str, Any]:
    """Of a correction, a measurement (with its correction inside), or refused photos."""
    from cutvision.jobs.correct import CorrectResult
    from cutvision.jobs.measure import MeasureResult
    from cutvision.reports.objects import correction_object, measurement_object, refusals_object

    if isinstance(found, PhotosRefused):
        return refusals_object(found.refusals)
    if isinstance(found, CorrectResult):
        return correction_object(found.correction, found.shims, found.joints)
    if isinstance(found, MeasureResult):
        return measurement_object(found.measurement, found.correction, found.shims, found.joints)
    raise TypeError(type(found))
