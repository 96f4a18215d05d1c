"""Bores that gauge readings allow, drawn at random: wide enough for every gauge as far as it went in.

A bore of no known design is put in order of size where gauges have been: what they felt cannot narrow on the way
out.  One that follows a design may have pockets, which no gauge feels: it is drawn from the process itself, but
bores that would have stopped a gauge too early are as rare as its errors make them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..pipes.gauges import PROBES, Gauged
from .bore_process import Process
from .probing import Evidence, Gauging, seen_mm, throat_mm

TURNS = 6  # steps of the sampler; more change nothing in simulated bores
# Steps and chatter stray farther than a Gaussian process: so many times, found from 60 simulated bores of no design
# and 200 of a known one.
STRAYING, STRAYING_ABOUT = 1.4, 1.5
CLEAR = 2.0  # a gauge is sure to have been where it stopped less so many errors of its depth


@dataclass(frozen=True)
class Draws:
    """Bores that readings allow, each as likely as the others.

    Parameters
    ----------
    narrow_mm, wide_mm : arrays (draws, m)
        Both ways across, the same twice when only one probe was used [mm].
    sigma_mm : array (m,)
        Standard deviation of their mean, roughness left out [mm].
    everywhere : array (draws,)
        Farthest that each strays anywhere, in standard deviations.
    """

    narrow_mm: np.ndarray
    wide_mm: np.ndarray
    sigma_mm: np.ndarray
    everywhere: np.ndarray


def drawn_bores(gauged: Gauged, process: Process, known: Evidence, noise, at, gauging: Gauging, draws: int) -> Draws:
    """Bores on the grid `at` [mm] from the top; `known` and its `noise` as they were fitted."""
    ways = np.unique(known.way)
    probes = PROBES if len(ways) == 2 else (gauged.readings[0].probe,)
    mean, spread = process.given(
        known.place_mm, known.way, known.size_mm, noise, np.tile(at, len(ways)), np.repeat(ways, len(at))
    )
    value, vector = np.linalg.eigh(spread)
    root = (vector * np.sqrt(np.maximum(value, 0.0))) @ vector.T
    rng = np.random.default_rng(0)
    sizes = mean + _pairs(rng, draws, len(mean)) @ root
    if process.design is not None:
        give = np.hypot(gauging.probe_mm, np.sqrt(process.variances["rough"]))
        gates = [_gate(gauged, known, probe, at, gauging.depth_mm, give) for probe in probes]

        def kept_out(off):
            return sum(gate(part) for gate, part in zip(gates, np.split(mean + off, len(probes), axis=1), strict=True))

        sizes = mean + _let_through(sizes - mean, root, kept_out, rng)
    parts = np.split(sizes, len(probes), axis=1)
    middle = (parts[0] + parts[-1]) / 2.0
    off = middle - middle.mean(axis=0)
    sigma = off.std(axis=0)
    parts = [_ordered(gauged, p, at, part, process.design is None) for p, part in zip(probes, parts, strict=True)]
    straying = STRAYING if process.design is None else STRAYING_ABOUT
    strays = straying * np.max(np.abs(off) / sigma, axis=1)
    return Draws(np.minimum(parts[0], parts[-1]), np.maximum(parts[0], parts[-1]), sigma, strays)


def _pairs(rng, draws: int, many: int) -> np.ndarray:
    """Independent unit numbers (draws, many), every row followed by its opposite."""
    unit = rng.normal(size=((draws + 1) // 2, many))
    return np.concatenate([unit, -unit])[:draws]


def _ordered(gauged: Gauged, probe: str, at, sizes, sort: bool):
    """Bores that let every gauge through to where it stopped: nowhere below one that went through and, if they are
    to be sorted, widening outwards."""
    top, foot = seen_mm(gauged)
    sizes = np.array(sizes)
    if sort:
        above, below = at <= top, at >= foot
        sizes[:, above] = -np.sort(-sizes[:, above], axis=1)
        sizes[:, below] = np.sort(sizes[:, below], axis=1)
    throat = throat_mm(gauged, probe)
    return np.maximum(sizes, 0.0 if throat is None else throat[0])


def _gate(gauged: Gauged, known: Evidence, probe: str, at, depth_mm: float, give_mm: float) -> Callable:
    """How unlikely it is that gauges of one probe went as far as they did, of bores (draws, m)."""
    readings = [r for r in known.readings if r is not None and r.probe == probe]
    throat = throat_mm(gauged, probe)
    sides = []
    for end, inward in (("top", slice(None)), ("foot", slice(None, None, -1))):
        deep = [r for r in readings if r.end == end and r.depth_mm > CLEAR * depth_mm]
        from_end = at if end == "top" else at[-1] - at[::-1]
        reached = [np.searchsorted(from_end, r.depth_mm - CLEAR * depth_mm, side="right") - 1 for r in deep]
        sides.append((inward, np.array(reached, int), np.array([r.gauge_mm for r in deep])))

    def unlikely(sizes):
        lacking = [] if throat is None else [throat[0] - sizes.min(axis=1)[:, None]]
        for inward, reached, gauge in sides:
            lacking.append(gauge - np.minimum.accumulate(sizes[:, inward], axis=1)[:, reached])
        return 0.5 * np.sum((np.maximum(np.hstack(lacking), 0.0) / give_mm) ** 2, axis=1)

    return unlikely


def _let_through(off, root, unlikely: Callable, rng):
    """Draws of a Gaussian, weighed by exp(-unlikely), by elliptical slice sampling, all at once.

    References
    ----------
    I. Murray, R. P. Adams and D. J. C. MacKay, J. Mach. Learn. Res. W&CP 9, 541 (2010), from memory.
    """
    cost = unlikely(off)
    for _ in range(TURNS):
        fresh = rng.normal(size=off.shape) @ root
        most = cost + rng.exponential(size=len(off))
        turn = rng.uniform(0.0, 2.0 * np.pi, len(off))
        least, largest, todo = turn - 2.0 * np.pi, turn.copy(), np.arange(len(off))
        start, off, cost = off, off.copy(), cost.copy()
        while len(todo):
            tried = np.cos(turn[todo])[:, None] * start[todo] + np.sin(turn[todo])[:, None] * fresh[todo]
            now = unlikely(tried)
            fine = now <= most[todo]
            off[todo[fine]], cost[todo[fine]] = tried[fine], now[fine]
            todo = todo[~fine]
            back = todo[turn[todo] < 0.0]
            ahead = np.setdiff1d(todo, back)
            least[back], largest[ahead] = turn[back], turn[ahead]
            turn[todo] = rng.uniform(least[todo], largest[todo])
    return off
