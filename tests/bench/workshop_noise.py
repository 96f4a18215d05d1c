"""Recordings as a workshop makes them: a live room, a telephone, other sounds, a piper who plays music.

Each condition is a function of a seed and a length that gives what the file holds and what is true of it; all are
invented here.  Levels are against the chanter.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import numpy as np
import soundfile
from scipy.signal import butter, sosfilt

from tests.bench.synthetic import KEYNOTE_HZ, Note, Take, sung, take, talk, tune

RATE = 16000


@dataclass(frozen=True)
class Tape:
    """What goes into a file, samples (n,) or (n, channels), and the take it was made from."""

    take: Take
    samples: np.ndarray
    form: str = "PCM_16"

    def write(self, file) -> None:
        soundfile.write(file, self.samples, self.take.rate, subtype=self.form)


def drone_set(seed: int, apart_cents: float = 3.0) -> tuple[float, ...]:
    """Bass, baritone and tenor, each up to `apart_cents` out."""
    off = np.random.default_rng(seed).uniform(-apart_cents, apart_cents, 3)
    return tuple(float(hz) for hz in KEYNOTE_HZ * np.array([0.25, 0.5, 1.0]) * 2 ** (off / 1200.0))


def changed(notes, change) -> list[Note]:
    """Held notes as `change` makes them; the short ones stay."""
    return [change(note) if note.hz and note.seconds >= 0.4 else note for note in notes]


def recorded(
    seed, seconds, notes=None, rate=RATE, with_drones=True, apart_cents=3.0, after=None, form="PCM_16", **how
) -> Tape:
    """A tape of a tune over drones; `after` (samples, rate) -> samples is what the telephone makes of it."""
    pitches = drone_set(seed, apart_cents) if with_drones else ()
    played = take(notes or tune(seed, seconds), seed, rate, pitches, **how)
    return Tape(played, after(played.samples, rate) if after else played.samples, form)


def gained(samples: np.ndarray, rate: int, ratio: float = 4.0, release_s: float = 0.8) -> np.ndarray:
    """A telephone's automatic gain: down within 30 ms, up again within about a second."""
    out, level, loud = np.empty_like(samples), 0.0, np.abs(samples)
    down, up = np.exp(-1.0 / (0.03 * rate)), np.exp(-1.0 / (release_s * rate))
    gain = np.empty_like(samples)
    for i, now in enumerate(loud):
        keep = down if now > level else up
        level = keep * level + (1.0 - keep) * now
        gain[i] = level
    out = samples * (gain + 0.01) ** (1.0 / ratio - 1.0)
    return 0.8 * out / np.abs(out).max()


def squashed(samples: np.ndarray, rate: int, times: float = 4.0) -> np.ndarray:
    """Overdriven softly."""
    return 0.9 * np.tanh(times * samples)


def high_passed(samples: np.ndarray, rate: int, hz: float = 300.0) -> np.ndarray:
    """A small microphone that hears nothing low: 24 dB an octave."""
    out = sosfilt(butter(4, hz, "high", fs=rate, output="sos"), samples)
    return 0.7 * out / np.abs(out).max()


def two_channels(samples: np.ndarray, rate: int, second: float) -> np.ndarray:
    """The first channel a little later in the second, `second` times as strong."""
    return np.column_stack([samples, second * np.roll(samples, rate // 2000)])


def formant(hz: float, quality: float = 2.0):
    """A colour that peaks at `hz` and falls by 12 dB an octave to both sides: a weak fundamental."""
    return lambda f: (f / hz) ** 2 / np.hypot(1.0 - (f / hz) ** 2, f / hz / quality) / (1.0 + (f / hz) ** 2)


def no_fundamental(f):
    """Nothing at all below 590 Hz: the lower octave's fundamentals are missing."""
    return np.where(f < 590.0, 0.0, (f / 1200.0) / (1.0 + (f / 1300.0) ** 2) ** 2)


def _at(n: int, rate: int, rng, seconds: float, often: float):
    """Slices of `seconds` strewn over a recording, `often` in each second."""
    long = int(seconds * rate)
    return [slice(at, at + long) for at in rng.integers(0, n - long, int(often * n / rate))]


def breaths_and_clunks(samples, rate, spans, rng):
    """Bellows: a hiss of a second under the note, and a thump of 60 Hz that rings 80 ms, each some 6 dB down."""
    loud, out = np.std(samples), samples.copy()
    for part in _at(len(out), rate, rng, 1.0, 0.4):
        hiss = np.diff(rng.normal(size=rate + 1)) * np.sin(np.pi * np.arange(rate) / rate)
        out[part] += 0.35 * loud * hiss
    time = np.arange(int(0.3 * rate)) / rate
    for part in _at(len(out), rate, rng, 0.3, 0.8):
        out[part] += (
            2.0 * loud * np.exp(-time / 0.03) * (np.sin(2 * np.pi * 60.0 * time) + 0.5 * rng.normal(size=len(time)))
        )
    return out


def barks(samples, rate, spans, rng):
    """A dog: 150 ms of harmonics gliding about 500 Hz, as loud as the chanter, every two seconds."""
    loud, out = np.std(samples), samples.copy()
    time = np.arange(int(0.15 * rate)) / rate
    for part in _at(len(out), rate, rng, 0.15, 0.5):
        hz = rng.uniform(350.0, 700.0) * (1.0 + 0.4 * np.sin(np.pi * time / 0.15))
        phase = 2 * np.pi * np.cumsum(hz) / rate
        bark = sum(np.cos(k * phase + k) / k for k in range(1, 8)) + 0.5 * rng.normal(size=len(time))
        out[part] += 1.2 * loud * np.sin(np.pi * time / 0.15) * bark
    return out


def hum(samples, rate, spans, rng, db=-10.0):
    """Mains: 50, 100, 150 Hz and on to 450, together `db` against the chanter."""
    time = np.arange(len(samples)) / rate
    wave = sum(np.cos(2 * np.pi * 50.02 * k * time + rng.uniform(0, 6)) / k**0.5 for k in (1, 2, 3, 4, 5, 6, 9))
    return samples + 10 ** (db / 20) * np.std(samples) * wave / np.std(wave)


def spoken(samples, rate, spans, rng):
    """A voice says the note's name, 0.6 s, in the pauses of 0.8 s between the notes."""
    out, loud = samples.copy(), np.std(samples)
    for start, stop in spans:
        if (
            0.75 <= stop - start < 0.85
            and np.std(samples[int(start * rate) + 800 : int(stop * rate) - 800]) < 0.5 * loud
        ):
            word = talk(0.6, int(rng.integers(1 << 30)), rate, around_hz=float(rng.uniform(110.0, 240.0)))
            at = int((start + 0.1) * rate)
            out[at : at + len(word)] += 1.5 * loud * word / max(np.std(word), 1e-9) * 0.5
    return out


def chords(samples, rate, spans, rng, db=-6.0):
    """Regulators: two notes of a chord for a second and a half, in a third of the time."""
    out, loud = samples.copy(), np.std(samples)
    for part in _at(len(out), rate, rng, 1.5, 0.22):
        for step in rng.choice([[4, 7], [7, 11], [4, 9], [5, 9]]):
            hz = KEYNOTE_HZ * 2.0 ** (step / 12.0 + rng.normal(0.0, 6.0) / 1200.0)
            out[part] += 10 ** (db / 20) * loud * 0.7 * sung(Note(hz, 1.5), rate, rng)[: part.stop - part.start]
    return out


def wobbly(seed, seconds, fingers: bool, **how) -> Tape:
    rng = np.random.default_rng(seed)
    notes = changed(
        tune(seed, seconds),
        lambda n: replace(
            n,
            vibrato_cents=20.0 if not fingers else 10.0,
            vibrato_hz=float(rng.uniform(4.0, 7.0)),
            finger=fingers,
            seconds=n.seconds + 0.3,
        ),
    )
    return recorded(seed, seconds, notes, **how)


def slid(seed, seconds, **how) -> Tape:
    rng = np.random.default_rng(seed)
    return recorded(
        seed,
        seconds,
        changed(
            tune(seed, seconds),
            lambda n: replace(n, slide_cents=float(rng.uniform(30.0, 150.0)), seconds=n.seconds + 0.3),
        ),
        **how,
    )


def swelling(seed, seconds, **how) -> Tape:
    return recorded(
        seed,
        seconds,
        changed(tune(seed, seconds), lambda n: replace(n, rise_cents=5.0, seconds=n.seconds + 0.8)),
        **how,
    )


def staccato(seed, seconds, **how) -> Tape:
    """Held notes parted by silence and by runs of notes of 0.12 s with silences of 0.05 s."""
    rng = np.random.default_rng(seed)
    out = []
    for note in tune(seed, seconds):
        out.append(note)
        if note.hz and note.seconds >= 0.4:
            out.append(Note(0.0, 0.05))
            for step in rng.choice([0, 2, 4, 5, 7, 9, 11], 3):
                out += [Note(KEYNOTE_HZ * 2 ** (step / 12.0), 0.12), Note(0.0, 0.05)]
    return recorded(seed, seconds, out, **how)


def between(hz: float, share: float) -> float:
    """A pitch as far from the tempered scale as `share` of its distance."""
    steps = 12.0 * np.log2(hz / KEYNOTE_HZ)
    return KEYNOTE_HZ * 2.0 ** ((round(steps) + share * (steps - round(steps))) / 12.0)


def transposed(seed, seconds, off: float, **how) -> Tape:
    """The chanter `off` cents from where its drones are, its notes up to 15 cents about that."""
    notes = [replace(n, hz=n.hz and between(n.hz, 0.5) * 2 ** (off / 1200.0)) for n in tune(seed, seconds)]
    return recorded(seed, seconds, notes, **how)


def single_off(seed, seconds, **how) -> Tape:
    """Every fifth held note 45 cents from the tempered scale."""
    rng = np.random.default_rng(seed)

    def far(n):
        if rng.random() > 0.2:
            return n
        step = round(12 * np.log2(n.hz / KEYNOTE_HZ))
        return replace(n, hz=KEYNOTE_HZ * 2 ** (step / 12.0 + rng.choice([-45.0, 45.0]) / 1200.0))

    return recorded(seed, seconds, changed(tune(seed, seconds), far), **how)


def named_aloud(seed, seconds, **how) -> Tape:
    out = []
    for note in tune(seed, seconds):
        out.append(note)
        if note.hz and note.seconds >= 0.4:
            out.append(Note(0.0, 0.8))
    return recorded(seed, seconds, out, more=spoken, **how)


def everything(seed, seconds) -> Tape:
    """A telephone on the bench in a live room, the dog about."""

    def both(samples, rate, spans, rng):
        return hum(breaths_and_clunks(samples, rate, spans, rng), rate, spans, rng, -20.0)

    return recorded(
        seed,
        seconds,
        more=both,
        colour=formant(1400.0),
        rt60_s=0.6,
        wet_db=-6.0,
        drone_db=0.0,
        wander_cents=0.5,
        after=lambda s, r: squashed(gained(high_passed(s, r, 150.0), r), r, 1.5),
    )


CONDITIONS = {
    "plain": recorded,
    "room 0.3 s, 0 dB": partial(recorded, rt60_s=0.3, wet_db=0.0),
    "room 0.6 s, -6 dB": partial(recorded, rt60_s=0.6, wet_db=-6.0),
    "room 0.6 s, 0 dB": partial(recorded, rt60_s=0.6, wet_db=0.0),
    "room 1.2 s, 0 dB": partial(recorded, rt60_s=1.2, wet_db=0.0),
    "room 1.2 s, 0 dB, no drones": partial(recorded, rt60_s=1.2, wet_db=0.0, with_drones=False),
    "automatic gain": partial(recorded, after=gained),
    "soft clipping": partial(recorded, after=squashed),
    "8 bit, 16 kHz": partial(recorded, after=lambda s, r: 0.3 * s, form="PCM_U8"),
    "44.1 kHz": partial(recorded, rate=44100),
    "96 kHz": partial(recorded, rate=96000),
    "second channel at -30 dB": partial(recorded, after=partial(two_channels, second=0.03)),
    "second channel inverted": partial(recorded, after=partial(two_channels, second=-1.0)),
    "formant 1 kHz": partial(recorded, colour=formant(1000.0)),
    "formant 1.7 kHz": partial(recorded, colour=formant(1700.0)),
    "formant 2.5 kHz": partial(recorded, colour=formant(2500.0)),
    "high-pass 150 Hz": partial(recorded, after=partial(high_passed, hz=150.0)),
    "high-pass 300 Hz, formant 1.7 kHz": partial(recorded, after=high_passed, colour=formant(1700.0)),
    "no fundamental": partial(recorded, colour=no_fundamental),
    "no fundamental, no drones": partial(recorded, colour=no_fundamental, with_drones=False),
    "drones +6 dB": partial(recorded, drone_db=6.0),
    "drones drifting 3 cents": partial(recorded, wander_cents=3.0, wander_hz=(0.04, 0.06)),
    "drones +6 dB drifting 3 cents": partial(recorded, drone_db=6.0, wander_cents=3.0, wander_hz=(0.04, 0.06)),
    "drones 8 cents apart": partial(recorded, apart_cents=8.0),
    "regulators": partial(recorded, more=chords),
    "breaths and clunks": partial(recorded, more=breaths_and_clunks),
    "a voice between": named_aloud,
    "barks": partial(recorded, more=barks),
    "mains hum": partial(recorded, more=hum),
    "vibrato 20 cents": partial(wobbly, fingers=False),
    "finger's vibrato": partial(wobbly, fingers=True),
    "slides": slid,
    "swells of 5 cents": swelling,
    "staccato": staccato,
    "chanter 40 cents sharp": partial(transposed, off=40.0),
    "chanter 40 cents flat": partial(transposed, off=-40.0),
    "single notes 45 cents off": single_off,
    "all at once": everything,
}
OFFSETS = {"chanter 40 cents sharp": 40.0, "chanter 40 cents flat": -40.0}
