"""Which dimension is off: one cause after the other held against a tuner's readings."""

from __future__ import annotations

import warnings
from contextlib import suppress
from dataclasses import dataclass

import numpy as np

from ..errors import Refusal, check_kind
from ..pipes.holes import Key
from ..tuning.dials import DIALS, Dial, hole_dials
from ..tuning.free import turned
from ..tuning.held import SIGMA_IN_DIAGNOSIS, field
from ..tuning.pull import Played
from ..tuning.setup import Setup
from ..tuning.uncertainty import ModelSpread
from ..validity import OutsideRange
from .expected import Expected
from .learned import Learned
from .misfit import shared_cents, shared_errors
from .readings import Readings, as_read, usable
from .reed_fit import ReedFit
from .slips import LIKELY, Slip, slips

NOTHING_WRONG = 0.5  # chance, before reading, that all is within tolerance; a choice, no source
ROUNDS = 4  # in which the secants to the amounts found take the place of slopes; a choice, no source
FARTHEST = 2.0  # times `Cause.usual`, to where a secant reaches; a choice, no source
OWN_CENTS = 1.0  # what a note has of its own, beside every dimension; a choice, no source


@dataclass(frozen=True)
class Cause:
    """One dimension that may be off.

    Parameters
    ----------
    name : str
        "throat", "A: size".
    dial : Dial
    plus, minus : str
        In words, when it came out larger or smaller than the design says.
    usual, held : float
        Standard deviation when it is the culprit, and within which a workshop holds it otherwise, in the
        dial's unit (common practice, no source).
    """

    name: str
    dial: Dial
    plus: str
    minus: str
    usual: float
    held: float

    def said(self, amount: float) -> str:
        """ "the throat is too wide by 0.12 mm"."""
        words, unit = self.plus if amount > 0 else self.minus, self.dial.unit
        return f"{words} by {abs(amount):.2g} {unit}".rstrip()


# Dial, in words when larger and when smaller, then `Cause.usual`; `Cause.held` is of `held.SIGMA_IN_DIAGNOSIS`.
_PARTS = (
    ("softness", "the reed is too soft", "the reed is too stiff", 0.15),
    ("blades", "the blades' own note is too high", "the blades' own note is too low", 60.0),
    ("reed length", "the head of the reed is too long", "the head of the reed is too short", 1.5),
    ("eye", "the eye is too open", "the eye is pressed too far", 0.2),
    ("staple tip", "the staple is too wide at the eye", "the staple is too narrow at the eye", 0.1),
    ("staple foot", "the staple is too wide at its foot", "the staple is too narrow at its foot", 0.1),
    ("insertion", "the staple sits too deep", "the staple sits too shallow", 2.0),
    ("throat", "the throat is too wide", "the throat is too narrow", 0.15),
    ("taper", "the bore is too wide towards the foot", "the bore is too narrow towards the foot", 0.15),
    ("temperature", "the air is warmer than said", "the air is colder than said", 1.0),
)
REED = ("softness", "blades", "reed length")


def _cause(name: str, dial: Dial, plus: str, minus: str, usual: float) -> Cause:
    return Cause(name, dial, plus, minus, usual, SIGMA_IN_DIAGNOSIS[field(dial)])


def causes(setup: Setup) -> tuple[Cause, ...]:
    """Every dimension of a setup that may be off, reed first; round holes and keys only."""
    found = []
    for name, plus, minus, usual in _PARTS:
        try:
            DIALS[name].read(setup)
        except Refusal:  # a round staple has no eye
            continue
        found.append(_cause(name, DIALS[name], plus, minus, usual))
    for hole in setup.base.holes:
        if isinstance(hole, Key) or not isinstance(hole.diameter_mm, tuple):
            dials, it = hole_dials(setup, hole.name), f"the {hole.name} hole"
            size, position = f"{hole.name}: size", f"{hole.name}: position"
            found.append(_cause(size, dials["size"], f"{it} is too large", f"{it} is too small", 0.3))
            found.append(_cause(position, dials["position"], f"{it} is too low", f"{it} is too high up", 1.0))
    return tuple(found)


@dataclass(frozen=True)
class Diagnosis:
    """What the readings say about every cause, and about every note.

    Parameters
    ----------
    expected : Expected
        Of a setup in the air and scale of the readings, with the reed of the fit where there is one.
    readings : Readings
    rows : tuple of int
        Row of the chart of each reading used.
    noise : array (readings used,)
        Their errors [cents].
    causes : tuple of Cause
    chances : array (causes,)
        That this one is the culprit.  What is missing from 1, these and `slip_chances` taken together, is the chance
        that all is within tolerance.
    amounts, errors : arrays (causes,)
        How far each would be off if it were the culprit, with its standard error, in its dial's unit.
    cents, covariance : arrays (rows,), (rows, rows)
        Every note as the readings and the model together have it; nan in rows that do not sound.
    slips : tuple of Slip
        In which the fault may be the reading's.
    slip_chances, slip_amounts : arrays (slips,)
        As `chances` and `amounts`.
    """

    expected: Expected
    readings: Readings
    rows: tuple[int, ...]
    noise: np.ndarray
    causes: tuple[Cause, ...]
    chances: np.ndarray
    amounts: np.ndarray
    errors: np.ndarray
    cents: np.ndarray
    covariance: np.ndarray
    slips: tuple[Slip, ...]
    slip_chances: np.ndarray
    slip_amounts: np.ndarray

    @property
    def setup(self) -> Setup:
        """The chanter as the readings are held against it."""
        return self.expected.setup

    @property
    def ranking(self) -> tuple[tuple[Cause, float, float, float], ...]:
        """(cause, chance, amount, error), the likeliest first."""
        order = np.argsort(-self.chances, kind="stable")
        numbers = (self.chances, self.amounts, self.errors)
        return tuple((self.causes[i], *(float(n[i]) for n in numbers)) for i in order)

    @property
    def all_well(self) -> float:
        """Chance that every dimension lies within the workshop's tolerance."""
        return float(1.0 - self.chances.sum() - self.slip_chances.sum())

    def said_of_nothing(self, noise_cents: float) -> str:
        """Why nothing is suggested, where nothing is, to one whose readings are uncertain by so much."""
        variance = np.diag(self.covariance)
        left = float(np.sqrt(np.mean(variance[np.isfinite(self.cents) & np.isfinite(variance)])))
        if left > noise_cents:
            return f"The readings leave {left:.1f} cents (rms) open, too much to say more: read more notes."
        return f"Nothing would do more good than readings within {noise_cents:.1f} cents can show: leave it."

    @property
    def _slip(self) -> int | None:
        """Which slip is likelier than all else."""
        likeliest = int(np.argmax(self.slip_chances))
        return likeliest if self.slip_chances[likeliest] > LIKELY else None

    @property
    def spoilt(self) -> bool:
        """Whether one slip lies in every reading."""
        return self._slip is not None and self.slips[self._slip].of_all

    @property
    def doubt(self) -> str:
        """What to look at in the readings, in plain words; "" where they need not be doubted."""
        i = self._slip
        return "" if i is None else self.slips[i].said(float(self.slip_amounts[i]), self.readings)


def diagnose(
    setup: Setup,
    readings: Readings,
    fit: ReedFit | None = None,
    models: ModelSpread | Learned | None = None,
    pitch: Played | None = None,
) -> Diagnosis:
    """Hold every cause, and every slip of the reading, against the readings, as the only thing that is wrong.

    Parameters
    ----------
    setup : Setup
        The chanter as designed or measured; its reed is taken as known unless there is a fit.
    readings : Readings
        Flagged ones are left out.
    fit : ReedFit, optional
        Of the reed to these readings: what it fitted then stands in the setup; its reed is nearly free, not suspected,
        and what the gauging left open is allowed for as the fit did.
    models : ModelSpread or Learned, optional
        Allows for what other published models say, each credible one's pattern of cents as one standard deviation; or
        for what known chanters taught, which is taken off first.
    pitch : Played, optional
        How the notes were blown (see `Expected`): the readings, and the notes found, then are of tones as played.
        None takes them as resonances.  Of a fit, what it was given.

    Raises
    ------
    Refusal
        Something that is no setup or no readings, no reading that can be used, or another pitch than the fit's.

    Notes
    -----
    First order in every dimension, but that of loud notes the culprit, if it is no hole, counts along the secant to
    where it is found: half of softness' `usual` bends off its tangent by 1.0 to 1.4 cents rms, of soft ones by 0.4.
    All dimensions vary within `held`, one of them in addition within `usual`,
    every note has `OWN_CENTS` of its own, and the readings have their errors; all are normal, so that chances,
    amounts and notes follow in closed form (Bayes' rule for a linear model; C. E. Rasmussen and C. K. I.
    Williams, *Gaussian Processes for Machine Learning*, 2006, section 2.2, from memory).  Without `models` the
    model is taken as true: what other published ones see otherwise (`tuning.uncertainty`) counts as a fault.
    """
    if fit is not None:
        check_kind("fit", fit, ReedFit, "what fit_reed gives")
        fit.check_pitch(pitch)
    at = as_read(setup, readings)
    if fit is not None:
        at = turned(at, dict(zip(fit.dials, fit.values.tolist(), strict=True)))
    every, expected = causes(at), Expected(at, pitch)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", OutsideRange)
        chart = expected.cents + shared_cents(at.chart, models)
        slopes = np.array([expected.slope(cause.dial) for cause in every])
    rows, used = usable(readings, at.chart, chart)
    off = np.array([r.cents for r in used]) - chart[rows]
    free = [REED.index(c.name) if fit and c.name in REED else None for c in every]
    wide = [c.held if i is None else 2.0 * c.usual for c, i in zip(every, free, strict=True)]
    filled = np.nan_to_num(slopes)
    ground = (filled.T * np.square(wide)) @ filled + np.diag(OWN_CENTS**2 + expected.unsure**2)
    ground = ground + shared_errors(at.chart, models, fit.gauged if fit else None)
    noise = np.array([r.error_cents for r in used])
    kept = [i for i, where in enumerate(free) if where is None and every[i].name != "temperature"]
    suspects, straight, count = tuple(every[i] for i in kept), filled[kept], len(kept)
    slipped, usual = slips(readings, used), np.array([cause.usual for cause in suspects])
    given = usual, ground, np.diag(noise**2), rows, off, slipped
    chances, amounts, errors, moved, covariance = _weighed(straight, *given)
    bends = _bends(expected, suspects, straight, amounts[:count])
    for _ in range(ROUNDS):
        along = np.clip(amounts[:count], -FARTHEST * usual, FARTHEST * usual)
        chances, amounts, errors, moved, covariance = _weighed(straight + along[:, None] * bends, *given)
    found = Diagnosis(
        expected, readings, tuple(rows.tolist()), noise, suspects, chances[:count],
        amounts[:count], errors[:count], chart + moved, covariance, slipped, chances[count:], amounts[count:],
    )  # fmt: skip
    if fit is None or not found.spoilt:
        return found
    unbent = diagnose(setup, readings, None, models, pitch)  # the slip has bent the fitted reed too
    return unbent if unbent.spoilt else found


def _bends(expected: Expected, suspects: tuple[Cause, ...], slopes, amounts) -> np.ndarray:
    """Half the curvature of every loud note, on the side of the amount, (causes, rows) [cents/unit²]; 0 of holes."""
    bends = np.zeros_like(slopes)
    for i, (cause, amount) in enumerate(zip(suspects, amounts, strict=True)):
        by = float(np.copysign(cause.usual, amount))
        if expected.pitch is not None and cause.dial.group != "holes":
            with suppress(Refusal):  # the reed can be no stiffer
                bends[i] = np.nan_to_num((expected.over(cause.dial, by) - slopes[i]) / by)
    return bends


def _weighed(slopes, usual, ground, noise, rows, off, slipped=()):
    """Chances, amounts and their errors, of causes and slips, then mean and covariance of all notes' shifts.

    A slip moves the readings and no note.
    """
    inverse = np.linalg.inv(ground[np.ix_(rows, rows)] + noise)
    patterns = np.array([slip.pattern for slip in slipped]).reshape(-1, len(rows))
    seen, moves = np.vstack([slopes[:, rows], patterns]), np.vstack([slopes, np.zeros((len(slipped), len(ground)))])
    prior = 1.0 / np.square([*usual, *(slip.usual for slip in slipped)])
    before = [slip.chance for slip in slipped]
    each = (1.0 - NOTHING_WRONG - sum(before)) / len(usual)
    precision = np.einsum("kn,nm,km->k", seen, inverse, seen) + prior
    amounts, variance = seen @ inverse @ off / precision, 1.0 / precision
    evidence = 0.5 * np.log(prior * variance) + 0.5 * amounts**2 * precision
    logs = np.append(evidence + np.log([*([each] * len(usual)), *before]), np.log(NOTHING_WRONG))
    chances = np.exp(logs - logs.max())
    chances /= chances.sum()
    gain = ground[:, rows] @ inverse
    own = moves - seen @ gain.T
    means = np.vstack([gain @ off + amounts[:, None] * own, gain @ off])
    mean = chances @ means
    apart = means - mean
    covariance = ground - gain @ ground[rows] + (own.T * (chances[:-1] * variance)) @ own + (apart.T * chances) @ apart
    return chances[:-1], amounts, np.sqrt(variance), mean, covariance
