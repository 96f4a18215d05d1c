"""Radiation from the open end of a thin-walled circular pipe: the exact integrals.

Source: Levine & Schwinger 1948, Phys. Rev. 73, 383 (integrals from memory; their small-ka limits, Re Z/Zc = (ka)^2/4
and an end correction near 0.613 a, come out right). The reflection coefficient at the end is
R = -|R| exp(-2jk l). Valid in the plane-wave range 0 <= ka < 3.83. The end correction at ka = 0 comes out as
0.612701036 a, not the 0.6133 a quoted since 1948.

Also the rational fit of Silva, Guillemain, Kergomard, Mallaroni & Norris 2009, J. Sound Vib. 322, 255 (non-causal
form, coefficients from memory; within 0.35 % of |R| and 1.2 % of l for ka <= 2), which some tables are made with.
"""

from __future__ import annotations

import numpy as np
from scipy.integrate import quad
from scipy.special import ive, jv, kve, yv

EULER = 0.5772156649015329
FIRST_ZERO_OF_J1 = 3.8317059702075125
STEP = 0.2
SMALL = 3e-4


def _checked(ka: float) -> float:
    if not 0.0 <= ka < FIRST_ZERO_OF_J1:
        raise ValueError(f"ka = {ka} lies outside 0 <= ka < 3.83, where only the plane wave travels")
    return float(ka)


def reflection(ka):
    """Modulus of the reflection coefficient at the open end (absolute accuracy about 1e-11)."""
    return np.vectorize(_reflection, otypes=[float])(ka)


def _reflection(ka: float) -> float:
    ka = _checked(ka)
    if ka == 0.0:
        return 1.0

    def integrand(angle):  # x = ka sin(angle) takes the square root away
        x = ka * np.sin(angle)
        return np.arctan2(jv(1, x), -yv(1, x)) / x

    value, _ = quad(integrand, 0.0, np.pi / 2, epsabs=1e-13, epsrel=1e-12, limit=200)
    return float(np.exp(-2 * ka / np.pi * value))


def _logarithm_near_zero(x):
    """Both logarithms of the end correction for small x, where the full form would lose digits."""
    return -(x**2) / 2 * (np.log(x / 2) + EULER - 0.25)


def end_correction(ka):
    """End correction l/a (absolute accuracy about 1e-10)."""
    return np.vectorize(_end_correction, otypes=[float])(ka)


def _end_correction(ka: float) -> float:
    ka = _checked(ka)
    propagating = 0.0
    if ka > 0.0:

        def integrand(angle):
            x = ka * np.sin(angle)
            if x < SMALL:
                return _logarithm_near_zero(x) / x
            return np.log(np.pi * jv(1, x) * np.hypot(jv(1, x), yv(1, x))) / x

        propagating, _ = quad(integrand, 0.0, np.pi / 2, epsabs=1e-11, epsrel=1e-11, limit=200)
    # Second integral: x = exp(s) makes the integrand analytic in |Im s| < pi/2 and decaying exponentially on both
    # sides, so that the plain trapezium rule converges like exp(-pi^2/step).
    x = np.exp(np.arange(-40.0, 45.0, STEP))
    small, large = x < SMALL, x > 1e6
    middle = np.where(small | large, 1.0, x)
    logarithm = np.where(large, np.log(x), -np.log(2 * ive(1, middle) * kve(1, middle)))
    logarithm = np.where(small, _logarithm_near_zero(x), logarithm)
    evanescent = STEP * np.sum(logarithm / np.hypot(x, ka))
    return float((propagating + evanescent) / np.pi)


def impedance(ka):
    """Radiation impedance over rho c/(pi a^2)."""
    ka = np.asarray(ka, float)
    return from_reflection(ka, reflection(ka), end_correction(ka))


def from_reflection(ka, modulus, length):
    """Normalised impedance (1+R)/(1-R) of R = -modulus exp(-2j ka length), with the length over a."""
    r = -np.asarray(modulus) * np.exp(-2j * np.asarray(ka) * length)
    return (1 + r) / (1 - r)


SILVA_UNFLANGED = (0.6133, 0.5, (0.800, 0.266, 0.0263), (0.0599, 0.238, -0.0153, 0.00150))
SILVA_FLANGED = (0.8216, 1.0, (0.730, 0.372, 0.0231), (0.244, 0.723, -0.0198, 0.00366))


def silva_fit(ka, coefficients=SILVA_UNFLANGED):
    """|R| and l/a of the non-causal fit of Silva et al. 2009."""
    eta, beta, a, b = coefficients
    x = np.asarray(ka, float) ** 2
    modulus = (1 + a[0] * x) / (1 + (beta + a[0]) * x + a[1] * x**2 + a[2] * x**3)
    length = eta * (1 + b[0] * x) / (1 + b[1] * x + b[2] * x**2 + b[3] * x**3)
    return modulus, length
