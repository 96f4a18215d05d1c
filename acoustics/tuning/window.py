"""Between which pressures in the bag a tone lasts, and what it becomes beyond: where registers take over."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import islice

import numpy as np

from ..errors import check_kind
from ..physics.balance import Balance, Lost, Steady
from ..physics.stability import growing
from ..physics.valve import Valve
from ..units import cents
from .load import loads
from .outcome import Heard, settled
from .played import PlayedRow, became, lasting, sounds
from .setup import Setup

LOWEST_PA, HIGHEST_PA = 1000.0, 7000.0
_HALVINGS, _BEYOND = 4, 0.02


@dataclass(frozen=True)
class Window:
    """The pressures at which one tone lasts, and the tones along them.

    Parameters
    ----------
    row : PlayedRow
        The note, with a tone that lasts.
    tones : tuple of Steady
        From the lowest pressure to the highest.
    open_below, open_above : bool
        Whether the tone still lasts at `LOWEST_PA` or `HIGHEST_PA`, where the search ends.
    below, above : Heard or None
        What is heard in the end a little beyond; None where the window is open there.
    """

    row: PlayedRow
    tones: tuple[Steady, ...]
    open_below: bool
    open_above: bool
    below: Heard | None = None
    above: Heard | None = None

    @property
    def low(self) -> float:
        """Lowest pressure in the bag at which it lasts [Pa]."""
        return LOWEST_PA if self.open_below else self.tones[0].mouth_pressure

    @property
    def high(self) -> float:
        """Highest pressure in the bag at which it lasts [Pa]."""
        return HIGHEST_PA if self.open_above else self.tones[-1].mouth_pressure

    @property
    def pressure(self) -> np.ndarray:
        """In the bag, array (tones,) [Pa]."""
        return np.array([tone.mouth_pressure for tone in self.tones])

    @property
    def cents(self) -> np.ndarray:
        """Pitch against the target, array (tones,) [cents]."""
        return np.array([float(cents(tone.frequency, self.row.row.target_hz)) for tone in self.tones])

    @property
    def said(self) -> str:
        """In a sentence: from where to where, and what is heard beyond."""
        ends = [
            f"{where} {at / 1e3:.1f} {self.beyond(where)}" for where, at in (("below", self.low), ("above", self.high))
        ]
        return "; ".join([f"lasts from {self.low / 1e3:.1f} to {self.high / 1e3:.1f} kPa", *ends])

    def near(self, mouth_pressure: float) -> Steady | None:
        """The nearest of its tones, as a guess for one at another pressure [Pa]; None outside of the window."""
        if not self.low <= mouth_pressure <= self.high:
            return None
        nearest = self.tones[int(np.argmin(np.abs(self.pressure - mouth_pressure)))]
        return replace(nearest, mouth_pressure=mouth_pressure)

    def beyond(self, where: str) -> str:
        """What is heard "below" or "above" the window."""
        end, tone = (self.below, self.tones[0]) if where == "below" else (self.above, self.tones[-1])
        return "it still lasts" if end is None else became(end, float(cents(end.frequency, tone.frequency)))


def windows(setup: Setup, valve: Valve, rows) -> tuple[Window, ...]:
    """The windows of those played rows of a setup whose tones last.

    Parameters
    ----------
    setup : Setup
    valve : Valve
    rows : sequence of PlayedRow
        Of this setup with this valve; those that do not last are left out.

    Returns
    -------
    tuple of Window

    Raises
    ------
    Refusal
        Something else than a setup, a valve or played rows.

    Notes
    -----
    From the row's tone the branch is followed up and down in pressure until the tone no longer lasts, its
    branch turns round, or the search ends; the edge is then closed in to a sixteenth of the last step.  What
    becomes of the tone there is played in the time domain from the edge, 2 % beyond its pressure.
    """
    check_kind("setup", setup, Setup, "a Setup")
    check_kind("valve", valve, Valve, "a Valve")
    for row in rows:
        check_kind("rows", row, PlayedRow, "a PlayedRow, as played_chart has them,")
    gas, chosen = setup.air.gas, [row for row in rows if row.lasts]
    if not chosen:
        return ()
    patterns = tuple(dict.fromkeys(row.row.fingering.pattern for row in chosen))
    seen = dict(zip(patterns, loads(setup.pipe, patterns, gas), strict=True))
    found, ends = [], []
    for row in chosen:
        balance = Balance(seen[row.row.fingering.pattern], valve, gas, len(row.tone.pressure))
        found.append(span(balance, row))
        shut = {"below": not found[-1].open_below, "above": not found[-1].open_above}
        ends += [(len(found) - 1, side, balance) for side, there in shut.items() if there]
    for index, side, end in _beyond(found, ends, valve, gas):
        found[index] = replace(found[index], **{side: end})
    return tuple(found)


def span(balance: Balance, row: PlayedRow) -> Window:
    """The window of a tone that lasts; what is heard beyond its edges is not looked for."""
    below, shut = _side(balance, row.tone, -1.0)
    above, shut_above = _side(balance, row.tone, 1.0)
    return Window(row, (*below[:0:-1], *above), not shut, not shut_above)


def followed(setup: Setup, valve: Valve, window: Window, mouth_pressure: float) -> PlayedRow | None:
    """A window's row at another pressure inside it, the tone that a piper stays on; None where it is lost."""
    guess, row, gas = window.near(mouth_pressure), window.row, setup.air.gas
    if guess is None:
        return None
    load = loads(setup.pipe, [row.row.fingering.pattern], gas)[0]
    tone = lasting(Balance(load, valve, gas, len(guess.pressure)), guess)
    if tone is None:
        return None
    return replace(row, mouth_pressure=mouth_pressure, tone=tone, status=sounds(tone, row.onset))


def _beyond(found, ends, valve, gas):
    """(window, side, what is heard) of every shut side."""
    if not ends:
        return
    tones = [found[index].tones[0 if side == "below" else -1] for index, side, _ in ends]
    mouth = [
        tone.mouth_pressure * (1.0 - _BEYOND if side == "below" else 1.0 + _BEYOND)
        for tone, (_, side, _) in zip(tones, ends, strict=True)
    ]
    heard = settled([balance.admittance for *_, balance in ends], valve, gas, mouth, tones)
    for (index, side, _), (end, _) in zip(ends, heard, strict=True):
        yield index, side, end


def _side(balance: Balance, tone: Steady, way: float) -> tuple[list[Steady], bool]:
    """Lasting tones from one outward in pressure, and whether they come to an edge."""
    begun = balance.point(tone)
    if begun is None:
        return [tone], True
    kept, closing = [begun], balance.valve.closing_pressure
    with suppress(Lost):
        for x, along in islice(balance.walk(begun[0], way * begun[1]), 1, None):
            if not LOWEST_PA <= x[-1] * closing <= HIGHEST_PA:
                return _to_the_end(balance, [balance.steady(*one) for one in kept], way), False
            if way * along[-1] <= 0.0 or x[0] <= 0.0 or not _lasts(balance, x):
                edge = _edge(balance, kept[-1][0], x)
                kept += [] if edge is kept[-1][0] else [(edge, along)]
                break
            kept.append((x, along))
    return [balance.steady(*one) for one in kept], True


def _to_the_end(balance: Balance, tones: list[Steady], way: float) -> list[Steady]:
    """Tones outward, and where the search ends the one that lasts there."""
    end = HIGHEST_PA if way > 0.0 else LOWEST_PA
    short = way * (end - tones[-1].mouth_pressure) > 0.0
    last = lasting(balance, replace(tones[-1], mouth_pressure=end)) if short else None
    return [*tones, last] if last else tones


def _edge(balance: Balance, inside, outside):
    """The last tone that lasts between two neighbours."""
    for _ in range(_HALVINGS):
        middle = balance.between(inside, outside)
        if middle is None:
            break
        inside, outside = (middle, outside) if _lasts(balance, middle) else (inside, middle)
    return inside


def _lasts(balance: Balance, x) -> bool:
    return growing(balance.steady(x), balance.admittance, balance.valve, balance.gas) == 0
