"""Invented recordings of a chanter over drones, whose true pitches are known; knows nothing of the tracker.

A note is a sum of overtones under the formant of a double reed: a weak fundamental, strongest near 1.2 kHz, then
falling (the shape after E. Meyer and G. Buchmann 1931 as told for the oboe; the numbers from memory).  Phases are
random, overtones swell independently, notes start a little flat and run into each other.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.signal import fftconvolve

KEYNOTE_HZ = 440.0 * 2.0 ** (-7.0 / 12.0)
SLIDE_S = 0.15


@dataclass(frozen=True)
class Note:
    """What is played: a pitch [Hz] (0 is silence), how long, how it wavers.

    A finger's vibrato goes down from the pitch only; `rise_cents` is how far the bag's pressure drives it up from
    start to end, `slide_cents` from how far below it is slid into within `SLIDE_S`.
    """

    hz: float
    seconds: float
    vibrato_cents: float = 0.0
    vibrato_hz: float = 5.5
    level: float = 1.0
    finger: bool = False
    rise_cents: float = 0.0
    slide_cents: float = 0.0

    @property
    def mean_hz(self) -> float:
        """Averaged over the vibrato and from start to end, what it slides in from apart."""
        return self.hz * 2.0 ** (-self.vibrato_cents * self.finger / 1200.0)


def _pitch(note: Note, time: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Frequency along a note; it starts flat by some cents and comes up within a few hundredths of a second."""
    wave = note.vibrato_cents * (np.sin(2 * np.pi * (note.vibrato_hz * time + rng.random())) - note.finger)
    start = -rng.uniform(0.0, 25.0) * np.exp(-time / 0.02) + note.rise_cents * (time / note.seconds - 0.5)
    slide = -note.slide_cents * np.clip(1.0 - time / SLIDE_S, 0.0, 1.0)
    return note.hz * 2.0 ** ((wave + start + slide) / 1200.0)


def colour(frequency: np.ndarray) -> np.ndarray:
    """Amplitude of an overtone at its frequency."""
    return (0.25 + (frequency / 1200.0) ** 2) / (1.0 + (frequency / 1300.0) ** 2) ** 2.2


def _fade(n: int, rate: int) -> np.ndarray:
    """Rises and falls within 12 ms, less for a very short note."""
    edge = max(2, min(int(0.012 * rate), n // 3))
    shape = np.ones(n)
    ramp = 0.5 - 0.5 * np.cos(np.pi * (np.arange(edge) + 0.5) / edge)
    shape[:edge] *= ramp
    shape[-edge:] *= ramp[::-1]
    return shape


def sung(note: Note, rate: int, rng: np.random.Generator, colour=colour) -> np.ndarray:
    """Samples of one note alone; `colour` is the amplitude of an overtone at its frequency [Hz]."""
    n = round(note.seconds * rate)
    if note.hz == 0.0:
        return np.zeros(n)
    time = np.arange(n) / rate
    phase = 2 * np.pi * np.cumsum(_pitch(note, time, rng)) / rate
    out = np.zeros(n)
    for k in range(1, int(min(8000.0, 0.45 * rate) / note.hz) + 1):
        swell = 1.0 + 0.15 * np.sin(2 * np.pi * (rng.uniform(0.3, 2.0) * time + rng.random()))
        strength = colour(np.array(k * note.hz)) * 10.0 ** (rng.normal(0.0, 3.0) / 20.0)
        out += strength * swell * np.cos(k * phase + 2 * np.pi * rng.random())
    return note.level * out * _fade(n, rate) / np.sqrt(np.mean(out**2))


def melody(notes, rate: int, rng: np.random.Generator, colour=colour) -> tuple[np.ndarray, list[tuple[float, float]]]:
    """Notes one after another, and when each starts and ends [s]."""
    pieces, spans, at = [], [], 0
    for note in notes:
        pieces.append(sung(note, rate, rng, colour))
        spans.append((at / rate, (at + len(pieces[-1])) / rate))
        at += len(pieces[-1])
    return np.concatenate(pieces), spans


def drones(
    pitches_hz, n: int, rate: int, rng: np.random.Generator, wander_cents: float = 0.2, wander_hz=(0.02, 0.06)
) -> np.ndarray:
    """Drones with many overtones, each steady but for a slow wander of pitch and strength; root mean square 1."""
    time = np.arange(n) / rate
    out = np.zeros(n)
    for hz in pitches_hz:
        drift = wander_cents * np.sin(2 * np.pi * (rng.uniform(*wander_hz) * time + rng.random()))
        phase = 2 * np.pi * np.cumsum(hz * 2.0 ** (drift / 1200.0)) / rate
        one = np.zeros(n)
        for k in range(1, int(min(6000.0, 0.45 * rate) / hz) + 1):
            swell = 1.0 + 0.05 * np.sin(2 * np.pi * (rng.uniform(0.02, 0.1) * time + rng.random()))
            strength = k**-0.9 * 10.0 ** (rng.normal(0.0, 4.0) / 20.0)
            one += strength * swell * np.cos(k * phase + 2 * np.pi * rng.random())
        out += one / np.sqrt(np.mean(one**2))
    return out / np.sqrt(np.mean(out**2))


def room(samples: np.ndarray, rate: int, rng: np.random.Generator, rt60_s: float = 0.4, wet_db: float = -12.0):
    """The same in a small room: a diffuse tail that dies away by 60 dB in `rt60_s`."""
    tail = rng.normal(size=int(rt60_s * rate)) * 10.0 ** (-3.0 * np.arange(int(rt60_s * rate)) / (rt60_s * rate))
    tail *= 10.0 ** (wet_db / 20.0) / np.sqrt(np.sum(tail**2))
    tail[: int(0.004 * rate)] = 0.0
    return samples + fftconvolve(samples, tail)[: len(samples)]


@dataclass(frozen=True)
class Take:
    """A recording and what is true of it: samples (n,), the notes, their spans [s], the drones [Hz]."""

    samples: np.ndarray
    rate: int
    notes: tuple[Note, ...]
    spans: tuple[tuple[float, float], ...]
    drones_hz: tuple[float, ...]

    @property
    def steady(self) -> list[tuple[Note, float, float]]:
        """Notes held for 0.4 s or more, with their spans."""
        return [(n, *s) for n, s in zip(self.notes, self.spans, strict=True) if n.hz and n.seconds >= 0.4]


def take(
    notes,
    seed: int,
    rate: int = 48000,
    drones_hz=(),
    drone_db: float = -6.0,
    noise_db: float = -20.0,
    wet_db: float = -12.0,
    wander_cents: float = 0.2,
    wander_hz=(0.02, 0.06),
    rt60_s: float = 0.4,
    colour=colour,
    more=None,
) -> Take:
    """Notes over drones in a room, with noise; levels in dB against the chanter, of the noise against everything.

    `more` (samples, rate, spans, rng) -> samples adds what else sounds in the room.  The peak is 0.7 of full scale.
    """
    rng = np.random.default_rng(seed)
    out, spans = melody(notes, rate, rng, colour)
    if drones_hz:
        loud = np.sqrt(np.mean(out[out != 0.0] ** 2)) if np.any(out) else 1.0
        out = out + 10.0 ** (drone_db / 20.0) * loud * drones(drones_hz, len(out), rate, rng, wander_cents, wander_hz)
    if more:
        out = more(out, rate, spans, rng)
    out = room(out, rate, rng, rt60_s, wet_db)
    out = out + 10.0 ** (noise_db / 20.0) * np.sqrt(np.mean(out**2)) * rng.normal(size=len(out))
    return Take(0.7 * out / np.max(np.abs(out)), rate, tuple(notes), tuple(spans), tuple(drones_hz))


def tune(seed: int, seconds: float, keynote_hz: float = KEYNOTE_HZ) -> list[Note]:
    """Steady notes anywhere in two octaves and a note, up to 30 cents out of tune, with cuts and taps between.

    Nearly a third have vibrato; ornaments are notes of 30 to 60 ms.
    """
    rng = np.random.default_rng(seed)
    notes, at, step = [Note(0.0, 0.5)], 0.5, 0
    while at < seconds - 1.5:
        step = int(rng.choice([other for other in range(25) if other != step]))
        hz = keynote_hz * 2.0 ** (step / 12.0 + rng.uniform(-30.0, 30.0) / 1200.0)
        if rng.random() < 0.5:  # a cut from above or a tap from below, sometimes two as in a roll
            for turn in rng.choice([2.0, 3.0, 4.0, -2.0], size=int(rng.integers(1, 3))):
                notes.append(Note(hz * 2.0 ** (turn / 12.0), float(rng.uniform(0.03, 0.06))))
                notes.append(Note(hz, float(rng.uniform(0.05, 0.09))))
        wide = float(rng.uniform(5.0, 25.0)) if rng.random() < 0.3 else 0.0
        notes.append(Note(hz, float(rng.uniform(0.4, 1.3)), wide, float(rng.uniform(4.5, 6.5)), rng.uniform(0.6, 1.0)))
        if rng.random() < 0.2:
            notes.append(Note(0.0, float(rng.uniform(0.05, 0.2))))
        at = sum(note.seconds for note in notes)
    return [*notes, Note(0.0, 0.5)]


def talk(seconds: float, seed: int, rate: int = 16000, around_hz: float = 170.0) -> np.ndarray:
    """Something like speech: syllables of buzz under wandering formants, its pitch gliding, hisses, pauses."""
    rng = np.random.default_rng(seed)
    pieces: list[np.ndarray] = []
    while sum(map(len, pieces)) < seconds * rate:
        n = int(rng.uniform(0.08, 0.35) * rate)
        time = np.arange(n) / rate
        ends = around_hz * 2.0 ** rng.uniform(-0.5, 0.5, size=2)
        pitch = np.linspace(*ends, n) * (1.0 + 0.01 * np.cumsum(rng.normal(size=n)) / np.sqrt(rate))
        phase = 2 * np.pi * np.cumsum(pitch) / rate
        formants = rng.uniform((300, 900, 2200), (800, 2000, 3000))
        voice = np.zeros(n)
        for k in range(1, int(4000 / ends.max())):
            strength = sum(1.0 / (1.0 + ((k * ends.mean() - f) / 80.0) ** 2) for f in formants) / k
            voice += strength * np.cos(k * phase)
        hiss = rng.normal(size=int(rng.uniform(0.03, 0.12) * rate)) * 0.1
        pieces += [
            voice * np.abs(np.sin(np.pi * time / time[-1])) ** 0.5,
            hiss,
            np.zeros(int(rng.exponential(0.1) * rate)),
        ]
    out = np.concatenate(pieces)[: int(seconds * rate)]
    out = out + 0.003 * rng.normal(size=len(out))
    return 0.7 * out / np.max(np.abs(out))
