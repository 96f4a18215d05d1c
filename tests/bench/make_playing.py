"""Play the invented workshop's new chanter before a microphone and store it: python -m tests.bench.make_playing.

The truth stays here: the bore is that of `make_demo`, the reed yields more and rings lower than the design's, the
piper holds each note within a cent and a half, and three drones sound.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import soundfile

from acoustics.physics.air import Air
from acoustics.pipes.design_file import read_design
from acoustics.tuning.chart import Row, TuningChart, tuning_chart
from tests.bench.make_demo import DESIGNS, truth
from tests.bench.synthetic import KEYNOTE_HZ, Note, Take, take

STORED = DESIGNS / "sallow-ford-1-playing.flac"
SOFTER, LOWER_HZ, TEMPERATURE_C = 0.04, 30.0, 19.0
HOLD_CENTS, HELD_S, SEED, RATE = 1.5, 0.5, 11, 10000
DRONE_CENTS = {0.25: 0.6, 0.5: -0.8, 1.0: 0.4}
PEAK = 0.025  # quiet, so that the file is small


def chart() -> TuningChart:
    """What the chanter really plays."""
    design = read_design(DESIGNS / "sallow-ford-1.toml")
    softer = replace(
        design.reed, softness=design.reed.softness + SOFTER, resonance_hz=design.reed.resonance_hz - LOWER_HZ
    )
    return tuning_chart(replace(design, bore=truth(), reed=softer), air=Air(TEMPERATURE_C))


def run() -> list[Row]:
    """Every note from the lowest up to the top; the D in the middle is the thumb's."""
    rows = [row for row in chart().rows if (row.note, row.octave, row.fingering.register) != ("D", 2, 2)]
    return sorted(rows, key=lambda row: row.target_hz)


def played() -> Take:
    """Up and down again over the drones, with a cut before every fourth note and vibrato on every fifth."""
    rng = np.random.default_rng(SEED)
    rows, notes = run(), [Note(0.0, 0.4)]
    for i, row in enumerate([*rows, *rows[-2::-1]]):
        hz = row.sounding_hz * 2.0 ** (rng.normal(0.0, HOLD_CENTS) / 1200.0)
        if i % 4 == 3:
            notes.append(Note(hz * 2.0 ** (3.0 / 12.0), 0.04))
        notes.append(Note(hz, HELD_S, 9.0 if i % 5 == 4 else 0.0))
    pitches = tuple(KEYNOTE_HZ * share * 2.0 ** (off / 1200.0) for share, off in DRONE_CENTS.items())
    return take([*notes, Note(0.0, 0.4)], SEED, RATE, pitches, drone_db=-8.0, noise_db=-42.0)


if __name__ == "__main__":
    soundfile.write(STORED, PEAK / 0.7 * played().samples, RATE, subtype="PCM_16")
    print(f"{STORED.name}: {STORED.stat().st_size / 1000:.0f} kB")
