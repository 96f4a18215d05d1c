"""Abrupt changes of diameter against mode matching and finite elements."""

import numpy as np
import pytest
from scipy.optimize import brentq

from acoustics.physics.network import input_impedance, slice_path
from acoustics.physics.steps import step_inertance, step_length
from acoustics.units import cents
from tests.physics.simple import DRY, LOSSLESS, REFERENCE, Tube, apart
from tests.published import table
from tests.references import axisymmetric, edge_modes, kirchhoff

RATIOS = table("step_inertance")["alpha"]


def test_published_formula():
    """Kergomard and Garcia 1987, to the printed digits."""
    np.testing.assert_allclose(
        step_length(RATIOS, 1.0) / RATIOS, table("step_inertance")["kergomard_garcia"], atol=0.51e-5
    )


def test_against_mode_matching():
    """Mode matching at k -> 0: 0.0013 of the narrow radius up to a ratio of 0.7, 0.0024 above."""
    t = table("step_inertance")
    off = np.abs(step_length(RATIOS, 1.0) / RATIOS - t["edge_mode_matching"])
    assert np.max(off[RATIOS < 0.75]) < 1.3e-3
    assert np.max(off) < 2.4e-3


@pytest.mark.parametrize(("narrow", "wide"), [(3.5, 5.0), (2.6, 2.65), (2.0, 8.0)])
def test_against_both_references(narrow, wide):
    """scikit-fem bounds the inertance from below, edge modes from above; 3.5 into 5.0 mm is 0.4632 mm."""
    above = edge_modes.step_inertance(narrow, wide) * narrow
    below = axisymmetric.step_inertance(narrow, wide) * narrow
    assert above - below < 2e-4
    assert abs(step_length(narrow, wide) - above) < 2.4e-3 * narrow


def test_step_of_the_physics_notes():
    assert float(step_length(3.5, 5.0)) == pytest.approx(0.46324, abs=1.3e-3 * 3.5)


def test_limits():
    """A narrow pipe into a wide vessel is the flanged end (0.8217 r); no step, no length."""
    assert float(step_length(1.0, 1e4)) == pytest.approx(0.821674, rel=5e-4)
    assert float(step_length(2.0, 2.0)) == 0.0
    assert float(step_inertance(3e-6, 3e-6)) == 0.0
    areas = np.array([2e-6, 7e-6])
    np.testing.assert_allclose(step_inertance(*areas), step_inertance(*areas[::-1]), rtol=1e-15)
    assert float(step_inertance(*areas)) == pytest.approx(
        float(step_length(np.sqrt(2e-6 / np.pi), np.sqrt(7e-6 / np.pi))) / 2e-6, rel=1e-14
    )


@pytest.mark.parametrize("diameters", [(7.0, 10.0), (10.0, 7.0)])
def test_pipe_with_a_step(diameters):
    """Two cylinders and the edge-mode inertance by hand: |Z| within 2e-4 off resonance, the mode within 0.02 cents."""
    first, second = diameters
    narrow = min(diameters) / 2e3
    added = edge_modes.step_inertance(min(diameters), max(diameters)) * narrow / (np.pi * narrow**2)
    tube = Tube(((0, first), (150, first), (150, second), (400, second)))

    def by_hand(frequency, gas=REFERENCE):
        one = np.ones_like(frequency)
        ducts = [kirchhoff.cylinder(d / 2e3, length, frequency, gas) for d, length in ((first, 0.15), (second, 0.25))]
        step = (one, 2j * np.pi * frequency * gas.rho * added, 0 * one, one)
        return kirchhoff.seen_through(kirchhoff.chain(ducts[0], step, ducts[1]), np.inf)

    frequency = np.array([100.0, 350.0, 700.0, 1100.0])
    assert apart(input_impedance(tube, frequency, foot="shut", air=DRY), by_hand(frequency)) < 1e-3
    near = np.linspace(380.0, 480.0, 400)
    start = near[np.flatnonzero(np.diff(np.sign(by_hand(near).imag)))]
    assert len(start) == 1
    ends = (start[0] - 1, start[0] + 1)
    here = brentq(lambda f: input_impedance(tube, f, foot="shut", air=DRY).imag, *ends)
    there = brentq(lambda f: by_hand(np.array([f]))[0].imag, *ends)
    assert abs(cents(here, there)) < 0.02


def test_step_stands_at_the_near_end_of_the_slice_below_it():
    tube = Tube(((0, 7), (150, 7), (150, 10), (400, 10)))
    slices = slice_path(tube.path, [])
    at = np.flatnonzero(slices.step)
    np.testing.assert_allclose(np.cumsum(slices.length)[at - 1], [0.15], rtol=1e-12)
    assert slices.step[at[0]] == pytest.approx(float(step_length(3.5e-3, 5e-3)) / (np.pi * 3.5e-3**2), rel=1e-6)
    twoport = slices.each(np.array([2 * np.pi * 300.0]), LOSSLESS)[:, :, at[0], 0]
    assert twoport[0, 0] * twoport[1, 1] - twoport[0, 1] * twoport[1, 0] == pytest.approx(1, abs=1e-12)
