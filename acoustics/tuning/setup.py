"""What lies on the bench: a pipe, how it is fingered and judged, and the changes being tried on it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from functools import cached_property

from ..errors import Refusal, check_kind, set_checked
from ..physics.air import Air, as_air
from ..pipes.chanter import Chanter
from ..pipes.fingering import Fingering, open_shares, own_fingerings
from ..pipes.reshape import patched, tapered, throat_widened
from ..pipes.rush import Rush
from .chart import TuningChart, tuning_chart
from .scales import Scale, scale_for


@dataclass(frozen=True)
class Setup:
    """A pipe with the changes being tried.

    Parameters
    ----------
    base : Chanter
        The pipe before bore and rush are changed.
    air : Air
    scale : Scale, optional
        The just scale in the pipe's key when None.
    fingerings : tuple of Fingering, optional
        Those of `TIGHT` that the pipe has the holes for, or of a regulator each key alone, when None.
    patch_at_mm, patch_length_mm, patch_depth_mm : float
        A bell-shaped patch of the bore, see `patched`; depth 0 is none.
    foot_wider_mm, throat_wider_mm : float
        See `tapered` and `throat_widened`.
    rush_mm, rush_length_mm : float
        Thickness of a wire and how far it reaches up from the foot; where either is 0 the base
        keeps the rush that it has.
    taped : tuple of (hole, share open)
        Holes with tape or wax over a part of them.
    gap_mm : float
        Lift of the foot above the leg for the notes played on the knee, 0.1 to 200; 0 is shut.

    Raises
    ------
    Refusal
        A wire over 20 mm thick or 2 m long, another gap, tape on a hole that is not there or of a share outside 0
        to 1; something else than air, scale and fingerings.  Of a patch or taper that cannot be built `pipe` refuses.
    """

    base: Chanter
    air: Air = field(default_factory=Air)
    scale: Scale | None = None
    fingerings: tuple[Fingering, ...] | None = None
    patch_at_mm: float = 150.0
    patch_length_mm: float = 60.0
    patch_depth_mm: float = 0.0
    foot_wider_mm: float = 0.0
    throat_wider_mm: float = 0.0
    rush_mm: float = 0.0
    rush_length_mm: float = 0.0
    taped: tuple[tuple[str, float], ...] = ()
    gap_mm: float = 0.0

    def __post_init__(self):
        check_kind("base", self.base, Chanter, "a Chanter, as read_design gives it,")
        set_checked(self, {"rush_mm": (0.0, 20.0), "rush_length_mm": (0.0, 2000.0), "gap_mm": (0.0, 200.0)})
        if 0.0 < self.gap_mm < 0.1:
            raise Refusal(f"{self.gap_mm:g} mm is no gap", "0 for shut, or 0.1 to 200 mm, is allowed", "gap_mm")
        object.__setattr__(self, "taped", open_shares(self.taped, "taped"))
        unknown = {name for name, _ in self.taped} - {hole.name for hole in self.base.holes}
        if unknown:
            raise Refusal(f'there is no hole called "{unknown.pop()}"', "a hole of the pipe is needed", "taped")
        object.__setattr__(self, "air", as_air(self.air))
        object.__setattr__(self, "scale", scale_for(self.base.key, self.scale))
        if self.fingerings is None:
            object.__setattr__(self, "fingerings", own_fingerings(self.base))
        check_kind("fingerings", self.fingerings, Iterable, "a list of Fingerings")
        object.__setattr__(self, "fingerings", tuple(self.fingerings))
        for fingering in self.fingerings:
            check_kind("fingerings", fingering, Fingering, "a Fingering")

    @cached_property
    def pipe(self) -> Chanter:
        """The pipe with every change made."""
        bore = throat_widened(tapered(self.base.bore, self.foot_wider_mm), self.throat_wider_mm)
        bore = patched(bore, self.patch_at_mm, self.patch_length_mm, self.patch_depth_mm)
        rush = self.base.rush
        if self.rush_mm > 0.0 and self.rush_length_mm > 0.0:
            rush = Rush(self.rush_mm, bore.length_mm - self.rush_length_mm, bore.length_mm)
        if bore is self.base.bore and rush is self.base.rush:
            return self.base
        return replace(self.base, bore=bore, rush=rush)

    @property
    def fingered(self) -> tuple[Fingering, ...]:
        """The fingerings with tape on the holes and the foot lifted by the gap."""
        shares = dict(self.taped)
        if not shares and self.gap_mm == 0.0:
            return self.fingerings
        return tuple(self._fingered(fingering, shares) for fingering in self.fingerings)

    def _fingered(self, fingering: Fingering, shares: dict[str, float]) -> Fingering:
        holes = {name: share * shares.get(name, 1.0) for name, share in fingering.open_holes}
        foot = self.gap_mm if fingering.foot == "shut" and self.gap_mm > 0.0 else fingering.foot
        return replace(fingering, open_holes=holes, foot=foot)

    @cached_property
    def chart(self) -> TuningChart:
        """The tuning chart of all this."""
        return tuning_chart(self.pipe, self.fingered, self.scale, self.air)
