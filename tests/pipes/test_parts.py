"""The parts of a chanter: what each refuses, and the shapes they give."""

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from acoustics.errors import Refusal, number, one_of, short, whole_number
from acoustics.pipes.bore import Body, Bore
from acoustics.pipes.chanter import Chanter
from acoustics.pipes.fingering import Fingering
from acoustics.pipes.holes import Key, ToneHole, lean
from acoustics.pipes.reed import Reed
from acoustics.pipes.rush import Rush
from acoustics.pipes.staple import Staple, ellipse_long_axis

from .sample import assert_one_sentence, sample_chanter
from .strategies import bores, floats, staples

PRESSED = Staple(50.0, 4.9, 3.8, 26.0, 1.7, 22.0)


def ellipse_perimeter(long_axis, short_axis):
    """By numerical integration of the arc length over a quarter."""
    a, b = long_axis / 2.0, short_axis / 2.0
    quarter, _ = quad(lambda t: math.hypot(a * math.sin(t), b * math.cos(t)), 0.0, math.pi / 2.0, epsabs=0, limit=400)
    return 4.0 * quarter


@pytest.mark.parametrize("ratio", [0.02, 0.1, 0.3, 0.5, 0.8, 0.95, 0.999, 1.0])
def test_long_axis_against_the_integral(ratio):
    perimeter = ellipse_perimeter(6.0, 6.0 * ratio)
    assert ellipse_long_axis(perimeter, 6.0 * ratio) == pytest.approx(6.0, rel=1e-8)


def test_long_axis_works_on_arrays():
    perimeter = np.array([ellipse_perimeter(6.0, 2.0), ellipse_perimeter(5.0, 2.0)])
    assert ellipse_long_axis(perimeter, 2.0) == pytest.approx([6.0, 5.0], rel=1e-8)


@settings(max_examples=60, deadline=None)
@given(staple=staples(), share=floats(0.0, 1.0))
def test_pressing_does_not_stretch_the_sheet(staple, share):
    x = share * staple.length_mm
    short_axis, long_axis = (float(axis) for axis in staple.axes_mm(x))
    area, perimeter = (float(value) for value in staple.cross_section(x))
    rolled = float(staple.rolled_diameter_mm(x))
    assert perimeter == pytest.approx(math.pi * rolled, rel=1e-12)
    assert ellipse_perimeter(long_axis, short_axis) == pytest.approx(math.pi * rolled, rel=1e-7)
    assert area == pytest.approx(math.pi / 4.0 * short_axis * long_axis, rel=1e-12)
    assert short_axis <= rolled <= long_axis * (1 + 1e-12)


def test_the_eye_is_as_pressed_and_the_foot_is_round():
    assert float(PRESSED.axes_mm(0.0)[0]) == 1.7
    assert [float(axis) for axis in PRESSED.axes_mm(50.0)] == [4.9, 4.9]
    end = 3.8 + 1.1 * 22.0 / 50.0
    assert [float(axis) for axis in PRESSED.axes_mm(22.0)] == pytest.approx([end, end], rel=1e-14)
    assert float(PRESSED.axes_mm(11.0)[0]) == pytest.approx((1.7 + end) / 2.0, rel=1e-14)


def test_a_round_staple_is_round_everywhere():
    short_axis, long_axis = Staple(50.0, 5.0, 3.0, 26.0).axes_mm([0.0, 25.0, 50.0])
    assert short_axis.tolist() == long_axis.tolist() == [3.0, 4.0, 5.0]


def test_bore_between_stations_at_a_step_and_beyond_the_ends():
    bore = Bore([(0, 6), (50, 5), (50, 7), (100, 9), (100, 8), (200, 10)])
    assert bore.diameter_mm(25.0) == pytest.approx(5.5)
    assert bore.diameter_mm(50.0) == pytest.approx(7.0), "the wider side"
    assert bore.diameter_mm(100.0) == pytest.approx(9.0), "the wider side"
    assert bore.diameter_mm(49.999999) == pytest.approx(5.0, abs=1e-6)
    assert bore.diameter_mm([-5.0, 0.0, 200.0, 300.0]).tolist() == pytest.approx([6.0, 6.0, 10.0, 10.0])
    assert (bore.length_mm, bore.throat_mm) == (200.0, (50.0, 5.0))


@given(bore=bores())
def test_a_bore_has_its_stations_and_stays_between_them(bore):
    distance, diameter = np.array(bore.stations_mm).T
    found = bore.diameter_mm(np.linspace(0.0, bore.length_mm, 50))
    assert found.min() >= diameter.min() * (1 - 1e-12)
    assert found.max() <= diameter.max() * (1 + 1e-12)
    assert bore.throat_mm[1] == diameter.min()
    assert bore.length_mm == distance.max()


def test_numbers_are_kept_as_floats_and_lists_as_tuples():
    bore = Bore([[0, 5], np.array([100, 9])])
    assert bore.stations_mm == ((0.0, 5.0), (100.0, 9.0))
    assert {type(v) for pair in bore.stations_mm for v in pair} == {float}
    assert type(Reed(24, 14).length_mm) is float
    assert ToneHole("A", 10, [5, 6]).diameter_mm == (5.0, 6.0)
    assert Key("A", 10, 5, duct=[[2, 5]]).duct == ((2.0, 5.0),)


def test_holes_are_sorted_from_the_top():
    pipe = sample_chanter()
    turned = dataclasses.replace(pipe, holes=pipe.holes[::-1])
    assert turned == pipe
    assert [hole.name for hole in pipe.holes[:3]] == ["back D", "C#", "C natural"]
    assert dataclasses.replace(pipe, holes=iter(pipe.holes)) == pipe


@pytest.mark.parametrize("part", ["reed", "staple", "bore", "body", "rush", "hole", "key", "chanter"])
def test_nothing_can_be_changed_in_place(part):
    pipe = sample_chanter()
    what = {"hole": pipe.hole("A"), "key": pipe.hole("Bb"), "chanter": pipe}.get(part) or getattr(pipe, part)
    for field in dataclasses.fields(what):
        before = getattr(what, field.name)
        with pytest.raises(dataclasses.FrozenInstanceError):
            setattr(what, field.name, before)
        assert getattr(what, field.name) is before


@pytest.mark.parametrize("part", [Bore, Body])
def test_a_table_cannot_be_written_to(part):
    table = part([(0.0, 5.0), (100.0, 9.0)]).table_mm
    with pytest.raises(ValueError, match="read-only"):
        table[1, 0] = 6.0


def test_replace_makes_a_checked_copy():
    pipe = sample_chanter()
    wider = dataclasses.replace(pipe, staple=dataclasses.replace(pipe.staple, foot_mm=5.1))
    assert (pipe.staple.foot_mm, wider.staple.foot_mm) == (4.9, 5.1)
    assert dataclasses.replace(wider, staple=pipe.staple) == pipe
    with pytest.raises(Refusal):
        dataclasses.replace(pipe.staple, foot_mm=-1.0)


def test_equivalent_round_hole_and_outlet():
    assert ToneHole("A", 10.0, (4.0, 9.0)).round_mm == pytest.approx(6.0)
    oval = ToneHole("A", 10.0, (4.0, 9.0))
    assert (oval.across_mm, oval.along_mm) == (4.0, 9.0)
    assert Key("A", 10.0, 5.0).outlet_mm == 5.0
    assert Key("A", 10.0, 5.0, duct=((1.0, 6.0), (2.0, 7.0))).outlet_mm == 7.0


def test_a_tilted_hole_leans_and_a_key_neither_leans_nor_is_undercut():
    assert lean(ToneHole("A", 100.0, 5.0, tilt_deg=45.0)) == pytest.approx(1.0)
    assert lean(ToneHole("A", 100.0, 5.0, tilt_deg=-30.0)) == pytest.approx(-1.0 / math.sqrt(3.0))
    key = Key("Bb", 100.0, 5.0)
    assert (lean(key), key.undercut_diameter_mm, key.undercut_depth_mm) == (0.0, None, None)
    assert not {"tilt_deg", "undercut_diameter_mm", "undercut_depth_mm"} & {f.name for f in dataclasses.fields(Key)}


def test_walls_come_from_the_outside_unless_given():
    pipe = sample_chanter()
    walls = {side.name: side.wall_mm for side in pipe.side_holes}
    at = pipe.hole("A").position_mm
    assert walls["A"] == pytest.approx((pipe.body.diameter_mm(at) - pipe.bore.diameter_mm(at)) / 2.0)
    assert walls["F#"] == 4.1


def test_the_path_starts_at_the_eye_and_ends_at_the_foot():
    pipe = sample_chanter()
    path = pipe.path
    assert path.body_offset_mm == 24.0
    assert (path.edges_mm[0], path.edges_mm[-1]) == (0.0, 356.0 + 24.0)
    area, perimeter = path.cross_section(np.array([60.0 + 24.0, 300.0 + 24.0]))
    bore = pipe.bore.diameter_mm([60.0, 300.0])
    assert area == pytest.approx(np.pi / 4 * (bore**2 - np.array([0.0, 1.5**2])), rel=1e-12)
    assert perimeter == pytest.approx(np.pi * (bore + np.array([0.0, 1.5])), rel=1e-12)
    in_staple = path.cross_section(np.array([10.0]))
    assert [float(v[0]) for v in in_staple] == pytest.approx([float(v) for v in pipe.staple.cross_section(10.0)])


def changed(**fields):
    return lambda: dataclasses.replace(sample_chanter(), **fields)


def plus(*holes):
    return changed(holes=[*sample_chanter().holes, *holes])


REFUSED = {
    "reed length 0": (lambda: Reed(0, 14), "length_mm: 0 is out of bounds"),
    "reed length None": (lambda: Reed(None, 14), "length_mm: None is not a number"),
    "reed softness None": (lambda: Reed(24, 14, softness=None), "softness: None is not a number"),
    "reed perimeter too small": (lambda: Reed(24, 14, perimeter_mm=13), "perimeter_mm: 13 mm cannot go round 14 mm2"),
    "reed area is text": (lambda: Reed(24, "14"), "area_mm2: '14' is not a number"),
    "reed quality below 1": (lambda: Reed(24, 14, quality=0.5), "quality: 0.5 is out of bounds"),
    "reed softness negative": (lambda: Reed(24, 14, softness=-0.1), "softness: -0.1"),
    "reed resonance nan": (lambda: Reed(24, 14, resonance_hz=math.nan), "resonance_hz: nan is not a finite"),
    "reed perimeter bool": (lambda: Reed(24, 14, perimeter_mm=True), "perimeter_mm: True is not a number"),
    "staple length None": (lambda: Staple(None, 5, 4, 20), "length_mm: None is not a number"),
    "staple eye alone": (lambda: Staple(50, 5, 4, 20, eye_opening_mm=2), "staple: eye_opening_mm and flattened_mm"),
    "staple pressing alone": (lambda: Staple(50, 5, 4, 20, flattened_mm=9), "staple: eye_opening_mm and flattened"),
    "staple eye wider than tip": (lambda: Staple(50, 5, 4, 20, 4.1, 9), "staple: the eye is pressed to 4.1 mm"),
    "staple pressed too long": (lambda: Staple(50, 5, 4, 20, 2, 51), "staple: the flattened part of 51 mm"),
    "staple deeper than long": (lambda: Staple(7, 5, 4, 22), "staple: a staple of 7 mm cannot sit 22 mm deep"),
    "bore none": (lambda: Bore(None), "bore: None is not a list"),
    "bore one station": (lambda: Bore([(0, 5)]), "bore: the number of stations is 1"),
    "bore not from 0": (lambda: Bore([(1, 5), (9, 6)]), "bore: the first station lies at 1 mm"),
    "bore too short": (lambda: Bore([(0, 5), (0.5, 6)]), "bore: the whole length is 0.5 mm"),
    "bore backwards": (lambda: Bore([(0, 5), (9, 6), (8, 7)]), "bore, station 3: the distance 8 comes after 9"),
    "bore thrice": (lambda: Bore([(0, 5), (9, 6), (9, 7), (9, 8)]), "bore, station 4: the distance 9 stands"),
    "bore too close": (lambda: Bore([(0, 5), (9, 6), (9 + 1e-12, 7)]), "bore, station 3: the distance 9 follows"),
    "bore triple": (lambda: Bore([(0, 5, 1), (9, 6)]), "bore, station 1: (0, 5, 1) is not a pair"),
    "bore too narrow": (lambda: Bore([(0, 5), (9, 0.4)]), "bore, station 2, diameter: 0.4 is out of bounds"),
    "body infinite": (lambda: Body([(0, 5), (math.inf, 6)]), "body, station 2, distance: inf is not a finite"),
    "rush upside down": (lambda: Rush(1, 50, 40), "rush: the upper end (50) is not above"),
    "rush too thick": (lambda: Rush(21, 40, 50), "diameter_mm: 21 is out of bounds"),
    "hole without a name": (lambda: ToneHole(" ", 50, 5), "name: ' ' is empty"),
    "hole name of two lines": (lambda: ToneHole("a\nb", 50, 5), "name: 'a\\nb' is empty"),
    "hole nowhere": (lambda: ToneHole("A", None, 5), 'hole "A", position_mm: None is not a number'),
    "hole on no face": (lambda: ToneHole("A", 50, 5, face="left"), "hole \"A\", face: 'left' is not a face"),
    "hole of three sizes": (lambda: ToneHole("A", 50, (5, 6, 7)), 'hole "A", diameter_mm: (5, 6, 7) is not a pair'),
    "hole tilted 50": (lambda: ToneHole("A", 50, 5, tilt_deg=50), 'hole "A", tilt_deg: 50 is out of bounds'),
    "undercut half": (lambda: ToneHole("A", 50, 5, undercut_depth_mm=2), 'hole "A", undercut: undercut_diameter_mm'),
    "undercut narrow": (
        lambda: ToneHole("A", 50, 5, undercut_diameter_mm=4, undercut_depth_mm=2),
        'hole "A", undercut_diameter_mm: the undercut of 4 mm is narrower',
    ),
    "pad too small": (lambda: Key("A", 50, 9, pad_diameter_mm=9), 'hole "A", pad_diameter_mm: the pad of 9 mm'),
    "duct not pairs": (lambda: Key("A", 50, 5, duct=[5]), 'hole "A", duct, stretch 1: 5 is not a pair'),
    "duct text": (lambda: Key("A", 50, 5, duct="ab"), "hole \"A\", duct: 'ab' is not a list"),
    "duct too thin": (lambda: Key("A", 50, 5, duct=[(1, 0.1)]), 'hole "A", duct, stretch 1, diameter: 0.1'),
    "fingering of a number": (lambda: Fingering("A", 1, 5), "fingering of A: 5 is not a list of hole names"),
    "fingering of nothing": (lambda: Fingering("A", 1, None), "fingering of A: None is not a list of hole names"),
    "fingering overblown too low": (lambda: Fingering("A", 1, register=2), "fingering of A: register 2 in octave 1"),
    "chanter in H": (changed(key="H"), "key: 'H' is not a key"),
    "chanter without a reed": (changed(reed=None), "reed: NoneType stands there"),
    "chanter body is a bore": (changed(body=Bore([(0, 9), (356, 9)])), "body: Bore stands there"),
    "chanter rush is text": (changed(rush="wire"), "rush: str stands there"),
    "chanter holes a number": (changed(holes=5), "holes: 5 is not a list"),
    "chanter holes text": (changed(holes="A"), "holes: str stands there"),
    "chanter name empty": (changed(name=""), "name: '' is empty"),
    "staple through the bore": (
        lambda: Chanter("x", Reed(24, 14), Staple(60, 5, 4, 50), Bore([(0, 6), (50, 8)]), []),
        "staple: the foot of the staple sits 50 mm down",
    ),
    "rush past the end": (changed(rush=Rush(1, 300, 357)), "rush: it lies from 300 to 357 mm"),
    "rush in the staple": (changed(rush=Rush(1, 20, 300)), "rush: it lies from 20 to 300 mm"),
    "rush too thick for the bore": (changed(rush=Rush(5, 30, 300)), "rush: a wire of 5 mm in a bore of 5.2 mm"),
    "two holes of one name": (plus(ToneHole("A", 320, 5)), 'holes: two holes are called "A"'),
    "holes overlap": (plus(ToneHole("A2", 155, 5)), 'holes: "A" and "A2" overlap by 3.40 mm'),
    "hole off the end": (plus(ToneHole("low", 354, 5)), 'hole "low": at 354 mm'),
    "hole under the staple": (plus(ToneHole("high", 27, 4)), 'hole "high": at 27 mm'),
    "hole wider than the bore": (plus(ToneHole("wide", 45, 6)), 'hole "wide": 6 mm is wider than the bore'),
    "undercut wider than the bore": (
        plus(ToneHole("wide", 45, 4, undercut_diameter_mm=6, undercut_depth_mm=1)),
        'hole "wide": 6 mm is wider than the bore',
    ),
    "undercut deeper than the wall": (
        plus(ToneHole("deep", 45, 4, undercut_diameter_mm=5, undercut_depth_mm=9)),
        'hole "deep": the undercut is 9 mm deep',
    ),
    "no outside": (changed(body=None), 'hole "back D": there is neither a depth nor an outside'),
    "outside too short": (
        changed(body=Body([(0, 18), (340, 20)])),
        "body: the outside ends at 340 mm, the bore at 356",
    ),
    "outside too long": (changed(body=Body([(0, 18), (358, 20)])), "body: the outside ends at 358 mm, the bore at 356"),
    "no wall at the foot": (
        changed(body=Body([(0, 18), (330, 18), (356, 12)])),
        "body: the outside is 12.00 mm at 356 mm, where the bore is 12.90 mm",
    ),
    "no wall": (changed(body=Body([(0, 6), (356, 6)])), 'hole "back D": the wall there is'),
}


@pytest.mark.parametrize(("make", "start"), REFUSED.values(), ids=REFUSED)
def test_refused_in_one_sentence(make, start):
    with pytest.raises(Refusal) as caught:
        make()
    assert_one_sentence(caught.value, start)


def test_holes_on_different_faces_may_lie_side_by_side():
    pipe = plus(ToneHole("thumb", 153, 5, face="back"))()
    assert pipe.hole("thumb").position_mm == pipe.hole("A").position_mm


def test_a_hole_that_is_not_there():
    with pytest.raises(Refusal) as caught:
        sample_chanter().hole("H")
    assert_one_sentence(caught.value, 'Sliabh Ban, invented: there is no hole called "H"')
    with pytest.raises(Refusal, match="this pipe has no holes"):
        dataclasses.replace(sample_chanter(), holes=()).hole("H")


def test_the_outside_may_end_a_little_before_or_past_the_foot():
    for end in (355.5, 356.5):
        pipe = changed(body=Body([(0, 18), (end, 26)]))()
        assert pipe.foot.outer_mm == pytest.approx(float(pipe.body.diameter_mm(356.0)))


NO_NUMBERS = [10**400, -(10**5000), True, "5", None, [5], math.nan, -math.inf, 1 + 2j]


@pytest.mark.parametrize("value", NO_NUMBERS, ids=[str(i) for i in range(len(NO_NUMBERS))])
def test_what_is_no_usable_number(value):
    with pytest.raises(Refusal) as caught:
        number("length_mm", value, 0.0, 10.0)
    assert_one_sentence(caught.value, "length_mm: ")


def test_a_number_just_out_of_bounds_is_told_from_the_bound():
    with pytest.raises(Refusal, match=r"^n: 1000000\.5 is out of bounds; a number from 1 to 1000000 is allowed\.$"):
        number("n", 1_000_000.5, 1, 1_000_000, "")
    with pytest.raises(Refusal, match=r"^hz: 150 is .*; a number from 0\.333333 to 146\.832 Hz is allowed\.$"):
        number("hz", 150, 1 / 3, 146.8323839587038, "Hz")


@pytest.mark.parametrize("value", [2.5, "3", True, 0, 11])
def test_what_is_no_whole_number(value):
    assert whole_number("points", 3.0, 1, 10) == 3
    with pytest.raises(Refusal) as caught:
        whole_number("points", value, 1, 10)
    assert_one_sentence(caught.value, "points: ")


@pytest.mark.parametrize("value", ["Tight", "", None, ["tight"], {}, 1])
def test_a_word_that_is_no_choice(value):
    choices = {"tight": 1, "open": 2}
    assert one_of("fingering", "open", choices) == 2
    with pytest.raises(Refusal) as caught:
        one_of("fingering", value, choices)
    assert_one_sentence(caught.value, "fingering: ")
    assert '"tight" or "open" is allowed' in str(caught.value)


@given(st.text() | st.binary() | st.lists(st.integers()) | st.floats())
def test_quoted_values_stay_short(value):
    assert 1 <= len(short(value)) <= 40
