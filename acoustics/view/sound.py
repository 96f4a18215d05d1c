"""Samples as a sound that the browser can play."""

from __future__ import annotations

import io
import wave

import numpy as np

from ..tuning.setup import Setup
from ..tuning.tone import RATE, drone, overtones, tone

WHAT_IT_IS = (
    "The sound is a steady tone on the computed resonance; its overtones are as strong as the air column "
    "favours them. It lets you hear pitch and beats. It is not the sound of a reed: no attack, no bag, no room."
)


def wav(samples, rate: int = RATE) -> bytes:
    """Samples between -1 and 1 as a WAV file, 16 bit, one channel."""
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate)
        file.writeframes((np.clip(samples, -1.0, 1.0) * 32000.0).astype("<i2").tobytes())
    return out.getvalue()


def note_sound(setup: Setup, index: int, against_drone: bool = False) -> bytes:
    """Row `index` of a setup's chart as a WAV file, alone or with a drone on the keynote."""
    return wav(_samples(setup, index, against_drone))


def before_and_after(before: Setup, after: Setup, index: int, against_drone: bool = False) -> bytes:
    """The same note of two setups, one after the other."""
    pause = np.zeros(RATE // 5)
    parts = [(_samples(setup, index, against_drone), pause) for setup in (before, after)]
    return wav(np.concatenate([samples for part in parts for samples in part]))


def silence() -> bytes:
    """A WAV file with nothing to hear."""
    return wav(np.zeros(RATE // 20))


def _samples(setup: Setup, index: int, against_drone: bool) -> np.ndarray:
    samples = 0.8 * tone(*overtones(setup, setup.chart.rows[index]))
    return 0.5 * samples + 0.4 * tone(*drone(setup.scale.keynote_hz)) if against_drone else samples
