"""What the air physics asks of any pipe: a head, a path of ducts, side holes, a foot."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from numpy import ndarray

from .holes import Key, ToneHole
from .reed import Reed


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
    """

    edges_mm: tuple[float, ...]
    cross_section: Callable[[ndarray], tuple[ndarray, ndarray]]
    body_offset_mm: float


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
