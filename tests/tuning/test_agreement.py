"""A set against its own drones: beats, the tonic, slides; and what its keys cost."""

import dataclasses
from functools import cache

import numpy as np
import pytest

from acoustics.errors import Refusal
from acoustics.physics.air import Air
from acoustics.pipes.fingering import NOTES, OPEN
from acoustics.pipes.pipe_set import PipeSet
from acoustics.pipes.set_file import read_set
from acoustics.tuning.agreement import RESERVE_CENTS, agreement
from acoustics.tuning.chart import tuning_chart
from acoustics.tuning.drones import drone_pitch
from acoustics.tuning.keys import block_length, pad_lift, shut_keys
from acoustics.tuning.regulators import regulator_chart
from acoustics.tuning.scales import equal_scale, just_scale
from acoustics.units import cents, from_cents
from tests.pipes.sample import assert_one_sentence
from tests.tuning.bench import DESIGNS, demo

JUST_RATIOS = {"D": 1, "E": 9 / 8, "F#": 5 / 4, "G": 4 / 3, "A": 3 / 2, "B": 5 / 3}  # Ellis 1885, as in scales


@cache
def demo_set() -> PipeSet:
    return read_set(DESIGNS / "sallow-ford-set.toml")


@cache
def demo_agreement():
    return agreement(demo_set())


# -- the demo set


def test_the_drones_stand_at_d_and_leave_40_cents_on_either_side():
    keynote = just_scale().keynote_hz
    assert [place.target_hz for place in demo_agreement().slides] == [keynote, keynote / 2, keynote / 4]
    for place in demo_agreement().slides:
        assert abs(cents(place.sounds_hz, place.target_hz)) < 0.1
        assert place.needs_mm == pytest.approx(place.drone.slide.gap_mm, abs=0.02)
        assert min(place.sharp_cents, place.flat_cents) >= RESERVE_CENTS
        assert place.enough


def test_every_d_and_every_drone_is_heard_against_every_drone():
    found = {(one.pipe, one.note, one.drone) for one in demo_agreement().at_the_tonic}
    names = [drone.name for drone in demo_set().drones]
    chanter = [f"{note}, {octave} octave" for note in ("D", "back D") for octave in ("first", "second")]
    expected = {("Sallow Ford 1", note, name) for note in chanter for name in names}
    expected |= {("Sallow Ford baritone regulator", "D", name) for name in names}
    expected |= {(names[i], "drone", names[j]) for i in range(3) for j in range(i + 1, 3)}
    assert found == expected


def test_the_demo_drones_stand_still_with_each_other():
    pairs = [one for one in demo_agreement().every if one.note == "drone"]
    assert [(one.overtone, one.drone_overtone) for one in pairs] == [(1, 2), (1, 4), (1, 2)]
    assert max(one.beats for one in pairs) < 0.02
    assert max(abs(one.cents) for one in pairs) < 0.1


def test_beats_and_cents_follow_from_the_pitches_alone():
    mine = demo_agreement()
    sounds = {drone.name: drone_pitch(drone).frequency for drone in demo_set().drones}
    rows = {(mine.chart.pipe_name, row.title): row for row in mine.chart.rows}
    for chart in mine.regulators:
        rows |= {(chart.regulator.name, row.note): row for row in chart.rows}
    below = {drone.name: drone.octaves_below for drone in demo_set().drones}
    for one in mine.every:
        drone = sounds[one.drone]
        sounding = sounds[one.pipe] if one.note == "drone" else rows[one.pipe, one.note].sounding_hz
        assert one.beats == pytest.approx(abs(one.overtone * sounding - one.drone_overtone * drone), abs=1e-9)
        note = "D" if one.note == "drone" else rows[one.pipe, one.note].note
        if note in JUST_RATIOS:
            ratio = one.drone_overtone / one.overtone
            octave = round(np.log2(ratio / JUST_RATIOS[note]))
            assert ratio == pytest.approx(JUST_RATIOS[note] * 2.0**octave)
            assert octave >= below[one.drone] - 1
        assert one.cents == pytest.approx(cents(sounding, one.drone_overtone / one.overtone * drone), abs=1e-9)


def test_the_worst_come_first_and_each_sound_once():
    worst = demo_agreement().worst_first
    assert [one.beats for one in worst] == sorted((one.beats for one in worst), reverse=True)
    assert len({(one.pipe, one.note) for one in worst}) == len(worst)
    every = demo_agreement().every
    assert {(one.pipe, one.note) for one in worst} == {(one.pipe, one.note) for one in every}
    for one in worst:
        same = [other for other in every if (other.pipe, other.note) == (one.pipe, one.note)]
        assert one.overtone == min(other.overtone for other in same)


# -- what moves it


def moved(pipes: PipeSet, by_mm: float) -> PipeSet:
    drones = tuple(drone.drawn(drone.slide.gap_mm + by_mm) for drone in pipes.drones)
    return dataclasses.replace(pipes, drones=drones)


def test_a_drone_that_is_drawn_moves_every_beat_and_the_slides_say_where_it_must_go_back():
    flat = agreement(moved(demo_set(), 2.0))
    for place, before in zip(flat.slides, demo_agreement().slides, strict=True):
        fell = float(cents(place.sounds_hz, before.sounds_hz))
        assert fell == pytest.approx(2.0 * before.cents_per_mm, rel=0.02)
        assert place.needs_mm == pytest.approx(before.needs_mm, abs=1e-3)
    one, two = (next(o for o in a.every if o.note == "A, first octave") for a in (demo_agreement(), flat))
    expected = float(cents(demo_agreement().slides[0].sounds_hz, flat.slides[0].sounds_hz))
    assert two.cents - one.cents == pytest.approx(expected, abs=1e-9)


def test_slides_can_be_asked_for_another_keynote_and_say_when_they_do_not_reach():
    keynote = just_scale().keynote_hz * from_cents(20.0)
    sharp = agreement(demo_set(), keynote_hz=keynote)
    for place, before in zip(sharp.slides, demo_agreement().slides, strict=True):
        assert place.needs_mm < before.needs_mm
        assert place.sharp_cents == pytest.approx(before.sharp_cents - 20.0, abs=1e-6)
        assert drone_pitch(place.drone.drawn(place.needs_mm)).frequency == pytest.approx(place.target_hz, rel=1e-6)
    far = agreement(demo_set(), keynote_hz=just_scale().keynote_hz * from_cents(80.0))
    assert all(place.needs_mm is None and place.sharp_cents < 0.0 and not place.enough for place in far.slides)


def test_air_scale_and_fingering_reach_every_chart():
    air = Air(12.0, 0.8)
    cold = agreement(demo_set(), air, equal_scale(), OPEN)
    np.testing.assert_array_equal(cold.chart.cents, tuning_chart(demo_set().chanter, OPEN, equal_scale(), air).cents)
    for chart, pipe in zip(cold.regulators, demo_set().regulators, strict=True):
        np.testing.assert_array_equal(chart.cents, regulator_chart(pipe, equal_scale(), air).cents)
    assert [place.sounds_hz for place in cold.slides] == [
        drone_pitch(drone, air, equal_scale()).frequency for drone in demo_set().drones
    ]


@pytest.mark.parametrize(
    ("pipes", "start"),
    [
        (lambda: demo(), "set: Chanter("),
        (lambda: dataclasses.replace(demo_set(), drones=()), "Sallow Ford set: it has no drone"),
    ],
)
def test_what_cannot_agree(pipes, start):
    with pytest.raises(Refusal) as caught:
        agreement(pipes())
    assert_one_sentence(caught.value, start)


# -- keys


def test_four_keys_give_every_semitone_of_two_octaves():
    rows = demo_agreement().chart.rows
    sounding = {(row.note, row.octave) for row in rows if row.mode is not None}
    assert sounding >= {(note, octave) for note in NOTES for octave in (1, 2)} | {("D", 3)}
    semitones = {round(12 * np.log2(row.sounding_hz / rows[0].sounding_hz)) for row in rows}
    assert semitones == set(range(25))


def test_what_shut_keys_cost_is_the_chart_with_them_against_the_wood_without():
    costs = shut_keys(demo())
    assert costs.keys == ("C natural", "Bb", "G#", "F natural")
    full = tuning_chart(demo())
    assert costs.notes == tuple(row.title for row in full.rows)
    bare = dataclasses.replace(demo(), holes=[hole for hole in demo().holes if hole.name not in costs.keys])
    without = {row.title: row.cents for row in tuning_chart(bare).rows}
    for i, row in enumerate(full.rows):
        opens = [name for name, _ in row.fingering.open_holes]
        needed = [key in opens for key in costs.keys]
        assert np.isnan(costs.moved[:, i]).tolist() == needed
        if any(needed):
            assert np.isnan(costs.together[i])
        else:
            assert costs.together[i] == pytest.approx(row.cents - without[row.title], abs=1e-9)


def test_a_shut_key_is_a_lump_of_air():
    """Filled to half its depth, it costs little less than half of what it costs whole: compliance, not mass."""
    one = dataclasses.replace(demo(), holes=[h for h in demo().holes if h.name in ("G#", "Eb")])
    played = tuning_chart(one).rows[0].fingering
    deep = dataclasses.replace(one, holes=[dataclasses.replace(h, duct=(), depth_mm=6.0) for h in one.holes[:1]])
    flat = dataclasses.replace(one, holes=[dataclasses.replace(h, duct=(), depth_mm=3.0) for h in one.holes[:1]])
    whole, half = (shut_keys(pipe, fingerings=(played,)).moved[0, 0] for pipe in (deep, flat))
    assert whole < -2.0
    assert 0.40 < half / whole < 0.65


def test_a_longer_block_costs_its_own_note_and_those_below():
    curve = block_length(demo(), "G#", [0.0, 2.5, 6.0])
    assert curve.moved.shape == (3, 26)
    assert np.all(curve.moved[1] == 0.0)
    names = [note for note, own in zip(curve.notes, curve.own, strict=True) if own]
    assert names == ["G#, first octave", "G#, second octave"]
    assert np.all(curve.moved[0, curve.own] > 0.0)
    assert np.all(curve.moved[2, curve.own] < 0.0)
    low = curve.notes.index("D, first octave")
    assert curve.moved[0, low] > 0.0 > curve.moved[2, low]


def test_a_pads_lift_moves_the_notes_of_its_key_alone():
    curve = pad_lift(demo(), "C natural", [1.0, 2.5, 4.0])
    assert np.all(curve.moved[:, ~curve.own] == 0.0)
    assert np.all(np.diff(curve.moved[:, curve.own], axis=0) > 0.0)


@pytest.mark.parametrize(
    ("ask", "start"),
    [
        (lambda: block_length(demo(), "A", [1.0]), "Sallow Ford 1: 'A' is not a key of this pipe"),
        (lambda: block_length(demo(), "G#", [-1.0]), "block length: -1 is out of bounds"),
        (lambda: pad_lift(demo(), "G#", [0.0]), "pad lift: 0 is out of bounds"),
        (lambda: shut_keys(dataclasses.replace(demo(), holes=())), "Sallow Ford 1: it has no key"),
    ],
)
def test_what_the_key_studies_refuse(ask, start):
    with pytest.raises(Refusal) as caught:
        ask()
    assert_one_sentence(caught.value, start)
