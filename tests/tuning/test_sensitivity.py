"""Every dimension's column of derivatives against central differences of full charts, every note in both octaves."""

import warnings
from dataclasses import replace

import numpy as np
import pytest

from acoustics.errors import Refusal
from acoustics.physics.air import Air
from acoustics.pipes.bore import Bore
from acoustics.pipes.holes import Key
from acoustics.tuning.sensitivity import Sensitivity, sensitivities
from acoustics.tuning.setup import Setup
from tests.pipes.sample import assert_one_sentence, sample_chanter
from tests.tuning.bench import bench, demo
from tests.tuning.changes import central, outside_allowed, with_bore, with_hole, with_part

# 0.003 of a unit (mm, 0.1 of softness, 10 Hz) on either side.  Measured on the demo with 100 stations, against the
# bar of 1e-4 of the column's largest: curvature of the most curved (a pad's lift, the pressed eye) 24 times the bar
# at 0.1, 0.3 at 0.01, 0.02 at 0.003; the rounding of two charts divided by the step is below 0.01 at 0.003.  Places
# are moved by 0.1 mm instead: where a stretch is a whole number of longest slices long, a chart gets one slice more
# on one side, a jump of 5e-6 cents and more, and a place has 5e-6 of curvature there.
STEP, PLACE = 0.003, 0.1
REED = {"length": "length_mm", "area": "area_mm2", "softness": "softness", "resonance": "resonance_hz"}
STAPLE = {
    "length": "length_mm",
    "foot": "foot_mm",
    "tip": "tip_mm",
    "insertion": "insertion_mm",
    "eye opening": "eye_opening_mm",
    "flattened": "flattened_mm",
}
HOLE = {
    "position": "position_mm",
    "size": "diameter_mm",
    "wall": "depth_mm",
    "undercut diameter": "undercut_diameter_mm",
    "undercut depth": "undercut_depth_mm",
    "lift": "lift_mm",
    "pad diameter": "pad_diameter_mm",
}
AIR = {"temperature": "temperature_c", "relative humidity": "relative_humidity"}
UNITS = {"reed area": "mm²", "reed softness": "0.1", "reed resonance": "10 Hz"}
UNITS |= {"temperature": "°C", "relative humidity": "10 %"}
AMOUNT = {"mm": 1.0, "mm²": 1.0, "°C": 1.0, "0.1": 0.1, "10 Hz": 10.0, "10 %": 0.1}


def refined() -> Setup:
    """The demo with its bore written down at 101 stations, the same shape."""
    bore = demo().bore
    own = bore.table_mm[0]
    between = np.setdiff1d(np.round(np.linspace(0.0, bore.length_mm, 500), 2), own)
    between = between[np.min(np.abs(between[:, None] - own), axis=1) > 0.5]
    chosen = between[np.linspace(0, len(between) - 1, 101 - len(own)).round().astype(int)]
    places = np.union1d(own, chosen).tolist()
    return Setup(replace(demo(), bore=Bore([(at, float(bore.diameter_mm(at))) for at in places])))


SETUPS = {
    "101 stations": refined(),
    "oval, undercut, tilt, step, rush": Setup(sample_chanter()),
    "gap, tape": replace(bench(), gap_mm=2.0, taped=(("A", 0.6),)),
}


@pytest.fixture(scope="module", params=SETUPS)
def known(request):
    with outside_allowed():
        return SETUPS[request.param], sensitivities(SETUPS[request.param])


def larger(setup: Setup, dimension: str, by: float) -> Setup:
    """The setup with one dimension larger, by its own plain field."""
    if dimension in AIR:
        return with_part(setup, "air", **{AIR[dimension]: by})
    part, _, rest = dimension.partition(" ")
    if part == "reed":
        return with_part(setup, "reed", **{REED[rest]: by})
    if part == "staple":
        return with_part(setup, "staple", **{STAPLE[rest]: by})
    if part == "bore":
        return with_bore(setup, float(rest.removeprefix("at ").removesuffix(" mm")), by)
    name = max((h.name for h in setup.base.holes if dimension.startswith(f"{h.name} ")), key=len)
    return with_hole(setup, name, **{HOLE[dimension.removeprefix(f"{name} ")]: by})


def slope(setup: Setup, dimension: str, unit: str) -> np.ndarray:
    step = PLACE if dimension.endswith("position") else STEP
    return central(lambda by: larger(setup, dimension, by), step * AMOUNT[unit]) * AMOUNT[unit]


def test_every_dimension(known):
    """All of them, in every row: within 1e-4 of the column's largest, or 1e-4 cents per unit."""
    setup, found = known
    excess = {}
    for i, (dimension, unit) in enumerate(zip(found.dimensions, found.units, strict=True)):
        want, got = slope(setup, dimension, unit), found.matrix[:, i]
        np.testing.assert_array_equal(np.isnan(got), np.isnan(want))
        allowed = max(1e-4 * np.nanmax(np.abs(want)), 1e-4)
        excess[dimension] = np.nanmax(np.abs(got - want)) / allowed
    worst = max(excess, key=excess.get)
    print(f"{len(excess)} dimensions, worst {worst}: {excess[worst]:.2f} of what is allowed")
    assert excess[worst] <= 1.0, worst


def test_150_dimensions():
    setup = SETUPS["101 stations"]
    found = sensitivities(setup)
    assert len(setup.base.bore.stations_mm) == 101
    assert len(found.dimensions) >= 150
    assert found.matrix.shape == (len(setup.chart.rows), len(found.dimensions))
    assert np.all(np.isfinite(found.matrix))
    # nothing in it is idle
    assert np.min(np.max(np.abs(found.matrix), axis=0)) > 1e-3


def test_names_and_units(known):
    """Each name once, one for each dimension that the file has, with its unit."""
    setup, found = known
    base = setup.base
    want = {f"reed {name}" for name in REED} | {f"staple {name}" for name in STAPLE} | set(AIR)
    stations, below = sorted({at for at, _ in base.bore.stations_mm}), base.staple.insertion_mm
    # the station above the staple's foot still holds one end of the first stretch of free bore
    felt = [at for at, after in zip(stations, [*stations[1:], np.inf], strict=True) if after > below]
    want |= {f"bore at {at:g} mm" for at in felt}
    for hole in base.holes:
        want |= {f"{hole.name} position", f"{hole.name} wall"}
        if not isinstance(hole.diameter_mm, tuple):
            want.add(f"{hole.name} size")
        if isinstance(hole, Key):
            want |= {f"{hole.name} lift", f"{hole.name} pad diameter"}
        elif hole.undercut_depth_mm:
            want |= {f"{hole.name} undercut diameter", f"{hole.name} undercut depth"}
    assert len(set(found.dimensions)) == len(found.dimensions) == len(found.units)
    assert set(found.dimensions) == want
    assert {name: unit for name, unit in zip(found.dimensions, found.units, strict=True) if unit != "mm"} == UNITS
    assert found.notes == tuple(row.title for row in setup.chart.rows)
    assert repr(found) == f"{len(want)} dimensions by {len(found.notes)} notes"


def test_one_column(known):
    _, found = known
    for i in (0, 7, len(found.dimensions) - 1):
        np.testing.assert_array_equal(found.of(found.dimensions[i]), found.matrix[:, i])


@pytest.mark.parametrize("name", ["", "bore at 70 mm", "staple", "A  size", "reed Length"])
def test_unknown_names_are_refused(name):
    found = sensitivities(bench())
    with pytest.raises(Refusal) as refused:
        found.of(name)
    assert_one_sentence(refused.value, f'dimension: there is no dimension "{name}"')
    assert f"one of {len(found.dimensions)} is allowed" in str(refused.value)


def test_a_hole_at_a_station():
    """G at 227.0, where a station stands: staple and bore stay exact, nothing is nan."""
    setup = with_hole(bench(), "G", position_mm=16.0)
    found = sensitivities(setup)
    assert np.all(np.isfinite(found.matrix))
    for name in ("staple length", "staple insertion", "staple foot", "bore at 227 mm", "bore at 192 mm", "G size"):
        want = slope(setup, name, "mm")
        np.testing.assert_allclose(found.of(name), want, rtol=0.0, atol=max(1e-4 * np.max(np.abs(want)), 1e-4))


@pytest.mark.parametrize("flattened", [26.0, 56.0], ids=["in part", "over the whole length"])
def test_a_staple_pressed(flattened):
    """A staple may be pressed over its whole length: what can be changed one way only is changed that way."""
    setup = with_part(bench(), "staple", flattened_mm=flattened - 26.0)
    found = sensitivities(setup)
    for name in ("staple length", "staple flattened"):
        way = {"staple length": 1.0, "staple flattened": -1.0}[name]
        ends = [larger(setup, name, way * by).chart.cents for by in (0.006, 0.003)]
        one, two = ((end - setup.chart.cents) / (way * by) for end, by in zip(ends, (0.006, 0.003), strict=True))
        want = 2.0 * two - one
        # the difference of three charts rather than two leaves twice the rest
        np.testing.assert_allclose(found.of(name), want, rtol=0.0, atol=8e-6 * np.max(np.abs(want)))


def test_silent_rows_are_nan():
    setup = with_part(bench(), "reed", resonance_hz=-300.0)
    silent = np.isnan(setup.chart.cents)
    found = sensitivities(setup)
    assert 0 < silent.sum() < 5
    np.testing.assert_array_equal(np.isnan(found.matrix).all(axis=1), silent)
    np.testing.assert_array_equal(np.isnan(found.matrix).any(axis=1), silent)


@pytest.mark.parametrize(("celsius", "humid"), [(-20.0, 0.0), (60.0, 1.0), (20.0, 0.0), (20.0, 1.0)])
def test_air_at_its_limits(celsius, humid):
    """The nudges stay inside; from there the slopes are those of the air a little way in."""
    with outside_allowed():
        edge = sensitivities(replace(bench(), air=Air(celsius, humid)))
        inside = Air(celsius - np.sign(celsius - 20.0) * 0.01, humid - np.sign(humid - 0.5) * 1e-3)
        near = sensitivities(replace(bench(), air=inside))
    for name in ("temperature", "relative humidity"):
        np.testing.assert_allclose(edge.of(name), near.of(name), rtol=5e-3, atol=1e-4)


def test_no_warning_of_its_own():
    """What the chart warns of is said once, by the chart; the nudges say nothing."""
    setup = Setup(sample_chanter())
    with outside_allowed():
        setup.chart  # noqa: B018
    with warnings.catch_warnings(record=True) as said:
        warnings.simplefilter("always")
        sensitivities(setup)
    assert len(said) <= 1


def test_plain_arrays_go_in():
    found = Sensitivity(("D",), ("a", "b"), ("mm", "mm"), np.array([[1.0, 2.0]]))
    assert found.of("b")[0] == 2.0
    assert repr(found) == "2 dimensions by 1 notes"
