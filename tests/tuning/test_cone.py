"""The missing tip against volumes of frustums, and the staple that makes the octaves true."""

from dataclasses import replace

import numpy as np
import pytest

from acoustics.errors import Refusal
from acoustics.pipes.bore import Bore
from acoustics.pipes.chanter import Chanter
from acoustics.pipes.reed import Reed
from acoustics.pipes.staple import Staple
from acoustics.tuning.cone import missing_tip, truest_tip, with_staple_tip
from acoustics.tuning.setup import Setup
from tests.pipes.sample import assert_one_sentence
from tests.tuning.bench import bench, demo


def frustum(first_mm: float, last_mm: float, length_mm: float) -> float:
    """Volume of a frustum: pi h (R^2 + R r + r^2)/3 (any handbook of mathematics)."""
    r, big = first_mm / 2, last_mm / 2
    return np.pi * length_mm * (big**2 + big * r + r**2) / 3


def exact_cone(staple: Staple, throat_at: float = 0.0, softness: float = 0.5) -> Chanter:
    """A bore from 4 to 13 mm over 360 mm, one part in forty, above `throat_at` opening again."""
    stations = [(throat_at, 4.0 + throat_at / 40.0), (360.0, 13.0)]
    if throat_at:
        stations.insert(0, (0.0, 9.0))
    return Chanter("cone", Reed(30.0, 9.0, softness), staple, Bore(stations), ())


ROUND = Staple(length_mm=50.0, foot_mm=4.5, tip_mm=3.0, insertion_mm=20.0)


@pytest.mark.parametrize("insertion", [0.0, 12.0, 20.0])
@pytest.mark.parametrize("throat_at", [0.0, 24.0])
def test_tip_of_an_exact_cone(insertion, throat_at):
    """pi r^2 x1/3 with the radius at the staple's foot and x1 from there to the apex: d = x/40, so x1 = 40 d."""
    tip = missing_tip(exact_cone(replace(ROUND, insertion_mm=insertion), throat_at))
    foot = 4.0 + insertion / 40.0
    assert tip.bore_taper == pytest.approx(1 / 40, rel=1e-9)
    assert tip.tip_mm3 == pytest.approx(np.pi * (foot / 2) ** 2 * (40.0 * foot) / 3, rel=1e-9)
    assert tip.tip_mm3 == pytest.approx(frustum(0.0, foot, 40.0 * foot), rel=1e-9)


def test_what_stands_in_its_place():
    """A round staple is a frustum, the head area times length, the blades add their softness of it."""
    tip = missing_tip(exact_cone(ROUND))
    assert tip.staple_mm3 == pytest.approx(frustum(3.0, 4.5, 50.0), rel=1e-5)
    assert tip.head_mm3 == 270.0
    assert tip.yielding_mm3 == pytest.approx(135.0)
    assert tip.staple_taper == pytest.approx(0.03)
    assert tip.filled == pytest.approx((tip.staple_mm3 + 270.0 + 135.0) / tip.tip_mm3)


def test_a_pressed_eye_holds_less():
    """Pressed at constant perimeter: less room than the rolled cone, more than its squares of the short axis."""
    pressed = missing_tip(exact_cone(replace(ROUND, eye_opening_mm=1.5, flattened_mm=25.0)))
    plain = missing_tip(exact_cone(ROUND))
    least = frustum(1.5, 3.75, 25.0) + frustum(3.75, 4.5, 25.0)
    assert least < pressed.staple_mm3 < plain.staple_mm3
    assert pressed.tip_mm3 == plain.tip_mm3
    assert pressed.staple_taper == plain.staple_taper


def test_a_whole_cone_is_filled_by_a_staple_that_goes_on_with_it():
    """A staple that goes on with the bore's taper and a head as large as the rest of the tip: filled is 1."""
    staple = Staple(length_mm=50.0, foot_mm=4.5, tip_mm=4.5 - 50.0 / 40.0, insertion_mm=20.0)
    rest = frustum(0.0, 3.25, 130.0)
    whole = replace(exact_cone(staple), reed=Reed(rest / 12.0, 12.0, 0.0))
    assert missing_tip(whole).filled == pytest.approx(1.0, rel=2e-7)


def test_demo_chanter():
    """Mean taper below the throat: a least-squares line on an even grid, made here by its normal equations."""
    tip, (x, d) = missing_tip(demo()), demo().bore.table_mm
    grid = np.linspace(22.0, 361.0, 200)
    wide = np.interp(grid, x, d)
    slope = np.sum((grid - grid.mean()) * wide) / np.sum((grid - grid.mean()) ** 2)
    foot = wide.mean() + slope * (15.0 - grid.mean())
    assert tip.bore_taper == pytest.approx(slope, rel=1e-9)
    assert tip.tip_mm3 == pytest.approx(np.pi / 12 * foot**3 / slope, rel=1e-9)
    assert tip.filled == pytest.approx(1.41, abs=8e-4)


@pytest.mark.parametrize("stations", [[(0.0, 9.0), (360.0, 6.0)], [(0.0, 9.0), (100.0, 7.0), (360.0, 6.5)]])
def test_a_bore_narrowest_at_its_foot_has_no_tip(stations):
    with pytest.raises(Refusal) as refused:
        missing_tip(replace(exact_cone(ROUND), bore=Bore(stations)))
    assert_one_sentence(refused.value, "bore: the bore is narrowest at its foot")


def test_a_bore_that_does_not_widen_has_no_tip():
    """A cylinder is narrowest everywhere; its apex is nowhere."""
    with pytest.raises(Refusal) as refused:
        missing_tip(replace(exact_cone(ROUND), bore=Bore([(0.0, 6.0), (360.0, 6.0)])))
    assert_one_sentence(refused.value, "bore: ")


# The truest staple


def mean_stretch(setup: Setup) -> float:
    return float(np.mean(list(setup.chart.stretch.values())))


def test_truest_tip_is_a_root():
    """True on average within 0.2 cents at the answer (it is found to 0.001 mm), wide above it and narrow below."""
    best = truest_tip(bench())
    assert 2.6 < best < 4.8
    assert abs(mean_stretch(with_staple_tip(bench(), best))) < 0.2
    assert mean_stretch(with_staple_tip(bench(), best + 0.1)) > 1.0
    assert mean_stretch(with_staple_tip(bench(), best - 0.1)) < -1.0


@pytest.mark.parametrize(("field", "value", "way"), [("softness", 0.5, -1), ("length_mm", 34.0, 1)])
def test_another_head_wants_another_staple(field, value, way):
    """A stiffer head wants more taper, a longer one less (common practice, no source); each answer is a root."""
    other = Setup(replace(demo(), reed=replace(demo().reed, **{field: value})))
    best = truest_tip(other)
    assert abs(mean_stretch(with_staple_tip(other, best))) < 0.2
    assert way * (best - truest_tip(bench())) > 0.03


def test_no_staple_between_the_two():
    with pytest.raises(Refusal) as refused:
        truest_tip(bench(), 4.0, 4.8)
    assert_one_sentence(refused.value, "staple: no taper makes the octaves true on average")


def test_octaves_that_do_not_sound_are_refused():
    """A setup with first octaves alone has no octave to make true."""
    alone = replace(bench(), fingerings=bench().fingerings[:12])
    with pytest.raises(Refusal) as refused:
        truest_tip(alone)
    assert_one_sentence(refused.value, "staple: ")


def test_another_tip_changes_nothing_else():
    turned = with_staple_tip(bench(), 3.4)
    assert turned.base.staple == replace(demo().staple, tip_mm=3.4)
    assert with_staple_tip(turned, demo().staple.tip_mm) == bench()
