"""From what was read on a test piece to the fence: what every way of `correct` takes, and what it gives."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from cutvision.jobs.fence import FenceSaid, JointSaid, ShimsSaid

if TYPE_CHECKING:
    from cutvision.correction import Assumption, Correction
    from cutvision.correction.explanation import Readings
    from cutvision.correction.feeler_stack import StackAdvice
    from cutvision.correction.joint import JointPreview


@dataclass(frozen=True, slots=True)
class CorrectResult:
    """What a correction comes to.

    assumed: the defaults that it rests on. shims: the stack for the move, when shims were given. joints: of a frame cut
    at this fence, when one was asked about. read: the readings behind the numbers of the correction's trace, by their
    names, for the calculation line by line.
    """

    correction: Correction
    assumed: tuple[Assumption, ...] = ()
    shims: StackAdvice | None = None
    joints: JointPreview | None = None
    read: Mapping[str, Readings] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class CorrectSaid(FenceSaid, ShimsSaid, JointSaid):
    """What goes with every way of finding the error: the fence, the shims at hand, a frame to be cut."""

    def result(
        self,
        correction: Correction,
        assumed: tuple[Assumption, ...],
        read: Mapping[str, Readings] | None = None,
    ) -> CorrectResult:
        """The correction with what else was asked. Raises InputError for options at odds."""
        return CorrectResult(correction, assumed, self.stack(correction), self.joints(correction), read or {})
