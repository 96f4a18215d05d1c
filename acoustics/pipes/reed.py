"""The head of the reed beyond the staple's eye."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ..errors import Refusal, set_checked

HIGHEST_HZ = 20000.0  # resonance of the blades


@dataclass(frozen=True)
class Reed:
    """Head of a double reed: a short duct with yielding walls, its valve at the lips.

    Length and area can be measured; softness, resonance and quality are fitted to how a
    particular reed plays.  The wall yields by a compliance that adds to that of the air in
    the head: the factor is 1 + s(f), s(f) = softness / (1 - (f/fr)^2 + j f/(Q fr)).

    Parameters
    ----------
    length_mm : float
        From the eye of the staple to the lips, 1 to 200 [mm].
    area_mm2 : float
        Mean cross-section of the air inside the head, 0.5 to 300 [mm2].
    softness : float
        Compliance of the blades relative to that of the air between them, well below their
        resonance, 0 to 10 [1].  0 is a rigid head.
    resonance_hz : float
        Resonance of the blades [Hz].
    quality : float
        Q of that resonance, 1 to 1000 [1].
    perimeter_mm : float, optional
        Mean wetted perimeter, up to 200 [mm]; None takes the circle of the same area, which is the
        least possible and understates the loss at the walls.

    Raises
    ------
    Refusal
        A value outside these limits, or a perimeter that cannot go round the area.
    """

    length_mm: float
    area_mm2: float
    softness: float = 0.6
    resonance_hz: float = 1400.0
    quality: float = 20.0
    perimeter_mm: float | None = None

    def __post_init__(self):
        set_checked(self, {"length_mm": (1.0, 200.0), "perimeter_mm": (3.0, 200.0)})
        set_checked(self, {"area_mm2": (0.5, 300.0)}, "mm2")
        set_checked(self, {"softness": (0.0, 10.0), "quality": (1.0, 1000.0)}, "")
        set_checked(self, {"resonance_hz": (100.0, HIGHEST_HZ)}, "Hz")
        least = 2.0 * math.sqrt(math.pi * self.area_mm2)
        if self.perimeter_mm is not None and self.perimeter_mm < least * (1.0 - 1e-9):
            raise Refusal(
                f"{self.perimeter_mm:g} mm cannot go round {self.area_mm2:g} mm2",
                f"at least the {least:.2f} mm of a circle are needed",
                "perimeter_mm",
            )
