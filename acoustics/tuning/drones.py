"""Drones: what they sound, what their slides do, and how they beat with the chanter."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import brentq

from ..errors import Refusal, check_kind, number, whole_number
from ..physics.air import Air, Gas, as_gas
from ..pipes.drone import Drone
from ..pipes.fingering import Fingering
from ..pipes.path import Pipe
from ..units import cents, from_cents
from .chart import Row, TuningChart, tuning_chart
from .resonances import NEAR_CENTS, Mode, choose, find_modes, lips
from .scales import Scale, just_scale, scale_for
from .tone import beats_per_second

_SLOPE_MM = 0.05
_EXACT_MM = 1e-4


def drone_target(drone: Drone, scale: Scale | None = None) -> float:
    """The keynote, octaves below the chanter's, that a drone is meant to sound [Hz].

    The just scale at A = 440 Hz in the drone's key when `scale` is None; every scale has the same keynote.
    """
    check_kind("drone", drone, Drone, "a Drone")
    return scale_for(drone.key, scale).keynote_hz / 2.0**drone.octaves_below


def within_a_fourth(field: str, frequency: float | None, target_hz: float) -> float:
    """`frequency` [Hz], the target itself when None, or a `Refusal` of one farther than a fourth from it."""
    reach = from_cents(NEAR_CENTS)
    return target_hz if frequency is None else number(field, frequency, target_hz / reach, target_hz * reach, "Hz")


def drone_pitch(drone: Drone, air: Air | Gas | None = None, scale: Scale | None = None) -> Mode:
    """What a drone sounds.

    Parameters
    ----------
    drone : Drone
    air : Air or Gas, optional
        20 degrees C and half humid when None.
    scale : Scale, optional
        Says where to look: within a fourth of `drone_target`.

    Returns
    -------
    Mode
        The resonance of tubes and reed; its strength, Q, and how much it hangs on the tongue.

    Raises
    ------
    Refusal
        Nothing sounds there.

    Notes
    -----
    A resonance is where a very soft tone starts; the tongue of a drone that beats loudly lies off it by
    an amount that this does not know, but which tuning by ear takes out.
    """
    target = drone_target(drone, scale)
    reach = from_cents(NEAR_CENTS + 50.0)
    low, high = target / reach, target * reach
    found = find_modes(lips(drone, [drone.pattern], low, high, as_gas(air)), low, high)[0]
    mode = choose(found, target).first
    if mode is None:
        allowed = "tubes and a reed that sound within a fourth of it are needed"
        raise Refusal(f"no resonance lies near {target:.1f} Hz", allowed, drone.name)
    return mode


@dataclass(frozen=True)
class SlideCurve:
    """Sounding frequency against the slide.

    Parameters
    ----------
    gap_mm : array (n,)
        From shut to drawn out as far as it holds [mm].
    frequency : array (n,)
        [Hz]
    target_hz : float
    """

    gap_mm: np.ndarray
    frequency: np.ndarray
    target_hz: float

    @property
    def cents(self) -> np.ndarray:
        """Against the target, array (n,); positive is sharp."""
        return cents(self.frequency, self.target_hz)

    @property
    def range_cents(self) -> float:
        """From drawn out to shut [cents]."""
        return float(self.cents[0] - self.cents[-1])

    @property
    def reserve_cents(self) -> tuple[float, float]:
        """How far it can still go sharp, and flat, of the target [cents]; below 0 it does not reach it."""
        return float(self.cents[0]), float(-self.cents[-1])


def slide_curve(drone: Drone, air: Air | Gas | None = None, scale: Scale | None = None, points: int = 9) -> SlideCurve:
    """`SlideCurve` of a drone at evenly spaced positions of its slide, both ends included.

    Parameters
    ----------
    drone, air, scale
        As for `drone_pitch`, and refused as there.
    points : int
        2 to 1000.
    """
    target = drone_target(drone, scale)
    points = whole_number("points", points, 2, 1000)
    gaps = np.linspace(0.0, drone.slide.longest_mm, points)
    frequency = [drone_pitch(drone.drawn(float(gap)), air, scale).frequency for gap in gaps]
    return SlideCurve(gaps, np.array(frequency), target)


def cents_per_mm(drone: Drone, air: Air | Gas | None = None, scale: Scale | None = None) -> float:
    """How fast the pitch moves when the slide is drawn from where it stands [cents/mm]; negative.

    Parameters
    ----------
    drone, air, scale
        As for `drone_pitch`, and refused as there.
    """
    check_kind("drone", drone, Drone, "a Drone")
    slide = drone.slide
    ends = [max(slide.gap_mm - _SLOPE_MM, 0.0), min(slide.gap_mm + _SLOPE_MM, slide.longest_mm)]
    low, high = (drone_pitch(drone.drawn(gap), air, scale).frequency for gap in ends)
    return float(cents(high, low) / (ends[1] - ends[0]))


def tuned(drone: Drone, air: Air | Gas | None = None, scale: Scale | None = None, target_hz: float | None = None):
    """The same drone with its slide drawn until it sounds the target.

    Parameters
    ----------
    drone : Drone
    air, scale
        As for `drone_pitch`.
    target_hz : float, optional
        `drone_target` when None [Hz]; it must lie within a fourth of that.

    Returns
    -------
    Drone
        In tune within 0.001 cents.

    Raises
    ------
    Refusal
        The slide does not reach so far, or a target beyond a fourth.
    """
    target = within_a_fourth("target_hz", target_hz, drone_target(drone, scale))

    def off(gap: float) -> float:
        return float(cents(drone_pitch(drone.drawn(gap), air, scale).frequency, target))

    shut, out = off(0.0), off(drone.slide.longest_mm)
    if shut < 0.0 or out > 0.0:
        way = f"{-shut:.0f} cents flat when shut" if shut < 0.0 else f"{out:.0f} cents sharp when drawn out"
        allowed = "shorter tubes are needed" if shut < 0.0 else "longer tubes or a longer slide are needed"
        raise Refusal(f"it is {way}, against {target:.2f} Hz", allowed, f"{drone.name}, slide")
    return drone.drawn(float(brentq(off, 0.0, drone.slide.longest_mm, xtol=_EXACT_MM)))


@dataclass(frozen=True)
class Beat:
    """One note of a chart against one drone.

    Parameters
    ----------
    row : Row
        Of the chart.
    overtone, drone_overtone : int
        The lowest pair that falls together in the just scale.
    sounding, meant : float
        Beats per second between that pair as the note sounds (nan where nothing does), and were the note
        exactly where the chart's scale puts it.
    """

    row: Row
    overtone: int
    drone_overtone: int
    sounding: float
    meant: float


def drone_beats(chart: TuningChart, drone: Drone, drone_hz: float | None = None) -> tuple[Beat, ...]:
    """Beats of every note of a chart against a drone, slow or fast, in the chart's order.

    Parameters
    ----------
    chart : TuningChart
        In any scale; which overtones ought to meet is taken from the just scale on the same keynote.
    drone : Drone
    drone_hz : float, optional
        What it sounds; `drone_pitch` in the chart's air when None.

    Returns
    -------
    tuple of Beat
        Notes of which no overtone up to the 16th meets one of the drone's are left out.

    Raises
    ------
    Refusal
        No chart or drone; a drone that does not sound, where `drone_hz` is not given; one of less than 10 Hz.
    """
    check_kind("chart", chart, TuningChart, "a TuningChart")
    scale = chart.scale
    just = just_scale(scale.a_hz, scale.key)
    meant = drone_target(drone, scale)
    if drone_hz is None:
        drone_hz = drone_pitch(drone, chart.air, scale).frequency
    drone_hz = number("drone_hz", drone_hz, 10.0, 1e4, "Hz")
    found = []
    for row in chart.rows:
        ideal = replace(row, target_hz=just.frequency(row.note, row.octave))
        pair = beats_per_second(ideal, meant, drone_hz)
        if pair is not None:
            sounding, overtone, drone_overtone = pair
            exact = abs(overtone * row.target_hz - drone_overtone * drone_hz)
            found.append(Beat(row, overtone, drone_overtone, sounding, float(exact)))
    return tuple(found)


@dataclass(frozen=True)
class Drift:
    """How far one note and a drone move from one air to another [cents]."""

    row: Row
    note: float
    drone: float

    @property
    def apart(self) -> float:
        """The note against the drone [cents]; positive: the note has gone sharp of it."""
        return self.note - self.drone


def temperature_drift(
    pipe: Pipe,
    drone: Drone,
    before: Air,
    after: Air,
    fingerings: tuple[Fingering, ...] | None = None,
    scale: Scale | None = None,
) -> tuple[Drift, ...]:
    """How notes move against a drone that was tuned in the air before and then left alone.

    Parameters
    ----------
    pipe : Pipe
        The chanter.
    drone : Drone
    before, after : Air
    fingerings, scale
        As for `tuning_chart`.

    Returns
    -------
    tuple of Drift
        One for each note of the chart that sounds in both airs.

    Raises
    ------
    Refusal
        As for `tuning_chart` and `drone_pitch`.
    """
    one, two = (tuning_chart(pipe, fingerings, scale, air) for air in (before, after))
    low, high = (drone_pitch(drone, air, scale).frequency for air in (before, after))
    moved = float(cents(high, low))
    pairs = [(a, b) for a, b in zip(one.rows, two.rows, strict=True) if a.mode and b.mode]
    return tuple(Drift(a, float(cents(b.sounding_hz, a.sounding_hz)), moved) for a, b in pairs)
