"""The lips of the reed as a valve: how much air they let through at which pressure."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from ..errors import set_checked
from ..units import MM
from .air import Gas

_GRID = np.linspace(0.05, 1.2, 1151)


@dataclass(frozen=True)
class Valve:
    """A slit that shuts as the pressure across it rises, without memory.

    With x the pressure difference from bag to slit over the closing pressure pM and S0 the slit's area
    at rest, the flow into the pipe is

        U = S0 sqrt(2 pM / rho) h(x) v(x),   h = 1 - x for x < 1, else 0,   v = sign(x) sqrt(|x|).

    Negative differences open the slit further and blow air back by the same law.

    Parameters
    ----------
    opening_mm2 : float
        Area of the slit at rest, S0 [mm2].
    closing_pressure : float
        Difference that just shuts it, pM [Pa].
    rounding : float
        Width r of the two corners, as a share of pM, 1e-6 to 0.1.  Where the slit shuts,
        h = (1 - x + sqrt((1 - x)^2 + r^2)) / 2, so that a slit shut at twice pM still passes about
        r^2/4 of its area; where the difference changes its sign, v = x / (x^2 + r^2)^(1/4), a slit in
        which very slow air flows in proportion to the pressure.  Elsewhere both differ from the sharp
        law by the order of r^2.

    Notes
    -----
    Quasi-static: no inertia of blades and of the jet.  The blades' resonance and the air that their
    walls displace belong to the reed's head (`reeds.head`) and are counted there, once.  The whole
    head of the jet is lost: no pressure is regained in the staple.

    References
    ----------
    T. A. Wilson and G. S. Beavers, J. Acoust. Soc. Am. 56, 653 (1974); A. Chaigne and J. Kergomard,
    *Acoustics of Musical Instruments*, Springer 2016, chapter 9; N. H. Fletcher and T. D. Rossing, *The
    Physics of Musical Instruments*, Springer 1998, chapter 13.  All three from memory.  The rounding is
    of our own making.
    """

    opening_mm2: float
    closing_pressure: float
    rounding: float = 0.02

    def __post_init__(self):
        set_checked(self, {"opening_mm2": (0.01, 50.0)}, "mm2")
        set_checked(self, {"closing_pressure": (100.0, 1e5)}, "Pa")
        set_checked(self, {"rounding": (1e-6, 0.1)}, "")

    def unit(self, gas: Gas) -> float:
        """Flow through the slit at rest at the closing pressure, S0 sqrt(2 pM / rho) [m3/s]."""
        return self.opening_mm2 * MM**2 * float(np.sqrt(2.0 * self.closing_pressure / gas.density))

    def law(self, x):
        """Flow in `unit` and its slope, for pressure differences in pM, arrays of the shape of `x`."""
        x = np.asarray(x, float)
        r2 = self.rounding**2
        root = np.sqrt((1.0 - x) ** 2 + r2)
        lift = np.where(x < 1.0, 0.5 * (1.0 - x + root), 0.5 * r2 / (np.abs(x - 1.0) + root))
        lift_slope = -lift / root
        square = x**2 + r2
        speed = x * square**-0.25
        speed_slope = (0.5 * x**2 + r2) * square**-1.25
        return lift * speed, lift_slope * speed + lift * speed_slope

    def flow(self, difference, gas: Gas):
        """Flow into the pipe [m3/s] at a pressure in the bag above that behind the slit [Pa], array."""
        return self.unit(gas) * self.law(np.asarray(difference, float) / self.closing_pressure)[0]

    def conductance(self, difference, gas: Gas):
        """Slope of the flow over the pressure difference [m3 Pa-1 s-1], array.

        Negative above about a third of pM: there the valve gives power to the sound.
        """
        slope = self.law(np.asarray(difference, float) / self.closing_pressure)[1]
        return self.unit(gas) / self.closing_pressure * slope

    def threshold(self, admittance: float, gas: Gas) -> float | None:
        """Lowest pressure in the bag at which the valve makes good a loss [Pa].

        Parameters
        ----------
        admittance : float
            Real part of the admittance that the lips see at a resonance, 0 or more [m3 Pa-1 s-1].

        Returns
        -------
        float or None
            None where the slit shuts before it gives enough.

        Notes
        -----
        With sharp corners and zeta = Zc S0 sqrt(2 / (rho pM)), gamma = p/pM this is
        zeta (3 gamma - 1) / (2 sqrt(gamma)) = Zc / Z1 (Chaigne and Kergomard, from memory); a third of
        pM without loss.
        """
        asked = float(admittance) * self.closing_pressure / self.unit(gas)
        enough = np.flatnonzero(self.law(_GRID)[1] + asked <= 0.0)
        if not len(enough) or enough[0] == 0:
            return None
        ends = _GRID[enough[0] - 1], _GRID[enough[0]]
        root = brentq(lambda x: float(self.law(x)[1]) + asked, *ends, xtol=1e-14)
        return self.closing_pressure * root
