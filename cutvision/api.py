"""For people who write Python: the jobs with their options as arguments, and answers whose fields are the JSON's."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from cutvision.errors import InputError


class Answer(Mapping[str, Any]):
    """A result with the fields of the JSON that the command prints: angles in degrees, lengths in millimeters.

    `answer.angle_error.value` and `answer["angle_error"]["value"]` are the same; `dict(answer)` is plain JSON.
    """

    def __init__(self, plain: Mapping[str, Any]) -> None:
        self._plain = plain

    def __getattr__(self, name: str) -> Any:
        """A field. Raises AttributeError when the result has none of that name."""
        if name.startswith("__") or name not in self._plain:
            raise AttributeError(f"this result has no {name}; it has {', '.join(self._plain)}")
        return _seen(self._plain[name])

    def __getitem__(self, name: str) -> Any:
        return _seen(self._plain[name])

    def __iter__(self) -> Iterator[str]:
        return iter(self._plain)

    def __len__(self) -> int:
        return len(self._plain)

    def __dir__(self) -> list[str]:
        return [*super().__dir__(), *self._plain]

    def __repr__(self) -> str:
        return f"Answer({dict(self._plain)!r})"


def _seen(value: Any) -> Any:
    if isinstance(value, Mapping):
        return Answer(value)
    if isinstance(value, list):
        return tuple(_seen(one) for one in value)
    return value


def measure(photos: Sequence[str | Path] | str | Path, *, shape: str, **said: Any) -> Answer:
    """What photos of one piece show, as `cutvision measure --json` prints it.

    photos: one or several of the same piece on the same sheet. said: the command's options by name, as text with its
    unit: thickness="19mm", fence_length="380mm", kept="left".
    Raises InputError for a wrong value, PhotosRefused for photos that cannot be measured honestly.
    """
    from cutvision.jobs.measure import Measure, run_measure
    from cutvision.jobs.said import request
    from cutvision.reports.objects import measurement_object

    paths = [photos] if isinstance(photos, str | Path) else photos
    found = run_measure(request(Measure, {"photos": tuple(map(Path, paths)), "shape": shape, **said}))
    if found.asked_about is not None:
        raise found.asked_about
    return Answer(measurement_object(found.measurement, found.correction, found.shims, found.joints))


def correct(method: str, **said: Any) -> Answer:
    """The fence's error and move from what was read on a test piece, as `cutvision correct METHOD --json` prints it.

    method: miter, square, direct, facing, frame, arms or assembly. said: the command's options by name, as text with
    its unit: left_leg="101.62mm". Raises InputError for a wrong value.
    """
    from cutvision.jobs.registry import CORRECT
    from cutvision.jobs.said import request
    from cutvision.reports.objects import correction_object

    job = CORRECT.get(method)
    if job is None:
        raise InputError(f"'{method}' is no way of finding the error.", f"It is one of {', '.join(CORRECT)}.")
    found = job.run(request(job.kind, said))
    return Answer(correction_object(found.correction, found.shims, found.joints))
