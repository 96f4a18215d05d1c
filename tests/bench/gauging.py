"""Bores as reamers leave them, and a maker who pushes gauges into them; for tests only.

Nothing here is shared with the fit: the shapes are sums of waves, a step, a patch, chatter, and the gauge stops
at the first narrower place of the bore itself, pockets and all.
"""

from __future__ import annotations

import numpy as np

from acoustics.pipes.bore import Bore
from acoustics.pipes.gauges import Gauged, Reading

FINE_MM = 0.25
PROBE_SIGMA_MM, DEPTH_SIGMA_MM = 0.01, 0.5


def waves(rng, x, longest: float, shortest: float, size_mm: float, many: int):
    """A sum of sine waves whose root mean square is about `size_mm`."""
    length = np.exp(rng.uniform(np.log(shortest), np.log(longest), many))[:, None]
    phase = rng.uniform(0.0, 2.0 * np.pi, many)[:, None]
    return size_mm * np.sqrt(2.0 / many) * np.sin(2.0 * np.pi * x / length + phase).sum(axis=0)


def fade(x, start: float, end: float, over: float):
    """1 from start to end, 0 beyond `over` outside them, straight between."""
    return np.clip(np.minimum(x - start, end - x) / over + 1.0, 0.0, 1.0)


def cup_and_cone(rng, x):
    """The bore as it was meant: a cup at the top, a throat, a cone that bulges."""
    length, throat_at = x[-1], rng.uniform(18.0, 32.0)
    throat, foot, cup = rng.uniform(5.0, 5.5), rng.uniform(12.6, 13.6), rng.uniform(6.6, 7.2)
    down = np.clip((x - throat_at) / (length - throat_at), 0.0, 1.0)
    bulge = (rng.uniform(-0.5, 0.5) * np.sin(np.pi * down) + rng.uniform(-0.3, 0.3) * np.sin(2 * np.pi * down)) * down
    up = np.clip(1.0 - x / throat_at, 0.0, 1.0)
    return (
        throat + (foot - throat) * down ** rng.uniform(1.0, 1.15) + bulge + (cup - throat) * up ** rng.uniform(1, 1.6)
    )


def spoiled(rng, x, d):
    """What the reamer adds: waves, chatter in places, in most a step, a patch cut too far, or both."""
    d = d + waves(rng, x, 150.0, 30.0, rng.uniform(0.01, 0.06), 4)
    start = rng.uniform(30.0, 300.0)
    d += waves(rng, x, 9.0, 3.0, rng.uniform(0.002, 0.012), 3) * fade(x, start, start + rng.uniform(20.0, 150.0), 10.0)
    if rng.random() < 0.6:
        at = rng.uniform(40.0, 330.0)
        d += rng.uniform(0.02, 0.12) * np.clip((x - at) / 0.5, 0.0, 1.0)
    if rng.random() < 0.6:
        start = rng.uniform(40.0, 280.0)
        d += rng.uniform(0.03, 0.12) * fade(x, start, start + rng.uniform(5.0, 60.0), rng.uniform(4.0, 25.0))
    return d


def fine(length_mm: float) -> np.ndarray:
    """Places 0.25 mm apart, the end included."""
    return np.append(np.arange(0.0, length_mm, FINE_MM), length_mm)


def bore_of(x, d) -> Bore:
    return Bore(tuple(zip(x.tolist(), d.tolist(), strict=True)))


def reamed(rng) -> Bore:
    """A bore of no design in particular, as it came out."""
    x = fine(rng.uniform(350.0, 370.0))
    return bore_of(x, spoiled(rng, x, cup_and_cone(rng, x)))


def reamed_to(design: Bore, rng) -> Bore:
    """A bore that was meant to be a design."""
    x = fine(design.length_mm)
    return bore_of(x, spoiled(rng, x, design.diameter_mm(x)))


def stop_mm(bore: Bore, gauge_mm: float, end: str) -> float | None:
    """How deep a disc goes in from an end; None when it goes through."""
    at, size = bore.table_mm
    if end == "foot":
        at, size = bore.length_mm - at[::-1], size[::-1]
    narrow = np.flatnonzero(size < gauge_mm)
    if not len(narrow):
        return None
    i = narrow[0]
    if i == 0:
        return 0.0
    return float(at[i - 1] + (at[i] - at[i - 1]) * (size[i - 1] - gauge_mm) / (size[i - 1] - size[i]))


def sizes(low: float, high: float, coarse_above: float = np.inf) -> np.ndarray:
    """Gauges 0.1 mm apart, and 0.2 above `coarse_above`, largest first."""
    tenths = np.arange(round(10 * low), round(10 * high) + 1)[::-1]
    return tenths[(tenths <= 10 * coarse_above) | (tenths % 2 == 0)] / 10.0


def gauged(
    bore: Bore,
    rng,
    probe_sigma: float = PROBE_SIGMA_MM,
    depth_sigma: float = DEPTH_SIGMA_MM,
    read_to: float = 0.5,
    coarse_above: float = np.inf,
    wide: Bore | None = None,
) -> Gauged:
    """A maker's readings from both ends: every gauge has its own error, every depth too, read to `read_to`.

    Of the gauges that do not go in the smallest is written down, of those that go through the largest.
    """
    stopped, through, line = [], [], 7
    for probe, shape in (("round", bore), ("oval", wide)):
        if shape is None:
            continue
        gauges = sizes(shape.table_mm[1].min() - 0.15, shape.table_mm[1].max() + 0.15, coarse_above)
        real = gauges + probe_sigma * rng.normal(size=len(gauges))
        for end in ("foot", "top"):
            kept, passed = [], []
            for gauge, is_mm in zip(gauges, real, strict=True):
                depth, off = stop_mm(shape, is_mm, end), depth_sigma * rng.normal()
                if depth is None:
                    passed.append(gauge)
                else:
                    depth = max(depth + off, 0.0) if depth > 0.0 else 0.0
                    kept.append((gauge, np.round(depth / read_to) * read_to if read_to else depth))
            mouth = [k for k in kept if k[1] == 0.0][:-1]
            for gauge, depth in (k for k in kept if k not in mouth):
                at = depth if end == "top" else shape.length_mm - depth
                said = (f"{gauge:.1f}", f"{depth:.1f}")
                stopped.append(Reading(line, float(gauge), float(depth), end, probe, float(at), said))
                line += 1
        stops = min(r.gauge_mm for r in stopped if r.probe == probe)
        passed = [gauge for gauge in passed if gauge < stops]
        if passed:
            said = (f"{passed[0]:.1f}", "through")
            through.append(Reading(line, float(passed[0]), shape.length_mm, "foot", probe, 0.0, said))
            line += 1
    return Gauged(tuple(stopped), tuple(through), bore.length_mm)
