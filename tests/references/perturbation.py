"""A straight pipe with one stretch of slightly larger section: its modes exactly, and Rayleigh's first order.

Source: Rayleigh 1896, Theory of Sound, art. 265. Lossless pipe closed at 0 and open (p = 0) at its length; the
relative change of section is the same over the whole stretch.
"""

from __future__ import annotations

import numpy as np
from scipy.optimize import brentq


def exact_cents(length: float, start: float, stretch: float, change: float, mode: int) -> float:
    """Shift of the mode [cents] from the two-ports of three cylinders."""
    pieces = ((start, 1.0), (stretch, 1.0 + change), (length - start - stretch, 1.0))

    def entry_admittance_vanishes(k):
        # p and U/(j S/(rho c)) carried upwards from p = 0, U = 1: both stay real
        p, u = 0.0, 1.0
        for piece, area in reversed(pieces):
            cos, sin = np.cos(k * piece), np.sin(k * piece)
            p, u = p * cos - u / area * sin, p * area * sin + u * cos
        return u

    plain = (mode - 0.5) * np.pi / length
    k = brentq(entry_admittance_vanishes, plain * (1 - 0.2 / mode), plain * (1 + 0.2 / mode), xtol=1e-15, rtol=1e-14)
    return float(1200 * np.log2(k / plain))


def rayleigh_cents(length: float, start: float, stretch: float, change: float, mode: int) -> float:
    """The same to first order: df/f = -(1/L) integral of change * cos 2kx, in cents."""
    k = (mode - 0.5) * np.pi / length
    integral = (np.sin(2 * k * (start + stretch)) - np.sin(2 * k * start)) / (2 * k)
    return float(-change / length * integral * 1200 / np.log(2))
