"""What a reed in the time domain ends in: a steady tone and its pitch, a warble, or silence."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.signal import resample

from ..physics.air import Gas
from ..physics.balance import HARMONICS, Steady
from ..physics.in_time import RATE, echoes, sounding
from ..physics.valve import Valve

SECONDS, LISTEN = 0.5, 0.15
LOWEST_HZ, HIGHEST_HZ = 120.0, 3000.0
SILENT_PA, UNEVEN, SWINGING = 40.0, 0.01, 0.05
_FINER = 8


@dataclass(frozen=True)
class Heard:
    """The last stretch of a sound.

    Parameters
    ----------
    kind : str
        "steady", "warble" or "silent".
    frequency : float
        Of a steady tone, or the nearest to a period that a warble has [Hz]; nan where silent.
    rms : float
        Root mean square of the pressure behind the lips [Pa].
    unevenness : float
        How much of its power changes from one period to the next, 0 to 1.
    swing : float
        Loudest over softest period, less 1.
    """

    kind: str
    frequency: float
    rms: float
    unevenness: float
    swing: float


def heard(pressure, rate: int = RATE) -> Heard:
    """Listen to a stretch of sound.

    Parameters
    ----------
    pressure : array (n,)
        0.05 to 0.5 s of it [Pa].

    Notes
    -----
    Silent below 40 Pa.  Steady where less than 1 % of the power changes from a period to the next and the
    loudest period is at most 5 % louder than the softest.  The period is the shortest shift, of 1/3000 to
    1/120 s, that leaves the sound within twice the least change that any shift leaves, or within half a percent.
    """
    pressure = np.asarray(pressure, float)
    pressure = pressure - pressure.mean()
    rms = float(np.sqrt(np.mean(pressure**2)))
    if rms < SILENT_PA:
        return Heard("silent", float("nan"), rms, 1.0, float("inf"))
    lag, changed = _changes(pressure, rate)
    least = changed.min()
    first = int(np.flatnonzero(changed <= max(2.0 * least, 0.5 * UNEVEN))[0])
    while first + 1 < len(changed) and changed[first + 1] <= changed[first]:
        first += 1
    swing = _swing(pressure, max(round(lag[first] * rate), 1))
    kind = "steady" if changed[first] < UNEVEN and swing < SWINGING else "warble"
    return Heard(kind, _refined(pressure, 1.0 / lag[first], rate), rms, float(changed[first]), swing)


def _swing(pressure, period: int) -> float:
    """Loudest over softest stretch of one period, less 1."""
    power = np.convolve(pressure**2, np.full(period, 1.0 / period), "valid")
    return float(np.sqrt(power.max() / power.min()) - 1.0)


def _changes(pressure, rate: int):
    """Shifts [s], and the share of the power that changes under each."""
    fine = resample(pressure, _FINER * len(pressure))[_FINER * 20 : -_FINER * 20]
    n = len(fine)
    lag = np.arange(int(_FINER * rate / HIGHEST_HZ), int(_FINER * rate / LOWEST_HZ))
    spectrum = np.fft.rfft(fine, 2 * n)
    together = np.fft.irfft(np.abs(spectrum) ** 2)[lag]
    power = np.concatenate([[0.0], np.cumsum(fine**2)])
    both = power[n - lag] + power[n] - power[lag]
    return lag / (_FINER * rate), np.maximum(1.0 - 2.0 * together / both, 0.0)


def _refined(pressure, frequency: float, rate: int) -> float:
    """A frequency near the guess, from the phase that its strongest overtone gains from first half to second."""
    half = len(pressure) // 2
    time, window = np.arange(2 * half) / rate, np.hanning(half)
    best = (0.0, frequency)
    for number in (1, 2, 3):
        comb = pressure[: 2 * half] * np.exp(-2j * np.pi * number * frequency * time)
        early, late = np.sum(window * comb[:half]), np.sum(window * comb[half:])
        gained = np.angle(late / early) / (2.0 * np.pi * half / rate)
        best = max(best, (abs(late), frequency + gained / number))
    return float(best[1])


def settled(
    seen, valve: Valve, gas: Gas, mouth, tones=None, harmonics: int = HARMONICS, seconds: float = SECONDS, rises=0.0
):
    """Start each of several reeds on a tone and wait.

    Parameters
    ----------
    seen : sequence of Load, one for each reed
    mouth : array (reeds,)
        Pressures in the bags [Pa].
    tones : sequence of Steady or None, optional
        What each sounds at first; None starts from rest, with the pressure there at once.
    harmonics : int
        Of the tones that are handed out.
    seconds : float
        How long to wait, 0.3 or more [s].
    rises : float or array (reeds,)
        In which time the pressure comes up from nothing; 0 for at once [s].

    Returns
    -------
    list of (Heard, Steady): the last `LISTEN` seconds, and as a steady tone, None where it is none
    """
    pipes = [echoes(load, load.endless) for load in seen]
    mouth, rises = np.broadcast_arrays(np.asarray(mouth, float), np.maximum(rises, 1.0 / RATE))
    time = np.arange(1, int(seconds * RATE) + 1) / RATE
    bag = mouth[:, None] * np.minimum(time / rises[:, None], 1.0)
    sound = sounding(pipes, valve, gas, bag, tones)[:, -int(LISTEN * RATE) :]
    listened = [heard(one) for one in sound]
    return [
        (end, as_tone(one, end.frequency, p, harmonics) if end.kind == "steady" else None)
        for end, one, p in zip(listened, sound, mouth, strict=True)
    ]


def as_tone(pressure, frequency: float, mouth_pressure: float, harmonics: int) -> Steady:
    """A steady sound as harmonics, by least squares; its flow and the slope of its pitch are not known."""
    number = np.arange(1, harmonics + 1)
    turn = 2.0 * np.pi * frequency / RATE * np.outer(np.arange(len(pressure)), number)
    columns = np.concatenate([np.cos(turn), -np.sin(turn), np.ones((len(turn), 1))], axis=1)
    real, imag = np.linalg.lstsq(columns, pressure, rcond=None)[0][:-1].reshape(2, -1)
    parts = real + 1j * imag
    parts *= np.exp(-1j * number * np.angle(parts[0]))
    return Steady(frequency, float(mouth_pressure), parts, np.full(harmonics, np.nan + 0j), float("nan"))
