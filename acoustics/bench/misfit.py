"""Readings held against a setup: what is left, over its errors, those included that notes share."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from ..errors import Refusal, check_kind
from ..tuning.chart import TuningChart
from ..tuning.dials import Dial
from ..tuning.free import derivative, turned
from ..tuning.pull import Pull
from ..tuning.setup import Setup
from ..tuning.tangent import Tangent
from ..tuning.uncertainty import ModelSpread
from .bore_chart import GaugedChart
from .learned import Learned
from .readings import Readings

SILENT_CENTS = 200.0  # what a note that stays silent counts for, while others are looked for


def shared_errors(
    chart: TuningChart, models: ModelSpread | Learned | None = None, gauged: GaugedChart | None = None
) -> np.ndarray:
    """Covariance of the notes of a chart beside the readings' own errors, (rows, rows) [cents squared].

    Each credible model's pattern of cents counts as one standard deviation; notes that it loses, or that stay silent
    with the gauged bore, add nothing.  Where known chanters were read, what they left open counts.  A `Refusal` for
    models or a gauged chart of other fingerings.
    """
    moved = patterns(chart, models)
    shared = moved.T @ moved
    if isinstance(models, Learned):
        shared = shared + models.covariance
    if gauged is not None:
        check_kind("gauged", gauged, GaugedChart, "a GaugedChart, as gauged_chart gives it,")
        _same(gauged.setup.chart, chart, "gauged")
        shared = shared + np.nan_to_num(gauged.covariance)
    return shared


def patterns(chart: TuningChart, models: ModelSpread | Learned | None = None) -> np.ndarray:
    """How far each credible model moves the notes of a chart, (models, rows) [cents], 0 where it loses one; no model
    where known chanters were read."""
    _check_models(chart, models)
    if not isinstance(models, ModelSpread):
        return np.zeros((0, len(chart.rows)))
    credible = np.array([rival.credible for rival in models.rivals], bool)
    return np.nan_to_num(models.moved[credible]).reshape(-1, len(chart.rows))


def shared_cents(chart: TuningChart, models: ModelSpread | Learned | None = None) -> np.ndarray:
    """How far real chanters are expected from a chart's notes, (rows,) [cents]: as known ones taught, else 0."""
    _check_models(chart, models)
    return models.cents if isinstance(models, Learned) else np.zeros(len(chart.rows))


def _check_models(chart: TuningChart, models: ModelSpread | Learned | None) -> None:
    if models is not None:
        needed = "a ModelSpread, as model_spread gives it, or a Learned, as learn_from gives it,"
        check_kind("models", models, ModelSpread | Learned, needed)
        _same(models.chart, chart, "models")


def _same(given: TuningChart, chart: TuningChart, name: str) -> None:
    if [row.fingering for row in given.rows] != [row.fingering for row in chart.rows]:
        raise Refusal("it is of a pipe with other fingerings", "one of the chanter that was read is needed", name)


@dataclass(frozen=True)
class Misfit:
    """Residuals, each divided by its error, and their exact derivatives.

    Parameters
    ----------
    setup : Setup
    dials : tuple of Dial
        What is free.
    start, held : arrays (dials,)
        Where each stands at first, and 1 over how well that is known, 0 where it is not.
    rows : tuple of int
        Row of the chart of each unflagged reading.
    readings : Readings
    shared : array (chart rows, chart rows)
        As `shared_errors` gives it.
    offset : array (chart rows,)
        As `shared_cents` gives it.
    pull : Pull or None
        Of the notes as played; None for resonances.
    """

    setup: Setup
    dials: tuple[Dial, ...]
    start: np.ndarray
    held: np.ndarray
    rows: tuple[int, ...]
    readings: Readings
    shared: np.ndarray
    offset: np.ndarray
    pull: Pull | None = None

    @cached_property
    def measured(self) -> np.ndarray:
        """What was read, (readings,) [cents]."""
        return np.array([r.cents for r in self.readings.sound])

    @cached_property
    def _covariance(self) -> np.ndarray:
        own = np.diag([r.error_cents**2 for r in self.readings.sound])
        return own + self.shared[np.ix_(self.rows, self.rows)]

    @cached_property
    def _whiten(self) -> np.ndarray:
        return np.linalg.inv(np.linalg.cholesky(self._covariance))

    def kept(self, keep, why: str) -> Misfit:
        """Without some readings, which are flagged with the reason."""
        rows = tuple(row for row, kept in zip(self.rows, keep, strict=True) if kept)
        return replace(self, rows=rows, readings=self.readings.flagged(keep, why))

    def at(self, x) -> Setup:
        """The setup with its dials turned."""
        return turned(self.setup, dict(zip(self.dials, x, strict=True)))

    def every(self, setup: Setup) -> np.ndarray:
        """What each note of a setup should say, (chart rows,) [cents]; nan where nothing sounds, and, as played,
        where nothing was read."""
        if self.pull is None:
            return setup.chart.cents + self.offset
        read = np.isin(np.arange(len(self.offset)), self.rows)
        return np.where(read, setup.chart.cents + self.pull.of(setup), np.nan) + self.offset

    def cents(self, setup: Setup) -> np.ndarray:
        """What each reading should say of a setup, (readings,); nan where nothing sounds."""
        return self.every(setup)[list(self.rows)]

    def residuals(self, x) -> np.ndarray:
        """(readings + dials,)."""
        off = np.nan_to_num(self.cents(self.at(x)) - self.measured, nan=SILENT_CENTS)
        return np.concatenate([self._whiten @ off, self.held * (x - self.start)])

    def jacobian(self, x) -> np.ndarray:
        """(readings + dials, dials)."""
        tangent = Tangent(self.at(x))
        slopes = np.nan_to_num([derivative(tangent, dial) for dial in self.dials]).T
        if self.pull is not None:
            slopes = slopes + self.pull.slopes
        return np.concatenate([self._whiten @ slopes[list(self.rows)], np.diag(self.held)])

    def answer(self, jacobian, moved) -> np.ndarray:
        """How far the dials follow where the notes move, (dials, moves), to first order; `moved` (moves, chart rows)
        [cents], `jacobian` that of the end."""
        whitened = jacobian[: len(self.rows)]
        return np.linalg.solve(jacobian.T @ jacobian, whitened.T @ self._whiten @ moved[:, list(self.rows)].T)

    def left(self, says, jacobian) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """(cents, left, allowed), where `says` (chart rows,) are what the notes should say, and `jacobian` that of
        the end: what each note says by the readings of all others, (chart rows,); how far each reading lies from that,
        and the standard deviation of this, (readings,) each [cents].

        To first order: deleted residuals (R. D. Cook and S. Weisberg, *Residuals and Influence in Regression*, 1982,
        section 2.2, from memory), here of a generalised fit.
        """
        rows, whitened = list(self.rows), jacobian[: len(self.rows)]
        hat = whitened @ np.linalg.solve(jacobian.T @ jacobian, whitened.T)
        precision = np.diag(self._whiten.T @ (np.eye(len(rows)) - hat) @ self._whiten)
        weighed = self._whiten.T @ self._whiten @ (self.measured - says[rows])
        left, cents = weighed / precision, says + self.shared[:, rows] @ weighed
        cents[rows] = self.measured - left
        return cents, left, 1.0 / np.sqrt(precision)
