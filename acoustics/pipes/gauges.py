"""From gauge readings to the bore: which size stops where, pushed in from which end.

A gauge pushed into a bore stops where the bore has narrowed to its size.  Up to there the bore is at
least that wide.  A disc ("round") is stopped by the narrowest way across, a thin flat gauge turned to
where it goes deepest ("oval") by the widest way across.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from ..errors import Refusal

SAME_PLACE_MM = 1e-6
# Two probes read at different places and joined by straight lines may disagree by this much before
# the narrow way across is said to be wider than the wide one.  Chosen here: a maker's reading error.
ROUND_WITHIN_MM = 0.1
ENDS = ("top", "foot")
PROBES = ("round", "oval")

Stations = list[tuple[float, float]]


@dataclass(frozen=True)
class Reading:
    """One gauge pushed in until it stops.

    Parameters
    ----------
    line : int
        In the file.
    gauge_mm, depth_mm : float
        Diameter of the gauge, and how far in from its end it stops [mm].
    end, probe : str
        "top", "foot", or "both" where the last gauges from both ends meet; "round" or "oval".
    distance_mm : float
        Where it stops, from the top of the body [mm].
    said : (str, str)
        Gauge and depth as they stand in the file.
    """

    line: int
    gauge_mm: float
    depth_mm: float
    end: str
    probe: str
    distance_mm: float
    said: tuple[str, str]


@dataclass(frozen=True)
class Gauged:
    """What the gauges said of a bore, as it was read and nothing made of it.

    Parameters
    ----------
    readings : tuple of Reading
        Gauges that stopped, in the order of the file.
    through : tuple of Reading
        Gauges that went right through; their depth is the whole length.
    length_mm : float
        Of the whole bore [mm].
    """

    readings: tuple[Reading, ...]
    through: tuple[Reading, ...]
    length_mm: float

    def __post_init__(self):
        if not self.readings:
            what = "no gauge stopped" if self.through else "no row stands in the table"
            raise Refusal(what, "at least one is needed", "columns")
        for passed in self.through:
            for stopped in self.readings:
                if stopped.probe == passed.probe and stopped.gauge_mm <= passed.gauge_mm:
                    what = (
                        f"the gauge {passed.said[0]} goes through, but {stopped.said[0]} of line {stopped.line} stops"
                    )
                    allowed = "a gauge that goes through must be smaller than all that stop"
                    raise Refusal(what, allowed, f"line {passed.line}, column gauge")


def _from_one_end(readings: list[Reading]) -> list[Reading]:
    """Readings of one probe from one end, shallow to deep; of several at one step, the outer two."""
    readings = sorted(readings, key=lambda r: (-r.gauge_mm, r.depth_mm))
    for bigger, smaller in pairwise(readings):
        at = f"line {smaller.line}, column "
        if smaller.gauge_mm == bigger.gauge_mm:
            what = f"the gauge {smaller.said[0]} from the {smaller.end} stands on line {bigger.line} already"
            raise Refusal(what, "each gauge may be given once for each end and probe", f"{at}gauge")
        if smaller.depth_mm < bigger.depth_mm:
            what = (
                f"the gauge {smaller.said[0]} stops at {smaller.said[1]}, but the bigger {bigger.said[0]} of "
                f"line {bigger.line} goes in to {bigger.said[1]}"
            )
            raise Refusal(what, "from one end a smaller gauge goes in as far or farther", f"{at}depth")
        if smaller.depth_mm == 0.0:
            what = f"the gauges {bigger.said[0]} and {smaller.said[0]} both stop at 0"
            raise Refusal(what, "of the gauges that do not go in, only the smallest is to be given", f"{at}depth")
    kept: list[Reading] = []
    for reading in readings:
        if kept and reading.depth_mm - kept[-1].depth_mm <= SAME_PLACE_MM:
            reading = replace(reading, depth_mm=kept[-1].depth_mm, distance_mm=kept[-1].distance_mm)
        if len(kept) > 1 and kept[-2].depth_mm == reading.depth_mm:
            kept.pop()
        kept.append(reading)
    return kept


def _one_probe(readings: list[Reading]) -> list[Reading]:
    """Readings of one probe from both ends, sorted from the top down."""
    top, foot = (_from_one_end([r for r in readings if r.end == end]) for end in ENDS)
    if top and foot:
        above, below = top[-1], foot[-1]
        gap = below.distance_mm - above.distance_mm
        steps = [r for r in top + foot if abs(r.distance_mm - above.distance_mm) <= SAME_PLACE_MM]
        throat = abs(gap) <= SAME_PLACE_MM and above.gauge_mm == below.gauge_mm and len(steps) == 2
        if gap <= SAME_PLACE_MM and not throat:
            late, early = sorted((above, below), key=lambda r: -r.line)
            what = (
                f"the gauge {late.said[0]} from the {late.end} stops at {late.said[1]}, where the gauge "
                f"{early.said[0]} of line {early.line} from the {early.end} has been"
            )
            allowed = "gauges from the top must stop above those from the foot"
            raise Refusal(what, allowed, f"line {late.line}, column depth")
        if throat:
            foot.pop()
            top[-1] = replace(above, end="both")
    return top + foot[::-1]


def _sides(stations: Stations, at: float) -> tuple[float, float]:
    """Diameter just above and just below a distance: different at a step."""
    distance, diameter = np.array(stations).T
    first = int(np.searchsorted(distance, at, side="left"))
    below = float(np.interp(at, distance, diameter))
    above = float(diameter[first]) if first < len(distance) and distance[first] == at else below
    return above, below


def _snapped(readings: list[Reading], places: list[float]) -> list[Reading]:
    """Readings moved onto those of the places that are the same but for rounding."""
    for place in places:
        readings = [
            replace(r, distance_mm=place) if abs(r.distance_mm - place) <= SAME_PLACE_MM else r for r in readings
        ]
    return readings


def _joined(narrow: list[Reading], wide: list[Reading]) -> tuple[Stations, Stations]:
    """Narrow and wide diameters at the places of both probes.

    Where only one probe has been, the other is taken in the proportion last found.
    """
    wide = _snapped(wide, [r.distance_mm for r in narrow])
    series = [[(r.distance_mm, r.gauge_mm) for r in readings] for readings in (narrow, wide)]
    start, end = max(s[0][0] for s in series), min(s[-1][0] for s in series)
    if start > end:
        what = "the round and the oval probe have been to different stretches of the bore"
        raise Refusal(what, "both must be used over the same stretch, or only one", "column probe")
    out: tuple[Stations, Stations] = ([], [])
    for at in sorted({distance for s in series for distance, _ in s}):
        inside = min(max(at, start), end)
        sides = []
        for side in (0, 1):
            small, large = (_sides(s, inside)[side] for s in series)
            if large < small - ROUND_WITHIN_MM:
                line = next(r.line for r in narrow + wide if r.distance_mm == inside)
                what = f"the oval probe finds {large:.2f} mm where the round probe finds {small:.2f} mm"
                allowed = "the widest way across may not be less than the narrowest"
                raise Refusal(what, allowed, f"line {line}, column gauge")
            large = max(small, large)
            if at < start or at > end:
                proportion = large / small
                has_narrow = series[0][0][0] <= at <= series[0][-1][0]
                known = _sides(series[0] if has_narrow else series[1], at)[side]
                small, large = (known, known * proportion) if has_narrow else (known / proportion, known)
            sides.append((small, large))
        for small, large in sides if sides[0] != sides[1] else sides[:1]:
            out[0].append((at, small))
            out[1].append((at, large))
    return out


def _not_seen(readings: list[Reading], length_mm: float) -> list[tuple[float, float]]:
    """Stretches that no gauge of one probe has seen: beyond its first and last, and at the throat."""
    stretches = [(0.0, readings[0].distance_mm), (readings[-1].distance_mm, length_mm)]
    for above, below in pairwise(readings):
        if (above.end, below.end) == ENDS:
            stretches.append((above.distance_mm, below.distance_mm))
    return [(start, end) for start, end in stretches if end - start > SAME_PLACE_MM]


def unseen_by_all(unseen: dict[str, list[tuple[float, float]]]) -> list[tuple[float, float]]:
    """What the stretches that each kind of gauge has not seen have in common [mm]."""
    common, *others = unseen.values()
    for other in others:
        pairs = ((max(one[0], two[0]), min(one[1], two[1])) for one in common for two in other)
        common = [(start, end) for start, end in pairs if end - start > SAME_PLACE_MM]
    return common


def stations_from_gauges(readings: list[Reading], length_mm: float):
    """Narrow and wide stations, and the stretches that each kind of gauge has not seen.

    Parameters
    ----------
    readings : list of Reading
        At least one.
    length_mm : float
        Of the whole bore [mm].

    Returns
    -------
    narrow, wide : list of (distance, diameter) [mm]
        The same list twice when only one probe was used: the bore is then taken as round.
    unseen : {probe: list of (from, to)} [mm]
        Of each probe used: before its first reading, past its last, and between its deepest reading from the
        top and its deepest from the foot, where the throat may be narrower than it has told.

    Raises
    ------
    Refusal
        Readings that contradict each other, with line and column.
    """
    found = [_one_probe([r for r in readings if r.probe == probe]) for probe in PROBES]
    unseen = {probe: _not_seen(of, length_mm) for probe, of in zip(PROBES, found, strict=True) if of}
    if all(found):
        return *_joined(*found), unseen
    single = [(r.distance_mm, r.gauge_mm) for r in found[0] or found[1]]
    return single, list(single), unseen
