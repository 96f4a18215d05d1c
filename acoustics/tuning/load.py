"""What the lips of the reed see at all overtones of a tone, ready to be asked thousands of times."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline

from ..physics.air import Gas
from ..physics.balance import LOWEST_HZ
from ..physics.in_time import fade
from ..physics.network import at_eye, column, states
from ..physics.reeds import head
from ..physics.twoport import apply
from ..pipes.path import Pipe
from ..units import MM

FADE_HZ, HIGHEST_HZ = 9000.0, 12000.0
STEP_HZ, FINE = 10.0, 5
_NUDGE = 1e-5


@dataclass(frozen=True)
class Load:
    """Admittance at the lips under one fingering, at any frequency from `LOWEST_HZ` up, nan below.

    Called with frequencies (n,) [Hz] it gives the admittance and its slope over the logarithm of the
    frequency, complex arrays (n,) [m3 Pa-1 s-1].

    Parameters
    ----------
    table : CubicSpline
        Frequency [Hz] -> pressure and flow at the lips, up to a factor, (n, 2).
    endless : float
        Admittance above `HIGHEST_HZ` [m3 Pa-1 s-1].
    """

    table: CubicSpline
    endless: float

    def __call__(self, frequency):
        inside = np.minimum(frequency, HIGHEST_HZ)
        pressure, flow = self.table(inside).T
        pressure_rise, flow_rise = self.table(inside, 1).T
        seen = flow / pressure
        rise = frequency * (flow_rise - seen * pressure_rise) / pressure
        above, below = frequency >= HIGHEST_HZ, frequency < LOWEST_HZ
        seen, rise = np.where(above, self.endless, seen), np.where(above, 0.0, rise)
        return np.where(below, np.nan, seen), np.where(below, np.nan, rise)


def loads(pipe: Pipe, patterns, gas: Gas) -> list[Load]:
    """What the lips see of a pipe under each of a list of (open_holes, foot) patterns.

    Notes
    -----
    Pressure and flow are calculated every `STEP_HZ` and joined by cubic splines; the head, whose blades
    resonate sharply, is set before them every `STEP_HZ` / `FINE`.  From `FADE_HZ` to `HIGHEST_HZ`, where
    plane waves and the formulas of the open end run out, the admittance fades into that of a head without
    end, S / (rho c): overtones above leave the reed and do not come back.
    """
    built = column(pipe)
    chosen = states(built, patterns)
    coarse = np.arange(LOWEST_HZ, HIGHEST_HZ + 0.5 * STEP_HZ, STEP_HZ)
    parts = np.array_split(coarse, 12)
    eye = np.concatenate([at_eye(built, chosen, part, gas) for part in parts], axis=2)
    fine = np.linspace(LOWEST_HZ, HIGHEST_HZ, FINE * (len(coarse) - 1) + 1)
    eye = CubicSpline(coarse, eye, axis=2)(fine)
    pressure, flow = apply(head(pipe.head, fine, gas)[:, :, None], eye)
    endless, kept = _endless(pipe, gas), _kept(fine)
    flow = kept * flow + (1.0 - kept) * endless * pressure
    both = np.stack([pressure, flow], axis=2)
    return [Load(CubicSpline(fine, one), endless) for one in both]


def direct(pipe: Pipe, pattern, gas: Gas):
    """What the lips see under one pattern, calculated anew at every frequency: a slower `Load`."""
    built = column(pipe)
    chosen, endless = states(built, [pattern]), _endless(pipe, gas)

    def seen(frequency):
        kept = _kept(frequency)
        eye = at_eye(built, chosen, frequency, gas)[:, 0]
        pressure, flow = apply(head(pipe.head, frequency, gas), eye)
        return kept * flow / pressure + (1.0 - kept) * endless

    def seen_and_rise(frequency):
        below, above = (seen(frequency * (1.0 + step)) for step in (-_NUDGE, _NUDGE))
        return seen(frequency), (above - below) / (2.0 * _NUDGE)

    return seen_and_rise


def _endless(pipe: Pipe, gas: Gas) -> float:
    return pipe.head.area_mm2 * MM**2 / (gas.density * gas.sound_speed)


def _kept(frequency):
    """Share of the pipe's own admittance that is left by the fade, 1 to 0."""
    return fade((frequency - FADE_HZ) / (HIGHEST_HZ - FADE_HZ))
