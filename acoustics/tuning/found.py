"""What a search found."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

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
        Off the target, over the rows that sound; nan where none does.
    bounds : tuple of Bound
    starts : tuple of float
        Rms of every start, in order [cents].
    stopped : bool
        Whether it was stopped before its end; the best so far stands here.
    idle : tuple of str
        Dials that no note ever felt, as a wire of no length; empty when it was stopped.
    played : AsPlayed or None
        Of a search for played notes, whose cents are those of the tones that last; None of one for resonances.
    silent : tuple of str
        Titles of the rows that do not sound, or of those without a tone that lasts.
    """

    setup: Setup
    rms_cents: float
    worst_cents: float
    bounds: tuple[Bound, ...]
    starts: tuple[float, ...]
    stopped: bool
    idle: tuple[str, ...] = ()
    played: AsPlayed | None = None
    silent: tuple[str, ...] = ()

    @property
    def chart(self) -> TuningChart:
        """The chart of what was found."""
        return self.setup.chart


def rms_and_worst(off) -> tuple[float, float]:
    """Root mean square and greatest of cents off the target, (rows,), over those that sound; nan where none does."""
    off = np.asarray(off)[np.isfinite(off)]
    return (float(np.sqrt(np.mean(off**2))), float(np.max(np.abs(off)))) if off.size else (np.nan, np.nan)


def silent(chart: TuningChart) -> tuple[str, ...]:
    """Titles of the rows that do not sound."""
    return tuple(row.title for row in chart.rows if row.mode is None)
