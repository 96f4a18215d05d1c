"""Onsets of the demo chanter's notes, against its admittance and against eigenvalues in the time domain."""

from functools import cache

import numpy as np
import pytest

from acoustics.physics.valve import Valve
from acoustics.tuning.load import loads
from acoustics.tuning.onset import onset, speaking
from acoustics.tuning.resonances import Mode
from acoustics.units import cents
from tests.references.reed_time import fitted, grows_at
from tests.tuning.bench import bench

VALVE = Valve(0.6, 6800.0)
GAS = bench().air.gas
UNIT = VALVE.unit(GAS) / VALVE.closing_pressure
NOTES = ["D", "F#", "Bb"]


@cache
def notes():
    return speaking(bench(), VALVE)


def pick(note, register):
    return next(one for one in notes() if one.row.note == note and one.row.fingering.register == register)


@cache
def load(pattern):
    return loads(bench().pipe, [pattern], GAS)[0]


@cache
def modal(pattern):
    """The impedance at the lips, in units of the valve, as a sum of modes."""
    frequency = np.concatenate([np.arange(40, 1000, 5.0), np.arange(1000, 3000, 10.0), np.arange(3000, 14000, 25.0)])
    return fitted(frequency, UNIT / load(pattern)(frequency)[0])


def test_admittance_and_valve_cancel_at_every_onset():
    """Y(f) + dU/d(dp) = 0, real and imaginary part, to 1e-4 of Re Y."""
    spoken = [one for one in notes() if one.own]
    assert len(spoken) >= 24
    for one in spoken:
        seen = load(one.row.fingering.pattern)(np.array([one.own.frequency]))[0][0]
        left = seen + VALVE.conductance(one.own.pressure, GAS)
        assert abs(left) < 1e-4 * seen.real


@pytest.mark.parametrize("note", NOTES)
@pytest.mark.parametrize("register", [1, 2])
def test_the_still_reed_turns_unstable_there(note, register):
    """Eigenvalues of modes and valve: the growth near the onset's frequency changes sign within 0.2 % of its pressure.

    The frequency of that eigenvalue is the onset's within 0.1 cents.
    """
    one = pick(note, register)
    for share, sign in ((0.998, -1.0), (1.002, 1.0)):
        slope = float(VALVE.law(share * one.own.pressure / VALVE.closing_pressure)[1])
        growth, frequency = grows_at(modal(one.row.fingering.pattern), slope)
        nearest = np.argmin(np.abs(frequency - one.own.frequency))
        assert sign * growth[nearest] > 0.0
        assert abs(cents(frequency[nearest], one.own.frequency)) < 0.1


def test_below_every_onset_the_reed_is_silent():
    """At half of the lowest pressure nothing grows at all, at whatever frequency."""
    growth, _ = grows_at(modal(pick("D", 1).row.fingering.pattern), float(VALVE.law(0.2)[1]))
    assert growth.max() < -10.0


def test_a_weak_mode_has_no_onset():
    assert onset(None, VALVE, GAS) is None
    assert onset(Mode(500.0, 0.9 / UNIT, 10.0, 0.0), VALVE, GAS) is None
    assert onset(Mode(500.0, 2.0 / UNIT, 10.0, 0.0), VALVE, GAS).pressure < VALVE.closing_pressure


def test_rivals_are_the_strays_lowest_pressure_first():
    wide = speaking(bench(), Valve(6.0, 6800.0))
    crowded = [one for one in wide if one.rivals]
    assert crowded
    for one in crowded:
        pressure = [rival.pressure for rival in one.rivals]
        assert pressure == sorted(pressure)
        assert {rival.frequency for rival in one.rivals} <= {mode.frequency for mode in one.row.stray}
        assert (one.overtaken is not None) == (one.own is None or pressure[0] < one.own.pressure)
