"""Tubes without holes: their two-ports, modes and peaks; for tests only."""

from __future__ import annotations

import numpy as np
from scipy.interpolate import CubicSpline

from acoustics.physics.network import slice_path
from acoustics.physics.twoport import apply, fold
from tests.physics.simple import DRY, cone
from tests.published import table
from tests.references import levine_schwinger


def whole(tube, frequency, gas, slice_mm=8.0):
    """Two-port of a tube, (2, 2, f)."""
    slices = slice_path(tube.path, [], slice_mm)
    return fold(slices.each(2 * np.pi * np.asarray(frequency), gas), slices.counts)[:, :, 0]


def top(frequency, modulus) -> tuple[float, float]:
    """Frequency and height of the one maximum of a finely sampled stretch."""
    curve = CubicSpline(frequency, modulus)
    inside = [r for r in curve.derivative().roots(extrapolate=False) if frequency[0] < r < frequency[-1]]
    assert len(inside) == 1
    return inside[0], float(curve(inside[0]))


def lossy_peaks(name: str):
    """(row, frequency, |Z|) round each peak of one object of lossy_peaks.csv, its load the Silva fit of the header."""
    t = table("lossy_peaks")
    rows = np.flatnonzero(t["object"] == name)
    r1, r2, length = (float(t[column][rows[0]]) for column in ("r1_mm", "r2_mm", "length_mm"))
    f = (t["frequency"][rows, None] * (1 + np.linspace(-0.6, 0.6, 81) / t["q"][rows, None])).ravel()
    ka = 2 * np.pi * f / DRY.sound_speed * r2 * 1e-3
    load = levine_schwinger.from_reflection(ka, *levine_schwinger.silva_fit(ka))
    load = load * DRY.density * DRY.sound_speed / (np.pi * (r2 * 1e-3) ** 2)
    pressure, flow = apply(whole(cone(2 * r1, 2 * r2, length), f, DRY), np.array([load, np.ones_like(load)]))
    return zip(rows, np.split(f, len(rows)), np.split(np.abs(pressure / flow), len(rows)), strict=True)
