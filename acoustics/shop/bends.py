"""Tube bent to a circle: how much of it the bend uses, and what is left of the outer wall."""

from __future__ import annotations

import math

from ..errors import number


def bend_length_mm(radius_mm: float, angle_deg: float) -> float:
    """Length of the centre line in a bend, R times the angle in radians [mm]."""
    number("bend angle", angle_deg, 0.0, 360.0, "degrees")
    return number("bend radius", radius_mm, 0.1, 5000.0) * math.radians(angle_deg)


def outer_strain(tube_mm: float, radius_mm: float) -> float:
    """Stretch of the outermost fibre, D/(2R) for tube of outside diameter D on a centre line of radius R [1]."""
    half = number("tube outside", tube_mm, 0.1, 500.0) / 2.0
    return half / number("bend radius", radius_mm, half, 5000.0)


def outer_wall_mm(tube_mm: float, wall_mm: float, radius_mm: float) -> float:
    """Wall left on the outside of a bend, t/(1 + D/(2R)): the metal keeps its volume [mm].

    A rule of thumb of tube benders (common practice, no source); it leaves out how the section flattens.
    """
    return number("tube wall", wall_mm, 0.05, tube_mm / 2.0) / (1.0 + outer_strain(tube_mm, radius_mm))
