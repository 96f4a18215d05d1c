"""What this reed is: its few numbers fitted to a tuner's readings, and how well the readings know them."""

from __future__ import annotations

import warnings
from dataclasses import replace

import numpy as np
from scipy.optimize import least_squares

from ..errors import Refusal, check_kind, number
from ..pipes.bore import Bore
from ..tuning.dials import DIALS, Dial
from ..tuning.pull import Played, Pull, met, pull_of
from ..tuning.setup import Setup
from ..tuning.uncertainty import ModelSpread, model_spread
from ..validity import OutsideRange
from .bore_chart import GaugedChart
from .fitted_reed import SAID, SILENT, ReedFit
from .learned import Learned
from .misfit import Misfit, patterns, shared_cents, shared_errors
from .readings import Readings, as_read, chart_rows

RULER_MM, THERMOMETER_C, GAUGE_MM = 1.0, 1.0, 0.03  # one standard deviation; common practice, no source
UNHEARD = "the reed at the start has no tone that lasts"
_BOUNDS = {"softness": (0.0, 3.0), "blades": (700.0, 3000.0), "reed length": (15.0, 50.0)}
USUAL = ("softness", "blades", "reed length")


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
    if name not in SAID:
        raise Refusal(f'"{name}" cannot be fitted', f"one of {', '.join(SAID)} is allowed", "free")
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
        Allows for what other published models say, those of this setup where nothing is given: each credible one's
        pattern of cents becomes an error that the notes share; or for what known chanters taught, which is taken off
        first.  `model_spread(setup, ())` takes the model as true.
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
    Generalised least squares with exact derivatives; standard errors from the curvature at the end, widened by the
    scatter where it is above 1 (R. T. Birge, Phys. Rev. 40, 207, 1932, from memory).  A note that is silent at the end
    is left out, and the rest is fitted again.  Valve and pressures of `pitch` are taken as known; what they are wrong
    by is in no error.
    """
    at, free = as_read(setup, readings), tuple(dict.fromkeys((free,) if isinstance(free, str) else free))
    dials = tuple(_dial(name, at) for name in free)
    rows = chart_rows(readings, at.chart)
    if pitch is not None:
        check_kind("pitch", pitch, Played, "a Played, with the pressures in the bag,")
        heard = pitch.heard(at, rows)
        lasts = np.isfinite(pull_of(heard))
        readings = readings.flagged(lasts, UNHEARD)
        rows, heard = ([one for one, kept in zip(each, lasts, strict=True) if kept] for each in (rows, heard))
    if not free or len(rows) <= len(free):
        said = f"{len(rows)} readings{' of notes that last at these pressures' if pitch else ''}"
        raise Refusal(f"{said} for {len(free)} unknowns", "more readings than unknowns are needed", "fit")
    known = {"reed length": length_error_mm, "temperature": temperature_error_c, "bore": bore_error_mm}
    errors = np.array([number(name, known.get(name, 100.0), 1e-3, 100.0, "") for name in free])
    held = np.array([1.0 / error if name in known else 0.0 for name, error in zip(free, errors, strict=True)])
    start = np.array([dial.read(at) for dial in dials])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", OutsideRange)
        models = model_spread(at) if models is None else models
        shared, offset = shared_errors(at.chart, models, gauged), shared_cents(at.chart, models)
    others = patterns(at.chart, models)

    def problem(pull: Pull | None) -> Misfit:
        return Misfit(at, dials, start, held, tuple(rows), readings, shared, offset, pull)

    def solve(_: Setup, pull: Pull) -> tuple[ReedFit, bool]:
        return _fitted(problem(pull), free, start, others), False

    def cost(setup: Setup, pull: np.ndarray) -> float:
        flat = Pull(dials, start, pull, np.zeros((len(pull), len(dials))))
        return float(np.sum(problem(flat).residuals([dial.read(setup) for dial in dials]) ** 2))

    with warnings.catch_warnings():
        warnings.simplefilter("ignore", OutsideRange)
        if pitch is None:
            return replace(_fitted(problem(None), free, start, others), gauged=gauged)
        fit, played = met(pitch, at, dials, rows, solve, cost, heard)
        return replace(fit, played=played, gauged=gauged)


def _fitted(problem: Misfit, free: tuple[str, ...], start: np.ndarray, others: np.ndarray) -> ReedFit:
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
        return _fitted(problem.kept(sounds, SILENT), free, ended.x, others)
    freedom = len(off) + np.count_nonzero(problem.held) - len(free)
    scatter = float(np.sqrt(2.0 * ended.cost / freedom))
    covariance = np.linalg.inv(ended.jac.T @ ended.jac) * max(1.0, scatter) ** 2
    cents, left, allowed = problem.left(says, ended.jac)
    swayed = np.max(np.abs(problem.answer(ended.jac, others)), axis=1, initial=0.0)
    return ReedFit(
        found, problem.readings, free, dials, ended.x, covariance, cents, problem.rows, left, allowed, scatter, swayed,
        problem.start, problem.held,
    )  # fmt: skip
