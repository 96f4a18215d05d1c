"""The drilling list and the outside: marks, drills, sides, shoulders."""

import math
from dataclasses import replace

import pytest

from acoustics.errors import Refusal
from acoustics.pipes.holes import Key, ToneHole
from acoustics.shop.hole_list import drilling_list
from acoustics.shop.outside import turning
from acoustics.shop.workshop import Workshop
from tests.pipes.sample import assert_one_sentence, sample_chanter

PIPE, SHOP = sample_chanter(), Workshop()
LINES = {line.name: line for line in drilling_list(PIPE, SHOP)}


def test_every_hole_from_both_ends():
    assert list(LINES) == [hole.name for hole in PIPE.holes]
    for hole in PIPE.holes:
        line = LINES[hole.name]
        assert line.axis_top_mm == hole.position_mm
        assert line.axis_top_mm + line.axis_foot_mm == line.mark_top_mm + line.mark_foot_mm == PIPE.bore.length_mm
        if line.tilt_deg == 0.0:
            assert line.mark_top_mm == hole.position_mm


def test_a_tilted_hole_is_marked_where_it_comes_out():
    """Lean times the distance from the bore's axis to the outside."""
    line = LINES["C#"]
    outer = float(PIPE.body.diameter_mm(96.5)) / 2.0
    assert line.mark_top_mm == pytest.approx(96.5 + outer * math.tan(math.radians(8.0)))
    assert line.passage_mm == pytest.approx(line.wall_mm / math.cos(math.radians(8.0)))


def test_drills_are_never_larger_than_the_hole():
    for line in LINES.values():
        assert 0.0 <= line.open_up_mm <= 0.1 + 1e-9
    assert LINES["G"].drill.mm == 5.4, "an oval hole is drilled to its smaller size"
    assert LINES["A"].undercut_mm == (6.6, 2.5)
    key = LINES["C natural"]
    assert (key.kind, key.pad_mm, key.seat_mm, key.duct_mm) == ("key", 9.5, 5.0, ((3.0, 4.6), (1.5, 5.0)))


def test_left_handed_swaps_the_sides_and_nothing_else():
    right = drilling_list(PIPE, SHOP, on_the_left=["Bb"])
    left = drilling_list(PIPE, SHOP, left_handed=True, on_the_left=["Bb"])
    swap = {"left": "right", "right": "left", "front": "front", "back": "back"}
    assert [line.face for line in left] == [swap[line.face] for line in right]
    assert [replace(line, face="") for line in left] == [replace(line, face="") for line in right]
    assert {line.name for line in left if line.face == "right"} == {"Bb"}
    assert {line.name for line in right if line.face == "right"} == {"C natural", "G#", "F natural"}


def test_the_outside_has_its_shoulder():
    outer = turning(PIPE)
    (shoulder,) = outer.shoulders
    assert (shoulder.from_top_mm, shoulder.above_mm, shoulder.below_mm) == (330.0, 19.0, 24.0)
    assert (outer.widest_mm, outer.given) == (26.0, True)
    holes = [replace(hole, depth_mm=4.0) for hole in PIPE.holes]
    bare = turning(replace(PIPE, body=None, holes=holes))
    assert (bare.given, bare.stations_mm[0]) == (False, (0.0, pytest.approx(13.9)))


def steep():
    low = ToneHole("low", 342.0, 4.0, depth_mm=20.0, tilt_deg=40.0)
    return replace(PIPE, holes=[*PIPE.holes, low])


REFUSED = {
    "off the wood": (lambda: drilling_list(steep(), SHOP), 'hole "low": tilted by 40 degrees it comes out at'),
    "no drill": (
        lambda: drilling_list(PIPE, replace(SHOP, drills=(5.1, 6.0))),
        'hole "back D", drills: no drill of the list is 5 mm or smaller',
    ),
    "not at the side": (
        lambda: drilling_list(PIPE, SHOP, on_the_left=["A"]),
        "on_the_left: 'A' is not a hole at the side",
    ),
    "no side": (
        lambda: drilling_list(replace(PIPE, holes=PIPE.holes[:1]), SHOP, on_the_left="A"),
        "on_the_left: 'A' is not a hole at the side",
    ),
}


@pytest.mark.parametrize(("make", "start"), REFUSED.values(), ids=REFUSED)
def test_refused_in_one_sentence(make, start):
    with pytest.raises(Refusal) as caught:
        make()
    assert_one_sentence(caught.value, start)


def test_only_keys_have_seats():
    for hole in PIPE.holes:
        assert (LINES[hole.name].pad_mm is not None) == isinstance(hole, Key)


def test_a_key_drilled_on_the_left_lies_there():
    """Its own place round the bore says so, without being named."""
    moved = replace(PIPE, holes=[replace(h, around_deg=-80.0) if h.name == "Bb" else h for h in PIPE.holes])
    assert drilling_list(moved, SHOP) == drilling_list(PIPE, SHOP, on_the_left=["Bb"])
