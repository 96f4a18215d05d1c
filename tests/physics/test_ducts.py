"""Losses at round walls: the Bessel ratio, cylinders, chains of cylinders, cones."""

import mpmath
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import CubicSpline
from scipy.optimize import brentq

from acoustics.physics.ducts import loss_function, per_length, tapered, uniform
from acoustics.physics.network import foot_state_vector, input_impedance, slice_path
from acoustics.physics.radiation import foot_impedance
from acoustics.physics.steps import step_length
from acoustics.pipes.path import Path
from acoustics.units import cents
from tests.physics.simple import DRY, LOSSLESS, REFERENCE, Tube, apart, cone, cylinder
from tests.physics.tubes import lossy_peaks, top, whole
from tests.published import table
from tests.references import axisymmetric, cone_roots, kirchhoff

CONE = (2.3e-3, 6.2e-3, 0.4)
APEX = cone_roots.apex_distances(*CONE)
FREQUENCIES = np.geomspace(20.0, 6000.0, 48)


def test_loss_function_against_20_digits():
    """2 J1/(z J0) of mpmath on the ray of the ducts, x from 1e-2 to 1e3, and its two limits."""
    x = np.geomspace(1e-2, 1e3, 300)
    with mpmath.workdps(30):
        z = [mpmath.mpf(value) * mpmath.exp(-0.25j * mpmath.pi) for value in x]
        exact = np.array([complex(2 * mpmath.besselj(1, v) / (v * mpmath.besselj(0, v))) for v in z])
    assert apart(loss_function(x), exact) < 1e-12
    np.testing.assert_allclose(loss_function(np.array([1e-6, 1e7])), [1, 0], atol=3e-7)
    # narrow: 1 - F -> j x^2/8 (Poiseuille)
    assert apart((1 - loss_function(np.array([0.03]))) / (1j * 0.03**2 / 8), 1) < 2e-4


@pytest.mark.parametrize("foot", ["shut", "open"])
def test_cylinder_is_the_closed_form(foot):
    """kirchhoff.cylinder (Zwikker and Kosten 1949) closed by a stop or by the end's own impedance: 1e-10 asked."""
    load = np.inf if foot == "shut" else foot_impedance(4e-3, 4e-3, 2 * np.pi * FREQUENCIES, DRY)
    exact = kirchhoff.seen_through(kirchhoff.cylinder(4e-3, 0.4, FREQUENCIES, REFERENCE), load)
    assert apart(input_impedance(cylinder(8, 400), FREQUENCIES, foot=foot, air=DRY), exact) < 1e-12


def test_chain_of_cylinders_with_steps_is_the_closed_form():
    """Each step is the inertance rho l/S of the narrower side (Kergomard and Garcia 1987): 1e-10 asked."""
    tube = Tube(((0, 5), (120, 5), (120, 8.4), (250, 8.4), (250, 6), (400, 6)))

    def step(narrow, wide):
        added = REFERENCE.rho * step_length(narrow, wide) / (np.pi * narrow**2)
        one, zero = np.ones(FREQUENCIES.shape), np.zeros(FREQUENCIES.shape)
        return one, 2j * np.pi * FREQUENCIES * added, zero, one

    parts = [(2.5e-3, 0.12), (4.2e-3, 0.13), (3e-3, 0.15)]
    ducts = [kirchhoff.cylinder(radius, length, FREQUENCIES, REFERENCE) for radius, length in parts]
    chain = kirchhoff.chain(ducts[0], step(2.5e-3, 4.2e-3), ducts[1], step(3e-3, 4.2e-3), ducts[2])
    exact = kirchhoff.seen_through(chain, np.inf)
    assert apart(input_impedance(tube, FREQUENCIES, foot="shut", air=DRY), exact) < 1e-10


def test_published_duct_constants():
    """duct_constants.csv: impedance and admittance per length, propagation, to half a unit of the printed digits."""
    t = table("duct_constants")
    radius, omega = t["radius_mm"] * 1e-3, 2 * np.pi * t["frequency"]
    z, y = (np.diagonal(v) for v in per_length(np.pi * radius**2, 2 * np.pi * radius, omega, DRY))
    for computed, name, figures in (
        (z.real, "z_real", 6),
        (z.imag, "z_imag", 6),
        (y.real, "y_real", 7),
        (y.imag, "y_imag", 7),
        (np.sqrt(z / y).real, "zc_real", 6),
        (np.sqrt(z / y).imag, "zc_imag", 6),
    ):
        unit = 10.0 ** (np.floor(np.log10(np.abs(t[name]))) - figures + 1)
        assert np.max(np.abs(computed - t[name]) / unit) < 0.51, name
    gamma = np.sqrt(z * y)
    np.testing.assert_allclose(gamma.real, t["alpha"], rtol=0, atol=0.51e-6)
    np.testing.assert_allclose(omega / gamma.imag, t["phase_velocity"], rtol=0, atol=0.51e-4)
    np.testing.assert_allclose(gamma.real, t["alpha_kirchhoff"], rtol=3e-4)  # the full Kirchhoff determinant


def test_wide_duct_constants():
    """Kirchhoff: alpha a/sqrt f = 2.9657e-5, (1 - v/c) a sqrt f = 1.6206e-3 (Weston 1953 prints 2.964e-5, 1.62e-3)."""
    radius, f = 10.0, np.array([1e4, 4e4])
    z, y = per_length(np.pi * radius**2, 2 * np.pi * radius, 2 * np.pi * f, DRY)
    gamma = np.sqrt(z * y)
    np.testing.assert_allclose(gamma.real * radius / np.sqrt(f) * 1e5, 2.9657, atol=0.51e-4)
    np.testing.assert_allclose(
        (1 - 2 * np.pi * f / gamma.imag / REFERENCE.c) * radius * np.sqrt(f) * 1e3, 1.6206, atol=5e-5
    )


def test_lossless_cone_two_port_is_the_spherical_wave():
    """cone_roots.two_port (plane-area form), all four elements: 1e-4 of their scale up to 2 kHz at 8 mm slices."""
    f = np.linspace(50, 2000, 40)
    exact = np.array(cone_roots.two_port(*APEX, np.pi * CONE[0] ** 2, f, DRY.density, DRY.sound_speed)).reshape(
        2, 2, -1
    )
    here = whole(cone(4.6, 12.4, 400), f, LOSSLESS)
    zc = DRY.density * DRY.sound_speed / (np.pi * CONE[0] * CONE[1])
    scale = np.array([[1, zc], [1 / zc, 1]])[:, :, None]
    assert np.max(np.abs(here - exact) / scale) < 1e-4


@pytest.fixture(scope="module")
def cone_modes():
    """Closed at the small end, p = 0 at the large one: zeros of D, found on the package's own two-port."""
    start = cone_roots.closed_open(*APEX, DRY.sound_speed, 4)
    tube = cone(4.6, 12.4, 400)
    return np.array([brentq(lambda f: whole(tube, [f], LOSSLESS)[1, 1, 0].real, r * 0.995, r * 1.005) for r in start])


def test_cone_modes_are_the_analytic_roots(cone_modes):
    """tan kL = -k x1 (Nederveen 1969), the printed table and its axial roots: 0.01 cents asked, 0.001 reached."""
    assert np.max(np.abs(cents(cone_modes, cone_roots.closed_open(*APEX, DRY.sound_speed, 4)))) < 1e-3
    t = table("cone_modes")
    printed = t["frequency"][t["case"] == "closed_open"][:4] * DRY.sound_speed / 343.344
    np.testing.assert_allclose(cone_modes, printed, rtol=0, atol=2e-3)


def test_cone_modes_are_the_finite_elements(cone_modes):
    """scikit-fem, axisymmetric; flat ends sit below the axial root by a factor derived there: 0.01 cents asked."""
    elements = axisymmetric.flat_ended_modes(*CONE, DRY.sound_speed) / axisymmetric.flat_end_factor(*CONE)
    assert np.max(np.abs(cents(cone_modes, elements))) < 5e-3
    raw = cents(elements * axisymmetric.flat_end_factor(*CONE), elements)
    np.testing.assert_allclose(raw, -0.041, atol=4e-4)  # checks: the correction itself is 0.04 cents


@pytest.mark.parametrize("mode", range(4))
def test_lossy_cone_peaks_are_those_of_4000_cylinders(mode):
    """kirchhoff.staircase_cone, same end impedance: 1e-4 of |Z| and 0.02 cents asked; 4e-6 and 0.001 reached."""
    t = table("lossy_peaks")
    row = np.flatnonzero(t["object"] == "frustum")[mode]
    f = t["frequency"][row] * (1 + np.linspace(-0.12, 0.12, 25) / t["q"][row])
    load = foot_impedance(CONE[1], CONE[1], 2 * np.pi * f, DRY)
    exact = kirchhoff.staircase_cone(*CONE, 4000, f, REFERENCE, load)
    here = input_impedance(cone(4.6, 12.4, 400), f, air=DRY)
    (place, height), (exact_place, exact_height) = top(f, np.abs(here)), top(f, np.abs(exact))
    assert abs(cents(place, exact_place)) < 2e-3
    assert height == pytest.approx(exact_height, rel=1e-5)
    at = np.argmax(np.abs(exact))
    assert abs(here[at] / exact[at] - 1) < 1e-4  # the complex value at the peak, too


@pytest.mark.parametrize("name", ["frustum", "cylinder", "bassoon_cone"])
def test_published_lossy_peaks(name):
    """lossy_peaks.csv, with the Silva fit of its header as the load: frequency 0.003 Hz, height to 4 figures."""
    t = table("lossy_peaks")
    for row, stretch, z in lossy_peaks(name):
        place, height = top(stretch, z)
        assert place == pytest.approx(t["frequency"][row], abs=3e-3)
        assert height == pytest.approx(t["abs_z"][row], rel=5e-4)
        low, high = CubicSpline(stretch, z - height / np.sqrt(2)).roots(extrapolate=False)
        assert place / (high - low) == pytest.approx(t["q"][row], abs=0.011)


@pytest.mark.parametrize("gas", [LOSSLESS, DRY], ids=["lossless", "lossy"])
def test_slices_converge_at_fourth_order(gas):
    """Blanes et al. 2009, eq. 253: the error falls 16-fold when slices are halved."""
    f, tube = np.array([300.0, 1000.0, 2000.0]), cone(4.6, 12.4, 400)
    fine = whole(tube, f, gas, 0.5)
    errors = [np.linalg.norm((whole(tube, f, gas, size) - fine)[0, 0]) for size in (25.0, 12.5, 6.25)]
    orders = np.log2(np.divide(errors[:-1], errors[1:]))
    np.testing.assert_allclose(orders, 4, atol=0.1)
    assert errors[-1] < 1e-4


@given(
    st.floats(0.3e-3, 20e-3), st.floats(0.3e-3, 20e-3), st.floats(1e-4, 8e-3), st.floats(10.0, 8000.0), st.booleans()
)
@settings(max_examples=300, deadline=None)
def test_determinant_of_any_slice_is_one(first, last, length, frequency, lossy):
    """Reciprocity: 1 within 1e-10."""
    radius = first + (last - first) * (0.5 + np.sqrt(3) / 6 * np.array([-1, 1]))
    z, y = per_length(
        np.pi * radius**2, 2 * np.pi * radius, np.array([2 * np.pi * frequency]), DRY if lossy else LOSSLESS
    )
    for port in (tapered(length, z, y), uniform(length, z[0], y[0])):
        assert abs(port[0, 0] * port[1, 1] - port[0, 1] * port[1, 0] - 1)[0] < 1e-10


@given(st.lists(st.floats(1.0, 399.0), max_size=6, unique=True))
@settings(max_examples=40, deadline=None)
def test_edges_that_change_nothing_change_nothing(extra):
    """A cylinder cut anywhere is the same to rounding, a cone to the error of its slices (4e-6 at 8 mm)."""
    f, plain, cut = np.array([200.0, 900.0, 2500.0]), cone(4.6, 12.4, 400), tuple(extra)
    pieces = whole(cylinder(8, 400, extra_edges=cut), f, DRY)
    zc = DRY.density * DRY.sound_speed / (np.pi * 4e-3**2)
    scale = np.array([[1, zc], [1 / zc, 1]])[:, :, None]
    assert np.max(np.abs(pieces - whole(cylinder(8, 400), f, DRY)) / scale) < 1e-11
    there = whole(cone(4.6, 12.4, 400, extra_edges=cut), f, DRY)
    assert np.max(np.abs(there - whole(plain, f, DRY)) / scale) < 3e-4


def test_slices_keep_the_volume_and_the_length():
    """Volume of a frustum pi L (r1^2 + r1 r2 + r2^2)/3, two-point Gauss exact; no slice over 8 mm."""
    slices = slice_path(cone(4.6, 12.4, 400).path, [100.0, 100.0, 250.0])
    assert np.sum(slices.length * slices.area.mean(axis=0)) * 1e9 == pytest.approx(24290.79, abs=5e-3)
    assert np.sum(slices.length) == pytest.approx(0.4, rel=1e-14)
    assert slices.length.max() <= 8e-3 + 1e-15
    assert slices.counts.tolist() == [13, 1, 19, 19]
    assert np.sum(slices.length[13:14]) == 0.0


def test_a_lossless_shut_cone_only_stores():
    """Without losses and radiation the input impedance is imaginary."""
    z = input_impedance(cone(4.6, 12.4, 400), np.linspace(100, 2000, 30), foot="shut", air=LOSSLESS)
    assert np.max(np.abs(z.real / z.imag)) < 1e-9
    assert np.all(foot_state_vector(None, "shut", np.ones(3), LOSSLESS) == [[1, 1, 1], [0, 0, 0]])


def test_a_path_may_be_any_shape():
    """A square duct of the same area and perimeter as given: no roundness is assumed anywhere in the slices."""
    path = Path((0.0, 50.0), lambda x: (np.full_like(x, 25.0), np.full_like(x, 20.0)), 0.0)
    slices = slice_path(path, [])
    np.testing.assert_allclose(slices.area, 25e-6, rtol=1e-14)
    np.testing.assert_allclose(slices.perimeter, 20e-3, rtol=1e-14)
