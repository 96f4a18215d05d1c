"""Derivatives of a slice against differences of the very functions that make it, and against closed forms."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import jv, jvp

from acoustics.physics.adjoint import admittance_change
from acoustics.physics.air import Air
from acoustics.physics.ducts import per_length, tapered
from acoustics.physics.slopes import form_slopes, per_length_slopes
from tests.physics.simple import LOSSLESS
from tests.pipes.strategies import floats

GAS = Air().gas
OMEGA = 2.0 * np.pi * np.array([60.0, 440.0, 1500.0])


@settings(deadline=None, max_examples=60)
@given(floats(0.05, 15.0), floats(1.0, 1.6))
def test_cross_section(radius_mm, flatness):
    """Fourth-order differences, from a hair to a drainpipe, round and flat."""
    area, perimeter = np.pi * (radius_mm * 1e-3) ** 2, flatness * 2.0 * np.pi * radius_mm * 1e-3
    got = per_length_slopes(per_length(area, perimeter, OMEGA, GAS), area, perimeter, OMEGA, GAS)

    def at(more_area, more_perimeter):
        return np.array(per_length(area * (1.0 + more_area), perimeter * (1.0 + more_perimeter), OMEGA, GAS))

    for slopes, way in zip(got, ((1.0, 0.0), (0.0, 1.0)), strict=True):
        wide, narrow = ((at(*(h * w for w in way)) - at(*(-h * w for w in way))) / (2.0 * h) for h in (2e-3, 1e-3))
        want = (4.0 * narrow - wide) / 3.0
        np.testing.assert_allclose(slopes, want, rtol=1e-8, atol=1e-9 * np.abs(at(0.0, 0.0)).max())


@pytest.mark.parametrize("x", [0.3, 1.0, 4.0, 30.0])
def test_loss_by_bessel_functions(x):
    """x F' of F = 2 J1(z)/(z J0(z)), z = x exp(-j pi/4), with the derivatives of the Bessel functions by SciPy."""
    z = x * np.exp(-0.25j * np.pi)
    loss = 2.0 * jv(1, z) / (z * jv(0, z))
    want = loss * (z * jvp(1, z) / jv(1, z) - 1.0 - z * jvp(0, z) / jv(0, z))
    area = np.pi * (x / np.sqrt(OMEGA[0] * GAS.density / GAS.viscosity)) ** 2
    perimeter = 2.0 * np.sqrt(np.pi * area)
    values = per_length(area, perimeter, OMEGA[:1], GAS)
    by_perimeter = per_length_slopes(values, area, perimeter, OMEGA[:1], GAS)[1]
    np.testing.assert_allclose(-by_perimeter[0] / values[0], want / (1.0 - loss), rtol=1e-9)


def test_without_losses():
    """Impedance goes with 1/area, admittance with area, nothing with the perimeter."""
    z, y = per_length(2e-5, 2e-2, OMEGA, LOSSLESS)
    by_area, by_perimeter = per_length_slopes((z, y), 2e-5, 2e-2, OMEGA, LOSSLESS)
    np.testing.assert_array_equal(by_area, (-z, y))
    np.testing.assert_array_equal(by_perimeter, np.zeros((2, 3)))


@settings(deadline=None, max_examples=60)
@given(floats(0.0, 0.2), floats(2.0, 7.0), floats(2.0, 7.0), st.sampled_from([GAS, replace(GAS, viscosity=1e-3)]))
def test_form(length, one_mm, two_mm, gas):
    """Every number of a cone from nothing to a wave long: differences of the whole two-port."""
    radius = np.array([one_mm, two_mm]) * 1e-3
    z, y = per_length(np.pi * radius**2, 2.0 * np.pi * radius, OMEGA, gas)
    scale = np.abs(z[0] / y[0]) ** 0.5
    near = np.array([scale * (1.0 + 0.3j), np.array([0.4, -1.0, 2.0]) + 0j])
    far = np.array([scale * (0.2 - 1.0j), np.array([1.0, 0.5j, -0.7])])
    got = form_slopes(length, z, y, near, far)

    def form(length, z, y):
        return admittance_change(near, tapered(length, z, y), far)

    def slope(made, step):
        wide, narrow = ((made(h) - made(-h)) / (2.0 * h) for h in (step, 0.5 * step))
        return (4.0 * narrow - wide) / 3.0

    for i in range(2):
        one = np.eye(2)[i][:, None]
        want_z = slope(lambda h, one=one: form(length, z * (1.0 + h * one), y), 2e-3) / z[i]
        want_y = slope(lambda h, one=one: form(length, z, y * (1.0 + h * one)), 2e-3) / y[i]
        size = np.max(np.abs(form(length, z, y)))
        np.testing.assert_allclose(got[0][i], want_z, rtol=1e-6, atol=1e-7 * size / np.abs(z[i]).min())
        np.testing.assert_allclose(got[1][i], want_y, rtol=1e-6, atol=1e-7 * size / np.abs(y[i]).min())
    want = slope(lambda h: form(length + h, z, y), 1e-4)
    np.testing.assert_allclose(got[2], want, rtol=1e-6, atol=1e-7 * np.max(np.abs(want)))


def test_form_of_a_uniform_line():
    """A lossless cylinder shut at the far end, p = cos kx: lengthened by dx, Y = (j/Zc) tan kl grows by k/cos^2."""
    area, length = 5e-5, 0.13
    z, y = (np.array([v, v]) for v in per_length(area, 1.0, OMEGA, LOSSLESS))
    wave, character = OMEGA / LOSSLESS.sound_speed, LOSSLESS.density * LOSSLESS.sound_speed / area
    near = np.array([np.cos(wave * length) + 0j, 1j * np.sin(wave * length) / character])
    far = np.array([np.ones(3, complex), np.zeros(3, complex)])
    by_length = form_slopes(length, z, y, near, far)[2]
    np.testing.assert_allclose(by_length / near[0] ** 2, 1j * wave / np.cos(wave * length) ** 2 / character, rtol=1e-9)
