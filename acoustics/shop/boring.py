"""From the bore to the bench: drilled steps, reamer stations, and where each gauge must stop."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ..errors import Refusal, number, short
from ..pipes.bore import WIDEST_MM, Bore
from .along import Stations, from_the_foot, segments
from .drills import Drill
from .workshop import Workshop

ENDS = ("foot", "top")
POINT_DEG = 118.0  # included angle of a common drill's point
SHALLOWEST_MM = 4.0  # a step less deep than this is left to the reamer
FINE_TO_MM, FINE_PER_MM, COARSE_PER_MM = 10, 10, 5  # gauges: how many to a millimetre up to 10 mm, and above


@dataclass(frozen=True)
class Step:
    """One drill and how deep its corners go from the end it enters, in mm; through all the wood if `through`."""

    drill: Drill
    depth_mm: float
    through: bool

    @property
    def point_mm(self) -> float:
        """How far the drill's point stands beyond its corners [mm]."""
        return point_mm(self.drill.mm)


@dataclass(frozen=True)
class GaugeStop:
    """Where a gauge pushed in from one end must stop, in mm.

    `shallow_mm` and `deep_mm` are the stops in a bore that is narrower or wider by the tolerance.
    """

    gauge_mm: float
    depth_mm: float
    shallow_mm: float
    deep_mm: float


def point_mm(drill_mm: float) -> float:
    """Length of the point of a drill, 0.30 of its diameter for a point of 118 degrees [mm]."""
    return drill_mm / 2.0 / math.tan(math.radians(POINT_DEG / 2.0))


def _from(end: str, bore: Bore) -> Stations:
    """Stations with distances counted from one end."""
    if end not in ENDS:
        raise Refusal(f"{short(end)} is not an end", f"one of {', '.join(ENDS)} is allowed", "end")
    return bore.stations_mm if end == "top" else from_the_foot(bore.stations_mm, bore.length_mm)


def gauge_stop_mm(bore: Bore, gauge_mm: float, end: str = "foot") -> float:
    """How deep a disc goes in from one end before the bore is narrower; the whole length if it goes through [mm]."""
    for x0, d0, x1, d1 in segments(_from(end, bore)):
        if d0 < gauge_mm:
            return x0
        if d1 < gauge_mm:
            return x0 + (x1 - x0) * (d0 - gauge_mm) / (d0 - d1)
    return bore.length_mm


def drill_depth_mm(bore: Bore, drill_mm: float, allowance_mm: float, end: str = "foot") -> float:
    """Greatest depth of a drill's corners that leaves `allowance_mm` of diameter all round, point included [mm].

    Negative when the drill cannot start; the whole length when it may go through.  Where the bore
    leaves room for less than the drill, the cone of the point must fit too.
    """
    point, room = point_mm(drill_mm), drill_mm + allowance_mm
    depth = bore.length_mm
    for x0, d0, x1, d1 in segments(_from(end, bore)):
        ends = [(x0, d0), (x1, d1)]
        if (d0 < room) != (d1 < room):
            ends.append((x0 + (x1 - x0) * (d0 - room) / (d0 - d1), room))
        elif d0 >= room:
            continue
        for x, d in ends:
            if d <= room:
                depth = min(depth, x - point * (1.0 - (d - allowance_mm) / drill_mm))
    return depth


def boring_steps(bore: Bore, shop: Workshop, end: str = "foot") -> tuple[Step, ...]:
    """The drilled steps from one end: largest first, each smaller one deeper, the throat's drill last.

    Parameters
    ----------
    bore : Bore
    shop : Workshop
        Its drills, the allowance on the diameter and the least step between two drills.
    end : str
        "foot", or "top" for the cup above the throat; only from the foot does the throat's drill
        belong to the steps.

    Raises
    ------
    Refusal
        No drill is small enough to go through the throat.
    """
    throat = bore.throat_mm[1] - shop.allowance_mm
    small = [drill for drill in shop.drills if drill.mm <= throat]
    if not small:
        at, size = bore.throat_mm
        raise Refusal(
            f"the smallest drill is {shop.drills[0].mm:g} mm, the throat {size:.2f} mm at {at:g} mm",
            f"a drill of {throat:.2f} mm or less is needed to leave {shop.allowance_mm:g} mm for the reamer",
            "drills",
        )
    through, steps = small[-1], []
    for drill in reversed(shop.drills):
        last = steps[-1] if steps else None
        if drill.mm < through.mm + shop.least_step_mm:
            break
        if last is not None and drill.mm > last.drill.mm - shop.least_step_mm:
            continue
        depth = math.floor(10.0 * drill_depth_mm(bore, drill.mm, shop.allowance_mm, end)) / 10.0
        if depth >= SHALLOWEST_MM and (last is None or depth > last.depth_mm):
            steps.append(Step(drill, min(depth, bore.length_mm), False))
    if end == "foot":
        steps.append(Step(through, bore.length_mm, True))
    return tuple(steps)


def gauge_sizes_mm(low_mm: float, high_mm: float) -> tuple[float, ...]:
    """Gauges from `low_mm` to `high_mm`: every 0.1 mm to 10 mm, every 0.2 mm above [mm].

    Common practice, no source.
    """
    number("gauges", low_mm, 0.0, high_mm)
    fine = [n / FINE_PER_MM for n in range(1, FINE_TO_MM * FINE_PER_MM)]
    coarse = [n / COARSE_PER_MM for n in range(FINE_TO_MM * COARSE_PER_MM, int(WIDEST_MM) * COARSE_PER_MM + 1)]
    return tuple(size for size in fine + coarse if low_mm <= size <= high_mm)


def gauge_stops(bore: Bore, tolerance_mm: float, end: str = "foot") -> tuple[GaugeStop, ...]:
    """Where each gauge must stop in the finished bore, largest gauge first.

    Gauges that do not go in, or go through, are left out.
    """
    diameters = [d for _, d in bore.stations_mm]
    stops = []
    for gauge in reversed(gauge_sizes_mm(min(diameters), max(diameters))):
        depth = gauge_stop_mm(bore, gauge, end)
        if 0.0 < depth < bore.length_mm:
            off = [gauge_stop_mm(bore, gauge + by, end) for by in (tolerance_mm, -tolerance_mm)]
            stops.append(GaugeStop(gauge, depth, *off))
    return tuple(stops)
