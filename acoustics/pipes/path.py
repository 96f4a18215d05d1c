"""What the air physics asks of any pipe: a head, a path of ducts, side holes, a foot."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import pi
from typing import Protocol, runtime_checkable

from numpy import ndarray

from ..errors import check_kind
from .holes import Key, ToneHole
from .reed import Reed


@dataclass(frozen=True)
class Turn:
    """A stretch of the path in which the sound goes round a corner, lengths in mm.

    Parameters
    ----------
    start_mm, end_mm : float
        Along the path, both among its edges, end_mm before its last: length is volume over area.
    bore_mm : float
        Inside diameter.
    radius_mm : float
        Of the bend's centre line; for a bridge half the distance between the axes.
    bridge : bool
        Whether it is the cross passage between two parallel bores instead of a bent tube.
    """

    start_mm: float
    end_mm: float
    bore_mm: float
    radius_mm: float
    bridge: bool = False


def bridge_volume_length(bore_radius, spacing):
    """Length of straight bore that holds as much air as a bridge, same unit as the arguments.

    A bridge: two parallel bores, ended flush with the far side of the cross passage of the same radius
    that joins them; counted from the planes in which the passage begins, a radius before its axis.  Two
    round passages of radius a that cross at right angles share 16 a^3/3.
    """
    return spacing + (4.0 - 16.0 / (3.0 * pi)) * bore_radius


@dataclass(frozen=True)
class Path:
    """The air column from the reed's end to the foot, as one coordinate.

    Parameters
    ----------
    edges_mm : tuple of float
        Increasing distances at which the shape changes its law (stations, steps, ends), from 0
        to the whole length [mm].
    cross_section : callable
        x_mm (array, strictly between edges) -> (area [mm2], wetted perimeter [mm]).
    body_offset_mm : float
        Path distance minus distance from the top of the body [mm].
    turns : tuple of Turn
        Bends and bridges on the way; none in a straight pipe.
    gaps_mm : tuple of (start, end)
        Short wider stretches, both ends among the edges, in which two steps may stand too close to each
        other to count in full.
    """

    edges_mm: tuple[float, ...]
    cross_section: Callable[[ndarray], tuple[ndarray, ndarray]]
    body_offset_mm: float
    turns: tuple[Turn, ...] = ()
    gaps_mm: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True)
class SideHole:
    """A hole in its place: what the formulas need of the wood around it, lengths in mm."""

    hole: ToneHole | Key
    path_mm: float
    wall_mm: float
    bore_mm: float
    outer_mm: float

    @property
    def name(self) -> str:
        """The hole's own name."""
        return self.hole.name


@dataclass(frozen=True)
class Foot:
    """The end of the pipe: inside and outside diameter [mm]."""

    bore_mm: float
    outer_mm: float


@runtime_checkable
class Pipe(Protocol):
    """Anything that `input_impedance`, `modes` and `tuning_chart` can work on.

    `holes` are in the order of the path, head first.
    """

    name: str
    key: str

    @property
    def head(self) -> Reed: ...

    @property
    def path(self) -> Path: ...

    @property
    def side_holes(self) -> tuple[SideHole, ...]: ...

    @property
    def foot(self) -> Foot: ...


def check_pipe(pipe: object) -> None:
    """A `Refusal` of anything that is no `Pipe`."""
    check_kind("pipe", pipe, Pipe, "a Chanter, Drone or Regulator")
