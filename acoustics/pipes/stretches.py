"""What a drone is put together from: straight tubes, the tuning slide, bends, bridges, a chamber at the end."""

from __future__ import annotations

from dataclasses import dataclass
from math import radians

from ..errors import Refusal, number, set_checked, short
from .holes import LARGEST_MM
from .path import bridge_volume_length

MATERIALS = ("wood", "brass")
WIDTH_MM = (1.0, 60.0)


@dataclass(frozen=True)
class Straight:
    """A straight round stretch.

    Parameters
    ----------
    length_mm, diameter_mm : float
        Length, 0.5 to 3000, and inside diameter, 1 to 60 [mm].
    material : "wood" or "brass"
        For the workshop; the air does not ask.

    Raises
    ------
    Refusal
        A value outside these limits, or another material.
    """

    length_mm: float
    diameter_mm: float
    material: str = "wood"

    def __post_init__(self):
        set_checked(self, {"length_mm": (0.5, 3000.0), "diameter_mm": WIDTH_MM})
        if self.material not in MATERIALS:
            raise Refusal(f"{short(self.material)} is not known here", '"wood" or "brass" is allowed', "material")


@dataclass(frozen=True)
class Slide:
    """The gap that opens in the socket when the tuning slide is drawn.

    Parameters
    ----------
    gap_mm : float
        How far it is drawn, 0 to longest_mm [mm].
    diameter_mm : float
        Inside the socket, where the pin has left it, 1 to 60 [mm].
    longest_mm : float
        How far it may be drawn and still hold, 1 to 300 [mm].

    Raises
    ------
    Refusal
        A value outside these limits, not finite, or not a number.
    """

    gap_mm: float
    diameter_mm: float
    longest_mm: float

    def __post_init__(self):
        set_checked(self, {"diameter_mm": WIDTH_MM, "longest_mm": (1.0, 300.0)})
        set_checked(self, {"gap_mm": (0.0, self.longest_mm)})

    @property
    def length_mm(self) -> float:
        """Of air [mm]."""
        return self.gap_mm


@dataclass(frozen=True)
class Bend:
    """Tube bent to a circle.

    Parameters
    ----------
    radius_mm : float
        Of the centre line, 0.55 of the diameter to 500 [mm].
    diameter_mm : float
        Inside, 1 to 60 [mm].
    angle_deg : float
        5 to 360 [degrees]; 180 leads straight back.

    Raises
    ------
    Refusal
        A value outside these limits, not finite, or not a number.
    """

    radius_mm: float
    diameter_mm: float
    angle_deg: float = 180.0

    def __post_init__(self):
        set_checked(self, {"diameter_mm": WIDTH_MM})
        set_checked(self, {"radius_mm": (0.55 * self.diameter_mm, 500.0)})
        set_checked(self, {"angle_deg": (5.0, 360.0)}, "degrees")

    @property
    def length_mm(self) -> float:
        """Of the centre line [mm]; times the area it is the volume."""
        return self.radius_mm * radians(self.angle_deg)


@dataclass(frozen=True)
class Bridge:
    """A passage across from one bore to another beside it, both ended flush with its far side.

    The straight stretches before and after it count to where the passage begins, a radius before its
    axis.

    Parameters
    ----------
    spacing_mm : float
        Between the axes of the two bores, 1.01 of the diameter to 200 [mm].
    diameter_mm : float
        Inside, of passage and bores, 1 to 60 [mm].

    Raises
    ------
    Refusal
        A value outside these limits, not finite, or not a number.
    """

    spacing_mm: float
    diameter_mm: float

    def __post_init__(self):
        set_checked(self, {"diameter_mm": WIDTH_MM})
        set_checked(self, {"spacing_mm": (1.01 * self.diameter_mm, 200.0)})

    @property
    def length_mm(self) -> float:
        """Of straight bore that holds as much air [mm]."""
        return bridge_volume_length(self.diameter_mm / 2.0, self.spacing_mm)


@dataclass(frozen=True)
class Resonator:
    """A closed chamber at the end, with an outlet in its side.

    Parameters
    ----------
    length_mm, diameter_mm : float
        Inside, along the way of the sound, 5 to 300 and 3 to 100; of a flat chamber the diameter of a
        round one of the same volume and length [mm].
    outlet_mm : float
        Diameter of the outlet, 1 to that of the chamber, at most 40 [mm].
    outlet_at_mm : float
        From where the chamber begins to the middle of the outlet, all of which lies inside [mm].
    wall_mm : float
        At the outlet, 0.3 to 30 [mm].

    Raises
    ------
    Refusal
        A value outside these limits, not finite, or not a number.
    """

    length_mm: float
    diameter_mm: float
    outlet_mm: float
    outlet_at_mm: float
    wall_mm: float = 4.0

    def __post_init__(self):
        set_checked(self, {"length_mm": (5.0, 300.0), "diameter_mm": (3.0, 100.0), "wall_mm": (0.3, 30.0)})
        set_checked(self, {"outlet_mm": (1.0, min(self.diameter_mm, LARGEST_MM))})
        half = self.outlet_mm / 2.0
        number("length_mm", self.length_mm, 2.0 * half + 0.1, 300.0)
        set_checked(self, {"outlet_at_mm": (half, self.length_mm - half)})


Stretch = Straight | Slide | Bend | Bridge
