"""Every table names its source, and the columns that a printed formula gives are what that formula gives."""

import math

import numpy as np
import pytest

from tests.published import header, names, table
from tests.published.printed import agree


@pytest.mark.parametrize("name", names())
def test_header_names_source_and_method(name):
    lines = header(name)
    assert any(line.startswith("source: ") for line in lines)
    assert any("recomputed" in line for line in lines)
    assert all(np.all(np.isfinite(column)) for column in table(name).values() if column.dtype.kind == "f")


def test_humid_air_density_is_cipm_2007():
    t = table("humid_air")
    celsius, kelvin, p, co2 = t["t_c"], t["t_c"] + 273.15, 101325.0, 400e-6
    saturation = np.exp(1.2378847e-5 * kelvin**2 - 1.9121316e-2 * kelvin + 33.93711047 - 6343.1645 / kelvin)
    xv = t["relative_humidity"] * (1.00062 + 3.14e-8 * p + 5.6e-7 * celsius**2) * saturation / p
    virial = 1.58123e-6 - 2.9331e-8 * celsius + 1.1043e-10 * celsius**2
    virial += (5.707e-6 - 2.051e-8 * celsius) * xv + (1.9898e-4 - 2.376e-6 * celsius) * xv**2
    z = 1 - p / kelvin * virial + (p / kelvin) ** 2 * (1.83e-11 - 0.765e-8 * xv**2)
    air = 28.96546e-3 + 12.011e-3 * (co2 - 400e-6)
    agree(xv, t["xw"], 5)
    agree(p * air / (z * 8.314472 * kelvin) * (1 - xv * (1 - 18.01528e-3 / air)), t["density"], 5)


def test_humid_air_speed_is_cramer_1993():
    t = table("humid_air")
    # at the vapour fraction that the CIPM-2007 saturation pressure gives, before it was rounded for printing
    celsius, p, co2 = t["t_c"], 101325.0, 400e-6
    kelvin = celsius + 273.15
    saturation = np.exp(1.2378847e-5 * kelvin**2 - 1.9121316e-2 * kelvin + 33.93711047 - 6343.1645 / kelvin)
    xw = t["relative_humidity"] * (1.00062 + 3.14e-8 * p + 5.6e-7 * celsius**2) * saturation / p
    c = 331.5024 + 0.603055 * celsius - 5.28e-4 * celsius**2
    c += (51.471935 + 0.1495874 * celsius - 7.82e-4 * celsius**2) * xw
    c += (-1.82e-7 + 3.73e-8 * celsius - 2.93e-10 * celsius**2) * p
    c += (-85.20931 - 0.228525 * celsius + 5.91e-5 * celsius**2) * co2
    c += -2.835149 * xw**2 - 2.15e-13 * p**2 + 29.179762 * co2**2 + 4.86e-4 * xw * p * co2
    agree(c, t["c_cramer"], 3)
    agree(343.2 * np.sqrt(kelvin / 293.15), t["c_iso9613"], 3)


def test_standard_atmosphere():
    t, kelvin = table("isa"), 288.15
    agree(101325 / (287.05287 * kelvin), t["density"], 6)
    agree(math.sqrt(1.4 * 287.05287 * kelvin), t["sound_speed"], 3)
    agree(1.458e-6 * kelvin**1.5 / (kelvin + 110.4), t["viscosity"], 10)
    agree(2.648151e-3 * kelvin**1.5 / (kelvin + 245.4 * 10 ** (-12 / kelvin)), t["conductivity"], 7)


def test_open_ends_of_dalmont_2001():
    t = table("finite_wall")
    ratio = 1 / (1 + t["wall_over_a"])
    agree(ratio, t["a_over_b"], 4)
    agree(0.821674 + ratio * (0.612701 - 0.821674) + 0.057 * ratio * (1 - ratio**5), t["formula"], 4)
    t = table("pad_over_end")
    height, wall = t["height_over_a"], t["wall_over_a"]
    narrow = 3.5 * height**0.8 * (height + 3 * wall) ** -0.4
    agree(1 / (narrow + 30 * (height / t["pad_radius_over_a"]) ** 2.6), t["formula_extra"], 4)
    t = table("hole_in_body")
    agree(0.822 - 0.47 * t["b_over_body_radius"] ** 0.8, t["formula"], 4)


def test_pad_totals_are_the_open_end_with_that_wall_plus_the_extra():
    pad, wall = table("pad_over_end"), table("finite_wall")
    bare = np.interp(pad["wall_over_a"], wall["wall_over_a"], wall["fem"])
    np.testing.assert_allclose(pad["fem_total"] - pad["fem_extra"], bare, atol=1.01e-4, rtol=0)


def test_saddle_and_tangent_plane_differ_by_the_mean_depth_of_the_saddle():
    t = table("hole_in_body")
    difference = t["fem_mean_saddle"] - t["fem_tangent_plane"]  # of two rounded columns
    np.testing.assert_allclose(difference, _mean_sagitta(t["b_over_body_radius"]), atol=1.01e-4, rtol=0)


def _mean_sagitta(ratio):
    """Mean depth of a cylinder below its tangent plane over a circle of b = ratio times its radius, over b."""
    angle = (np.arange(400) + 0.5) / 400 * np.pi  # x = ratio cos(angle): the chord is 2 ratio sin(angle)
    ratio = np.asarray(ratio)[..., None]
    depth = 1 - np.sqrt(1 - (ratio * np.cos(angle)) ** 2)
    return np.sum(depth * 2 * np.sin(angle) ** 2 / 400, axis=-1) / ratio[..., 0]


def test_tone_hole_elements():
    t = table("tone_hole_elements")
    agree(_mean_sagitta(t["delta"]), t["tm_over_b"], 4)
    # three rounded columns: two half units, and a quarter of one times delta^4
    difference = t["ta_closed"] * t["delta"] ** 4 / 4
    np.testing.assert_allclose(t["ti_over_b"] - t["ts_over_b"], difference, atol=1.15e-4, rtol=0)


def test_worked_holes():
    h = table("worked_holes")
    b, t, d = h["hole_radius"], h["depth"], h["hole_radius"] / h["bore_radius"]
    agree(b * d / 8 * (1 + 0.207 * d**3), h["tm"], 3)
    agree(b * np.polyval([0.502, -1.640, 2.138, -1.566, -0.095, 0.822], d), h["ti"], 3)
    agree(b * (0.822 - 0.47 * (b / h["body_radius"]) ** 0.8), h["tr"], 3)
    np.testing.assert_allclose(t + h["tm"] + h["ti"] + h["tr"], h["te"], atol=0.002, rtol=0)  # four rounded terms
    series = -b * d**4 * (0.12 + 0.17 * np.tanh(2.4 * t / b))
    agree(series, h["ta_closed"], 4)
    agree(series / d**2, h["ta_closed_bore"], 4)
    agree(t + b * (1.40 - 0.58 * d**2), h["te_keefe"], 3)
    agree(b * (0.82 - 1.4 * d**2 + 0.75 * d**2.7), h["ti_nederveen"], 3)
    agree(b * (0.82 - 0.193 * d - 1.09 * d**2 + 1.27 * d**3 - 0.71 * d**4), h["ti_dubos"], 3)
    agree(np.pi * b**2 * (t + b * d / 8 * (1 + 0.207 * d**3)), h["closed_volume"], 1)


def test_step_formulas():
    t = table("step_inertance")
    a = t["alpha"]
    series = 0.26164 - 0.353 * a + 0.0809 * a**3 + 0.03816 * a**4 - 0.12386 * a**5 + 0.09616 * a**6
    agree(np.pi * series, t["kergomard_garcia"], 5)
    agree(8 / (3 * np.pi) * (1 - 1.25 * a), t["karal"], 4)


def test_bend():
    t = table("bend")
    ratio = t["bore_radius_mm"] / t["bend_radius_mm"]
    inertance = ratio**2 / (2 * (1 - np.sqrt(1 - ratio**2)))
    agree(ratio, t["curvature"], 2)
    # the definition behind the closed form: the same drop along every streamline, so 1/inertance is mean of R/r
    angle = (np.arange(200) + 0.5) / 200 * np.pi
    sheets = 2 * np.sin(angle) ** 2 / 200 / (1 + ratio[:, None] * np.cos(angle))
    agree(1 / inertance, sheets.sum(axis=1), 10)
    agree(inertance, t["inertance_ratio"], 6)
    agree(1 / np.sqrt(inertance), t["phase_velocity_over_c"], 6)
    agree(1200 * np.log2(1 / np.sqrt(inertance)), t["cents"], 2)


def test_cutoff():
    t, c, half_spacing, ratio = table("cutoff"), 343.344, 9e-3, 4 / 7.5
    te = t["te_mm"] * 1e-3
    base = c * ratio / np.sqrt(half_spacing * te)
    agree(0.11 * base, t["benade"], 0)
    agree(base / (2 * np.pi * np.sqrt(2)), t["exact_coefficient"], 0)
    x = 2 * np.pi * t["lattice"] / c * half_spacing
    target = half_spacing * ratio**2 / (2 * te)
    slope = np.tan(x) + x / np.cos(x) ** 2
    frequency_error = (x * np.tan(x) - target) / slope * c / (2 * np.pi * half_spacing)
    agree(frequency_error, 0, 0)


def test_just_scale():
    t = table("just_scale")
    ratios = np.array([int(a) / int(b) for a, b in (text.split("/") for text in t["ratio"])])
    cents = 1200 * np.log2(ratios)
    tonic = 440 * 2 ** (-7 / 12)
    equal = np.round(cents / 100) * 100
    assert len(set(ratios)) == 15
    agree(cents, t["cents"], 3)
    agree(cents - equal, t["minus_equal"], 3)
    agree(tonic * ratios, t["just_hz"], 3)
    agree(tonic * 2 ** (equal / 1200), t["equal_hz"], 3)


def test_apex_volume_named_in_the_cone_table():
    note = " ".join(header("cone_modes"))
    distance = 2.3 * 400 / (6.2 - 2.3)
    assert f"{math.pi * 2.3**2 * distance / 3:.3f} mm3" in note
