"""Pressure and flow along a pipe at one or more frequencies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import number
from ..pipes.fingering import foot_state, open_shares
from ..pipes.path import Pipe, check_pipe
from ..units import MM
from .air import Air, Gas, as_gas
from .network import check_waves, checked_frequency, column, foot_state_vector, slice_path, states
from .toneholes import hole_twoports
from .twoport import apply, fold


@dataclass(frozen=True)
class StandingWave:
    """Pressure and flow along the path, as if the pressure at the eye had the amplitude 1 Pa.

    Parameters
    ----------
    from_top_mm : array (n,)
        Distance from the top of the body; negative in the part of the staple that stands out.
    pressure : complex array (n, f)
        [Pa]
    flow : complex array (n, f)
        Down the bore [m3/s]; at a hole its axis counts as the near side.
    frequency : array (f,)
        [Hz]
    """

    from_top_mm: np.ndarray
    pressure: np.ndarray
    flow: np.ndarray
    frequency: np.ndarray


def standing_wave(
    pipe: Pipe, frequency, open_holes=(), foot="open", air: Air | Gas | None = None, step_mm: float = 2.0
) -> StandingWave:
    """Pressure and flow along a pipe at given frequencies.

    Parameters
    ----------
    pipe : Pipe
    frequency : float or array (f,), above 0 [Hz]
    open_holes, foot, air
        As for `network.input_impedance`.
    step_mm : float
        Distance between the points, 0.1 to 50 [mm].

    Returns
    -------
    StandingWave

    Raises
    ------
    Refusal
        As for `network.input_impedance`; a step outside these limits.
    """
    frequency = np.atleast_1d(checked_frequency(frequency))
    check_pipe(pipe)
    step_mm = number("step_mm", step_mm, 0.1, 50.0)
    gas, built = as_gas(air), column(pipe)
    omega = 2.0 * np.pi * frequency
    chosen = states(built, [(open_shares(open_holes), foot_state(foot))])
    check_waves(pipe, built, chosen, frequency, gas)
    holes = built.holes.place / MM if built.holes else np.array([])
    end = pipe.path.edges_mm[-1]
    points = np.linspace(0.0, end, int(np.ceil(end / step_mm)) + 1)
    cuts = np.unique(np.concatenate([points[1:-1], holes]))
    runs = slice_path(pipe.path, cuts)
    ducts = fold(runs.each(omega, gas), runs.counts)
    sides = {}
    if built.holes:
        chimneys = fold(built.holes.chimneys.each(omega, gas), built.holes.chimneys.counts)
        picked = chosen.hole_of[0]
        twoports = hole_twoports(built.holes, chosen.hole[picked], chosen.share[picked], chimneys, omega, gas)
        for i, place in enumerate(holes):
            sides.setdefault(int(np.searchsorted(cuts, place)), []).append(twoports[:, :, i])
    air_state = foot_state_vector(built, chosen.feet[0], omega, gas)
    along = [air_state]
    for i in range(len(cuts), -1, -1):
        air_state = apply(ducts[:, :, i], air_state)
        for side in reversed(sides.get(i - 1, [])):
            air_state = apply(side, air_state)
        along.append(air_state)
    along = np.array(along[::-1])
    along /= along[0, 0]
    place = np.concatenate([[0.0], cuts, [end]]) - pipe.path.body_offset_mm
    return StandingWave(place, along[:, 0], along[:, 1], frequency)
