"""Flow through a circular opening with sharp edges, by mode matching with the edge built in.

The axial velocity in the opening (radius 1) is expanded in (1 - r^2)^(n - 1/3), n = 0, 1, ..., which has the
singularity of a right-angled edge and whose Hankel transforms are Bessel functions. Pressure is matched by Galerkin's
method; six terms give six digits. Used for the step between two pipes at low frequency and for the open end in an
infinite flange. Source of the method: derived here from the duct modes and the half-space Hankel transform (Nomura,
Yamamuro & Inawashiro 1960, J. Phys. Soc. Japan 15, 510, use the same kind of expansion for the flanged end).
"""

from __future__ import annotations

import numpy as np
from scipy.special import gamma, jv

TERMS = 6
ORDER = np.arange(TERMS) - 1 / 3
SCALE = 2**ORDER * gamma(ORDER + 1)
MEAN = 1 / (2 * (ORDER + 1))  # integral of r (1-r^2)^m
DUCT_MODES = 4000
FARTHEST = 600.0


def _transform(q):
    """Integral of r J0(qr) (1-r^2)^m over the opening, shape (terms, q)."""
    return SCALE[:, None] * jv(ORDER[:, None] + 1, q) / q ** (ORDER[:, None] + 1)


def _zeros_of_j1(count: int):
    z = (np.arange(1, count + 1) + 0.25) * np.pi
    z -= 3 / (8 * z)
    for _ in range(4):
        z -= jv(1, z) / (jv(0, z) - jv(1, z) / z)
    return z


ZEROS = _zeros_of_j1(DUCT_MODES)
SQUARED_J0 = jv(0, ZEROS) ** 2


def _power_tail(start: float):
    """Integral of q^-(m+n+3) from start, for all pairs of orders, with the scales."""
    power = ORDER[:, None] + ORDER[None, :] + 2
    return np.outer(SCALE, SCALE) * start**-power / power


def _averaged_tail(start: float):
    """Integral of the product of two transforms from start to infinity, oscillation averaged out."""
    return _power_tail(start) / np.pi * np.cos((ORDER[:, None] - ORDER[None, :]) * np.pi / 2)


def _own_duct(k: float):
    """Pressure of the evanescent modes of the pipe that ends in the opening, per velocity term."""
    p = _transform(ZEROS)
    total = (p * (2 / (SQUARED_J0 * np.sqrt(ZEROS**2 - k**2)))) @ p.T
    phase = np.cos((ORDER + 1) * np.pi / 2)
    return total + 2 / np.pi * np.outer(phase, phase) * _power_tail((DUCT_MODES + 0.75) * np.pi)


def step_inertance(r1: float, r2: float) -> float:
    """Added length l/r1 of a step from r1 to r2 > r1 at low frequency: inertance rho l/(pi r1^2).

    The kinetic energy of the trial velocity bounds the inertance from above.
    """
    alpha = r1 / r2
    if not 0.008 <= alpha < 1:
        raise ValueError("the first radius must be 0.008 to 1 times the second (the duct modes end there)")
    q = ZEROS * alpha
    p = _transform(q)
    wide = (p * (2 * alpha**2 / (SQUARED_J0 * q))) @ p.T
    wide += _averaged_tail((DUCT_MODES + 0.75) * np.pi * alpha)
    flow = MEAN @ np.linalg.solve(_own_duct(0.0) + wide, MEAN)
    return float(1 / (2 * flow))


def _half_space(k: float):
    """Pressure in front of an infinite flange per velocity term, over j omega rho."""
    points, weights = np.polynomial.legendre.leggauss(12)

    def panels(edges):
        half = np.diff(edges) / 2
        x = (edges[:-1] + half)[:, None] + half[:, None] * points
        return x.ravel(), (half[:, None] * weights).ravel()

    angle, w = panels(np.linspace(0, np.pi / 2, 3))
    p = _transform(k * np.sin(angle))
    travelling = -1j * (p * (w * k * np.sin(angle))) @ p.T
    s, w = panels(np.r_[0.0, np.geomspace(0.01, 1.0, 8), np.arange(2.0, FARTHEST + 0.5)])
    p = _transform(np.hypot(k, s))
    return travelling + (p * w) @ p.T + _averaged_tail(FARTHEST)


def flanged_impedance(ka: float) -> complex:
    """Radiation impedance over rho c/(pi a^2) of the open end in an infinite flange, 0 < ka < 3.83."""
    flow = MEAN @ np.linalg.solve(_half_space(ka) + _own_duct(ka), MEAN.astype(complex))
    return complex(1j * ka / (2 * flow))


def flanged_end(ka: float) -> tuple[float, float]:
    """|R| and end correction l/a of the open end in an infinite flange."""
    z = flanged_impedance(ka)
    r = (z - 1) / (z + 1)
    return abs(r), float(-np.angle(-r) / (2 * ka))
