"""Does a note speak from rest?  What comes when the pressure is there at once, and which resonance is to blame."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import check_kind, number
from ..physics.in_time import RATE, echoes, sounding
from ..physics.valve import Valve
from ..units import cents
from .chart import Row
from .load import loads
from .outcome import SECONDS, Heard, settled
from .played import SAME_NOTE, PlayedRow, became
from .resonances import Mode, find_modes, lips
from .setup import Setup

LOWEST_HZ, HIGHEST_HZ = 200.0, 3000.0


@dataclass(frozen=True)
class Attack:
    """What comes of a note from rest.

    Parameters
    ----------
    row : PlayedRow
        The note, at the pressure of the attack.
    end : Heard
        What is heard half a second later.
    blame : Mode or None
        The resonance nearest to what is heard, where that is not the note.
    """

    row: PlayedRow
    end: Heard
    blame: Mode | None

    @property
    def speaks(self) -> bool:
        """Whether the note itself is heard in the end."""
        return self.end.kind == "steady" and abs(float(cents(self.end.frequency, self.row.row.target_hz))) < SAME_NOTE

    @property
    def said(self) -> str:
        """In words: what happens, and the resonance nearest to it."""
        if self.speaks:
            return "speaks"
        said = became(self.end, float(cents(self.end.frequency, self.row.row.target_hz)))
        return f"{said}; nearest resonance {self.blame.frequency:.0f} Hz" if self.blame else said


def attacks(setup: Setup, valve: Valve, rows, rise: float = 0.0) -> tuple[Attack, ...]:
    """What comes of played rows of a setup when their pressure comes on from rest.

    Parameters
    ----------
    setup : Setup
    valve : Valve
    rows : sequence of PlayedRow
    rise : float
        In which time the pressure comes on, 0 to 0.5; 0 for at once, as when a finger opens on a full bag [s].

    Returns
    -------
    tuple of Attack, one for each row

    Raises
    ------
    Refusal
        Something else than a setup, a valve or played rows; another rise.
    """
    check_kind("setup", setup, Setup, "a Setup")
    check_kind("valve", valve, Valve, "a Valve")
    rise = number("rise", rise, 0.0, SECONDS, "s")
    for row in rows:
        check_kind("rows", row, PlayedRow, "a PlayedRow, as played_chart has them,")
    gas = setup.air.gas
    patterns = tuple(dict.fromkeys(row.row.fingering.pattern for row in rows))
    seen = dict(zip(patterns, loads(setup.pipe, patterns, gas), strict=True))
    found = find_modes(lips(setup.pipe, patterns, LOWEST_HZ, HIGHEST_HZ, gas), LOWEST_HZ, HIGHEST_HZ)
    modes = dict(zip(patterns, found, strict=True))
    loaded = [seen[row.row.fingering.pattern] for row in rows]
    ends = settled(loaded, valve, gas, [row.mouth_pressure for row in rows], rises=rise)
    made = [Attack(row, end, None) for row, (end, _) in zip(rows, ends, strict=True)]
    return tuple(one if one.speaks else _blamed(one, modes[one.row.row.fingering.pattern]) for one in made)


def _blamed(attack: Attack, modes: list[Mode]) -> Attack:
    if attack.end.kind == "silent" or not modes:
        return attack
    nearest = min(modes, key=lambda mode: abs(np.log(mode.frequency / attack.end.frequency)))
    return Attack(attack.row, attack.end, nearest)


def sound_of(setup: Setup, valve: Valve, row: Row, mouth) -> np.ndarray:
    """Pressure behind the lips under a course of pressure in the bag, both at `in_time.RATE` [Pa], array (n,)."""
    load = loads(setup.pipe, [row.fingering.pattern], setup.air.gas)[0]
    return sounding([echoes(load, load.endless)], valve, setup.air.gas, np.atleast_2d(mouth))[0]


def swell(low: float, high: float, seconds: float) -> np.ndarray:
    """A course of pressure from `low` up to `high` and down again, at `in_time.RATE` [Pa]."""
    half = np.linspace(low, high, int(seconds * RATE / 2))
    return np.concatenate([half, half[::-1]])
