"""The boring schedule on random bores: no drill touches the finished bore; gauges read the bore back."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from acoustics.errors import Refusal
from acoustics.pipes.bore import Bore
from acoustics.pipes.gauges import Reading, stations_from_gauges
from acoustics.shop.along import places
from acoustics.shop.boring import boring_steps, drill_depth_mm, gauge_sizes_mm, gauge_stop_mm, gauge_stops, point_mm
from acoustics.shop.drills import LISTS
from acoustics.shop.workshop import Workshop
from tests.pipes.sample import assert_one_sentence, sample_chanter
from tests.pipes.strategies import bores

SHOP = Workshop()
BORE = sample_chanter().bore


@st.composite
def conical(draw):
    """A chanter's bore: a cup, a throat, then wider in uneven stretches, sometimes by a step."""
    cup, throat = draw(st.floats(2.0, 30.0)), draw(st.floats(3.0, 7.0))
    stations = [(0.0, throat + draw(st.floats(0.0, 3.0))), (cup, throat)]
    at, wide = cup, throat
    for _ in range(draw(st.integers(1, 10))):
        if draw(st.booleans()) and len({x for x, _ in stations[-2:]}) == 2:
            wide += draw(st.floats(0.0, 0.5))
            stations.append((at, wide))
        at, wide = at + draw(st.floats(1.0, 60.0)), max(3.0, wide + draw(st.floats(-0.3, 2.0)))
        stations.append((at, wide))
    return Bore(stations)


def least_room(bore: Bore, drill_mm: float, depth: float, end: str) -> float:
    """Least of bore minus drill [mm of diameter] over corners and point, on a fine grid and beside every station."""
    length, point = bore.length_mm, point_mm(drill_mm)
    stations = np.array([x for x, _ in bore.stations_mm])
    grid = np.concatenate([np.linspace(0.0, length, 2001), stations - 1e-7, stations + 1e-7])
    grid = grid[(grid >= 0.0) & (grid <= length)]
    inside = grid if end == "top" else length - grid
    beyond = np.maximum(inside - depth, 0.0)
    drill = np.where(inside <= depth + point, drill_mm * (1.0 - beyond / point), -np.inf)
    # at a step the narrower side counts; the points beside the stations see it
    at_step = np.isin(grid, stations)
    return float(np.min((np.interp(grid, *bore.table_mm) - drill)[~at_step]))


@settings(deadline=None)
@given(conical() | bores(), st.sampled_from([("metric",), ("fractional",), ("number", "letter"), tuple(LISTS)]))
def test_every_drilled_step_stays_inside_the_finished_bore(bore, lists):
    shop = replace(SHOP, drills=lists)
    assume(min(d for _, d in bore.stations_mm) - shop.allowance_mm > shop.drills[0].mm)
    for end in ("foot", "top"):
        steps = boring_steps(bore, shop, end)
        for step in steps:
            room = least_room(bore, step.drill.mm, step.depth_mm, end)
            assert room >= shop.allowance_mm - 1e-6, (end, step, room)
        for first, then in pairwise(steps):
            assert then.drill.mm < first.drill.mm
            assert then.depth_mm > first.depth_mm or then.through
            assert first.drill.mm - then.drill.mm >= shop.least_step_mm - 1e-9
    assert [step.through for step in boring_steps(bore, shop)] == [False] * (len(boring_steps(bore, shop)) - 1) + [True]


def test_a_step_could_not_go_a_millimetre_deeper():
    for step in boring_steps(BORE, SHOP)[:-1]:
        assert least_room(BORE, step.drill.mm, step.depth_mm + 1.0, "foot") < SHOP.allowance_mm


def test_depths_by_hand():
    """A cone of 1 mm in 100: a drill of 9.0 with 0.3 left may go to where the bore is 9.3."""
    cone = Bore([(0.0, 8.0), (400.0, 12.0)])
    assert drill_depth_mm(cone, 9.0, 0.3) == pytest.approx(400.0 - 130.0)
    assert drill_depth_mm(cone, 7.7, 0.3) == 400.0
    assert drill_depth_mm(cone, 12.0, 0.3) < 0.0
    step = Bore([(0.0, 5.0), (100.0, 5.0), (100.0, 10.0), (200.0, 10.0)])
    room = point_mm(8.0) * (1.0 - (5.0 - 0.3) / 8.0)
    assert drill_depth_mm(step, 8.0, 0.3) == pytest.approx(100.0 - room), "the point stops at the shoulder"


def test_an_own_list_is_kept_to():
    steps = boring_steps(BORE, replace(SHOP, drills=(4.0, 4.8, 6.0, 8.0, "13/32 in", 30.0)))
    assert [step.drill.mm for step in steps] == pytest.approx([25.4 * 13 / 32, 8.0, 6.0, 4.8])


def test_no_drill_for_the_throat():
    with pytest.raises(Refusal) as caught:
        boring_steps(BORE, replace(SHOP, drills=(6.0, 7.0)))
    assert_one_sentence(caught.value, "drills: the smallest drill is 6 mm, the throat 5.20 mm at 30 mm")
    with pytest.raises(Refusal) as caught:
        boring_steps(BORE, SHOP, "left")
    assert_one_sentence(caught.value, "end: 'left' is not an end")


def test_gauges_are_a_tenth_apart_up_to_ten_and_two_tenths_above():
    assert gauge_sizes_mm(9.75, 10.65) == (9.8, 9.9, 10.0, 10.2, 10.4, 10.6)


@settings(deadline=None)
@given(conical())
def test_gauges_read_the_bore_back(bore):
    """Stops as readings, put together by the reader of gauge files: each gauge is the bore where it stopped."""
    for end in ("foot", "top"):
        for stop in gauge_stops(bore, 0.03, end):
            assert stop.shallow_mm <= stop.depth_mm <= stop.deep_mm
            x = bore.length_mm - stop.depth_mm if end == "foot" else stop.depth_mm
            beside = np.interp([x - 1e-6, x + 1e-6], *bore.table_mm)
            assert beside.min() - 1e-4 <= stop.gauge_mm <= beside.max() + 1e-4


def test_gauges_give_the_sample_bore():
    stops = gauge_stops(BORE, 0.03)
    readings = [
        Reading(n, s.gauge_mm, s.depth_mm, "foot", "round", BORE.length_mm - s.depth_mm, ("", ""))
        for n, s in enumerate(stops)
    ]
    narrow, _, _ = stations_from_gauges(readings, BORE.length_mm)
    for x, d in narrow:
        assert d == pytest.approx(float(BORE.diameter_mm(x)), abs=1e-6)
    assert stops[0].gauge_mm == 12.8
    assert stops[-1].gauge_mm == 5.3, "5.2 goes through the throat, so it is not in the list"


def test_gauge_stop_by_hand():
    cone = Bore([(0.0, 8.0), (400.0, 12.0)])
    assert gauge_stop_mm(cone, 10.0) == pytest.approx(200.0)
    assert gauge_stop_mm(cone, 10.0, "top") == 0.0
    assert gauge_stop_mm(cone, 7.9) == 400.0
    assert gauge_stop_mm(cone, 12.1) == 0.0
    stop = next(s for s in gauge_stops(cone, 0.05) if s.gauge_mm == 10.0)
    assert (stop.shallow_mm, stop.deep_mm) == pytest.approx((195.0, 205.0))


def test_places_are_every_twenty_and_every_station():
    found = places(BORE.stations_mm, BORE.length_mm)
    assert {0.0, 20.0, 40.0, 340.0} <= {p.from_top_mm for p in found}
    assert {x for x, _ in BORE.stations_mm} == {p.from_top_mm for p in found if p.station}
    (step,) = [p for p in found if p.step]
    assert (step.from_top_mm, step.above_mm, step.below_mm) == (31.0, 5.2, 5.3)
    for place in found:
        assert place.from_top_mm + place.from_foot_mm == pytest.approx(356.0)
        assert place.below_mm == pytest.approx(float(BORE.diameter_mm(place.from_top_mm)))
