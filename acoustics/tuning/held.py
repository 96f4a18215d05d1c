"""How well a careful small workshop holds each dimension: common practice, no source, each in its dial's unit.

`SIGMA` is the standard deviation from one chanter to the next, `PLUS_MINUS` what stands on the sheets.  They were
chosen apart: a sigma is about as large as the plus or minus beside it, where a third would be usual, so that chanters
drawn with it are off by more than their sheets allow.
"""

from __future__ import annotations

from .dials import Dial

SIGMA = {"position_mm": 0.2, "diameter_mm": 0.05, "throat_wider_mm": 0.03, "foot_wider_mm": 0.05}
SIGMA |= {"tip_mm": 0.05, "foot_mm": 0.05, "eye_opening_mm": 0.05, "insertion_mm": 0.3}
SIGMA |= {"length_mm": 0.3, "softness": 0.03, "resonance_hz": 15.0, "temperature": 1.0}

# What the diagnosis takes instead: chosen apart and tried there; no source says which is right.
SIGMA_IN_DIAGNOSIS = SIGMA | {"tip_mm": 0.03, "foot_mm": 0.03, "eye_opening_mm": 0.03}

PLUS_MINUS = {"position_mm": 0.25, "diameter_mm": 0.05, "tip_mm": 0.05, "foot_mm": 0.05, "eye_opening_mm": 0.05}
PLUS_MINUS |= {"insertion_mm": 0.3, "length_mm": 0.3, "area_mm2": 0.2}
PLUS_MINUS |= {"softness": 0.03, "resonance_hz": 15.0, "temperature": 1.0}
BORE_PLUS_MINUS_MM, ELSE_PLUS_MINUS = 0.03, 0.1


def field(dial: Dial) -> str:
    """What a dial turns, as the tables call it: the field of the design, or the label of a dial that sets none."""
    return dial.where[1] if dial.where else dial.label


def plus_minus(dial: Dial) -> float:
    """How well a workshop holds what a dial turns, plus or minus, in the dial's unit."""
    return PLUS_MINUS.get(field(dial), BORE_PLUS_MINUS_MM if dial.group == "bore" else ELSE_PLUS_MINUS)
