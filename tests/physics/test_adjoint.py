"""The adjoint sweep against the whole chain calculated again, and against Rayleigh."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from acoustics.physics import adjoint
from acoustics.physics.adjoint import (
    admittance_change,
    bore_gradient,
    foot_change,
    hole_change,
    step_change,
    sweep,
)
from acoustics.physics.air import Air
from acoustics.physics.network import at_eye, column, foot_state_vector, states
from acoustics.physics.reeds import head
from acoustics.physics.twoport import apply
from acoustics.pipes.fingering import TIGHT
from tests.physics.simple import LOSSLESS, cylinder
from tests.pipes.sample import sample_chanter
from tests.published import table
from tests.published.printed import agree
from tests.references.perturbation import exact_cents, rayleigh_cents

GAS = Air().gas
PIPE = sample_chanter()
BUILT = column(PIPE)
PATTERNS = [TIGHT[i].pattern for i in (0, 2, 5, 10, 24)] + [((), 3.0)]
STATES = states(BUILT, PATTERNS)
SLICES = len(BUILT.bore.length)
EVERY = np.arange(len(PATTERNS))
STEPPED = np.flatnonzero(BUILT.bore.step)
slices_of_bore = st.integers(0, SLICES - 1)
patterns = st.integers(0, len(PATTERNS) - 1)
frequencies = st.floats(200.0, 1500.0)


def lips_state(built, pattern, frequency):
    """(p, U) at the lips, by the forward calculation alone, with the same air at the foot."""
    eye = at_eye(built, STATES, frequency, GAS)[:, pattern, np.arange(len(frequency))]
    return apply(head(PIPE.reed, frequency, GAS), eye)


def with_bore(**changed):
    """The column with other numbers in its bore's slices."""
    bore = replace(BUILT.bore, **changed)
    return replace(BUILT, bore=bore, slices=bore.joined(BUILT.holes.chimneys))


def nudged(name, row, index, by):
    values = np.array(getattr(BUILT.bore, name))
    values[(index,) if values.ndim == 1 else (row, index)] *= 1.0 + by
    return with_bore(**{name: values})


def at_lips(swept, pattern, frequency):
    return apply(head(PIPE.reed, frequency, GAS), swept.eye)


def assert_exact(change, other, pattern, frequency):
    """Of two states of a reciprocal chain p U' - U p' never changes, so Y' - Y = change/(p p') for any size of change.

    Tellegen 1952; both sides of the equation are made with different functions of the package.
    """
    (p, u), (p2, u2) = (lips_state(built, pattern, frequency) for built in (BUILT, other))
    difference = u2 / p2 - u / p
    # what is left over is rounding of the two admittances
    np.testing.assert_allclose(change / (p * p2), difference, rtol=1e-8, atol=1e-12 * np.max(np.abs(u / p)))
    assert np.max(np.abs(difference)) > 1e-6 * np.max(np.abs(u / p))


def test_the_eye_is_that_of_the_forward_calculation():
    frequency = np.linspace(210.0, 1450.0, len(PATTERNS))
    swept = sweep(BUILT, STATES, EVERY, frequency, GAS)
    forward = at_eye(BUILT, STATES, frequency, GAS)[:, EVERY, EVERY]
    np.testing.assert_allclose(swept.eye, forward, rtol=1e-11)
    np.testing.assert_array_equal(swept.eye, swept.above[:, 0])


def test_the_foot_and_the_joints():
    """The last slice ends in the foot's own air; between two slices of a run there is one state."""
    frequency = np.full(len(PATTERNS), 400.0)
    swept = sweep(BUILT, STATES, EVERY, frequency, GAS)
    for i, (_, foot) in enumerate(PATTERNS):
        want = foot_state_vector(BUILT, foot, 2 * np.pi * frequency, GAS)[:, i]
        np.testing.assert_array_equal(swept.below[:, -1, i], want)
    cuts = np.cumsum(BUILT.bore.counts)[:-1]
    inner = np.setdiff1d(np.arange(1, SLICES), cuts)
    np.testing.assert_array_equal(swept.above[:, inner], swept.below[:, inner - 1])
    np.testing.assert_array_equal(swept.above_hole, swept.below[:, cuts - 1])
    np.testing.assert_array_equal(swept.below_hole, swept.above[:, cuts])


def test_the_form_passes_every_slice_and_every_hole():
    """Two different waves under one fingering: p U' - U p' is one number from foot to eye."""
    frequency = np.full(len(PATTERNS), 523.0)
    one = sweep(BUILT, STATES, EVERY, frequency, GAS)
    two = sweep(replace(BUILT, foot_radii=(5.0e-3, 14.0e-3)), STATES, EVERY, frequency, GAS)

    def form(a, b):
        return a[0] * b[1] - a[1] * b[0]

    opened = [i for i, (_, foot) in enumerate(PATTERNS) if foot != "shut"]
    assert len(opened) == 2
    at_foot = form(one.below[:, -1], two.below[:, -1])[opened]
    assert np.all(np.abs(at_foot) > 0.0)
    for part in ("above", "below", "above_hole", "below_hole"):
        along = form(getattr(one, part), getattr(two, part))[:, opened]
        np.testing.assert_allclose(along, np.broadcast_to(at_foot, along.shape), rtol=1e-7)
    np.testing.assert_allclose(form(one.eye, two.eye)[opened], at_foot, rtol=1e-7)


@settings(deadline=None, max_examples=60)
@given(slices_of_bore, patterns, frequencies, st.sampled_from([-0.2, -0.01, 0.03, 0.4]))
def test_a_slice_of_another_area(index, pattern, frequency, by):
    """One slice wider by up to 40 %: exact."""
    which, f = np.array([pattern]), np.array([frequency])
    swept = sweep(BUILT, STATES, which, f, GAS)
    area = np.array(BUILT.bore.area)
    area[:, index] *= 1.0 + by
    other, omega = with_bore(area=area), 2 * np.pi * f
    change = (other.bore.each(omega, GAS) - BUILT.bore.each(omega, GAS))[:, :, index]
    (p, u), (p2, u2) = (lips_state(built, which, f) for built in (BUILT, other))
    made = admittance_change(swept.above[:, index], change, swept.below[:, index])
    np.testing.assert_allclose(made / (p * p2), u2 / p2 - u / p, rtol=1e-6, atol=1e-11 * np.abs(u / p)[0])


@settings(deadline=None, max_examples=60)
@given(slices_of_bore, patterns, frequencies, st.sampled_from(["length", "area", "perimeter"]), st.integers(0, 1))
def test_gradient_is_the_slope_of_the_whole_chain(index, pattern, frequency, name, row):
    """Central differences of the forward calculation, one number of one slice: 1e-5."""
    row = 0 if name == "length" else row
    which, f = np.array([pattern]), np.array([frequency])
    swept = sweep(BUILT, STATES, which, f, GAS)
    step = 1e-3 if name == "perimeter" else 1e-4
    ends = [lips_state(nudged(name, row, index, way * step), which, f) for way in (1.0, -1.0)]
    half = [lips_state(nudged(name, row, index, way * step / 2), which, f) for way in (1.0, -1.0)]
    wide, narrow = ((a[1] / a[0] - b[1] / b[0]) / (2 * s) for (a, b), s in ((ends, step), (half, step / 2)))
    slope = (4.0 * narrow - wide) / 3.0
    p, u = at_lips(swept, which, f)
    got = bore_gradient(BUILT, swept, f, GAS)[name][row, index] / p**2
    if name == "length":  # that one is per metre
        got = got * BUILT.bore.length[index]
    np.testing.assert_allclose(got, slope, rtol=1e-5, atol=1e-10 * np.abs(u / p)[0])


def test_every_hole_in_another_size():
    """Holes larger by 5 %, one at a time: exact for each, and nothing from the others."""
    frequency = np.linspace(300.0, 1200.0, len(PATTERNS))
    swept = sweep(BUILT, STATES, EVERY, frequency, GAS)
    heard = 0
    for name in ("A", "E", "C natural"):
        larger = tuple(
            replace(hole, diameter_mm=1.05 * hole.diameter_mm) if hole.name == name else hole for hole in PIPE.holes
        )
        other = column(replace(PIPE, holes=larger))
        change = hole_change(other.holes, STATES, EVERY, swept, frequency, GAS)
        place = BUILT.holes.names.index(name)
        assert np.all(np.delete(change, place, axis=0) == 0.0)
        assert_exact(change[place], other, EVERY, frequency)
        heard += 1
    assert heard == 3


def test_a_higher_step():
    assert len(STEPPED) >= 2
    frequency = np.linspace(300.0, 1200.0, len(PATTERNS))
    swept = sweep(BUILT, STATES, EVERY, frequency, GAS)
    for i, at in enumerate(STEPPED):
        step = np.array(BUILT.bore.step)
        step[at] *= 3.0
        other = with_bore(step=step)
        change = step_change(BUILT.bore, other.bore, swept, frequency, GAS)
        assert np.all(np.delete(change, i, axis=0) == 0.0)
        assert_exact(change[i], other, EVERY, frequency)


def test_a_wider_foot():
    """Open or lifted it is heard, on the knee it is not."""
    frequency = np.linspace(300.0, 1200.0, len(PATTERNS))
    swept = sweep(BUILT, STATES, EVERY, frequency, GAS)
    other = replace(BUILT, foot_radii=(BUILT.foot_radii[0] * 1.03, BUILT.foot_radii[1]))
    change = foot_change(BUILT, other, STATES, EVERY, swept, frequency, GAS)
    shut = np.array([foot == "shut" for _, foot in PATTERNS])
    assert np.all(change[shut] == 0.0)
    assert_exact(change, other, EVERY, frequency)


def test_pipe_without_holes():
    tube = column(cylinder(8.0, 300.0))
    chosen = states(tube, [((), "open")])
    swept = sweep(tube, chosen, np.array([0, 0]), np.array([300.0, 500.0]), GAS)
    assert swept.above_hole.shape == (2, 0, 2)
    np.testing.assert_allclose(swept.eye, at_eye(tube, chosen, np.array([300.0, 500.0]), GAS)[:, 0], rtol=1e-12)
    assert hole_change(tube.holes, chosen, np.array([0, 0]), swept, np.array([300.0, 500.0]), GAS).shape == (0, 2)


# A lossless cylinder, closed at the lips' end, with no pressure at all at its foot


@pytest.fixture
def ideal(monkeypatch):
    """Cylinder of 400 mm in slices of 4 mm whose foot is a place without pressure."""
    monkeypatch.setattr(
        adjoint, "foot_state_vector", lambda _column, _foot, omega, _gas: np.array([0.0 * omega, 1.0 + 0.0j * omega])
    )
    return column(cylinder(8.0, 400.0), 4.0)


def swept_at(built, frequency):
    chosen = states(built, [((), "open")])
    return sweep(built, chosen, np.zeros(len(frequency), int), frequency, LOSSLESS)


def admittance(built, frequency):
    pressure, flow = swept_at(built, np.atleast_1d(frequency)).eye
    return (flow / pressure).imag


def enlarged(built, start_mm, stretch_mm, change):
    """Where the stretch lies, and the cylinder with it larger by `change`."""
    middle = (np.cumsum(built.bore.length) - built.bore.length / 2.0) * 1e3
    inside = (middle > start_mm) & (middle < start_mm + stretch_mm)
    area = np.where(inside, 1.0 + change, 1.0) * built.bore.area
    return inside, replace(built, bore=replace(built.bore, area=area))


def first_order(built, start_mm, stretch_mm, change, mode):
    """Shift of a mode [cents] by the gradient and the slope of the admittance."""
    f = np.array([(mode - 0.5) * LOSSLESS.sound_speed / 0.8])
    swept = swept_at(built, f)
    inside, _ = enlarged(built, start_mm, stretch_mm, change)
    gradient = bore_gradient(built, swept, f, LOSSLESS)
    moved = change * gradient["area"][:, inside].sum() / swept.eye[0, 0] ** 2
    slope = (admittance(built, f * (1 + 1e-6)) - admittance(built, f * (1 - 1e-6)))[0] / 2e-6
    assert np.all(np.abs(gradient["perimeter"]) < 1e-12 * np.abs(gradient["area"]).max())
    return -1200 / np.log(2) * moved.imag / slope


@pytest.mark.parametrize("mode", [1, 2, 3])
def test_rayleighs_table(ideal, mode):
    """Rayleigh 1896, art. 265, to the printed digits; and the exact shift by calculating again."""
    t = table("rayleigh")
    agree([first_order(ideal, start, 20.0, 0.01, mode) for start in t["from_mm"]], t[f"rayleigh_{mode}"], 4)
    plain = (mode - 0.5) * LOSSLESS.sound_speed / 0.8
    exact = []
    for start in t["from_mm"]:
        _, other = enlarged(ideal, start, 20.0, 0.01)
        root = brentq(lambda f, other=other: admittance(other, f)[0], plain * 0.98, plain * 1.02, xtol=1e-10)
        exact.append(1200 * np.log2(root / plain))
    agree(exact, t[f"exact_{mode}"], 4)


@pytest.mark.parametrize("start", [0.0, 60.0, 120.0, 300.0])
@pytest.mark.parametrize("mode", [1, 2, 4])
def test_rayleighs_integral(ideal, start, mode):
    """Any stretch: the sum over Gauss points is his integral, 1e-6; twice the change, twice the shift."""
    want = rayleigh_cents(0.4, start * 1e-3, 0.04, 0.002, mode)
    got = first_order(ideal, start, 40.0, 0.002, mode)
    assert got == pytest.approx(want, rel=1e-5, abs=1e-6)
    assert abs(got - exact_cents(0.4, start * 1e-3, 0.04, 0.002, mode)) < 0.02 * abs(got) + 1e-3
    assert first_order(ideal, start, 40.0, 0.004, mode) == pytest.approx(2 * got, rel=1e-9)
