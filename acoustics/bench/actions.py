"""What to change first: the moves at the bench that do most good, those that can be undone before any cut."""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from html import escape

import numpy as np

from ..errors import Refusal, whole_number
from ..physics.rivals import RIVALS
from ..tuning.chart import IN_TUNE, known, signed
from ..tuning.pull import Played
from ..tuning.setup import Setup
from ..tuning.uncertainty import ModelSpread, model_spread
from ..validity import OutsideRange
from .expected import Expected
from .faults import Diagnosis, diagnose
from .learned import Learned
from .misfit import shared_cents, shared_errors
from .moves import GENTLE, Move, Option, far_enough, listed, moves, unmatched
from .readings import Readings, as_read
from .reed_fit import ReedFit
from .suspects import Suspects

CLEAR = 2.0  # what a move takes away must stand out of the readings' noise by this factor; a choice, no source
BARE = 0.1  # of its good a move keeps that undoes nothing suspected; a choice, no source
REASON = 0.05  # chance that what a cut undoes is off, below which it is not worth the wood; a choice, no source
LONGEST = 5
_CREDIBLE = tuple(rival for rival in RIVALS if rival.credible)
AIMS = {"design": "what the design promises", "scale": "the scale"}


@dataclass(frozen=True)
class Suggestion:
    """One move with its best amount and what it is expected to do.

    Parameters
    ----------
    move : Move
    amount : float
        In the unit of the move's dial; negative turns it down.
    chance : float
        That the dimension which it touches is off as it undoes, beyond tolerance: as the only one, or of a number
        of the reed by the fit.
    suspicion : str
        In words, how far that dimension is off and how likely; "" where that is not beyond tolerance, or the move
        goes the other way.
    after : array (rows,)
        Every note afterwards [cents].
    errors : array (rows,)
        One standard deviation of `after`: the notes as they are now, and how far other published models
        of holes and ends see the step otherwise [cents]; inf where none of them follows the note.
    rms_cents : float
        Expected distance from the aim over all sounding notes afterwards.
    setup : Setup
        The pipe with this move made.
    """

    move: Move
    amount: float
    chance: float
    suspicion: str
    after: np.ndarray
    errors: np.ndarray
    rms_cents: float
    setup: Setup

    @property
    def said(self) -> str:
        """One sentence."""
        do = self.move.said(self.amount)
        why = self.suspicion or "to make up for what is off elsewhere"
        undo = "" if self.move.kind == GENTLE else "; this cannot be undone"
        return f"{do[0].upper()}{do[1:]} ({why}): {self.rms_cents:.1f} cents rms are left{undo}."


@dataclass(frozen=True, repr=False)
class Plan:
    """A short list of suggestions, in the order to try them.  Shows itself as a table in a notebook.

    Parameters
    ----------
    diagnosis : Diagnosis
    suggestions : tuple of Suggestion
        None left where nothing is expected to do more good than the readings can show, or one slip spoilt all of them.
    aim : str
        "design" or "scale".
    rms_cents : float
        Expected distance from the aim over all sounding notes as things are.
    noise_cents : float
        Root mean square of the readings' errors.
    """

    diagnosis: Diagnosis
    suggestions: tuple[Suggestion, ...]
    aim: str
    rms_cents: float
    noise_cents: float

    @property
    def notes(self) -> tuple[str, ...]:
        """Titles of the chart's rows."""
        return tuple(row.title for row in self.diagnosis.setup.chart.rows)

    @property
    def before(self) -> np.ndarray:
        """Every note as readings and model together have it, (rows,) [cents]."""
        return self.diagnosis.cents

    @property
    def before_errors(self) -> np.ndarray:
        """Their standard deviations, (rows,) [cents]."""
        return np.sqrt(np.diag(self.diagnosis.covariance))

    @property
    def said(self) -> str:
        """In plain sentences, one line each."""
        doubt, well = self.diagnosis.doubt, 100.0 * self.diagnosis.all_well
        if self.diagnosis.spoilt:
            return doubt
        lead = f"{doubt}\nAs it is, its notes lie {self.rms_cents:.1f} cents (rms) from {AIMS[self.aim]}.".lstrip()
        if not self.suggestions:
            return f"{lead} {self.diagnosis.said_of_nothing(self.noise_cents)}"
        if well > 50.0:
            lead += f" Every dimension may still be within its tolerance, {well:.0f} chances in 100."
        read = list(self.diagnosis.rows)
        known = np.array(self.notes)[read], self.before[read]
        how_far = (far_enough(one.move, *known, one.after[read]) for one in self.suggestions)
        said = zip(self.suggestions, how_far, strict=True)
        return "\n".join([lead, *(f"{i}. {one.said}{far}" for i, (one, far) in enumerate(said, 1))])

    def __repr__(self) -> str:
        return self.said

    def _repr_html_(self) -> str:
        heads = "".join(f"<th>{i}</th>" for i in range(1, len(self.suggestions) + 1))
        body = ""
        for i, note in enumerate(self.notes):
            cells = [(self.before[i], self.before_errors[i]), *((s.after[i], s.errors[i]) for s in self.suggestions)]
            said = "".join(
                f"<td>{signed(v)} ± {known(error)}</td>" if np.isfinite(v) else "<td>none</td>" for v, error in cells
            )
            unread = "" if i in self.diagnosis.rows else ", no clear reading"
            body += f"<tr><th style='text-align:left'>{escape(note)}{unread}</th>{said}</tr>"
        lines = "".join(f"<p style='max-width:48em'>{escape(line)}</p>" for line in self.said.splitlines())
        head = f"<thead><tr><th>cents after</th><th>now</th>{heads}</tr></thead>"
        return f"{lines}<table>{head}<tbody>{body}</tbody></table>"


def what_to_change(
    setup: Setup,
    readings: Readings,
    fit: ReedFit | None = None,
    aim: str = "design",
    most: int = LONGEST,
    models: ModelSpread | Learned | None = None,
    pitch: Played | None = None,
) -> Plan:
    """The moves that bring both octaves nearest to where they should be, those that can be undone first.

    Parameters
    ----------
    setup : Setup
        The chanter as designed or measured, with its reed.
    readings : Readings
        Of this chanter; missing notes are filled in from the model.
    fit : ReedFit, optional
        Of the reed to the same readings, when the reed is not known beforehand.
    aim : "design" or "scale"
        Where the notes should be: where the setup's own chart has them, or on the scale itself, for a pipe
        whose design is not to be trusted.
    most : int
        Suggestions to show at most, 1 to 100; one for each dimension.
    models : ModelSpread or Learned, optional
        Allows for what other published models say, or known chanters taught (see `diagnose`), also of what the
        design promises.
    pitch : Played, optional
        How the notes were blown (see `diagnose`); what the design promises, and all that is foretold, then are
        tones as they are played.

    Returns
    -------
    Plan

    Raises
    ------
    Refusal
        As for `diagnose`; another aim, or none to show.

    Notes
    -----
    Notes and their covariance come from `diagnose`.  The good of a move is the drop of the expected rms at its best
    amount; with the aim "design" it counts by the chance, among all suspects, of what it undoes, and `BARE` on top.
    What is worth doing is listed by `moves.listed`.  A move is left out when the sum of squares that it takes away is
    below `CLEAR` squared times the variance along its pattern of notes of the readings and, of the aim "design" with
    `models`, of what is promised.  A cut needs a reason: with the aim "design" a chance of what it undoes of at least
    `REASON`, with "scale" that the note which it shifts most is out of tune (`IN_TUNE`) and that nothing that can be
    undone does as much good.
    """
    if aim not in tuple(AIMS):
        raise Refusal(f"{aim!r} is no aim", f"{' or '.join(AIMS)} is allowed", "aim")
    most = whole_number("most", most, 1, 100, "suggestions")
    diagnosis = diagnose(setup, readings, fit, models, pitch)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", OutsideRange)
        target, doubt = np.zeros(len(diagnosis.cents)), None
        if aim == "design":
            promise = diagnosis.expected if fit is None else Expected(as_read(setup, readings), pitch)
            target, doubt = promise.cents + shared_cents(promise.setup.chart, models), models
        suspects = Suspects(diagnosis, setup, fit)
        judge = _Judge(diagnosis, target, shared_errors(diagnosis.setup.chart, doubt), suspects)
        tried = () if diagnosis.spoilt else moves(diagnosis.setup)
        options = [judge.option(move, aim == "design") for move in tried]
        chosen = listed(options if aim == "design" else unmatched(options))[:most]
        base = model_spread(diagnosis.setup, _CREDIBLE) if chosen else None
        made = tuple(judge.suggestion(option, base) for option in chosen)
    noise = float(np.sqrt(np.mean([r.error_cents**2 for r in readings.sound])))
    return Plan(diagnosis, made, aim, judge.rms(diagnosis.cents), noise)


class _Judge:
    """How much good a move is expected to do."""

    def __init__(self, diagnosis: Diagnosis, target, doubt, suspects: Suspects):
        self.diagnosis, self.setup, self.target, self.suspects = diagnosis, diagnosis.setup, target, suspects
        self.sounds = np.isfinite(diagnosis.cents) & np.isfinite(target)
        self.rows = np.array(diagnosis.rows)
        self.doubt = np.diag(diagnosis.noise**2) + doubt[np.ix_(self.rows, self.rows)]
        self.spread = float(np.mean(np.diag(diagnosis.covariance)[self.sounds]))

    def rms(self, cents) -> float:
        """Root of the expected mean square off the target, over the notes that sound, their covariance included."""
        return float(np.sqrt(np.mean((cents - self.target)[self.sounds] ** 2) + self.spread))

    def per_unit(self, move: Move) -> np.ndarray:
        """Cents of every row per unit of the move's dial; for tape and rush over half of their way."""
        if move.finite:
            return self.diagnosis.expected.over(move.dial, 0.5 * move.farthest)
        return self.diagnosis.expected.slope(move.dial)

    def turned(self, move: Move, amount: float) -> Setup:
        return move.dial.turn(self.setup, round(move.dial.read(self.setup) + amount, 6))

    def best(self, move: Move) -> tuple[float, float]:
        """(drop of the rms, amount) on a whole step of the move; (0, 0) where the readings could not show it."""
        per_unit = self.per_unit(move)
        if not np.all(np.isfinite(per_unit[self.sounds])):
            return 0.0, 0.0
        slope, cents = per_unit[self.sounds], (self.diagnosis.cents - self.target)[self.sounds]
        wanted = -float(slope @ cents) / max(float(slope @ slope), 1e-12)
        way, reach = float(np.sign(move.farthest)), abs(move.farthest)
        steps = np.trunc(np.clip(way * wanted, 0.0, reach) / move.step + 0.5)
        amount = way * min(round(float(steps) * move.step, 6), reach)
        taken = float(np.sum(cents**2) - np.sum((cents + amount * slope) ** 2))
        if amount == 0.0 or taken < CLEAR**2 * self.noise(per_unit):
            return 0.0, 0.0
        return self.rms(self.diagnosis.cents) - self.rms(self.diagnosis.cents + amount * per_unit), amount

    def noise(self, per_unit) -> float:
        """Variance along a pattern of notes [cents squared], the larger of that of readings and target and that of the
        notes as they are known; endless where none was read."""
        pattern, whole = per_unit[self.rows], np.where(self.sounds, per_unit, 0.0)
        if not np.any(pattern):
            return np.inf
        known = float(whole @ np.nan_to_num(self.diagnosis.covariance) @ whole) / float(whole @ whole)
        return max(float(pattern @ self.doubt @ pattern) / float(pattern @ pattern), known)

    def out_of_tune(self, move: Move) -> bool:
        """Whether the note that a move shifts most stands more than `IN_TUNE` off the target."""
        most = np.argmax(np.where(self.sounds, np.abs(self.per_unit(move)), 0.0))
        return abs(self.diagnosis.cents[most] - self.target[most]) > IN_TUNE

    def option(self, move: Move, by_chance: bool) -> Option:
        """A move at its best; its good counts by the chance of what it undoes, if wanted."""
        gain, amount = self.best(move)
        chance, share, suspicion = self.suspects.of(move)
        if move.kind != GENTLE and not (chance >= REASON if by_chance else self.out_of_tune(move)):
            gain = 0.0
        if by_chance:
            gain *= BARE + share
        return Option(move, amount, gain, by_chance and not suspicion)

    def suggestion(self, option: Option, base: ModelSpread) -> Suggestion:
        setup = self.turned(option.move, option.amount)
        after = self.diagnosis.cents + self.diagnosis.expected.moved(setup)
        unsure = base.of_change(model_spread(setup, _CREDIBLE))
        errors = np.sqrt(np.diag(self.diagnosis.covariance) + np.nan_to_num(unsure, nan=np.inf) ** 2)
        chance, _, suspicion = self.suspects.of(option.move)
        return Suggestion(option.move, option.amount, chance, suspicion, after, errors, self.rms(after), setup)
