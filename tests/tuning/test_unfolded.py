"""How much shorter a folded drone sounds, against Rayleigh's rule on a drone without losses."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from acoustics.errors import Refusal
from acoustics.pipes.drone import Drone
from acoustics.pipes.reed import Reed
from acoustics.pipes.stretches import Bend, Bridge, Slide, Straight
from acoustics.tuning.drones import drone_pitch
from acoustics.tuning.unfolded import centreline_mm, sounds_shorter, straightened
from tests.physics.simple import LOSSLESS
from tests.pipes.sample import assert_one_sentence

BORE, RADIUS = 7.0, 12.0


@cache
def plain(before: float = 500.0) -> Drone:
    """One bore from the lips to the open end, a rigid reed of the same width, one bend after `before` mm."""
    reed = Reed(100.0, np.pi * BORE**2 / 4, softness=0.0)
    turn = Bend(RADIUS, BORE)
    rest = 1000.0 - before - turn.length_mm
    stretches = [
        Straight(60.0, BORE),
        Slide(1.0, BORE, 10.0),
        Straight(before - 61.0, BORE),
        turn,
        Straight(rest, BORE),
    ]
    return Drone("plain", reed, stretches, 2)


@pytest.mark.parametrize("before", [200.0, 500.0, 800.0, 940.0])
def test_a_bend_shortens_as_rayleigh_says(before):
    """An inertance that is missing over dl acts by the square of the flow, dl sin^2(k x), x from the lips; to 0.5 %.

    The inertance that is missing: Nederveen's ratio (1 + sqrt(1 - B^2))/2 along the arc, less the two joints of
    0.0674 a B^2 and more, which the finite elements of the published tables fixed.
    """
    drone = plain(before)
    found = sounds_shorter(drone, LOSSLESS)
    b = BORE / 2 / RADIUS
    missing = np.pi * RADIUS * (1 - np.sqrt(1 - b**2)) / 2
    joint = (0.0674 + 0.0367 * b**2 + 0.0426 * b**4) * b**2 * BORE / 2
    k = 2 * np.pi * drone_pitch(drone, LOSSLESS).frequency / LOSSLESS.sound_speed * 1e-3
    start, end = 100.0 + before, 100.0 + before + np.pi * RADIUS
    x = np.linspace(start, end, 200)
    wanted = missing * np.mean(np.sin(k * x) ** 2)
    wanted -= joint * (np.sin(k * start) ** 2 + np.sin(k * end) ** 2)
    assert found.shorter_mm == pytest.approx(wanted, rel=0.005)
    assert found.centreline_mm == pytest.approx(1000.0)
    whole = LOSSLESS.sound_speed / 4 / drone_pitch(drone, LOSSLESS).frequency * 1e3
    assert found.sharper_cents == pytest.approx(1200 / np.log(2) * found.shorter_mm / whole, rel=1e-3)


def test_cut_off_as_much_and_it_sounds_the_same():
    drone = plain(800.0)
    *others, last = straightened(drone).stretches
    cut = replace(last, length_mm=last.length_mm - sounds_shorter(drone).shorter_mm)
    assert drone_pitch(replace(drone, stretches=[*others, cut])).frequency == pytest.approx(
        drone_pitch(drone).frequency, rel=1e-7
    )


def test_a_straight_drone_is_as_long_as_it_is():
    found = sounds_shorter(straightened(plain()))
    assert abs(found.shorter_mm) < 1e-4
    assert abs(found.sharper_cents) < 1e-4


def test_the_centre_line_of_a_bridge_goes_round_its_corners():
    assert centreline_mm(Bridge(14.0, 7.0)) == 3.5 + 14.0 + 3.5
    assert centreline_mm(Bend(10.0, 5.0, 90.0)) == pytest.approx(5.0 * np.pi)
    assert centreline_mm(Straight(20.0, 5.0)) == 20.0


def test_no_tube_left_to_cut():
    """Bridges one after the other, and an end of 1 mm."""
    stretches = list(plain().stretches[:3])
    for _ in range(6):
        stretches += [Bridge(14.0, BORE), Straight(40.0, BORE)]
    with pytest.raises(Refusal) as caught:
        sounds_shorter(replace(plain(), stretches=[*stretches[:-1], Straight(1.0, BORE)], octaves_below=2))
    assert_one_sentence(caught.value, "plain: the last stretch is too short")
