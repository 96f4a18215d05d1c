"""Field calculations (finite elements, mode matching): convergence, published values, and each other."""

import numpy as np
import pytest

from tests.published import table
from tests.published.printed import agree

from . import axisymmetric, cone_roots, edge_modes

CONE = (2.3e-3, 6.2e-3, 0.4)
CONE_C = 343.344
APEX = cone_roots.apex_distances(*CONE)


def cents(frequency, reference):
    return 1200 * np.log2(frequency / reference)


def test_spherical_ends_give_the_slant_roots():
    cosine = np.cos(axisymmetric.half_angle(*CONE))
    exact = cone_roots.closed_open(APEX[0] / cosine, APEX[1] / cosine, CONE_C)
    errors = [axisymmetric.spherical_cap_modes(*CONE, CONE_C, 4, n, 4) / exact - 1 for n in (12, 24, 48)]
    assert np.all(errors[-1] > 0)
    assert np.max(errors[-1]) < 3e-6
    rates = np.log2(np.array(errors[:-1]) / errors[1:])
    np.testing.assert_allclose(rates, 4, atol=0.3)  # quadratic elements: eigenvalues of fourth order


def test_flat_ends_are_converged_and_lie_0_04_cents_below_the_axial_roots():
    coarse, fine = (axisymmetric.flat_ended_modes(*CONE, CONE_C, 4, *n) for n in ((48, 4), (96, 6)))
    assert np.max(np.abs(coarse / fine - 1)) < 1e-5
    axial = cone_roots.closed_open(*APEX, CONE_C)
    np.testing.assert_allclose(cents(fine, axial), -0.041, atol=5e-4)
    np.testing.assert_allclose(cents(fine, axial * axisymmetric.flat_end_factor(*CONE)), 0, atol=5e-4)


def test_what_the_flat_end_factor_leaves_grows_with_the_cube_of_the_angle():
    left = []
    for length in (0.08, 0.04, 0.02):
        shape = (CONE[0], CONE[1], length)
        axial = cone_roots.closed_open(*cone_roots.apex_distances(*shape), CONE_C, 1)
        left.append(
            axisymmetric.flat_ended_modes(*shape, CONE_C, 1, 48, 12) / (axial * axisymmetric.flat_end_factor(*shape))
        )
    left = np.squeeze(left) - 1
    np.testing.assert_allclose(np.log2(left[1:] / left[:-1]), 3, atol=0.3)


def test_driven_cylinder():
    f, rho, c = np.linspace(100, 2000, 20), 1.2, 343.344
    exact = 1j * rho * c / (np.pi * 4e-3**2) * np.tan(2 * np.pi * f / c * 0.3)
    coarse, fine = (axisymmetric.input_impedance([(0, 4e-3), (0.3, 4e-3)], f, rho, c, h) for h in (10e-3, 5e-3))
    errors = np.abs(np.array([coarse, fine]) / exact - 1)
    assert np.max(errors[1]) < 1e-3
    assert np.max(errors[0]) / np.max(errors[1]) == pytest.approx(16, rel=0.15)


def test_driven_cone_resonates_at_its_flat_ended_modes():
    modes = axisymmetric.flat_ended_modes(*CONE, CONE_C, 4, 96, 4)
    f = np.ravel([modes * (1 - 2e-5), modes * (1 + 2e-5)])
    stations = [(0.0, CONE[0]), (CONE[2], CONE[1])]
    below, above = np.imag(1 / axisymmetric.input_impedance(stations, f, 1.2, CONE_C)).reshape(2, -1)
    zero = modes * (1 + 2e-5 * (above + below) / (below - above))
    np.testing.assert_allclose(zero, modes, rtol=5e-7)


def test_step_inertance_is_enclosed_from_both_sides():
    t = table("step_inertance")
    above = np.array([edge_modes.step_inertance(alpha, 1.0) for alpha in t["alpha"]])
    below = np.array([axisymmetric.step_inertance(alpha, 1.0) for alpha in t["alpha"]])
    assert np.all(below < above)
    assert np.max(above - below) < 4e-6
    agree(above, t["edge_mode_matching"], 6)
    # plain mode matching is extrapolated; its last digit is off by up to 3
    assert np.max(np.abs(above - t["mode_matching"])) < 3e-5
    # Kergomard & Garcia: stated accuracy of the polynomial
    error = np.abs(t["kergomard_garcia"] - above)
    assert np.max(error[t["alpha"] <= 0.7]) < 1.3e-3
    assert np.max(error) < 2.4e-3


def test_small_step_tends_to_a_flanged_end():
    tenth, fifth = edge_modes.step_inertance(0.01, 1.0), edge_modes.step_inertance(0.02, 1.0)
    assert 2 * tenth - fifth == pytest.approx(0.821674, abs=2e-6)
    # initial slope, which Kergomard & Garcia print as -0.353 pi
    agree((tenth - fifth) / 0.01 / np.pi, 0.352, 3)


def test_flanged_end_is_the_table():
    t = table("open_end_flanged")
    modulus, length = np.array([edge_modes.flanged_end(ka) for ka in t["ka"]]).T
    z = np.array([edge_modes.flanged_impedance(ka) for ka in t["ka"]])
    for computed, column in (
        (modulus, "reflection"),
        (length, "length_over_a"),
        (z.real, "z_real"),
        (z.imag, "z_imag"),
    ):
        # the table is itself extrapolated from plane duct modes; half a unit and a tenth covers both
        np.testing.assert_allclose(computed, t[column], rtol=0, atol=6e-6)


def test_flanged_end_at_low_frequency():
    agree(edge_modes.flanged_end(1e-3)[1], 0.821674, 6)
    assert edge_modes.flanged_impedance(1e-3).real == pytest.approx(0.5e-6, rel=1e-5)


def test_pads_and_walls_are_the_tables():
    """The same potential flow from another mesh: walls within 5e-4 radii, discs (thicker here) within 0.01."""
    wall, pad = table("finite_wall"), table("pad_over_end")
    bare = {w: axisymmetric.end_length(w) for w in (0.25, 0.5)}
    for w, length in bare.items():
        assert length == pytest.approx(float(wall["fem"][wall["wall_over_a"] == w][0]), abs=5e-4)
    for i in np.flatnonzero((pad["height_over_a"] <= 0.5) & (pad["wall_over_a"] >= 0.25)):
        w = float(pad["wall_over_a"][i])
        extra = axisymmetric.end_length(w, float(pad["pad_radius_over_a"][i]), float(pad["height_over_a"][i])) - bare[w]
        assert extra == pytest.approx(float(pad["fem_extra"][i]), abs=0.01)
