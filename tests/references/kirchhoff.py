"""Sound with wall losses in a straight circular pipe, and chains of such pipes.

Source: Zwikker & Kosten 1949, Sound Absorbing Materials (series impedance and shunt admittance per length, with
Bessel functions of complex argument); Stinson 1991, J. Acoust. Soc. Am. 89, 550, shows that this is Kirchhoff's
solution for wide pipes at audible frequencies. `exact_propagation` solves Kirchhoff's own equation (Ann. Phys. 134,
177, 1868): two thermo-acoustic potentials and one shear field, no slip and constant temperature at the wall.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import newton
from scipy.special import jve


@dataclass(frozen=True)
class Gas:
    """Density [kg/m3], sound speed [m/s], viscosity [Pa s], heat capacity ratio, Prandtl number."""

    rho: float
    c: float
    mu: float
    gamma: float
    prandtl: float


DRY_20C = Gas(1.20457518249, 343.343889687, 1.82056751785e-5, 1.40196789463, 0.707955978393)
"""Dry air at 20 C, 101325 Pa (CoolProp 8.0.0, equation of state for air): the gas of the tables of lossy pipes."""


def _bessel_ratio(z):
    """J1/J0 (scaled, so that a large imaginary part does not overflow)."""
    return jve(1, z) / jve(0, z)


def per_length(radius, frequency, gas: Gas):
    """Series impedance [Pa s/m4] and shunt admittance [m3/(s Pa m)] per length; arguments broadcast."""
    radius, omega = np.asarray(radius, float), 2 * np.pi * np.asarray(frequency, float)
    section = np.pi * radius**2
    shear = radius * np.sqrt(-1j * omega * gas.rho / gas.mu)
    heat = shear * np.sqrt(gas.prandtl)
    f_shear, f_heat = 2 * _bessel_ratio(shear) / shear, 2 * _bessel_ratio(heat) / heat
    z = 1j * omega * gas.rho / section / (1 - f_shear)
    y = 1j * omega * section / (gas.rho * gas.c**2) * (1 + (gas.gamma - 1) * f_heat)
    return z, y


def propagation(radius, frequency, gas: Gas):
    """Propagation constant alpha + j w/v [1/m] and characteristic impedance [Pa s/m3]."""
    z, y = per_length(radius, frequency, gas)
    gamma = np.sqrt(z * y)
    return gamma, z / gamma


def exact_propagation(radius: float, frequency: float, gas: Gas, bulk_over_shear: float = 0.0) -> complex:
    """Propagation constant of the plane mode from Kirchhoff's full equation (scalars)."""
    h = 2j * np.pi * frequency
    nu = gas.mu / gas.rho
    diffusion = gas.gamma * nu / gas.prandtl  # thermal conductivity over rho cv
    longitudinal = (4 / 3 + bulk_over_shear) * nu
    isothermal = gas.c**2 / gas.gamma
    # h = lambda [b^2/h + b^2 (gamma-1)/(h - chi lambda) + V], lambda the eigenvalue of the Laplacian
    stiff = isothermal / h + longitudinal
    roots = np.roots([diffusion * stiff, -(h * stiff + isothermal * (gas.gamma - 1) + diffusion * h), h * h])
    warmth = -(gas.gamma - 1) * roots / (h - diffusion * roots)  # temperature per potential

    def mismatch(g):
        beta = np.sqrt(g * g - roots + 0j)
        shear = np.sqrt(g * g - h / nu + 0j)
        first, second = warmth[1], -warmth[0]  # no temperature at the wall
        outward = -(
            first * beta[0] * _bessel_ratio(beta[0] * radius) + second * beta[1] * _bessel_ratio(beta[1] * radius)
        )
        return (outward + g * g * (first + second) / shear * _bessel_ratio(shear * radius)) / np.max(abs(warmth))

    start = complex(propagation(radius, frequency, gas)[0])
    return complex(newton(mismatch, start, x1=start * (1 + 1e-4), tol=1e-13 * abs(start), maxiter=100))


def cylinder(radius, length, frequency, gas: Gas):
    """Two-port (A, B, C, D) of a lossy cylinder: p1 = A p2 + B U2, U1 = C p2 + D U2."""
    gamma, zc = propagation(radius, frequency, gas)
    cosh, sinh = np.cosh(gamma * length), np.sinh(gamma * length)
    return cosh, zc * sinh, sinh / zc, cosh


def chain(first, *others):
    """Two-port of several two-ports one after the other, the first nearest the source."""
    a, b, c, d = first
    for e, f, g, h in others:
        a, b, c, d = a * e + b * g, a * f + b * h, c * e + d * g, c * f + d * h
    return a, b, c, d


def seen_through(two_port, load):
    """Input impedance of a two-port that ends in a load impedance; np.inf is a rigid stop."""
    a, b, c, d = two_port
    load = np.asarray(load, complex)
    stopped = np.isinf(load)
    finite = np.where(stopped, 0, load)
    return np.where(stopped, a, a * finite + b) / np.where(stopped, c, c * finite + d)


def slice_radii(r1: float, r2: float, n: int):
    """Midpoint radii of n equal slices of a cone."""
    return r1 + (r2 - r1) * (np.arange(n) + 0.5) / n


def staircase_cone(r1: float, r2: float, length: float, n: int, frequency, gas: Gas, load):
    """Input impedance at the end r1 of a lossy cone, cut into n cylinders of midpoint radius; load at the end r2.

    Converges like 1/n^2. `frequency` and `load` are arrays of equal shape (or scalars).
    """
    z = np.asarray(load, complex)
    for radius in slice_radii(r1, r2, n)[::-1]:
        z = seen_through(cylinder(radius, length / n, frequency, gas), z)
    return z
