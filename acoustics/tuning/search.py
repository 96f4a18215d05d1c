"""Find the dimensions: least squares over chosen dials for the scale in both octaves."""

from __future__ import annotations

import warnings
from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np
from scipy.optimize import least_squares

from ..errors import Refusal, check_kind, whole_number
from ..validity import OutsideRange
from .dials import Dial
from .found import Bound, Found, rms_and_worst, silent
from .free import derivative, turned
from .pull import Played, Pull, met
from .rules import FIRM, Rules
from .setup import Setup
from .tangent import Tangent

SILENT_CENTS = 200.0
_EDGE = 2e-6


class _Stop(Exception):
    pass


class _Problem:
    """Residuals over the dials, scaled to their ranges; remembers the best point seen."""

    def __init__(self, setup, dials, target, weights, octaves, rules, progress=None, pull: Pull | None = None):
        self.setup, self.dials, self.rules, self.progress = setup, list(dials.values()), rules, progress
        self.low = np.array([dial.low for dial in self.dials])
        self.span = np.array([dial.high - dial.low for dial in self.dials])
        self.target, self.weights, self.octaves, self.pull = target, weights, octaves, pull
        rows = setup.chart.rows
        lines = [line for line in setup.chart.lines if all(line)] if octaves else []
        self.pairs = np.array([[rows.index(row) for row in line] for line in lines], int).reshape(-1, 2)
        names = [hole.name for hole in setup.base.holes]
        self.moving = {name for name in names for dial in self.dials if dial.label.startswith(f"{name}: ")}
        self.best, self.least, self.seen, self.felt = setup, np.inf, 0, np.zeros(len(self.dials), bool)
        self.firm, self._at = FIRM[-1], None
        ruled = len(rules.misses(setup, self.moving)) + len(rules.bends(setup))
        self._size = len(weights) + len(self.pairs) + ruled

    def at(self, x) -> Setup | None:
        """The setup at a point, None where it cannot be built; beside a limit that of the limit."""
        asked = np.array(x)
        if self._at is None or not np.array_equal(self._at[0], x):
            x = np.where(x < _EDGE, 0.0, np.where(x > 1.0 - _EDGE, 1.0, x))
            values = dict(zip(self.dials, self.low + x * self.span, strict=True))
            try:
                setup = turned(self.setup, values)
                setup.chart  # noqa: B018  (refused here when it cannot be built)
            except Refusal:
                setup = None
            self._at = (asked, setup)
        return self._at[1]

    def off(self, setup: Setup) -> np.ndarray:
        """Cents of every row off its target; nan where nothing sounds."""
        pull = 0.0 if self.pull is None else self.pull.of(setup)
        return setup.chart.cents + pull - self.target

    def cents(self, setup: Setup) -> np.ndarray:
        """The same, `SILENT_CENTS` where nothing sounds."""
        return np.nan_to_num(self.off(setup), nan=SILENT_CENTS)

    def slope(self, tangent: Tangent, i: int) -> np.ndarray:
        """Cents of every row per unit of a dial, with what it does to the pull."""
        found = slope(tangent, self.dials[i])
        return found if self.pull is None else found + self.pull.slopes[:, i]

    def weighted(self, cents) -> np.ndarray:
        """Weighted cents of the rows (..., rows), then of the octaves' stretch."""
        stretch = self.octaves * (cents[self.pairs[:, 1]] - cents[self.pairs[:, 0]])
        return np.concatenate([self.weights * cents, stretch])

    def cost(self, setup: Setup) -> float:
        """Sum of squares, the rules held firmly."""
        soft = np.concatenate([self.weighted(self.cents(setup)), self.rules.bends(setup)])
        return float(np.sum(soft**2) + np.sum((FIRM[-1] * self.rules.misses(setup, self.moving)) ** 2))

    def residuals(self, x) -> np.ndarray:
        setup = self.at(x)
        if setup is None:
            return np.full(self._size, SILENT_CENTS)
        soft = np.concatenate([self.weighted(self.cents(setup)), self.rules.bends(setup)])
        misses = self.rules.misses(setup, self.moving)
        out = np.concatenate([soft, self.firm * misses])
        self.seen += 1
        whole = float(np.sum(soft**2) + np.sum((FIRM[-1] * misses) ** 2))
        if whole < self.least:
            self.least, self.best = whole, setup
        if self.progress is not None and self.progress(self.seen, float(np.sqrt(np.mean(self.cents(self.best) ** 2)))):
            raise _Stop
        return out

    def jacobian(self, x) -> np.ndarray:
        setup = self.at(x)
        if setup is None:
            return np.zeros((self._size, len(x)))
        tangent = Tangent(setup)
        base, columns = self._ruled(setup), []
        for i, dial in enumerate(self.dials):
            moves = self.slope(tangent, i)
            self.felt[i] |= np.any(moves != 0.0)
            by = 1e-4 if x[i] < 0.5 else -1e-4
            try:
                rule = (self._ruled(dial.turn(setup, dial.read(setup) + by * self.span[i])) - base) / by
            except Refusal:
                rule = np.zeros_like(base)
            columns.append(np.concatenate([self.weighted(moves * self.span[i]), rule]))
        return np.array(columns).T

    def _ruled(self, setup) -> np.ndarray:
        return np.concatenate([self.rules.bends(setup), self.firm * self.rules.misses(setup, self.moving)])


def search(
    setup: Setup,
    dials: Mapping[str, Dial],
    target_cents=None,
    weights=None,
    octaves: float = 0.0,
    rules: Rules | None = None,
    starts: int = 1,
    seed: int = 0,
    progress: Callable[[int, float], bool | None] | None = None,
    pitch: Played | None = None,
) -> Found:
    """Turn dials, between their limits, until every note in both octaves comes as near as it can.

    Parameters
    ----------
    setup : Setup
        Where to start; what is not a dial stays as it is.
    dials : {name: Dial}
    target_cents : array (rows,), optional
        Where each row should lie against the scale; 0 when None.
    weights : array (rows,), optional
        How much each row counts; 1 when None.
    octaves : float
        How much the agreement of the two octaves counts beside the rows themselves.
    rules : Rules, optional
    starts : int
        1 to 1000: the first from where the dials stand, the others from random places around it.
    seed : int
        The same seed finds the same design.
    progress : callable, optional
        Called with (charts made, best rms so far in cents, silent notes counted as 200); return True to stop.
        Stopping, or an interrupt, keeps the best so far.
    pitch : Played, optional
        Take the notes as they are played at its pressures, which takes longer (see `pull.met`); resonances
        when None.

    Raises
    ------
    Refusal
        No dials, a dial outside its limits, or targets and weights that are not one for each row.
    """
    check_kind("setup", setup, Setup, "a Setup")
    if not dials:
        raise Refusal("no dimension is free", "at least one dial is needed", "search")
    rows, starts = len(setup.chart.rows), whole_number("starts", starts, 1, 1000)
    target, weights = _of_rows(setup, target_cents, 0.0), _of_rows(setup, weights, 1.0)
    rules = Rules() if rules is None else rules
    check_kind("rules", rules, Rules, "a Rules")
    if pitch is None:
        return _afresh(_found(_Problem(setup, dials, target, weights, octaves, rules, progress), starts, seed))

    def solve(start: Setup, pull: Pull) -> tuple[Found, bool]:
        many = starts if start is setup else 1
        found = _found(_Problem(start, dials, target, weights, octaves, rules, progress, pull), many, seed)
        return found, found.stopped

    def cost(at: Setup, pull: np.ndarray) -> float:
        return _Problem(at, dials, target - pull, weights, octaves, rules).cost(at)

    with warnings.catch_warnings():
        warnings.simplefilter("ignore", OutsideRange)
        found, played = met(pitch, setup, list(dials.values()), range(rows), solve, cost)
    rms, worst = rms_and_worst(played.cents - target)
    return _afresh(replace(found, rms_cents=rms, worst_cents=worst, played=played, silent=played.silent))


def _of_rows(setup: Setup, values, otherwise: float) -> np.ndarray:
    """Numbers for the rows of a setup's chart, `otherwise` when None, or a `Refusal`."""
    rows = len(setup.chart.rows)
    try:
        found = np.full(rows, otherwise) if values is None else np.asarray(values, float)
    except (TypeError, ValueError):
        found = np.empty(0)
    if found.shape != (rows,) or not np.all(np.isfinite(found)):
        raise Refusal(f"targets and weights must have {rows} numbers", "one for each row is needed", "search")
    return found


def _afresh(found: Found) -> Found:
    """With a setup whose chart is still to be made, so that it warns."""
    return replace(found, setup=replace(found.setup))


def _found(problem: _Problem, starts: int, seed: int) -> Found:
    middle = (np.array([dial.read(problem.setup) for dial in problem.dials]) - problem.low) / problem.span
    for dial, place in zip(problem.dials, middle, strict=True):
        if not -1e-9 <= place <= 1.0 + 1e-9:
            said = f"{dial.read(problem.setup):g} lies outside {dial.low:g} to {dial.high:g}"
            raise Refusal(said, "a start between the limits is needed", dial.name)
    random, reached, stopped = np.random.default_rng(seed), [], False
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", OutsideRange)
        middle = _stirred(problem, middle)
        for start in range(starts):
            away = 0.0 if start == 0 else random.normal(0.0, 0.08, len(middle))
            try:
                reached.append(_from(problem, np.clip(middle + away, 1e-6, 1.0 - 1e-6)))
            except (_Stop, KeyboardInterrupt):
                stopped = True
                break
        rms, worst = rms_and_worst(problem.off(problem.best))
        idle = () if stopped else tuple(d.name for d, f in zip(problem.dials, problem.felt, strict=True) if not f)
        mute = silent(problem.best.chart)
        return Found(problem.best, rms, worst, _bounds(problem), tuple(reached), stopped, idle, silent=mute)


def whole_cost(setup: Setup, dials: Mapping[str, Dial], target_cents, weights, rules: Rules) -> float:
    """What a search with these dials makes least, of a setup [cents squared]."""
    return _Problem(setup, dials, _of_rows(setup, target_cents, 0.0), _of_rows(setup, weights, 1.0), 0.0, rules).cost(
        setup
    )


def _stirred(problem: _Problem, x) -> np.ndarray:
    """A start with those dials one step off their limit that have no slope there: a shut foot, a wire not there."""
    edge = [i for i in range(len(x)) if min(x[i], 1.0 - x[i]) < _EDGE]
    if not edge or problem.at(x) is None:
        return x
    tangent, moved = Tangent(problem.setup), np.array(x)
    for i in edge:
        try:
            still = not np.any(np.nan_to_num(derivative(tangent, problem.dials[i])))
        except Refusal:
            still = True
        if still:
            moved[i] += np.copysign(min(problem.dials[i].step / problem.span[i], 0.5), 0.5 - x[i])
    if np.array_equal(moved, x) or problem.at(moved) is None:
        return x
    problem.residuals(x)
    return moved


def slope(tangent: Tangent, dial: Dial) -> np.ndarray:
    """Cents of every row per unit of a dial, 0 where nothing sounds.

    A foot that is shut or a wire that is not there has no slope: the chord over one step of the dial stands in.
    """
    try:
        return np.nan_to_num(derivative(tangent, dial))
    except Refusal:
        setup, value = tangent.setup, dial.read(tangent.setup)
    for by in (dial.step, -dial.step):
        try:
            if dial.low <= value + by <= dial.high:
                return np.nan_to_num((dial.turn(setup, value + by).chart.cents - setup.chart.cents) / by)
        except Refusal:
            continue
    return np.zeros(len(setup.chart.rows))


def _from(problem: _Problem, x) -> float:
    """One start of the search; its rms [cents].  The rules are held loosely first, to get past them, then firmly."""
    ruled = len(problem.rules.misses(problem.setup, problem.moving))
    for problem.firm in FIRM:
        ended = least_squares(
            problem.residuals, x, problem.jacobian, bounds=(0.0, 1.0), xtol=1e-6, ftol=1e-6, max_nfev=60
        )
        if not np.any(ended.fun[-ruled:]):
            break
        x = np.clip(ended.x, 1e-6, 1.0 - 1e-6)
    return float(np.sqrt(2.0 * ended.cost / (len(problem.weights) + len(problem.pairs))))


def _bounds(problem: _Problem) -> tuple[Bound, ...]:
    """Limits at which dials of the best design lie, and what one step beyond each would win."""
    x = (np.array([dial.read(problem.best) for dial in problem.dials]) - problem.low) / problem.span
    held = [i for i in range(len(x)) if min(x[i], 1.0 - x[i]) < 2e-3]
    if not held:
        return ()
    miss = problem.weighted(problem.cents(problem.best))
    rms, tangent, out = float(np.sqrt(np.mean(miss**2))), Tangent(problem.best), []
    for i in held:
        dial = problem.dials[i]
        beyond = dial.step if x[i] > 0.5 else -dial.step
        moves = problem.weighted(problem.slope(tangent, i))
        wins = -float(np.mean(miss * moves)) * beyond / max(rms, 1e-9)
        out.append(Bound(dial.name, dial.high if x[i] > 0.5 else dial.low, min(max(wins, 0.0), rms)))
    return tuple(sorted(out, key=lambda bound: -bound.wins_cents))
