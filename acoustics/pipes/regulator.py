"""The regulator: a stopped conical pipe with a double reed, whose keys are opened one at a time."""

from __future__ import annotations

from dataclasses import dataclass, replace

from ..errors import Refusal, number, short
from .bore import LONGEST_MM, Body, Bore
from .chanter import Chanter
from .fingering import NOTES, Fingering
from .holes import Key


@dataclass(frozen=True)
class Regulator(Chanter):
    """A regulator with its reed, checked as a whole when made: a chanter's parts, stopped at the foot.

    Parameters
    ----------
    name, reed, staple, bore, body, rush, key
        As for `Chanter`.  The rush is the pin: a wire in the stopper that reaches up the bore.
    holes : sequence of Key
        Each is named after the note that it sounds, as on a chanter in D, and is opened alone.
    octaves_below : 0 or 1
        How many octaves below those of the chanter's first octave its notes lie.

    Raises
    ------
    Refusal
        As for `Chanter`; a hole that is not a key, or not named after a note.
    """

    octaves_below: int = 0

    def __post_init__(self):
        super().__post_init__()
        if type(self.octaves_below) is not int or self.octaves_below not in (0, 1):
            raise Refusal(f"{short(self.octaves_below)} stands there", "0 or 1 is allowed", "octaves_below")
        for hole in self.holes:
            where = f'hole "{hole.name}"'
            if not isinstance(hole, Key):
                raise Refusal("it has no pad", "a regulator has keys only", where)
            if hole.name not in NOTES:
                said = f"{short(hole.name)} is not a note"
                raise Refusal(said, f"a key is named after its note, one of {', '.join(NOTES)}", where)

    @property
    def fingerings(self) -> tuple[Fingering, ...]:
        """Each key opened alone, from the lowest note up; the foot is always shut."""
        octave = 1 - self.octaves_below
        keys = sorted(self.holes, key=lambda hole: NOTES.index(hole.name))
        return tuple(Fingering(hole.name, octave, (hole.name,), "shut") for hole in keys)

    def stopped(self, length_mm: float) -> Regulator:
        """The same regulator with its stopper at another place, from the top of the body [mm].

        Bore and outside are cut there, or go on as their last stretches run.
        """
        number("stopper", length_mm, self.staple.insertion_mm + 1.0, LONGEST_MM)
        bore = Bore(_ended(self.bore.stations_mm, length_mm))
        body = None if self.body is None else Body(_ended(self.body.outer_stations_mm, length_mm))
        return replace(self, bore=bore, body=body)


def _ended(stations_mm, length_mm: float) -> tuple[tuple[float, float], ...]:
    """Stations that end at `length_mm`."""
    kept = [station for station in stations_mm[:-1] if station[0] < length_mm]
    (x0, d0), (x1, d1) = kept[-1], stations_mm[len(kept)]
    slope = (d1 - d0) / (x1 - x0) if x1 > x0 else 0.0
    return (*kept, (length_mm, d0 + slope * (length_mm - x0)))
