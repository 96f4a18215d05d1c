"""Steady tones of a valve on a pipe: harmonic balance, followed along the pressure in the bag."""

from __future__ import annotations

import warnings
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass

import numpy as np
from scipy.linalg import LinAlgWarning, lu_factor, lu_solve

from .air import Gas
from .valve import Valve

HARMONICS, FINER = 12, 8
LOWEST_HZ = 40.0  # no admittance is asked for below
_START, _BEYOND = 1e-4, 0.05
_CLOSE, _SPENT = 1e-9, 1e-14
_FIRST, _LONGEST, _SHORTEST, _MOST = 0.01, 0.12, 1e-5, 400


@dataclass(frozen=True)
class Steady:
    """One periodic tone.

    Parameters
    ----------
    frequency : float
        [Hz]
    mouth_pressure : float
        In the bag [Pa].
    pressure : complex array (harmonics,)
        Behind the lips: p(t) = Re sum P_n exp(j n omega t) [Pa]; P_1 is real and positive.
    flow : complex array (harmonics,)
        Into the pipe, the same form [m3/s].
    cents_per_kpa : float
        How far the pitch moves with the pressure in the bag [cents/kPa].
    """

    frequency: float
    mouth_pressure: float
    pressure: np.ndarray
    flow: np.ndarray
    cents_per_kpa: float

    @property
    def centroid(self) -> float:
        """Mean frequency of the pressure spectrum behind the lips, weighted by amplitude [Hz]."""
        weight = np.abs(self.pressure)
        return float(self.frequency * (np.arange(1, len(weight) + 1) @ weight) / weight.sum())

    def waveform(self, points: int = 1024):
        """Pressure behind the lips over one period, array (points,) [Pa]."""
        turn = 2.0 * np.pi * np.outer(np.arange(points) / points, np.arange(1, len(self.pressure) + 1))
        return (np.exp(1j * turn) @ self.pressure).real


class Lost(Exception):
    """A branch of tones that could not be followed to the pressure asked for."""

    def __init__(self, why: str, reached: float):
        super().__init__(why, reached)
        self.why, self.reached = why, reached

    def __str__(self) -> str:
        return self.why


class Balance:
    """The balance of flows at the lips, harmonic by harmonic.

    The flow that the valve lets through at the pressure of the tone, transformed to harmonics (alternating
    between frequency and time), equals the admittance of the pipe times the harmonic's pressure.  Unknown
    are the pressures' real and imaginary parts in closing pressures, the logarithm of the frequency, which
    takes the place of the imaginary part of the first, and the pressure in the bag: x, array
    (2 harmonics + 1,).  The mean pressure behind the lips is 0: air flows steadily down the pipe unhindered.

    Parameters
    ----------
    admittance : callable
        frequency (n,) [Hz] -> what the lips see, and its slope over the logarithm of the frequency, two
        complex arrays (n,) [m3 Pa-1 s-1].
    valve : Valve
    gas : Gas
    harmonics : int
    samples : int
        Points of the period, for each harmonic, at which the valve is asked on the way along a branch; a
        tone that is handed out is settled with `FINER` times as many.

    References
    ----------
    J. Gilbert, J. Kergomard and E. Ngoya, J. Acoust. Soc. Am. 86, 35 (1989), from memory: harmonic
    balance of a valve without memory.  E. L. Allgower and K. Georg, *Numerical Continuation Methods*,
    Springer 1990: pseudo-arclength, from memory.
    """

    def __init__(self, admittance: Callable, valve: Valve, gas: Gas, harmonics: int = HARMONICS, samples: int = 24):
        self.admittance, self.valve, self.gas, self.harmonics = admittance, valve, gas, harmonics
        self.samples = samples
        self.number = np.arange(1, harmonics + 1)
        n = samples * harmonics
        turn = 2.0 * np.pi * np.outer(np.arange(n) / n, self.number)
        self.wave = np.stack([np.cos(turn), -np.sin(turn)], axis=2).reshape(n, -1)
        self.back = 2.0 / n * self.wave.T
        self.unit = valve.unit(gas) / valve.closing_pressure

    def parts(self, x):
        """Real and imaginary parts of the harmonics in turn, array (2 harmonics,) [pM]."""
        parts = x[:-1].copy()
        parts[1] = 0.0
        return parts

    def residual(self, x):
        """What is left over of the balance (2h,), and its slopes over x (2h, 2h + 1), in the valve's unit of flow."""
        parts = self.parts(x)
        flow, slope = self.valve.law(x[-1] - self.wave @ parts)
        seen, rise = self.admittance(self.number * np.exp(x[1]))
        seen, rise = seen / self.unit, rise / self.unit
        pressure = parts[::2] + 1j * parts[1::2]
        left = _pairs(seen * pressure) - self.back @ flow
        slopes = np.empty((len(left), len(x)))
        slopes[:, :-1] = self.back @ (slope[:, None] * self.wave)
        even, odd = np.arange(0, len(left), 2), np.arange(1, len(left), 2)
        slopes[even, even] += seen.real
        slopes[even, odd] -= seen.imag
        slopes[odd, even] += seen.imag
        slopes[odd, odd] += seen.real
        slopes[:, 1] = _pairs(rise * pressure)
        slopes[:, -1] = -(self.back @ slope)
        return left, slopes

    def solve(self, x, row, value: float, turns: int = 12):
        """Newton's method on the balance together with row @ x = value.

        Returns
        -------
        x, tangent, turns taken; or None where it does not settle.
        """
        x = x.copy()
        for turn in range(turns):
            left, slopes = self.residual(x)
            matrix = np.vstack([slopes, row])
            with warnings.catch_warnings():
                warnings.simplefilter("ignore", LinAlgWarning)  # of a singular matrix; its step is endless
                factors = lu_factor(matrix, check_finite=False)
            step = lu_solve(factors, np.append(left, row @ x - value), check_finite=False)
            longest = np.max(np.abs(step))
            if not longest < 1.0:
                return None
            x -= step
            if longest < _CLOSE or np.max(np.abs(left)) < _SPENT:
                tangent = lu_solve(factors, np.append(np.zeros(len(left)), 1.0), check_finite=False)
                return x, tangent, turn + 1
        return None

    def start(self, frequency: float, onset_pressure: float, amplitude: float = _START):
        """The tone of a first harmonic of `amplitude` pM near an onset: x and tangent, or None."""
        x = np.zeros(2 * self.harmonics + 1)
        x[0], x[1], x[-1] = amplitude, np.log(frequency), onset_pressure / self.valve.closing_pressure
        row = np.zeros_like(x)
        row[0] = 1.0
        solved = self.solve(x, row, amplitude)
        return solved and solved[:2]

    def along(self, frequency: float, onset_pressure: float):
        """Walk the branch that starts at an onset: yields x and its unit tangent, with growing arc.

        Raises `Lost` when the walk gets stuck.
        """
        begun = self.start(frequency, onset_pressure)
        if begun is None:
            raise Lost(f"no tone was found where it starts, at {onset_pressure / 1e3:.2f} kPa", onset_pressure)
        yield from self.walk(*begun)

    def walk(self, x, tangent):
        """Walk a branch from one of its tones the way of a tangent: yields x and its unit tangent.

        Raises `Lost` when the walk gets stuck.
        """
        tangent = tangent / np.linalg.norm(tangent)
        step = _FIRST
        yield x, tangent
        for _ in range(_MOST):
            guess = x + step * tangent
            solved = self.solve(guess, tangent, tangent @ guess)
            if solved is not None:
                new = solved[1] / np.linalg.norm(solved[1])
                if new @ tangent < 0.7:
                    solved = None
            if solved is None:
                step *= 0.4
                if step < _SHORTEST:
                    break
                continue
            x, tangent = solved[0], new
            yield x, tangent
            step = min(step * (1.6 if solved[2] <= 4 else 0.8 if solved[2] > 6 else 1.0), _LONGEST)
        raise Lost("its tones could not be followed further", x[-1] * self.valve.closing_pressure)

    def crossings(self, frequency: float, onset_pressure: float, mouth_pressure: float) -> list[Steady]:
        """Every tone at which the branch from an onset comes through a pressure, roughly; `again` settles it."""
        asked, before, found = mouth_pressure / self.valve.closing_pressure, None, []
        with suppress(Lost):
            for x, _ in self.along(frequency, onset_pressure):
                if x[0] <= 0.0:
                    break
                if before is not None and (before[-1] - asked) * (x[-1] - asked) < 0.0:
                    near = before + (x - before) * (asked - before[-1]) / (x[-1] - before[-1])
                    found.append(self.steady(np.append(near[:-1], asked)))
                before = x
        return found

    def unknowns(self, tone: Steady):
        """A tone with as many harmonics as x."""
        closing = self.valve.closing_pressure
        x = np.append(_pairs(tone.pressure) / closing, tone.mouth_pressure / closing)
        x[1] = np.log(tone.frequency)
        return x

    def point(self, tone: Steady):
        """A tone of this balance as x, and the tangent towards higher pressure, or None."""
        x, row = self.unknowns(tone), np.zeros(2 * self.harmonics + 1)
        row[-1] = 1.0
        solved = self.solve(x, row, x[-1])
        return solved and solved[:2]

    def between(self, before, after, share: float = 0.5):
        """The tone at a share of the way between two neighbours on a branch, as x, or None."""
        way = (after - before) / np.linalg.norm(after - before)
        guess = before + share * (after - before)
        solved = self.solve(guess, way, way @ guess)
        return solved and solved[0]

    def play(self, frequency: float, onset_pressure: float, mouth_pressure: float) -> Steady:
        """The tone at a pressure in the bag, reached from its onset with growing amplitude.

        Parameters
        ----------
        frequency, onset_pressure : float
            Where the still reed becomes unstable [Hz], [Pa].
        mouth_pressure : float
            [Pa]

        Returns
        -------
        Steady
            The first tone of the branch that is met at this pressure while the pressure rises: past the
            turning point where the branch starts backwards.

        Raises
        ------
        Lost
            With the last pressure reached; that of the onset where the pressure asked for is too low.
        """
        closing = self.valve.closing_pressure
        asked, onset = mouth_pressure / closing, onset_pressure / closing
        before, highest = None, 0.0
        for x, _ in self.along(frequency, onset_pressure):
            highest = max(highest, x[-1])
            if x[0] <= 0.0:
                raise Lost("it breaks into its octave", highest * closing)
            if before is not None and before[-1] < asked <= x[-1]:
                return self.at(before + (x - before) * (asked - before[-1]) / (x[-1] - before[-1]), asked)
            if asked < x[-1] and x[-1] > onset + _BEYOND:
                raise Lost(f"it starts only at {onset_pressure / 1e3:.2f} kPa", onset_pressure)
            before = x
        raise AssertionError("a branch ends only by being lost")

    def again(self, tone: Steady) -> Steady:
        """The tone of this balance at the same pressure in the bag, from a tone near it with as many harmonics."""
        x = self.unknowns(tone)
        return self.at(x, x[-1])

    def at(self, guess, asked: float) -> Steady:
        """The tone at exactly `asked` pM in the bag, from a guess of x near it."""
        row = np.zeros_like(guess)
        row[-1] = 1.0
        coarse = self.solve(guess, row, asked, 20)
        finer = Balance(self.admittance, self.valve, self.gas, self.harmonics, FINER * self.samples)
        solved = coarse and finer.solve(coarse[0], row, asked)
        if solved is None:
            raise Lost("the tone could not be settled", guess[-1] * self.valve.closing_pressure)
        return self.steady(*solved[:2])

    def steady(self, x, tangent=None) -> Steady:
        """A point of a branch as a tone; the slope of its pitch is nan without a tangent."""
        closing = self.valve.closing_pressure
        parts = self.parts(x)
        pressure = (parts[::2] + 1j * parts[1::2]) * closing
        frequency = float(np.exp(x[1]))
        flow = self.admittance(self.number * frequency)[0] * pressure
        slope = np.nan if tangent is None else tangent[1] / tangent[-1]
        per_kpa = float(1200.0 / np.log(2.0) * slope * 1e3 / closing)
        return Steady(frequency, float(x[-1] * closing), pressure, flow, per_kpa)


def _pairs(values):
    """Complex (n,) as real and imaginary parts in turn, (2n,)."""
    return np.stack([values.real, values.imag], axis=1).ravel()
