"""Humid air: what the sound meets, from what a thermometer and a hygrometer read."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.polynomial.polynomial import polyval

from ..errors import check_kind, set_checked
from ..units import ZERO_CELSIUS
from ..validity import Range

AIR_TEMPERATURE = Range(
    "the sound speed of humid air", "the air temperature (degrees C)", 0.0, 30.0, "Cramer 1993, stated range"
)
AIR_PRESSURE = Range("the sound speed of humid air", "the pressure (Pa)", 75e3, 102e3, "Cramer 1993, stated range")

AIR_CO2 = Range("the sound speed of humid air", "the share of CO2", 0.0, 0.01, "Cramer 1993, from memory")

_CRAMER_SPEED = (331.5024, 0.603055, -5.28e-4, 51.471935, 0.1495874, -7.82e-4, -1.82e-7, 3.73e-8)
_CRAMER_SPEED += (-2.93e-10, -85.20931, -0.228525, 5.91e-5, -2.835149, -2.15e-13, 29.179762, 4.86e-4)
_CRAMER_GAMMA = (1.400822, -1.75e-5, -1.73e-7, -0.0873629, -1.665e-4, -3.26e-6, 2.047e-8, -1.26e-10)
_CRAMER_GAMMA += (5.939e-14, -0.1199717, -8.693e-4, 1.979e-6, -0.01104, -3.478e-16, 0.0450616, 1.82e-6)

_GAS_CONSTANT = 8.314472
_MOLAR_WATER = 18.01528e-3
_WATER_HEAT_CAPACITY = 1880.0
_CRITICAL_WATER = 647.096
_VAPOUR_VISCOSITY = (1.67752, 2.20462, 0.6366564, -0.241605)
_VAPOUR_CONDUCTIVITY = (2.443221e-3, 1.323095e-2, 6.770357e-3, -3.454586e-3, 4.096266e-4)


def _cramer(a, t, p, xw, xc):
    """The polynomial of Cramer 1993 (same form for sound speed and heat capacity ratio)."""
    return (
        a[0] + a[1] * t + a[2] * t**2
        + (a[3] + a[4] * t + a[5] * t**2) * xw
        + (a[6] + a[7] * t + a[8] * t**2) * p
        + (a[9] + a[10] * t + a[11] * t**2) * xc
        + a[12] * xw**2 + a[13] * p**2 + a[14] * xc**2 + a[15] * xw * p * xc
    )  # fmt: skip


@dataclass(frozen=True)
class Gas:
    """The five numbers of a gas that the duct formulas use [SI].

    A viscosity of 0 makes every duct lossless.
    """

    sound_speed: float
    density: float
    viscosity: float
    heat_capacity_ratio: float
    prandtl: float


@dataclass(frozen=True)
class Air:
    """Humid air.

    Parameters
    ----------
    temperature_c : float
        [°C], -20 to 60 accepted; 0 to 30 is the stated range of the sound speed.
    relative_humidity : float
        0 to 1.
    pressure : float
        [Pa], 50 to 120 kPa accepted; 75 to 102 kPa is the stated range of the sound speed.
    co2 : float
        Mole fraction of carbon dioxide, 0 to 0.1.  The sound speed was fitted up to about 0.01 (from
        memory); in breath, about 0.04, it lies 4 cents above that of an ideal mixture.

    Raises
    ------
    Refusal
        A value outside these limits, not finite, or not a number.

    Warns
    -----
    OutsideRange
        Accepted, but outside the stated range.

    Notes
    -----
    Sound speed and heat capacity ratio: Cramer 1993.  Density: CIPM-2007 (Picard et al. 2008; the
    compressibility constants from memory).  Viscosity and conductivity: dry air by the formulas of
    ISO 2533, vapour by the dilute-gas terms of IAPWS 2008 and 2011 (coefficients from memory, within
    1e-7 of CoolProp's vapour), mixed by the rule of Wilke 1950.  Heat capacity:
    mass-weighted, with the dry value and its slope from memory.  All are compared with CoolProp in
    the tests.

    References
    ----------
    O. Cramer, J. Acoust. Soc. Am. 93, 2510 (1993).
    A. Picard, R. S. Davis, M. Glaeser and K. Fujii, Metrologia 45, 149 (2008).
    ISO 2533:1975, Standard atmosphere.
    IAPWS R12-08 (2008), eq. 11, viscosity of water; IAPWS R15-11 (2011), eq. 16, its conductivity.
    C. R. Wilke, J. Chem. Phys. 18, 517 (1950), eqs. 13 and 14.
    """

    temperature_c: float = 20.0
    relative_humidity: float = 0.5
    pressure: float = 101325.0
    co2: float = 0.0004

    def __post_init__(self):
        set_checked(self, {"temperature_c": (-20.0, 60.0)}, "degrees C")
        set_checked(self, {"relative_humidity": (0.0, 1.0), "co2": (0.0, 0.1)}, "(a share, not per cent)")
        set_checked(self, {"pressure": (50e3, 120e3)}, "Pa")
        AIR_TEMPERATURE.check(self.temperature_c, "air")
        AIR_PRESSURE.check(self.pressure, "air")
        AIR_CO2.check(self.co2, "air")

    @property
    def kelvin(self) -> float:
        """Absolute temperature [K]."""
        return self.temperature_c + ZERO_CELSIUS

    @cached_property
    def vapour_fraction(self) -> float:
        """Mole fraction of water vapour (Picard et al. 2008, appendix A1)."""
        t, kelvin = self.temperature_c, self.kelvin
        saturation = np.exp(1.2378847e-5 * kelvin**2 - 1.9121316e-2 * kelvin + 33.93711047 - 6.3431645e3 / kelvin)
        enhancement = 1.00062 + 3.14e-8 * self.pressure + 5.6e-7 * t**2
        return float(self.relative_humidity * enhancement * saturation / self.pressure)

    @cached_property
    def sound_speed(self) -> float:
        """[m/s]."""
        return float(_cramer(_CRAMER_SPEED, self.temperature_c, self.pressure, self.vapour_fraction, self.co2))

    @cached_property
    def heat_capacity_ratio(self) -> float:
        """Ratio of the heat capacities at constant pressure and constant volume [1]."""
        return float(_cramer(_CRAMER_GAMMA, self.temperature_c, self.pressure, self.vapour_fraction, self.co2))

    @property
    def _dry_molar_mass(self) -> float:
        return 28.96546e-3 + 12.011e-3 * (self.co2 - 4e-4)

    @cached_property
    def density(self) -> float:
        """[kg/m3]."""
        t, kelvin, p, xv = self.temperature_c, self.kelvin, self.pressure, self.vapour_fraction
        first = 1.58123e-6 - 2.9331e-8 * t + 1.1043e-10 * t**2
        first += (5.707e-6 - 2.051e-8 * t) * xv + (1.9898e-4 - 2.376e-6 * t) * xv**2
        compressibility = 1.0 - p / kelvin * first + (p / kelvin) ** 2 * (1.83e-11 - 0.765e-8 * xv**2)
        dry = self._dry_molar_mass
        return p * dry / (compressibility * _GAS_CONSTANT * kelvin) * (1.0 - xv * (1.0 - _MOLAR_WATER / dry))

    @cached_property
    def _dry_and_vapour(self):
        """((viscosity, conductivity) of dry air, the same of water vapour)."""
        kelvin = self.kelvin
        dry = 1.458e-6 * kelvin**1.5 / (kelvin + 110.4)
        dry_conductivity = 2.648151e-3 * kelvin**1.5 / (kelvin + 245.4 * 10.0 ** (-12.0 / kelvin))
        reduced = kelvin / _CRITICAL_WATER
        vapour = 1e-4 * np.sqrt(reduced) / polyval(1.0 / reduced, _VAPOUR_VISCOSITY)
        return (dry, dry_conductivity), (vapour, 1e-3 * np.sqrt(reduced) / polyval(1.0 / reduced, _VAPOUR_CONDUCTIVITY))

    def _mixed(self, which: int) -> float:
        """Wilke's rule for viscosity (0) or conductivity (1), both with viscosity weights."""
        dry, vapour = self._dry_and_vapour
        x = np.array([1.0 - self.vapour_fraction, self.vapour_fraction])
        mass = np.array([self._dry_molar_mass, _MOLAR_WATER])
        mu = np.array([dry[0], vapour[0]])
        ratio = mass[:, None] / mass[None, :]
        weight = (1.0 + np.sqrt(mu[:, None] / mu[None, :]) * ratio**-0.25) ** 2 / np.sqrt(8.0 * (1.0 + ratio))
        return float(np.sum(x * np.array([dry[which], vapour[which]]) / (weight @ x)))

    @cached_property
    def viscosity(self) -> float:
        """Dynamic viscosity [Pa s]."""
        return self._mixed(0)

    @cached_property
    def thermal_conductivity(self) -> float:
        """[W/(m K)]."""
        return self._mixed(1)

    @cached_property
    def heat_capacity(self) -> float:
        """At constant pressure [J/(kg K)]."""
        xv = self.vapour_fraction
        share = xv * _MOLAR_WATER / (xv * _MOLAR_WATER + (1.0 - xv) * self._dry_molar_mass)
        return (1.0 - share) * (1005.7 + 0.025 * self.temperature_c) + share * _WATER_HEAT_CAPACITY

    @property
    def prandtl(self) -> float:
        """Prandtl number [1]."""
        return self.viscosity * self.heat_capacity / self.thermal_conductivity

    @cached_property
    def gas(self) -> Gas:
        """The five numbers that the duct formulas use."""
        return Gas(self.sound_speed, self.density, self.viscosity, self.heat_capacity_ratio, self.prandtl)

    @cached_property
    def lossless(self) -> Gas:
        """The same air without viscosity and heat conduction at walls."""
        return Gas(self.sound_speed, self.density, 0.0, self.heat_capacity_ratio, self.prandtl)


def as_air(air: Air | None) -> Air:
    """`air` itself; 20 degrees C and half humid when None; a `Refusal` of anything else."""
    if air is None:
        return Air()
    check_kind("air", air, Air, "an Air")
    return air


def as_gas(air: Air | Gas | None) -> Gas:
    """The gas of an air, as `as_air` takes it; a gas itself."""
    return air if isinstance(air, Gas) else as_air(air).gas
