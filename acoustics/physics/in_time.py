"""The reed on its pipe in the time domain: what goes out, what comes back, and a valve between them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..errors import Refusal
from .air import Gas
from .balance import LOWEST_HZ, Steady
from .valve import Valve

RATE = 48000
SECONDS = 0.1
_TAIL = 0.25
_EARLY, _BAND, _ABOVE, _UNHEARD = 8, (100.0, 9000.0), 0.01, 1e-3
_FARTHEST = 1000.0
_GRID = np.concatenate(
    [
        -np.geomspace(_FARTHEST, 4.0, 3001)[:-1],
        np.linspace(-4.0, -0.3, 3001)[:-1],
        np.linspace(-0.3, 1.3, 32001),
        np.linspace(1.3, 6.0, 4001)[1:],
        [_FARTHEST],
    ]
)


@dataclass(frozen=True)
class Echoes:
    """What comes back to the lips of a pulse sent down one pipe.

    Parameters
    ----------
    response : array (taps,)
        Reflection function against a head without end, one sample each 1/`RATE`, the first 0 [1].
    endless : float
        Admittance of that head, S / (rho c) [m3 Pa-1 s-1].
    """

    response: np.ndarray
    endless: float


def fade(way):
    """1 up to way 0, 0 from way 1 on, and between them a fall that starts and ends level and straight."""
    way = np.clip(way, 0.0, 1.0)
    return 1.0 - way**3 * (10.0 - 15.0 * way + 6.0 * way**2)


def echoes(admittance: Callable, endless: float, seconds: float = SECONDS) -> Echoes:
    """The reflection function of what the lips see.

    Parameters
    ----------
    admittance : callable
        As for `balance.Balance`; it has to have faded into `endless` at half of `RATE`.  Below `LOWEST_HZ` the
        pipe's impedance is taken as proportional to the frequency, as that of any open pipe is; for one with no
        opening at all (every hole and the foot shut) that is wrong.
    endless : float
        [m3 Pa-1 s-1]
    seconds : float
        Length of the response; what is left then is faded out over its last quarter.

    Notes
    -----
    A fading admittance answers a little before it is asked; what is cut off there and at once is given to the
    first samples after, by least squares from 100 Hz up, little weighed above 9 kHz.  The end is left off
    where all of it together is less than a thousandth.

    References
    ----------
    R. T. Schumacher, Acustica 48, 71 (1981); M. E. McIntyre, R. T. Schumacher and J. Woodhouse, J. Acoust.
    Soc. Am. 74, 1325 (1983); both from memory.
    """
    size = 2 * round(seconds * RATE)
    frequency = np.arange(size // 2 + 1) * RATE / size
    seen = admittance(np.maximum(frequency, LOWEST_HZ))[0]
    impedance = 1.0 / seen
    low = frequency < LOWEST_HZ
    impedance[low] = 1j * impedance[low].imag * frequency[low] / LOWEST_HZ
    reflection = (impedance - 1.0 / endless) / (impedance + 1.0 / endless)
    response = np.fft.irfft(reflection)[: size // 2]
    response = response * fade((np.arange(size // 2) / (size // 2) - 1.0 + _TAIL) / _TAIL)
    response[0] = 0.0
    left = reflection - np.fft.rfft(response, size)
    weight = np.where(frequency < _BAND[1], 1.0, _ABOVE) * (frequency > _BAND[0])
    early = weight[:, None] * np.exp(-2j * np.pi * np.outer(frequency / RATE, np.arange(1, _EARLY + 1)))
    both = [np.concatenate([part.real, part.imag]) for part in (early, weight * left)]
    response[1 : _EARLY + 1] += np.linalg.lstsq(*both, rcond=None)[0]
    heard = np.cumsum(np.abs(response)[::-1])[::-1] > _UNHEARD
    return Echoes(response[: np.count_nonzero(heard)], endless)


def sounding(pipes, valve: Valve, gas: Gas, mouth, tones=None):
    """Let several reeds sound at once, each on its own pipe.

    Parameters
    ----------
    pipes : sequence of Echoes, of the same `endless`
    valve : Valve
        The same for all.
    gas : Gas
    mouth : array (pipes, steps)
        Pressure in each bag, one value each 1/`RATE` [Pa].
    tones : sequence of Steady or None, optional
        What each air column sounded until now; still air where None.

    Returns
    -------
    array (pipes, steps)
        Pressure behind the lips [Pa].

    Raises
    ------
    Refusal
        A slit so wide that the flow hangs on what was there before; a pressure across the lips of more than
        1000 closing pressures either way, where the table of the valve's law ends.

    Notes
    -----
    With p+ going out and p- coming back, p = p+ + p-, the flow is (p+ - p-) `endless`, and p- is what the
    pipe sends back of all p+ before.  At each step this is a straight line between pressure and flow, which
    meets the valve's law in one point as long as the valve's slope there is less steep than the line.
    """
    closing = valve.closing_pressure
    mouth = np.atleast_2d(np.asarray(mouth, float)) / closing
    taps, steps = max(len(pipe.response) for pipe in pipes), mouth.shape[1]
    response = np.array([np.pad(pipe.response, (0, taps - len(pipe.response))) for pipe in pipes])
    table = _GRID + valve.unit(gas) / closing / pipes[0].endless * valve.law(_GRID)[0]
    steepest = np.max(1.0 - np.diff(table) / np.diff(_GRID))
    if steepest >= 1.0:
        what = f"a slit of {valve.opening_mm2:g} mm2 is too wide for this head: flow and pressure meet more than once"
        raise Refusal(what, f"less than {valve.opening_mm2 / steepest:.2f} mm2 is needed", "valve")
    back = np.ascontiguousarray(response[:, :0:-1])
    out = np.zeros((len(pipes), taps - 1 + steps))
    for row, tone in enumerate(tones or ()):
        if tone is not None:
            if not np.all(np.isfinite(tone.flow)):
                raise Refusal("the flow of the tone to start on is not known", "a tone of `balance` is needed", "tones")
            out[row, : taps - 1] = _before(tone, taps - 1, pipes[row].endless) / closing
    pressure = np.empty((len(pipes), steps))
    for n in range(steps):
        past = np.einsum("ij,ij->i", back, out[:, n : n + taps - 1])
        now = mouth[:, n] - np.interp(mouth[:, n] - 2.0 * past, table, _GRID)
        pressure[:, n] = now
        out[:, taps - 1 + n] = now - past
    most = float(np.max(np.abs(mouth - pressure), initial=0.0))
    if not most < _FARTHEST:
        times = f"{_FARTHEST:g} times" if np.isfinite(most) else "no number of times"
        what = f"the pressure across the lips comes to {times} the {closing:g} Pa that shut them"
        raise Refusal(what, "less is allowed", "mouth")
    return pressure * closing


def _before(tone: Steady, steps: int, endless: float):
    """What a steady tone sent out in the last steps before time 0 [Pa]."""
    going = 0.5 * (tone.pressure + tone.flow / endless)
    turn = 2.0 * np.pi * tone.frequency / RATE * np.outer(np.arange(-steps, 0), np.arange(1, len(going) + 1))
    return (np.exp(1j * turn) @ going).real
