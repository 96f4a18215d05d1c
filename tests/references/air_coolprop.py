"""Humid air from CoolProp's equation of state and transport correlations.

Source: CoolProp (Bell, Wronski, Quoilin & Lemort 2014, Ind. Eng. Chem. Res. 53, 2498), `HAPropsSI`. Heat capacities
there are per kilogram of dry air, so only their ratio may be compared with values per kilogram of humid air; the
Prandtl number is formed with the heat capacity per kilogram of humid air.
"""

from __future__ import annotations

from dataclasses import dataclass

from CoolProp.CoolProp import PropsSI
from CoolProp.HumidAirProp import HAPropsSI

from .kirchhoff import Gas


@dataclass(frozen=True)
class HumidAir:
    """Sound speed, density, viscosity, conductivity, heat capacity (per kg of humid air), ratio, Prandtl, vapour."""

    c: float
    rho: float
    mu: float
    k: float
    cp: float
    cp_dry_basis: float
    gamma: float
    prandtl: float
    vapour_fraction: float

    @property
    def gas(self) -> Gas:
        """The five numbers that wall losses need."""
        return Gas(self.rho, self.c, self.mu, self.gamma, self.prandtl)


def humid_air(temperature_c: float, relative_humidity: float, pressure: float = 101325.0) -> HumidAir:
    """Humid air at that temperature [C], relative humidity [0..1] and pressure [Pa]."""

    def get(name: str) -> float:
        return HAPropsSI(name, "T", temperature_c + 273.15, "P", pressure, "R", relative_humidity)

    cp, mu, k = get("cp_ha"), get("mu"), get("k")
    return HumidAir(
        c=get("speed_of_sound"),
        rho=1 / get("Vha"),
        mu=mu,
        k=k,
        cp=cp,
        cp_dry_basis=get("cp"),
        gamma=cp / get("cv_ha"),
        prandtl=mu * cp / k,
        vapour_fraction=get("psi_w"),
    )


def dry_air(temperature_c: float, pressure: float = 101325.0) -> Gas:
    """Dry air from CoolProp's own equation of state for air (at 20 C its sound is 0.004 m/s faster than above)."""

    def get(name: str) -> float:
        return PropsSI(name, "T", temperature_c + 273.15, "P", pressure, "Air")

    return Gas(get("D"), get("A"), get("V"), get("C") / get("CVMASS"), get("Prandtl"))
