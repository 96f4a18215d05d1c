"""The staple: a copper cone, rolled, soldered and pressed flat at the eye."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ellipe, ellipk

from ..errors import Refusal, set_checked


def ellipse_long_axis(perimeter, short_axis):
    """Long axis of the ellipse with a given perimeter and short axis (full axes).

    Parameters
    ----------
    perimeter, short_axis : array
        Same unit, broadcast; the short axis is at most perimeter/pi (a circle).

    Returns
    -------
    array, same unit

    Notes
    -----
    The perimeter of an ellipse with axes A > B is 2 A E(m), m = 1 - (B/A)^2, with E the complete
    elliptic integral of the second kind (Abramowitz and Stegun 1964, section 17.3).  Newton's
    method on B/A, from the root-mean-square estimate of the perimeter.
    """
    perimeter, short_axis = np.broadcast_arrays(np.asarray(perimeter, float), np.asarray(short_axis, float))
    ratio = short_axis / np.sqrt(np.maximum(2.0 * (perimeter / np.pi) ** 2 - short_axis**2, short_axis**2))
    target = perimeter / short_axis
    for _ in range(6):
        m = np.maximum(1.0 - ratio**2, 1e-12)
        slope = -2.0 * ratio * (ellipe(m) - ellipk(m)) / m
        ratio = np.minimum(ratio - (2.0 * ellipe(m) - target * ratio) / (slope - target), 1.0)
    return short_axis / ratio


@dataclass(frozen=True)
class Staple:
    """A rolled cone, flattened to an eye at constant perimeter (sheet does not stretch).

    Parameters
    ----------
    length_mm : float
        From eye to foot, 2 to 200 [mm].
    foot_mm, tip_mm : float
        Inside diameters of the rolled cone before flattening, at foot, 1 to 30, and eye end, 0.5 to 30 [mm].
    insertion_mm : float
        How far the foot sits below the top of the chanter's body, 0 to 100 [mm].
    eye_opening_mm : float, optional
        The short axis of the pressed eye, 0.2 to that of the tip [mm].
    flattened_mm : float, optional
        Length over which the pressing fades to round, from 0.5 [mm].  None for both: a plain round staple.

    Raises
    ------
    Refusal
        A value outside these limits; one of eye_opening_mm and flattened_mm without the other; an eye wider than
        the tip; a flattened part longer than the staple; a staple that sits deeper than it is long.
    """

    length_mm: float
    foot_mm: float
    tip_mm: float
    insertion_mm: float
    eye_opening_mm: float | None = None
    flattened_mm: float | None = None

    def __post_init__(self):
        set_checked(
            self,
            {
                "length_mm": (2.0, 200.0),
                "foot_mm": (1.0, 30.0),
                "tip_mm": (0.5, 30.0),
                "insertion_mm": (0.0, 100.0),
                "eye_opening_mm": (0.2, 30.0),
                "flattened_mm": (0.5, 200.0),
            },
        )
        if self.insertion_mm > self.length_mm:
            raise Refusal(
                f"a staple of {self.length_mm:g} mm cannot sit {self.insertion_mm:g} mm deep",
                "insertion_mm must be at most length_mm",
                "staple",
            )
        if (self.eye_opening_mm is None) != (self.flattened_mm is None):
            raise Refusal(
                "eye_opening_mm and flattened_mm are not given together",
                "give both for a pressed eye, neither for a round staple",
                "staple",
            )
        if self.eye_opening_mm is None:
            return
        if self.eye_opening_mm > self.tip_mm:
            raise Refusal(
                f"the eye is pressed to {self.eye_opening_mm:g} mm, more than the round tip of {self.tip_mm:g} mm",
                "eye_opening_mm must be at most tip_mm",
                "staple",
            )
        if self.flattened_mm > self.length_mm:
            raise Refusal(
                f"the flattened part of {self.flattened_mm:g} mm is longer than the staple of {self.length_mm:g} mm",
                "flattened_mm must be at most length_mm",
                "staple",
            )

    def rolled_diameter_mm(self, x_mm):
        """Inside diameter of the rolled cone before flattening, x from the eye [mm]."""
        return self.tip_mm + (self.foot_mm - self.tip_mm) * np.asarray(x_mm, float) / self.length_mm

    def axes_mm(self, x_mm):
        """(short, long) inside axes at x from the eye, arrays [mm]: what calipers find."""
        x_mm = np.asarray(x_mm, float)
        round_mm = self.rolled_diameter_mm(x_mm)
        if self.eye_opening_mm is None:
            return round_mm, round_mm
        fade = np.minimum(x_mm / self.flattened_mm, 1.0)
        end_mm = self.rolled_diameter_mm(self.flattened_mm)
        short = np.where(fade < 1.0, self.eye_opening_mm + (end_mm - self.eye_opening_mm) * fade, round_mm)
        short = np.minimum(short, round_mm)
        return short, np.where(short < round_mm, ellipse_long_axis(np.pi * round_mm, short), round_mm)

    def cross_section(self, x_mm):
        """(area [mm2], wetted perimeter [mm]) at x from the eye, arrays."""
        short, long = self.axes_mm(x_mm)
        return np.pi / 4.0 * short * long, np.pi * self.rolled_diameter_mm(x_mm)
