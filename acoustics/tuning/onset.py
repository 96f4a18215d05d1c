"""At which pressure in the bag the still reed starts to sound, for each resonance of each note."""

from __future__ import annotations

from dataclasses import dataclass

from ..physics.air import Gas
from ..physics.valve import Valve
from .chart import Row
from .resonances import Mode
from .setup import Setup


@dataclass(frozen=True)
class Onset:
    """Where a resonance makes the still reed unstable.

    Parameters
    ----------
    frequency : float
        Of the tone that starts to grow [Hz].
    pressure : float
        In the bag [Pa].
    """

    frequency: float
    pressure: float


@dataclass(frozen=True)
class Speaking:
    """The onsets of one row of a chart.

    Parameters
    ----------
    row : Row
    own : Onset or None
        Of the resonance that is meant; None where there is none, or where the reed shuts before it
        could give it enough power.
    rivals : tuple of Onset
        Of the other resonances within a fourth of it, lowest pressure first.
    """

    row: Row
    own: Onset | None
    rivals: tuple[Onset, ...]

    @property
    def overtaken(self) -> Onset | None:
        """The rival that starts at a lower pressure than the note itself, if any."""
        first = self.rivals[0] if self.rivals else None
        return first if first and (self.own is None or first.pressure < self.own.pressure) else None


def onset(mode: Mode | None, valve: Valve, gas: Gas) -> Onset | None:
    """The onset of one mode, or None where the reed shuts first.

    Notes
    -----
    A small tone p exp(j omega t) on the still reed asks Y(omega) + dU/d(dp) = 0.  The valve has no memory,
    so its conductance is real: the tone lies where the imaginary part of Y is 0, which is the mode, and
    starts where the conductance has fallen to -Re Y = -1 / strength.  Modes at which Im Y falls with
    frequency would be damped by what feeds the others and are not among `find_modes`.

    References
    ----------
    T. A. Wilson and G. S. Beavers, J. Acoust. Soc. Am. 56, 653 (1974), from memory.
    """
    if mode is None or mode.strength <= 0.0:
        return None
    pressure = valve.threshold(1.0 / mode.strength, gas)
    return None if pressure is None else Onset(mode.frequency, pressure)


def speaking(setup: Setup, valve: Valve) -> tuple[Speaking, ...]:
    """The onsets of every row of a setup's chart."""
    gas = setup.air.gas
    return tuple(
        Speaking(row, onset(row.mode, valve, gas), _sorted(onset(mode, valve, gas) for mode in row.stray))
        for row in setup.chart.rows
    )


def _sorted(onsets) -> tuple[Onset, ...]:
    return tuple(sorted((one for one in onsets if one is not None), key=lambda one: one.pressure))
