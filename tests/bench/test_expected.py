"""What each note should say as it is played, and how that follows what is turned."""

from functools import cache

import numpy as np
import pytest

from acoustics.bench.expected import Expected
from acoustics.bench.moves import moves
from acoustics.errors import Refusal
from acoustics.tuning.dials import DIALS, hole_dials
from acoustics.tuning.free import derivative
from acoustics.tuning.played import DEMO_VALVE, played_chart
from acoustics.tuning.pull import Played
from acoustics.tuning.tangent import Tangent
from acoustics.validity import OutsideRange
from tests.bench.simulated import ONE_TONE
from tests.pipes.sample import assert_one_sentence
from tests.tuning.bench import bench

pytestmark = pytest.mark.filterwarnings(f"ignore::{OutsideRange.__module__}.{OutsideRange.__name__}")
BLOWN = Played(DEMO_VALVE, 3600.0, 5000.0)


@cache
def loud() -> Expected:
    return Expected(bench(), BLOWN)


@cache
def tones() -> np.ndarray:
    chart = played_chart(bench(), BLOWN.valve, BLOWN.pressure_first, BLOWN.pressure_second)
    return np.array([row.lasting_cents for row in chart.rows])


def test_soft_notes_are_the_chart():
    soft, wider = Expected(bench()), DIALS["throat"].turn(bench(), 0.1)
    np.testing.assert_array_equal(soft.cents, bench().chart.cents)
    np.testing.assert_array_equal(soft.unsure, 0.0)
    np.testing.assert_array_equal(soft.slope(DIALS["eye"]), derivative(Tangent(bench()), DIALS["eye"]))
    np.testing.assert_array_equal(soft.moved(wider), wider.chart.cents - bench().chart.cents)
    np.testing.assert_allclose(soft.over(DIALS["throat"], 0.1), 10.0 * soft.moved(wider), rtol=1e-9)
    assert soft.blown == ""


def test_loud_notes_are_the_tones_that_last():
    """The others stand off their resonance by the median of their octave, and nobody is sure of that."""
    found, soft = tones(), bench().chart.cents
    lasts = np.isfinite(found)
    np.testing.assert_allclose(loud().cents[lasts], found[lasts], atol=1e-6)
    second = np.array([row.fingering.register == 2 for row in bench().chart.rows])
    left = second & ~lasts & np.isfinite(soft)
    assert np.any(left)
    np.testing.assert_allclose((loud().cents - soft)[left], np.median((found - soft)[second & lasts]), atol=1e-6)
    np.testing.assert_array_equal(loud().unsure[lasts], 0.0)
    np.testing.assert_allclose(loud().unsure[left], np.std((found - soft)[lasts]), atol=1e-6)
    assert loud().blown == "as played, in the bag 3.6 and 5.0 kPa"


@pytest.mark.parametrize(("name", "by"), [("insertion", 0.2), ("softness", 0.005)])
def test_slopes_are_those_of_the_tones(name, by):
    """Against tones balanced anew a little further on: nearer by far than the slopes of the resonances are."""
    dial, rows = DIALS[name], list(ONE_TONE)
    other = dial.turn(bench(), dial.read(bench()) + by)
    came = np.array([one.cents if one.lasts else np.nan for one in BLOWN.heard(other, rows)]) - loud().cents[rows]
    known = np.isfinite(came)
    told, soft = (by * one.slope(dial)[rows] for one in (loud(), Expected(bench())))
    size = np.sqrt(np.mean(came[known] ** 2))
    assert np.sqrt(np.mean((told - came)[known] ** 2)) < 0.05 * size
    assert np.sqrt(np.mean((soft - came)[known] ** 2)) > 0.1 * size
    np.testing.assert_allclose(loud().moved(other)[rows][known], came[known], atol=0.02)


def test_holes_leave_the_pull_as_it_is():
    dial = hole_dials(bench(), "A")["size"]
    np.testing.assert_array_equal(loud().slope(dial), Expected(bench()).slope(dial))
    tape = hole_dials(bench(), "A")["tape"]
    np.testing.assert_array_equal(loud().over(tape, -30.0), Expected(bench()).over(tape, -30.0))


def left_out(chosen):
    """Pull's change halfway along moves, and what of the notes' change slopes leave out: (rows, rows) [cents]."""
    pulled, beyond = [], []
    for move in chosen:
        by = round(0.5 * move.farthest, 6)
        other = move.dial.turn(bench(), round(move.dial.read(bench()) + by, 6))
        lasts = np.isfinite(tones()) & np.isfinite(other.chart.cents)
        moved = loud().moved(other)
        pulled.append((moved - Expected(bench()).moved(other))[lasts])
        beyond.append((moved - by * (loud().over(move.dial, by) if move.finite else loud().slope(move.dial)))[lasts])
    return np.concatenate(pulled), np.concatenate(beyond)


@pytest.mark.long
def test_what_is_left_out(capsys):
    """Every move, halfway: the numbers in the docstring of `Expected`."""
    for group, bar, worst in (("holes", 0.3, 1.5), ("the rest", 1.0, 10.0)):
        chosen = [move for move in moves(bench()) if (move.dial.group == "holes") == (group == "holes")]
        pulled, beyond = left_out(chosen)
        said = [f"{np.sqrt(np.mean(x**2)):.2f} cents rms, {np.abs(x).max():.1f} at most" for x in (pulled, beyond)]
        with capsys.disabled():
            print(f"\n{group}, {len(chosen)} moves: the pull moves by {said[0]}; beyond what is reckoned {said[1]}")
        assert np.sqrt(np.mean(beyond**2)) < bar
        assert np.abs(beyond).max() < worst


@pytest.mark.parametrize("pitch", ["loud", Played(DEMO_VALVE, 200.0, 200.0)])
def test_refusals(pitch):
    """Another thing than a pitch; a bag so slack that no note sounds."""
    with pytest.raises(Refusal) as refused:
        _ = Expected(bench(), pitch).cents
    assert_one_sentence(refused.value, "pitch")
