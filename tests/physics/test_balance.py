"""Harmonic balance on pipes with a closed form: slopes, onset, the two-step tone, power."""

import pickle

import numpy as np
import pytest
from scipy.integrate import quad

from acoustics.physics.balance import Balance, Lost
from acoustics.physics.valve import Valve
from acoustics.units import cents
from tests.physics.simple import DRY
from tests.references.reed_time import raman

VALVE = Valve(0.8, 6000.0)
LENGTH, SPEED = 0.5, 343.0


def cylinder(zeta, loss, valve=VALVE):
    """An open cylinder seen from its shut end: admittance and its slope over ln f.

    `loss` is attenuation times length at the quarter wave and grows with the root of frequency.
    """
    endless = valve.unit(DRY) / (zeta * valve.closing_pressure)

    def seen(frequency):
        along = loss * np.sqrt(np.asarray(frequency) / QUARTER) + 2j * np.pi * np.asarray(frequency) * LENGTH / SPEED
        return endless / np.tanh(along), -endless / np.sinh(along) ** 2 * (0.5 * along.real + 1j * along.imag)

    return seen


QUARTER = SPEED / (4.0 * LENGTH)


def stretched(frequency):
    """A cylinder made inharmonic by an air volume at the lips."""
    seen, rise = cylinder(0.5, 0.04)(frequency)
    volume = 0.05j * np.asarray(frequency) / QUARTER * VALVE.unit(DRY) / VALVE.closing_pressure
    return seen + volume, rise + volume


def stretched_onset():
    """Frequency and pressure, from a smallest tone."""
    x, _ = Balance(stretched, VALVE, DRY).start(QUARTER, 0.4 * VALVE.closing_pressure)
    return np.exp(x[1]), x[-1] * VALVE.closing_pressure


def onset(zeta, loss, valve):
    return valve.threshold(cylinder(zeta, loss, valve)(QUARTER)[0].real, DRY)


@pytest.mark.parametrize("rounding", [1e-3, 0.02])
def test_the_jacobian_is_the_slope_of_the_residual(rounding):
    """Complex-free central differences in every unknown, on a loud tone with its corners."""
    balance = Balance(cylinder(0.5, 0.05), Valve(0.8, 6000.0, rounding), DRY, 6)
    x = np.random.default_rng(3).normal(0.0, 0.25, 13)
    x[1], x[-1] = np.log(1.02 * QUARTER), 0.55
    slopes = balance.residual(x)[1]
    for i in range(13):
        step = np.zeros(13)
        step[i] = 1e-6
        around = (balance.residual(x + step)[0] - balance.residual(x - step)[0]) / 2e-6
        assert np.allclose(slopes[:, i], around, rtol=0.0, atol=2e-5 * np.abs(slopes).max())


def test_where_the_equations_are_singular_there_is_no_tone():
    """Nor a warning: the last row asks for nothing."""
    balance = Balance(cylinder(0.5, 0.05), VALVE, DRY, 6)
    x = np.full(13, 0.1)
    x[1] = np.log(QUARTER)
    assert balance.solve(x, np.zeros(13), 0.0) is None
    assert balance.solve(x, np.zeros(13), 0.1) is None


@pytest.mark.parametrize(("zeta", "loss"), [(0.3, 1e-4), (0.4, 0.03), (0.8, 0.1)])
def test_the_smallest_tone_starts_at_the_textbook_pressure(zeta, loss):
    """zeta (3 gamma - 1) / (2 sqrt(gamma)) = Zc / Z1 = tanh(loss) within 0.5 %, at the quarter wave within 0.1 cents.

    The start is given a wrong pressure; Newton's method has to find the right one.
    """
    x, _ = Balance(cylinder(zeta, loss), VALVE, DRY).start(1.003 * QUARTER, 0.45 * VALVE.closing_pressure)
    gamma = np.max(np.roots([3.0, -2.0 * np.tanh(loss) / zeta, -1.0])) ** 2
    assert x[-1] == pytest.approx(gamma, rel=5e-3)
    assert abs(cents(np.exp(x[1]), QUARTER)) < 0.1


@pytest.mark.parametrize("gamma", [0.38, 0.42, 0.46])
def test_the_two_step_tone(gamma):
    """Raman's square wave on the lossless cylinder: p^2 = (1 - gamma)(3 gamma - 1) pM^2.

    Against the closed form, and against a wave sent to and fro; the plateau of 40 harmonics is its median.
    """
    valve, zeta = Valve(0.8, 6000.0, 1e-3), 0.35
    closed = np.sqrt((1.0 - gamma) * (3.0 * gamma - 1.0))
    assert raman(gamma, lambda x: zeta * float(valve.law(x)[0])) == pytest.approx(closed, rel=6e-4)
    balance = Balance(cylinder(zeta, 1e-5, valve), valve, DRY, 40, samples=8)
    tone = balance.play(QUARTER, onset(zeta, 1e-5, valve), gamma * valve.closing_pressure)
    assert np.median(np.abs(tone.waveform())) == pytest.approx(closed * valve.closing_pressure, rel=5e-3)
    assert abs(cents(tone.frequency, QUARTER)) < 0.01
    assert np.abs(tone.pressure[1::2]).max() < 1e-3 * np.abs(tone.pressure[0])


@pytest.mark.parametrize("gamma", [0.45, 0.6, 0.8])
def test_power_and_reactive_power(gamma):
    """What the valve gives, integrated over the period by adaptive quadrature, is what the pipe takes: 1e-6.

    And sum n |P_n|^2 Im Y(n f) = 0, for the valve has no memory (X. Boutillon and V. Gibiat, J. Acoust. Soc.
    Am. 100, 1178 (1996), from memory).
    """
    tone = Balance(stretched, VALVE, DRY).play(*stretched_onset(), gamma * VALVE.closing_pressure)
    number = np.arange(1, 13)

    def power(turn):
        pressure = (np.exp(1j * number * turn) @ tone.pressure).real
        return pressure * VALVE.flow(tone.mouth_pressure - pressure, DRY)

    admittance = stretched(number * tone.frequency)[0]
    taken = 0.5 * np.sum(admittance.real * np.abs(tone.pressure) ** 2)
    given = quad(power, 0.0, 2.0 * np.pi, epsrel=1e-10, epsabs=1e-13, limit=1000)[0] / (2.0 * np.pi)
    assert taken > 0.0
    assert given == pytest.approx(taken, rel=1e-6)
    reactive = number * np.abs(tone.pressure) ** 2 * admittance.imag
    assert abs(reactive.sum()) < 1e-6 * np.abs(reactive).max()


def test_pitch_per_kpa_is_a_difference():
    balance = Balance(stretched, VALVE, DRY)
    low, middle, high = (balance.play(*stretched_onset(), p) for p in (3490.0, 3500.0, 3510.0))
    assert middle.cents_per_kpa == pytest.approx(cents(high.frequency, low.frequency) / 0.02, rel=1.2e-4, abs=1.2e-4)
    assert abs(middle.cents_per_kpa) > 0.01


def test_below_its_onset_no_pitch_is_made_up():
    balance = Balance(cylinder(0.4, 0.05), VALVE, DRY)
    with pytest.raises(Lost) as caught:
        balance.play(QUARTER, onset(0.4, 0.05, VALVE), 0.2 * VALVE.closing_pressure)
    assert caught.value.reached == pytest.approx(onset(0.4, 0.05, VALVE))
    sent = pickle.loads(pickle.dumps(caught.value))
    assert (str(sent), sent.reached) == (str(caught.value), caught.value.reached)


def test_a_tone_dies_when_the_lips_stay_shut():
    """The branch returns to silence near the closing pressure; a pressure beyond is refused."""
    balance = Balance(cylinder(0.4, 0.05), VALVE, DRY)
    with pytest.raises(Lost) as caught:
        balance.play(QUARTER, onset(0.4, 0.05, VALVE), 8.0 * VALVE.closing_pressure)
    assert VALVE.closing_pressure < caught.value.reached < 8.0 * VALVE.closing_pressure
