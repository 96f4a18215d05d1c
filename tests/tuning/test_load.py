"""What the lips see at overtones, against the admittance calculated frequency by frequency."""

import numpy as np
import pytest

from acoustics.physics.balance import LOWEST_HZ, Balance
from acoustics.physics.network import at_eye, column, states
from acoustics.physics.spectral import Direct
from acoustics.pipes.fingering import TIGHT
from acoustics.tuning.load import FADE_HZ, HIGHEST_HZ, loads
from acoustics.tuning.played import DEMO_VALVE
from acoustics.tuning.resonances import Lips
from tests.physics.simple import DRY
from tests.pipes.sample import sample_chanter

PATTERNS = [TIGHT[0].pattern, TIGHT[7].pattern, TIGHT[25].pattern]


@pytest.fixture(scope="module")
def pipe():
    return sample_chanter()


@pytest.fixture(scope="module")
def tables(pipe):
    return loads(pipe, PATTERNS, DRY)


def test_the_table_against_single_frequencies(pipe, tables):
    """1e-4 everywhere, 1e-5 at the median, between grid points from 61 Hz to where it fades."""
    frequency = np.geomspace(61.3, FADE_HZ - 1.7, 157)
    built = column(pipe)
    chosen = states(built, PATTERNS)
    exact = Lips(Direct(lambda f: at_eye(built, chosen, f, DRY).reshape(-1, len(f))), pipe.head, DRY)
    error = np.abs(np.array([table(frequency)[0] for table in tables]) / exact.admittance(frequency) - 1.0)
    assert error.max() < 1e-4
    assert np.median(error) < 1e-6


def test_the_slope_is_that_of_the_table(tables):
    frequency = np.array([103.0, 441.7, 1399.0, 3301.0, 8000.0, 10500.0])
    for table in tables:
        seen, rise = table(frequency)
        around = [table(frequency * (1.0 + step))[0] for step in (-1e-5, 1e-5)]
        assert np.allclose(rise, (around[1] - around[0]) / 2e-5, rtol=1e-4, atol=1e-4 * np.abs(seen).max())


def test_high_overtones_do_not_come_back(pipe, tables):
    """From 12 kHz up the admittance is S / (rho c), without slope, and it gets there without a jump."""
    endless = pipe.head.area_mm2 * 1e-6 / (DRY.density * DRY.sound_speed)
    for table in tables:
        seen, rise = table(np.array([HIGHEST_HZ - 1.0, HIGHEST_HZ, 3.0 * HIGHEST_HZ]))
        assert np.allclose(seen, endless, rtol=1e-3)
        assert np.all(seen[1:] == endless)
        assert np.all(rise[1:] == 0.0)


def test_below_the_table_nothing_is_known(tables):
    """A tone down there is not made up: the balance does not settle on one."""
    table = tables[0]
    seen, rise = table(np.array([30.0, LOWEST_HZ, 41.0]))
    assert np.isnan([seen[0], rise[0]]).all()
    assert np.isfinite([seen[1:], rise[1:]]).all()
    assert Balance(table, DEMO_VALVE, DRY).start(30.0, 3000.0) is None


def test_the_pipe_never_gives_power(tables):
    frequency = np.geomspace(45.0, 13000.0, 4000)
    for table in tables:
        assert table(frequency)[0].real.min() > 0.0
