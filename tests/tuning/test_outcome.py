"""What is heard at the end of a sound: made-up sounds, and the demo's reed."""

import numpy as np
import pytest

from acoustics.physics.in_time import RATE
from acoustics.tuning.load import loads
from acoustics.tuning.outcome import as_tone, heard, settled
from acoustics.tuning.played import DEMO_VALVE
from acoustics.units import cents
from tests.tuning.bench import bench

TIME = np.arange(int(0.15 * RATE)) / RATE


def reedy(frequency, *sizes):
    return sum(1000.0 * size * np.cos(2 * np.pi * (i + 1) * frequency * TIME + i) for i, size in enumerate(sizes))


@pytest.mark.parametrize("frequency", [147.3, 293.7, 587.1, 1174.9, 1420.3])
@pytest.mark.parametrize("sizes", [(1.0,), (1.0, 0.7, 0.4), (0.3, 1.0, 0.2, 0.3), (0.05, 0.1, 1.0)])
def test_a_steady_sound_has_its_pitch(frequency, sizes):
    end = heard(reedy(frequency, *sizes))
    assert end.kind == "steady"
    assert abs(cents(end.frequency, frequency)) < 0.2


def test_overtones_alone_are_their_own_tone():
    """Second and fourth harmonic without first and third are a tone of the octave; a first of 5 % brings it down."""
    assert heard(reedy(300.0, 0.0, 1.0, 0.0, 0.3)).frequency == pytest.approx(600.0, rel=1e-4)
    assert heard(reedy(300.0, 0.15, 1.0, 0.0, 0.3)).frequency == pytest.approx(300.0, rel=1e-4)


def test_two_tones_and_a_swell_are_warbles():
    assert heard(reedy(300.0, 1.0, 0.5) + reedy(437.0, 0.7)).kind == "warble"
    assert heard((1.0 + 0.2 * np.sin(2 * np.pi * 9.0 * TIME)) * reedy(300.0, 1.0, 0.5)).kind == "warble"


def test_silence():
    assert heard(reedy(300.0, 0.02)).kind == "silent"
    assert heard(np.full_like(TIME, 800.0)).kind == "silent"


def test_as_tone_is_the_sound():
    tone = as_tone(reedy(421.7, 1.0, 0.5, 0.0, 0.2) + 30.0, 421.7, 3600.0, 6)
    np.testing.assert_allclose(np.abs(tone.pressure), [1000.0, 500.0, 0.0, 200.0, 0.0, 0.0], atol=1e-6)
    assert tone.pressure[0].imag == pytest.approx(0.0, abs=1e-9)
    wave = tone.waveform(512)
    assert wave.max() == pytest.approx(reedy(421.7, 1.0, 0.5, 0.0, 0.2).max(), rel=1e-3)


def test_from_rest_a_reed_speaks_or_does_not():
    """G of the demo at once at 3.6 kPa speaks its note; at 2 kPa it is silent."""
    row = next(row for row in bench().chart.rows if row.title == "G, first octave")
    load = loads(bench().pipe, [row.fingering.pattern], bench().air.gas)[0]
    (loud, tone), (soft, none) = settled([load] * 2, DEMO_VALVE, bench().air.gas, [3600.0, 2000.0], [None, None])
    assert loud.kind == "steady"
    assert abs(cents(loud.frequency, row.target_hz)) < 20.0
    assert tone.mouth_pressure == 3600.0
    assert soft.kind == "silent"
    assert none is None
