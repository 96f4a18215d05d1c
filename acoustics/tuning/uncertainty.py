"""What a chart hangs on: the same notes under other published models of holes, ends and walls."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import check_kind
from ..physics.air import Gas
from ..physics.network import Column, column, eye_spectrum, states
from ..physics.rivals import RIVALS, Rival
from ..units import cents
from .chart import TuningChart
from .resonances import STRONG, Lips, Mode, band, find_modes, first_target
from .setup import Setup

LOST_CENTS = 150.0


@dataclass(frozen=True)
class ModelSpread:
    """A chart's notes under the house's own models and under others.

    Parameters
    ----------
    chart : TuningChart
        Under the own models.
    rivals : tuple of Rival
    cents : array (rivals, rows)
        Every note against the scale, under each rival; nan where it cannot be followed.
    """

    chart: TuningChart
    rivals: tuple[Rival, ...]
    cents: np.ndarray

    @property
    def notes(self) -> tuple[str, ...]:
        """Titles of the rows."""
        return tuple(row.title for row in self.chart.rows)

    @property
    def moved(self) -> np.ndarray:
        """How far each rival moves each note from the chart, (rivals, rows) [cents]."""
        return self.cents - self.chart.cents

    @property
    def uncertainty(self) -> np.ndarray:
        """The farthest that any credible rival moves each note, (rows,) [cents]; nan where none follows it."""
        return _farthest(self.moved[self._credible])

    @property
    def relative(self) -> np.ndarray:
        """The same after each rival's mean over the notes is taken off: what retuning the whole does not cure."""
        moved = self.moved[self._credible]
        moved = moved[np.any(np.isfinite(moved), axis=1)]
        return _farthest(moved - np.nanmean(moved, axis=1, keepdims=True))

    @property
    def _credible(self) -> np.ndarray:
        return np.array([rival.credible for rival in self.rivals])

    def of_change(self, other: ModelSpread) -> np.ndarray:
        """How unsure the step from this pipe to `other` is: farthest that a credible rival's step lies from
        the own, (rows,) [cents]; nan where none follows the note."""
        own = other.chart.cents - self.chart.cents
        step = (other.cents - self.cents)[self._credible]
        return _farthest(step - own)


def _farthest(moved) -> np.ndarray:
    """Over those that follow each note: (rivals, rows) to (rows,), nan where none does."""
    return np.fmax.reduce(np.abs(moved), axis=0, initial=np.nan)


def model_spread(setup: Setup, rivals: tuple[Rival, ...] = RIVALS) -> ModelSpread:
    """Every note of a setup under other published models.

    Parameters
    ----------
    setup : Setup
    rivals : tuple of Rival

    Returns
    -------
    ModelSpread

    Raises
    ------
    Refusal
        No setup.

    Notes
    -----
    Under each rival the mode nearest to the chart's own is followed, up to `LOST_CENTS` away, of those that the lips
    hold at least a quarter as firmly as any there: without losses others ring that nobody hears.

    Warns
    -----
    OutsideRange
        Where a hole lies outside the range of a rival's formula.
    """
    check_kind("setup", setup, Setup, "a Setup")
    built = column(setup.pipe)
    rows = [_followed(setup, rival.change(built), _gas(setup, rival)) for rival in rivals]
    return ModelSpread(setup.chart, rivals, np.array(rows).reshape(len(rivals), len(setup.chart.rows)))


def _gas(setup: Setup, rival: Rival) -> Gas:
    return setup.air.lossless if rival.lossless else setup.air.gas


def _followed(setup: Setup, built: Column, gas: Gas) -> list[float]:
    """Cents of every row of the setup's chart on this column, by the mode nearest to the chart's."""
    fingerings = [row.fingering for row in setup.chart.rows]
    patterns = tuple(dict.fromkeys(fingering.pattern for fingering in fingerings))
    low, high = band([first_target(fingering, setup.scale) for fingering in fingerings])
    eye = eye_spectrum(built, states(built, patterns), low, high, gas)
    found = find_modes(Lips(eye, setup.pipe.head, gas), low, high)
    out = []
    for row in setup.chart.rows:
        modes = found[patterns.index(row.fingering.pattern)]
        apart = {float(cents(mode.frequency, row.sounding_hz)): _hold(mode) for mode in modes}
        near = {by: hold for by, hold in apart.items() if abs(by) <= LOST_CENTS}
        kept = [by for by, hold in near.items() if hold >= STRONG * max(near.values())]
        out.append(row.cents + min(kept, key=abs, default=np.nan))
    return out


def _hold(mode: Mode) -> float:
    """Strength over Q, which losses do not change: how firmly the lips hold a mode."""
    return abs(mode.strength / mode.quality)
