"""The staple laid flat, against worked examples of metalwork pages and against the cone itself."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acoustics.errors import Refusal
from acoustics.pipes.staple import Staple
from acoustics.shop.bends import bend_length_mm, outer_strain, outer_wall_mm
from acoustics.shop.staple_pattern import (
    Frustum,
    eye_mandrel,
    frustum_volume_mm3,
    rolling_mandrel,
    sheet_width_mm,
    staple_pattern,
)
from acoustics.shop.workshop import Workshop
from tests.pipes.sample import assert_one_sentence, sample_chanter

STAPLE = sample_chanter().staple
SHOP = Workshop()


def test_worked_example_of_a_metalwork_page():
    """Printed there: diameters 5 and 8, height 4 give radii 7.12 and 11.39 and 126.4 degrees."""
    frustum = Frustum(4.0, 5.0, 8.0)
    assert frustum.radii_mm == pytest.approx((7.12, 11.39), abs=0.005)
    assert frustum.angle_deg == pytest.approx(126.4, abs=0.05)


def test_worked_example_of_a_long_cone():
    """The same rule by hand: radii 2.3 and 6.2, height 400."""
    frustum = Frustum(400.0, 4.6, 12.4)
    assert frustum.slant_mm == pytest.approx(400.0190, abs=5e-5)
    assert frustum.radii_mm == pytest.approx((235.9086, 635.9277), abs=5e-5)
    assert frustum.angle_deg == pytest.approx(3.50983, abs=5e-6)
    assert frustum.arcs_mm == pytest.approx((14.4513, 38.9557), abs=5e-5)
    assert frustum.chords_mm == pytest.approx((14.4491, 38.9497), abs=1e-4)


@given(st.floats(1.0, 300.0), st.floats(0.5, 20.0), st.floats(0.01, 20.0))
def test_the_ring_is_the_cones_side(length, small, growth):
    """Area of the ring's part is that of the frustum's side, its arcs are the ends' circumferences."""
    frustum = Frustum(length, small, small + growth)
    inner, outer = frustum.radii_mm
    angle = math.radians(frustum.angle_deg)
    side = math.pi * (frustum.small_mm + frustum.large_mm) / 2.0 * frustum.slant_mm
    assert angle / 2.0 * (outer**2 - inner**2) == pytest.approx(side, rel=1e-9)
    assert (angle * inner, angle * outer) == pytest.approx(frustum.arcs_mm, rel=1e-9)
    assert outer - inner == pytest.approx(frustum.slant_mm, rel=1e-9)


def test_a_straight_tube_is_a_rectangle():
    frustum = Frustum(50.0, 5.0, 5.0)
    assert (frustum.angle_deg, frustum.bulge_mm, frustum.slant_mm) == (0.0, 0.0, 50.0)
    assert frustum.arcs_mm == frustum.chords_mm == pytest.approx((5.0 * math.pi,) * 2)
    tube = staple_pattern(replace(STAPLE, tip_mm=STAPLE.foot_mm), SHOP)
    assert tube.blank_mm == pytest.approx((50.4, math.pi * 5.4 + 0.4))


@given(st.floats(0.1, 100.0), st.floats(0.1, 50.0), st.floats(0.1, 50.0))
def test_frustum_volume(length, first, second):
    """Against the sum over thin discs (Gauss's rule of two points is exact for a square)."""
    t = 0.5 + np.array([-1.0, 1.0]) / (2.0 * math.sqrt(3.0))
    discs = np.mean(math.pi / 4.0 * (first + (second - first) * t) ** 2) * length
    assert frustum_volume_mm3(length, first, second) == pytest.approx(discs, rel=1e-12)


def test_frustum_volume_by_hand():
    assert frustum_volume_mm3(12.0, 2.0, 2.0) == pytest.approx(math.pi * 12.0)
    assert frustum_volume_mm3(3.0, 0.0, 2.0) == pytest.approx(math.pi), "a whole cone"


def test_makers_rule_width_over_pi_less_the_thickness():
    """Trade figures: 15.7 wide in sheet of 0.5 rolls to 4.5 inside."""
    assert sheet_width_mm(4.5, 0.5) == pytest.approx(15.7, abs=0.01)
    for inside in (3.0, 4.2, 4.5):
        assert sheet_width_mm(inside, 0.48) / math.pi - 0.48 == pytest.approx(inside, rel=1e-12)


def test_pattern_of_a_staple():
    pattern = staple_pattern(STAPLE, SHOP)
    assert (pattern.eye_width_mm, pattern.foot_width_mm) == pytest.approx(pattern.frustum.arcs_mm, rel=1e-12)
    assert pattern.eye_is_small
    assert pattern.blank_mm[0] > pattern.frustum.slant_mm + 0.4
    assert pattern.blank_mm[1] > pattern.frustum.chords_mm[1] + 0.4
    assert not staple_pattern(replace(STAPLE, foot_mm=3.8, tip_mm=4.9), SHOP).eye_is_small


@given(st.floats(0.0, 1.0), st.floats(0.0, 3.0))
def test_cut_edges_lie_parallel_outside_the_finished_ones(filing, seam):
    """Every cut corner is `filing` (or filing and lap) away from the finished edge's line, on its outer side."""
    pattern = staple_pattern(STAPLE, replace(SHOP, filing_mm=filing, seam_mm=seam))
    half = math.radians(pattern.frustum.angle_deg) / 2.0
    for outer in (False, True):
        radius = pattern.cut_radii_mm[outer]
        low, high = (math.radians(angle) for angle in pattern.corners_deg(outer))
        assert radius * math.sin(-half - low) == pytest.approx(filing, abs=1e-9)
        assert radius * math.sin(high - half) == pytest.approx(filing + seam, abs=1e-9)


def test_mandrels():
    assert rolling_mandrel(STAPLE)[1:3] == ((0.0, 3.8), (50.0, 4.9))
    slopes = {
        round((b[1] - a[1]) / (b[0] - a[0]), 9) for a, b in zip(*[iter(rolling_mandrel(STAPLE))] * 2, strict=True)
    }
    assert slopes == {0.022}
    points = eye_mandrel(STAPLE)
    assert points[0][:2] == (0.0, 1.7)
    assert points[-1] == pytest.approx((22.0, STAPLE.rolled_diameter_mm(22.0), STAPLE.rolled_diameter_mm(22.0)))
    for x, short, long in points:  # Ramanujan's first estimate of an ellipse's perimeter
        around = math.pi / 2.0 * (3.0 * (short + long) - math.sqrt((3.0 * short + long) * (short + 3.0 * long)))
        assert around == pytest.approx(math.pi * float(STAPLE.rolled_diameter_mm(x)), rel=1e-3)
    assert eye_mandrel(Staple(50.0, 5.0, 4.0, 20.0)) == ()
    assert min(d for _, d in rolling_mandrel(Staple(20.0, 9.0, 1.2, 5.0))) >= 1.0 - 1e-9


def test_bends():
    """Bends of 12 x 1 tube on a radius of 30 and 12.7 x 0.8 on 25.4, by the tube benders' rule."""
    assert bend_length_mm(30.0, 90.0) == pytest.approx(47.124, abs=5e-4)
    assert outer_wall_mm(12.0, 1.0, 30.0) == pytest.approx(0.8333, abs=5e-5)
    assert outer_strain(12.0, 30.0) == pytest.approx(0.20)
    assert outer_wall_mm(12.7, 0.8, 25.4) == pytest.approx(0.640)
    assert outer_strain(12.7, 25.4) == pytest.approx(0.25)


REFUSED = {
    "too steep": (lambda: staple_pattern(Staple(5.0, 25.0, 2.0, 1.0), SHOP), "staple: its flat pattern would open"),
    "too much filing": (
        lambda: staple_pattern(Staple(9.0, 9.0, 0.5, 1.0), replace(SHOP, filing_mm=2.0, sheet_mm=0.05)),
        "staple: filing and lap of 2 mm",
    ),
    "bend inside the tube": (lambda: outer_strain(12.0, 5.0), "bend radius: 5 is out of bounds"),
    "sheet too thick": (lambda: Workshop(sheet_mm=5.0), "sheet_mm: 5 is out of bounds"),
    "no drills": (lambda: Workshop(drills=()), "drills: there is no drill"),
}


@pytest.mark.parametrize(("make", "start"), REFUSED.values(), ids=REFUSED)
def test_refused_in_one_sentence(make, start):
    with pytest.raises(Refusal) as caught:
        make()
    assert_one_sentence(caught.value, start)
