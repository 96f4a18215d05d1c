"""Play the invented workshop's new chanter before a microphone and store it: python -m tests.bench.make_playing.

The truth stays here: the bore is that of `make_demo`, the reed yields more and rings lower than the design's, each
note is blown as on page 08 and pulled off its resonance by reed and overtones, the piper holds it within a cent and a
half, and three drones sound.  A note that does not last at its pressure is not played.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import soundfile

from acoustics.physics.air import Air
from acoustics.pipes.design_file import read_design
from acoustics.tuning.played import DEMO_VALVE, PRESSURE_FIRST, PRESSURE_SECOND, PlayedRow
from acoustics.tuning.pull import Played
from acoustics.tuning.setup import Setup
from tests.bench.make_demo import DESIGNS, truth
from tests.bench.synthetic import KEYNOTE_HZ, Note, Take, take

STORED = DESIGNS / "sallow-ford-1-playing.flac"
SOFTER, LOWER_HZ, TEMPERATURE_C = 0.04, 30.0, 19.0
BLOWN = Played(DEMO_VALVE, PRESSURE_FIRST, PRESSURE_SECOND)
HOLD_CENTS, HELD_S, SEED, RATE = 1.5, 0.5, 11, 10000
DRONE_CENTS = {0.25: 0.6, 0.5: -0.8, 1.0: 0.4}
PEAK = 0.025  # quiet, so that the file is small


def really(stiffer: float = 0.0) -> Setup:
    """The chanter with its true bore and reed, the reed stiffer by so much."""
    design = read_design(DESIGNS / "sallow-ford-1.toml")
    reed = design.reed
    reed = replace(reed, softness=reed.softness + SOFTER - stiffer, resonance_hz=reed.resonance_hz - LOWER_HZ)
    return Setup(replace(design, bore=truth(), reed=reed), Air(TEMPERATURE_C))


@cache
def run() -> tuple[PlayedRow, ...]:
    """Every note that lasts, from the lowest up to the top; the D in the middle is the thumb's."""
    rows = really().chart.rows
    chosen = [i for i, row in enumerate(rows) if (row.note, row.octave, row.fingering.register) != ("D", 2, 2)]
    heard = [one for one in BLOWN.heard(really(), chosen) if one.lasts]
    return tuple(sorted(heard, key=lambda one: one.row.target_hz))


def played() -> Take:
    """Up and down again over the drones, with a cut before every fourth note and vibrato on every fifth."""
    rng = np.random.default_rng(SEED)
    rows, notes = run(), [Note(0.0, 0.4)]
    for i, row in enumerate([*rows, *rows[-2::-1]]):
        hz = row.tone.frequency * 2.0 ** (rng.normal(0.0, HOLD_CENTS) / 1200.0)
        if i % 4 == 3:
            notes.append(Note(hz * 2.0 ** (3.0 / 12.0), 0.04))
        notes.append(Note(hz, HELD_S, 9.0 if i % 5 == 4 else 0.0))
    pitches = tuple(KEYNOTE_HZ * share * 2.0 ** (off / 1200.0) for share, off in DRONE_CENTS.items())
    return take([*notes, Note(0.0, 0.4)], SEED, RATE, pitches, drone_db=-8.0, noise_db=-42.0)


if __name__ == "__main__":
    soundfile.write(STORED, PEAK / 0.7 * played().samples, RATE, subtype="PCM_16")
    print(f"{STORED.name}: {STORED.stat().st_size / 1000:.0f} kB")
