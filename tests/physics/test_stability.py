"""Which tones last, against the multipliers of disturbances over one period in the time domain."""

from functools import cache

import numpy as np
import pytest
from scipy.linalg import expm

from acoustics.physics.balance import Balance
from acoustics.physics.stability import GROWTH, growing
from acoustics.physics.valve import Valve
from acoustics.tuning.load import loads
from acoustics.tuning.onset import onset
from tests.references.reed_time import PER_SECOND, fitted
from tests.tuning.bench import bench

VALVE = Valve(0.6, 6800.0)
GAS = bench().air.gas
UNIT = VALVE.unit(GAS) / VALVE.closing_pressure
STEPS, HARMONICS = 600, 48
CASES = [("D", 1, 3600.0), ("G", 1, 3600.0), ("D", 2, 5000.0), ("G", 2, 5000.0), ("C", 2, 5000.0), ("E", 1, 3600.0)]


@cache
def tone(note, register, pressure):
    """A tone of the demo chanter, its impedance replaced by a sum of modes; and the modes."""
    row = next(r for r in bench().chart.rows if r.note == note and r.fingering.register == register)
    load = loads(bench().pipe, [row.fingering.pattern], GAS)[0]
    frequency = np.concatenate([np.arange(40, 1000, 5.0), np.arange(1000, 3000, 10.0), np.arange(3000, 14000, 25.0)])
    modal = fitted(frequency, UNIT / load(frequency)[0])
    start = onset(row.mode, VALVE, GAS)
    return Balance(seen_of(modal), VALVE, GAS, HARMONICS).play(start.frequency, start.pressure, pressure), modal


def seen_of(modal):
    """Admittance of a sum of modes and its slope over ln f."""

    def seen(frequency):
        below, above = (UNIT / modal.impedance(frequency * (1.0 + step)) for step in (-1e-6, 1e-6))
        return UNIT / modal.impedance(frequency), (above - below) / 2e-6

    return seen


def multipliers(sound, modal):
    """Eigenvalues of the linearised pipe and valve over one period, with the valve held for 1/600 of it at a time."""
    a, b, c = modal.matrices()
    turn = 2.0 * np.pi * np.outer((np.arange(STEPS) + 0.5) / STEPS, np.arange(1, HARMONICS + 1))
    difference = sound.mouth_pressure - (np.exp(1j * turn) @ sound.pressure).real
    step = PER_SECOND / sound.frequency / STEPS
    through = np.eye(len(b))
    for slope in VALVE.law(difference / VALVE.closing_pressure)[1]:
        through = expm(step * (a - slope * np.outer(b, c))) @ through
    return np.linalg.eigvals(through)


@pytest.mark.parametrize("case", CASES)
def test_growing_disturbances_are_counted(case):
    """As many as there are multipliers outside the circle, beside the one of the free phase.

    That one is 1 but for the harmonics left out of the tone, and is told by lying nearest to 1.
    """
    sound, modal = tone(*case)
    found = multipliers(sound, modal)
    phase = np.argmin(np.abs(found - 1.0))
    assert abs(found[phase] - 1.0) < 5e-3
    growth = np.log(np.abs(np.delete(found, phase))) * sound.frequency
    assert np.min(np.abs(growth - GROWTH)) > 1.0, "too close to call"
    assert growing(sound, seen_of(modal), VALVE, GAS) == np.sum(growth > GROWTH)


def test_both_kinds_are_among_the_cases():
    tones = [tone(*case) for case in CASES]
    counts = [growing(sound, seen_of(modal), VALVE, GAS) for sound, modal in tones]
    assert 0 in counts
    assert 1 in counts
    assert max(counts) > 1
