"""The demo workshop's recording: it is what its generator makes, and its readings are the truth that stays there."""

import numpy as np
import soundfile

from acoustics.bench.heard import NEAR_DRONE, listen
from acoustics.bench.recording import read_recording
from acoustics.units import cents
from tests.bench import make_playing


def test_the_stored_recording_is_what_its_generator_makes():
    stored, rate = soundfile.read(make_playing.STORED)
    made = make_playing.PEAK / 0.7 * make_playing.played().samples
    assert make_playing.STORED.stat().st_size < 300_000
    assert rate == make_playing.RATE
    assert np.std(stored - made) < 0.01 * np.std(made)


def test_its_readings_are_the_chanter():
    """Within what the piper's hold of 1.5 cents on two notes, and the drones' own pitch, explain."""
    found = listen(read_recording(make_playing.STORED), temperature_c=make_playing.TEMPERATURE_C)
    truth = {(one.row.note, one.row.octave): one for one in make_playing.run()}
    assert len(found.notes) == 2 * len(truth) - 1
    readings = found.readings.rows
    assert len(readings) == len(truth)
    off = []
    for row in readings:
        true = truth["D" if row.note == "back D" else row.note, row.octave]
        off.append(row.cents - cents(true.tone.frequency, found.scale.frequency(true.row.note, true.row.octave)))
    assert np.sqrt(np.mean(np.square(off))) < 1.5
    assert np.abs(off).max() < 3.0 * make_playing.HOLD_CENTS
    assert {row.flag for row in readings} == {"", NEAR_DRONE}
    assert sum(not row.flag for row in readings) >= 12


def test_it_is_played_not_rung():
    """Tones that last, pulled off their resonances by several cents and each note by its own; the others are left."""
    played = make_playing.run()
    pull = np.array([one.cents - one.resonance_cents for one in played])
    assert np.std(pull) > 3.0
    assert 18 <= len(played) < 25
