"""A reed from readings of loud notes: better taken as played than as resonances, and what that leaves open."""

from functools import cache

import numpy as np
import pytest

from acoustics.bench.misfit import Misfit
from acoustics.bench.reed_fit import USUAL, fit_reed
from acoustics.errors import Refusal
from acoustics.physics.valve import Valve
from acoustics.tuning.dials import DIALS
from acoustics.tuning.free import turned
from acoustics.tuning.played import DEMO_VALVE
from acoustics.tuning.pull import Played, Pull
from acoustics.validity import OutsideRange
from tests.bench.simulated import FOURTEEN, ONE_TONE, drawn_reed, read_played
from tests.tuning.bench import bench

pytestmark = pytest.mark.filterwarnings(f"ignore::{OutsideRange.__module__}.{OutsideRange.__name__}")
PITCH = Played(DEMO_VALVE, 3600.0, 5000.0)
TRUE = (0.72, 1390.0, 31.0)


def reed_of(values):
    return turned(bench(), dict(zip((DIALS[name] for name in USUAL), values, strict=True)))


@cache
def loud():
    return read_played(reed_of(TRUE), PITCH, 1.0, rows=ONE_TONE)


@cache
def as_played():
    return fit_reed(reed_of((0.76, 1360.0, 31.0)), loud(), pitch=PITCH)


def test_played_readings_give_the_reed_back():
    """Without noise and with the right valve: all three within a hundredth; taken as resonances, none is as near."""
    plain = fit_reed(reed_of((0.76, 1360.0, 31.0)), loud())
    off, plain_off = (np.abs(fit.values / TRUE - 1.0) for fit in (as_played(), plain))
    assert np.all(off < 0.01), off
    assert np.all(off < plain_off), (off, plain_off)
    assert plain_off[1] > 0.03
    assert as_played().scatter < 0.2 < plain.scatter
    assert as_played().played.settled
    assert plain.played is None
    assert "Taken as played." in as_played().said
    assert "played" not in plain.said


def test_derivatives_hold_the_pull():
    """Against central differences of the residuals, with a pull that follows the dials along straight lines."""
    dials, start = tuple(DIALS[name] for name in USUAL), np.array(TRUE)
    rows, random = bench().chart.rows, np.random.default_rng(2)
    pull = Pull(dials, start, random.normal(size=len(rows)), random.normal(size=(len(rows), 3)) * [100.0, 0.1, 3.0])
    none = np.zeros((len(rows), len(rows)))
    misfit = Misfit(bench(), dials, start, np.zeros(3), tuple(ONE_TONE), loud(), none, none[0], pull)
    step = np.diag([1e-4, 0.1, 1e-3])
    ends = [(misfit.residuals(start + by) - misfit.residuals(start - by)) / (2.0 * by.max()) for by in step]
    np.testing.assert_allclose(misfit.jacobian(start), np.transpose(ends), rtol=1e-3, atol=1e-3)


def test_what_the_wrong_lips_cost():
    """A slit said to be a tenth too wide: the reed is off by more than with the right one, by less than 2 %."""
    wrong = Played(Valve(1.1 * DEMO_VALVE.opening_mm2, DEMO_VALVE.closing_pressure), 3600.0, 5000.0)
    fit = fit_reed(reed_of((0.76, 1360.0, 31.0)), loud(), pitch=wrong)
    assert fit.scatter > 2.0 * as_played().scatter
    assert np.max(np.abs(fit.values / TRUE - 1.0)) < 0.02
    assert np.max(np.abs(fit.values / TRUE - 1.0)) > 2.0 * np.max(np.abs(as_played().values / TRUE - 1.0))


def test_what_does_not_sound_is_flagged():
    """In a bag at 0.2 kPa no note sounds: there is nothing to fit.  With second notes too soft those are flagged."""
    with pytest.raises(Refusal, match="0 readings"):
        fit_reed(reed_of(TRUE), loud(), pitch=Played(DEMO_VALVE, 200.0, 200.0))
    fit = fit_reed(reed_of(TRUE), loud(), ("softness",), pitch=Played(DEMO_VALVE, 3600.0, 200.0))
    flagged = [r for r in fit.readings.rows if r.flag]
    assert flagged
    assert all(r.octave > 1 for r in flagged)
    assert len(fit.residuals) == len(fit.readings.sound) == len(fit.rows)
    assert [r.cents for r in fit.readings.rows] == [r.cents for r in loud().rows]


@pytest.mark.long
def test_40_simulated_reeds(capsys):
    """Readings within 3 cents: softness and the blades' note nearer than when taken as resonances."""
    random, played, plain, errors, settled = np.random.default_rng(5), [], [], [], 0
    for _ in range(40):
        true, setup, start = drawn_reed(random)
        readings = read_played(setup, PITCH, 3.0, random, FOURTEEN)
        fit = fit_reed(start, readings, pitch=PITCH)
        played.append(fit.values - true)
        errors.append((fit.values - true) / fit.errors)
        plain.append(fit_reed(start, readings).values - true)
        settled += fit.played.settled
    one, other = (np.sqrt(np.mean(np.square(off), axis=0)) for off in (played, plain))
    middle, far = np.median(np.abs(played), axis=0), np.median(np.abs(plain), axis=0)
    inside = np.mean(np.abs(errors) < 1.96, axis=0)
    with capsys.disabled():
        print(f"\nas played: rms {one.round(3)}, median {middle.round(3)}; {settled} of 40 settled; inside {inside}")
        print(f"as resonances: rms {other.round(3)}, median {far.round(3)}")
        print(f"mean error {np.mean(played, axis=0).round(3)}, as resonances {np.mean(plain, axis=0).round(3)}")
    assert np.all(middle[:2] < far[:2])
