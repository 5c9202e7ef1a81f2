"""What a job found, as the object that `--json` prints and the logbook keeps."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from cutvision.errors import PhotosRefused

if TYPE_CHECKING:
    from cutvision.correction.adjustments import Adjustments


def encoded(found: object, checked: Adjustments | None = None) -> dict[str, Any]:
    """Of a correction, a measurement (with its correction inside), or refused photos; checked: by a check cut."""
    from cutvision.jobs.correct import CorrectResult
    from cutvision.jobs.measure import MeasureResult
    from cutvision.reports.objects import adjustments_object, correction_object, measurement_object, refusals_object

    if isinstance(found, PhotosRefused):
        return refusals_object(found.refusals)
    if isinstance(found, CorrectResult):
        plain = correction_object(found.correction, found.shims, found.joints)
        return plain if checked is None else {**plain, "check": adjustments_object(checked)}
    if isinstance(found, MeasureResult):
        plain = measurement_object(found.measurement, found.correction, found.shims, found.joints)
        if checked is not None:
            plain["correction"]["check"] = adjustments_object(checked)
        return plain
    raise TypeError(type(found))
