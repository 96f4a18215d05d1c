"""What tolerance costs: many chanters drawn from a workshop's own tolerances, each charted in full."""

from __future__ import annotations

import multiprocessing
import os
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np

from ..errors import Refusal, check_kind, whole_number
from ..pipes.holes import Key
from ..validity import OutsideRange
from .dials import DIALS, Dial, hole_dials
from .free import derivative, turned
from .held import SIGMA, field
from .setup import Setup
from .tangent import Tangent

_BATCH = 100


@dataclass(frozen=True)
class Tolerance:
    """How well one kind of dimension is held.

    Parameters
    ----------
    name : str
        As a maker says it.
    dials : tuple of Dial
        Each is off by its own draw.
    sigma : float
        Standard deviation, in the dials' unit; about a third of what the maker calls his tolerance.
    """

    name: str
    dials: tuple[Dial, ...]
    sigma: float


def workshop(setup: Setup) -> tuple[Tolerance, ...]:
    """Tolerances of a careful small workshop (`held.SIGMA`), of what the setup has: no eye is pressed into a round
    staple, and an oval hole has no dials."""
    fingers = [hole for hole in setup.base.holes if not isinstance(hole, Key)]
    dials = [hole_dials(setup, hole.name) for hole in fingers if not isinstance(hole.diameter_mm, tuple)]
    eye = [] if setup.base.staple.eye_opening_mm is None else [DIALS["eye"]]
    kinds = {
        "size of each finger hole": [one["size"] for one in dials],
        "place of each finger hole": [one["position"] for one in dials],
        "reamer: foot": [DIALS["taper"]],
        "reamer depth: throat": [DIALS["throat"]],
        "staple inside": [DIALS["staple tip"], DIALS["staple foot"]],
        "eye opening": eye,
        "depth of the staple in the wood": [DIALS["insertion"]],
        "softness of the blades": [DIALS["softness"]],
        "the blades' own note": [DIALS["blades"]],
        "temperature": [DIALS["temperature"]],
    }
    return tuple(_usual(said, *turned_by) for said, turned_by in kinds.items() if turned_by)


def _usual(said: str, *dials: Dial) -> Tolerance:
    sigma = SIGMA[field(dials[0])]
    return Tolerance(f"{said}, {sigma:g} {dials[0].unit}".rstrip(), dials, sigma)


@dataclass(frozen=True)
class Spread:
    """Outcome of the draws.

    Parameters
    ----------
    notes : tuple of str
    drawn : array (draws, rows)
        Cents of every drawn chanter against the scale; nan where a note did not sound.
    spread, first_order : arrays (rows,)
        Standard deviation of each note, drawn and from the derivatives [cents].
    shares : array (tolerances, rows)
        Share of each tolerance in a note's variance, from the derivatives.
    tolerances : tuple of str
    refused : int
        Draws that could not be built.
    """

    notes: tuple[str, ...]
    drawn: np.ndarray
    spread: np.ndarray
    first_order: np.ndarray
    shares: np.ndarray
    tolerances: tuple[str, ...]
    refused: int

    def within(self, cents: float, at=None) -> np.ndarray:
        """Share of chanters, note by note, within so many cents of `at` (the scale when None), (rows,)."""
        off = np.abs(self.drawn - (0.0 if at is None else np.asarray(at)))
        return np.mean(off <= cents, axis=0)

    def all_within(self, cents: float, at=None) -> float:
        """Share of chanters whose every note lies within so many cents of `at`, the scale when None."""
        off = np.abs(self.drawn - (0.0 if at is None else np.asarray(at)))
        return float(np.mean(np.all(off <= cents, axis=1)))

    @property
    def ranking(self) -> tuple[tuple[str, float], ...]:
        """Tolerances by their share in the whole variance: which to buy tighter first."""
        variance = self.first_order**2
        whole = np.nansum(self.shares * variance, axis=1) / np.nansum(variance)
        order = np.argsort(-whole)
        return tuple((self.tolerances[i], float(whole[i])) for i in order)


def _deviations(tolerances, draws: int, seed: int) -> np.ndarray:
    sigma = np.concatenate([np.full(len(t.dials), t.sigma) for t in tolerances])
    return np.random.default_rng(seed).normal(size=(draws, len(sigma))) * sigma


def _charted(setup: Setup, tolerances, draws: int, seed: int, progress, workers: int | None) -> np.ndarray:
    """Cents of every drawn chanter (draws, rows), charted in batches by so many processes."""
    dials = [dial for tolerance in tolerances for dial in tolerance.dials]
    batch = partial(_batch, setup, dials, _deviations(tolerances, draws, seed))
    parts = [(i, min(i + _BATCH, draws)) for i in range(0, draws, _BATCH)]
    drawn, done = [], 0
    with _pool(batch, min(workers or os.cpu_count() or 1, len(parts))) as run:
        for some in run(parts):
            drawn.append(some)
            done += len(some)
            if progress is not None:
                progress(done, draws)
    return np.concatenate(drawn)


def _batch(setup: Setup, dials, off, rows: tuple[int, int]) -> np.ndarray:
    """Charts of some of the draws."""
    stand = np.array([dial.read(setup) for dial in dials])
    out = np.full((rows[1] - rows[0], len(setup.chart.rows)), np.nan)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", OutsideRange)
        for i in range(rows[0], rows[1]):
            try:
                out[i - rows[0]] = turned(setup, dict(zip(dials, stand + off[i], strict=True))).chart.cents
            except Refusal:
                continue
    return out


def tolerance_spread(
    setup: Setup,
    tolerances: tuple[Tolerance, ...] | None = None,
    draws: int = 10_000,
    seed: int = 0,
    progress: Callable[[int, int], None] | None = None,
    workers: int | None = None,
) -> Spread:
    """Draw chanters from a workshop's tolerances and chart each in both octaves.

    Parameters
    ----------
    setup : Setup
    tolerances : tuple of Tolerance, optional
        `workshop(setup)` when None.
    draws : int
        10 to 1 000 000.
    seed : int
        The same seed draws the same chanters.
    progress : callable, optional
        Called with (charts made, draws).
    workers : int, optional
        Processes to share the work, as many as there are cores when None.

    Returns
    -------
    Spread

    Raises
    ------
    Refusal
        No setup, no tolerance, something else than one, or another number of draws.
    """
    check_kind("setup", setup, Setup, "a Setup")
    tolerances = workshop(setup) if tolerances is None else tuple(tolerances)
    if not tolerances:
        raise Refusal("no tolerance is given", "at least one is needed", "tolerances")
    for tolerance in tolerances:
        check_kind("tolerances", tolerance, Tolerance, "a Tolerance")
    draws = whole_number("draws", draws, 10, 1_000_000)
    drawn = _charted(setup, tolerances, draws, seed, progress, workers)
    tangent = Tangent(setup)
    variance = np.array([sum((derivative(tangent, d) * t.sigma) ** 2 for d in t.dials) for t in tolerances])
    whole = variance.sum(axis=0)
    sounds = ~np.all(np.isnan(drawn), axis=0)
    spread = np.full(len(sounds), np.nan)
    spread[sounds] = np.nanstd(drawn[:, sounds], axis=0)
    return Spread(
        notes=tuple(row.title for row in setup.chart.rows),
        drawn=drawn,
        spread=spread,
        first_order=np.sqrt(whole),
        shares=variance / whole,
        tolerances=tuple(t.name for t in tolerances),
        refused=int(np.all(np.isnan(drawn), axis=1).sum()),
    )


class _pool:
    """A task shared by processes that inherit it, for dials cannot be sent, or done by this process alone."""

    def __init__(self, task: Callable, workers: int):
        forks = "fork" in multiprocessing.get_all_start_methods() and workers > 1
        self.task = task
        self.pool = multiprocessing.get_context("fork").Pool(workers, _inherit, (task,)) if forks else None

    def __enter__(self):
        return partial(self.pool.imap, _inherited) if self.pool else partial(map, self.task)

    def __exit__(self, *_):
        if self.pool:
            self.pool.terminate()
            self.pool.join()


def _inherit(task: Callable) -> None:
    """In a process of the pool, which has one task: remember it."""
    _inherited.task = task


def _inherited(part):
    return _inherited.task(part)
