"""What a gauge reading says of the bore: how wide, where, and how uncertain."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import Refusal, check_kind, set_checked
from ..pipes.bore import Bore
from ..pipes.gauges import PROBES, SAME_PLACE_MM, Gauged, Reading

THROAT_EVERY_MM = 15.0
LENGTHS_MM = 2.0  # a bore may be so much longer or shorter than its design


@dataclass(frozen=True)
class Gauging:
    """How well a maker gauges, one standard deviation each.

    Parameters
    ----------
    probe_mm : float
        Diameter of a gauge against what is written on it, 0.001 to 0.2 [mm].
    depth_mm : float
        Depth at which it is said to stop, 0.01 to 5 [mm].
    """

    probe_mm: float = 0.01
    depth_mm: float = 0.5

    def __post_init__(self):
        set_checked(self, {"probe_mm": (0.001, 0.2), "depth_mm": (0.01, 5.0)})


@dataclass(frozen=True)
class Evidence:
    """Readings as diameters at places.

    Parameters
    ----------
    place_mm, size_mm : arrays (n,)
        From the top; across [mm].
    way : array (n,)
        -1 where the narrow way across was gauged, 1 the wide, 0 everywhere when only one probe was used.
    covariance_mm2 : array (n, n)
        Of the diameters, all that does not hang on the depth [mm²].
    stopped : array (n,) of bool
        Readings whose depth is uncertain; the others are what the throat and the mouths allow.
    readings : tuple of Reading or None
        Where each comes from.
    """

    place_mm: np.ndarray
    size_mm: np.ndarray
    way: np.ndarray
    covariance_mm2: np.ndarray
    stopped: np.ndarray
    readings: tuple[Reading | None, ...]

    def without(self, left_out: list[int]) -> Evidence:
        """The same with some left out."""
        keep = np.setdiff1d(np.arange(len(self.place_mm)), left_out)
        readings = tuple(self.readings[i] for i in keep)
        arrays = (self.place_mm[keep], self.size_mm[keep], self.way[keep], self.covariance_mm2[np.ix_(keep, keep)])
        return Evidence(*arrays, self.stopped[keep], readings)


def seen_mm(gauged: Gauged) -> tuple[float, float]:
    """(deepest stop from the top, deepest from the foot), from the top [mm]: outside them the gauges have been.

    Where both have been at the throat, the middle of the two stops, twice; 0 or the length where none has.
    """
    top = max((r.distance_mm for r in gauged.readings if r.end == "top"), default=0.0)
    foot = min((r.distance_mm for r in gauged.readings if r.end == "foot"), default=gauged.length_mm)
    return (top, foot) if top <= foot else ((top + foot) / 2.0,) * 2


def throat_mm(gauged: Gauged, probe: str) -> tuple[float, float] | None:
    """(largest gauge that went through, smallest that stopped): the throat lies between; None if not known."""
    through = [r.gauge_mm for r in gauged.through if r.probe == probe]
    stopped = [r.gauge_mm for r in gauged.readings if r.probe == probe]
    return (max(through), min(stopped)) if through and stopped else None


def check_design(gauged: Gauged, design: Bore) -> None:
    """A `Refusal` unless the design is a bore as long as the gauged one."""
    check_kind("design", design, Bore, "a Bore")
    if abs(gauged.length_mm - design.length_mm) > LENGTHS_MM:
        what = f"the bore is {gauged.length_mm:g} mm long, the design {design.length_mm:g} mm"
        raise Refusal(what, f"lengths within {LENGTHS_MM:g} mm of each other are needed", "design")


def evidence(gauged: Gauged, gauging: Gauging) -> Evidence:
    """What readings say, with their uncertainties.

    Notes
    -----
    A gauge stops where the bore is first just its size: there the diameter is the gauge's.  One gauge
    has one error, from whichever end it is pushed.  A gauge that stops at the mouth tells that the
    mouth lies between it and the next smaller one.  Between the deepest stops from both ends the bore
    is a valley whose bottom lies between the smallest gauge that stopped and the largest that went
    through, evenly likely in between, its mean two thirds as deep as its bottom; half of what is
    uncertain there is the same all along.
    """
    both = len({r.probe for r in gauged.readings}) == 2
    ways = {probe: float(2 * i - 1) if both else 0.0 for i, probe in enumerate(PROBES)}
    rows = [(r.distance_mm, r.gauge_mm, ways[r.probe], r) for r in gauged.readings]
    same = np.array([[a[3].gauge_mm == b[3].gauge_mm and a[2] == b[2] for b in rows] for a in rows])
    covariance = gauging.probe_mm**2 * same
    for i in np.flatnonzero([r.depth_mm <= SAME_PLACE_MM for r in gauged.readings]):
        step = _next_smaller(gauged, rows[i][3])
        rows[i] = (rows[i][0], rows[i][1] - step / 2.0, *rows[i][2:])
        covariance[i, i] += step**2 / 12.0
    for probe in PROBES:
        places, size, spread = _throat_places(gauged, probe)
        rows += [(place, size, ways[probe], None) for place in places]
        block = spread**2 / 2.0 * (1.0 + np.eye(len(places)))
        covariance = np.block(
            [[covariance, np.zeros((len(covariance), len(places)))], [np.zeros((len(places), len(covariance))), block]]
        )
    place, size, way, readings = zip(*rows, strict=True)
    stopped = np.arange(len(rows)) < len(gauged.readings)
    return Evidence(np.array(place), np.array(size), np.array(way), covariance, stopped, readings)


def _next_smaller(gauged: Gauged, mouth: Reading) -> float:
    """From a gauge that does not go in to the next smaller one that does [mm]."""
    inside = [r.gauge_mm for r in gauged.readings if (r.end, r.probe) == (mouth.end, mouth.probe)]
    return mouth.gauge_mm - max((g for g in inside if g < mouth.gauge_mm), default=mouth.gauge_mm - 0.2)


def _throat_places(gauged: Gauged, probe: str) -> tuple[np.ndarray, float, float]:
    """(places, diameter, standard deviation) of what both ends leave unseen; no places if that is not known."""
    between, (start, end) = throat_mm(gauged, probe), seen_mm(gauged)
    ends = {r.end for r in gauged.readings}
    if between is None or len(ends) < 2 or start == end:
        return np.empty(0), 0.0, 0.0
    many = max(1, round((end - start) / THROAT_EVERY_MM))
    places = np.linspace(start, end, many + 2)[1:-1]
    return places, between[1] - (between[1] - between[0]) / 3.0, (between[1] - between[0]) / np.sqrt(12.0)
