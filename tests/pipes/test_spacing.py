"""Wood between holes: one face by hand, two faces against the edges of the holes themselves, in space."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings

from acoustics.errors import Refusal
from acoustics.pipes.bore import Body, Bore
from acoustics.pipes.chanter import Chanter
from acoustics.pipes.holes import Key, ToneHole, bearing_deg
from acoustics.pipes.reed import Reed
from acoustics.pipes.spacing import crowded, wood_mm
from acoustics.pipes.staple import Staple
from tests.pipes.sample import assert_one_sentence
from tests.pipes.strategies import floats


def pipe(*holes, bore=7.0) -> Chanter:
    """Holes in a cylinder."""
    tube = (Bore([(0.0, bore), (300.0, bore)]), Body([(0.0, 20.0), (300.0, 20.0)]))
    return Chanter("tube", Reed(31.0, 8.5), Staple(50.0, 4.3, 3.0, 15.0), tube[0], holes, tube[1])


def edge(hole, radius, points=720):
    """The edge that a drill square to a bore leaves on its wall: points (3, n), exactly."""
    turn, half = np.linspace(0.0, 2.0 * np.pi, points), hole.diameter_mm / 2.0
    angle = np.radians(bearing_deg(hole)) + np.arcsin(half * np.sin(turn) / radius)
    return np.array([hole.position_mm + half * np.cos(turn), radius * np.cos(angle), radius * np.sin(angle)])


@settings(deadline=None, max_examples=80)
@given(floats(0.0, 15.0), floats(2.5, 5.6), floats(2.5, 5.6), floats(-180.0, 180.0))
def test_against_the_edges(down, size, other, around):
    """The straight line between two edges on the wall, holes up to 0.8 of the bore, where there is little wood."""
    made = two(down, size, other, around)
    if made is None:
        return
    said, want = wood_mm(made)[0, 1], shortest(made)
    if 0.5 < said < 4.0:
        assert want - 0.4 < said < want + 0.01


@settings(deadline=None, max_examples=30)
@given(floats(2.5, 5.6), floats(2.5, 5.6), floats(-180.0, 180.0))
def test_at_one_height(size, other, around):
    """Exact wherever there is wood at all."""
    made = two(0.0, size, other, around)
    if made is not None and wood_mm(made)[0, 1] > 0.1:
        assert wood_mm(made)[0, 1] == pytest.approx(shortest(made), abs=2e-3)


def two(down, size, other, around):
    """A hole on the front and another; None where they overlap on one face."""
    face = "front" if abs(around) <= 60 else "side" if abs(around) <= 150 else "back"
    a, b = ToneHole("a", 100.0, size), Key("b", 100.0 + down, other, pad_diameter_mm=12.0, face=face, around_deg=around)
    try:
        return pipe(a, b)
    except Refusal:
        return None


def shortest(made) -> float:
    edges = [edge(hole, 3.5) for hole in made.holes]
    return float(np.min(np.linalg.norm(edges[0][:, :, None] - edges[1][:, None], axis=0)))


def test_one_face_by_hand():
    made = pipe(ToneHole("a", 100.0, 5.0), ToneHole("b", 110.0, (4.0, 6.0)))
    np.testing.assert_allclose(wood_mm(made), [[np.inf, 4.5], [4.5, np.inf]])
    # the undercut eats it at the bore
    cut = pipe(ToneHole("a", 100.0, 5.0, undercut_diameter_mm=6.5, undercut_depth_mm=2.0), ToneHole("b", 110.0, 6.0))
    assert wood_mm(cut)[0, 1] == pytest.approx(10.0 - 3.25 - 3.0)
    # and holes that lean together meet at the outside, 10 mm from the axis
    lean = pipe(ToneHole("a", 100.0, 5.0, tilt_deg=5.0), ToneHole("b", 112.0, 5.0, tilt_deg=-5.0))
    tangent = np.tan(np.radians(5.0))
    assert wood_mm(lean)[0, 1] == pytest.approx(12.0 - 20.0 * tangent - 5.0 * np.hypot(1.0, tangent))


def test_round_the_bore():
    """A quarter and half of the way round a 7 mm bore, at one height: the chord of the arc between the edges."""
    taken = np.arcsin(1.25 / 3.5) + np.arcsin(1.0 / 3.5)
    for face, around in (("side", np.pi / 2.0), ("back", np.pi)):
        made = pipe(ToneHole("a", 100.0, 2.5), ToneHole("b", 100.0, 2.0, face=face))
        assert wood_mm(made)[0, 1] == pytest.approx(7.0 * np.sin(0.5 * (around - taken)))


def test_left_and_right_are_apart():
    """Two keys at one height: they share their wood on one side, not on two."""
    keys = [Key("a", 100.0, 5.0, around_deg=90.0), Key("b", 106.0, 5.0, around_deg=-90.0)]
    assert wood_mm(pipe(*keys))[0, 1] > wood_mm(pipe(keys[0], replace(keys[1], around_deg=90.0)))[0, 1] + 2.0


def test_crowded_says_which():
    made = pipe(ToneHole("C#", 99.5, 5.9), Key("C natural", 104.0, 3.8), ToneHole("B", 136.0, 6.5))
    ((upper, lower, wood),) = crowded(made, 3.0)
    assert (upper, lower) == ("C#", "C natural")
    edges = [edge(hole, 3.5) for hole in made.holes[:2]]
    want = np.min(np.linalg.norm(edges[0][:, :, None] - edges[1][:, None], axis=0))
    assert want - 0.4 < wood < want + 0.01
    assert crowded(made, 1.0) == ()
    assert [pair[2] for pair in crowded(made, 100.0)] == sorted(wood_mm(made)[np.triu_indices(3, 1)])
    assert wood_mm(pipe()).shape == (0, 0)


def test_a_place_of_its_own():
    assert [bearing_deg(ToneHole("a", 100.0, 5.0, face=face)) for face in ("front", "side", "back")] == [
        0.0,
        90.0,
        180.0,
    ]
    assert bearing_deg(Key("a", 100.0, 5.0, around_deg=-100)) == -100.0


@pytest.mark.parametrize(
    ("face", "around"), [("front", 61), ("front", -180), ("back", 100), ("side", 0), ("side", 151)]
)
def test_a_place_off_its_face(face, around):
    with pytest.raises(Refusal) as refused:
        ToneHole("a", 100.0, 5.0, face=face, around_deg=around)
    assert_one_sentence(refused.value, f'hole "a", around_deg: {around} degrees are not the {face}')


@pytest.mark.parametrize("around", [181.0, float("nan"), "right", True])
def test_no_place(around):
    with pytest.raises(Refusal) as refused:
        Key("a", 100.0, 5.0, around_deg=around)
    assert_one_sentence(refused.value, 'hole "a", around_deg: ')
