"""The staple laid flat: the developed cone, the trapezoid makers cut, and the two mandrels."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..errors import Refusal, number
from ..pipes.staple import Staple
from .workshop import Workshop

STEEPEST_DEG = 180.0


def frustum_volume_mm3(length_mm: float, first_mm: float, second_mm: float) -> float:
    """Volume of a cone between two diameters, pi L (D^2 + D d + d^2) / 12 [mm3]."""
    return math.pi * length_mm * (first_mm**2 + first_mm * second_mm + second_mm**2) / 12.0


@dataclass(frozen=True)
class Frustum:
    """A cone's side laid flat: part of a ring.

    Parameters
    ----------
    length_mm : float
        Along the axis [mm].
    small_mm, large_mm : float
        Diameters at the ends, of the surface that keeps its length: the middle of the wall [mm].

    Notes
    -----
    The rule of sheet-metal handbooks: slant s = sqrt(L^2 + (R - r)^2); the ring's radii are r s/(R - r)
    and R s/(R - r), its angle 360 (R - r)/s degrees.  With equal ends it is a rectangle: the radii are
    infinite and the angle is 0.
    """

    length_mm: float
    small_mm: float
    large_mm: float

    def __post_init__(self):
        number("length_mm", self.length_mm, 0.1, 2000.0)
        number("large_mm", self.large_mm, 0.1, 500.0)
        number("small_mm", self.small_mm, 0.1, self.large_mm)

    @property
    def slant_mm(self) -> float:
        """Along the sheet from end to end [mm]."""
        return math.hypot(self.length_mm, (self.large_mm - self.small_mm) / 2.0)

    @property
    def radii_mm(self) -> tuple[float, float]:
        """Inner and outer radius of the ring [mm]."""
        growth = self.large_mm - self.small_mm
        if growth <= 1e-9 * self.slant_mm:
            return math.inf, math.inf
        inner = self.small_mm * self.slant_mm / growth
        return inner, inner + self.slant_mm

    @property
    def angle_deg(self) -> float:
        """Opening of the ring's part [degrees]."""
        return 0.0 if math.isinf(self.radii_mm[0]) else 180.0 * (self.large_mm - self.small_mm) / self.slant_mm

    @property
    def arcs_mm(self) -> tuple[float, float]:
        """Length of the curved ends, small and large: pi times the diameter [mm]."""
        return math.pi * self.small_mm, math.pi * self.large_mm

    @property
    def chords_mm(self) -> tuple[float, float]:
        """Corner to corner, small and large end [mm]."""
        return tuple(
            arc if math.isinf(radius) else 2.0 * radius * math.sin(math.radians(self.angle_deg) / 2.0)
            for arc, radius in zip(self.arcs_mm, self.radii_mm, strict=True)
        )

    @property
    def bulge_mm(self) -> float:
        """How far the large end's arc stands out beyond its chord [mm]."""
        outer = self.radii_mm[1]
        return 0.0 if math.isinf(outer) else outer * (1.0 - math.cos(math.radians(self.angle_deg) / 2.0))


def sheet_width_mm(inside_mm: float, sheet_mm: float) -> float:
    """Width of sheet that rolls to an inside diameter: pi (inside + thickness) [mm].

    Makers' rule read the other way round: inside diameter = width / pi - thickness.
    """
    return math.pi * (inside_mm + sheet_mm)


@dataclass(frozen=True)
class Pattern:
    """What is cut from the sheet, all in mm.

    Parameters
    ----------
    frustum : Frustum
        At the middle of the wall.
    eye_width_mm, foot_width_mm : float
        Of the trapezoid at the two ends, finished.
    seam_mm, filing_mm : float
        Lap on one edge, and what is left for the file on every edge.
    eye_is_small : bool
        Whether the eye lies at the small end.
    """

    frustum: Frustum
    eye_width_mm: float
    foot_width_mm: float
    seam_mm: float
    filing_mm: float
    eye_is_small: bool

    def corners_deg(self, outer: bool) -> tuple[float, float]:
        """Angles of the two cut corners at an end, about the ring's centre [degrees].

        Edges are moved out, parallel, by the filing, one of them by the lap too.
        """
        radius, half = self.cut_radii_mm[outer], self.frustum.angle_deg / 2.0
        low, high = self.filing_mm, self.filing_mm + self.seam_mm
        return (
            -half - math.degrees(math.asin(low / radius)),
            half + math.degrees(math.asin(high / radius)),
        )

    @property
    def cut_radii_mm(self) -> tuple[float, float]:
        """Inner and outer radius of the cut ring, filing included [mm]."""
        inner, outer = self.frustum.radii_mm
        return inner - self.filing_mm, outer + self.filing_mm

    @property
    def blank_mm(self) -> tuple[float, float]:
        """Least rectangle (along, across) that holds the pattern with lap and filing [mm]."""
        if math.isinf(self.frustum.radii_mm[0]):
            margin = 2.0 * self.filing_mm
            return self.frustum.slant_mm + margin, self.frustum.arcs_mm[1] + margin + self.seam_mm
        inner, outer = self.cut_radii_mm
        ends = [(inner, self.corners_deg(False)), (outer, self.corners_deg(True))]
        corners = [(radius, math.radians(angle)) for radius, angles in ends for angle in angles]
        along = outer - min(radius * math.cos(angle) for radius, angle in corners)
        ys = [radius * math.sin(angle) for radius, angle in corners]
        return along, max(ys) - min(ys)


def staple_pattern(staple: Staple, shop: Workshop) -> Pattern:
    """The flat pattern of a staple, before the eye is pressed.

    Raises
    ------
    Refusal
        A cone so steep that its pattern opens wider than 180 degrees, or more filing and lap than
        the pattern has radius.
    """
    middle = [inside + shop.sheet_mm for inside in (staple.tip_mm, staple.foot_mm)]
    frustum = Frustum(staple.length_mm, min(middle), max(middle))
    if frustum.angle_deg > STEEPEST_DEG:
        what = f"its flat pattern would open {frustum.angle_deg:.0f} degrees"
        raise Refusal(what, f"at most {STEEPEST_DEG:g} degrees can be rolled from one piece", "staple")
    if frustum.radii_mm[0] <= 2.0 * (shop.filing_mm + shop.seam_mm):
        what = f"filing and lap of {shop.filing_mm + shop.seam_mm:g} mm on a pattern of {frustum.radii_mm[0]:.1f} mm"
        raise Refusal(what, "they must be less than half its inner radius", "staple")
    widths = [sheet_width_mm(inside, shop.sheet_mm) for inside in (staple.tip_mm, staple.foot_mm)]
    eye_is_small = staple.tip_mm <= staple.foot_mm
    return Pattern(frustum, *widths, shop.seam_mm, shop.filing_mm, eye_is_small)


def rolling_mandrel(staple: Staple, extra_mm: float = 15.0) -> tuple[tuple[float, float], ...]:
    """The round mandrel: (distance from the eye, diameter), past both ends by `extra_mm` on the same taper [mm].

    It stops short of the eye's side where the taper would bring it below 1 mm.
    """
    slope = (staple.foot_mm - staple.tip_mm) / staple.length_mm
    start, end = -extra_mm, staple.length_mm + extra_mm
    if slope > 0.0:
        start = max(start, min(0.0, (1.0 - staple.tip_mm) / slope))
    if slope < 0.0:
        end = min(end, max(staple.length_mm, (1.0 - staple.tip_mm) / slope))
    at = (start, 0.0, staple.length_mm, end)
    return tuple((x, staple.tip_mm + slope * x) for x in at)


def eye_mandrel(staple: Staple, count: int = 5) -> tuple[tuple[float, float, float], ...]:
    """The flat mandrel: (distance from the eye, short way, long way across) [mm]; empty for a round staple."""
    if staple.eye_opening_mm is None:
        return ()
    at = np.linspace(0.0, staple.flattened_mm, count)
    short, long = staple.axes_mm(at)
    return tuple((float(x), float(a), float(b)) for x, a, b in zip(at, short, long, strict=True))
