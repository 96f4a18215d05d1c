"""Shapes of bore that plane waves and the formulas of holes do not follow: steep cones, steps under a hole."""

from __future__ import annotations

import numpy as np

from ..pipes.path import Path
from ..units import MM
from ..validity import Range
from .toneholes import Holes

TAPER = Range(
    "a cone as plane waves",
    "growth of the radius over the length of a stretch, or over the narrower radius where that is longer",
    0.0,
    0.2,
    "finite elements of our own, 2026: up to there they find 0.08 narrow radii more of air's inertia at most",
)
UNDER_HOLE = Range(
    "a hole in a bore of one size",
    "wider over narrower bore under the hole",
    1.0,
    1.2,
    "no source: the formulas are of holes in cylinders",
)


def check_profile(path: Path, holes: Holes | None) -> None:
    """Warn of a cone too steep for plane waves, and of a hole where the bore steps or widens under it."""

    def radii(places):
        return np.sqrt(path.cross_section(places.ravel())[0] / np.pi).reshape(2, -1)

    edges = np.array(path.edges_mm)
    start, span = edges[:-1], np.diff(edges)
    upper, lower = radii(start + span * np.array([[0.25], [0.75]]))
    growth = 2.0 * np.abs(lower - upper) / np.maximum(span, np.minimum(upper, lower))
    steepest, top = int(np.argmax(growth)), edges - path.body_offset_mm
    TAPER.check(growth[steepest], f"from {top[steepest]:.4g} to {top[steepest + 1]:.4g} mm below the top")
    if holes:
        reach = 0.99 * holes.mouth / MM * np.array([[-1.0], [1.0]])
        upper, lower = radii(np.clip(holes.place / MM + reach, 0.0, edges[-1]))
        ratio = np.maximum(upper, lower) / np.minimum(upper, lower)
        UNDER_HOLE.check(ratio, [f'hole "{name}"' for name in holes.names])
