"""Ducts with viscous and thermal losses: any cross-section given by area and wetted perimeter."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.interpolate import PPoly, make_interp_spline
from scipy.special import jve

from .air import Gas

SLICE_MM = 8.0
GAUSS = 0.5 + np.sqrt(3.0) / 6.0 * np.array([[-1.0], [1.0]])  # the two Gauss points of a slice, as shares of its length
LEAN = np.sqrt(3.0) / 12.0  # of the Magnus step, see `tapered`
_SPLIT = 4.0


def _exact_loss(x):
    z = np.asarray(x, float) * np.exp(-0.25j * np.pi)
    return 2.0 * jve(1, z) / (z * jve(0, z))


def _spline(grid, values) -> PPoly:
    real, imag = (PPoly.from_spline(make_interp_spline(grid, part, k=7)) for part in (values.real, values.imag))
    return PPoly(real.c + 1j * imag.c, real.x)


@lru_cache(maxsize=1)
def _loss_tables() -> tuple[PPoly, PPoly]:
    """Splines of degree 7: of F(x) below the split, of F(1/u) above it."""
    x = np.linspace(0.0, _SPLIT, 129)
    u = np.linspace(0.0, 1.0 / _SPLIT, 129)
    with np.errstate(divide="ignore", invalid="ignore"):
        low = np.where(x > 0.0, _exact_loss(x), 1.0)
        high = np.where(u > 1e-9, _exact_loss(1.0 / np.maximum(u, 1e-9)), 0.0)
    return _spline(x, low), _spline(u, high)


def loss_function(x):
    """F = 2 J1(z) / (z J0(z)) on the ray z = x exp(-j pi/4).

    Parameters
    ----------
    x : float array, above 0
        Radius over the thickness of the boundary layer, r sqrt(omega rho / mu) [1].

    Returns
    -------
    complex array, same shape
        1 where the layer fills the duct (x -> 0), 0 where it is thin.

    Notes
    -----
    A spline of the Bessel functions, within 1e-12 of them at every x.

    References
    ----------
    C. Zwikker and C. W. Kosten, *Sound Absorbing Materials*, Elsevier, 1949, ch. II.
    """
    x = np.asarray(x, float)
    low, high = _loss_tables()
    if np.all(x >= _SPLIT):
        return high(1.0 / x)
    return np.where(x < _SPLIT, low(np.minimum(x, _SPLIT)), high(1.0 / np.maximum(x, _SPLIT)))


def per_length(area, perimeter, omega, gas: Gas):
    """Series impedance and shunt admittance of a duct per length.

    Parameters
    ----------
    area, perimeter : array (...)
        [m2], [m]
    omega : array (f,)
        Angular frequency, above 0 [rad/s].
    gas : Gas

    Returns
    -------
    impedance, admittance : complex array (..., f)
        [Pa s m-4], [m2 Pa-1 s-1]

    Notes
    -----
    Exact for a round duct up to its first cross mode, wherever the Kirchhoff solution reduces to
    separate viscous and thermal modes (Stinson 1991: radius above 0.01 mm and r f^1.5 below
    1e4 m s^-1.5).  For another shape the hydraulic radius 2 area/perimeter takes the place of the
    radius: exact for thin boundary layers, an approximation for thick ones.

    References
    ----------
    C. Zwikker and C. W. Kosten 1949, ch. II.  M. R. Stinson, J. Acoust. Soc. Am. 89, 550 (1991).
    """
    area, perimeter = np.asarray(area, float)[..., None], np.asarray(perimeter, float)[..., None]
    omega = np.asarray(omega, float)
    impedance = 1j * omega * gas.density / area
    admittance = 1j * omega * area / (gas.density * gas.sound_speed**2)
    if gas.viscosity == 0.0:
        return impedance, admittance
    x = 2.0 * area / perimeter * np.sqrt(omega * gas.density / gas.viscosity)
    thermal = loss_function(x * np.sqrt(gas.prandtl))
    return impedance / (1.0 - loss_function(x)), admittance * (1.0 + (gas.heat_capacity_ratio - 1.0) * thermal)


def cosh_and_sinh_ratio(square):
    """cosh q and sinh(q)/q of q^2: Taylor series of degree 14 in q where |q| < 0.84 everywhere, else the functions."""
    if square.size and max(np.abs(square.real).max(), np.abs(square.imag).max()) < 0.5:
        cosh = ratio = 1.0
        for n in range(14, 0, -2):
            cosh = 1.0 + square / (n * (n - 1)) * cosh
            ratio = 1.0 + square / (n * (n + 1)) * ratio
        return cosh, ratio
    q = np.sqrt(square + 1e-300)
    return np.cosh(q), np.sinh(q) / q


def uniform(length, impedance, admittance):
    """Two-port of a uniform line, exact: length [m] and values per length -> (2, 2, ...)."""
    return tapered(length, (impedance, impedance), (admittance, admittance))


def tapered(length, impedance, admittance):
    """Two-port of a short duct whose values per length vary along it.

    Parameters
    ----------
    length : array broadcast against the values [m]
    impedance, admittance : pair of complex arrays
        Per length, at the two Gauss points of the duct, the one nearer the reed first.

    Returns
    -------
    complex array (2, 2, ...)
        Its determinant is 1; it is exact for a uniform duct.

    Notes
    -----
    Fourth-order Magnus integrator of the two telegraph equations.

    References
    ----------
    S. Blanes, F. Casas, J. A. Oteo and J. Ros, Phys. Rep. 470, 151 (2009), eq. 253.
    """
    (z1, z2), (y1, y2) = impedance, admittance
    z, y = 0.5 * length * (z1 + z2), 0.5 * length * (y1 + y2)
    lean = LEAN * length**2 * (z1 * y2 - z2 * y1)
    cosh, ratio = cosh_and_sinh_ratio(lean**2 + z * y)
    lean = ratio * lean
    return np.array([[cosh + lean, ratio * z], [ratio * y, cosh - lean]])


@dataclass(frozen=True)
class Slices:
    """Short ducts in a row, gathered into runs; every array in SI.

    Parameters
    ----------
    length : array (n,)
        [m]
    area, perimeter : array (2, n)
        At the two Gauss points of each slice, the one nearer the reed first [m2], [m].
    step : array (n,)
        Inertance over density at the near end of each slice, where the area jumps [1/m].
    counts : int array (runs,)
        Slices in each run, at least 1 each.
    turned : array (n,), optional
        Inertance of each slice over that of a straight one [1]; None where nothing is bent.
    """

    length: np.ndarray
    area: np.ndarray
    perimeter: np.ndarray
    step: np.ndarray
    counts: np.ndarray
    turned: np.ndarray | None = None

    def joined(self, other: Slices) -> Slices:
        """The runs of `other` after one's own."""
        parts = ("length", "area", "perimeter", "step", "counts")
        turned = None
        if self.turned is not None or other.turned is not None:
            ones = [np.ones(len(s.length)) if s.turned is None else s.turned for s in (self, other)]
            turned = np.concatenate(ones)
        return Slices(*(np.concatenate([getattr(self, p), getattr(other, p)], axis=-1) for p in parts), turned)

    def bending(self, omega, gas: Gas):
        """What bends add to the impedance per length, (2, n, f)."""
        return 1j * gas.density * ((self.turned - 1.0) / self.area)[..., None] * omega

    def line(self, omega, gas: Gas):
        """Impedance and admittance per length at the Gauss points, bends included, (2, n, f) each."""
        impedance, admittance = per_length(self.area, self.perimeter, omega, gas)
        if self.turned is not None:
            impedance += self.bending(omega, gas)
        return impedance, admittance

    def each(self, omega, gas: Gas):
        """The two-port of every slice, steps included: (2, 2, n, f)."""
        return self.with_steps(tapered(self.length[:, None], *self.line(omega, gas)), omega, gas)

    def with_steps(self, twoports, omega, gas: Gas):
        """The two-ports of the slices, steps at their near ends put in: (2, 2, n, f)."""
        stepped = np.flatnonzero(self.step)
        if stepped.size:
            drop = 1j * gas.density * self.step[stepped, None] * omega
            twoports[0][:, stepped] += drop * twoports[1][:, stepped]
        return twoports
