"""A chanter known to be good, held against the model: what the model says wrongly of it, it says of the next."""

from __future__ import annotations

import warnings
from dataclasses import replace

import numpy as np

from ..errors import Refusal, check_kind, number
from ..tuning.pull import Played
from ..tuning.setup import Setup
from ..tuning.uncertainty import ModelSpread, model_spread
from ..validity import OutsideRange
from .bore_chart import GaugedChart
from .expected import Expected
from .faults import OWN_CENTS, REED, causes
from .learned import Learned
from .misfit import shared_cents, shared_errors
from .readings import Readings, as_read, usable
from .reed_card import ReedCard
from .reed_fit import ReedFit

# How far the model may be off beside what rivals say, on all notes alike and on each alone; a choice, no source.
MODEL_CENTS = (3.0, 2.0)
BORE = ("throat", "taper")


def learn_from(
    setup: Setup,
    readings: Readings,
    models: ModelSpread | Learned | None = None,
    reed: ReedFit | ReedCard | None = None,
    gauged: GaugedChart | None = None,
    tolerance: float = 1.0,
    model_cents: tuple[float, float] = MODEL_CENTS,
    pitch: Played | None = None,
    same_reed: bool = False,
) -> Learned:
    """What the model says wrongly of a chanter that is known to be good.

    Parameters
    ----------
    setup : Setup
        Of its design, or as it was measured, with the reed that it was read with.
    readings : Readings
        Of its notes; flagged ones are left out.
    models : ModelSpread or Learned, optional
        What is believed beforehand: other published models, those of this setup where nothing is given, or what other
        known chanters taught.  The order in which chanters are read does not matter.
    reed : ReedFit or ReedCard, optional
        The fit of the reed to these readings, whose reed then stands in the setup, nearly free; or its card, whose
        reed then stands there, known as the card says (a number without its error as it is usual).  None takes the
        reed as within `Cause.held`.
    gauged : GaugedChart, optional
        Where the bore of `setup` is the gauged one: what the gauging leaves open stands for the bore's tolerance.
    tolerance : float
        How much of what a workshop holds (`Cause.held`) may have gone wrong with this chanter, 0 to 10: 1 for one
        that nobody measured, 0 for one whose every dimension is as the setup says.
    model_cents : (float, float)
        How far the model may be off, beside what other models say, on all notes alike and on each alone, 0 to 100
        each; counts before the first chanter only.
    pitch : Played, optional
        How the notes were blown (see `Expected`): what is learned then is the model's of tones as played, and the next
        chanter's readings are to be given a pitch too.  None takes them as resonances; what blowing does is then
        learned along, and holds for readings that are blown alike and taken as resonances.
    same_reed : bool
        Whether the next chanter is read with this very reed, on the same day by the same thermometer: what reed and
        air are wrong by is then learned too, and does not hide the holes.

    Raises
    ------
    Refusal
        Something that is no setup or no readings, models or a gauged chart of other fingerings, no reading that can
        be used, another pitch than the fit's, or chanters of one reed among others.

    Notes
    -----
    Beforehand the model is off by N(0, M), where each credible rival's pattern of cents is one standard deviation and
    `model_cents` is added to all notes and to each.  Readings less chart are that, the readings' errors, and what is
    open of the chanter to first order: every dimension within `held`, each note within `OWN_CENTS`.  All is normal,
    so that the mean and the covariance afterwards are in closed form (C. E. Rasmussen and C. K. I. Williams,
    *Gaussian Processes for Machine Learning*, 2006, section 2.2, from memory).  What the workshop always does alike
    is learned along with the model's mistakes.
    """
    tolerance = number("tolerance", tolerance, 0.0, 10.0, "")
    alike, each = (number("model_cents", cents, 0.0, 100.0, "cents") for cents in model_cents)
    if isinstance(reed, ReedFit):
        reed.check_pitch(pitch)
    at = as_read(_with_reed(setup, reed), readings)
    expected = Expected(at, pitch)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", OutsideRange)
        chart, says = at.chart, expected.cents
        own, of_reed = _own(expected, reed, gauged, tolerance)
        models = model_spread(at) if models is None else models
    rows, used = usable(readings, chart, says)
    mean, before = shared_cents(chart, models), shared_errors(chart, models)
    first = isinstance(models, ModelSpread)
    if first:
        before = before + alike**2 + each**2 * np.eye(len(mean)) + (of_reed if same_reed else 0.0)
    elif models.same_reed != same_reed:
        said = "chanters read with one reed and with others are mixed"
        raise Refusal(said, "the same for all known chanters is needed", "same_reed")
    own = own if same_reed else own + of_reed
    off = np.array([r.cents for r in used]) - (says + mean)[rows]
    noise = np.diag([r.error_cents**2 for r in used]) + own[np.ix_(rows, rows)]
    after, covariance = _taught(before, rows, off, noise)
    scatter = np.sqrt(off @ np.linalg.solve(before[np.ix_(rows, rows)] + noise, off) / len(off))
    read = np.bincount(rows, minlength=len(mean)) + (0 if first else models.read)
    deviation = np.sqrt(np.diag(before)) if first else models.before
    worst = float(scatter if first else max(scatter, models.scatter))
    return Learned(chart, mean + after, covariance, deviation, read, same_reed, worst)


def _taught(before, rows, off, noise) -> tuple[np.ndarray, np.ndarray]:
    """Mean (rows,) and covariance of what was N(0, `before`), some rows of which were seen as `off` within `noise`.

    The covariance as a sum of squares, which no rounding makes negative (P. D. Joseph, from memory).
    """
    gain = np.linalg.solve(before[np.ix_(rows, rows)] + noise, before[rows]).T
    kept = np.eye(len(before))
    kept[:, rows] -= gain
    return gain @ off, kept @ before @ kept.T + gain @ noise @ gain.T


def _with_reed(setup: Setup, reed: ReedFit | ReedCard | None) -> Setup:
    if reed is not None:
        check_kind("reed", reed, ReedFit | ReedCard, "a ReedFit, as fit_reed gives it, or a ReedCard")
    if isinstance(reed, ReedFit):
        return reed.setup
    if isinstance(reed, ReedCard):
        check_kind("setup", setup, Setup, "a Setup")
        return replace(setup, base=replace(setup.base, reed=reed.reed, staple=reed.staple or setup.base.staple))
    return setup


def _own(expected: Expected, reed, gauged: GaugedChart | None, tolerance: float) -> tuple[np.ndarray, np.ndarray]:
    """Covariance of what this one chanter's notes have of their own, and of what reed and air give them, (rows, rows)
    each [cents squared]."""
    every = causes(expected.setup)
    slopes = np.nan_to_num([expected.slope(cause.dial) for cause in every])
    held = np.diag([0.0 if gauged and cause.name in BORE else (tolerance * cause.held) ** 2 for cause in every])
    here = [i for i, cause in enumerate(every) if cause.name in REED]
    if reed is not None:
        held[np.ix_(here, here)] = _of_reed(reed, [every[i].usual for i in here])
    lent = np.array([cause.name in (*REED, "temperature") for cause in every])
    alone = np.diag((tolerance * OWN_CENTS) ** 2 + expected.unsure**2)
    alone = alone + shared_errors(expected.setup.chart, gauged=gauged)
    own, of_reed = (slopes[part].T @ held[np.ix_(part, part)] @ slopes[part] for part in (~lent, lent))
    return own + alone, of_reed


def _of_reed(reed: ReedFit | ReedCard, usual: list[float]) -> np.ndarray:
    """Covariance of softness, blades' note and length."""
    if isinstance(reed, ReedFit):
        return np.diag(np.square(usual)) * 4.0
    known = reed.known_to
    given = (known.softness, known.resonance_hz, known.length_mm)
    errors = np.array([one if error is None else error for one, error in zip(usual, given, strict=True)])
    matched = np.eye(3)
    matched[0, 2] = matched[2, 0] = known.correlation or 0.0
    return matched * np.outer(errors, errors)
