"""The drilling list: where each hole is marked on the outside, with which drill, how tilted, how undercut."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from ..errors import Refusal, short, within
from ..pipes.chanter import Chanter
from ..pipes.holes import Key, bearing_deg, lean
from .drills import Drill, nearest_drill
from .workshop import Workshop

SWAPPED = {"left": "right", "right": "left", "front": "front", "back": "back"}


@dataclass(frozen=True)
class HoleLine:
    """One line of the drilling list; lengths in mm, seen from the front with the reed up.

    Parameters
    ----------
    name, kind, face : str
        Kind "hole" or "key"; face "front", "back", "left" or "right".
    axis_top_mm, axis_foot_mm : float
        Where the hole's axis meets the bore's axis, from the top and from the foot.
    mark_top_mm, mark_foot_mm : float
        Where its middle is marked on the outside: the same for a hole that is not tilted.
    across_mm, along_mm : float
        Finished size.
    drill : Drill
        The largest of the shop's that is not larger than the hole.
    tilt_deg : float
        Outer end towards the foot is positive.
    wall_mm, passage_mm : float
        Wall square to the bore, and the same along the drill.
    outer_mm : float
        Outside diameter of the wood there.
    undercut_mm : (diameter, depth) or None
    pad_mm, seat_mm, lift_mm : float or None
        Keys: diameter of the pad, of the opening it covers, and its lift.
    duct_mm : ((length, diameter), ...)
        Keys: further stretches from the wall out to the pad.
    """

    name: str
    kind: str
    face: str
    axis_top_mm: float
    axis_foot_mm: float
    mark_top_mm: float
    mark_foot_mm: float
    across_mm: float
    along_mm: float
    drill: Drill
    tilt_deg: float
    wall_mm: float
    passage_mm: float
    outer_mm: float
    undercut_mm: tuple[float, float] | None = None
    pad_mm: float | None = None
    seat_mm: float | None = None
    lift_mm: float | None = None
    duct_mm: tuple[tuple[float, float], ...] = ()

    @property
    def open_up_mm(self) -> float:
        """What the file or reamer takes after the drill, on the smaller diameter [mm]."""
        return min(self.across_mm, self.along_mm) - self.drill.mm


def _line(side, length: float, shop: Workshop, face: str) -> HoleLine:
    hole = side.hole
    mark = hole.position_mm + (side.bore_mm / 2.0 + side.wall_mm) * lean(hole)
    half = hole.along_mm / 2.0 / math.cos(math.radians(hole.tilt_deg))
    if mark - half <= 0.0 or mark + half >= length:
        raise Refusal(
            f"tilted by {hole.tilt_deg:g} degrees it comes out at {mark:.1f} mm, off the wood",
            f"it must come out between 0 and {length:g} mm",
            f'hole "{hole.name}"',
        )
    with within(f'hole "{hole.name}"'):
        drill = nearest_drill(min(hole.across_mm, hole.along_mm), shop.drills, "below")
    extra = {}
    if isinstance(hole, Key):
        extra = {"pad_mm": hole.pad_diameter_mm, "seat_mm": hole.outlet_mm, "lift_mm": hole.lift_mm}
        extra["duct_mm"] = hole.duct
    elif hole.undercut_diameter_mm is not None:
        extra = {"undercut_mm": (hole.undercut_diameter_mm, hole.undercut_depth_mm)}
    return HoleLine(
        name=hole.name,
        kind="key" if isinstance(hole, Key) else "hole",
        face=face,
        axis_top_mm=hole.position_mm,
        axis_foot_mm=length - hole.position_mm,
        mark_top_mm=mark,
        mark_foot_mm=length - mark,
        across_mm=hole.across_mm,
        along_mm=hole.along_mm,
        drill=drill,
        tilt_deg=hole.tilt_deg,
        wall_mm=side.wall_mm,
        passage_mm=side.wall_mm / math.cos(math.radians(hole.tilt_deg)),
        outer_mm=side.bore_mm + 2.0 * side.wall_mm,
        **extra,
    )


def drilling_list(
    pipe: Chanter, shop: Workshop, left_handed: bool = False, on_the_left: Iterable[str] = ()
) -> tuple[HoleLine, ...]:
    """Every hole of a chanter from the top down, ready for the bench.

    Parameters
    ----------
    pipe : Chanter
    shop : Workshop
    left_handed : bool
        Mirrors the list: left and right change places.
    on_the_left : names
        Holes with face "side" that lie on the left of a right-handed set, beside those whose own place round
        the bore is on the left; the others lie on its right.

    Raises
    ------
    Refusal
        A hole that comes out off the wood, or for which the shop has no drill; a name in
        `on_the_left` that is not a hole at the side.
    """
    left = (on_the_left,) if isinstance(on_the_left, str) else tuple(on_the_left)
    at_the_side = [hole.name for hole in pipe.holes if hole.face == "side"]
    for name in left:
        if name not in at_the_side:
            allowed = f"one of {', '.join(at_the_side)} is allowed" if at_the_side else "this pipe has none"
            raise Refusal(f"{short(name)} is not a hole at the side", allowed, "on_the_left")
    lines = []
    for side in pipe.side_holes:
        face = side.hole.face
        if face == "side":
            face = "left" if side.name in left or bearing_deg(side.hole) < 0.0 else "right"
        lines.append(_line(side, pipe.bore.length_mm, shop, SWAPPED[face] if left_handed else face))
    return tuple(lines)
