"""What a search found."""

from __future__ import annotations

from dataclasses import dataclass

from .chart import TuningChart
from .pull import AsPlayed
from .setup import Setup


@dataclass(frozen=True)
class Bound:
    """A limit that holds a dial back: how many cents rms one more step beyond it would win."""

    dial: str
    limit: float
    wins_cents: float


@dataclass(frozen=True)
class Found:
    """Outcome of a search.

    Parameters
    ----------
    setup : Setup
    rms_cents, worst_cents : float
        Over the rows that sound.
    bounds : tuple of Bound
    starts : tuple of float
        Rms of every start, in order [cents].
    stopped : bool
        Whether it was stopped before its end; the best so far stands here.
    idle : tuple of str
        Dials that no note ever felt, as a wire of no length; empty when it was stopped.
    played : AsPlayed or None
        Of a search for played notes, whose cents are those of the tones that last; None of one for resonances.
    """

    setup: Setup
    rms_cents: float
    worst_cents: float
    bounds: tuple[Bound, ...]
    starts: tuple[float, ...]
    stopped: bool
    idle: tuple[str, ...] = ()
    played: AsPlayed | None = None

    @property
    def chart(self) -> TuningChart:
        """The chart of what was found."""
        return self.setup.chart
