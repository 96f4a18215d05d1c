"""The voices of one note: tones of the same pitch that last at the same pressure, told apart by their octave."""

from __future__ import annotations

from dataclasses import replace

from ..errors import check_kind, number
from ..physics.balance import Balance, Steady
from ..physics.valve import Valve
from ..units import cents
from .chart import Row
from .load import loads
from .onset import onset
from .outcome import settled
from .played import PRESSURE_FIRST, PRESSURE_SECOND, SAME_NOTE, PlayedRow, lasting, played_rows, sounds
from .setup import Setup
from .window import span

STARTS = (0.0, 0.05, 0.1, 0.3)  # s: how fast the pressure comes on
SECONDS, APART = 1.0, 0.1


def octave_share(tone: Steady) -> float:
    """Amplitude of the octave over that of the fundamental, behind the lips."""
    return float(abs(tone.pressure[1]) / abs(tone.pressure[0]))


def voices(setup: Setup, valve: Valve, row: Row, mouth_pressure: float, like=()) -> tuple[PlayedRow, ...]:
    """The lasting tones of a note at one pressure in the bag, the one with the weakest octave first.

    Parameters
    ----------
    setup : Setup
    valve : Valve
    row : Row
        Of the setup's chart.
    mouth_pressure : float
        100 to 50 000 [Pa].
    like : sequence of Steady
        Tones of a pipe that differs little, to be looked for in this one.

    Returns
    -------
    tuple of PlayedRow

    Raises
    ------
    Refusal
        Something else than a setup, a valve or a row; another pressure.

    Notes
    -----
    Looked for among the tones of the branch that starts at the row's onset, in the window of the tone that the played
    chart has at its own pressure, and in what is heard a second after the pressure came on, at once or in 0.05, 0.1
    and 0.3 s.  So a voice that none of these leads to is missed.  Two voices differ by more than a tenth in
    `octave_share`.
    """
    check_kind("setup", setup, Setup, "a Setup")
    check_kind("valve", valve, Valve, "a Valve")
    check_kind("row", row, Row, "a Row of the setup's chart")
    mouth_pressure = number("mouth_pressure", mouth_pressure, 100.0, 5e4, "Pa")
    gas = setup.air.gas
    load = loads(setup.pipe, [row.fingering.pattern], gas)[0]
    balance = Balance(load, valve, gas)
    start = onset(row.mode, valve, gas)
    if start is None:
        return ()
    ends = settled(
        [load] * len(STARTS), valve, gas, [mouth_pressure] * len(STARTS), None, balance.harmonics, SECONDS, STARTS
    )
    guesses = [replace(tone, mouth_pressure=mouth_pressure) for tone in like]
    guesses += _of_the_chart(setup, balance, row, mouth_pressure)
    guesses += [*balance.crossings(start.frequency, start.pressure, mouth_pressure), *(end for _, end in ends if end)]
    found: list[PlayedRow] = []
    for guess in guesses:
        if abs(float(cents(guess.frequency, row.target_hz))) > SAME_NOTE:
            continue
        tone = lasting(balance, guess)
        new = tone is not None and all(abs(octave_share(tone) - octave_share(other.tone)) > APART for other in found)
        if new:
            found.append(PlayedRow(row, mouth_pressure, start, tone, True, sounds(tone, start)))
    return tuple(sorted(found, key=lambda one: octave_share(one.tone)))


def _of_the_chart(setup: Setup, balance: Balance, row: Row, mouth_pressure: float) -> list[Steady]:
    """The tone of the played chart, followed from the chart's pressure to another where it lasts that far."""
    usual = PRESSURE_FIRST if row.fingering.register == 1 else PRESSURE_SECOND
    played = played_rows(setup, balance.valve, [row], [usual], balance.harmonics)
    near = [span(balance, one).near(mouth_pressure) for one in played if one.lasts]
    return [tone for tone in near if tone is not None]
