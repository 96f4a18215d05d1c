"""Aiming at played notes: what pulls a loud tone off its resonance, and how that changes with the design."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..errors import Refusal, check_kind, number
from ..physics.balance import Balance, Lost
from ..physics.valve import Valve
from ..units import cents
from .dials import Dial
from .load import loads
from .played import DEMO_VALVE, PRESSURE_FIRST, PRESSURE_SECOND, PlayedRow, played_rows
from .setup import Setup

STILL_CENTS, MOST_ROUNDS, MOST_IDLE = 0.2, 8, 2
_SHARE = 0.1  # of a dial's step, for slopes


@dataclass(frozen=True)
class Pull:
    """Played less resonance of every row [cents], to first order in the dials about one design.

    Parameters
    ----------
    dials : tuple of Dial
    values : array (dials,)
        Where they stand in that design.
    pull : array (rows,)
        0 for rows that are not asked for.
    slopes : array (rows, dials)
        In cents for each unit of a dial.
    """

    dials: tuple[Dial, ...]
    values: np.ndarray
    pull: np.ndarray
    slopes: np.ndarray

    def of(self, setup: Setup) -> np.ndarray:
        """Of another setup, array (rows,) [cents]."""
        return self.pull + self.slopes @ (_read(self.dials, setup) - self.values)


@dataclass(frozen=True, repr=False)
class AsPlayed:
    """What was found, as it is played.  Says in a notebook how far it can be trusted.

    Parameters
    ----------
    rows : tuple of PlayedRow
        Those asked for.
    off : array (rows,)
        Pull found less pull reckoned with [cents]; nan where no tone lasts.
    rounds : int
    """

    rows: tuple[PlayedRow, ...]
    off: np.ndarray
    rounds: int

    @property
    def cents(self) -> np.ndarray:
        """Played error of each row [cents]; nan where no tone lasts."""
        return np.array([row.lasting_cents for row in self.rows])

    @property
    def silent(self) -> tuple[str, ...]:
        """Notes without a tone that lasts."""
        return tuple(row.row.title for row in self.rows if not row.lasts)

    @property
    def settled(self) -> bool:
        """Whether there are tones that last, and all lie where they were reckoned, within 0.2 cents."""
        known = self.off[np.isfinite(self.off)]
        return bool(len(known) and np.all(np.abs(known) < STILL_CENTS))

    @property
    def clear(self) -> bool:
        """Whether every note has a tone that lasts, where it was reckoned."""
        return self.settled and not self.silent

    def __str__(self) -> str:
        if len(self.silent) == len(self.rows):
            return "No note has a tone that lasts at these pressures, so that resonances were aimed at."
        many = f"Best of {self.rounds} rounds" if self.rounds > 1 else "One round"
        if self.settled:
            said = f"{many}; settled: all tones lie within {STILL_CENTS:g} cents of where they were reckoned."
        else:
            worst = int(np.nanargmax(np.abs(self.off)))
            title = self.rows[worst].row.title
            said = f"{many}; not settled: {title}, lies {self.off[worst]:+.1f} cents from where it was reckoned."
        return f"{said} No tone that lasts: {'; '.join(self.silent)}." if self.silent else said

    def __repr__(self) -> str:
        return str(self)


@dataclass(frozen=True)
class Played:
    """Take notes as they are played, not their resonances: the `pitch` of `search` and `fit_reed`.

    Parameters
    ----------
    valve : Valve
    pressure_first, pressure_second : float
        In the bag, for notes of the first and of the second octave, 100 to 20000 [Pa].
    """

    valve: Valve = DEMO_VALVE
    pressure_first: float = PRESSURE_FIRST
    pressure_second: float = PRESSURE_SECOND

    def __post_init__(self):
        check_kind("valve", self.valve, Valve, "a Valve")
        for name in ("pressure_first", "pressure_second"):
            object.__setattr__(self, name, number(name, getattr(self, name), 100.0, 20000.0, "Pa"))

    def heard(self, setup: Setup, rows: Sequence[int]) -> tuple[PlayedRow, ...]:
        """Some rows of a setup's chart, by their numbers, as they are played."""
        chosen = [setup.chart.rows[i] for i in rows]
        bags = [(self.pressure_first, self.pressure_second)[row.fingering.register - 1] for row in chosen]
        return played_rows(setup, self.valve, chosen, bags)

    def about(self, setup: Setup, heard: Sequence[PlayedRow], rows: Sequence[int], dials, silent) -> Pull:
        """The pull about a setup whose `rows` were heard as `heard`; `silent` (rows,) where no tone lasts."""
        found, values = pull_of(heard), _read(dials, setup)
        pull, slopes = np.zeros(len(setup.chart.rows)), np.zeros((len(setup.chart.rows), len(dials)))
        pull[rows] = np.where(np.isfinite(found), found, silent)
        for i, dial in enumerate(dials):
            slopes[rows, i] = np.nan_to_num(self._slope(setup, heard, rows, dial, found))
        return Pull(tuple(dials), values, pull, slopes)

    def _slope(self, setup: Setup, heard, rows, dial: Dial, before: np.ndarray) -> np.ndarray:
        value = dial.read(setup)
        for by in (_SHARE * dial.step, -_SHARE * dial.step):
            if dial.low <= value + by <= dial.high:
                try:
                    return (self.followed(dial.turn(setup, value + by), heard, rows) - before) / by
                except Refusal:
                    continue
        return np.zeros(len(heard))

    def followed(self, setup: Setup, heard: Sequence[PlayedRow], rows: Sequence[int]) -> np.ndarray:
        """Pull of `rows` on a setup a little different from that where they were heard (rows,) [cents].

        Each tone stays on its branch; nan where there was none that lasts, or it is lost on the way.
        """
        chosen, gas = [setup.chart.rows[i] for i in rows], setup.air.gas
        patterns = tuple(dict.fromkeys(row.fingering.pattern for row in chosen))
        seen = dict(zip(patterns, loads(setup.pipe, patterns, gas), strict=True))
        found = np.full(len(heard), np.nan)
        for i, (row, one) in enumerate(zip(chosen, heard, strict=True)):
            if one.lasts:
                try:
                    tone = Balance(seen[row.fingering.pattern], self.valve, gas).again(one.tone)
                except Lost:
                    continue
                found[i] = cents(tone.frequency, row.target_hz) - row.cents
        return found


def _read(dials: Sequence[Dial], setup: Setup) -> np.ndarray:
    return np.array([dial.read(setup) for dial in dials])


def pull_of(heard: Sequence[PlayedRow]) -> np.ndarray:
    """Played less resonance of each row [cents]; nan where no tone lasts."""
    return np.array([row.lasting_cents - row.resonance_cents for row in heard])


def of_their_octave(heard: Sequence[PlayedRow]) -> np.ndarray:
    """Median pull of the notes that last in each row's octave, (rows,) [cents]; 0 where none does."""
    found, octave = pull_of(heard), np.array([row.row.fingering.register for row in heard])
    known = np.isfinite(found)
    return np.array([np.median(found[known & (octave == one)]) if np.any(known & (octave == one)) else 0.0
                     for one in octave])  # fmt: skip


def met(
    pitch: Played,
    setup: Setup,
    dials: Sequence[Dial],
    rows: Sequence[int],
    solve: Callable[[Setup, Pull], tuple[object, bool]],
    cost: Callable[[Setup, np.ndarray], float],
    heard: Sequence[PlayedRow] | None = None,
):
    """Solve for resonances, again and again, with the pull reckoned from what was found before.

    Parameters
    ----------
    pitch : Played
    setup : Setup
        Where to start.
    dials : sequence of Dial
    rows : sequence of int
        Of the chart, that count.
    solve : callable
        (setup to start from, pull) -> what was found, with its `setup`, and whether to stop there.
    cost : callable
        (setup, its own pull (chart rows,)) -> what is to be least.
    heard : sequence of PlayedRow, optional
        The rows as they are played at the start, where that is known.

    Returns
    -------
    What was found with the least cost, and it as played.

    Notes
    -----
    Ends when no tone lies more than 0.2 cents from where it was reckoned, when the cost has not come down for two
    rounds, or after 8.  A note without a tone that lasts keeps its last pull, at first the median of its octave's.
    Where a note has two tones that last, it may jump from one to the other, some 10 cents, in the next design as
    on the bench; the result then is not settled, or that note is off while all others are met.
    """
    rows = list(rows)
    heard = pitch.heard(setup, rows) if heard is None else heard
    silent, best, idle = of_their_octave(heard), None, 0
    for count in range(1, MOST_ROUNDS + 1):
        pull = pitch.about(setup, heard, rows, dials, silent)
        found, stopped = solve(setup, pull)
        setup, reckoned = found.setup, pull.of(found.setup)[rows]
        heard = pitch.heard(setup, rows)
        own = pull_of(heard)
        played = AsPlayed(heard, own - reckoned, count)
        silent = np.where(np.isfinite(own), own, pull.pull[rows])
        whole = np.zeros(len(setup.chart.rows))
        whole[rows] = silent
        least = cost(setup, whole)
        idle = 0 if best is None or least < best[0] else idle + 1
        if not idle:
            best = least, found, played
        if stopped or played.settled or idle == MOST_IDLE:
            break
    return best[1], replace(best[2], rounds=count)
