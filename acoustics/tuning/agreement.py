"""Does a set agree with itself: every note, key and drone against the drones as they sound."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from ..errors import Refusal, short
from ..physics.air import Air, as_air
from ..pipes.drone import Drone
from ..pipes.fingering import Fingering
from ..pipes.pipe_set import PipeSet
from ..units import cents
from .chart import TuningChart, tuning_chart
from .drones import (
    SlideCurve,
    cents_per_mm,
    drone_beats,
    drone_pitch,
    drone_target,
    slide_curve,
    tuned,
    within_a_fourth,
)
from .regulators import RegulatorChart, regulator_chart
from .scales import Scale, just_scale, scale_for

RESERVE_CENTS = 40.0  # what a slide should leave on either side; common practice, no source


@dataclass(frozen=True)
class Against:
    """One sound of the set against one drone.

    Parameters
    ----------
    pipe, note : str
        Whose sound, and which: "A, second octave", a key, or "drone".
    drone : str
    overtone, drone_overtone : int
        The lowest pair that ought to fall together: 1 is the note itself, 2 its octave.
    beats : float
        Per second between that pair [Hz]; nan where nothing sounds.
    cents : float
        How far the sound lies off its just interval over that drone; positive is sharp.
    tonic : bool
        Whether the note is a D (on a flat set, what the piper calls D).
    """

    pipe: str
    note: str
    drone: str
    overtone: int
    drone_overtone: int
    beats: float
    cents: float
    tonic: bool


@dataclass(frozen=True)
class SlidePlace:
    """Where a drone's slide stands and where it is needed.

    Parameters
    ----------
    drone : Drone
    sounds_hz, target_hz : float
        As it stands, and wanted [Hz].
    needs_mm : float or None
        How far the slide must be drawn for that [mm]; None where it does not reach.
    sharp_cents, flat_cents : float
        How far it can still go from there; below 0 it does not reach.
    cents_per_mm : float
        Where it stands.
    """

    drone: Drone
    sounds_hz: float
    target_hz: float
    needs_mm: float | None
    sharp_cents: float
    flat_cents: float
    cents_per_mm: float

    @property
    def enough(self) -> bool:
        """Whether `RESERVE_CENTS` are left on either side."""
        return min(self.sharp_cents, self.flat_cents) >= RESERVE_CENTS


@dataclass(frozen=True)
class Agreement:
    """A set's charts, its slides, and everything against its drones.

    Parameters
    ----------
    pipes : PipeSet
    chart : TuningChart
        Of the chanter.
    regulators : tuple of RegulatorChart
    slides : tuple of SlidePlace
        One for each drone.
    every : tuple of Against
        Every sound against every drone with which it shares an overtone.
    """

    pipes: PipeSet
    chart: TuningChart
    regulators: tuple[RegulatorChart, ...]
    slides: tuple[SlidePlace, ...]
    every: tuple[Against, ...]

    @property
    def worst_first(self) -> tuple[Against, ...]:
        """Each sound once, against the drone that its overtones meet lowest; fastest beat first."""
        kept: dict[tuple[str, str], Against] = {}
        for one in self.every:
            order = (one.overtone, one.drone_overtone)
            best = kept.get((one.pipe, one.note))
            if best is None or order < (best.overtone, best.drone_overtone):
                kept[one.pipe, one.note] = one
        return tuple(sorted(kept.values(), key=lambda one: -np.nan_to_num(one.beats, nan=np.inf)))

    @property
    def at_the_tonic(self) -> tuple[Against, ...]:
        """Every D of chanter and regulators, and the drones themselves, against every drone."""
        return tuple(one for one in self.every if one.tonic)


def _note_lines(name: str, chart: TuningChart, drone: Drone, sounds_hz: float, title: Callable) -> list[Against]:
    just, target = just_scale(chart.scale.a_hz, chart.scale.key), drone_target(drone, chart.scale)
    found = []
    for beat in drone_beats(chart, drone, sounds_hz):
        row = beat.row
        ideal = just.frequency(row.note, row.octave) * sounds_hz / target
        off = float(cents(row.sounding_hz, ideal))
        pair = (beat.overtone, beat.drone_overtone, beat.sounding)
        found.append(Against(name, title(row), drone.name, *pair, off, row.note == "D"))
    return found


def _drones_together(drones: list[tuple[Drone, float]]) -> list[Against]:
    """Each drone against each lower one: their lowest overtones that ought to meet."""
    found = []
    for (high, high_hz), (low, low_hz) in combinations(drones, 2):
        over = 2 ** (low.octaves_below - high.octaves_below)
        beats, off = abs(high_hz - over * low_hz), float(cents(high_hz, over * low_hz))
        found.append(Against(high.name, "drone", low.name, 1, over, float(beats), off, True))
    return found


def _slide(drone: Drone, air: Air, scale: Scale, sounds_hz: float, target_hz: float) -> SlidePlace:
    curve: SlideCurve = slide_curve(drone, air, scale, 2)
    moved = float(cents(target_hz, curve.target_hz))
    sharp, flat = curve.reserve_cents[0] - moved, curve.reserve_cents[1] + moved
    reaches = sharp >= 0.0 and flat >= 0.0
    needs = tuned(drone, air, scale, target_hz).slide.gap_mm if reaches else None
    return SlidePlace(drone, sounds_hz, target_hz, needs, sharp, flat, cents_per_mm(drone, air, scale))


def agreement(
    pipes: PipeSet,
    air: Air | None = None,
    scale: Scale | None = None,
    fingerings: tuple[Fingering, ...] | None = None,
    keynote_hz: float | None = None,
) -> Agreement:
    """Everything in a set against its drones, at what the drones themselves are computed to sound.

    Parameters
    ----------
    pipes : PipeSet
        With at least one drone.
    air, scale, fingerings
        As for `tuning_chart`; the drones are heard in the same air.
    keynote_hz : float, optional
        What the slides are to be drawn for, in the chanter's lowest octave, within a fourth of the
        scale's keynote; that keynote when None [Hz].

    Returns
    -------
    Agreement

    Raises
    ------
    Refusal
        No set, no drone, a keynote beyond a fourth, or a drone that does not sound within a fourth of its target.

    Notes
    -----
    Pitches are resonances, where a very soft tone starts.  A beat between high overtones is fast
    for a small error: read the cents beside it.
    """
    if not isinstance(pipes, PipeSet):
        raise Refusal(f"{short(pipes)} is not a set", "a PipeSet is needed", "set")
    if not pipes.drones:
        raise Refusal("it has no drone", "at least one drone is needed to tune to", pipes.name)
    air, scale = as_air(air), scale_for(pipes.chanter.key, scale)
    keynote = within_a_fourth("keynote_hz", keynote_hz, scale.keynote_hz)
    chart = tuning_chart(pipes.chanter, fingerings, scale, air)
    charts = tuple(regulator_chart(regulator, scale, air) for regulator in pipes.regulators)
    sounding = [(drone, drone_pitch(drone, air, scale).frequency) for drone in pipes.drones]
    every: list[Against] = []
    for drone, hz in sounding:
        every += _note_lines(pipes.chanter.name, chart, drone, hz, lambda row: row.title)
        for one in charts:
            every += _note_lines(one.regulator.name, one.chart, drone, hz, lambda row: row.note)
    every += _drones_together(sounding)
    slides = tuple(_slide(d, air, scale, hz, keynote / 2.0**d.octaves_below) for d, hz in sounding)
    return Agreement(pipes, chart, charts, slides, tuple(every))
