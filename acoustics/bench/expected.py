"""What each note of a setup should say: its resonance or, blown loud, its tone; and how it follows what is turned."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..errors import Refusal, check_kind
from ..tuning.dials import Dial
from ..tuning.free import derivative
from ..tuning.played import PlayedRow
from ..tuning.pull import Played, of_their_octave, pull_of
from ..tuning.setup import Setup
from ..tuning.tangent import Tangent


@dataclass(frozen=True)
class Expected:
    """What a tuner should say of every note of a setup.

    Parameters
    ----------
    setup : Setup
    pitch : Played, optional
        How the notes are blown; None takes them as resonances.

    Raises
    ------
    Refusal
        A pitch of another kind, or one at which no note lasts.

    Notes
    -----
    A note without a tone that lasts is pulled by the median of its octave.  Half of what `moves` allows moves the
    resonances of the fixed demo chanter by 8.7 cents rms (reed, staple and bore) or 1.0 (holes), and the pull by 3.0
    (8.9 at most) or 0.2 (1.3 at most).  So the pull follows reed, staple and bore along a straight line, which leaves
    0.9 (9.0 at most, of softness), and holes leave it as it is; only `moved` reckons every tone anew.
    """

    setup: Setup
    pitch: Played | None = None

    def __post_init__(self):
        if self.pitch is not None:
            check_kind("pitch", self.pitch, Played, "a Played, with the pressures in the bag,")

    @property
    def blown(self) -> str:
        """In words, how the notes are blown; "" for resonances."""
        if self.pitch is None:
            return ""
        bags = (self.pitch.pressure_first, self.pitch.pressure_second)
        return "as played, in the bag {:.1f} and {:.1f} kPa".format(*(bag / 1e3 for bag in bags))

    @cached_property
    def _rows(self) -> range:
        return range(len(self.setup.chart.rows))

    @cached_property
    def _heard(self) -> tuple[PlayedRow, ...]:
        return self.pitch.heard(self.setup, self._rows)

    @cached_property
    def _tangent(self) -> Tangent:
        return Tangent(self.setup)

    @cached_property
    def _slopes(self) -> dict[Dial, np.ndarray]:
        return {}

    @cached_property
    def _own_pull(self) -> np.ndarray:
        """Of each note that has a tone that lasts, (rows,) [cents], else nan; 0 for resonances."""
        if self.pitch is None:
            return np.zeros(len(self._rows))
        found = pull_of(self._heard)
        if not np.any(np.isfinite(found)):
            raise Refusal("no note lasts at these pressures", "pressures at which notes sound are needed", "pitch")
        return found

    @cached_property
    def pull(self) -> np.ndarray:
        """Played less resonance of every row, (rows,) [cents]; 0 for resonances."""
        lasts = np.isfinite(self._own_pull)
        return self._own_pull if np.all(lasts) else np.where(lasts, self._own_pull, of_their_octave(self._heard))

    @property
    def cents(self) -> np.ndarray:
        """What each note should say, (rows,) [cents]; nan where nothing sounds."""
        return self.setup.chart.cents + self.pull

    @property
    def unsure(self) -> np.ndarray:
        """One standard deviation of the pull, (rows,) [cents]: where no tone lasts, that of all that are known."""
        lasts = np.isfinite(self._own_pull)
        return np.where(lasts, 0.0, np.std(self._own_pull[lasts]))

    def slope(self, dial: Dial) -> np.ndarray:
        """Change of every note for each unit of a dial, (rows,) [cents]; nan where it is not known."""
        if dial not in self._slopes:
            self._slopes[dial] = derivative(self._tangent, dial)
            if self.pitch is not None and dial.group != "holes":
                pull = self.pitch.about(self.setup, self._heard, self._rows, [dial], self.pull)
                self._slopes[dial] = self._slopes[dial] + pull.slopes[:, 0]
        return self._slopes[dial]

    def over(self, dial: Dial, by: float) -> np.ndarray:
        """The same on the average of a way too long for a straight line, (rows,) [cents]."""
        other = dial.turn(self.setup, round(dial.read(self.setup) + by, 6))
        return (self._soft(other) if dial.group == "holes" else self.moved(other)) / by

    def moved(self, other: Setup) -> np.ndarray:
        """Change of every note on the way to a setup a little different, (rows,) [cents]; nan where it falls silent."""
        if self.pitch is None:
            return self._soft(other)
        pulled = self.pitch.followed(other, self._heard, self._rows) - self._own_pull
        return self._soft(other) + np.nan_to_num(pulled)

    def _soft(self, other: Setup) -> np.ndarray:
        return other.chart.cents - self.setup.chart.cents
