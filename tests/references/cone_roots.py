"""Lossless cones: eigenfrequencies from their equations, and the spherical-wave two-port.

Source: Benade 1976, Fundamentals of Musical Acoustics; Nederveen 1969, Acoustical Aspects of Woodwind Instruments
(equations from memory; the tests check the two-port against the two travelling spherical waves). With x1 and x2 the
distances of the ends from the apex, L = x2 - x1 and k = 2 pi f/c:

    closed at x1, p = 0 at x2      tan kL = -k x1
    closed at both ends            tan kL = kL/(1 + k^2 x1 x2)
    volume V at x1, p = 0 at x2    cot kL = k V/S1 - 1/(k x1)
    p = 0 at both ends             sin kL = 0
    a closed head of length l and area S1 at x1, closed at x2
                                   tan kl [k^2 x1 x2 - k x1 tan kL] + (k^2 x1 x2 + 1) tan kL - kL = 0

Exact when x is the distance along the slant, the ends are spherical caps and S1 is the area of the cap; with axial
distances and plane sections they are the usual plane-area form, off by half the square of the half angle.
"""

from __future__ import annotations

import numpy as np
from scipy.optimize import brentq


def apex_distances(r1: float, r2: float, length: float) -> tuple[float, float]:
    """Axial distances of the two ends from the apex; r2 > r1."""
    x1 = r1 * length / (r2 - r1)
    return x1, x1 + length


def _roots(equation, low: float, high: float, modes: int, length: float, c: float):
    """Frequencies of the roots y = kL of `equation` in (low, high) + n pi; brackets are exact, roots to 1e-12."""
    y = [brentq(equation, low + n * np.pi, high + n * np.pi, xtol=1e-14, rtol=1e-14) for n in range(modes)]
    return np.array(y) * c / (2 * np.pi * length)


def closed_open(x1: float, x2: float, c: float, modes: int = 4):
    """Closed at x1, p = 0 at x2."""
    length = x2 - x1
    return _roots(lambda y: np.sin(y) + y * x1 / length * np.cos(y), np.pi / 2, np.pi, modes, length, c)


def closed_closed(x1: float, x2: float, c: float, modes: int = 4):
    """Closed at both ends (the mode at zero frequency left out)."""
    length = x2 - x1

    def equation(y):
        return (1 + y * y * x1 * x2 / length**2) * np.sin(y) - y * np.cos(y)

    return _roots(equation, np.pi, 1.5 * np.pi, modes, length, c)


def cavity_open(x1: float, x2: float, volume_over_area: float, c: float, modes: int = 4):
    """A small cavity of that volume over the area of the small end at x1, p = 0 at x2."""
    length = x2 - x1

    def equation(y):
        if y == 0.0:  # limit of sin(y)/y
            return -length / x1 - 1.0
        return (y * volume_over_area / length - length / (y * x1)) * np.sin(y) - np.cos(y)

    return _roots(equation, 0.0, np.pi, modes, length, c)


def open_open(x1: float, x2: float, c: float, modes: int = 4):
    """p = 0 at both ends: the same as a cylinder of that length."""
    return np.arange(1, modes + 1) * c / (2 * (x2 - x1))


def head_closed(x1: float, x2: float, head: float, c: float, highest: float):
    """A closed cylinder of length `head` as wide as the cone at x1, closed at x2: all roots up to `highest` [Hz].

    The two-port below gives the stopped cone's admittance; the equation is written without its tangents, so that it
    has no poles, and its roots are bracketed a hundredth of a period apart.
    """
    length = x2 - x1

    def equation(f):
        k = 2 * np.pi * f / c
        sin, cos = np.sin(k * length), np.cos(k * length)
        under = k * k * x1 * x2 * cos - k * x1 * sin
        return np.sin(k * head) * under + np.cos(k * head) * ((k * k * x1 * x2 + 1) * sin - k * length * cos)

    grid = np.arange(0.1, 1.0 + highest / c * (length + head) * 100) * c / (length + head) / 100
    values = equation(grid)
    cells = np.flatnonzero(values[:-1] * values[1:] < 0)
    roots = np.array([brentq(equation, grid[i], grid[i + 1], xtol=1e-10) for i in cells])
    return roots[roots <= highest]


def two_port(x1: float, x2: float, area1: float, frequency, rho: float, c: float):
    """(A, B, C, D) of the lossless cone from x1 (area1) to x2: p1 = A p2 + B U2, U1 = C p2 + D U2.

    A cone that narrows has negative distances, |x2| < |x1|, both measured towards the apex.
    """
    k = 2 * np.pi * np.asarray(frequency, float) / c
    length = x2 - x1
    cos, sin = np.cos(k * length), np.sin(k * length)
    a = x2 / x1 * cos - sin / (k * x1)
    b = 1j * rho * c / area1 * x1 / x2 * sin
    c_ = 1j * area1 / (rho * c) * ((x2 / x1 + 1 / (k * x1) ** 2) * sin - length / x1 * cos / (k * x1))
    d = x1 / x2 * (cos + sin / (k * x1))
    return a, b, c_, d
