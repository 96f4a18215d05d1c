"""What brass tube stands when it is bent: the stretch its temper allows, the least radius, the maker's own values."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

from ..errors import Refusal, set_checked, short
from .bends import outer_strain, outer_wall_mm

TEMPERS = {"annealed": 0.45, "half-hard": 0.20, "hard": 0.10}
"""Least elongation at break of brass tube CuZn37 [1]: EN 12449, conditions R300, R370 and R440 (from memory).

Ask for the certificate of your own tube; ASTM B135 gives other tempers for North American tube.
"""
TIGHTEST, USUAL, EASY = 1.3, 2.0, 3.0
"""Radius of the centre line over the outside diameter of filled thin tube: common practice, no source."""


@dataclass(frozen=True)
class Tube:
    """Brass tube on the rack.

    Parameters
    ----------
    outside_mm, inside_mm : float
        Diameters [mm].
    length_mm : float
        Of the longest piece at hand [mm].
    temper : "annealed", "half-hard" or "hard"
        As it will be when it is bent: hard tube that is annealed where it bends counts as annealed.
    """

    outside_mm: float
    inside_mm: float
    length_mm: float = 1000.0
    temper: str = "annealed"

    def __post_init__(self):
        set_checked(self, {"outside_mm": (2.0, 60.0), "length_mm": (10.0, 10000.0)})
        set_checked(self, {"inside_mm": (1.0, self.outside_mm - 0.2)})
        if self.temper not in TEMPERS:
            raise Refusal(f"{short(self.temper)} is not a temper", f"one of {', '.join(TEMPERS)} is allowed", "temper")

    @property
    def wall_mm(self) -> float:
        """[mm]"""
        return (self.outside_mm - self.inside_mm) / 2.0

    def __str__(self) -> str:
        return f"{self.outside_mm:g} x {self.inside_mm:g} mm"


@dataclass(frozen=True)
class Bending:
    """How the workshop bends; common practice, no source: put in your own.

    Parameters
    ----------
    trim_mm : float
        Left on each end of a piece of tube, to be cut off square afterwards [mm].
    grip_mm : float
        Least straight tube beside a bend, for former and clamp [mm].
    hold_mm : float
        Of the slide's pin that must stay in its socket when it is drawn out [mm].
    clear_mm : float
        Least air between parts that lie side by side [mm].
    springback_deg : float
        How far a bend of 180 degrees opens when it is let go; found on a scrap of the same tube [degrees].
    """

    trim_mm: float = 5.0
    grip_mm: float = 15.0
    hold_mm: float = 20.0
    clear_mm: float = 2.0
    springback_deg: float = 4.0

    def __post_init__(self):
        set_checked(self, {"trim_mm": (0.0, 50.0), "grip_mm": (1.0, 100.0), "hold_mm": (1.0, 100.0)})
        set_checked(self, {"clear_mm": (0.0, 50.0)})
        set_checked(self, {"springback_deg": (0.0, 45.0)}, "degrees")


def least_radius_mm(tube: Tube) -> float:
    """Tightest centre line [mm]: strain D/(2R) within the temper's elongation, and R at least 1.3 D.

    Half-hard and hard tube is bound by the strain: there its outside stretches by all that the standard promises
    before it breaks, with no reserve.
    """
    return tube.outside_mm * max(TIGHTEST, 0.5 / TEMPERS[tube.temper])


def check_radius(tube: Tube, radius_mm: float) -> None:
    """A `Refusal` when the tube does not stand a bend of that radius [mm]."""
    least = least_radius_mm(tube)
    if radius_mm >= least:
        return
    strain, allowed = tube.outside_mm / (2.0 * radius_mm), TEMPERS[tube.temper]
    why = (
        f"its outside would stretch by {100 * strain:.0f} %, {100 * (strain - allowed):.0f} % more than {tube.temper} "
        f"brass allows"
        if strain > allowed
        else f"filled thin tube is bent no tighter than {TIGHTEST:g} diameters"
    )
    raise Refusal(
        f"{radius_mm:g} mm is too tight by {least - radius_mm:.1f} mm for {tube.temper} tube of {tube}, as {why}",
        f"at least {ceil(10.0 * least - 1e-6) / 10.0:.1f} mm is needed",
        "radius_mm",
    )


def bending_advice(tube: Tube, radius_mm: float) -> str:
    """How hard the bend is, in one sentence, with stretch and wall left."""
    ratio, allowed = radius_mm / tube.outside_mm, TEMPERS[tube.temper]
    how = (
        "an easy bend"
        if ratio >= EASY
        else "usual with a filler"
        if ratio >= USUAL
        else "tight (a filler, a close former, annealed again halfway)"
    )
    left = outer_wall_mm(tube.outside_mm, tube.wall_mm, radius_mm)
    least = least_radius_mm(tube)
    bare = " (all that it allows, no reserve)" if outer_strain(tube.outside_mm, least) > 0.999 * allowed else ""
    easier = f", {EASY:g} diameters ({EASY * tube.outside_mm:.0f} mm) are easier" if ratio < EASY else ""
    return (
        f"Radius {radius_mm:g} mm is {ratio:.1f} outside diameters, {how}: the outside stretches by "
        f"{100 * outer_strain(tube.outside_mm, radius_mm):.0f} % of the {100 * allowed:.0f} % that "
        f"{tube.temper} tube allows, its wall thins from {tube.wall_mm:.2f} to about {left:.2f} mm; "
        f"the least radius for this tube is {least:.1f} mm{bare}{easier}."
    )
