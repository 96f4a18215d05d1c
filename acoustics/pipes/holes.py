"""Finger holes, and keys with the ducts under their pads."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from ..errors import Refusal, number, set_checked, short, text, within

FACES = ("front", "back", "side")
_AROUND = {"front": (0.0, 60.0), "back": (120.0, 180.0), "side": (30.0, 150.0)}
_USUAL = {"front": 0.0, "back": 180.0, "side": 90.0}
SMALLEST_MM, LARGEST_MM, FARTHEST_MM = 0.5, 40.0, 2000.0


def _check_common(hole: ToneHole | Key) -> None:
    text("name", hole.name, 40)
    with within(f'hole "{hole.name}"'):
        set_checked(hole, {"position_mm": (0.0, FARTHEST_MM), "depth_mm": (0.2, 100.0)})
        if hole.face not in FACES:
            raise Refusal(f"{short(hole.face)} is not a face", f"one of {', '.join(FACES)} is allowed", "face")
        set_checked(hole, {"around_deg": (-180.0, 180.0)}, "degrees")
        least, most = _AROUND[hole.face]
        if hole.around_deg is not None and not least <= abs(hole.around_deg) <= most:
            raise Refusal(
                f"{hole.around_deg:g} degrees are not the {hole.face}",
                f"{least:g} to {most:g} degrees are allowed there, minus on the left",
                "around_deg",
            )


@dataclass(frozen=True)
class ToneHole:
    """A hole closed by a finger.

    Parameters
    ----------
    name : str
        How fingerings call it; one line of at most 40 characters.
    position_mm : float
        From the top of the body to where the hole's axis meets the bore's axis, 0 to 2000 [mm].
    diameter_mm : float or (float, float)
        Drill size, or (across, along) of an oval hole, 0.5 to 40 [mm].
    depth_mm : float, optional
        Wall there, square to the bore even where the hole is tilted, 0.2 to 100 [mm]; None takes it from the
        body and the bore.
    undercut_diameter_mm, undercut_depth_mm : float, optional
        Diameter at the bore's wall, from the hole's own to 40, and depth (from the bore outward, square to it),
        0.1 to 100, of the cone that the undercutter leaves [mm].
    tilt_deg : float
        Lean of the hole's axis from square to the bore, outer end towards the foot positive, -45 to 45.
    face : str
        "front", "back" or "side".
    around_deg : float, optional
        Where round the bore it is drilled, seen from the front with the reed up: 0 is the front, 90 the
        right side, -90 the left, 180 the back; None takes the middle of its face (a side's is the right).

    Raises
    ------
    Refusal
        A value outside these limits, half an undercut, another face, or an angle that is not on the face.
    """

    name: str
    position_mm: float
    diameter_mm: float | tuple[float, float]
    depth_mm: float | None = None
    undercut_diameter_mm: float | None = None
    undercut_depth_mm: float | None = None
    tilt_deg: float = 0.0
    face: str = "front"
    around_deg: float | None = None

    def __post_init__(self):
        _check_common(self)
        with within(f'hole "{self.name}"'):
            self._check_shape()

    def _check_shape(self):
        size = self.diameter_mm
        if isinstance(size, (list, tuple)):
            if len(size) != 2:
                raise Refusal(f"{short(size)} is not a pair", "(across, along) in mm is allowed", "diameter_mm")
            size = tuple(number("diameter_mm", d, SMALLEST_MM, LARGEST_MM) for d in size)
        else:
            size = number("diameter_mm", size, SMALLEST_MM, LARGEST_MM)
        object.__setattr__(self, "diameter_mm", size)
        set_checked(self, {"undercut_diameter_mm": (SMALLEST_MM, LARGEST_MM), "undercut_depth_mm": (0.1, 100.0)})
        set_checked(self, {"tilt_deg": (-45.0, 45.0)}, "degrees")
        if (self.undercut_diameter_mm is None) != (self.undercut_depth_mm is None):
            raise Refusal(
                "undercut_diameter_mm and undercut_depth_mm are not given together",
                "give both, or neither",
                "undercut",
            )
        if self.undercut_diameter_mm is not None and self.undercut_diameter_mm < self.round_mm:
            raise Refusal(
                f"the undercut of {self.undercut_diameter_mm:g} mm is narrower than the hole of {self.round_mm:.3g} mm",
                "an undercut is wider than its hole",
                "undercut_diameter_mm",
            )

    @property
    def across_mm(self) -> float:
        """Size square to the bore [mm]."""
        return self.diameter_mm[0] if isinstance(self.diameter_mm, tuple) else self.diameter_mm

    @property
    def along_mm(self) -> float:
        """Size along the bore [mm]."""
        return self.diameter_mm[1] if isinstance(self.diameter_mm, tuple) else self.diameter_mm

    @property
    def round_mm(self) -> float:
        """Diameter of the round hole of the same area [mm]."""
        return float(np.sqrt(self.across_mm * self.along_mm))


@dataclass(frozen=True)
class Key:
    """A hole shut by a sprung pad, with a duct under the pad where it is drilled through a block.

    Parameters
    ----------
    name, position_mm, depth_mm, face, around_deg
        As for `ToneHole`.
    diameter_mm : float
        Drill size at the bore, 0.5 to 40 [mm].
    lift_mm : float
        Height of the open pad above its seat, 0.1 to 30 [mm].
    pad_diameter_mm : float
        Diameter of the pad, 1 to 60 [mm]; it must cover the outlet.
    duct : sequence of (length, diameter)
        Further stretches of the passage, from the wall outwards to the seat, 0.1 to 100 and 0.5 to 40 [mm].

    Raises
    ------
    Refusal
        As for `ToneHole`; a pad that does not cover its outlet.
    """

    name: str
    position_mm: float
    diameter_mm: float
    depth_mm: float | None = None
    lift_mm: float = 2.5
    pad_diameter_mm: float = 9.0
    duct: tuple[tuple[float, float], ...] = ()
    face: str = "side"
    around_deg: float | None = None
    tilt_deg: ClassVar[float] = 0.0
    undercut_diameter_mm: ClassVar[None] = None
    undercut_depth_mm: ClassVar[None] = None

    def __post_init__(self):
        _check_common(self)
        with within(f'hole "{self.name}"'):
            self._check_shape()

    def _check_shape(self):
        size = (SMALLEST_MM, LARGEST_MM)
        set_checked(self, {"diameter_mm": size, "lift_mm": (0.1, 30.0), "pad_diameter_mm": (1.0, 60.0)})
        allowed = "a list of (length, diameter) pairs in mm is allowed"
        if isinstance(self.duct, (str, bytes, dict)) or not hasattr(self.duct, "__iter__"):
            raise Refusal(f"{short(self.duct)} is not a list", allowed, "duct")
        stretches = []
        for i, stretch in enumerate(self.duct, 1):
            if isinstance(stretch, (str, bytes)) or not hasattr(stretch, "__len__") or len(stretch) != 2:
                raise Refusal(f"{short(stretch)} is not a pair", allowed, f"duct, stretch {i}")
            length = number(f"duct, stretch {i}, length", stretch[0], 0.1, 100.0)
            stretches.append((length, number(f"duct, stretch {i}, diameter", stretch[1], *size)))
        object.__setattr__(self, "duct", tuple(stretches))
        if self.pad_diameter_mm <= self.outlet_mm:
            raise Refusal(
                f"the pad of {self.pad_diameter_mm:g} mm does not cover the outlet of {self.outlet_mm:g} mm",
                "the pad must be wider than the outlet",
                "pad_diameter_mm",
            )

    @property
    def outlet_mm(self) -> float:
        """Diameter under the pad [mm]."""
        return self.duct[-1][1] if self.duct else self.diameter_mm

    @property
    def round_mm(self) -> float:
        """Diameter at the bore [mm]."""
        return self.diameter_mm

    across_mm = along_mm = round_mm


def lean(hole: ToneHole | Key) -> float:
    """How far towards the foot a hole's axis goes on its way outwards, over that way [1]."""
    return float(np.tan(np.radians(hole.tilt_deg)))


def bearing_deg(hole: ToneHole | Key) -> float:
    """Where round the bore a hole is drilled [degrees]: its own `around_deg`, or the middle of its face."""
    return _USUAL[hole.face] if hole.around_deg is None else hole.around_deg
