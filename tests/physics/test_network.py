"""Pipes as a whole: reciprocity, passivity, energy, and agreement with cascades made elsewhere."""

import contextlib
import warnings
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from acoustics.errors import Refusal
from acoustics.physics.air import Air
from acoustics.physics.network import column, input_impedance
from acoustics.physics.radiation import foot_impedance
from acoustics.physics.standing_wave import standing_wave
from acoustics.physics.toneholes import hole_twoports
from acoustics.physics.twoport import determinant, fold
from acoustics.pipes.holes import ToneHole
from acoustics.validity import OutsideRange
from tests.physics.simple import DRY, LOSSLESS, Tube, apart, cylinder, side
from tests.pipes.sample import sample_chanter
from tests.pipes.strategies import chanters, floats
from tests.references import network

MANY = {"deadline": None, "suppress_health_check": list(HealthCheck)}
AIRS = st.builds(Air, floats(0.0, 30.0), floats(0.0, 1.0), floats(75e3, 102e3), floats(0.0, 0.01))
FEET = st.sampled_from(["open", "shut"]) | floats(0.1, 30.0)
BAND = np.linspace(60.0, 2400.0, 160)
FINGERINGS = [((), "open"), ((), "shut"), (("E", "Eb"), "shut"), ({"A": 0.4, "G": 1.0}, 3.0), (("back D", "B"), "open")]


@contextlib.contextmanager
def any_range():
    """Random pipes may lie outside any published range; their warnings are not what is tested here."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", OutsideRange)
        yield


@st.composite
def situations(draw):
    """(pipe, {hole: share}, foot, air, frequencies)"""
    pipe = draw(chanters())
    shares = {hole.name: draw(st.sampled_from([0.0, 1.0]) | floats(0.0, 1.0)) for hole in pipe.holes}
    return pipe, shares, draw(FEET), draw(AIRS), np.array(draw(st.lists(floats(10.0, 6000.0), min_size=1, max_size=6)))


@given(situations())
@settings(max_examples=500, **MANY)
def test_passivity(situation):
    """The real part of the input impedance is positive for every random pipe, 500 of them."""
    pipe, shares, foot, air, frequency = situation
    with any_range():
        z = input_impedance(pipe, frequency, shares, foot, air)
    assert np.all(np.isfinite(z))
    assert np.all(z.real > 0)


@given(situations())
@settings(max_examples=150, **MANY)
def test_reciprocity(situation):
    """The determinant of every two-port is 1 within 1e-10; slices with their steps, chimneys, holes."""
    pipe, shares, _, air, frequency = situation
    with any_range():
        built = column(pipe)
    omega = 2 * np.pi * frequency
    assert np.max(np.abs(determinant(built.slices.each(omega, air.gas)) - 1)) < 1e-10
    if built.holes:
        chimneys = fold(built.holes.chimneys.each(omega, air.gas), built.holes.chimneys.counts)
        share = np.array([shares[name] for name in built.holes.names])
        with any_range():
            sides = hole_twoports(built.holes, np.arange(len(share)), share, chimneys, omega, air.gas)
        assert np.max(np.abs(determinant(sides) - 1)) < 1e-10


@given(chanters(), st.data())
@settings(max_examples=60, **MANY)
def test_many_frequencies_at_once_are_each_alone(pipe, data):
    """Interpolated over the band or not: 1e-6 of |Z| for any pipe at all, deep ringing chimneys included."""
    shares = {hole.name: data.draw(st.sampled_from([0.0, 0.3, 1.0])) for hole in pipe.holes}
    with any_range():
        together = input_impedance(pipe, BAND, shares)
        alone = np.concatenate([input_impedance(pipe, part, shares) for part in np.split(BAND, 16)])
    assert apart(together, alone) < 1e-6


@pytest.mark.parametrize(("holes", "foot"), FINGERINGS)
def test_interpolation_on_a_chanter(holes, foot):
    """A thousand frequencies through the polynomial, ten at a time without: 1e-7."""
    band = np.linspace(100.0, 2500.0, 1000)
    together = input_impedance(sample_chanter(), band, holes, foot)
    alone = np.concatenate([input_impedance(sample_chanter(), part, holes, foot) for part in np.split(band, 100)])
    assert apart(together, alone) < 1e-7


def test_deep_ringing_chimney_is_not_interpolated_away():
    """A chimney of 100 mm, shut, is a quarter wave near 850 Hz: a pole inside the band."""
    tube = cylinder(12.0, 400.0, side(ToneHole("deep", 200.0, 6.0), 99.0, 12.0, 40.0))
    with any_range():
        together = input_impedance(tube, BAND, air=DRY)
        alone = np.concatenate([input_impedance(tube, part, air=DRY) for part in np.split(BAND, 16)])
    assert apart(together, alone) < 1e-6


@pytest.mark.parametrize(("holes", "foot"), FINGERINGS)
def test_cascade_of_scikit_rf(holes, foot):
    """Every slice and every hole as a network of scikit-rf, through scattering matrices: 1e-9."""
    frequency, pipe = np.linspace(150.0, 1500.0, 20), sample_chanter()
    gas, omega, built = Air().gas, 2 * np.pi * np.linspace(150.0, 1500.0, 20), column(sample_chanter())
    ports = built.bore.each(omega, gas)
    chimneys = fold(built.holes.chimneys.each(omega, gas), built.holes.chimneys.counts)
    given_shares = holes if isinstance(holes, dict) else dict.fromkeys(holes, 1.0)
    share = np.array([given_shares.get(name, 0.0) for name in built.holes.names])
    sides = hole_twoports(built.holes, np.arange(len(share)), share, chimneys, omega, gas)
    after = np.cumsum(built.bore.counts)[:-1]
    row = np.insert(ports, after, sides, axis=2)
    load = np.inf
    if foot != "shut":
        load = foot_impedance(*built.foot_radii, omega, gas, None if foot == "open" else foot * 1e-3)
    theirs = network.cascade_input_impedance(*row.reshape(4, -1, len(omega)), load, frequency, 1e7)
    assert apart(input_impedance(pipe, frequency, holes, foot), theirs) < 1e-9


@pytest.mark.parametrize(("holes", "foot"), FINGERINGS)
def test_standing_wave_begins_at_the_input_impedance(holes, foot):
    frequency = np.array([180.0, 420.0, 980.0])
    wave = standing_wave(sample_chanter(), frequency, holes, foot)
    np.testing.assert_allclose(wave.pressure[0], 1.0, rtol=1e-14)
    # its points cut the slices shorter than the impedance's 8 mm: 2e-5 of difference
    assert apart(wave.pressure[0] / wave.flow[0], input_impedance(sample_chanter(), frequency, holes, foot)) < 1e-3
    fine, coarse = (standing_wave(sample_chanter(), frequency, holes, foot, step_mm=s) for s in (1.0, 2.0))
    assert apart(fine.flow[0], coarse.flow[0]) < 2e-5


def power(wave):
    """Through each section of the bore [W]."""
    return 0.5 * (wave.pressure * wave.flow.conj()).real


@pytest.mark.parametrize(("holes", "foot"), FINGERINGS)
def test_power_is_what_is_radiated_and_absorbed(holes, foot):
    """Without losses power is constant between open holes, falls at each by what it radiates, ends in the foot.

    Radiated by a hole: half |p|^2 Re of the shunt; the series arms only store.
    """
    pipe, frequency = sample_chanter(), np.array([330.0, 710.0])
    wave = standing_wave(pipe, frequency, holes, foot, LOSSLESS)
    through = power(wave)
    opened = [hole for hole in pipe.side_holes if hole.name in dict.fromkeys(holes)]
    built = column(pipe)
    places = [built.holes.place[built.holes.names.index(h.name)] * 1e3 - pipe.path.body_offset_mm for h in opened]
    edges = [-1e3, *sorted(places), 1e4]
    steps = []
    for start, end in pairwise(edges):
        # at a hole's axis the near side is listed: it belongs to the stretch above
        part = through[(wave.from_top_mm > start + 1e-6) & (wave.from_top_mm <= end + 1e-6)]
        if foot == "shut" and end == 1e4:
            assert np.max(np.abs(part)) <= 1e-9 * np.max(through[0])
        else:
            np.testing.assert_allclose(part, np.broadcast_to(part[0], part.shape), rtol=1e-8)
        steps.append(part[0])
    assert np.all(np.diff(steps, axis=0) < 0) or len(steps) == 1
    if foot != "shut":
        load = foot_impedance(
            *built.foot_radii, 2 * np.pi * frequency, LOSSLESS, None if foot == "open" else foot * 1e-3
        )
        np.testing.assert_allclose(through[-1], 0.5 * np.abs(wave.flow[-1]) ** 2 * load.real, rtol=1e-9)
    eye = 0.5 * (1 / input_impedance(pipe, frequency, holes, foot, LOSSLESS)).real
    np.testing.assert_allclose(through[0], eye, rtol=2e-4, atol=1e-9 * np.max(np.abs(wave.flow[0])))


@pytest.mark.parametrize(("holes", "foot"), FINGERINGS)
def test_power_only_falls_on_its_way(holes, foot):
    """With losses no stretch and no hole gives power back."""
    wave = standing_wave(sample_chanter(), np.array([330.0, 710.0]), holes, foot)
    assert np.all(np.diff(power(wave), axis=0) <= 1e-12 * power(wave)[0])
    assert np.all(power(wave)[0] > 0)


def test_flow_at_the_stopped_foot_is_nothing():
    wave = standing_wave(sample_chanter(), 330.0, (), "shut")
    assert wave.flow[-1, 0] == 0
    assert abs(wave.pressure[-1, 0]) > 0
    assert wave.from_top_mm[0] == -24.0
    assert wave.from_top_mm[-1] == pytest.approx(356.0)
    assert np.all(np.diff(wave.from_top_mm) > 0)


def test_all_shut_without_losses_only_stores():
    z = input_impedance(sample_chanter(), BAND[:16], (), "shut", LOSSLESS)
    assert np.max(np.abs(z.real / z.imag)) < 1e-9


def test_order_of_holes_and_names_is_irrelevant():
    holes = [side(ToneHole(name, at, 5.0), 4.0, 12.0) for name, at in (("a", 150.0), ("b", 220.0), ("c", 300.0))]
    tubes = [cylinder(12.0, 400.0, *(holes[i] for i in order)) for order in ((0, 1, 2), (2, 0, 1), (1, 2, 0))]
    first, *others = (input_impedance(tube, BAND[:10], ("c", "a"), air=DRY) for tube in tubes)
    for other in others:
        np.testing.assert_array_equal(other, first)
    np.testing.assert_array_equal(input_impedance(tubes[0], BAND[:10], {"a": 1.0, "c": 1.0}, air=DRY), first)


def test_two_holes_in_one_place_and_on_a_station():
    """Front and back hole opposite each other, on a measured station: the limit of two holes a hair apart."""
    stations = ((0.0, 8.0), (150.0, 10.0), (350.0, 13.0))

    def pair(distance):
        two = ToneHole("a", 150.0, 5.0), ToneHole("b", 150.0 + distance, 4.0, face="back")
        return Tube(stations, tuple(side(hole, 4.0, 10.0) for hole in two))

    together, near = (input_impedance(pair(d), BAND[:10], ("a", "b"), air=DRY) for d in (0.0, 1e-5))
    assert apart(together, near) < 1e-5
    assert apart(together, input_impedance(pair(1.0), BAND[:10], ("a", "b"), air=DRY)) > 1e-4
    wave = standing_wave(pair(0.0), BAND[:3], ("a", "b"), air=DRY)
    assert apart(wave.pressure[0] / wave.flow[0], input_impedance(pair(0.0), BAND[:3], ("a", "b"), air=DRY)) < 1e-3


def test_shapes():
    pipe = sample_chanter()
    alone = input_impedance(pipe, 300.0)
    assert alone.shape == ()
    block = input_impedance(pipe, np.full((2, 3), 300.0))
    assert block.shape == (2, 3)
    np.testing.assert_allclose(block, alone, rtol=1e-13)
    spread = input_impedance(pipe, BAND.reshape(4, 40))
    np.testing.assert_allclose(spread.ravel(), input_impedance(pipe, BAND), rtol=1e-12)
    assert standing_wave(pipe, [300.0, 400.0]).pressure.shape == (len(standing_wave(pipe, 300.0).from_top_mm), 2)


@pytest.mark.parametrize("bad", [0.0, -1.0, np.nan, np.inf, [], [100.0, np.nan], [[300.0, 0.0]], "abc", 1j])
@pytest.mark.parametrize("function", [input_impedance, standing_wave])
def test_bad_frequencies_are_refused(function, bad):
    with pytest.raises(Refusal, match=r"frequency: .*above 0"):
        function(sample_chanter(), bad)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"open_holes": ["Z"]}, 'there is no hole called "Z"; one of back D, '),
        ({"open_holes": {"A": 1.5}}, "open_holes, A: 1.5 is out of bounds"),
        ({"foot": "ajar"}, "foot: foot 'ajar'"),
        ({"foot": -1.0}, "foot, foot: -1 is out of bounds"),
    ],
)
def test_bad_fingerings_are_refused(arguments, words):
    with pytest.raises(Refusal, match=words):
        input_impedance(sample_chanter(), 300.0, **arguments)
    with pytest.raises(Refusal, match="this pipe has no holes"):
        input_impedance(cylinder(8.0, 300.0), 300.0, ["A"])


@pytest.mark.parametrize("step", [0.0, 51.0, np.nan])
def test_bad_steps_are_refused(step):
    with pytest.raises(Refusal, match=r"step_mm: .*0\.1 to 50 mm"):
        standing_wave(sample_chanter(), 300.0, step_mm=step)
