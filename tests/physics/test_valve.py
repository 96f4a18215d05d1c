"""The lips as a valve, against the sharp law, its maximum, its slope and the textbook threshold."""

import numpy as np
import pytest
from scipy.optimize import approx_fprime, minimize_scalar

from acoustics.errors import Refusal
from acoustics.physics.valve import Valve
from tests.physics.simple import DRY
from tests.pipes.sample import assert_one_sentence

SHARP = Valve(1.5, 8000.0, rounding=1e-6)
ROUND = Valve(1.5, 8000.0)


def sharp_flow(difference, opening_mm2, closing):
    """The law with corners, written out by branches [m3/s]."""
    area = opening_mm2 * 1e-6 * max(1.0 - difference / closing, 0.0)
    return np.sign(difference) * area * np.sqrt(2.0 * abs(difference) / DRY.density)


@pytest.mark.parametrize("difference", [-9000.0, -100.0, 50.0, 2000.0, 7900.0])
def test_the_law(difference):
    assert SHARP.flow(difference, DRY) == pytest.approx(sharp_flow(difference, 1.5, 8000.0), rel=2e-8)


def test_no_flow_when_shut_or_at_no_difference():
    open_flow = SHARP.flow(8000.0 / 3.0, DRY)
    assert np.all(np.abs(SHARP.flow(np.array([8100.0, 12000.0, 40000.0]), DRY)) < 1e-9 * open_flow)
    assert SHARP.flow(0.0, DRY) == 0.0


def test_what_the_rounding_leaks_when_shut():
    """The share r^2/4 of the slit that the docstring states."""
    through = ROUND.flow(16000.0, DRY) / sharp_flow(-16000.0, 1.5, 8000.0) * -3.0
    assert through == pytest.approx(ROUND.rounding**2 / 4.0, rel=4e-4)


def test_largest_flow():
    """At a third of the closing pressure, (2/3) S0 sqrt(2 pM / (3 rho)): 66.5 mL/s for 1.5 mm2 and 8 kPa."""
    best = minimize_scalar(
        lambda p: -SHARP.flow(p, DRY), bounds=(500.0, 7900.0), method="bounded", options={"xatol": 0.01}
    )
    assert best.x == pytest.approx(8000.0 / 3.0, rel=1e-4)
    assert -best.fun == pytest.approx(2.0 / 3.0 * 1.5e-6 * np.sqrt(2.0 * 8000.0 / (3.0 * DRY.density)), rel=1e-6)
    assert -best.fun == pytest.approx(66.5e-6, abs=0.05e-6)


@pytest.mark.parametrize("rounding", [1e-3, 0.02, 0.1])
@pytest.mark.parametrize("x", [-1.3, -0.01, 0.0, 0.004, 0.4, 0.98, 1.0, 1.03, 2.5])
def test_the_slope_is_that_of_the_flow(rounding, x):
    valve = Valve(0.7, 5000.0, rounding)
    step = 1e-3 * rounding * 5000.0
    around = valve.flow(np.array([x * 5000.0 - step, x * 5000.0 + step]), DRY)
    scale = np.abs(valve.conductance(5000.0 * np.linspace(-1.0, 1.0, 11), DRY)).max()
    assert (around[1] - around[0]) / (2 * step) == pytest.approx(valve.conductance(x * 5000.0, DRY), abs=8e-7 * scale)


def test_the_slope_at_one_place_by_another_library():
    slope = approx_fprime([3000.0], lambda p: ROUND.flow(p[0], DRY) * 1e6, 1e-2)[0] * 1e-6
    assert ROUND.conductance(3000.0, DRY) == pytest.approx(slope, rel=1e-6)


def test_threshold_without_loss_is_a_third():
    for valve in (SHARP, ROUND):
        assert valve.threshold(0.0, DRY) == pytest.approx(valve.closing_pressure / 3.0, rel=5e-3)
    assert SHARP.threshold(0.0, DRY) == pytest.approx(8000.0 / 3.0, rel=1e-10)


@pytest.mark.parametrize(("zeta", "z1"), [(0.3, 10.92), (0.1, 20.0), (0.8, 3.0)])
def test_textbook_threshold(zeta, z1):
    """zeta (3 gamma - 1) / (2 sqrt(gamma)) = Zc / Z1, with both sides as printed."""
    characteristic = zeta * DRY.density / (1.5e-6 * np.sqrt(2.0 * DRY.density / 8000.0))
    for valve, close in ((SHARP, 1e-5), (ROUND, 5e-3)):
        gamma = valve.threshold(1.0 / (z1 * characteristic), DRY) / 8000.0
        quadratic = np.max(np.roots([3.0, -2.0 / (zeta * z1), -1.0])) ** 2
        assert gamma == pytest.approx(quadratic, rel=close)
        assert zeta * (3.0 * gamma - 1.0) / (2.0 * np.sqrt(gamma)) == pytest.approx(1.0 / z1, rel=4.0 * close)


def test_no_threshold_where_the_slit_shuts_first():
    most = SHARP.unit(DRY) / SHARP.closing_pressure
    assert SHARP.threshold(0.99 * most, DRY) < 8000.0
    assert SHARP.threshold(1.1 * most, DRY) is None


@pytest.mark.parametrize(
    ("field", "value"), [("opening_mm2", 0.0), ("closing_pressure", 5.0), ("rounding", 0.0), ("rounding", "soft")]
)
def test_refusals(field, value):
    with pytest.raises(Refusal) as caught:
        Valve(**{"opening_mm2": 1.0, "closing_pressure": 6000.0, field: value})
    assert_one_sentence(caught.value, field)
