"""What a small change anywhere in the air column does to the admittance at the lips.

One sweep up the pipe gives pressure and flow everywhere.  In a chain of reciprocal two-ports a small
change dM of one of them changes the admittance at the lips by (p dU - U dp) / p_lips^2, where (dp, dU)
is dM times the state below it and (p, U) the state above it: the form p dU - U dp passes unchanged
through every two-port of determinant 1.

References
----------
B. D. H. Tellegen, Philips Res. Rep. 7, 259 (1952), for the general theorem; C. J. Nederveen, *Acoustical
Aspects of Woodwind Instruments*, 1969, for perturbed bores (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from .air import Gas
from .ducts import Slices, per_length
from .network import Column, States, foot_state_vector
from .toneholes import Holes, hole_twoports
from .twoport import apply, cascade, fold

NUDGE, SLIGHT = 1e-5, 1e-7


@dataclass(frozen=True)
class Sweep:
    """Pressure and flow all along a pipe, one frequency and pattern after the other, up to a factor each.

    Parameters
    ----------
    above, below : complex arrays (2, slices, f)
        State at the near and the far end of every slice of the bore.
    above_hole, below_hole : complex arrays (2, holes, f)
    eye : complex array (2, f)
    ducts : complex array (2, 2, slices, f)
        The two-ports of the slices.
    sides : complex array (2, 2, holes, f)
        Those of the holes.
    """

    above: np.ndarray
    below: np.ndarray
    above_hole: np.ndarray
    below_hole: np.ndarray
    eye: np.ndarray
    ducts: np.ndarray
    sides: np.ndarray


def sweep(column: Column, states: States, pattern, frequency, gas: Gas) -> Sweep:
    """Pressure and flow along the pipe at `frequency` (f,), each under its own `pattern` (f,)."""
    omega = 2.0 * np.pi * frequency
    ducts = column.bore.each(omega, gas)
    feet = np.stack([foot_state_vector(column, foot, omega, gas) for foot in states.feet], axis=1)
    air = feet[:, states.foot_of[pattern], np.arange(len(omega))]
    sides = _sides(column.holes, states, pattern, omega, gas)
    n, holes = len(column.bore.length), sides.shape[2]
    above, below = np.empty((2, 2, n, len(omega)), complex)
    above_hole, below_hole = np.empty((2, 2, holes, len(omega)), complex)
    ends = np.cumsum(column.bore.counts)
    for run in reversed(range(holes + 1)):
        for i in reversed(range(ends[run] - column.bore.counts[run], ends[run])):
            below[:, i] = air
            above[:, i] = air = apply(ducts[:, :, i], air)
        if run > 0:
            below_hole[:, run - 1] = air
            above_hole[:, run - 1] = air = apply(sides[:, :, run - 1], air)
    return Sweep(above, below, above_hole, below_hole, air, ducts, sides)


def _sides(holes: Holes | None, states: States, pattern, omega, gas: Gas):
    """Two-ports of every hole under each frequency's own pattern, (2, 2, holes, f)."""
    if not holes:
        return np.empty((2, 2, 0, len(omega)), complex)
    chimneys = fold(holes.chimneys.each(omega, gas), holes.chimneys.counts)
    every = hole_twoports(holes, states.hole, states.share, chimneys, omega, gas)
    return every[:, :, states.hole_of[pattern].T, np.arange(len(omega))]


def admittance_change(above, change, below):
    """p dU - U dp of a change (2, 2, ...) of a two-port between two states (2, ...)."""
    moved = apply(change, below)
    return above[0] * moved[1] - above[1] * moved[0]


def bore_gradient(column: Column, swept: Sweep, frequency, gas: Gas) -> dict[str, np.ndarray]:
    """Change of the lips' admittance, times p_lips^2, per change of each slice's numbers.

    Returns
    -------
    {"length": (1, slices, f), "area": (2, slices, f), "perimeter": (2, slices, f)}
        Per metre of length, for a slice may have none; per relative change of area and perimeter, at each
        of the two Gauss points.

    Notes
    -----
    The two-port of one slice is differentiated by a difference of 1e-7, all slices at once.
    """
    omega = 2.0 * np.pi * frequency
    longer = SLIGHT * np.mean(column.bore.length)
    moved = replace(column.bore, length=column.bore.length + longer).each(omega, gas)
    by_length = admittance_change(swept.above, (moved - swept.ducts) / longer, swept.below)
    gradient = {"length": by_length[None]}
    for name in ("area", "perimeter"):
        parts = []
        for row in range(2):
            moved = _nudged(column.bore, name, row, SLIGHT).each(omega, gas)
            parts.append(admittance_change(swept.above, (moved - swept.ducts) / SLIGHT, swept.below))
        gradient[name] = np.array(parts)
    return gradient


def hole_change(other: Holes, states: States, pattern, swept: Sweep, frequency, gas: Gas):
    """Change of the lips' admittance, times p_lips^2, when each hole becomes that of `other`, (holes, f)."""
    moved = _sides(other, states, pattern, 2.0 * np.pi * frequency, gas) - swept.sides
    return admittance_change(swept.above_hole, moved, swept.below_hole)


def hole_shift(cross_section, swept: Sweep, frequency, gas: Gas):
    """The same per metre that each hole is moved away from the reed, (holes, f).

    Moving a hole lengthens the bore above it and shortens it below: G M - M G times the way, with M
    the hole's two-port and G that of the bore there per length.  `cross_section` is (area, perimeter)
    of the bore at every hole [m2], [m].
    """
    z, y = per_length(*cross_section, 2.0 * np.pi * frequency, gas)
    along = np.array([[np.zeros_like(z), z], [y, np.zeros_like(z)]])
    return admittance_change(
        swept.above_hole, cascade(along, swept.sides) - cascade(swept.sides, along), swept.below_hole
    )


def step_change(column: Column, other: Column, swept: Sweep, frequency, gas: Gas):
    """The same when each step of the bore becomes that of `other`, (steps, f)."""
    at = np.flatnonzero(column.bore.step)
    drop = 2j * np.pi * frequency * gas.density * (other.bore.step - column.bore.step)[at, None]
    return -(swept.above[1, at] ** 2) * drop


def foot_change(column: Column, other: Column, states: States, pattern, swept: Sweep, frequency, gas: Gas):
    """The same when the open foot becomes as wide as that of `other`, (f,)."""
    omega = 2.0 * np.pi * frequency
    ends = [[foot_state_vector(one, foot, omega, gas) for foot in states.feet] for one in (column, other)]
    moved = np.moveaxis(np.subtract(ends[1], ends[0]), 0, 1)[:, states.foot_of[pattern], np.arange(len(omega))]
    return swept.below[0, -1] * moved[1] - swept.below[1, -1] * moved[0]


def _nudged(slices: Slices, name: str, row: int, by: float) -> Slices:
    values = np.array(getattr(slices, name))
    values[row] *= 1.0 + by
    return replace(slices, **{name: values})
