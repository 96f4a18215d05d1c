"""Does a steady tone last?  How many small disturbances of it grow."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .balance import LOWEST_HZ, Steady
from .valve import Valve

GROWTH = 2.0  # 1/s
POINTS, SAMPLES = 240, 1024


def growing(tone: Steady, admittance: Callable, valve: Valve, gas) -> int:
    """How many disturbances of a tone grow faster than `GROWTH`: 0 is a tone that lasts.

    Parameters
    ----------
    tone : Steady
    admittance : callable
        As for `Balance`; asked from `LOWEST_HZ` up, below which the pipe's impedance is taken as proportional to
        the frequency.
    valve : Valve
    gas : Gas

    Returns
    -------
    int
        A pair of complex growth rates counts as two.

    Notes
    -----
    A disturbance p_n exp((j n omega + s) t) of the harmonics n = -N..N meets a valve whose conductance goes
    with the tone: (1 + Z(j n omega + s) G) p = 0 with G_nm the harmonic n - m of the conductance.  Z has no
    poles at the right, so the zeros of the determinant at the right of Re s = `GROWTH` are counted by how
    often it winds round 0 as Im s goes through one omega (Nyquist); the half that is walked through is the
    mirror image of the other.  Z beside the imaginary axis is taken from its slope.  The phase of the tone is
    free, a zero at s = 0, which `GROWTH` leaves out.  Growth slower than that would take seconds to be heard.

    References
    ----------
    N. M. Wereley, *Analysis and Control of Linear Periodically Time Varying Systems*, thesis, MIT 1991,
    from memory (harmonic transfer functions and their Nyquist criterion).
    """
    top = len(tone.pressure)
    turn = 2.0 * np.pi * np.outer(np.arange(SAMPLES) / SAMPLES, np.arange(1, top + 1))
    pressure = (np.exp(1j * turn) @ tone.pressure).real
    slope = np.fft.fft(valve.conductance(tone.mouth_pressure - pressure, gas)) / SAMPLES
    number = np.arange(-top, top + 1)
    meets = slope[number[:, None] - number]
    beside = np.linspace(0.0, 0.5, POINTS + 1)[:, None] * tone.frequency
    seen = _impedance(admittance, (number * tone.frequency + beside).ravel()).reshape(POINTS + 1, -1)
    sign, _ = np.linalg.slogdet(np.eye(len(number)) + seen[:, :, None] * meets)
    return -int(np.round(np.sum(np.angle(sign[1:] / sign[:-1])) / np.pi))


def _impedance(admittance: Callable, frequency):
    """What the lips see at j 2 pi f + `GROWTH`, for frequencies of either sign (n,)."""
    size = np.maximum(np.abs(frequency), LOWEST_HZ)
    seen, rise = admittance(size)
    impedance = 1.0 / (seen - 1j * GROWTH / (2.0 * np.pi * size) * rise)
    impedance = np.where(frequency < 0.0, impedance.conj(), impedance)
    low = np.abs(frequency) < LOWEST_HZ
    straight = impedance.imag * np.abs(frequency) / LOWEST_HZ
    return np.where(low, 1j * straight, impedance)
