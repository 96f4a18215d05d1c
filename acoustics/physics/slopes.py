"""How a slice of duct changes with its numbers: exact derivatives, from the values that are known already."""

from __future__ import annotations

import numpy as np

from .air import Gas
from .ducts import LEAN, cosh_and_sinh_ratio


def per_length_slopes(values, area, perimeter, omega, gas: Gas):
    """How impedance and admittance per length change with the cross-section.

    Parameters
    ----------
    values : pair of complex arrays (..., f)
        The two, of `ducts.per_length`.
    area, perimeter, omega, gas
        What `ducts.per_length` took.

    Returns
    -------
    by_area, by_perimeter : pairs (impedance, admittance) of complex arrays (..., f)
        Per relative change.

    Notes
    -----
    The loss function obeys x F' = 2 - 2 F - j x^2 F^2 / 2, which follows from the recurrences of the
    Bessel functions (M. Abramowitz and I. A. Stegun, *Handbook of Mathematical Functions*, 1964, 9.1.27).
    """
    z, y = values
    if gas.viscosity == 0.0:
        return (-z, y), (np.zeros_like(z), np.zeros_like(y))
    area, perimeter = np.asarray(area, float)[..., None], np.asarray(perimeter, float)[..., None]
    lossless_z, lossless_y = 1j * omega * gas.density / area, 1j * omega * area / (gas.density * gas.sound_speed**2)
    x2 = (2.0 * area / perimeter) ** 2 * (omega * gas.density / gas.viscosity)
    kept = lossless_z / z  # 1 - F
    by_z = z / kept * _loss_slope(1.0 - kept, x2)
    warmed = y / lossless_y - 1.0  # (gamma - 1) F
    excess = gas.heat_capacity_ratio - 1.0
    by_y = lossless_y * excess * _loss_slope(warmed / excess, x2 * gas.prandtl)
    return (by_z - z, by_y + y), (-by_z, -by_y)


def _loss_slope(loss, x2):
    """x dF/dx of the loss function from its value."""
    return 2.0 - 2.0 * loss - 0.5j * x2 * loss**2


def form_slopes(length, impedance, admittance, near, far):
    """How p dU - U dp between two states changes with the numbers of the slice that joins them.

    Parameters
    ----------
    length : array broadcast against the values [m]
    impedance, admittance : complex arrays (2, ...)
        Per length at the two Gauss points, as `ducts.tapered` takes them.
    near, far : complex arrays (2, ...)
        (p, U) at the end nearer the reed and at the other.

    Returns
    -------
    by_impedance, by_admittance : complex arrays (2, ...)
    by_length : complex array (...)
    """
    (z1, z2), (y1, y2) = impedance, admittance
    zs, ys, lean_per = z1 + z2, y1 + y2, LEAN * length**2
    z, y, lean = 0.5 * length * zs, 0.5 * length * ys, lean_per * (z1 * y2 - z2 * y1)
    square = lean**2 + z * y
    _, ratio = cosh_and_sinh_ratio(square)
    (p, u), (p2, u2) = near, far
    both, flows, pressures = p * u2 + u * p2, u * u2, p * p2
    common = 0.5 * ratio * (p * u2 - u * p2) - _ratio_slope(square) * (lean * both + z * flows - y * pressures)
    by_lean = 2.0 * lean * common - ratio * both
    by_z, by_y = y * common - ratio * flows, z * common + ratio * pressures
    half, leaning = 0.5 * length, lean_per * by_lean
    by_impedance = np.array([half * by_z + leaning * y2, half * by_z - leaning * y1])
    by_admittance = np.array([half * by_y - leaning * z2, half * by_y + leaning * z1])
    by_length = 0.5 * (zs * by_z + ys * by_y) + 2.0 * LEAN * length * (z1 * y2 - z2 * y1) * by_lean
    return by_impedance, by_admittance, by_length


def _ratio_slope(square):
    """Derivative of sinh(q)/q over q^2: its series where |q| is small, else (cosh q - sinh(q)/q) / (2 q^2)."""
    slope, long = 1.0, np.abs(square) > 0.7
    for n in range(12, 0, -2):
        slope = 1.0 + square / (n * (n + 3)) * slope
    slope = slope / 6.0
    if np.any(long):
        cosh, ratio = cosh_and_sinh_ratio(square[long])
        slope[long] = 0.5 * (cosh - ratio) / square[long]
    return slope
