"""A note as a sound: overtones that the air column favours, on the frequency of its resonance."""

from __future__ import annotations

import numpy as np

from ..errors import Refusal
from ..physics.network import input_impedance
from ..physics.reeds import head
from ..physics.twoport import apply
from .chart import Row
from .setup import Setup

RATE = 22050
_HIGHEST_HZ = 6000.0


def overtones(setup: Setup, row: Row):
    """Frequencies and relative pressure amplitudes at the lips of a note's overtones.

    Parameters
    ----------
    setup : Setup
    row : Row
        A row of the setup's chart that sounds.

    Returns
    -------
    frequency, amplitude : arrays (overtones,)
        Whole multiples of the resonance up to 6 kHz [Hz], and amplitudes that add up to 1.

    Notes
    -----
    As if the reed let air in by short equal puffs whose overtones fall off as 1/n: each overtone is
    then as strong as the impedance at the lips is high.  Not a calculation of the reed's own motion.
    """
    if row.mode is None:
        raise Refusal(f"nothing sounds near {row.note} in octave {row.octave}", "a sounding note is needed", "note")
    number = np.arange(1, int(_HIGHEST_HZ / row.sounding_hz) + 1)
    frequency = number * row.sounding_hz
    fingering, gas = row.fingering, setup.air.gas
    eye = input_impedance(setup.pipe, frequency, fingering.open_holes, fingering.foot, gas)
    pressure, flow = apply(head(setup.pipe.head, frequency, gas), np.array([eye, np.ones_like(eye)]))
    amplitude = np.abs(pressure / flow) / number
    return frequency, amplitude / amplitude.sum()


def tone(frequency, amplitude, seconds: float = 1.2, rate: int = RATE):
    """Samples of a steady tone that fades in and out, array (n,), at most 1.

    Parameters
    ----------
    frequency, amplitude : arrays (overtones,)
        [Hz], and amplitudes that add up to at most 1.
    seconds : float
    rate : int
        Samples per second.
    """
    time = np.arange(int(seconds * rate)) / rate
    phase = 2.0 * np.pi * np.outer(frequency, time) + np.arange(len(frequency))[:, None]
    fade = np.minimum(1.0, np.minimum(time, seconds - time) / 0.04)
    return fade * (np.asarray(amplitude) @ np.sin(phase))


def drone(keynote_hz: float, octaves_below: int = 0):
    """Overtones of a drone on the keynote or octaves below it: amplitudes as 1/n, 12 of them.

    Common practice, no source: a reedy steady sound to hear beats against, not a model of a drone.
    """
    number = np.arange(1, 13)
    amplitude = 1.0 / number
    return number * keynote_hz / 2.0**octaves_below, amplitude / amplitude.sum()


def beats_per_second(
    row: Row, keynote_hz: float, drone_hz: float | None = None, highest: int = 16
) -> tuple[float, int, int] | None:
    """Beat between the lowest overtones of a note and of a drone that ought to fall together.

    Parameters
    ----------
    row : Row
    keynote_hz : float
        Keynote of the scale that gave the row its target [Hz].
    drone_hz : float, optional
        What the drone really sounds, the keynote when None [Hz].

    Returns
    -------
    (beats per second, the note's overtone, the drone's overtone), or None
        None where no overtone up to `highest` of the note's target meets one of the drone's.
    """
    drone_hz = keynote_hz if drone_hz is None else drone_hz
    drones = np.arange(1, 4 * highest + 1)
    for number in range(1, highest + 1):
        ratio = number * row.target_hz / keynote_hz
        nearest = drones[np.argmin(np.abs(drones - ratio))]
        if abs(ratio / nearest - 1.0) < 1e-3:
            return abs(float(number * row.sounding_hz - nearest * drone_hz)), number, int(nearest)
    return None
