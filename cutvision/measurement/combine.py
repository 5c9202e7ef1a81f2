"""Several photos of one piece on one sheet brought together, with the print's stretch as an unknown that they share.

One linear system gives shape and print for one photo or many: an unequal stretch and a shear turn with the sheet, not
with the piece, so photos of a turned piece tell them from its shape (reversal: Evans, Hocken and Estler, CIRP Annals
45, 1996).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cutvision.measurement.observation import Observation
from cutvision.measurement.shapes import KINDS, quantities_of
from cutvision.target.print_scale import PrintScale
from cutvision.uncertainty import Influence, Quantity


@dataclass(frozen=True, slots=True)
class Combined:
    """What the photos say together.

    parameters: (p,) of the shape; components: (p, n) of influences; print_shape: (3,) mean stretch, anisotropy, shear.
    disagreement: chi-square per degree of freedom of the photos about their combination, nan for one photo.
    """

    shape: str
    parameters: np.ndarray
    influences: tuple[Influence, ...]
    components: np.ndarray
    print_shape: np.ndarray
    disagreement: float


def combine(shape: str, observations: Sequence[Observation], prints: PrintScale) -> Combined:
    """Generalised least squares of shape, mean stretch, anisotropy and shear.

    Source: JCGM 102:2011, 6.2; Aitken, 1936.
    """
    kind = KINDS[shape]
    p = len(kind.parameters)
    keys: dict[str, int] = {}
    names: list[Influence] = []
    for observation in observations:
        for influence in observation.influences:
            if influence.key not in keys:
                keys[influence.key] = len(names)
                names.append(influence)
    source = "read on the print" if prints.read else "an ordinary printer"
    print_keys = [Influence(f"print {k}", "print stretch", "B", source) for k in range(3)]
    total = len(names) + 3

    # mean, anisotropy and shear from (ex, ey, g)
    turn = np.array([[0.5, 0.5, 0.0], [0.5, -0.5, 0.0], [0.0, 0.0, 1.0]])
    prior_mean, prior_root = turn @ prints.estimate, turn @ np.linalg.cholesky(prints.covariance)

    rows = len(observations) * (p + 2) + 3
    design, values, parts = np.zeros((rows, p + 3)), np.zeros(rows), np.zeros((rows, total))
    lengths = np.array(kind.lengths)
    for i, observation in enumerate(observations):
        at = i * (p + 2)
        values[at : at + p + 2] = observation.values
        design[at : at + p, :p] = np.eye(p)
        # the sheet is taken as printed to scale: a real length reads short by the mean stretch
        design[at : at + p, p] = np.where(lengths, -observation.values[:p], 0.0)
        design[at + p, p + 1] = design[at + p + 1, p + 2] = 1.0
        for influence, column in zip(observation.influences, observation.components.T, strict=True):
            parts[at : at + p + 2, keys[influence.key]] += column
    values[-3:], design[-3:, p:] = prior_mean, np.eye(3)
    parts[-3:, -3:] = prior_root

    covariance = parts @ parts.T
    covariance += np.diag(1e-12 * np.diag(covariance) + 1e-22)
    inverse = np.linalg.inv(covariance)
    normal = design.T @ inverse @ design
    gain = np.linalg.solve(normal, design.T @ inverse)
    solution = gain @ values
    components = gain[:p] @ parts
    influences = [*names, *print_keys]
    disagreement = math.nan
    if len(observations) > 1:
        left = values - design @ solution
        freedom = rows - (p + 3)
        disagreement = float(left @ inverse @ left) / freedom
        if disagreement > 1:
            # photos that scatter more than their bounds say: the excess is a doubt of its own
            excess = math.sqrt(disagreement - 1)
            root = np.linalg.cholesky(components @ components.T + 1e-20 * np.eye(p)) * excess
            components = np.column_stack([components, root])
            influences.extend(
                Influence(f"photo to photo {k}", "photo to photo", "A", "scatter of the photos", float(freedom))
                for k in range(p)
            )
    return Combined(shape, solution[:p], tuple(influences), components, solution[p:], disagreement)


def named(combined: Combined, reach_mm: tuple[float, float] = (0.0, 0.0)) -> dict[str, Quantity]:
    """The shape's named quantities with their influences."""
    kind = KINDS[combined.shape]
    at = combined.parameters
    values = quantities_of(combined.shape, at, reach_mm)
    jacobian = np.empty((len(values), len(at)))
    for k in range(len(at)):
        nudge = np.zeros(len(at))
        nudge[k] = 1e-6
        ahead, behind = (quantities_of(combined.shape, at + sign * nudge, reach_mm) for sign in (1, -1))
        jacobian[:, k] = (ahead - behind) / 2e-6
    components = jacobian @ combined.components
    return {
        name: Quantity(
            float(values[row]),
            "mm" if kind.units.get(name) == "mm" else "rad",
            {i: float(c) for i, c in zip(combined.influences, components[row], strict=True) if c != 0.0},
        )
        for row, name in enumerate(kind.quantities)
    }
