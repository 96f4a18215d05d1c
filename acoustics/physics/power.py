"""Where a steady tone's power goes: walls, blades, holes and the open foot, each summed for itself."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..pipes.path import Pipe
from ..pipes.reed import Reed
from ..units import MM
from .adjoint import sweep
from .air import Gas
from .balance import Steady
from .ducts import LEAN, Slices
from .network import column, states
from .radiation import mouth_impedance
from .reeds import head, line
from .toneholes import SMALLEST_LEAK, Holes, outer_length
from .twoport import apply
from .valve import Valve

IN_SLICE, IN_HEAD = 8, 48


@dataclass(frozen=True)
class Spent:
    """Power lost, mean over a period [W].

    Parameters
    ----------
    blades : float
        In the damping of the yielding blades.
    head : float
        At the walls of the reed's head, by friction and heat.
    bore : array (slices,)
        At the walls of each slice of the path, from the eye to the foot.
    hole_walls, hole_sound : dict, name -> float
        At the walls of each hole's chimney; and what each open hole radiates.
    foot_sound : float
        What the foot radiates.
    """

    blades: float
    head: float
    bore: np.ndarray
    hole_walls: dict[str, float]
    hole_sound: dict[str, float]
    foot_sound: float

    @property
    def walls(self) -> float:
        """Friction and heat at all walls of air [W]."""
        return self.head + float(self.bore.sum()) + sum(self.hole_walls.values())

    @property
    def sound(self) -> float:
        """What leaves the pipe as sound [W]."""
        return sum(self.hole_sound.values()) + self.foot_sound

    @property
    def total(self) -> float:
        """All of it [W]."""
        return self.blades + self.walls + self.sound


def spent(pipe: Pipe, frequency, pressure, open_holes, foot, gas: Gas) -> Spent:
    """What a pipe takes from pressures at the lips.

    Parameters
    ----------
    pipe : Pipe
    frequency : array (f,), above 0 [Hz]
    pressure : complex array (f,)
        Amplitudes at the lips [Pa].
    open_holes, foot
        A fingering's pattern: ((name, share), ...) and "open", "shut" or a gap in mm.

    Notes
    -----
    Nothing is found from the difference of what flows in and out.  Walls: half the integral of
    Re Z' |U|^2 + Re Y' |p|^2 along each duct, Z' and Y' per length, by Gauss quadrature of the field inside it.
    Ends: half of Re(1/Z) |p|^2 at each opening.  A tapered slice is a line whose pressure and flow also lean
    on each other (`ducts.tapered`); that part of its wall loss goes with Im(p U*).
    """
    frequency = np.asarray(frequency, float)
    omega = 2.0 * np.pi * frequency
    built = column(pipe)
    chosen = states(built, [(open_holes, foot)])
    swept = sweep(built, chosen, np.zeros(len(omega), int), frequency, gas)
    lips = apply(head(pipe.head, frequency, gas), swept.eye)
    scale = np.abs(pressure / lips[0]) ** 2
    blades, walls = _in_head(pipe.head, frequency, swept.eye, gas)
    bore = _in_slices(built.bore, swept.below, omega, gas) @ scale
    foot_sound = _through(swept.below[:, -1])
    hole_walls, hole_sound = {}, {}
    for i, share in enumerate(chosen.share[chosen.hole_of[0]]):
        name, into = built.holes.names[i], _flow_into(swept.sides[:, :, i], swept.below_hole[:, i])
        inside, outside = _in_hole(built.holes, i, share, into, omega, gas)
        hole_walls[name], hole_sound[name] = float(inside @ scale), float(outside @ scale)
    return Spent(float(blades @ scale), float(walls @ scale), bore, hole_walls, hole_sound, float(foot_sound @ scale))


def given(tone: Steady, valve: Valve, gas: Gas, points: int = 1 << 15) -> float:
    """Power that the valve gives to a tone: the mean of pressure times flow over its period [W]."""
    pressure = tone.waveform(points)
    return float(np.mean(pressure * valve.flow(tone.mouth_pressure - pressure, gas)))


def _through(state):
    """Power through a plane, array of the shape of p."""
    return 0.5 * (state[0] * state[1].conj()).real


def _flow_into(side, beyond):
    """Flow into the chimney of a hole's T, from (p, U) beyond it: C p + (D - 1) U."""
    return side[1, 0] * beyond[0] + (side[1, 1] - 1.0) * beyond[1]


def _squares(z, y, lean, end, points: int):
    """Means of |U|^2, |p|^2 and Im(p U*) along lines exp [[lean, z], [y, -lean]] with (p, U) = `end` at the far end."""
    root = np.sqrt(lean**2 + z * y)
    flow, pressure, across = np.zeros((3, *root.shape))
    for node, weight in zip(*np.polynomial.legendre.leggauss(points), strict=True):
        share, weight = 0.5 * (node + 1.0), 0.5 * weight
        even, ratio = np.cosh(share * root), np.sinh(share * root) / root
        p = (even + ratio * lean) * end[0] + ratio * z * end[1]
        u = ratio * y * end[0] + (even - ratio * lean) * end[1]
        flow += weight * np.abs(u) ** 2
        pressure += weight * np.abs(p) ** 2
        across += weight * (p * u.conj()).imag
    return flow, pressure, across


def _in_slices(slices: Slices, ends, omega, gas: Gas):
    """Wall losses of tapered slices, (p, U) at their far ends (2, n, f) -> array (n, f) [W]."""
    impedance, admittance = slices.line(omega, gas)
    length = slices.length[:, None]
    z, y = 0.5 * length * impedance.sum(axis=0), 0.5 * length * admittance.sum(axis=0)
    lean = LEAN * length**2 * (impedance[0] * admittance[1] - impedance[1] * admittance[0])
    flow, pressure, across = _squares(z, y, lean, ends, IN_SLICE)
    return 0.5 * (z.real * flow + y.real * pressure) - lean.imag * across


def _in_head(reed: Reed, frequency, eye, gas: Gas):
    """What blades and walls of the head take, (p, U) at the eye (2, f) -> two arrays (f,) [W]."""
    length = reed.length_mm * MM
    impedance, admittance, yielding = (length * part for part in line(reed, frequency, gas))
    flow, pressure, _ = _squares(impedance, admittance + yielding, 0.0, eye, IN_HEAD)
    return 0.5 * yielding.real * pressure, 0.5 * (impedance.real * flow + admittance.real * pressure)


def _in_hole(holes: Holes, index: int, share: float, flow, omega, gas: Gas):
    """What a chimney's walls and the air outside take, from the flow into it (f,) -> two arrays (f,) [W]."""
    length, radius = outer_length(holes, np.array([index]), np.array([max(share, SMALLEST_LEAK)]))
    load = np.zeros_like(omega) if share == 0.0 else 1.0 / mouth_impedance(radius, length, omega, gas)[0]
    slices = holes.chimneys
    last = int(np.cumsum(slices.counts)[index])
    twoports = slices.each(omega, gas)
    state, ends = np.array([np.ones_like(load), load]), np.zeros((2, *twoports.shape[2:]), complex)
    sound = _through(state)
    for i in range(last - 1, last - 1 - slices.counts[index], -1):
        ends[:, i] = state
        state = apply(twoports[:, :, i], state)
    scale = np.abs(flow / state[1]) ** 2
    return _in_slices(slices, ends, omega, gas).sum(axis=0) * scale, sound * scale
