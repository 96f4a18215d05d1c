"""The references reproduce the published tables to the printed digits, and agree with each other."""

import numpy as np
import pytest
from CoolProp.HumidAirProp import HAPropsSI
from scipy.interpolate import CubicSpline
from scipy.optimize import brentq, minimize_scalar

from tests.published import table
from tests.published.printed import agree, agree_figures

from . import air_coolprop, cone_roots, kirchhoff, levine_schwinger, network, perturbation
from .kirchhoff import DRY_20C, Gas

CONE = (2.3e-3, 6.2e-3, 0.4)
CONE_C = 343.344
APEX = cone_roots.apex_distances(*CONE)
NEARLY_LOSSLESS = Gas(DRY_20C.rho, DRY_20C.c, 1e-20, DRY_20C.gamma, DRY_20C.prandtl)


def cents(frequency, reference):
    return 1200 * np.log2(frequency / reference)


# Open ends


def test_unflanged_end_is_the_table():
    t = table("open_end_unflanged")
    agree(levine_schwinger.reflection(t["ka"]), t["reflection"], 5)
    agree(levine_schwinger.end_correction(t["ka"]), t["length_over_a"], 5)
    z = levine_schwinger.impedance(t["ka"])
    agree(z.real, t["z_real"], 5)
    agree(z.imag, t["z_imag"], 5)


def test_unflanged_end_against_20_digit_integration():
    # the same integrals with 20 digits (mpmath 1.4.1), to the accuracy promised
    ka = np.array([0.3, 2.0, 3.0])
    exact_length = [0.599608714308359, 0.416944340240659, 0.308275459464502]
    exact_modulus = [0.958676559737875, 0.34617604830694, 0.154328321138673]
    np.testing.assert_allclose(levine_schwinger.end_correction(ka), exact_length, atol=1e-9, rtol=0)
    np.testing.assert_allclose(levine_schwinger.reflection(ka), exact_modulus, atol=1e-9, rtol=0)


def test_unflanged_end_at_low_frequency():
    agree(levine_schwinger.end_correction(0.0), 0.612701036, 9)
    ka = 1e-3
    assert levine_schwinger.impedance(ka).real == pytest.approx(ka**2 / 4, rel=1e-5)
    with pytest.raises(ValueError, match=r"3\.83"):
        levine_schwinger.reflection(3.84)


@pytest.mark.parametrize(
    ("name", "coefficients"),
    [("open_end_unflanged", levine_schwinger.SILVA_UNFLANGED), ("open_end_flanged", levine_schwinger.SILVA_FLANGED)],
)
def test_silva_fit_is_the_table(name, coefficients):
    t = table(name)
    modulus, length = levine_schwinger.silva_fit(t["ka"], coefficients)
    agree(modulus, t["silva_reflection"], 5)
    agree(length, t["silva_length_over_a"], 5)


# Wall losses


def test_gas_of_the_tables_is_dry_air():
    air = air_coolprop.dry_air(20.0)
    for name, value in vars(DRY_20C).items():
        assert getattr(air, name) == pytest.approx(value, rel=1e-11), name


def test_duct_constants_are_the_table():
    t = table("duct_constants")
    radius, f = t["radius_mm"] * 1e-3, t["frequency"]
    z, y = kirchhoff.per_length(radius, f, DRY_20C)
    gamma, zc = kirchhoff.propagation(radius, f, DRY_20C)
    for computed, column in ((z.real, "z_real"), (z.imag, "z_imag"), (zc.real, "zc_real"), (zc.imag, "zc_imag")):
        agree_figures(computed, t[column], 6)
    agree_figures(y.real, t["y_real"], 7)
    agree_figures(y.imag, t["y_imag"], 7)
    agree(gamma.real, t["alpha"], 6)
    agree(2 * np.pi * f / gamma.imag, t["phase_velocity"], 4)
    agree(2 * np.pi * f / gamma.imag / DRY_20C.c, t["phase_velocity_over_c"], 6)


def test_full_kirchhoff_equation():
    t = table("duct_constants")
    radius, f = t["radius_mm"] * 1e-3, t["frequency"]
    exact = np.array([kirchhoff.exact_propagation(*pair, DRY_20C) for pair in zip(radius, f, strict=True)])
    approximate = kirchhoff.propagation(radius, f, DRY_20C)[0]
    agree(exact.real, t["alpha_kirchhoff"], 6)
    np.testing.assert_allclose(approximate.real, exact.real, rtol=3e-4)
    np.testing.assert_allclose(approximate.imag, exact.imag, rtol=1e-6)


def test_wide_pipe_limit_is_kirchhoffs_constant():
    # alpha a/sqrt f = 2.9657e-5, (1 - v/c) a sqrt f = 1.6206e-3 (SI, air at 20 C; Weston 1953 prints 2.964e-5, 1.62e-3)
    radius, f = 10.0, np.array([1e4, 4e4])
    gamma = kirchhoff.propagation(radius, f, DRY_20C)[0]
    agree(gamma.real * radius / np.sqrt(f) * 1e5, 2.9657, 4)
    agree((1 - 2 * np.pi * f / gamma.imag / DRY_20C.c) * radius * np.sqrt(f) * 1e3, 1.6206, 4)


def test_cylinder_two_port_closes():
    f = np.linspace(50, 3000, 40)
    a, b, c, d = kirchhoff.cylinder(2e-3, 0.3, f, DRY_20C)
    np.testing.assert_allclose(a * d - b * c, 1, atol=1e-12)
    halves = kirchhoff.chain(*[kirchhoff.cylinder(2e-3, 0.15, f, DRY_20C)] * 2)
    np.testing.assert_allclose(halves, (a, b, c, d), rtol=1e-11)
    np.testing.assert_allclose(kirchhoff.seen_through((a, b, c, d), np.inf), a / c)
    lossless = kirchhoff.seen_through(kirchhoff.cylinder(2e-3, 0.3, f, NEARLY_LOSSLESS), 0)
    k = 2 * np.pi * f / DRY_20C.c
    phase = np.arctan(lossless.imag * np.pi * 2e-3**2 / (DRY_20C.rho * DRY_20C.c))  # kL, but for half turns
    np.testing.assert_allclose(np.angle(np.exp(2j * (phase - k * 0.3))), 0, atol=2e-8)  # the losses left: 1.2e-8


@pytest.mark.parametrize("name", ["frustum", "cylinder", "bassoon_cone"])
def test_lossy_peaks_are_the_table(name):
    t = table("lossy_peaks")
    rows = np.flatnonzero(t["object"] == name)
    r1, r2, length = (t[column][rows[0]] * 1e-3 for column in ("r1_mm", "r2_mm", "length_mm"))
    f = t["frequency"][rows, None] * (1 + np.linspace(-0.6, 0.6, 61) / t["q"][rows, None])
    ka = 2 * np.pi * f / DRY_20C.c * r2
    load = levine_schwinger.from_reflection(ka, *levine_schwinger.silva_fit(ka))
    load = load * DRY_20C.rho * DRY_20C.c / (np.pi * r2**2)
    z = np.abs(kirchhoff.staircase_cone(r1, r2, length, int(t["slices"][rows[0]]), f, DRY_20C, load))
    for i, row in enumerate(rows):
        peak, height, q = _peak(f[i], z[i])
        assert peak == pytest.approx(t["frequency"][row], abs=6e-4)
        agree_figures(height, t["abs_z"][row], 4)
        agree(q, t["q"][row], 2)
        agree(height * np.pi * r1**2 / (DRY_20C.rho * DRY_20C.c), t["z_over_zc"][row], 3)


def _peak(f, z):
    """Frequency, height and quality factor of the one maximum in a finely sampled stretch."""
    curve = CubicSpline(f, z)
    top = minimize_scalar(lambda x: -curve(x), bounds=(f[20], f[40]), method="bounded", options={"xatol": 1e-9}).x
    height = float(curve(top))
    low, high = (brentq(lambda x: curve(x) - height / np.sqrt(2), *ends) for ends in ((f[0], top), (top, f[-1])))
    return top, height, top / (high - low)


# Cones


def _printed_modes(case: str, cavity: float = 0.0):
    t = table("cone_modes")
    return t["frequency"][(t["case"] == case) & (t["cavity_over_apex_volume"] == cavity)]


def test_cone_roots_are_the_table():
    x1, x2 = APEX
    agree(cone_roots.closed_open(x1, x2, CONE_C, 8), _printed_modes("closed_open"), 3)
    extended = cone_roots.closed_open(x1, x2 + 0.6127 * CONE[1], CONE_C, 8)
    agree(extended, _printed_modes("closed_open_end_correction"), 3)
    agree(cone_roots.closed_closed(x1, x2, CONE_C, 6), _printed_modes("closed_closed"), 3)
    agree(cone_roots.open_open(x1, x2, CONE_C, 5), _printed_modes("open_open"), 3)
    for share in (0.5, 0.8, 1.0, 1.2, 1.5):
        agree(cone_roots.cavity_open(x1, x2, share * x1 / 3, CONE_C, 6), _printed_modes("cavity", share), 3)


def test_cone_two_port_is_two_travelling_spherical_waves():
    x1, x2 = APEX
    f, rho, c, area = np.array([50.0, 300.0, 1650.0]), 1.2, 340.0, np.pi * CONE[0] ** 2
    k = 2 * np.pi * f / c

    def waves(x):  # pressure and flow of exp(-jkx)/x and exp(+jkx)/x
        signs = np.array([-1j, 1j])[:, None]
        p = np.exp(signs * k * x) / x
        return np.array([p, -area * (x / x1) ** 2 / (1j * k * c * rho) * (signs * k * p - p / x)])

    expected = np.moveaxis(waves(x1), -1, 0) @ np.linalg.inv(np.moveaxis(waves(x2), -1, 0))
    a, b, c_, d = cone_roots.two_port(x1, x2, area, f, rho, c)
    np.testing.assert_allclose(np.moveaxis(np.array([[a, b], [c_, d]]), -1, 0), expected, rtol=1e-10, atol=1e-20)
    np.testing.assert_allclose(a * d - b * c_, 1, atol=1e-12)


def test_cone_two_port_has_the_roots_as_poles():
    x1, x2 = APEX
    area = np.pi * CONE[0] ** 2
    for case, index in ((cone_roots.closed_open, 3), (cone_roots.closed_closed, 2)):
        f = case(x1, x2, CONE_C, 4)
        span = np.array([f * (1 - 1e-9), f * (1 + 1e-9)])
        entry = np.real(cone_roots.two_port(x1, x2, area, span, 1.2, CONE_C)[index] * (1 if index == 3 else 1j))
        assert np.all(entry[0] * entry[1] < 0)


def test_staircase_closes_in_on_the_cone_quadratically():
    f = np.array([400.0, 900.0, 1300.0])  # away from the maxima, and where the leading error does not vanish
    area = np.pi * CONE[0] ** 2
    _, b, _, d = cone_roots.two_port(*APEX, area, f, DRY_20C.rho, DRY_20C.c)
    errors = [
        np.abs(kirchhoff.staircase_cone(*CONE, n, f, NEARLY_LOSSLESS, np.zeros(3)) / (b / d) - 1) for n in (20, 40, 80)
    ]
    np.testing.assert_allclose(np.log2(np.array(errors[:-1]) / errors[1:]), 2, atol=0.1)


# Network, perturbation, air


@pytest.mark.parametrize("load", [1e6 + 3e6j, 0.0, np.inf])
def test_network_cascade_is_the_staircase(load):
    f = np.linspace(50, 2500, 50)
    radii = kirchhoff.slice_radii(CONE[0], CONE[1], 40)[:, None]
    a, b, c, d = (np.broadcast_to(x, (40, 50)) for x in kirchhoff.cylinder(radii, 0.01, f[None], DRY_20C))
    z = network.cascade_input_impedance(a, b, c, d, load, f, reference=1e7)
    np.testing.assert_allclose(z, kirchhoff.staircase_cone(*CONE, 40, f, DRY_20C, np.full(50, load)), rtol=1e-11)


def test_rayleigh_table():
    t = table("rayleigh")
    for mode in (1, 2, 3):
        shifts = [(0.4, start * 1e-3, 0.02, 0.01, mode) for start in t["from_mm"]]
        agree([perturbation.exact_cents(*shift) for shift in shifts], t[f"exact_{mode}"], 4)
        agree([perturbation.rayleigh_cents(*shift) for shift in shifts], t[f"rayleigh_{mode}"], 4)


def test_rayleigh_is_the_first_order_of_the_exact_shift():
    gap = [
        abs(perturbation.exact_cents(0.4, 0.07, 0.03, x, 2) - perturbation.rayleigh_cents(0.4, 0.07, 0.03, x, 2))
        for x in (4e-3, 2e-3, 1e-3)
    ]
    np.testing.assert_allclose(np.log2(np.array(gap[:-1]) / gap[1:]), 2, atol=0.02)


def test_humid_air_is_the_table():
    t = table("humid_air")
    air = [air_coolprop.humid_air(*state) for state in zip(t["t_c"], t["relative_humidity"], strict=True)]

    def column(name):
        return np.array([getattr(state, name) for state in air])

    for name, printed, digits in (
        ("c", "c_coolprop", 3),
        ("gamma", "gamma", 5),
        ("k", "conductivity", 5),
        ("cp", "heat_capacity", 1),
        ("prandtl", "prandtl", 4),
    ):
        agree(column(name), t[printed], digits)
    agree(column("mu") * 1e5, t["mu_1e5"], 4)
    agree(cents(column("c"), air_coolprop.humid_air(20, 0).c), t["cents"], 2)
    # two independent equations of state
    np.testing.assert_allclose(column("rho"), t["density"], rtol=6e-5)
    np.testing.assert_allclose(column("vapour_fraction"), t["xw"], atol=2e-5)


def test_dry_air_speed_is_thermodynamically_consistent():
    state, step = air_coolprop.humid_air(20, 0), 50.0
    density = [1 / HAPropsSI("Vha", "T", 293.15, "P", 101325 + x, "R", 0) for x in (-step, step)]
    assert state.c == pytest.approx(np.sqrt(state.gamma * 2 * step / (density[1] - density[0])), rel=1e-6)
    assert state.gas.prandtl == pytest.approx(state.mu * state.cp / state.k)
