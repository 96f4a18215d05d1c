"""A profile read off along the wood: every station and every full 20 mm, from both ends."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

Stations = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Place:
    """One line of a profile, all in mm: distances from top and foot, diameter just above and just below.

    `station` tells the profile's own stations from the places between them.
    """

    from_top_mm: float
    from_foot_mm: float
    above_mm: float
    below_mm: float
    station: bool

    @property
    def step(self) -> bool:
        """Whether the diameter jumps here."""
        return self.above_mm != self.below_mm


def segments(stations: Stations) -> list[tuple[float, float, float, float]]:
    """Straight stretches (start, diameter there, end, diameter there) [mm]; steps lie between them."""
    return [(x0, d0, x1, d1) for (x0, d0), (x1, d1) in pairwise(stations) if x1 > x0]


def from_the_foot(stations: Stations, length_mm: float) -> Stations:
    """The same profile with distances counted from the foot."""
    return tuple((length_mm - x, d) for x, d in reversed(stations))


def places(stations: Stations, length_mm: float, every_mm: float = 20.0) -> tuple[Place, ...]:
    """The profile at its stations and at every full `every_mm` from the top, down to its end.

    Parameters
    ----------
    stations : ((distance, diameter), ...)
        Of a `Bore` or a `Body` [mm].
    length_mm : float
        Where the foot lies, for distances from there [mm].
    every_mm : float
        Spacing of the places between stations [mm].
    """
    x, d = np.array(stations).T
    own = {float(at) for at in x}
    between = {float(at) for at in np.arange(0.0, x[-1], every_mm)}
    between = {at for at in between if min(abs(at - station) for station in own) > 0.05}
    found = []
    for at in sorted(own | between):
        if at in own:
            here = np.flatnonzero(x == at)
            above, below = float(d[here[0]]), float(d[here[-1]])
        else:
            above = below = float(np.interp(at, x, d))
        found.append(Place(at, length_mm - at, above, below, at in own))
    return tuple(found)
