"""The outside for turning: stations from both ends, shoulders named."""

from __future__ import annotations

from dataclasses import dataclass

from ..pipes.chanter import DEFAULT_WALL_MM, Chanter
from .along import Place, Stations, places


@dataclass(frozen=True)
class Turning:
    """The outside of a pipe.

    Parameters
    ----------
    stations_mm : ((distance from top, diameter), ...)
    places : tuple of Place
        Every station and every 20 mm.
    given : bool
        False when the design has no outside and a wall of 4 mm is drawn instead.
    """

    stations_mm: Stations
    places: tuple[Place, ...]
    given: bool

    @property
    def shoulders(self) -> tuple[Place, ...]:
        """Where the diameter jumps: seats of ferrules, mounts and sockets."""
        return tuple(place for place in self.places if place.step)

    @property
    def widest_mm(self) -> float:
        """Largest diameter: the least square the blank must have [mm]."""
        return max(diameter for _, diameter in self.stations_mm)


def turning(pipe: Chanter) -> Turning:
    """The outside of a pipe, or bore plus 4 mm of wall where the design gives none."""
    given = pipe.body is not None
    if given:
        stations = pipe.body.outer_stations_mm
    else:
        stations = tuple((x, d + 2.0 * DEFAULT_WALL_MM) for x, d in pipe.bore.stations_mm)
    return Turning(stations, places(stations, pipe.bore.length_mm), given)
