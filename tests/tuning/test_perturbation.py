"""The first-order rule against the chart calculated anew: every note, both octaves."""

from dataclasses import replace

import numpy as np
import pytest

from acoustics.pipes.bore import Bore
from acoustics.pipes.reshape import bell
from acoustics.tuning.perturbation import BoreSensitivity, bore_sensitivity
from acoustics.tuning.setup import Setup
from tests.tuning.bench import bench, demo

WITH_RUSH = {"rush_mm": 1.5, "rush_length_mm": 120.0}
PLACES = (15.0, 20.0, 30.0, 60.0, 100.0, 120.0, 150.0, 180.0, 210.0, 240.0, 273.0, 300.0, 330.0, 350.0, 361.0)


@pytest.fixture(scope="module", params=[{}, WITH_RUSH], ids=["plain", "with a rush"])
def plain(request):
    """A setup and its first-order rule."""
    setup = replace(bench(), **request.param)
    return setup, bore_sensitivity(setup)


def moved(setup: Setup, **change):
    return replace(setup, **change).chart.cents - setup.chart.cents


def gained(setup: Setup, **change):
    """How much wider the changed bore really is, as the straight stretches between its stations make it."""
    before, after = setup.pipe.bore, replace(setup, **change).pipe.bore
    return lambda x: after.diameter_mm(x) - before.diameter_mm(x)


@pytest.mark.parametrize("at", PLACES)
@pytest.mark.parametrize(("depth", "length"), [(0.04, 40.0), (0.04, 60.0), (0.1, 40.0), (0.1, 60.0), (-0.1, 60.0)])
def test_small_patches(plain, at, depth, length):
    """Every note within 5 % or 0.2 cents of the chart calculated anew.

    Largest difference anywhere 0.16 cents at 0.1 mm (shifts of up to 7 cents) and 0.03 cents at 0.04 mm.
    """
    setup, rule = plain
    computed = moved(setup, patch_at_mm=at, patch_length_mm=length, patch_depth_mm=depth)
    predicted = rule.shift(lambda x: depth * bell(x, at, length))
    assert np.all(np.isfinite(computed))
    off = np.abs(predicted - computed)
    assert np.all(off <= np.maximum(0.05 * np.abs(computed), 0.2))
    assert np.max(off) < (0.16 if abs(depth) == 0.1 else 0.03)
    assert np.max(np.abs(computed)) > 4 * np.max(off)


@pytest.mark.parametrize("at", [18.0, 60.0, 120.0, 200.0, 280.0, 350.0, 361.0])
def test_the_rest_is_of_second_order(plain, at):
    """What is left falls to a quarter when the depth is halved: order 2 within 0.11 from 0.2 to 0.05 mm."""
    setup, rule = plain
    rest = []
    for depth in (0.2, 0.1, 0.05):
        change = {"patch_at_mm": at, "patch_length_mm": 60.0, "patch_depth_mm": depth}
        rest.append(np.linalg.norm(moved(setup, **change) - rule.shift(gained(setup, **change))))
    np.testing.assert_allclose(np.log2(np.array(rest[:-1]) / rest[1:]), 2.0, atol=0.11)


@pytest.mark.parametrize("at", [18.0, 30.0, 60.0, 120.0, 200.0, 280.0, 350.0, 361.0])
def test_the_first_order_itself(plain, at):
    """Half the difference of a wider and a narrower patch has no second order: the rule within 0.1 % over all notes."""
    setup, rule = plain
    change = {"patch_at_mm": at, "patch_length_mm": 60.0}
    wider, narrower = (moved(setup, **change, patch_depth_mm=depth) for depth in (0.05, -0.05))
    slope = 0.5 * (wider - narrower)
    predicted = rule.shift(gained(setup, **change, patch_depth_mm=0.05))
    assert np.linalg.norm(predicted - slope) < 1e-3 * np.linalg.norm(slope)


@pytest.mark.parametrize(
    ("field", "sizes"), [("foot_wider_mm", (0.2, 0.1, 0.05)), ("throat_wider_mm", (0.1, 0.05, 0.025))]
)
def test_reamers(field, sizes):
    """A taper and a throat, which reach from end to end: order 2 within 0.02."""
    setup, rule = bench(), bore_sensitivity(bench())
    rest = [np.linalg.norm(moved(setup, **{field: v}) - rule.shift(gained(setup, **{field: v}))) for v in sizes]
    np.testing.assert_allclose(np.log2(np.array(rest[:-1]) / rest[1:]), 2.0, atol=0.02)
    assert np.abs(moved(setup, **{field: sizes[0]})).max() > 5


def test_a_step_in_the_bore():
    """A counterbore of 0.4 mm at 120 mm: its inertance counts; both its sides are widened alike."""
    stations = [s for s in demo().bore.stations_mm if s[0] != 121.0]
    at = next(i for i, s in enumerate(stations) if s[0] > 120.0)
    bore = Bore([*stations[:at], (120.0, 6.2), (120.0, 6.6), *stations[at:]])
    setup = Setup(replace(demo(), bore=bore))
    rule = bore_sensitivity(setup)
    change = {"patch_at_mm": 120.0, "patch_length_mm": 60.0}
    wider, narrower = (moved(setup, **change, patch_depth_mm=depth) for depth in (0.05, -0.05))
    predicted = rule.shift(lambda x: 0.05 * bell(x, 120.0, 60.0))
    slope = 0.5 * (wider - narrower)
    assert np.linalg.norm(predicted - slope) < 5e-3 * np.linalg.norm(slope)


def test_nothing_predicted_where_nothing_sounds():
    """Blades at 1000 Hz silence two notes of the demo chanter: nan there, numbers everywhere else."""
    reed = replace(demo().reed, resonance_hz=1000.0)
    setup = Setup(replace(demo(), reed=reed))
    silent = np.isnan(setup.chart.cents)
    assert 0 < silent.sum() < len(silent)
    rule = bore_sensitivity(setup)
    np.testing.assert_array_equal(np.isnan(rule.shift(lambda x: 0.05 * bell(x, 150.0, 60.0))), silent)
    np.testing.assert_array_equal(np.isnan(rule.per_patch()).any(axis=1), silent)
    np.testing.assert_array_equal(np.isnan(rule.per_patch()).all(axis=1), silent)


def test_the_rule_is_linear_and_blind_inside_the_staple():
    rule = bore_sensitivity(bench())
    one, two = rule.shift(lambda x: bell(x, 90.0, 50.0)), rule.shift(lambda x: bell(x, 220.0, 40.0))
    both = rule.shift(lambda x: 0.3 * bell(x, 90.0, 50.0) - 2.0 * bell(x, 220.0, 40.0))
    np.testing.assert_allclose(both, 0.3 * one - 2.0 * two, rtol=1e-10, atol=1e-10)
    staple = demo().staple.insertion_mm
    assert rule.from_top_mm.min() > staple
    np.testing.assert_array_equal(rule.shift(lambda x: np.where(x < staple - 1e-6, 1.0, 0.0)), 0.0)


def test_the_points_fill_the_bore():
    """A quadrature: the spans add up to the bore below the staple, and every point knows its diameter."""
    rule = bore_sensitivity(bench())
    assert isinstance(rule, BoreSensitivity)
    bore, insertion = demo().bore, demo().staple.insertion_mm
    assert rule.span_mm.sum() == pytest.approx(bore.length_mm - insertion, abs=1e-9)
    assert np.sum(rule.span_mm * rule.from_top_mm) == pytest.approx((bore.length_mm**2 - insertion**2) / 2, rel=1e-9)
    np.testing.assert_allclose(rule.diameter_mm, bore.diameter_mm(rule.from_top_mm), rtol=1e-12)
    np.testing.assert_allclose(rule.spot_diameter_mm, bore.diameter_mm(rule.spot_mm), rtol=1e-12)
    holes = [hole.position_mm for hole in demo().holes]
    felt = np.sort(rule.spot_mm[np.abs(rule.spot_weight).max(axis=0) > 1e-6])
    np.testing.assert_allclose(felt, sorted([*holes, insertion, bore.length_mm]), atol=1e-9)


def test_per_patch_is_the_shift_of_a_short_even_stretch():
    """10 mm, 0.1 mm wider, between the holes: per_patch at its middle against the sum over it, 5 % or 0.02 cents."""
    rule = bore_sensitivity(bench())
    for at in (60.0, 226.0, 335.0):
        near = np.abs(rule.from_top_mm - at) < 5.0
        want = rule.weight[:, near] @ (0.1 * 10.0 / rule.span_mm[near].sum() / rule.diameter_mm[near])
        nearest = np.argmin(np.abs(rule.from_top_mm - at))
        np.testing.assert_allclose(rule.per_patch()[:, nearest], want, rtol=0.1, atol=0.02)
        np.testing.assert_allclose(rule.per_patch(0.05, 20.0), rule.per_patch(), rtol=1e-12)


def test_rayleighs_signs():
    """Wider just below the staple, where the pressure is, flattens; far below the first open hole nothing moves."""
    setup, rule = bench(), bore_sensitivity(bench())
    top = rule.shift(lambda x: 0.1 * bell(x, 25.0, 20.0))
    assert [row.title for row in setup.chart.rows[:6:5]] == ["D, first octave", "G, first octave"]
    assert np.all(top[:6] < -1.0)
    below_all_open = rule.shift(lambda x: 0.1 * bell(x, 340.0, 20.0))
    highest = [i for i, row in enumerate(setup.chart.rows) if row.note in ("B", "C")]
    assert np.all(np.abs(below_all_open[highest]) < 0.02)
    assert abs(below_all_open[0]) > 0.2
