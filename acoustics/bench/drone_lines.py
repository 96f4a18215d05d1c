"""Drones behind a chanter: lines of the spectrum that never stop, found and taken out of a recording.

Drones hold one pitch for the whole recording, so a window of some seconds shows their overtones as lines a quarter
of a hertz wide, while no note of the chanter is there all the time.  The lines must be overtones of a keynote one,
two or no octaves below the chanter's.  Each overtone is then fitted window by window by least squares, with a phase
and strength that may bend (so that drones that beat slowly or wander are followed), and subtracted.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.fft import fft, fftshift, ifft, ifftshift, irfft, rfft
from scipy.ndimage import median_filter
from scipy.signal import find_peaks, get_window

from ..units import cents, from_cents

# Windows and thresholds are chosen here.
WINDOW_S = 4.0
_ALWAYS = 0.15  # a line is there in all but this share of the recording
_FLOOR_HZ = 20.0
_STANDS_OUT = 10.0 ** (12.0 / 10.0)
_FAR_CENTS = 100.0  # a drone may be out of tune by so much
_APART_CENTS = 10.0  # and drones may beat with one another by so much
_COMB = np.arange(1, 25)
_COMB_CENTS, _ENOUGH_DB, _LOWEST, _LEAST_SHARE = 3.0, 30.0, 12, 0.5
_LOOSE_HZ = 0.25
_MERGE_HZ = 0.4
_DEGREE = 3
_ROUNDS = 2
_AROUND_HZ = 10.0
_TOP_HZ = 5000.0


@dataclass(frozen=True)
class DroneLines:
    """What never stops in a recording.

    Parameters
    ----------
    octaves_below : int
        Of the deepest drone below the keynote: 2, 1 or 0.
    base_hz : float
        Its pitch.
    lines_hz : array (lines,)
        Every overtone of the drones that stands out of the noise, drones that beat apart [Hz].
    """

    octaves_below: int
    base_hz: float
    lines_hz: np.ndarray

    @property
    def keynote_hz(self) -> float:
        """The keynote that the deepest drone stands for [Hz]."""
        return self.base_hz * 2.0**self.octaves_below

    def nearest_cents(self, frequency: float) -> float:
        """From the nearest overtone of the drones to a frequency [cents]."""
        ladder = self.base_hz * np.arange(1, int(2.0 * frequency / self.base_hz) + 2)
        return float(min(cents(frequency, np.concatenate([ladder, self.lines_hz])), key=abs))


def _frames(samples: np.ndarray, rate: float) -> np.ndarray:
    """Overlapping windows, array (frames, n), without copying; the last ends with the recording."""
    n = int(WINDOW_S * rate)
    return np.lib.stride_tricks.sliding_window_view(samples, n)[:: n // 4]


def _standing(samples: np.ndarray, rate: float) -> tuple[np.ndarray, np.ndarray]:
    """Frequencies [Hz], and the power that is always there over the noise around it."""
    frames = _frames(samples, rate)
    window = get_window("hann", frames.shape[1]).astype(np.float32)
    n = 2 * len(window)
    power = np.array([np.abs(np.fft.rfft(frame * window, n)) ** 2 for frame in frames], np.float32)
    low = np.quantile(power, _ALWAYS, axis=0)
    floor = median_filter(low, int(_FLOOR_HZ * n / rate))
    return np.arange(len(low)) * rate / n, low / np.maximum(floor, np.finfo(np.float32).tiny)


def _peaks(frequency: np.ndarray, stands: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Frequency, by a parabola through the logarithms [Hz], and height [dB] of what stands out."""
    level = 10.0 * np.log10(np.maximum(stands, 1e-6))
    at, _ = find_peaks(level, height=10.0 * np.log10(_STANDS_OUT))
    left, top, right = level[at - 1], level[at], level[at + 1]
    offset = 0.5 * (left - right) / (left - 2.0 * top + right)
    return frequency[at] + offset * (frequency[1] - frequency[0]), top


def _comb(lines: np.ndarray, height: np.ndarray, near_hz: float) -> tuple[float, float]:
    """(fundamental, share of its lowest odd overtones found) of the best comb near a frequency."""
    trial = near_hz * from_cents(np.arange(-_FAR_CENTS, _FAR_CENTS, 0.25))
    wanted = trial[:, None] * _COMB
    at = np.clip(np.searchsorted(lines, wanted), 1, len(lines) - 1)
    at -= wanted - lines[at - 1] < lines[at] - wanted
    off = np.abs(cents(lines[at], wanted))
    found = off < _COMB_CENTS
    score = np.sum(found * (1.0 - (off / (2.0 * _COMB_CENTS)) ** 2) * np.minimum(height[at], _ENOUGH_DB), axis=1)
    best = int(np.argmax(score))
    return float(trial[best]), float(np.mean(found[best, :_LOWEST:2]))


def find_drones(samples: np.ndarray, rate: float, keynote_hz: float) -> DroneLines | None:
    """The drones that sound through a recording, or None when there are none.

    Parameters
    ----------
    samples : array (n,)
        One channel, at least two windows of `WINDOW_S` long for any to be found.
    rate : float
        Samples per second.
    keynote_hz : float
        The chanter's lowest note as meant, within 100 cents of what the drones agree on [Hz].
    """
    if len(samples) < 2 * WINDOW_S * rate:
        return None
    frequency, stands = _standing(samples, rate)
    below = frequency < _TOP_HZ
    lines, height = _peaks(frequency[below], stands[below])
    if len(lines) < 2:
        return None
    for octaves in (2, 1, 0):
        base, share = _comb(lines, height, keynote_hz / 2.0**octaves)
        if share >= _LEAST_SHARE:
            overtone = np.maximum(np.round(lines / base), 1.0)
            own = (overtone % 2 == 1) & (np.abs(cents(lines, overtone * base)) < _COMB_CENTS)
            base = float(overtone[own] @ lines[own] / (overtone[own] @ overtone[own]))
            near = np.abs(cents(lines, overtone * base)) < np.maximum(_APART_CENTS, cents(1.0 + _LOOSE_HZ / lines, 1.0))
            return DroneLines(octaves, base, lines[near])
    return None


def _bunches(drones: DroneLines, top_hz: float) -> list[np.ndarray]:
    """Lines that are fitted together: those of one overtone; of lines too close to tell apart their middle.

    Where none stands out, for it wanders or is faint, the overtone itself.
    """
    overtone = np.round(drones.lines_hz / drones.base_hz)
    out = []
    for number in range(1, int(top_hz / drones.base_hz)):
        bunch = drones.lines_hz[overtone == number]
        starts = np.flatnonzero(np.diff(bunch) > _MERGE_HZ) + 1
        parts = np.split(bunch, starts) if len(bunch) else [drones.base_hz * np.array([number])]
        out.append(np.array([part.mean() for part in parts]))
    return out


def _fitted(wave: np.ndarray, rate: float, lines: np.ndarray) -> np.ndarray:
    """What `lines` [Hz], each bending within every window, make of a complex wave, array (n,).

    Least squares, first with weights by how loud each moment is and then by what the first fit leaves: moments at
    which a note of the chanter lies over the line count little.
    """
    n = round(WINDOW_S * rate)
    last = len(wave) - n
    starts = np.append(np.arange(0, last, n // 4), last)
    frames = np.lib.stride_tricks.sliding_window_view(wave, n)[starts]
    window = np.tile(get_window("hann", n) + 1e-3, (len(starts), 1))
    window[0, : n // 2] = window[-1, n // 2 :] = 1.0  # flat towards the recording's ends
    time = (np.arange(n) - 0.5 * n) / rate
    bends = (2.0 * time / WINDOW_S)[:, None] ** np.arange(_DEGREE + 1)
    shapes = np.hstack([np.exp(2j * np.pi * line * time)[:, None] * bends for line in lines])
    left = np.abs(frames)
    for _ in range(_ROUNDS):
        usual = np.quantile(left, 0.3, axis=1, keepdims=True)
        weight = window / (1.0 + (left / np.maximum(usual, 1e-30)) ** 4)
        weighted = weight[:, :, None] * shapes
        found = np.linalg.solve(shapes.conj().T @ weighted, weighted.conj().transpose(0, 2, 1) @ frames[:, :, None])
        line = found[:, :, 0] @ shapes.T
        left = np.abs(frames - line)
    out, share = np.zeros(len(wave), complex), np.zeros(len(wave))
    for start, part, each in zip(starts, line * window, window, strict=True):
        out[start : start + n] += part
        share[start : start + n] += each
    return out / share


def without_drones(samples: np.ndarray, rate: float, drones: DroneLines) -> np.ndarray:
    """The recording with the lines of the drones taken out, array (n,).

    Each bunch of lines is fitted in the narrow band around it alone, shifted to 0 Hz.
    """
    spectrum = rfft(np.asarray(samples, float))
    step = rate / len(samples)
    for bunch in _bunches(drones, min(_TOP_HZ, 0.5 * rate - 2.0 * _AROUND_HZ)):
        middle, half = round(bunch.mean() / step), int((_AROUND_HZ + 0.5 * np.ptp(bunch)) / step)
        band = slice(middle - half, middle + half)
        wave = ifft(ifftshift(spectrum[band]))
        spectrum[band] -= fftshift(fft(_fitted(wave, 2 * half * step, bunch - middle * step)))
    return irfft(spectrum, len(samples))
