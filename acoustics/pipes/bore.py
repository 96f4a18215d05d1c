"""The bore and the outside of a pipe's body: straight between measured stations."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..errors import Refusal, number, short

LONGEST_MM = 2000.0
WIDEST_MM = 120.0
CLOSEST_MM = 1e-9  # stations closer than this, but not at one place, have no usable slope between them


def checked_stations(field: str, stations: object) -> tuple[tuple[float, float], ...]:
    """Stations as ((distance, diameter), ...) in mm, or a `Refusal` naming the station."""
    allowed = "a list of (distance from top, diameter) pairs in mm is allowed"
    if isinstance(stations, (str, bytes, dict)) or not hasattr(stations, "__iter__"):
        raise Refusal(f"{short(stations)} is not a list of stations", allowed, field)
    pairs = []
    for i, station in enumerate(stations, 1):
        where = f"{field}, station {i}"
        if isinstance(station, (str, bytes)) or not hasattr(station, "__len__") or len(station) != 2:
            pair = "a pair (distance from top, diameter) in mm, with a point for decimals, is allowed"
            raise Refusal(f"{short(station)} is not a pair", pair, where)
        distance = number(f"{where}, distance", station[0], 0.0, LONGEST_MM)
        pairs.append((distance, number(f"{where}, diameter", station[1], 0.5, WIDEST_MM)))
        if len(pairs) > 1 and distance < pairs[-2][0]:
            raise Refusal(
                f"the distance {distance:g} comes after {pairs[-2][0]:g}",
                "distances must not run backwards (a repeated distance is a step)",
                where,
            )
        if len(pairs) > 1 and 0.0 < distance - pairs[-2][0] < CLOSEST_MM:
            raise Refusal(
                f"the distance {distance:g} follows the one before by less than {CLOSEST_MM:g} mm",
                "stations must lie farther apart, or at the very same distance as a step",
                where,
            )
        if len(pairs) > 2 and distance == pairs[-3][0]:
            raise Refusal(
                f"the distance {distance:g} stands there three times",
                "a distance may be repeated once, as a step",
                where,
            )
    if len(pairs) < 2:
        raise Refusal(f"the number of stations is {len(pairs)}", "at least two are needed", field)
    if pairs[0][0] != 0.0:
        raise Refusal(f"the first station lies at {pairs[0][0]:g} mm", "the first must lie at 0, the top", field)
    if pairs[-1][0] < 1.0:
        raise Refusal(f"the whole length is {pairs[-1][0]:g} mm", "at least 1 mm is needed", field)
    return tuple(pairs)


def _table(stations) -> np.ndarray:
    table = np.array(stations).T
    table.setflags(write=False)
    return table


@dataclass(frozen=True)
class Bore:
    """Inside of a pipe, round, straight between stations.

    Parameters
    ----------
    stations_mm : sequence of (distance, diameter)
        Distance from the top of the body down the bore and inside diameter [mm].  The first
        distance is 0; distances never run backwards; a repeated distance is a step.

    Raises
    ------
    Refusal
        Fewer than two stations, unsorted, not finite, or outside 0.5 to 120 mm of diameter.
    """

    stations_mm: tuple[tuple[float, float], ...]

    def __post_init__(self):
        object.__setattr__(self, "stations_mm", checked_stations("bore", self.stations_mm))

    @cached_property
    def table_mm(self) -> np.ndarray:
        """Distances and diameters as an array (2, stations) [mm]."""
        return _table(self.stations_mm)

    @property
    def length_mm(self) -> float:
        """From the top to the foot [mm]."""
        return self.stations_mm[-1][0]

    @property
    def throat_mm(self) -> tuple[float, float]:
        """(distance, diameter) of the narrowest station [mm]."""
        return min(self.stations_mm, key=lambda s: s[1])

    def diameter_mm(self, distance_mm):
        """Inside diameter at a distance from the top, scalar or array [mm].

        Beyond either end the end's diameter is returned; exactly at a step, the wider side.
        """
        distance, diameter = self.table_mm
        below = np.interp(np.nextafter(distance_mm, np.inf), distance, diameter)
        above = np.interp(np.nextafter(distance_mm, -np.inf), distance, diameter)
        return np.maximum(below, above)


@dataclass(frozen=True)
class Body:
    """Outside of a pipe, same form as `Bore`; a hole's wall follows from both.

    Parameters
    ----------
    outer_stations_mm : sequence of (distance, diameter)
        Distance from the top and outside diameter [mm].

    Raises
    ------
    Refusal
        As for `Bore`.
    """

    outer_stations_mm: tuple[tuple[float, float], ...]

    def __post_init__(self):
        object.__setattr__(self, "outer_stations_mm", checked_stations("body", self.outer_stations_mm))

    @cached_property
    def table_mm(self) -> np.ndarray:
        """Distances and diameters as an array (2, stations) [mm]."""
        return _table(self.outer_stations_mm)

    @property
    def length_mm(self) -> float:
        """From the top to the foot [mm]."""
        return self.outer_stations_mm[-1][0]

    def diameter_mm(self, distance_mm):
        """Outside diameter at a distance from the top, scalar or array [mm]."""
        return np.interp(distance_mm, *self.table_mm)
