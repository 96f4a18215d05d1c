"""Notes that a chart has and a recording does not, and why that is likely."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from ..tuning.chart import TuningChart
from ..tuning.scales import Scale
from ..units import cents, from_cents
from .drone_lines import DroneLines
from .naming import NEAR_DRONE_CENTS
from .pitch import STEP_S, VOICED

# Thresholds are chosen here.
_ONE_NOTE_CENTS = 50.0
_LEAST_TRACE_S = 0.08
OVER_IT = "an overtone of the drones lies there; record once more with the drones off"
TOO_SOFT = "too soft beside the rest"
TOO_SHORT = "too short or too unsteady; hold it for half a second or more"
NOT_PLAYED = "not played, or far from its pitch"


def _longest_s(tracked, hz: float) -> float:
    """For how long one pitch sounds without a break at most [s]."""
    _, pitch, strength, _ = tracked
    there = (np.abs(cents(pitch, hz)) < _ONE_NOTE_CENTS) & (strength >= VOICED)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], there.astype(int), [0]])))
    return STEP_S * float(np.max(edges[1::2] - edges[::2], initial=0))


def _why(hz: float, drones: DroneLines | None, faint_hz, tracked) -> str:
    if any(abs(cents(faint, hz)) < _ONE_NOTE_CENTS for faint in faint_hz):
        return TOO_SOFT
    if drones and abs(drones.nearest_cents(hz)) <= NEAR_DRONE_CENTS:
        return OVER_IT
    return TOO_SHORT if _longest_s(tracked, hz) >= _LEAST_TRACE_S else NOT_PLAYED


def by_octave(titles: Iterable[str]) -> str:
    """As "A, B of the first octave and G of the second octave"."""
    octaves: dict[str, list[str]] = {}
    for title in titles:
        name, octave = title.split(", ")
        octaves.setdefault(octave, []).append(name)
    return " and ".join(f"{', '.join(names)} of the {octave}" for octave, names in octaves.items())


def unheard(chart: TuningChart, notes, scale: Scale, drones: DroneLines | None, faint_hz, tracked) -> str:
    """One sentence with the notes of a chart that were not heard, by likely reasons; "" when all were.

    Parameters
    ----------
    chart : TuningChart
        Of notes that sound alike (the two D's in the middle) one is enough.
    notes : sequence of Held
    scale : Scale
    drones : DroneLines or None
    faint_hz : sequence of float
        Pitches that were held and left out for being faint.
    tracked : tuple of arrays
        As `pitch.track` gives it.
    """
    heard = {(held.note.removeprefix("back "), held.octave) for held in notes}
    missing = {(row.note, row.octave): row.title for row in chart.rows if (row.note, row.octave) not in heard}
    off = float(np.median([held.cents for held in notes]))
    reasons: dict[str, list[str]] = {}
    for (note, octave), title in missing.items():
        hz = scale.frequency(note, octave) * from_cents(off)
        reasons.setdefault(_why(hz, drones, faint_hz, tracked), []).append(title)
    said = [f"{by_octave(titles)} ({why})" for why, titles in reasons.items()]
    return f"not heard: {'; '.join(said)}." if said else ""
