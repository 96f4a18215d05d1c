"""The drone: a single reed, tubes of wood and brass with a tuning slide, bent where it must fold, perhaps a chamber."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from math import pi, sqrt

import numpy as np

from ..errors import Refusal, set_checked, short, text
from .chanter import KEYS
from .holes import FARTHEST_MM, ToneHole
from .path import Foot, Path, SideHole, Turn
from .reed import Reed
from .stretches import Bend, Bridge, Resonator, Slide, Straight, Stretch

OUTLET = "outlet"
LONGEST_MM = 1900.0
EYE_MM = 1e-3  # the path begins this far inside the reed's tube, so that the step out of it counts


@dataclass(frozen=True)
class Drone:
    """A drone with its reed, checked as a whole when made.

    Parameters
    ----------
    name : str
    reed : Reed
        The tongue's tube as a duct with a yielding wall.
    stretches : sequence of Straight, Slide, Bend and Bridge
        From the reed's end to the open end, exactly one of them a Slide.  A straight stretch stands at
        both ends and between any two others.
    octaves_below : int
        How many octaves below the chanter's lowest note it is meant to sound, 0 to 3: tenor 0, baritone 1,
        bass 2.
    resonator : Resonator, optional
        Without it the last stretch is open.
    wall_mm : float
        Wall at the open end, 0.3 to 60 [mm].
    key : str
        Sounding name of the chanter's lowest note, as in `Chanter`.

    Raises
    ------
    Refusal
        No slide or two; longer than 1.9 m, or 2 m to the outlet; bends without a straight stretch between them; a gap
        narrower than its neighbours; a bridge not as wide as the bores it joins; a chamber no wider than the tube.
    """

    name: str
    reed: Reed
    stretches: tuple[Stretch, ...]
    octaves_below: int = 0
    resonator: Resonator | None = None
    wall_mm: float = 3.0
    key: str = "D"

    def __post_init__(self):
        text("name", self.name)
        set_checked(self, {"wall_mm": (0.3, 60.0)})
        if self.key not in KEYS:
            raise Refusal(f"{short(self.key)} is not a key", f"one of {', '.join(KEYS)} is allowed", "key")
        if type(self.octaves_below) is not int or not 0 <= self.octaves_below <= 3:
            raise Refusal(f"{short(self.octaves_below)} stands there", "0, 1, 2 or 3 is allowed", "octaves_below")
        for field, value, kind in (("reed", self.reed, Reed), ("resonator", self.resonator, Resonator)):
            if not isinstance(value, kind) and (field == "reed" or value is not None):
                raise Refusal(f"{type(value).__name__} stands there", f"a {kind.__name__} is needed", field)
        if not hasattr(self.stretches, "__iter__"):
            allowed = "a list of Straight, Slide, Bend and Bridge is allowed"
            raise Refusal(f"{short(self.stretches)} is not a list", allowed, "stretches")
        object.__setattr__(self, "stretches", tuple(self.stretches))
        self._check_stretches()

    def _check_stretches(self):
        for i, stretch in enumerate(self.stretches, 1):
            if not isinstance(stretch, Stretch):
                allowed = "Straight, Slide, Bend and Bridge are allowed"
                raise Refusal(f"{type(stretch).__name__} stands there", allowed, f"stretch {i}")
        slides = sum(isinstance(stretch, Slide) for stretch in self.stretches)
        if slides != 1:
            raise Refusal(f"the number of slides is {slides}", "exactly one is needed", "stretches")
        length = sum(stretch.length_mm for stretch in self.stretches)
        if length > LONGEST_MM:
            raise Refusal(f"the whole length is {length:.0f} mm", f"at most {LONGEST_MM:g} mm is allowed", "stretches")
        straight = [isinstance(stretch, Straight) for stretch in self.stretches]
        if not straight[0] or not straight[-1]:
            raise Refusal(
                "it does not begin and end straight", "a straight stretch is needed at both ends", "stretches"
            )
        for i, (one, two) in enumerate(pairwise(straight), 2):
            if not one and not two:
                raise Refusal(
                    "it follows another that is not straight", "a straight stretch is needed between", f"stretch {i}"
                )
        for i, stretch in enumerate(self.stretches):
            if not straight[i]:
                self._check_beside(i + 1, stretch, self.stretches[i - 1], self.stretches[i + 1])
        if self.resonator is not None and self.resonator.diameter_mm <= self.stretches[-1].diameter_mm:
            allowed = f"it must be wider than the last stretch, {self.stretches[-1].diameter_mm:g} mm"
            raise Refusal(f"the chamber is {self.resonator.diameter_mm:g} mm wide", allowed, "resonator")
        if self.resonator is not None and EYE_MM + length + self.resonator.outlet_at_mm > FARTHEST_MM:
            far = f"the outlet lies {length + self.resonator.outlet_at_mm:.0f} mm from the reed"
            raise Refusal(far, f"less than {FARTHEST_MM:g} mm is allowed", "resonator, outlet_at_mm")

    @staticmethod
    def _check_beside(i: int, stretch: Stretch, above: Straight, below: Straight):
        beside = (above.diameter_mm, below.diameter_mm)
        if isinstance(stretch, Slide) and stretch.diameter_mm < max(beside):
            allowed = f"at least {max(beside):g} mm, the wider of its neighbours, is needed"
            raise Refusal(f"the gap is {stretch.diameter_mm:g} mm wide", allowed, f"stretch {i}")
        if isinstance(stretch, Bridge) and beside != (stretch.diameter_mm, stretch.diameter_mm):
            allowed = "both bores beside it must have its own diameter"
            raise Refusal(f"the bridge is {stretch.diameter_mm:g} mm wide", allowed, f"stretch {i}")

    @property
    def slide(self) -> Slide:
        """The tuning slide."""
        return next(stretch for stretch in self.stretches if isinstance(stretch, Slide))

    def drawn(self, gap_mm: float) -> Drone:
        """The same drone with its slide drawn to a gap, or a `Refusal`."""
        moved = replace(self.slide, gap_mm=gap_mm)
        return replace(self, stretches=[moved if isinstance(s, Slide) else s for s in self.stretches])

    @property
    def pattern(self) -> tuple:
        """Open holes and foot, as `Fingering.pattern`: the outlet open above a closed end, or an open end."""
        return ((), "open") if self.resonator is None else (((OUTLET, 1.0),), "shut")

    @property
    def head(self) -> Reed:
        """The reed."""
        return self.reed

    @cached_property
    def path(self) -> Path:
        """The air column from the reed's end to the open or closed end; a shut slide has no gap."""
        ducts = [s for s in self.stretches if s.length_mm > 0.0]
        ducts += [self.resonator] if self.resonator is not None else []
        edges = np.concatenate([[0.0], EYE_MM + np.cumsum([0.0] + [duct.length_mm for duct in ducts])])
        diameters = np.array([2.0 * sqrt(self.reed.area_mm2 / pi)] + [duct.diameter_mm for duct in ducts])
        turns, gaps = [], []
        for duct, start, end in zip(ducts, edges[1:].tolist(), edges[2:].tolist(), strict=False):
            if isinstance(duct, Bend):
                turns.append(Turn(start, end, duct.diameter_mm, duct.radius_mm))
            elif isinstance(duct, Bridge):
                turns.append(Turn(start, end, duct.diameter_mm, duct.spacing_mm / 2.0, bridge=True))
            elif isinstance(duct, Slide):
                gaps.append((start, end))

        def cross_section(x_mm):
            at = np.clip(np.searchsorted(edges, x_mm) - 1, 0, len(diameters) - 1)
            diameter = diameters[at]
            return pi / 4.0 * diameter**2, pi * diameter

        return Path(tuple(edges.tolist()), cross_section, 0.0, tuple(turns), tuple(gaps))

    @cached_property
    def side_holes(self) -> tuple[SideHole, ...]:
        """The chamber's outlet, if there is one."""
        if self.resonator is None:
            return ()
        chamber = self.resonator
        at = self.path.edges_mm[-2] + chamber.outlet_at_mm
        hole = ToneHole(OUTLET, at, chamber.outlet_mm, depth_mm=chamber.wall_mm, face="side")
        outer = chamber.diameter_mm + 2.0 * chamber.wall_mm
        return (SideHole(hole, at, chamber.wall_mm, chamber.diameter_mm, outer),)

    @property
    def foot(self) -> Foot:
        """The open end, or the closed end of the chamber."""
        if self.resonator is not None:
            return Foot(self.resonator.diameter_mm, self.resonator.diameter_mm + 2.0 * self.resonator.wall_mm)
        bore = self.stretches[-1].diameter_mm
        return Foot(bore, bore + 2.0 * self.wall_mm)
