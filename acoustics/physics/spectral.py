"""Smooth spectra known from a few frequencies: polynomials in the square root of frequency.

Wall losses go with the root of frequency, so every two-port of a stretch of bore is a smooth
function of it, and a polynomial through a few Chebyshev points gives it anywhere in a band.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

MOST = 200
TAIL = 1e-9


@dataclass(frozen=True)
class Spectrum:
    """Rows of complex values over a band of frequency.

    Parameters
    ----------
    nodes : array (n,)
        Roots of the frequencies at which the values are known [Hz^0.5].
    values : complex array (rows, n)
    """

    nodes: np.ndarray
    values: np.ndarray

    def at(self, frequency):
        """The values at other frequencies of the band, (rows, f).

        References
        ----------
        J.-P. Berrut and L. N. Trefethen, SIAM Rev. 46, 501 (2004), eqs. 4.2 and 5.3.
        """
        n = len(self.nodes)
        weight = (-1.0) ** np.arange(n) * np.sin((2.0 * np.arange(n) + 1.0) * np.pi / (2.0 * n))
        distance = np.sqrt(frequency) - self.nodes[:, None]
        distance[np.abs(distance) < 1e-13] = 1e-13
        matrix = weight[:, None] / distance
        parts = np.concatenate([self.values.real, self.values.imag]) @ (matrix / matrix.sum(axis=0))
        return parts[: len(self.values)] + 1j * parts[len(self.values) :]


@dataclass(frozen=True)
class Direct:
    """The same for what no polynomial of `MOST` points can follow: calculated at every frequency asked."""

    function: Callable

    def at(self, frequency):
        """The values, (rows, f)."""
        return self.function(np.asarray(frequency, float))


def chebyshev_nodes(low: float, high: float, n: int):
    """n Chebyshev points of the first kind between the roots of two frequencies [Hz^0.5]."""
    angle = (2.0 * np.arange(n) + 1.0) * np.pi / (2.0 * n)
    low, high = np.sqrt(low), np.sqrt(high)
    return 0.5 * (low + high) + 0.5 * (high - low) * np.cos(angle)


def sampled(function: Callable, low: float, high: float, points: int) -> Spectrum | Direct:
    """`function` (frequency (n,) -> (rows, n)) over a band, as closely as `TAIL`.

    The number of points starts at `points` and grows until the last Chebyshev coefficients of every
    row have fallen below `TAIL` times the largest of the row.  Where `MOST` points do not get there
    (a chimney so deep that it rings inside the band), nothing is interpolated.
    """
    n = points
    while True:
        nodes = chebyshev_nodes(low, high, n)
        values = function(nodes**2)
        order = np.arange(n - 3, n)[:, None]
        last = np.cos(order * (2.0 * np.arange(n) + 1.0) * np.pi / (2.0 * n)) @ values.T / n
        if np.all(np.abs(last) <= TAIL * np.max(np.abs(values), axis=1)):
            return Spectrum(nodes, values)
        if n >= MOST:
            return Direct(function)
        n = min(n * 3 // 2, MOST)
