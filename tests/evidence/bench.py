"""Rows on scales and on what goes to the bench."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from acoustics.pipes.fingering import NOTES
from acoustics.shop.drills import FRACTIONAL, METRIC, own_drills
from acoustics.shop.staple_pattern import Frustum, frustum_volume_mm3
from acoustics.tuning.scales import equal_scale, just_scale
from acoustics.units import cents
from tests.published import table

from . import row


def _tabled(scale, column):
    """Cents between the scale's first octave and a column [Hz] of the table, notes that both have."""
    t = table("just_scale")
    called = {1: 0, 16 / 15: 1, 9 / 8: 2, 6 / 5: 3, 5 / 4: 4, 4 / 3: 5, 45 / 32: 6, 3 / 2: 7, 8 / 5: 8, 5 / 3: 9}
    called |= {9 / 5: 10, 15 / 8: 11}
    off = []
    for text, hz in zip(t["ratio"], t[column], strict=True):
        ratio = float(Fraction(text))
        if ratio in called:
            off.append(abs(float(cents(scale.frequency(NOTES[called[ratio]], 1), hz))))
    return max(off) if len(off) == 12 else np.inf


@row("just scale", "ratios on the keynote", "Ellis 1885", "A 300 to 600 Hz", "table on ISO 16", "cents", 0.005)
def _():
    return _tabled(just_scale(), "just_hz")


@row("equal temperament", "twelfth root of 2", "ISO 16:1975", "A 300 to 600 Hz", "table on ISO 16", "cents", 0.005)
def _():
    return _tabled(equal_scale(), "equal_hz")


@row(
    "drills: number and letter sizes",
    "table",
    "ANSI B94.11M",
    "no. 80 to 1, A to Z",
    "published inches of nine sizes",
    "mm",
    6e-4,
)
def _():
    inches = {"no. 80": 0.0135, "no. 1": 0.2280, "no. 7": 0.2010, "no. 41": 0.0960, "no. 60": 0.0400, "no. 55": 0.0520}
    inches |= {"letter A": 0.2340, "letter E": 0.2500, "letter Z": 0.4130}
    return max(abs(own_drills([name])[0].mm - 25.4 * size) for name, size in inches.items())


@row(
    "drills: fractional sizes",
    "sixty-fourths of an inch",
    "ANSI B94.11M",
    "1/64 to 3/4 in",
    "25.4 mm to the inch",
    "mm",
    1e-9,
)
def _():
    return max(abs(drill.mm - 25.4 * n / 64) for n, drill in enumerate(FRACTIONAL, 1))


@row("drills: metric sizes", "steps", "ISO 235", "1 to 20 mm", "preferred sizes", "mm", 1e-9)
def _():
    sizes = [1 + 0.05 * i for i in range(40)] + [3 + 0.1 * i for i in range(110)] + [14 + 0.25 * i for i in range(25)]
    return float(np.max(np.abs(np.array([drill.mm for drill in METRIC]) - sizes)))


@row(
    "staple's flat pattern",
    "developed cone",
    "sheet-metal handbooks",
    "any cone under 180°",
    "worked example, 2 decimals",
    "mm",
    0.005,
)
def _():
    return float(np.max(np.abs(np.subtract(Frustum(4.0, 5.0, 8.0).radii_mm, (7.12, 11.39)))))


@row(
    "staple's flat pattern: area",
    "developed cone",
    "sheet-metal handbooks",
    "any cone under 180°",
    "side of the cone, summed",
    "relative",
    1e-9,
)
def _():
    flat = Frustum(50.0, 3.8, 4.9)
    inner, outer = flat.radii_mm
    ring = 0.5 * np.radians(flat.angle_deg) * (outer**2 - inner**2)
    x = (np.arange(1000) + 0.5) / 1000
    side = np.sum(np.pi * (3.8 + 1.1 * x)) / 1000 * np.sqrt(50.0**2 + 0.55**2)
    return abs(ring / side - 1)


@row("cone's volume", "closed form", "geometry", "any cone", "thin discs, summed", "relative", 1e-7)
def _():
    x = (np.arange(20000) + 0.5) / 20000
    return abs(frustum_volume_mm3(50.0, 3.8, 4.9) / (50.0 * float(np.mean(np.pi / 4 * (3.8 + 1.1 * x) ** 2))) - 1)
