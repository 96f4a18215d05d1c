"""Which pitch sounds when, and a held note's pitch to a fraction of a cent.

Written on the signal tools of scipy.  A well-kept pitch library was tried first, librosa 0.11 (its YIN and pYIN, on
recordings of `tests/bench/synthetic.py`): with the drones left in it missed 5 to 7 of 64 held notes by an octave or
more, with the drones taken out as here still 2 to 3, and its pitch was 1 to 2 cents off; and it brings a compiler
along, more than 200 MB.  Here the octave is told by all overtones at once, and the pitch by their phases.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.signal import ShortTimeFFT, get_window

from ..units import cents, from_cents

# Windows, grids and thresholds are chosen here.
LOWEST_HZ, HIGHEST_HZ = 200.0, 2000.0
STEP_S = 0.01
_WINDOW_S = 0.08
_GRID_CENTS = 10.0
_TOP_HZ = 4500.0
_OVERTONES = 10
_CHUNK = 2000
_VOICED = 0.2
_JUMP_CENTS, _WIDE_CENTS = 30.0, 40.0
ONSET_S, END_S, LEAST_S = 0.08, 0.05, 0.2
_FINE_S, _FINE_STEP_S, _FINE_TOP_HZ = 0.04, 0.005, 3500.0
_LEAST_PHASE, _LEAST_CENTS = 1e-3, 0.05
_LEAST_TURNS, _VIBRATO_LEAVES = 1.1, 0.4


def _kernel(trial: np.ndarray, frequency: np.ndarray) -> np.ndarray:
    """What the root of a spectrum is multiplied with, array (trials, bins): + at overtones, - halfway between them.

    The weights, 1/sqrt(number) on the root of the spectrum, after A. Camacho and J. G. Harris, JASA 124, 1638 (2008),
    from memory.
    """
    number = np.arange(1, 2 * _OVERTONES + 1) / 2.0
    at = trial[:, None] * number / (frequency[1] - frequency[0])
    weight = np.where(at < len(frequency) - 1, np.where(number % 1.0, -1.0, 1.0) / np.sqrt(np.ceil(number)), 0.0)
    kernel = np.zeros((len(trial), len(frequency)))
    low = np.where(weight, np.floor(at), 0).astype(int)
    row = np.arange(len(trial))[:, None]
    np.add.at(kernel, (row, low), weight * (1.0 - at + low))
    np.add.at(kernel, (row, low + 1), weight * (at - low))
    return kernel / np.sqrt(0.5 * np.sum(weight**2, axis=1, keepdims=True))


def track(samples: np.ndarray, rate: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Pitch every `STEP_S`.

    Parameters
    ----------
    samples : array (n,)
        One channel, the chanter alone but for noise.
    rate : float
        Samples per second, at least 8000.

    Returns
    -------
    time [s], pitch [Hz] on a grid of 10 cents, strength (1 is a harmonic tone and nothing else) : arrays (frames,)
    """
    window = get_window("hann", int(_WINDOW_S * rate))
    size = 2 ** int(np.ceil(np.log2(2 * len(window))))
    stft = ShortTimeFFT(window, max(1, round(STEP_S * rate)), rate, mfft=size, scale_to="magnitude")
    count = stft.p_max(len(samples))
    keep = stft.f <= _TOP_HZ
    trial = LOWEST_HZ * from_cents(np.arange(0.0, cents(HIGHEST_HZ, LOWEST_HZ), _GRID_CENTS))
    kernel = _kernel(trial, stft.f[keep])
    best, strength = np.zeros(count, int), np.zeros(count)
    for start in range(0, count, _CHUNK):
        part = slice(start, min(start + _CHUNK, count))
        root = np.sqrt(np.abs(stft.stft(samples, p0=part.start, p1=part.stop)[keep]))
        salience = kernel @ root
        best[part] = np.argmax(salience, axis=0)
        strength[part] = salience.max(axis=0) / np.maximum(np.linalg.norm(root, axis=0), 1e-30)
    return stft.t(len(samples), p0=0, p1=count), trial[best], strength


def held(samples: np.ndarray, rate: float) -> list[tuple[float, float, float]]:
    """Stretches of one pitch: start and end [s] of the steady part, and its middle pitch [Hz].

    A jump ends a stretch; onset and end are left off.  What is then shorter than `LEAST_S` (cuts, taps, rolls), or
    glides as talk does, is left out.
    """
    time, pitch, strength = track(samples, rate)
    jump = np.abs(cents(pitch[1:], pitch[:-1])) > _JUMP_CENTS
    edges = np.flatnonzero(jump | (np.minimum(strength[1:], strength[:-1]) < _VOICED)) + 1
    out = []
    for part in np.split(np.arange(len(pitch)), edges):
        start, stop = time[part[0]] + ONSET_S, time[part[-1]] - END_S
        if stop - start < LEAST_S - 1e-9:
            continue
        steady = cents(pitch[part[(time[part] >= start) & (time[part] <= stop)]], np.median(pitch[part]))
        if np.abs(steady).max() <= _WIDE_CENTS:
            out.append((float(start), float(stop), float(np.median(pitch[part]))))
    return out


@dataclass(frozen=True)
class Pitch:
    """Pitch of a held note.

    Parameters
    ----------
    hz, error_cents : float
        Mean pitch and one standard deviation of it.
    vibrato_cents, vibrato_hz : float
        How far it wavers to each side, and how fast; 0 where no vibrato stands out.
    """

    hz: float
    error_cents: float
    vibrato_cents: float
    vibrato_hz: float


def _phases(samples, rate, frequency) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Time [s], phase of each overtone over its number, against a steady tone [rad] and mean amplitudes."""
    n, step = int(_FINE_S * rate), max(1, int(_FINE_STEP_S * rate))
    frames = np.lib.stride_tricks.sliding_window_view(samples, n)[::step]
    number = np.arange(1, max(2, min(_OVERTONES, int(_FINE_TOP_HZ / frequency))) + 1)
    omega = 2.0 * np.pi * frequency * number
    shape = get_window("hann", n)[:, None] * np.exp(-1j * np.outer(np.arange(n) / rate, omega))
    time = np.arange(len(frames)) * step / rate
    wave = (frames @ shape) * np.exp(-1j * np.outer(time, omega))
    return time, np.unwrap(np.angle(wave), axis=0) / number, np.sqrt(np.mean(np.abs(wave) ** 2, axis=0)) * number


def _line(time: np.ndarray, phase: np.ndarray, waver_hz: float = 0.0) -> tuple[np.ndarray, np.ndarray, float]:
    """Least squares: coefficients (constant, slope, and those of a vibrato), what is left, variance of the slope."""
    columns = [np.ones_like(time), time - time.mean()]
    if waver_hz:
        columns += [np.cos(2.0 * np.pi * waver_hz * time), np.sin(2.0 * np.pi * waver_hz * time)]
    matrix = np.column_stack(columns)
    inverse = np.linalg.inv(matrix.T @ matrix)
    found = inverse @ matrix.T @ phase
    return found, phase - matrix @ found, float(inverse[1, 1])


def refine(samples: np.ndarray, rate: float, near_hz: float) -> Pitch:
    """Pitch of a held note from the phases of its overtones.

    Parameters
    ----------
    samples : array (n,)
        The steady part alone.
    rate : float
    near_hz : float
        Within 30 cents.

    Returns
    -------
    Pitch

    Notes
    -----
    Each overtone is shifted to 0 Hz and smoothed; its phase over its number is the note's phase, whose slope is the
    pitch.  Overtones count as their phases agree with the common one, so those that a drone or another disturbs
    count little, and what they disagree by is the error.  Vibrato is fitted with the slope.
    """
    time, phase, amplitude = _phases(samples, rate, near_hz)
    weight = amplitude**2
    for _ in range(3):
        common = phase @ weight / weight.sum()
        apart = phase - common[:, None]
        apart -= apart.mean(axis=0)
        weight = 1.0 / (np.mean(apart**2, axis=0) + _LEAST_PHASE**2)
    slope = _line(time, apart)[0][1]
    between = np.sum(weight * slope**2) / weight.sum() / max(1, len(weight) - 1)
    found, left, spread = _line(time, common)
    waver = 0.0
    rates = np.arange(3.0, 9.1, 0.25)
    rates = rates[rates * time[-1] >= _LEAST_TURNS]
    if len(rates):
        fits = [_line(time, common, hz) for hz in rates]
        best = int(np.argmin([np.sum(fit[1] ** 2) for fit in fits]))
        if np.sum(fits[best][1] ** 2) < _VIBRATO_LEAVES * np.sum(left**2):
            waver, (found, left, spread) = float(rates[best]), fits[best]
    own = spread * np.mean(left**2) * _FINE_S / _FINE_STEP_S
    hz = near_hz + found[1] / (2.0 * np.pi)
    error = np.sqrt(between + own) / (2.0 * np.pi)
    wide = np.hypot(*found[2:]) * waver if waver else 0.0
    to_cents = float(cents(hz + 1.0, hz))
    return Pitch(float(hz), float(np.hypot(error * to_cents, _LEAST_CENTS)), float(wide * to_cents), waver)
