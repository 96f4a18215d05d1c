"""Where bore and reed together sound: the modes of each fingering, seen from the lips."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import log2

import numpy as np

from ..errors import check_kind
from ..physics.air import Air, Gas, as_air
from ..physics.network import column, eye_spectrum, states
from ..physics.reeds import head
from ..physics.spectral import Direct, Spectrum
from ..physics.twoport import apply
from ..pipes.fingering import Fingering
from ..pipes.path import Pipe, check_pipe
from ..pipes.reed import HIGHEST_HZ, Reed
from ..units import cents, from_cents
from .scales import Scale, scale_for

SCAN_CENTS, FINER = 20.0, 20
NEAR_CENTS = 500.0
STRONG = 0.25
CLOSE = 1e-7
_NUDGE = 1e-5


@dataclass(frozen=True)
class Mode:
    """One resonance of a fingering.

    Parameters
    ----------
    frequency : float
        [Hz]
    strength : float
        Real part of the impedance at the lips there [Pa s m-3]: how well it feeds the reed.
    quality : float
        Q: frequency over the width of the resonance.
    blade_cents : float
        How far it moves when the blades' resonance rises by 1 % [cents].
    """

    frequency: float
    strength: float
    quality: float
    blade_cents: float


@dataclass(frozen=True)
class Modes:
    """The modes of one fingering.

    Parameters
    ----------
    first, second : Mode or None
        The strong mode nearest to the first-octave target, and the one nearest to twice `first`; None where
        there is none within a fourth.
    stray : tuple of Mode
        The others within a fourth of either: what makes a note gurgle or refuse to jump.
    """

    first: Mode | None
    second: Mode | None
    stray: tuple[Mode, ...]


@dataclass(frozen=True)
class Lips:
    """What the lips of the reed see of a pipe over a band, under each of a list of patterns."""

    eye: Spectrum | Direct
    reed: Reed
    gas: Gas

    def from_eye(self, eye, frequency, reed: Reed):
        """Admittance at the lips from (p, U) at the eye (2, ..., f), with a reed of one's own."""
        pressure, flow = apply(head(reed, frequency, self.gas)[:, :, None], eye)
        return flow / pressure

    def pressure(self, eye, frequency):
        """Pressure at the lips from (p, U) at the eye, arrays (2, f) and (f,)."""
        return apply(head(self.reed, frequency, self.gas), eye)[0]

    def admittance(self, frequency):
        """Admittance at the lips, (patterns, f) [m3 Pa-1 s-1]."""
        return self.from_eye(self.eye.at(frequency).reshape(2, -1, len(frequency)), frequency, self.reed)

    def around(self, frequency, pattern):
        """At one frequency and pattern each: admittance, its slope over ln(frequency), and its change for
        blades 1 % higher, all (f,); from blades 1 % lower where higher ones are no reed."""
        n = len(frequency)
        two = np.concatenate([frequency * (1.0 - _NUDGE), frequency * (1.0 + _NUDGE)])
        eye = self.eye.at(two).reshape(2, -1, 2 * n)[:, np.tile(pattern, 2), np.arange(2 * n)][:, None]
        by = 0.01 if self.reed.resonance_hz * 1.01 <= HIGHEST_HZ else -0.01
        moved = replace(self.reed, resonance_hz=self.reed.resonance_hz * (1.0 + by))
        below, above = self.from_eye(eye, two, self.reed).reshape(2, n)
        middle = 0.5 * (below + above)
        change = np.sign(by) * (self.from_eye(eye, two, moved).reshape(2, n).mean(axis=0) - middle)
        return middle, (above - below) / (2.0 * _NUDGE), change


def lips(pipe: Pipe, patterns, low: float, high: float, gas: Gas) -> Lips:
    """What the lips see of a pipe under (open_holes, foot) patterns between two frequencies [Hz]."""
    built = column(pipe)
    return Lips(eye_spectrum(built, states(built, patterns), low, high, gas), pipe.head, gas)


def find_modes(lips: Lips, low: float, high: float) -> list[list[Mode]]:
    """All modes of every pattern between two frequencies [Hz], lowest first.

    A mode is a zero of the imaginary part of the admittance at the lips where it rises: there the
    impedance is real and at its highest.  Crossings are bracketed on a grid of `SCAN_CENTS`, and of 1 / `FINER` of
    that beside points where it turns back so near zero that a fall and a rise may hide between two of them, and
    closed in by Newton's method inside the bracket.  Of 40 random reeds on the demo chanter this finds every mode
    that a grid of 1 cent does; a dip that only a finer one would show is missed.
    """
    grid, imag = _scanned(lips, np.append(low * from_cents(np.arange(0.0, cents(high, low), SCAN_CENTS)), high))
    pattern, cell = np.nonzero((imag[:, :-1] < 0.0) & (imag[:, 1:] >= 0.0))
    if not len(cell):
        return [[] for _ in imag]
    left, right = np.log(grid[cell]), np.log(grid[cell + 1])
    at = imag[pattern, cell]
    place = left - (right - left) * at / (imag[pattern, cell + 1] - at)
    for _ in range(30):
        value, slope, change = lips.around(np.exp(place), pattern)
        left, right = np.where(value.imag < 0.0, place, left), np.where(value.imag < 0.0, right, place)
        moved = place - value.imag / slope.imag
        inside = (moved > left - CLOSE) & (moved < right + CLOSE)
        moved = np.where(inside, moved, 0.5 * (left + right))
        done = np.max(np.abs(place - moved)) < CLOSE
        place = moved
        if done:
            break
    quality = 0.5 * slope.imag / value.real
    blade = -change.imag / slope.imag * 1200.0 / np.log(2.0)
    found = [[] for _ in imag]
    for row, *numbers in zip(pattern, np.exp(place), 1.0 / value.real, quality, blade, strict=True):
        found[row].append(Mode(*map(float, numbers)))
    return found


def _scanned(lips: Lips, grid):
    """Frequencies, and Im Y of every pattern there: the grid, finer in cells that may hide a fall and a rise."""
    imag = lips.admittance(grid).imag
    near, middle = np.abs(imag), imag[:, 1:-1]
    turns = np.minimum(middle * imag[:, :-2], middle * imag[:, 2:]) > 0.0
    turns &= near[:, 1:-1] <= np.minimum(near[:, :-2], near[:, 2:])
    turns &= near[:, 1:-1] <= 0.5 * np.abs(imag[:, :-2] - 2.0 * middle + imag[:, 2:])  # a parabola needs an eighth
    at = np.flatnonzero(turns.any(axis=0))
    cells = np.union1d(at, at + 1)
    if not len(cells):
        return grid, imag
    finer = (grid[cells, None] * (grid[cells + 1] / grid[cells])[:, None] ** (np.arange(1, FINER) / FINER)).ravel()
    both, imag = np.append(grid, finer), np.append(imag, lips.admittance(finer).imag, axis=1)
    order = np.argsort(both)
    return both[order], imag[:, order]


def choose(found: list[Mode], target_hz: float) -> Modes:
    """Name the modes of one fingering by what the piper means.

    First octave: of the modes within a fourth of the target those at least a quarter as strong as
    the strongest there, and of these the nearest.  Second octave: the same around twice the first.
    """
    first = _nearest_strong(found, target_hz)
    second = _nearest_strong(found, 2.0 * (first.frequency if first else target_hz))
    near = [f for f in (target_hz, 2.0 * target_hz, *(m.frequency for m in (first, second) if m))]
    stray = tuple(
        mode for mode in found if mode not in (first, second) and min(_apart(mode, f) for f in near) <= NEAR_CENTS
    )
    return Modes(first, second, stray)


def _apart(mode: Mode, frequency: float) -> float:
    return abs(1200.0 * log2(mode.frequency / frequency))


def _nearest_strong(found: list[Mode], target_hz: float) -> Mode | None:
    near = [mode for mode in found if _apart(mode, target_hz) <= NEAR_CENTS and mode.strength > 0.0]
    strong = [mode for mode in near if mode.strength >= STRONG * max(m.strength for m in near)]
    return min(strong, key=lambda mode: _apart(mode, target_hz), default=None)


def band(targets_hz) -> tuple[float, float]:
    """Lowest and highest frequency to search for modes of these first-octave targets [Hz]."""
    reach = from_cents(2.0 * NEAR_CENTS)
    return min(targets_hz) / reach, 2.0 * max(targets_hz) * reach


def modes(pipe: Pipe, fingering: Fingering, air: Air | None = None, scale: Scale | None = None) -> Modes:
    """The modes of a pipe and its reed under one fingering.

    Parameters
    ----------
    pipe : Pipe
    fingering : Fingering
        Its note and octave say which modes are meant.
    air : Air, optional
    scale : Scale, optional
        Where to look for them; the just scale at A = 440 Hz in the pipe's key when None.

    Returns
    -------
    Modes
        .first, .second (or None) and .stray, each with frequency, strength, Q and how much it
        hangs on the blades.

    Raises
    ------
    Refusal
        No pipe or fingering, or a hole among the fingering's that the pipe does not have.

    Notes
    -----
    Linear resonances, where a very soft tone would start.  A loud tone is pulled from there by its
    overtones, by up to some 20 cents.
    """
    check_pipe(pipe)
    check_kind("fingering", fingering, Fingering, "a Fingering")
    target = first_target(fingering, scale_for(pipe.key, scale))
    low, high = band([target])
    seen = lips(pipe, [fingering.pattern], low, high, as_air(air).gas)
    return choose(find_modes(seen, low, high)[0], target)


def first_target(fingering: Fingering, scale: Scale) -> float:
    """Where the fingering's own first octave is meant to lie [Hz]."""
    return scale.frequency(fingering.note, fingering.octave + 1 - fingering.register)
