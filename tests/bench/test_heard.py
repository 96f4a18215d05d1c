"""Pitches from invented recordings whose truth is known: drones, noise, vibrato, ornaments, two octaves."""

from dataclasses import replace
from time import process_time

import numpy as np
import pytest
import soundfile

from acoustics.bench.drone_lines import find_drones, without_drones
from acoustics.bench.heard import Heard, Held, listen
from acoustics.bench.naming import LOWER, NEAR_DRONE, TWO_SOUNDS, UNCLEAR, unclear
from acoustics.bench.pitch import Pitch, refine
from acoustics.bench.readings import Reading
from acoustics.bench.recording import Recording, read_recording
from acoustics.bench.unheard import NOT_PLAYED, OVER_IT, TOO_SHORT, TOO_SOFT
from acoustics.errors import Refusal
from acoustics.tuning.scales import just_scale
from acoustics.units import cents
from tests.bench.synthetic import KEYNOTE_HZ, Note, Take, drones, sung, take, tune
from tests.tuning.bench import bench

RATE = 16000


def drone_set(seed: int) -> tuple[float, ...]:
    """Bass, baritone and tenor, up to 3 cents out."""
    off = np.random.default_rng(seed).uniform(-3.0, 3.0, 3)
    return tuple(float(hz) for hz in KEYNOTE_HZ * np.array([0.25, 0.5, 1.0]) * 2 ** (off / 1200.0))


def heard(played: Take, **how):
    return listen(Recording("invented", played.samples, played.rate), just_scale(), 20.0, **how)


def near_drone(hz: float, pitches) -> float:
    """Least distance of a pitch from an overtone of the drones [cents]; far when there are none."""
    return min((abs(cents(hz, pitch * n)) for pitch in pitches for n in range(1, 40)), default=999.0)


def compare(played: Take, found) -> tuple[np.ndarray, np.ndarray, int, int]:
    """Errors and stated errors of clear notes [cents], how many were missed, how many are wrong by 50 cents or more.

    Every note near an overtone of a drone must be flagged.
    """
    error, said, missed, wrong = [], [], 0, 0
    for note, start, stop in played.steady:
        inside = [h for h in found.notes if start - 0.05 <= h.start_s and h.start_s + h.seconds <= stop + 0.05]
        if not inside:
            missed += 1
            continue
        longest = max(inside, key=lambda h: h.seconds)
        off = float(cents(longest.hz, note.hz))
        wrong += abs(off) > 50.0
        if near_drone(note.hz, played.drones_hz) <= 20.0:
            assert longest.flag == NEAR_DRONE, f"{note} at {start:.1f} s"
        else:
            error.append(off)
            said.append(longest.error_cents)
    return np.array(error), np.array(said), missed, wrong


def extra(played: Take, found) -> int:
    """How many held notes were heard where none was held."""
    return sum(
        not any(a - 0.05 <= h.start_s and h.start_s + h.seconds <= b + 0.05 for _, a, b in played.steady)
        for h in found.notes
    )


@pytest.mark.parametrize("seed", [101, 102])
def test_notes_over_drones(seed):
    """The bar of the full run, on half a minute: 1 cent, no octave missed, every note near a drone flagged."""
    played = take(tune(seed, 30.0), seed, RATE, drone_set(seed))
    found = heard(played)
    error, said, missed, wrong = compare(played, found)
    assert found.drones.octaves_below == 2
    assert len(error) >= 15
    assert missed <= 1
    assert wrong == 0
    assert extra(played, found) == 0
    assert np.sqrt(np.mean(error**2)) < 1.0
    assert np.mean(np.abs(error) < 2.0 * said) > 0.85


@pytest.mark.long
def test_five_hundred_notes(tmp_path):
    """Ten minutes at 48 kHz from files: the bar itself."""
    errors, stated, notes, missed, wrong, more, used = [], [], 0, 0, 0, 0, []
    for seed in range(9):
        played = take(tune(seed, 60.0), seed, 48000, drone_set(seed))
        soundfile.write(tmp_path / "tune.flac", played.samples, played.rate, subtype="PCM_16")
        began = process_time()
        found = listen(read_recording(tmp_path / "tune.flac"), just_scale(), 20.0)
        used.append((process_time() - began) * 60.0 * played.rate / len(played.samples))
        error, said, gone, bad = compare(played, found)
        errors.append(error)
        stated.append(error / said)
        notes, missed, wrong = notes + len(played.steady), missed + gone, wrong + bad
        more += extra(played, found)
    error, share = np.concatenate(errors), np.concatenate(stated)
    rms = float(np.sqrt(np.mean(error**2)))
    print(f"{notes} notes, {missed} missed, {more} too many, {wrong} wrong by 50 cents or more")
    print(f"{len(error)} clear of drones: {rms:.3f} cents RMS, at most {np.abs(error).max():.2f}")
    print(
        f"{np.mean(np.abs(share) < 2):.1%} within twice the stated error; {np.mean(used):.1f} s of processor a minute"
    )
    assert notes >= 500
    assert missed <= 0.02 * notes
    assert more == 0
    assert wrong == 0
    assert rms < 1.0
    assert np.mean(np.abs(share) < 2.0) > 0.9


def test_notes_without_drones():
    played = take(tune(103, 20.0), 103, RATE)
    found = heard(played)
    error, _, missed, wrong = compare(played, found)
    assert found.drones is None
    assert (missed, wrong, extra(played, found)) == (0, 0, 0)
    assert np.sqrt(np.mean(error**2)) < 0.5
    assert not any(h.flag == NEAR_DRONE for h in found.notes)


def scale_run(cents_off: float = 0.0, seconds: float = 0.7, steps=(0, 2, 4, 5, 7, 9, 11)) -> list[Note]:
    just = (1, 16 / 15, 9 / 8, 6 / 5, 5 / 4, 4 / 3, 45 / 32, 3 / 2, 8 / 5, 5 / 3, 9 / 5, 15 / 8)
    up = [Note(KEYNOTE_HZ * just[s] * o * 2 ** (cents_off / 1200.0), seconds) for o in (1, 2) for s in steps]
    return [Note(0.0, 0.5), *up, *up[::-1], Note(0.0, 0.5)]


def test_repeats_are_averaged_and_what_they_lie_apart_is_the_error():
    """Every note twice, 8 cents apart: one deviation of a single note is 5.66, of the mean of two 4."""
    first = scale_run(4.0)[:-1]
    played = take([*first[:15], *scale_run(-4.0)[1:15], Note(0.0, 0.5)], 5, RATE)
    found = heard(played)
    assert len(found.notes) == 28
    assert found.spread_cents == pytest.approx(8.0 / np.sqrt(2.0), abs=0.2)
    assert len(found.readings.rows) == 14
    for row in found.readings.rows:
        assert row.cents == pytest.approx(0.0, abs=0.5)
        assert row.error_cents == pytest.approx(4.0, abs=0.3)
    assert [r.title for r in found.readings.rows][:2] == ["D, first octave", "E, first octave"]
    assert any(r.note == "back D" for r in found.readings.rows)
    assert not any("twice" in mind for mind in found.minds)


def test_notes_over_the_drones_are_named_as_a_chart_does():
    found = heard(take(scale_run(), 3, RATE, drone_set(9)))
    flagged = {h.title for h in found.notes if h.flag == NEAR_DRONE}
    assert {"D, first octave", "back D, first octave", "A, second octave"} <= flagged
    said = next(mind for mind in found.minds if "once more with the drones off" in mind)
    first, second = said.split(" of the first octave and ")
    assert set(first.split(", ")) == {title.split(", ")[0] for title in flagged if title.endswith("first octave")}
    assert second.startswith("E, ")
    assert " of the second octave sound within 20 cents" in second


def test_of_repeats_the_longer_counts_more():
    """By hand: 3 s at +2 cents and 1 s at +10, spread aside, make +4."""
    held = [Held("A", 1, 0.0, long, 440.0, off, 0.5, 0.0, float("nan")) for long, off in ((3.0, 2.0), (1.0, 10.0))]
    (row,) = Heard("by hand", just_scale(), 20.0, None, tuple(held), ()).readings.rows
    assert row.cents == pytest.approx((3.0 * 2.0 + 10.0) / 4.0, abs=1e-12)
    apart = 2.0 * np.var([2.0, 10.0])
    assert row.error_cents == pytest.approx(np.sqrt((0.5**2 + apart) * (9.0 + 1.0) / 16.0), rel=1e-12)


def test_the_a_is_asked_of_the_drones():
    """All of it 35 cents sharp: the drones tell, and the notes keep their names and lie on the scale."""
    sharp = 2 ** (35.0 / 1200.0)
    pitches = tuple(KEYNOTE_HZ * sharp * share for share in (0.25, 0.5, 1.0))
    played = take(scale_run(35.0), 6, RATE, pitches)
    found = listen(Recording("invented", played.samples, RATE), temperature_c=18.0)
    assert found.scale.a_hz == pytest.approx(440.0 * sharp, rel=2e-4)
    assert max(abs(h.cents) for h in found.notes) < 1.5
    told = listen(Recording("invented", played.samples, RATE), just_scale(), 18.0)
    assert any("the drones stand 35 cents above" in mind for mind in told.minds)
    assert found.readings.temperature_c == 18.0
    for said in (str(found), found._repr_html_()):
        assert "F#, second octave" in said
        assert NEAR_DRONE in said
        assert "-0.0" not in said


def test_a_held_low_d_is_no_drone_when_the_maker_says_so():
    played = take([Note(0.0, 0.3), Note(KEYNOTE_HZ * 2 ** (7.0 / 1200.0), 12.0), Note(0.0, 0.3)], 7, RATE)
    found = heard(played, drones=False)
    assert [(h.note, h.octave) for h in found.notes] == [("D", 1)]
    assert found.notes[0].cents == pytest.approx(7.0, abs=0.2)


@pytest.mark.parametrize("octaves", [(2,), (1,), (0,), (1, 0)])
def test_the_deepest_drone_is_told(octaves):
    pitches = [KEYNOTE_HZ / 2**o * 2 ** (4.0 / 1200.0) for o in octaves]
    played = take(scale_run(), 8, RATE, pitches)
    found = find_drones(played.samples, RATE, KEYNOTE_HZ)
    assert found.octaves_below == max(octaves)
    assert cents(found.base_hz, max(pitches, key=lambda hz: -hz)) == pytest.approx(0.0, abs=0.5)


def test_drones_taken_out_leave_the_chanter():
    """Against the same chanter recorded without them: four fifths of their amplitude and more are gone."""
    rng = np.random.default_rng(9)
    alone = take(tune(9, 20.0), 9, RATE, noise_db=-60.0).samples
    behind = 0.5 * np.std(alone) * drones(drone_set(9), len(alone), RATE, rng)
    both = alone + behind
    lines = find_drones(both, RATE, KEYNOTE_HZ)
    left = without_drones(both, RATE, lines) - alone
    assert np.std(left) < 0.2 * np.std(behind)


def test_what_is_wrong_with_a_recording_is_said():
    played = take(scale_run()[:9], 10, RATE, drone_set(10))
    assert any(
        "less than 8 seconds" in mind for mind in heard(replace(played, samples=played.samples[: 6 * RATE])).minds
    )
    half = take(scale_run(), 11, RATE)
    stops = half.samples.copy()
    stops[: len(stops) // 2] += 0.3 * np.std(stops) * drones([73.4], len(stops) // 2, RATE, np.random.default_rng(1))
    assert any("below the chanter" in mind for mind in heard(replace(half, samples=stops)).minds)
    assert not any("below the chanter" in mind for mind in heard(half).minds)
    assert any("about 45 cents above" in mind for mind in heard(take(scale_run(45.0), 12, RATE)).minds)


@pytest.mark.parametrize("off", [-25.0, 0.0, 13.0, 25.0])
def test_a_clean_tone_to_a_hundredth_of_a_cent(off):
    """Closed form: harmonics of a known frequency."""
    time = np.arange(6000) / 12000
    hz = 600.0 * 2 ** (off / 1200.0)
    wave = sum(np.cos(2 * np.pi * k * hz * time + k**2) / k for k in range(1, 6))
    assert cents(refine(wave, 12000, 600.0).hz, hz) == pytest.approx(0.0, abs=0.01)


@pytest.mark.parametrize(("wide", "fast"), [(10.0, 5.0), (25.0, 6.3)])
def test_vibrato_is_averaged_and_measured(wide, fast):
    note = Note(440.0, 0.8, wide, fast)
    pitch = refine(sung(note, 12000, np.random.default_rng(4))[1200:-600], 12000, 442.0)
    assert cents(pitch.hz, 440.0) == pytest.approx(0.0, abs=0.3)
    assert pitch.vibrato_cents == pytest.approx(wide, rel=0.1)
    assert pitch.vibrato_hz == pytest.approx(fast, abs=0.3)


@pytest.mark.parametrize(("wide", "fast"), [(20.0, 5.0), (40.0, 6.0)])
def test_vibrato_is_averaged_in_cents(wide, fast):
    """Closed form: 440 Hz in the mean of the cents, over whole turns; the mean of the frequency lies w²/4 higher."""
    time = np.arange(24000) / 12000
    hz = 440.0 * 2 ** (wide / 1200.0 * np.sin(2 * np.pi * fast * time))
    wave = sum(np.cos(k * 2 * np.pi * np.cumsum(hz) / 12000 + k**2) / k for k in range(1, 8))
    higher = 0.25 * (wide * np.log(2.0) / 1200.0) ** 2 * 1200.0 / np.log(2.0)
    assert abs(cents(refine(wave, 12000, 440.0).hz, 440.0)) < 0.2 * higher


def overtones(hz: float, numbers, rate: int = 12000, seconds: float = 0.6) -> np.ndarray:
    time = np.arange(int(seconds * rate)) / rate
    return sum(np.cos(2 * np.pi * k * hz * time + k**2) / k**0.5 for k in numbers)


@pytest.mark.parametrize("off", [1.1, -6.0])
def test_two_sounds_an_octave_apart_are_not_taken_for_the_lower(off):
    """A regulator 9 dB softer, not quite an octave below: all overtones of the lower note are there."""
    chanter, regulator = overtones(1106.0, range(1, 4)), 0.35 * overtones(553.0 * 2 ** (off / 1200.0), range(1, 8))
    noise = 0.01 * np.random.default_rng(2).normal(size=len(chanter))
    assert unclear(refine(chanter + regulator + noise, 12000, 553.0), 0.6) == TWO_SOUNDS
    assert unclear(refine(overtones(553.0, range(1, 8)) + noise, 12000, 553.0), 0.6) == ""


@pytest.mark.parametrize("parts", [2, 3])
def test_a_note_heard_an_octave_or_a_twelfth_above_itself_is_flagged(parts):
    """Without its lowest overtones, by hand."""
    found = refine(overtones(289.0, range(parts, 13)), 12000, 289.0 * parts)
    assert unclear(found, 0.6) == LOWER
    assert refine(overtones(289.0 * parts, range(1, 5)), 12000, 289.0 * parts).below < 1e-3


def test_a_brief_note_needs_more_overtones_that_agree():
    kept = Pitch(440.0, 0.5, 15.0, 5.0, agreeing=2.0, overtones=10, parted=0.0, below=0.0)
    assert [unclear(kept, seconds) for seconds in (0.3, 0.6)] == [UNCLEAR, ""]
    assert unclear(replace(kept, agreeing=1.2), 0.6) == UNCLEAR


@pytest.mark.parametrize("flat", [90.0, 200.0])
def test_a_chanter_in_another_key_is_spoken_of(flat):
    """What lies below the lowest note of the scale is no chanter of that key, whatever its notes are taken for."""
    found = heard(take(scale_run(-flat), 3, RATE), drones=False)
    assert any(mind.startswith(f"the lowest note lies {flat:.0f} cents below") for mind in found.minds)


def test_too_short_for_drones_and_what_is_no_scale():
    played = take(scale_run(seconds=0.4)[:9], 3, RATE)
    short = Recording("invented", played.samples, played.rate)
    with pytest.raises(Refusal, match="seconds are too short to tell drones from notes"):
        listen(short, temperature_c=20.0)
    with pytest.raises(Refusal, match="scale: 440 stands there"):
        listen(short, 440, 20.0)
    with pytest.raises(Refusal, match="temperature_c: 'warm' is not a number"):
        listen(short, just_scale(), "warm")


def test_notes_of_the_chart_that_were_not_heard_are_named_with_a_reason():
    """G held too briefly, A played forty times softer, the low D and the other notes not played."""
    up = [n for n in scale_run(steps=(0, 2, 5, 7, 9)) if n.hz][:10]
    names = ("D", "E", "G", "A", "B") * 2
    made = {("G", 0): {"seconds": 0.22}, ("A", 0): {"level": 0.025}}
    notes = [replace(n, **made.get((name, i // 5), {})) for i, (n, name) in enumerate(zip(up, names, strict=True))]
    played = take([Note(0.0, 0.5), *notes[1:], *notes[1:3], Note(0.0, 0.5)], 21, RATE, noise_db=-60.0, wet_db=-40.0)
    chart = bench().chart
    (said,) = [mind for mind in heard(played, expected=chart).minds if mind.startswith("not heard")]
    reasons = {title: why for part in said[11:-2].split("); ") for title, why in _said(part)}
    assert reasons["G, first octave"] == TOO_SHORT
    assert reasons["A, first octave"] == TOO_SOFT
    assert reasons["C#, second octave"] == reasons["D, first octave"] == NOT_PLAYED
    there = {(n, o) for n, o in [("E", 1), ("B", 1), *((n, 2) for n in ("back D", "D", "E", "G", "A", "B"))]}
    assert set(reasons) == {row.title for row in chart.rows} - {Reading(n, o, 0, 1).title for n, o in there}
    assert not any(mind.startswith("not heard") for mind in heard(played).minds)


def _said(part: str) -> list[tuple[str, str]]:
    titles, why = part.split(" (")
    octaves = [group.split(" of the ") for group in titles.split(" and ")]
    return [(f"{name}, {octave}", why) for names, octave in octaves for name in names.split(", ")]


def test_a_note_under_an_overtone_of_the_drones_is_not_said_to_be_left_out():
    played = take([n for n in scale_run() if abs(n.hz - 1.5 * KEYNOTE_HZ) > 1.0], 8, RATE, drone_set(8))
    said = heard(played, expected=bench().chart).minds
    assert any(f"A of the first octave and back D of the second octave ({OVER_IT})" in mind for mind in said)


@pytest.mark.parametrize("rate", [8000, 9600, 11025])
def test_few_samples_a_second_with_drones(rate):
    """Down to what a telephone line carries: overtones of the drones above half the rate are not there to take out."""
    played = take([*scale_run()[:15], Note(0.0, 0.5)], 13, rate, drone_set(13))
    error, _, missed, wrong = compare(played, heard(played))
    assert (missed, wrong) == (0, 0)
    assert len(error) >= 5
    assert np.sqrt(np.mean(error**2)) < 0.5
