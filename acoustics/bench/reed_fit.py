"""What this reed is: its few numbers fitted to a tuner's readings, and how well the readings know them."""

from __future__ import annotations

import warnings
from dataclasses import dataclass, replace
from html import escape

import numpy as np
from scipy.optimize import least_squares

from ..errors import Refusal, check_kind, number
from ..pipes.bore import Bore
from ..pipes.reed import Reed
from ..tuning.dials import DIALS, Dial
from ..tuning.pull import AsPlayed, Played, Pull, met, pull_of
from ..tuning.setup import Setup
from ..tuning.uncertainty import ModelSpread
from ..validity import OutsideRange
from .bore_chart import GaugedChart
from .learned import Learned
from .misfit import Misfit, shared_cents, shared_errors
from .readings import Readings, as_read, chart_rows

RULER_MM, THERMOMETER_C, GAUGE_MM = 1.0, 1.0, 0.03  # one standard deviation; common practice, no source
ALIKE, PLAIN_FAULT = 0.9, 2.0
UNHEARD = "the reed at the start has no tone that lasts"
SILENT = "the fitted reed does not sound it"
_BOUNDS = {"softness": (0.0, 3.0), "blades": (700.0, 3000.0), "reed length": (15.0, 50.0)}
_SAID = {"softness": "softness", "blades": "the blades' own note", "reed length": "effective length"}
_SAID |= {"temperature": "temperature", "bore": "bore wider by"}
USUAL = ("softness", "blades", "reed length")


@dataclass(frozen=True, repr=False)
class ReedFit:
    """A reed as the readings see it.  Shows itself as a table in a notebook.

    Parameters
    ----------
    setup : Setup
        The pipe with the fitted numbers, in the air and scale of the readings.
    readings : Readings
        Those of notes that stay silent at the end are flagged.
    names : tuple of str
        What was fitted: "softness", "blades", "reed length", "temperature", "bore".
    dials : tuple of Dial
        One for each name.
    values : array (names,)
    covariance : array (names, names)
        In the units of the dials; widened by `scatter` where that is above 1.
    cents : array (chart rows,)
        What every note says with the fitted reed, as played if asked for, and with what known chanters taught; nan
        where nothing sounds, and for notes as played where nothing was read.
    rows : tuple of int
        Row of the chart of each unflagged reading.
    residuals : array (readings,)
        Reading minus fit [cents]: what no reed explains.
    allowed : array (readings,)
        One standard deviation that each was allowed: of the reading, the gauging and the models together [cents].
    scatter : float
        Root of chi-square per degree of freedom: 1 where the residuals are as large as the stated errors.
    played : AsPlayed or None
        Of a fit to played notes; None of one to resonances.
    gauged : GaugedChart or None
        What the fit allowed for of the gauging.
    """

    setup: Setup
    readings: Readings
    names: tuple[str, ...]
    dials: tuple[Dial, ...]
    values: np.ndarray
    covariance: np.ndarray
    cents: np.ndarray
    rows: tuple[int, ...]
    residuals: np.ndarray
    allowed: np.ndarray
    scatter: float
    played: AsPlayed | None = None
    gauged: GaugedChart | None = None

    @property
    def reed(self) -> Reed:
        """The fitted reed."""
        return self.setup.base.reed

    @property
    def errors(self) -> np.ndarray:
        """Standard errors, (names,), each in its dial's unit."""
        return np.sqrt(np.diag(self.covariance))

    @property
    def correlations(self) -> np.ndarray:
        """Correlation matrix, (names, names)."""
        return self.covariance / np.outer(self.errors, self.errors)

    @property
    def alike(self) -> tuple[tuple[str, str, float], ...]:
        """Pairs that these readings can hardly tell apart: (name, name, correlation)."""
        matrix, n = self.correlations, len(self.names)
        pairs = [(self.names[i], self.names[j], float(matrix[i, j])) for i in range(n) for j in range(i)]
        return tuple(pair for pair in pairs if abs(pair[2]) >= ALIKE)

    def check_pitch(self, pitch: Played | None) -> None:
        """A `Refusal` where a fit to notes as played meets resonances, or the other way round."""
        if (self.played is None) != (pitch is None):
            what, needed = "notes as played and resonances are mixed", "the pitch that the fit was given is needed"
            raise Refusal(what, needed, "pitch")

    def interval(self, name: str) -> tuple[float, float]:
        """The 95 % interval of one number: 1.96 standard errors either side."""
        i = self.names.index(name)
        reach = 1.96 * self.errors[i]
        return float(self.values[i] - reach), float(self.values[i] + reach)

    @property
    def own_faults(self) -> tuple[tuple[str, float], ...]:
        """(note, cents) off the fit by more than twice what they are allowed: the chanter's own, not the reed's."""
        each = zip(self.readings.sound, self.residuals, self.allowed, strict=True)
        return tuple((r.title, float(off)) for r, off, error in each if abs(off) > PLAIN_FAULT * error)

    @property
    def silent(self) -> tuple[str, ...]:
        """Notes that were read but that the fitted reed does not sound: left out."""
        return tuple(r.title for r in self.readings.rows if r.flag == SILENT)

    @property
    def said(self) -> str:
        """In plain sentences."""
        numbers = (self._number(i) for i in range(len(self.names)))
        out = [f"From {len(self.rows)} readings: {'; '.join(numbers)}."]
        if self.silent:
            out.append(f"Left out, as the fitted reed does not sound them: {'; '.join(self.silent)}.")
        for one, two, matched in self.alike:
            i, j = self.names.index(one), self.names.index(two)
            slope = matched * self.errors[j] / self.errors[i]
            step = 10.0 ** np.floor(np.log10(self.errors[i]))
            out.append(
                f"These readings can hardly tell {_SAID[one]} from {_SAID[two]} (correlation {matched:+.2f}): "
                f"{_amount(self.dials[i], step)} in the one and {_amount(self.dials[j], slope * step)} in the "
                "other sound alike."
            )
        if self.scatter > 1.5:
            out.append(
                f"The readings lie {self.scatter:.1f} times as far off as their errors allow: something beside the "
                "reed is not as the design says, and the errors above are widened by as much."
            )
        for note, off in self.own_faults:
            out.append(f"{note}, is {abs(off):.0f} cents {'sharp' if off > 0 else 'flat'} beside what this reed does.")
        if self.played is not None:
            out.append(f"Taken as played.{'' if self.played.clear else f' {self.played}'}")
        return " ".join(out)

    def _number(self, i: int) -> str:
        unit, value, error = self.dials[i].unit, self.values[i], self.errors[i]
        digits = max(0, 1 - int(np.floor(np.log10(error))))
        return f"{_SAID[self.names[i]]} {value:.{digits}f} ± {error:.{digits}f} {unit}".rstrip()

    def __repr__(self) -> str:
        return self.said

    def _repr_html_(self) -> str:
        body = ""
        for i, name in enumerate(self.names):
            cells = self._number(i).removeprefix(_SAID[name]).strip()
            body += f"<tr><th style='text-align:left'>{escape(_SAID[name])}</th><td>{escape(cells)}</td></tr>"
        return f"<table><tbody>{body}</tbody></table><p style='max-width:48em'>{escape(self.said)}</p>"


def _amount(dial: Dial, value: float) -> str:
    return f"{value:+.2g} {dial.unit}".rstrip()


def _bore_dial(setup: Setup) -> Dial:
    """All of the bore wider by so much."""
    given = setup.base.bore

    def read(other):
        return other.base.bore.stations_mm[0][1] - given.stations_mm[0][1]

    def turn(other, value):
        bore = Bore(tuple((at, size + value) for at, size in given.stations_mm))
        return replace(other, base=replace(other.base, bore=bore))

    return Dial("bore", "bore wider by", "mm", -0.3, 0.3, 0.01, read, turn)


def _dial(name: str, setup: Setup) -> Dial:
    if name not in _SAID:
        raise Refusal(f'"{name}" cannot be fitted', f"one of {', '.join(_SAID)} is allowed", "free")
    return _bore_dial(setup) if name == "bore" else DIALS[name]


def fit_reed(
    setup: Setup,
    readings: Readings,
    free: tuple[str, ...] = USUAL,
    length_error_mm: float = RULER_MM,
    temperature_error_c: float = THERMOMETER_C,
    bore_error_mm: float = GAUGE_MM,
    models: ModelSpread | Learned | None = None,
    pitch: Played | None = None,
    gauged: GaugedChart | None = None,
) -> ReedFit:
    """The reed that explains a tuner's readings best, with standard errors.

    Parameters
    ----------
    setup : Setup
        The chanter as measured, with a reed to start from, whose length is what a ruler says.
    readings : Readings
        Flagged ones are left out; at least as many as numbers to fit.
    free : tuple of str
        Of "softness", "blades", "reed length", "temperature", "bore" (all of it wider by so much).
    length_error_mm, temperature_error_c, bore_error_mm : float
        How well ruler, thermometer and gauges know what they say, one standard deviation, 0.001 to 100.
        Each counts as one more reading; without the first, length and softness can hardly be told apart.
    models : ModelSpread or Learned, optional
        Allows for what other published models say: each credible one's pattern of cents becomes an error
        that the notes share; or for what known chanters taught, which is taken off first.
    pitch : Played, optional
        How hard the notes were blown, and with which lips: the readings then are of tones as they are played (see
        `pull.met`).  A note that the reed at the start does not sound is flagged.  None takes them as resonances.
    gauged : GaugedChart, optional
        Allows for what the gauging leaves open of each note, where the bore of `setup` is the gauged one.

    Returns
    -------
    ReedFit

    Raises
    ------
    Refusal
        Too few readings of notes that sound, an unknown name, a note that the pipe has no fingering for, a pitch of
        another kind, or a gauged chart of another pipe.

    Notes
    -----
    Weighted (with `models` or `gauged` generalised) least squares with exact derivatives; standard errors from the
    curvature at the end, widened by the scatter where it is above 1 (R. T. Birge, Phys. Rev. 40, 207, 1932,
    from memory).  A note that is silent at the end is left out, and the rest is fitted again.  Valve and pressures
    of `pitch` are taken as known; what they are wrong by is in no error.
    """
    at, free = as_read(setup, readings), tuple(dict.fromkeys(free))
    dials = tuple(_dial(name, at) for name in free)
    rows = chart_rows(readings, at.chart)
    if pitch is not None:
        check_kind("pitch", pitch, Played, "a Played, with the pressures in the bag,")
        heard = np.isfinite(pull_of(pitch.heard(at, rows)))
        readings, rows = readings.flagged(heard, UNHEARD), [row for row, kept in zip(rows, heard, strict=True) if kept]
    if not free or len(rows) <= len(free):
        raise Refusal(f"{len(rows)} readings for {len(free)} unknowns", "more readings than unknowns are needed", "fit")
    known = {"reed length": length_error_mm, "temperature": temperature_error_c, "bore": bore_error_mm}
    errors = np.array([number(name, known.get(name, 100.0), 1e-3, 100.0, "") for name in free])
    held = np.array([1.0 / error if name in known else 0.0 for name, error in zip(free, errors, strict=True)])
    start, offset = np.array([dial.read(at) for dial in dials]), shared_cents(at.chart, models)
    shared = shared_errors(at.chart, models, gauged)

    def problem(pull: Pull | None) -> Misfit:
        return Misfit(at, dials, start, held, tuple(rows), readings, shared, offset, pull)

    def solve(_: Setup, pull: Pull) -> tuple[ReedFit, bool]:
        return _fitted(problem(pull), free, start), False

    def cost(setup: Setup, pull: np.ndarray) -> float:
        flat = Pull(dials, start, pull, np.zeros((len(pull), len(dials))))
        return float(np.sum(problem(flat).residuals([dial.read(setup) for dial in dials]) ** 2))

    with warnings.catch_warnings():
        warnings.simplefilter("ignore", OutsideRange)
        if pitch is None:
            return replace(_fitted(problem(None), free, start), gauged=gauged)
        fit, played = met(pitch, at, dials, rows, solve, cost)
        return replace(fit, played=played, gauged=gauged)


def _fitted(problem: Misfit, free: tuple[str, ...], start: np.ndarray) -> ReedFit:
    dials = problem.dials
    limits = [_BOUNDS.get(name, (dial.low, dial.high)) for name, dial in zip(free, dials, strict=True)]
    low, high = np.transpose(limits)
    start = np.clip(start, low + 1e-6, high - 1e-6)
    ended = least_squares(problem.residuals, start, problem.jacobian, bounds=(low, high), x_scale="jac", xtol=1e-10)
    found = problem.at(ended.x)
    says = problem.every(found)
    off = problem.measured - says[list(problem.rows)]
    sounds = np.isfinite(off)
    if not np.all(sounds):
        if np.count_nonzero(sounds) <= len(free):
            said = f"the best reed found sounds {np.count_nonzero(sounds)} of {len(off)} notes for {len(free)} unknowns"
            raise Refusal(said, "more notes than unknowns must sound", "fit")
        return _fitted(problem.kept(sounds, SILENT), free, ended.x)
    freedom = len(off) + np.count_nonzero(problem.held) - len(free)
    scatter = float(np.sqrt(2.0 * ended.cost / freedom))
    covariance = np.linalg.inv(ended.jac.T @ ended.jac) * max(1.0, scatter) ** 2
    return ReedFit(
        found, problem.readings, free, dials, ended.x, covariance, says, problem.rows, off, problem.allowed, scatter
    )
