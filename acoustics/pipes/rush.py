"""The rush: a wire or reed lying in the bore, pushed up from the foot."""

from __future__ import annotations

from dataclasses import dataclass

from ..errors import Refusal, set_checked


@dataclass(frozen=True)
class Rush:
    """A round wire in the bore.  It takes area away and adds wetted perimeter.

    Parameters
    ----------
    diameter_mm : float
        Thickness of the wire [mm], 0.1 to 20.
    top_mm, foot_mm : float
        Where its upper and lower end lie, from the top of the body, 0 to 2000 [mm].

    Raises
    ------
    Refusal
        A value outside these limits, or an upper end that is not above the lower one.
    """

    diameter_mm: float
    top_mm: float
    foot_mm: float

    def __post_init__(self):
        set_checked(self, {"diameter_mm": (0.1, 20.0), "top_mm": (0.0, 2000.0), "foot_mm": (0.0, 2000.0)})
        if self.top_mm >= self.foot_mm:
            raise Refusal(
                f"the upper end ({self.top_mm:g}) is not above the lower end ({self.foot_mm:g})",
                "top_mm must be less than foot_mm",
                "rush",
            )
