"""Sound files read whole or refused in one sentence, and notes named from what is in them."""

import numpy as np
import pytest
import soundfile
from scipy.signal import resample_poly

from acoustics.bench import recording as room
from acoustics.bench.heard import listen
from acoustics.bench.naming import name_note
from acoustics.bench.recording import Recording, read_recording
from acoustics.errors import Refusal
from acoustics.pipes.fingering import NOTES
from acoustics.tuning.scales import equal_scale, just_scale
from tests.bench.synthetic import KEYNOTE_HZ, talk
from tests.pipes.sample import assert_one_sentence

RATE = 48000
TONE = 0.3 * np.sin(2 * np.pi * 440.0 * np.arange(3 * RATE) / RATE)


def noisy(seconds: float, rate: int, seed: int = 0) -> np.ndarray:
    return 0.1 * np.random.default_rng(seed).normal(size=int(seconds * rate))


@pytest.mark.parametrize(("rate", "factor"), [(8000, 1), (11025, 1), (44100, 3), (48000, 4), (96000, 8)])
@pytest.mark.parametrize("form", ["wav", "flac"])
def test_reading_in_blocks_is_thinning_the_whole(tmp_path, monkeypatch, rate, factor, form):
    """Against scipy's resampling of the whole file at once, with blocks of a third of a second."""
    monkeypatch.setattr(room, "_BLOCK", 4000)
    file = tmp_path / f"noise.{form}"
    soundfile.write(file, noisy(1.7, rate), rate, subtype="PCM_16")
    whole, _ = soundfile.read(file)
    read = read_recording(file)
    assert read.rate == rate / factor
    assert read.samples == pytest.approx(resample_poly(whole, 1, factor), abs=1e-6)


def test_the_louder_channel_counts_or_the_one_asked_for(tmp_path):
    left, right = noisy(2.0, 12000, 1), 0.5 * noisy(2.0, 12000, 2)
    file = tmp_path / "two.wav"
    soundfile.write(file, np.column_stack([right, left]), 12000, subtype="FLOAT")
    assert read_recording(file).samples == pytest.approx(left, abs=1e-6)
    assert read_recording(file, channel=1).samples == pytest.approx(right, abs=1e-6)


def test_a_channel_of_hum_does_not_count(tmp_path):
    """A microphone that was not plugged in hears mains, louder than the other hears the pipe."""
    hum = 0.9 * np.sin(2 * np.pi * 50.0 * np.arange(len(TONE)) / RATE)
    file = tmp_path / "two.wav"
    soundfile.write(file, np.column_stack([hum, TONE]), RATE, subtype="FLOAT")
    assert read_recording(file).samples == pytest.approx(resample_poly(TONE, 1, 4), abs=1e-6)


def write(tmp_path, name: str, samples, rate: int = RATE, **how):
    file = tmp_path / name
    soundfile.write(file, samples, rate, **how)
    return file


def cut(file):
    file.write_bytes(file.read_bytes()[: file.stat().st_size // 2])
    return file


def renamed_mp3(tmp_path):
    return write(tmp_path, "tune.mp3", TONE).rename(tmp_path / "tune.wav")


def damaged(tmp_path):
    file = write(tmp_path, "hurt.flac", noisy(3.0, RATE))
    data = bytearray(file.read_bytes())
    half = len(data) // 2
    data[half : half + 3000] = bytes(3000)
    file.write_bytes(data)
    return file


def text(tmp_path):
    file = tmp_path / "notes.wav"
    file.write_text("note,octave,cents\nA,1,3\n")
    return file


def telephone(tmp_path):
    """The first bytes of ISO 14496-12: a box's length, then its name."""
    file = tmp_path / "memo.wav"
    file.write_bytes(b"\x00\x00\x00\x1cftypM4A \x00\x00\x00\x00" + bytes(4000))
    return file


def empty(tmp_path):
    file = tmp_path / "none.wav"
    file.write_bytes(b"")
    return file


WRONG = {
    "one channel silent": (lambda p: write(p, "s.wav", np.column_stack([TONE, 0 * TONE])), "channel 2 is silent"),
    "silence": (lambda p: write(p, "s.wav", 0 * TONE), "it is silent"),
    "mp3 renamed": (renamed_mp3, "inside it is MP3"),
    "m4a renamed": (telephone, "inside it is MPEG-4"),
    "ogg": (lambda p: write(p, "s.ogg", TONE), "inside it is OGG"),
    "empty": (empty, "it is empty"),
    "text": (text, "cannot be read as a sound"),
    "clipped": (lambda p: write(p, "s.flac", np.clip(6.0 * TONE, -1, 1)), "it is clipped"),
    "wav cut short": (lambda p: cut(write(p, "s.wav", TONE)), "breaks off"),
    "flac cut short": (lambda p: cut(write(p, "s.flac", TONE)), "cannot be read|breaks off"),
    "flac damaged": (damaged, "cannot be read as a sound"),
    "a blink": (lambda p: write(p, "s.wav", TONE[:2000]), "it lasts 0.0 seconds"),
    "half an hour": (lambda p: write(p, "s.flac", np.zeros(1800 * 8000), 8000), "it lasts 1800.0 seconds"),
    "three channels": (lambda p: write(p, "s.wav", np.column_stack([TONE] * 3)), "it has 3 channels"),
    "telephone": (lambda p: write(p, "s.wav", TONE, 6000), "6000 samples per second"),
    "not numbers": (lambda p: write(p, "s.wav", np.append(TONE, np.nan), subtype="FLOAT"), "not numbers"),
    "missing": (lambda p: p / "nothing.wav", "there is no such file"),
    "a folder": (lambda p: p, "it is a folder"),
    "a number": (lambda p: 3, "is not a file name"),
}


@pytest.mark.parametrize("name", WRONG)
def test_a_wrong_file_is_refused_in_one_sentence(tmp_path, name):
    make, said = WRONG[name]
    file = make(tmp_path)
    with pytest.raises(Refusal, match=said) as refusal:
        read_recording(file)
    assert_one_sentence(refusal.value, "file: " if name == "a number" else str(file))


def test_wrong_questions_are_refused(tmp_path):
    file = write(tmp_path, "tone.wav", TONE)
    read = read_recording(file)
    for ask, start, said in (
        (lambda: read_recording(file, channel=2), str(file), "there is no channel 2"),
        (lambda: listen(read, just_scale()), "tone.wav", "temperature is not given"),
        (lambda: listen(read, temperature_c=20.0), "tone.wav", "the A is not known"),
        (lambda: Recording("x", np.array([np.nan]), 12000.0), "x", "finite numbers"),
    ):
        with pytest.raises(Refusal, match=said) as refusal:
            ask()
        assert_one_sentence(refusal.value, start)


@pytest.mark.parametrize("around_hz", [130.0, 260.0])
def test_talk_is_no_tune(around_hz):
    with pytest.raises(Refusal, match="hardly a held note") as refusal:
        listen(Recording("talk.wav", talk(60.0, 3, around_hz=around_hz), 16000), just_scale(), 20.0)
    assert_one_sentence(refusal.value, "talk.wav")


@pytest.mark.parametrize("scale", [just_scale(), equal_scale(a_hz=450.0), just_scale(key="B-flat")])
def test_every_note_of_a_scale_keeps_its_name_35_cents_off(scale):
    places = [(note, octave) for octave in (1, 2) for note in NOTES] + [("D", 3)]
    for note, octave in places:
        for off in (-35.0, 0.0, 35.0):
            named = name_note(scale.frequency(note, octave) * 2 ** (off / 1200.0), scale)
            thumb = note == "D" and octave > 1
            assert named[:2] == ("back D" if thumb else note, octave)
            assert named[2] == pytest.approx(off)
    assert name_note(scale.frequency("D", 2), scale, thumb=False)[0] == "D"
    assert name_note(0.85 * scale.keynote_hz, scale) is None
    assert name_note(KEYNOTE_HZ * 6.0, just_scale()) is None
