"""Where legs and turns of a folded tube lie: u along the lap from the reed's end, v across it, in mm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from ..pipes.stretches import Bend


@dataclass(frozen=True)
class Space:
    """What a fold has to keep to, with the slide shut [mm].

    Parameters
    ----------
    start_mm : float
        u where the first leg begins.
    near_mm : float
        Least u of turns and of the free end.
    depth_mm : float
        How far a turn reaches past the straight tube's end, wall included.
    end_mm : float
        Length of what is fixed to the last leg: the chamber with its end wall, or 0.
    grip_mm : float
        Least length of a leg.
    """

    start_mm: float
    near_mm: float
    depth_mm: float
    end_mm: float
    grip_mm: float


def least_straight_mm(space: Space, turns: int) -> float:
    """Length of all legs together when none is longer than it must be [mm]."""
    last = space.depth_mm - space.end_mm
    return space.grip_mm + (turns * max(space.grip_mm, space.grip_mm - last) + last if turns else 0.0)


def legs_mm(space: Space, turns: int, straight_mm: float) -> tuple[float, ...]:
    """The legs of the shortest fold whose legs are `straight_mm` long together.

    Every leg after the first reaches back as far as it may; only the last differs, by what the chamber
    takes and a turn does not.  Works for at least `least_straight_mm`.
    """
    if turns == 0:
        return (straight_mm,)
    last = space.depth_mm - space.end_mm
    back = space.start_mm - space.near_mm - space.depth_mm
    first = max(space.grip_mm, (straight_mm - last - turns * back) / (turns + 1))
    each = (straight_mm - first - last) / turns
    return (first, *[each] * (turns - 1), each + last)


def reach_mm(space: Space, legs: Sequence[float]) -> float:
    """Greatest u of a fold with its slide shut [mm]."""
    ends, at, way = [], space.start_mm, 1.0
    for leg in legs[:-1]:
        at += way * leg
        ends.append(at + way * space.depth_mm)
        way = -way
    return max([*ends, at, at + way * (legs[-1] + space.end_mm)])


@dataclass(frozen=True)
class Segment:
    """One part of the folded drone in its place.

    Parameters
    ----------
    name, kind : str
        kind is "wood", "gap", "pin", "leg", "bend", "bridge" or "chamber".
    start_mm, end_mm : float
        Along the developed centre line from the reed's end; of a bridge its air, volume over area [mm].
    u1, v1, u2, v2 : float
        Where its centre line starts and ends [mm].
    inside_mm, outside_mm : float
        Diameters.
    way : 1.0 or -1.0
        Whether it leads away from the reed or back; of a turn, where it bulges.
    """

    name: str
    kind: str
    start_mm: float
    end_mm: float
    u1: float
    v1: float
    u2: float
    v2: float
    inside_mm: float
    outside_mm: float
    way: float = 1.0

    @property
    def length_mm(self) -> float:
        """Along the developed centre line [mm]."""
        return self.end_mm - self.start_mm


def placed(parts: Sequence[tuple]) -> tuple[Segment, ...]:
    """Parts laid one after the other.

    Parameters
    ----------
    parts : sequence of (name, kind, stretch, outside_mm)
        In their order from the reed; `stretch` has length_mm and diameter_mm, and of a turn its radius or spacing.
    """
    out, x, u, v, way = [], 0.0, 0.0, 0.0, 1.0
    for name, kind, stretch, outside in parts:
        one = Segment(name, kind, x, x + stretch.length_mm, u, v, u, v, stretch.diameter_mm, outside, way)
        if kind in ("bend", "bridge"):
            v += 2.0 * stretch.radius_mm if isinstance(stretch, Bend) else stretch.spacing_mm
            way = -way
        else:
            u += way * stretch.length_mm
        out.append(replace(one, u2=u, v2=v))
        x = one.end_mm
    return tuple(out)
