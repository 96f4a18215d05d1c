"""Patches, tapers and throats: what stays, what fades, what is refused."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acoustics.errors import Refusal
from acoustics.pipes.bore import Bore
from acoustics.pipes.reshape import PATCH_STATIONS, THROAT_REACH_MM, bell, patched, tapered, throat_widened
from tests.pipes.sample import assert_one_sentence, sample_chanter
from tests.pipes.strategies import bores as any_bores
from tests.pipes.strategies import floats

BORE = sample_chanter().bore
# roomy enough that 3 mm more or less is still a bore
bores = any_bores().map(lambda bore: Bore([(at, 4.0 + 0.9 * size) for at, size in bore.stations_mm]))
shares = floats(0.0, 1.0)


def old_stations(bore: Bore, changed: Bore):
    """Diameters of `changed` at the stations of `bore`, pairs at a step told apart; fails where one is missing."""
    left = list(changed.stations_mm)
    sizes = []
    for at, _ in bore.stations_mm:
        found = next(i for i, station in enumerate(left) if station[0] == at)
        sizes.append(left[found][1])
        left = left[found + 1 :]
    return np.array(sizes)


def test_bell():
    """Raised cosine: 1 in the middle, 1/2 at a quarter of its length, 0 outside; its mean is half its height."""
    x = np.linspace(-50.0, 150.0, 4001)
    shape = bell(x, 50.0, 60.0)
    assert bell(50.0, 50.0, 60.0) == 1.0
    np.testing.assert_allclose(bell([35.0, 65.0], 50.0, 60.0), 0.5, atol=1e-15)
    assert np.all(shape[np.abs(x - 50.0) >= 30.0] == 0.0)
    assert np.all(shape[np.abs(x - 50.0) < 29.9] > 0.0)
    assert np.trapezoid(shape, x) == pytest.approx(30.0, rel=1e-6)


@given(bores, shares, floats(2.0, 500.0))
def test_depth_zero_is_the_bore_itself(bore, share, length):
    assert patched(bore, share * bore.length_mm, length, 0.0) is bore
    assert throat_widened(bore, 0.0) is bore
    if bore.throat_mm[0] < bore.length_mm:
        assert tapered(bore, 0.0) is bore


@given(bores, shares, floats(2.0, 500.0), floats(-3.0, 3.0))
def test_a_patch_keeps_length_and_stations_and_fades(bore, share, length, depth):
    """Every old station wider by the bell, to rounding; outside the patch nothing (new stations stand on 0.001 mm)."""
    at = share * bore.length_mm
    new = patched(bore, at, length, depth)
    assert new.length_mm == bore.length_mm
    distance, size = bore.table_mm
    np.testing.assert_allclose(old_stations(bore, new), size + depth * bell(distance, at, length), atol=1e-12)
    assert len(new.stations_mm) <= len(bore.stations_mm) + PATCH_STATIONS
    x = np.linspace(0.0, bore.length_mm, 997)
    outside = x[(np.abs(x - at) > length / 2 + 1e-3) & ~np.isin(x, distance)]
    np.testing.assert_allclose(new.diameter_mm(outside), bore.diameter_mm(outside), atol=3e-5)


@given(floats(40.0, 320.0), floats(10.0, 80.0), floats(-0.5, 0.5))
def test_a_patch_is_a_bell_between_its_stations_too(at, length, depth):
    """16 straight pieces of a raised cosine: sagitta (pi/16)^2/4 of the depth, 0.0097."""
    x = np.linspace(max(at - length / 2, 0.0), min(at + length / 2, BORE.length_mm), 301)
    x = x[np.abs(x - 31.0) > 1e-6]
    gained = patched(BORE, at, length, depth).diameter_mm(x) - BORE.diameter_mm(x)
    np.testing.assert_allclose(gained, depth * bell(x, at, length), atol=0.01 * abs(depth) + 1e-14)
    assert patched(BORE, at, length, depth).diameter_mm(at) == pytest.approx(
        float(BORE.diameter_mm(at)) + depth, abs=1e-3 * abs(depth) + 1e-12
    )


@given(bores, floats(-3.0, 3.0))
def test_a_taper_grows_straight_from_the_throat(bore, wider):
    throat = bore.throat_mm[0]
    if throat >= bore.length_mm:
        with pytest.raises(Refusal, match="taper: the bore is narrowest at its foot; it must widen below its throat"):
            tapered(bore, wider)
        return
    new = tapered(bore, wider)
    distance, size = bore.table_mm
    assert [station[0] for station in new.stations_mm] == distance.tolist()
    gained = new.table_mm[1] - size
    assert np.all(gained[distance <= throat] == 0.0)
    assert gained[-1] == pytest.approx(wider, abs=1e-12)
    below = distance >= throat
    np.testing.assert_allclose(
        gained[below] * (bore.length_mm - throat), wider * (distance[below] - throat), atol=1e-9 * bore.length_mm
    )


@given(bores, floats(-3.0, 3.0))
def test_a_wider_throat_fades_below_it(bore, wider):
    throat, reach = bore.throat_mm[0], THROAT_REACH_MM
    new = throat_widened(bore, wider)
    assert new.length_mm == bore.length_mm
    distance, size = bore.table_mm
    want = wider * np.interp(distance, [throat, throat + reach], [1.0, 0.0])
    np.testing.assert_allclose(old_stations(bore, new) - size, want, atol=1e-12)
    x = np.linspace(0.0, bore.length_mm, 499)
    x = x[~np.isin(x, distance)]
    gained = new.diameter_mm(x) - bore.diameter_mm(x)
    np.testing.assert_allclose(gained, wider * np.interp(x, [throat, throat + reach], [1.0, 0.0]), atol=1e-4)


@given(floats(30.0, 330.0), floats(30.0, 330.0), st.sampled_from([0.05, -0.05]))
def test_two_patches_add_in_either_order(one, other, depth):
    first = patched(patched(BORE, one, 40.0, depth), other, 40.0, 0.1)
    second = patched(patched(BORE, other, 40.0, 0.1), one, 40.0, depth)
    x = np.linspace(0.5, 355.5, 711)
    np.testing.assert_allclose(first.diameter_mm(x), second.diameter_mm(x), atol=0.0098 * 0.15)


@pytest.mark.parametrize(
    ("make", "start"),
    [
        (lambda: patched(BORE, -1.0, 20.0, 0.1), "patch position: "),
        (lambda: patched(BORE, 357.0, 20.0, 0.1), "patch position: "),
        (lambda: patched(BORE, 100.0, 1.9, 0.1), "patch length: "),
        (lambda: patched(BORE, 100.0, 501.0, 0.1), "patch length: "),
        (lambda: patched(BORE, 100.0, 20.0, 3.1), "patch depth: "),
        (lambda: patched(BORE, 100.0, 20.0, float("nan")), "patch depth: "),
        (lambda: patched(BORE, "100", 20.0, 0.1), "patch position: "),
        (lambda: tapered(BORE, "0.5"), "foot wider by: "),
        (lambda: tapered(BORE, float("inf")), "foot wider by: "),
        (lambda: tapered(Bore([(0, 8), (300, 6)]), 0.5), "taper: "),
        (lambda: throat_widened(BORE, None), "throat wider by: "),
        (lambda: throat_widened(BORE, 3.1), "throat wider by: "),
        (lambda: patched(Bore([(0, 1), (300, 3)]), 20.0, 40.0, -1.0), "bore, station "),
    ],
)
def test_refused_in_one_sentence(make, start):
    with pytest.raises(Refusal) as refused:
        make()
    assert_one_sentence(refused.value, start)
