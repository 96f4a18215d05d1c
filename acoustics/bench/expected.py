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
    A note without a tone that lasts is pulled by the median of its octave.  Holes turned move the pull of the fixed
    demo chanter by 0.2 cents rms (1.3 at most on one note) at half of what `moves` allows, while they move its
    resonances by 1.0; that is left out of `slope`.  Reed, staple and bore move it by 3.1 cents rms (8.9 at most)
    while they move the resonances by 9.0; that is in.
    """

    setup: Setup
    pitch: Played | None = None

    def __post_init__(self):
        if self.pitch is not None:
            check_kind("pitch", self.pitch, Played, "a Played, with the pressures in the bag,")

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

    def moved(self, other: Setup) -> np.ndarray:
        """Change of every note on the way to a setup a little different, (rows,) [cents]; nan where it falls silent."""
        soft = other.chart.cents - self.setup.chart.cents
        if self.pitch is None:
            return soft
        pulled = self.pitch.followed(other, self._heard, self._rows) - self._own_pull
        return soft + np.nan_to_num(pulled)
