"""Targets: the just scale against the drones, equal temperament, flat sets."""

import numpy as np
import pytest

from acoustics.errors import Refusal
from acoustics.pipes.chanter import KEYS
from acoustics.pipes.fingering import NOTES
from acoustics.tuning.scales import Scale, equal_scale, just_scale
from acoustics.units import cents, from_cents
from tests.published import table

JUST = table("just_scale")


@pytest.mark.parametrize("note", NOTES)
def test_published_just_scale(note):
    """just_scale.csv: ISO 16 A = 440 Hz, five-limit ratios over the equal-tempered D, to the printed digits."""
    row = list(JUST["note"]).index(note)
    assert just_scale().frequency(note, 1) == pytest.approx(JUST["just_hz"][row], abs=0.51e-3)
    assert equal_scale().frequency(note, 1) == pytest.approx(JUST["equal_hz"][row], abs=0.51e-3)
    off = cents(just_scale().frequency(note, 1), equal_scale().frequency(note, 1))
    assert off == pytest.approx(JUST["minus_equal"][row], abs=0.51e-3)


def test_seventh_of_16_9():
    row = list(JUST["note"]).index("C(7h)")
    assert just_scale(seventh="16/9").frequency("C", 1) == pytest.approx(JUST["just_hz"][row], abs=0.51e-3)
    assert just_scale(seventh="16/9").frequency("C#", 1) == just_scale().frequency("C#", 1)


@pytest.mark.parametrize("scale", [just_scale(), equal_scale()])
def test_octaves_are_twice(scale):
    for note in NOTES:
        assert scale.frequency(note, 2) == 2 * scale.frequency(note, 1)
        assert scale.frequency(note, 3) == 4 * scale.frequency(note, 1)
    assert np.all(np.diff([scale.frequency(note, 1) for note in NOTES]) > 0)


def test_the_keynote_follows_the_fork_and_the_a_follows_the_keynote():
    """D is seven equal semitones under the fork's A; the just A is a pure fifth over D, 1.955 cents sharp."""
    for a in (430.0, 440.0, 446.5):
        scale = just_scale(a)
        assert scale.keynote_hz == pytest.approx(a * 2 ** (-7 / 12), rel=1e-14)
        assert cents(scale.frequency("A", 1), a) == pytest.approx(1.955, abs=1e-3)
        assert equal_scale(a).frequency("A", 1) == pytest.approx(a, rel=1e-14)
    assert str(just_scale()) == ("just scale on D = 293.66 Hz; fingered A is 440.50 Hz, 2.0 cents above a piano's")
    assert str(just_scale(key="C")).endswith("fingered A is 392.44 Hz, 2.0 cents above a piano's")
    assert str(just_scale(441.5)).endswith("fingered A is 442.00 Hz, 2.0 cents above a piano's tuned to A = 441.50 Hz")
    assert str(equal_scale()).endswith("fingered A is 440.00 Hz, like a piano's")


@pytest.mark.parametrize(("key", "semitones"), [("C#", -1), ("C", -2), ("B", -3), ("B-flat", -4)])
def test_flat_sets(key, semitones):
    """Every note moves by the same interval."""
    flat, concert = just_scale(key=key), just_scale()
    moved = [cents(flat.frequency(note, 1), concert.frequency(note, 1)) for note in NOTES]
    np.testing.assert_allclose(moved, 100 * semitones, atol=1e-9)
    assert f"on {key} = " in str(flat)


def test_every_key_of_a_chanter_has_a_scale_on_its_keynote():
    """Equal-tempered keynotes at A = 440 Hz (ISO 16), from B-flat up to E."""
    hertz = [233.082, 246.942, 261.626, 277.183, 293.665, 311.127, 329.628]
    assert [just_scale(key=key).keynote_hz for key in KEYS] == pytest.approx(hertz, abs=6e-4)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: just_scale(a_hz=200.0), "a_hz: 200 is out of bounds; a number from 300 to 600 Hz is allowed"),
        (lambda: just_scale(a_hz=float("nan")), "a_hz: nan is not a finite number"),
        (lambda: just_scale(a_hz="440"), "a_hz: '440' is not a number"),
        (lambda: Scale("short", (1.0, 1.5)), "ratios: the number of ratios is 2; 12 are needed"),
        (lambda: Scale("odd", (1.0,) * 11 + (-1.0,)), "ratio of C#: -1 is out of bounds"),
        (lambda: Scale("none", None), "ratios: None stands there; a list of 12 numbers is needed"),
        (lambda: Scale("", (1.0,) * 12), "name: '' is empty"),
        (lambda: just_scale(key="G"), "key: 'G' is not a key; one of B-flat, "),
        (lambda: just_scale(seventh="7/4"), "seventh: '7/4' is not a seventh; one of 9/5, 16/9 is allowed"),
        (lambda: just_scale().frequency("H", 1), "note: 'H' is not a note; one of D, Eb"),
    ],
)
def test_refusals(make, words):
    with pytest.raises(Refusal, match=words):
        make()


def test_own_scale():
    own = Scale("mine", tuple(from_cents(np.arange(12) * 99.0)), 415.0, "C")
    assert cents(own.frequency("G", 1), own.keynote_hz) == pytest.approx(495.0, abs=1e-9)


def test_a_list_of_ratios_is_kept_where_nobody_can_change_it():
    given = list(equal_scale().ratios)
    scale = Scale("equal temperament", given)
    given[0] = 2.0
    assert scale == equal_scale()
    assert hash(scale) == hash(equal_scale())
