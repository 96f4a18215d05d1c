"""Open ends: the foot, its wall, a pad above it, a hole in a round body."""

import numpy as np
import pytest

from acoustics.physics.radiation import (
    LIFT,
    PAD,
    end_length_with_wall,
    foot_impedance,
    hole_in_body_length,
    mouth_impedance,
    pad_length,
    unflanged,
)
from acoustics.validity import OutsideRange
from tests.physics.simple import DRY, apart
from tests.published import table
from tests.references import axisymmetric, levine_schwinger

A = 6e-3
KA = np.array([1e-3, 0.01, 0.033, 0.1, 0.27, 0.5, 0.77, 1.0, 1.23, 1.5])


def omega(ka):
    return np.asarray(ka) * DRY.sound_speed / A


def of_end(impedance, ka, radius=A):
    """(|R|, length over radius) of an end, from its impedance."""
    z = impedance * np.pi * radius**2 / (DRY.density * DRY.sound_speed)
    r = (z - 1) / (z + 1)
    return np.abs(r), -np.angle(-r) / (2 * ka)


def test_reflection_is_levine_and_schwingers():
    """The exact integrals by adaptive quadrature; asked 0.1 % in modulus and 0.001 a, reached 1e-7 and 2e-6."""
    modulus, length = unflanged(KA)
    np.testing.assert_allclose(modulus, levine_schwinger.reflection(KA), rtol=1e-7)
    np.testing.assert_allclose(length, levine_schwinger.end_correction(KA), rtol=0, atol=3e-6)


def test_reflection_up_to_the_end_of_the_range():
    ka = np.array([2.0, 2.5, 2.9, 3.0])
    modulus, length = unflanged(ka)
    np.testing.assert_allclose(modulus, levine_schwinger.reflection(ka), rtol=1e-5)
    np.testing.assert_allclose(length, levine_schwinger.end_correction(ka), rtol=0, atol=1e-4)


def test_published_table():
    """open_end_unflanged.csv, every printed digit, and the limit 0.612701 (the integral with 60 digits, mpmath)."""
    t = table("open_end_unflanged")
    modulus, length = unflanged(t["ka"])
    np.testing.assert_allclose(modulus, t["reflection"], rtol=0, atol=0.51e-5)
    np.testing.assert_allclose(length, t["length_over_a"], rtol=0, atol=0.51e-5)
    assert float(unflanged(0.0)[1]) == pytest.approx(0.612701036, abs=3e-6)
    assert float(unflanged(0.0)[0]) == 1.0


def test_thin_foot_is_the_unflanged_end():
    here = foot_impedance(A, A, omega(KA), DRY)
    theirs = levine_schwinger.impedance(KA) * DRY.density * DRY.sound_speed / (np.pi * A**2)
    assert apart(here, theirs) < 1e-5
    modulus, length = of_end(here, KA)
    np.testing.assert_allclose(modulus, levine_schwinger.reflection(KA), rtol=1e-3)
    np.testing.assert_allclose(length, levine_schwinger.end_correction(KA), atol=6e-6)


def test_finite_wall():
    """Dalmont et al. 2001 to the printed digits (0.8216 for 0.821674: 1e-4); finite elements within 0.45 %."""
    t = table("finite_wall")
    length = end_length_with_wall(t["a_over_b"])
    np.testing.assert_allclose(length, t["formula"], rtol=0, atol=1.3e-4)
    np.testing.assert_allclose(length, t["fem"], rtol=4.6e-3)
    np.testing.assert_allclose(length[1:], t["fem"][1:], rtol=3.2e-3)
    np.testing.assert_allclose(end_length_with_wall([0.0, 1.0]), [0.8216, 0.612701], atol=3e-6)


@pytest.mark.parametrize("row", range(6))
def test_foot_takes_its_wall(row):
    t = {name: column[row] for name, column in table("finite_wall").items()}
    ka = np.array([0.01])
    modulus, length = of_end(foot_impedance(A, A / t["a_over_b"], omega(ka), DRY), ka)
    assert length[0] == pytest.approx(t["fem"], rel=4.8e-3)
    assert modulus[0] == pytest.approx(levine_schwinger.reflection(0.01), rel=1e-9)


def test_pad_over_the_foot():
    """Dalmont et al. 2001 as printed; finite elements within 7.5 % of the extra term up to a lift of one radius."""
    t = table("pad_over_end")
    extra = pad_length(1.0, t["wall_over_a"], t["pad_radius_over_a"], t["height_over_a"])
    np.testing.assert_allclose(extra, t["formula_extra"], rtol=0, atol=0.51e-4)
    near = t["height_over_a"] <= 1.0
    np.testing.assert_allclose(extra[near], t["fem_extra"][near], rtol=0.075)
    np.testing.assert_allclose(extra[~near], t["fem_extra"][~near], rtol=0, atol=2e-3)


def test_pad_over_a_seat_as_wide_as_itself():
    """What a key's pad adds, against potential flow past a disc as wide as the wall: 28 % short at the widest pad
    and the lowest lift of the ranges, 17 % at most from 0.3 radii of lift on."""
    for pad, lift, short in ((PAD.high, LIFT.low, 0.285), (PAD.high, 0.3, 0.155), (1.5, 0.8, 0.16), (1.35, 1.0, 0.17)):
        wall = pad - 1.0
        extra = axisymmetric.end_length(wall, pad, lift) - axisymmetric.end_length(wall)
        assert -short < pad_length(1.0, wall, pad, lift) / extra - 1.0 < 0.01 - short


def test_leg_near_the_foot():
    """The gap adds the pad's length of a disc as wide as the foot; a far leg adds nothing, a near one shuts."""
    w = omega(np.array([0.02]))
    bare = of_end(foot_impedance(A, 10e-3, w, DRY), 0.02)[1][0]
    near = of_end(foot_impedance(A, 10e-3, w, DRY, gap=3e-3), 0.02)[1][0]
    assert near - bare == pytest.approx(pad_length(1.0, 4 / 6, 10 / 6, 0.5), rel=1e-6)
    gaps = [12e-3, 6e-3, 3e-3, 1.5e-3, 0.95e-3]
    assert np.all(np.diff([foot_impedance(A, 10e-3, w, DRY, gap=g)[0].imag for g in gaps]) > 0)
    assert of_end(foot_impedance(A, 10e-3, w, DRY, gap=12e-3), 0.02)[1][0] - bare < 0.02
    with pytest.warns(OutsideRange, match=r"foot: lift over the hole's radius is 10, outside 0\.15 to 2"):
        far = foot_impedance(A, 10e-3, w, DRY, gap=60e-3)
    assert of_end(far, 0.02)[1][0] - bare < 5e-4


def test_hole_in_a_round_body():
    """Dalmont et al. 2001 as printed; finite elements, tangent plane, within 0.017 b up to b/Ro = 0.7."""
    t = table("hole_in_body")
    length = hole_in_body_length(t["b_over_body_radius"], 1.0) / t["b_over_body_radius"]
    np.testing.assert_allclose(length, t["formula"], rtol=0, atol=0.51e-4)
    inside = t["b_over_body_radius"] < 0.75
    np.testing.assert_allclose(length[inside], t["fem_tangent_plane"][inside], rtol=0, atol=0.017)
    assert float(hole_in_body_length(1.0, 1e9)) == pytest.approx(0.822, abs=1e-6)


def test_mouth_is_a_small_source():
    """Re Z = rho omega^2/(4 pi c), the (ka)^2/4 of the unflanged end at low frequency, whatever the radius."""
    w = omega(np.array([0.01, 0.05]))
    theirs = levine_schwinger.impedance([0.01, 0.05]).real * DRY.density * DRY.sound_speed / (np.pi * A**2)
    z = mouth_impedance([1e-3, A], [0.7e-3, 0.7 * A], w, DRY)
    np.testing.assert_allclose(z.real, [theirs, theirs], rtol=3e-3)
    np.testing.assert_allclose(z.imag[1], w * DRY.density * 0.7 / (np.pi * A), rtol=1e-12)


@pytest.mark.parametrize("gap", [None, 2e-3])
def test_every_foot_is_passive(gap):
    """Radiation takes power and never more than the plane wave brings."""
    ka = np.linspace(0.005, 3.0, 200)
    modulus, _ = of_end(foot_impedance(A, 9e-3, omega(ka), DRY, gap), ka)
    assert np.all(modulus < 1)
    assert np.all(foot_impedance(A, 9e-3, omega(ka), DRY, gap).real > 0)


def test_ranges_of_the_foot_warn():
    with pytest.warns(
        OutsideRange, match=r"k times the radius is 3\.1, outside 0 to 3 \(by 0\.1\).*Levine and Schwinger"
    ):
        unflanged(np.array([1.0, 3.1]))
    with pytest.warns(OutsideRange, match=r"foot: bore over outside diameter is 0\.19, outside 0\.2 to 1.*Dalmont"):
        foot_impedance(A, A / 0.19, omega(KA), DRY)
