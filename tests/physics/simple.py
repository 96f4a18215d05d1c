"""Pipes of a few lines that meet the protocol `acoustics.pipes.path.Pipe`; for tests only."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from acoustics.physics.air import Gas
from acoustics.pipes.holes import Key, ToneHole
from acoustics.pipes.path import Foot, Path, SideHole
from acoustics.pipes.reed import Reed
from tests.references import kirchhoff

REFERENCE = kirchhoff.DRY_20C
DRY = Gas(REFERENCE.c, REFERENCE.rho, REFERENCE.mu, REFERENCE.gamma, REFERENCE.prandtl)
LOSSLESS = Gas(REFERENCE.c, REFERENCE.rho, 0.0, REFERENCE.gamma, REFERENCE.prandtl)
RIGID = Reed(length_mm=31.0, area_mm2=11.0, softness=0.0)


@dataclass(frozen=True)
class Tube:
    """A round pipe, straight between stations (distance, inside diameter) [mm]; a repeated distance is a step."""

    stations: tuple[tuple[float, float], ...]
    side_holes: tuple[SideHole, ...] = ()
    wall_mm: float = 0.0
    head: Reed = RIGID
    name: str = "tube"
    key: str = "D"
    extra_edges: tuple[float, ...] = field(default=())

    @property
    def path(self) -> Path:
        x, d = np.array(self.stations, float).T

        def cross_section(x_mm):
            diameter = np.interp(x_mm, x, d)
            return np.pi / 4.0 * diameter**2, np.pi * diameter

        return Path(tuple(sorted({*x.tolist(), *self.extra_edges})), cross_section, 0.0)

    @property
    def foot(self) -> Foot:
        bore = self.stations[-1][1]
        return Foot(bore, bore + 2.0 * self.wall_mm)


def cylinder(diameter: float, length: float, *holes: SideHole, **more) -> Tube:
    return Tube(((0.0, diameter), (length, diameter)), holes, **more)


def cone(first: float, last: float, length: float, *holes: SideHole, **more) -> Tube:
    return Tube(((0.0, first), (length, last)), holes, **more)


def side(hole: ToneHole | Key, wall: float, bore: float, outer: float | None = None) -> SideHole:
    """A hole at its own position, in a wall of that thickness."""
    return SideHole(hole, hole.position_mm, wall, bore, bore + 2.0 * wall if outer is None else outer)


def apart(z, reference) -> float:
    """Largest relative distance of two complex arrays."""
    return float(np.max(np.abs(np.asarray(z) / reference - 1.0)))
