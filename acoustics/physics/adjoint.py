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

from dataclasses import dataclass

import numpy as np

from .air import Gas
from .ducts import Slices, per_length, tapered
from .network import Column, States, foot_state_vector
from .slopes import form_slopes, per_length_slopes
from .toneholes import Holes, hole_twoports
from .twoport import apply, cascade, fold

NUDGE = 1e-5


@dataclass(frozen=True)
class Sweep:
    """Pressure and flow all along a pipe, one frequency and pattern after the other, up to a factor each.

    Parameters
    ----------
    above, below : complex arrays (2, slices, f)
        State at the near and the far end of every slice of the bore.
    above_hole, below_hole : complex arrays (2, holes, f)
    eye : complex array (2, f)
    line : pair of complex arrays (2, slices, f)
        Impedance and admittance per length of the slices at their Gauss points.
    sides : complex array (2, 2, holes, f)
        Those of the holes.
    """

    above: np.ndarray
    below: np.ndarray
    above_hole: np.ndarray
    below_hole: np.ndarray
    eye: np.ndarray
    line: tuple[np.ndarray, np.ndarray]
    sides: np.ndarray


def sweep(column: Column, states: States, pattern, frequency, gas: Gas) -> Sweep:
    """Pressure and flow along the pipe at `frequency` (f,), each under its own `pattern` (f,)."""
    omega = 2.0 * np.pi * frequency
    line = column.bore.line(omega, gas)
    ducts = column.bore.with_steps(tapered(column.bore.length[:, None], *line), omega, gas)
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
    return Sweep(above, below, above_hole, below_hole, air, line, sides)


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
    {"length": (1, slices, f), "area": (2, slices, f), "perimeter": (2, slices, f),
    "impedance": (2, slices, f), "admittance": (2, slices, f)}
        Per metre of length, for a slice may have none; per relative change of area and perimeter, and per
        impedance and admittance per length, at each of the two Gauss points.
    """
    omega, bore = 2.0 * np.pi * frequency, column.bore
    bending = 0.0 if bore.turned is None else bore.bending(omega, gas)
    straight = (swept.line[0] - bending, swept.line[1])
    by_area, by_perimeter = per_length_slopes(straight, bore.area, bore.perimeter, omega, gas)
    drop = 1j * gas.density * bore.step[:, None] * omega
    near = np.array([swept.above[0] - drop * swept.above[1], swept.above[1]])
    of_z, of_y, by_length = form_slopes(bore.length[:, None], *swept.line, near, swept.below)
    return {
        "length": by_length[None],
        "area": of_z * (by_area[0] - bending) + of_y * by_area[1],
        "perimeter": of_z * by_perimeter[0] + of_y * by_perimeter[1],
        "impedance": of_z,
        "admittance": of_y,
    }


def gas_change(other: Gas, column: Column, gradient, states: States, pattern, swept: Sweep, frequency, gas: Gas):
    """Change of the lips' admittance, times p_lips^2, when the gas below the eye becomes `other`, (f,).

    `gradient` is that of `bore_gradient`.
    """
    omega, bore = 2.0 * np.pi * frequency, column.bore
    old, new = swept.line, bore.line(omega, other)
    change = np.sum(gradient["impedance"] * (new[0] - old[0]) + gradient["admittance"] * (new[1] - old[1]), (0, 1))
    drop = 1j * (other.density - gas.density) * bore.step[:, None] * omega
    change -= np.sum(swept.above[1] ** 2 * drop, axis=0)
    sides = _sides(column.holes, states, pattern, omega, other) - swept.sides
    change += admittance_change(swept.above_hole, sides, swept.below_hole).sum(axis=0)
    return change + _foot(swept, states, pattern, [(column, gas), (column, other)], omega)


def hole_change(other: Holes | None, states: States, pattern, swept: Sweep, frequency, gas: Gas):
    """Change of the lips' admittance, times p_lips^2, when each hole becomes that of `other`, (holes, f)."""
    if not other:
        return np.empty((0, len(frequency)), complex)
    return variants_change(other, states, pattern, swept, frequency, gas)[0]


def variants_change(variants: Holes, states: States, pattern, swept: Sweep, frequency, gas: Gas):
    """`hole_change` of several variants of the holes at once, one after the other in `variants`.

    Returns
    -------
    complex array (variants, holes, f)
    """
    omega, holes = 2.0 * np.pi * frequency, swept.sides.shape[2]
    count = len(variants.names) // holes
    chimneys = fold(variants.chimneys.each(omega, gas), variants.chimneys.counts)
    index = (holes * np.arange(count)[:, None] + states.hole).ravel()
    every = hole_twoports(variants, index, np.tile(states.share, count), chimneys, omega, gas)
    every = every.reshape(2, 2, count, len(states.hole), -1)
    moved = every[:, :, :, states.hole_of[pattern].T, np.arange(len(omega))] - swept.sides[:, :, None]
    return admittance_change(swept.above_hole[:, None], moved, swept.below_hole[:, None])


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


def step_change(bore: Slices, other: Slices, swept: Sweep, frequency, gas: Gas):
    """The same when each step of the bore becomes that of the slices `other`, (steps, f)."""
    at = np.flatnonzero(bore.step)
    drop = 2j * np.pi * frequency * gas.density * (other.step - bore.step)[at, None]
    return -(swept.above[1, at] ** 2) * drop


def foot_change(column: Column, other: Column, states: States, pattern, swept: Sweep, frequency, gas: Gas):
    """The same when the open foot becomes as wide as that of `other`, (f,)."""
    return _foot(swept, states, pattern, [(column, gas), (other, gas)], 2.0 * np.pi * frequency)


def _foot(swept: Sweep, states: States, pattern, two, omega):
    """The same of the foot from the first to the second (column, gas)."""
    ends = [[foot_state_vector(column, foot, omega, gas) for foot in states.feet] for column, gas in two]
    moved = np.moveaxis(np.subtract(ends[1], ends[0]), 0, 1)[:, states.foot_of[pattern], np.arange(len(omega))]
    return swept.below[0, -1] * moved[1] - swept.below[1, -1] * moved[0]
