"""How much wood is left between holes, on one face or round the bore."""

from __future__ import annotations

import numpy as np

from .chanter import Chanter
from .holes import bearing_deg, lean


def wood_mm(pipe: Chanter) -> np.ndarray:
    """Least wood between each two holes of a pipe.

    Parameters
    ----------
    pipe : Chanter

    Returns
    -------
    array (holes, holes)
        [mm], in the order of `pipe.holes`; negative where two holes run into each other, inf on the diagonal.

    Notes
    -----
    Each hole is drilled along its own axis, tilt and place round the bore included.  Two come nearest at the
    bore's wall, undercuts included, or, where they lean together, at the outside: the straight line there
    between their edges.  Exact on one face and at one height; between, of holes up to 0.8 of the bore, at
    most 0.4 mm too little and 0.01 too much (against the edges themselves, point by point).
    """
    holes = pipe.holes
    if not holes:
        return np.empty((0, 0))
    at = np.array([hole.position_mm for hole in holes])
    leans = np.array([lean(hole) for hole in holes])
    along = np.array([hole.along_mm for hole in holes]) * np.hypot(1.0, leans)
    across = np.array([hole.across_mm for hole in holes])
    cut = np.array([hole.undercut_diameter_mm or 0.0 for hole in holes])
    bore = pipe.bore.diameter_mm(at) / 2.0
    depth = [hole.depth_mm or 0.0 for hole in holes]
    outside = bore + depth if pipe.body is None else pipe.body.diameter_mm(at) / 2.0
    bearing = np.radians([bearing_deg(hole) for hole in holes])
    least = np.minimum(
        _between(at, leans, bearing, bore, np.maximum(along, cut), np.maximum(across, cut)),
        _between(at, leans, bearing, outside, along, across),
    )
    np.fill_diagonal(least, np.inf)
    return least


def _between(at, leans, bearing, radius, along, across):
    """Wood between holes of a size along and across the bore, at a radius from its axis each."""
    place, half = at + radius * leans, 0.5 * across
    down, mean = place[:, None] - place, 0.5 * (radius[:, None] + radius)
    turn = np.abs((bearing[:, None] - bearing + np.pi) % (2.0 * np.pi) - np.pi)
    taken = np.arcsin(np.minimum(half / radius, 1.0))
    over = 2.0 * mean * np.sin(0.5 * (turn - taken[:, None] - taken)) + half[:, None] + half
    over = np.where(turn > 0.0, np.maximum(over, 0.0), 0.0)
    apart = np.maximum(np.hypot(down, over), 1e-9)
    share = (down / apart) ** 2
    size = 0.5 * np.sqrt(along[:, None] ** 2 * share + across[:, None] ** 2 * (1.0 - share))
    return apart - size - size.T


def crowded(pipe: Chanter, least_mm: float) -> tuple[tuple[str, str, float], ...]:
    """Pairs of holes with less wood between them than `least_mm`: (upper, lower, wood) [mm], the worst first."""
    wood = wood_mm(pipe)
    pairs = [(i, j) for i in range(len(wood)) for j in range(i + 1, len(wood)) if wood[i, j] < least_mm]
    found = [(pipe.holes[i].name, pipe.holes[j].name, float(wood[i, j])) for i, j in pairs]
    return tuple(sorted(found, key=lambda pair: pair[2]))
