"""A note as sound: its spectrum, its loudness, its beats against a drone."""

from dataclasses import replace

import numpy as np
import pytest

from acoustics.errors import Refusal
from acoustics.physics.network import input_impedance
from acoustics.physics.reeds import wall_compliance
from acoustics.pipes.fingering import TIGHT, Fingering
from acoustics.tuning.chart import Row
from acoustics.tuning.resonances import Mode
from acoustics.tuning.scales import just_scale
from acoustics.tuning.tone import RATE, beats_per_second, drone, overtones, tone
from tests.pipes.sample import assert_one_sentence
from tests.references import kirchhoff
from tests.tuning.bench import bench, demo

ROWS = bench().chart.rows
KEYNOTE = just_scale().keynote_hz


def spectrum(samples):
    """Frequencies and amplitudes of the peaks of the sound, by a Hann window [Hz], one bin apart."""
    window = np.hanning(len(samples))
    size = np.abs(np.fft.rfft(samples * window)) / window.sum() * 2
    frequency = np.fft.rfftfreq(len(samples), 1 / RATE)
    peak = np.flatnonzero((size[1:-1] > size[:-2]) & (size[1:-1] >= size[2:]) & (size[1:-1] > 1e-3)) + 1
    return frequency[peak], size[peak], frequency[1]


@pytest.mark.parametrize("i", [0, 7, 11, 18, 25])
def test_spectrum(i):
    """FFT of two seconds: peaks at whole multiples of the resonance within a bin, as strong as asked, none besides."""
    frequency, amplitude = overtones(bench(), ROWS[i])
    found, size, width = spectrum(tone(frequency, amplitude, 2.0))
    loud = amplitude > 3e-3
    assert loud.sum() >= 2
    near = np.argmin(np.abs(found[:, None] - frequency[loud]), axis=0)
    np.testing.assert_array_less(np.abs(found[near] - frequency[loud]), width)
    # the window's own fall between two bins is up to 15 %
    np.testing.assert_allclose(size[near], amplitude[loud], rtol=0.2)
    apart = np.abs(found[:, None] / ROWS[i].sounding_hz - np.arange(1, 40)).min(axis=1) * ROWS[i].sounding_hz
    assert np.all(apart < 2 * width)


@pytest.mark.parametrize("i", range(0, len(ROWS), 5))
def test_overtones_are_as_strong_as_the_impedance_at_the_lips(i):
    """|Z at the lips| / n: the head as a lossy line (Zwikker and Kosten), blades added, `input_impedance` below it."""
    row, reed, gas = ROWS[i], demo().reed, bench().air.gas
    frequency, amplitude = overtones(bench(), row)
    number = np.arange(1, len(frequency) + 1)
    np.testing.assert_allclose(frequency, number * row.sounding_hz, rtol=1e-14)
    assert frequency[-1] <= 6000.0 < frequency[-1] + row.sounding_hz
    eye = input_impedance(demo(), frequency, row.fingering.open_holes, row.fingering.foot, gas)
    area, length = reed.area_mm2 * 1e-6, reed.length_mm * 1e-3
    own = kirchhoff.Gas(gas.density, gas.sound_speed, gas.viscosity, gas.heat_capacity_ratio, gas.prandtl)
    z, y = kirchhoff.per_length(np.sqrt(area / np.pi), frequency, own)
    y = y + 2j * np.pi * frequency * area / (gas.density * gas.sound_speed**2) * wall_compliance(reed, frequency)
    tanh, wave = np.tanh(np.sqrt(z * y) * length), np.sqrt(z / y)
    at_lips = (eye + wave * tanh) / (1.0 + eye / wave * tanh)
    want = np.abs(at_lips) / number
    np.testing.assert_allclose(amplitude, want / want.sum(), rtol=1e-8)


def test_overtones_of_the_octave_are_the_even_ones():
    """One spectrum: what an overtone is does not hang on which note it is counted from."""
    for row in (ROWS[0], ROWS[14], ROWS[25]):
        amplitude = overtones(bench(), row)[1]
        doubled = overtones(bench(), replace(row, mode=replace(row.mode, frequency=2 * row.sounding_hz)))[1]
        assert amplitude.sum() == pytest.approx(1.0, rel=1e-12)
        # the overtones of the octave are the even ones of the note, each with half the number
        even = amplitude[1::2][: len(doubled)] * 2
        np.testing.assert_allclose(doubled[: len(even)] / doubled[0], even / even[0], rtol=1e-9)


def test_nothing_to_hear_where_nothing_sounds():
    silent = replace(ROWS[3], mode=None)
    with pytest.raises(Refusal) as refused:
        overtones(bench(), silent)
    assert_one_sentence(refused.value, "note: nothing sounds near F in octave 1")


@pytest.mark.parametrize("seconds", [0.5, 1.2])
def test_loudness_and_fades(seconds):
    """Never above 1; silent at both ends, half as loud after 20 ms, steady from 40 ms on."""
    samples = tone(np.array([500.0]), np.array([1.0]), seconds)
    assert len(samples) == int(seconds * RATE)
    assert np.abs(samples).max() <= 1.0
    assert np.abs(samples).max() > 0.999
    assert samples[0] == 0.0
    assert abs(samples[-1]) < 2e-3
    cycle = RATE // 500 + 1
    for start, loud in ((0.02, 0.5), (0.06, 1.0), (seconds - 0.06, 1.0), (seconds - 0.02, 0.5)):
        at = round(start * RATE)
        assert np.abs(samples[at - cycle // 2 : at + cycle // 2 + 1]).max() == pytest.approx(loud, abs=0.04)


@pytest.mark.parametrize("i", range(len(ROWS)))
def test_every_note_stays_below_one(i):
    assert np.abs(tone(*overtones(bench(), ROWS[i]), 0.3)).max() <= 1.0


@pytest.mark.parametrize("octaves_below", [0, 1, 2])
def test_drone(octaves_below):
    frequency, amplitude = drone(293.0, octaves_below)
    np.testing.assert_allclose(frequency, 293.0 / 2**octaves_below * np.arange(1, 13))
    np.testing.assert_allclose(amplitude / amplitude[0], 1 / np.arange(1, 13))
    assert amplitude.sum() == pytest.approx(1.0)
    found, _, width = spectrum(tone(frequency, amplitude, 2.0))
    np.testing.assert_allclose(found, frequency, atol=width)


# Beats


def row(note: str, octave: int, off_hz: float) -> Row:
    """A row that sounds `off_hz` above its just target."""
    target = just_scale().frequency(note, octave)
    return Row(Fingering(note, octave), target, Mode(target + off_hz, 1.0, 20.0, 0.0), (), ())


@pytest.mark.parametrize(
    ("note", "octave", "mine", "drones"),
    [
        ("D", 1, 1, 1),  # unison
        ("D", 2, 1, 2),  # octave
        ("A", 1, 2, 3),  # fifth 3/2
        ("G", 1, 3, 4),  # fourth 4/3
        ("F#", 1, 4, 5),  # third 5/4
        ("F", 1, 5, 6),  # minor third 6/5
        ("B", 1, 3, 5),  # sixth 5/3
        ("E", 1, 8, 9),  # tone 9/8
        ("E", 2, 4, 9),  # tone 9/4
        ("C", 1, 5, 9),  # seventh 9/5
        ("C#", 1, 8, 15),  # seventh 15/8
        ("Bb", 1, 5, 8),  # minor sixth 8/5
        ("Eb", 1, 15, 16),  # semitone 16/15
    ],
)
@pytest.mark.parametrize("off", [0.0, 0.7, -1.3])
def test_beats_by_hand(note, octave, mine, drones, off):
    """The lowest overtones that meet are the ratio's own numbers; they beat by that many times the error in Hz."""
    beats, own, other = beats_per_second(row(note, octave, off), KEYNOTE)
    assert (own, other) == (mine, drones)
    assert beats == pytest.approx(mine * abs(off), abs=1e-9)


def test_a_drone_that_is_off():
    """Drone 0.5 Hz sharp: a fifth 0.2 Hz sharp beats at |2 * 0.2 - 3 * 0.5| a second."""
    assert beats_per_second(row("A", 1, 0.2), KEYNOTE, KEYNOTE + 0.5) == (pytest.approx(1.1), 2, 3)


def test_no_overtone_meets():
    """45/32 has none up to 16; a ninth has none up to 7, and one at 8."""
    assert beats_per_second(row("G#", 1, 0.0), KEYNOTE) is None
    assert beats_per_second(row("E", 1, 0.1), KEYNOTE, highest=7) is None
    assert beats_per_second(row("E", 1, 0.1), KEYNOTE, highest=8) == (pytest.approx(0.8), 8, 9)


@pytest.mark.parametrize(("note", "octave", "off"), [("D", 2, 2.0), ("A", 1, 1.5), ("G", 1, -1.0), ("F#", 1, 0.75)])
def test_beats_can_be_heard_in_the_sum(note, octave, off):
    """Note and drone added, the two overtones that meet cut out by an FFT: their envelope beats as often as said."""
    mine = row(note, octave, off)
    beats, own, other = beats_per_second(mine, KEYNOTE)
    number = np.arange(1, 9)
    seconds = 4.0
    both = 0.5 * tone(number * mine.sounding_hz, np.full(8, 0.125), seconds) + 0.5 * tone(*drone(KEYNOTE), seconds)
    middle = both[RATE // 2 : int((seconds - 0.5) * RATE)]
    size = np.fft.fft(middle * np.hanning(len(middle)))
    frequency = np.fft.fftfreq(len(middle), 1 / RATE)
    meeting = own * mine.target_hz
    assert meeting == pytest.approx(other * KEYNOTE, rel=1e-9)
    size[np.abs(frequency - meeting) > 60.0] = 0.0
    envelope = np.abs(2 * np.fft.ifft(size)) ** 2
    fluctuation = np.abs(np.fft.rfft((envelope - envelope.mean()), 16 * len(envelope)))
    rate = np.fft.rfftfreq(16 * len(envelope), 1 / RATE)
    heard = rate > 1.2
    assert rate[heard][np.argmax(fluctuation[heard])] == pytest.approx(beats, abs=0.15)


def test_every_sounding_row_of_the_chart_has_a_beat_but_the_tritone():
    none = {r.note for r in ROWS if beats_per_second(r, KEYNOTE) is None}
    assert none == {"G#"}
    assert len(ROWS) == len(TIGHT)
