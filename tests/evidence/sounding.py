"""Rows on drones, on the reed as a valve, and on the pitch as it is played."""

from __future__ import annotations

from functools import cache

import numpy as np
from scipy.optimize import brentq, minimize_scalar

from acoustics.physics.balance import Balance
from acoustics.physics.valve import Valve
from acoustics.tuning.drones import drone_beats, drone_pitch, drone_target
from acoustics.tuning.load import loads
from acoustics.tuning.onset import Onset, speaking
from acoustics.tuning.played import DEMO_VALVE, PRESSURE_FIRST, PRESSURE_SECOND
from acoustics.units import cents
from tests.physics.simple import DRY, LOSSLESS
from tests.references import axisymmetric
from tests.references.reed_time import fitted, grows_at, settle
from tests.tuning.bench import bench
from tests.tuning.test_drones import OPEN, C, chart, closed_form, drone, pressure_node_modes, rigid

from . import row

STRAIGHT = "stepped tubes, no losses"
VALVE_LAW, WILSON = "slit that shuts, no memory", "Wilson and Beavers 1974, from memory"
GAS = bench().air.gas


@row("drone: pitch", "chain of two-ports", "this package", STRAIGHT, "tangents and mode-matched steps", "cents", 0.05)
def _():
    def off(pipe):
        here = drone_pitch(pipe, LOSSLESS).frequency
        exact = brentq(lambda f: closed_form(pipe, f), 0.9995 * here, 1.0005 * here, xtol=1e-7)
        return abs(float(cents(here, exact)))

    return max(off(OPEN[name]()) for name in ("tenor", "tenor, soft", "baritone"))


@row("drone: pitch", "chain of two-ports", "this package", STRAIGHT, "finite elements (scikit-fem)", "cents", 0.05)
def _():
    def off(name, gap):
        pipe = rigid(drone(name).drawn(gap))
        pieces = [(pipe.reed.length_mm * 1e-3, np.sqrt(pipe.reed.area_mm2 / np.pi) * 1e-3)]
        pieces += [(s.length_mm * 1e-3, s.diameter_mm * 0.5e-3) for s in pipe.stretches if s.length_mm > 0]
        field = axisymmetric.stepped_modes(pieces, C, 1, 0.06)[0]
        return abs(float(cents(pressure_node_modes(pipe, 0.95 * field, 1.05 * field), field)))

    return max(off("tenor", 0.0), off("tenor", 4.0), off("baritone", 29.0))


@row("drone: what it is meant to sound", "keynote, octaves below", "ISO 16:1975", "A 300 to 600 Hz",
     "D4, D3 and D2, by hand", "cents", 1e-9)  # fmt: skip
def _():
    names = ("tenor", "baritone", "bass")
    return max(
        abs(float(cents(drone_target(drone(name)), 440.0 * 2.0 ** (-7 / 12 - octave))))
        for octave, name in enumerate(names)
    )


@row("drone and chanter: beats", "overtones that nearly meet", "this package", "a drone in tune",
     "equal temperament, by hand", "beats a second", 1e-9)  # fmt: skip
def _():
    keynote = 440.0 * 2.0 ** (-7 / 12)
    found = {(b.row.note, b.row.octave): b.meant for b in drone_beats(chart("equal"), drone("tenor"), keynote)}
    third, fifth = 440.0 * 2.0 ** (-3 / 12), 440.0
    return max(abs(found["F#", 1] - abs(4 * third - 5 * keynote)), abs(found["A", 1] - abs(2 * fifth - 3 * keynote)))


@row("valve: pressure of the largest flow", VALVE_LAW, WILSON, "corners rounded as in use",
     "a third of the closing pressure", "%", 0.5)  # fmt: skip
def _():
    valve = Valve(1.5, 8000.0)
    best = minimize_scalar(lambda p: -valve.flow(p, DRY), bounds=(500.0, 7900.0), method="bounded")
    return 100 * abs(best.x / (8000.0 / 3.0) - 1)


@row("valve: largest flow", VALVE_LAW, WILSON, "corners rounded as in use", "closed form, 66.5 mL/s", "%", 0.5)
def _():
    best = Valve(1.5, 8000.0).flow(8000.0 / 3.0, DRY)
    return 100 * abs(float(best) / (2.0 / 3.0 * 1.5e-6 * np.sqrt(2.0 * 8000.0 / (3.0 * DRY.density))) - 1)


@row("onset: no losses", "conductance against loss", WILSON, "corners rounded as in use",
     "a third of the closing pressure", "%", 0.5)  # fmt: skip
def _():
    return 100 * abs(Valve(1.5, 8000.0).threshold(0.0, DRY) / (8000.0 / 3.0) - 1)


@row("onset: with losses", "conductance against loss", WILSON, "corners rounded as in use",
     "the textbook's equation (Chaigne and Kergomard 2016)", "%", 0.5)  # fmt: skip
def _():
    def off(zeta, peak):
        """`peak` is the impedance's over the characteristic one; the equation is a quadratic in sqrt(gamma)."""
        characteristic = zeta * DRY.density / (1.5e-6 * np.sqrt(2.0 * DRY.density / 8000.0))
        gamma = Valve(1.5, 8000.0).threshold(1.0 / (peak * characteristic), DRY) / 8000.0
        return abs(gamma / np.max(np.roots([3.0, -2.0 / (zeta * peak), -1.0])) ** 2 - 1)

    return 100 * max(off(0.3, 10.92), off(0.1, 20.0), off(0.8, 3.0))


@cache
def _spoken(note: str, register: int):
    """The onset of a note of the demo chanter and what the lips see under its fingering."""
    found = [s for s in speaking(bench(), DEMO_VALVE) if (s.row.note, s.row.fingering.register) == (note, register)]
    return found[0].own, loads(bench().pipe, [found[0].row.fingering.pattern], GAS)[0]


@cache
def _modal(note: str, register: int):
    """The impedance at the lips as a sum of modes, in units of the valve."""
    _, load = _spoken(note, register)
    frequency = np.concatenate([np.arange(40, 1000, 5.0), np.arange(1000, 3000, 10.0), np.arange(3000, 14000, 25.0)])
    return fitted(frequency, DEMO_VALVE.unit(GAS) / DEMO_VALVE.closing_pressure / load(frequency)[0])


def _turns(note: str, register: int) -> tuple[Onset, float, float]:
    """The onset, and (share of its pressure, frequency) where the time domain's eigenvalue begins to grow."""
    own, _ = _spoken(note, register)

    def nearest(share):
        slope = float(DEMO_VALVE.law(share * own.pressure / DEMO_VALVE.closing_pressure)[1])
        growth, frequency = grows_at(_modal(note, register), slope)
        at = np.argmin(np.abs(frequency - own.frequency))
        return growth[at], frequency[at]

    share = brentq(lambda s: nearest(s)[0], 0.99, 1.01)
    return own, share, float(nearest(share)[1])


CASES = [("G", 1), ("G", 2), ("F#", 1), ("A", 2)]
EIGEN = "eigenvalues in the time domain"


@row("onset of notes: pressure", "where the still reed turns unstable", WILSON, "small tones", EIGEN, "%", 0.2)
def _():
    return 100 * max(abs(_turns(*case)[1] - 1) for case in CASES)


@row("onset of notes: pitch", "the resonance at the lips", WILSON, "small tones", EIGEN, "cents", 0.1)
def _():
    return max(abs(float(cents(frequency, own.frequency))) for own, _, frequency in (_turns(*case) for case in CASES))


@cache
def _played():
    """Two loud tones by harmonic balance, and (frequency, fundamental, rms) of the same in the time domain."""
    cases, tones = [(("G", 1), PRESSURE_FIRST), (("G", 2), PRESSURE_SECOND)], []
    for case, pressure in cases:
        start, load = _spoken(*case)
        tones.append(Balance(load, DEMO_VALVE, GAS, 24).play(start.frequency, start.pressure, pressure))
    heard = settle(
        [_modal(*case) for case, _ in cases],
        lambda x: DEMO_VALVE.law(x)[0],
        [tone.mouth_pressure / DEMO_VALVE.closing_pressure for tone in tones],
        [tone.frequency for tone in tones],
        [0.9 * tone.flow / DEMO_VALVE.unit(GAS) for tone in tones],
        0.05,
        0.05,
    )
    return tones, heard


BALANCE, GILBERT = "harmonic balance, 24 overtones", "Gilbert et al. 1989, from memory"
IN_TIME = "the same valve and pipe in the time domain"


@row("played tone: pitch", BALANCE, GILBERT, "steady tones that last", IN_TIME, "cents", 2.0)
def _():
    return max(abs(float(cents(there[0], tone.frequency))) for tone, there in zip(*_played(), strict=True))


@row("played tone: fundamental", BALANCE, GILBERT, "steady tones that last", IN_TIME, "%", 3.0)
def _():
    size = [abs(tone.pressure[0]) / DEMO_VALVE.closing_pressure for tone in _played()[0]]
    return 100 * max(abs(there[1] / one - 1) for one, there in zip(size, _played()[1], strict=True))


@row("played tone: power", BALANCE, GILBERT, "steady tones", "valve's power at 20 001 points of time", "relative", 1e-6)
def _():
    def off(case, pressure):
        start, load = _spoken(*case)
        tone = Balance(load, DEMO_VALVE, GAS, 12).play(start.frequency, start.pressure, pressure)
        wave = tone.waveform(20001)
        given = np.mean(wave * DEMO_VALVE.flow(tone.mouth_pressure - wave, GAS))
        admittance = load(np.arange(1, 13) * tone.frequency)[0]
        return abs(given / (0.5 * np.sum(admittance.real * np.abs(tone.pressure) ** 2)) - 1)

    return max(off(("G", 1), PRESSURE_FIRST), off(("A", 2), PRESSURE_SECOND))
