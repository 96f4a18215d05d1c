"""The chanter as a cone that lacks its tip, and what staple and reed put in the place of the tip."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import brentq

from ..errors import Refusal
from ..pipes.chanter import Chanter
from .setup import Setup

LEAST_TAPER = 1e-3


@dataclass(frozen=True)
class MissingTip:
    """Volumes around the tip of the cone [mm3], and two tapers.

    Parameters
    ----------
    tip_mm3 : float
        Of the cone's tip above the foot of the staple, had the bore gone on with its mean taper.
    staple_mm3, head_mm3 : float
        Of the air in the staple and between the blades.
    yielding_mm3 : float
        What the blades' softness adds, well below their resonance.
    bore_taper, staple_taper : float
        Diameter gained per length, bore (mean, below its throat) and staple (as rolled).
    """

    tip_mm3: float
    staple_mm3: float
    head_mm3: float
    yielding_mm3: float
    bore_taper: float
    staple_taper: float

    @property
    def filled(self) -> float:
        """Staple, head and yielding blades over the missing tip [1]."""
        return (self.staple_mm3 + self.head_mm3 + self.yielding_mm3) / self.tip_mm3


def missing_tip(pipe: Chanter) -> MissingTip:
    """The missing tip of a chanter's cone and what stands in its place.

    At low frequencies only volumes matter: a chanter plays its first octave as a whole cone would if
    reed and staple hold as much air, yielding walls counted in, as the tip would have held.

    References
    ----------
    A. H. Benade, *Fundamentals of Musical Acoustics*, 1976; C. J. Nederveen, *Acoustical Aspects of
    Woodwind Instruments*, 1969 (both from memory).
    """
    distance, diameter = pipe.bore.table_mm
    below = distance >= pipe.bore.throat_mm[0]
    if below.sum() < 2:
        raise Refusal("the bore is narrowest at its foot", "it must widen below its throat", "bore")
    grid = np.linspace(distance[below][0], distance[-1], 200)
    slope, at_top = np.polyfit(grid, np.interp(grid, distance, diameter), 1)
    if slope < LEAST_TAPER:
        raise Refusal("the bore hardly widens below its throat", "a cone of 1 in 1000 or more is needed", "bore")
    foot = at_top + slope * pipe.staple.insertion_mm
    x = np.linspace(0.0, pipe.staple.length_mm, 400)
    area, _ = pipe.staple.cross_section(x)
    staple = float(np.trapezoid(area, x))
    head = pipe.reed.area_mm2 * pipe.reed.length_mm
    tip = np.pi / 12.0 * foot**3 / slope
    taper = (pipe.staple.foot_mm - pipe.staple.tip_mm) / pipe.staple.length_mm
    return MissingTip(float(tip), staple, head, head * pipe.reed.softness, float(slope), taper)


def with_staple_tip(setup: Setup, tip_mm: float) -> Setup:
    """The setup with another inside diameter at the staple's eye end, before pressing [mm]."""
    staple = replace(setup.base.staple, tip_mm=tip_mm)
    return replace(setup, base=replace(setup.base, staple=staple))


def truest_tip(setup: Setup, narrow_mm: float = 2.6, wide_mm: float = 4.8) -> float:
    """Inside diameter at the staple's eye end for which the octaves are true on average [mm].

    Raises
    ------
    Refusal
        When no diameter between the two does it, or no note sounds in both octaves.
    """

    def mean_stretch(tip_mm):
        stretch = with_staple_tip(setup, tip_mm).chart.stretch
        if not stretch:
            raise Refusal("no note sounds in both octaves", "a chart with both octaves is needed", "staple")
        return float(np.mean(list(stretch.values())))

    if mean_stretch(narrow_mm) * mean_stretch(wide_mm) > 0.0:
        raise Refusal("no taper makes the octaves true on average", "another reed or bore is needed", "staple")
    return float(brentq(mean_stretch, narrow_mm, wide_mm, xtol=1e-3))
