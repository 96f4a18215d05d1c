"""The chanter: reed, staple, bore, holes and body put together."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from ..errors import Refusal, short, text
from .bore import Body, Bore
from .holes import Key, ToneHole, lean
from .path import Foot, Path, SideHole
from .reed import Reed
from .rush import Rush
from .staple import Staple

KEYS = ("B-flat", "B", "C", "C#", "D", "E-flat", "E")  # a semitone apart, upwards
DEFAULT_WALL_MM = 4.0
BODY_END_MM = 1.0


def _typed(field: str, value: object, kind: type) -> None:
    if not isinstance(value, kind):
        raise Refusal(f"{type(value).__name__} stands there", f"a {kind.__name__} is needed", field)


@dataclass(frozen=True)
class Chanter:
    """A chanter with its reed, checked as a whole when made.

    Parameters
    ----------
    name : str
    reed : Reed
    staple : Staple
    bore : Bore
    holes : sequence of ToneHole and Key
        Kept sorted from the top down.
    body : Body, optional
        The outside; without it every hole needs its own depth, and the foot is taken to have a
        wall of 4 mm.
    rush : Rush, optional
        A wire in the bore.
    key : str
        Sounding name of the lowest note: "D" is concert pitch, "C#", "C", "B", "B-flat" are flat
        sets.  Note names in charts stay those of the fingering, as pipers say them.

    Raises
    ------
    Refusal
        Holes off the wood, under the staple, wider than the bore, overlapping, without a wall,
        or of the same name; staple deeper than the bore; rush outside or thicker than the bore; an
        outside that does not end at the foot or is narrower than the bore.
    """

    name: str
    reed: Reed
    staple: Staple
    bore: Bore
    holes: tuple[ToneHole | Key, ...]
    body: Body | None = None
    rush: Rush | None = None
    key: str = "D"

    def __post_init__(self):
        text("name", self.name)
        for field, kind in (("reed", Reed), ("staple", Staple), ("bore", Bore)):
            _typed(field, getattr(self, field), kind)
        if self.body is not None:
            _typed("body", self.body, Body)
        if self.key not in KEYS:
            raise Refusal(f"{short(self.key)} is not a key", f"one of {', '.join(KEYS)} is allowed", "key")
        if not hasattr(self.holes, "__iter__"):
            raise Refusal(f"{short(self.holes)} is not a list", "a list of ToneHole and Key is allowed", "holes")
        object.__setattr__(self, "holes", tuple(self.holes))
        for hole in self.holes:
            if not isinstance(hole, (ToneHole, Key)):
                raise Refusal(f"{type(hole).__name__} stands there", "ToneHole and Key are allowed", "holes")
        holes = sorted(self.holes, key=lambda hole: hole.position_mm)
        object.__setattr__(self, "holes", tuple(holes))
        self._check_staple_and_rush()
        self._check_holes()
        self._check_body()

    def _check_staple_and_rush(self):
        length = self.bore.length_mm
        if self.staple.insertion_mm > length - 1.0:
            raise Refusal(
                f"the foot of the staple sits {self.staple.insertion_mm:g} mm down a bore of {length:g} mm",
                "insertion_mm must leave at least 1 mm of bore",
                "staple",
            )
        if self.rush is None:
            return
        _typed("rush", self.rush, Rush)
        if self.rush.foot_mm > length or self.rush.top_mm < self.staple.insertion_mm:
            raise Refusal(
                f"it lies from {self.rush.top_mm:g} to {self.rush.foot_mm:g} mm",
                f"it must lie between the staple's foot at {self.staple.insertion_mm:g} and the end at {length:g} mm",
                "rush",
            )
        stations = np.array([d for d, _ in self.bore.stations_mm] + [self.rush.top_mm, self.rush.foot_mm])
        inside = stations[(stations >= self.rush.top_mm) & (stations <= self.rush.foot_mm)]
        narrowest = float(np.min(self.bore.diameter_mm(inside)))
        if self.rush.diameter_mm > 0.8 * narrowest:
            raise Refusal(
                f"a wire of {self.rush.diameter_mm:g} mm in a bore of {narrowest:g} mm",
                "at most 0.8 of the bore is allowed",
                "rush",
            )

    def _check_holes(self):
        names = [hole.name for hole in self.holes]
        for name in names:
            if names.count(name) > 1:
                raise Refusal(f'two holes are called "{name}"', "each needs its own name", "holes")
        for hole in self.holes:
            self._check_place(hole)
        for face in {hole.face for hole in self.holes}:
            column = [hole for hole in self.holes if hole.face == face]
            for above, below in pairwise(column):
                wood = below.position_mm - above.position_mm - (above.along_mm + below.along_mm) / 2.0
                if wood <= 0.0:
                    raise Refusal(
                        f'"{above.name}" and "{below.name}" overlap by {-wood:.2f} mm',
                        "there must be wood between two holes on one face",
                        "holes",
                    )

    def _check_place(self, hole):
        top, end = self.staple.insertion_mm, self.bore.length_mm
        where, half = f'hole "{hole.name}"', hole.along_mm / 2.0
        bore_mm = float(self.bore.diameter_mm(hole.position_mm))
        mouth = hole.position_mm + bore_mm / 2.0 * lean(hole)
        if min(hole.position_mm, mouth) - half <= top or max(hole.position_mm, mouth) + half >= end:
            raise Refusal(
                f"at {hole.position_mm:g} mm with {hole.along_mm:g} mm along the bore it is off the wood",
                f"it must meet the bore between the staple's foot at {top:g} and the end at {end:g} mm",
                where,
            )
        widest = max(hole.across_mm, hole.undercut_diameter_mm or 0.0)
        if widest > bore_mm:
            raise Refusal(
                f"{widest:g} mm is wider than the bore there ({bore_mm:.2f} mm)",
                "a hole and its undercut may be as wide as the bore at most",
                where,
            )
        wall = self._wall_mm(hole)
        if wall < 0.2:
            raise Refusal(f"the wall there is {wall:.2f} mm", "at least 0.2 mm of wall is needed", where)
        depth = hole.undercut_depth_mm
        if depth is not None and depth > wall:
            raise Refusal(
                f"the undercut is {depth:g} mm deep in a wall of {wall:.2f} mm",
                "it may be as deep as the wall at most",
                where,
            )

    def _check_body(self):
        if self.body is None:
            return
        end, outer_end = self.bore.length_mm, self.body.length_mm
        if abs(outer_end - end) > BODY_END_MM:
            raise Refusal(
                f"the outside ends at {outer_end:g} mm, the bore at {end:g} mm",
                f"both must end at the foot, within {BODY_END_MM:g} mm",
                "body",
            )
        places = np.union1d(self.bore.table_mm[0], np.minimum(self.body.table_mm[0], end))
        outer, inner = self.body.diameter_mm(places), self.bore.diameter_mm(places)
        at = int(np.argmin(outer - inner))
        if outer[at] <= inner[at]:
            raise Refusal(
                f"the outside is {outer[at]:.2f} mm at {places[at]:g} mm, where the bore is {inner[at]:.2f} mm",
                "the outside must be wider than the bore",
                "body",
            )

    def _wall_mm(self, hole) -> float:
        if hole.depth_mm is not None:
            return hole.depth_mm
        if self.body is None:
            raise Refusal(
                "there is neither a depth nor an outside to take it from",
                "give depth_mm, or the body's outer stations",
                f'hole "{hole.name}"',
            )
        at = hole.position_mm
        return float(self.body.diameter_mm(at) - self.bore.diameter_mm(at)) / 2.0

    def hole(self, name: str) -> ToneHole | Key:
        """The hole of that name, or a `Refusal` that lists the names."""
        for hole in self.holes:
            if hole.name == name:
                return hole
        names = ", ".join(hole.name for hole in self.holes)
        allowed = f"one of {names} is allowed" if names else "this pipe has no holes"
        raise Refusal(f'there is no hole called "{name}"', allowed, self.name)

    # -- what the physics asks for (see path.Pipe) ------------------------------------------

    @property
    def head(self) -> Reed:
        """The head of the reed."""
        return self.reed

    @cached_property
    def path(self) -> Path:
        """The air from the eye through the staple into the bore and down to the foot."""
        return air_path(self.staple, self.bore, self.rush)

    @cached_property
    def side_holes(self) -> tuple[SideHole, ...]:
        """The holes from the top down, each with wall, bore and outside at its place."""
        return tuple(self.placed(hole) for hole in self.holes)

    def placed(self, hole: ToneHole | Key) -> SideHole:
        """A hole, this pipe's or another, with the wall, bore and outside that it finds here."""
        bore_mm = float(self.bore.diameter_mm(hole.position_mm))
        wall = self._wall_mm(hole)
        outer = bore_mm + 2.0 * wall if self.body is None else float(self.body.diameter_mm(hole.position_mm))
        return SideHole(hole, hole.position_mm + self.path.body_offset_mm, wall, bore_mm, outer)

    @property
    def foot(self) -> Foot:
        """The open end; without a body a wall of 4 mm is taken."""
        end = self.bore.length_mm
        bore_mm = self.bore.stations_mm[-1][1]
        outer = bore_mm + 2.0 * DEFAULT_WALL_MM if self.body is None else float(self.body.diameter_mm(end))
        return Foot(bore_mm, outer)


def air_path(staple: Staple, bore: Bore, rush: Rush | None) -> Path:
    """The air from the eye of a staple into the bore and down to the foot; nothing is checked."""
    offset = staple.length_mm - staple.insertion_mm
    distance, diameter = bore.table_mm
    edges = [0.0, staple.length_mm, *(distance[distance > staple.insertion_mm] + offset)]
    if staple.flattened_mm is not None:
        edges.append(staple.flattened_mm)
    if rush is not None:
        edges += [rush.top_mm + offset, rush.foot_mm + offset]

    def cross_section(x_mm):
        x_mm = np.asarray(x_mm, float)
        from_top = x_mm - offset
        bore_mm = np.interp(from_top, distance, diameter)
        area, perimeter = np.pi / 4.0 * bore_mm**2, np.pi * bore_mm
        if rush is not None:
            inside = (from_top > rush.top_mm) & (from_top < rush.foot_mm)
            area = area - np.where(inside, np.pi / 4.0 * rush.diameter_mm**2, 0.0)
            perimeter = perimeter + np.where(inside, np.pi * rush.diameter_mm, 0.0)
        in_staple = x_mm < staple.length_mm
        found = np.array([area, perimeter])
        found[:, in_staple] = staple.cross_section(x_mm[in_staple])
        return found[0], found[1]

    return Path(tuple(sorted({float(e) for e in edges})), cross_section, offset)
