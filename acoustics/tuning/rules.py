"""What a design must keep to beside its dials' limits: wood, fingers, one reamer."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from ..errors import Refusal, check_kind, number, set_checked, short
from ..pipes.spacing import wood_mm
from .setup import Setup

HANDS_MM = {"small": 94.0, "medium": 100.0, "large": 108.0}  # common practice, no source
_STRETCH, _THREE, _LOWER = 0.4, 0.8, 4
_HOLD, FIRM = 30.0, (1.0, 10.0)


@dataclass(frozen=True)
class Rules:
    """What a design must keep to, beside its dials' limits.

    Parameters
    ----------
    least_wood_mm : float
        Between any two holes, measured through the wood, on one face or round the bore (see `spacing.wood_mm`); 0 to
        50.
    reach_mm : float
        Most between the middles of two neighbouring finger holes on the front, 1 to 2000.
    hand : "small", "medium", "large" or float, optional
        The piper's hand: how far the four fingers of the lower hand reach from the first hole to the last
        [mm], or one of `HANDS_MM`.  The three of the upper hand reach 0.8 of it, two neighbours of a hand
        0.4 (common practice, no source).  None asks for nothing beside `reach_mm`.
    never_narrowing : bool
        Whether every station below the throat must be at least as wide as the one above.
    straightness : float
        Weight on changes of the bore's taper: cents for a change of 1 in 100.  0 leaves the bore free; to 1e6.

    Raises
    ------
    Refusal
        A hand that is neither named nor 60 to 160 mm, a number outside its limits or none.
    """

    least_wood_mm: float = 3.0
    reach_mm: float = 40.0
    hand: str | float | None = None
    never_narrowing: bool = True
    straightness: float = 0.0

    def __post_init__(self):
        set_checked(self, {"least_wood_mm": (0.0, 50.0), "reach_mm": (1.0, 2000.0)})
        set_checked(self, {"straightness": (0.0, 1e6)}, "cents")
        check_kind("never_narrowing", self.never_narrowing, bool, "True or False")
        if isinstance(self.hand, str) and self.hand not in HANDS_MM:
            allowed = f"one of {', '.join(HANDS_MM)} or a span in mm is allowed"
            raise Refusal(f"{short(self.hand)} is not a hand", allowed, "hand")
        if self.hand is not None and not isinstance(self.hand, str):
            number("hand", self.hand, 60.0, 160.0)

    @property
    def span_mm(self) -> float:
        """What the lower hand spans [mm]; inf where no hand is given."""
        return np.inf if self.hand is None else float(HANDS_MM.get(self.hand, self.hand))

    @property
    def stretch_mm(self) -> float:
        """What two neighbouring fingers of a hand span [mm]; inf where no hand is given."""
        return _STRETCH * self.span_mm

    def misses(self, setup: Setup, moving: Collection[str] | None = None) -> np.ndarray:
        """How far each rule is broken, in cents of penalty, 0 where it is kept.

        Of two holes that are both not among the names `moving` no wood is asked: the pattern has it so.
        """
        names, wood = [hole.name for hole in setup.base.holes], wood_mm(setup.base)
        stays = np.array([moving is not None and name not in moving for name in names], bool)
        wood = np.where(stays[:, None] & stays, np.inf, wood)
        out = [self.least_wood_mm - wood[np.triu_indices(len(wood), 1)], self._out_of_reach(setup)]
        if self.never_narrowing:
            out.append(-100.0 * self._taper(setup)[0])
        return _HOLD * np.maximum(0.0, np.concatenate(out))

    def _out_of_reach(self, setup: Setup) -> np.ndarray:
        """By how much fingers must reach too far: neighbours, those of one hand, each hand as a whole [mm]."""
        front = np.array([hole.position_mm for hole in setup.base.holes if hole.face == "front"])
        hands = [(front[-_LOWER:], self.span_mm), (front[:-_LOWER], _THREE * self.span_mm)]
        over = [np.diff(front) - self.reach_mm]
        over += [np.diff(fingers) - self.stretch_mm for fingers, _ in hands]
        return np.concatenate([*over, [np.ptp(fingers) - span for fingers, span in hands if len(fingers)]])

    def bends(self, setup: Setup) -> np.ndarray:
        """Changes of the bore's taper, weighted, in cents; nothing when the bore is free."""
        if not self.straightness:
            return np.empty(0)
        taper, below = self._taper(setup)
        return 100.0 * self.straightness * np.where(below[:-1], np.diff(taper), 0.0)

    def _taper(self, setup: Setup) -> tuple[np.ndarray, np.ndarray]:
        """Of each stretch its taper, 0 above the throat, and whether it lies below: the throat may move."""
        distance, diameter = setup.base.bore.table_mm
        below = distance[:-1] >= setup.base.bore.throat_mm[0]
        return np.where(below, np.diff(diameter) / np.maximum(np.diff(distance), 1e-6), 0.0), below
