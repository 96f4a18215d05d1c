"""The workshop: its drills, its sheet metal, what it leaves for the file and what it can hold."""

from __future__ import annotations

from dataclasses import dataclass

from ..errors import set_checked
from ..tuning.held import BORE_PLUS_MINUS_MM, PLUS_MINUS
from .drills import METRIC, Drill, own_drills


@dataclass(frozen=True)
class Workshop:
    """What the sheets need to know of the shop; the values are common practice, no source.

    Parameters
    ----------
    drills : sequence
        As for `own_drills`; kept as a tuple of Drill.
    sheet_mm : float
        Thickness of the staple's copper sheet [mm].
    seam_mm : float
        Lap of the seam, added to one edge of the pattern; 0 for edges that butt [mm].
    filing_mm : float
        Left on every edge of the pattern for the file [mm].
    allowance_mm : float
        Left on the *diameter* everywhere between drilled steps and the finished bore [mm].
    least_step_mm : float
        Least difference of diameter between two steps [mm].
    bore_tolerance_mm, hole_tolerance_mm, position_tolerance_mm : float
        Plus or minus: bore diameter, hole diameter, hole position [mm].
    staple_tolerance_mm, turning_tolerance_mm : float
        Plus or minus: the staple's inside diameters, the outside of the wood [mm].
    blade_lips_mm : float
        Width of the blades at the lips, for the picture on the reed sheet only [mm].
    """

    drills: tuple[Drill, ...] = METRIC
    sheet_mm: float = 0.5
    seam_mm: float = 0.0
    filing_mm: float = 0.2
    allowance_mm: float = 0.3
    least_step_mm: float = 0.5
    bore_tolerance_mm: float = BORE_PLUS_MINUS_MM
    hole_tolerance_mm: float = PLUS_MINUS["diameter_mm"]
    position_tolerance_mm: float = PLUS_MINUS["position_mm"]
    staple_tolerance_mm: float = PLUS_MINUS["tip_mm"]
    turning_tolerance_mm: float = 0.1
    blade_lips_mm: float = 13.0

    def __post_init__(self):
        object.__setattr__(self, "drills", own_drills(self.drills))
        limits = {"sheet_mm": (0.05, 3.0), "seam_mm": (0.0, 5.0), "filing_mm": (0.0, 2.0)}
        limits |= {"allowance_mm": (0.0, 5.0), "least_step_mm": (0.01, 10.0), "blade_lips_mm": (3.0, 60.0)}
        limits |= {f"{what}_tolerance_mm": (0.001, 2.0) for what in ("bore", "hole", "position", "staple", "turning")}
        set_checked(self, limits)
