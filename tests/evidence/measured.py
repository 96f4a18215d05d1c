"""Rows on what comes back from the bench: gauges, recordings, readings; each against an invented truth."""

from __future__ import annotations

import warnings
from functools import cache

import numpy as np

from acoustics.bench.drone_lines import find_drones
from acoustics.bench.pitch import refine
from acoustics.units import cents, from_cents
from acoustics.validity import OutsideRange
from tests.bench.simulated import fitted_reeds, in_errors
from tests.bench.synthetic import KEYNOTE_HZ, Note, sung, take, tune
from tests.bench.test_bore_fit import case, chart_errors, inside, off, rms
from tests.bench.test_heard import RATE, compare, drone_set, heard, scale_run

from . import row

PROCESS = "smooth curve through the gauges"
GAUGES = "gauges 0.1 mm apart from both ends, read to 0.5 mm"
BORES = "4 invented bores with steps, patches and chatter"


@row("bore from gauges: diameter, RMS", PROCESS, "own model", GAUGES, BORES, "mm", 0.03)
def _():
    return max(rms(off(bore, fit)) for bore, _, fit in map(case, range(5000, 5004)))


@row("bore from gauges: places outside the 95 % band", PROCESS, "own model", GAUGES, BORES, "% of places", 10.0)
def _():
    return 100 * float(np.mean([1.0 - inside(bore, fit).mean() for bore, _, fit in map(case, range(5000, 5004))]))


@row("bore from gauges: its chart, RMS over the notes", "the above, charted", "as above", GAUGES,
     "charts of 3 invented bores themselves", "cents", 3.0)  # fmt: skip
def _():
    return max(rms(chart_errors(seed)[0]) for seed in range(6000, 6003))


TRACKER = "phases of the overtones"
TUNE = "invented tune with ornaments and vibrato"


@row("recording: mean pitch through vibrato", TRACKER, "own model", "notes of 0.4 s and more",
     "invented notes, 10 and 25 cents to each side", "cents", 0.3)  # fmt: skip
def _():
    def off(wide, fast):
        note = sung(Note(440.0, 0.8, wide, fast), 12000, np.random.default_rng(4))
        return abs(float(cents(refine(note[1200:-600], 12000, 442.0).hz, 440.0)))

    return max(off(10.0, 5.0), off(25.0, 6.3))


def _heard(seed: int, seconds: float, drones=()):
    """RMS error of the clear notes of an invented tune [cents]; infinite when a note is missed or misnamed."""
    played = take(tune(seed, seconds), seed, RATE, drones)
    error, _, missed, wrong = compare(played, heard(played))
    return np.inf if missed or wrong else rms(error)


@row("recording: pitch of notes, RMS", TRACKER, "own model", "notes of 0.4 s and more", f"{TUNE}, 12 s", "cents", 0.5)
def _():
    return _heard(103, 12.0)


@row("recording: pitch of notes over drones, RMS", "drones fitted and taken away", "own model",
     "notes 20 cents off the drones' overtones", f"{TUNE} over three drones, 15 s", "cents", 1.0)  # fmt: skip
def _():
    return _heard(101, 15.0, drone_set(101))


@row("recording: pitch of the bass drone", "lines that never stop", "own model", "recordings of 8 s and more",
     "invented drone under a scale", "cents", 0.5)  # fmt: skip
def _():
    true = KEYNOTE_HZ / 4.0 * from_cents(4.0)
    played = take(scale_run(seconds=0.5), 8, RATE, [true])
    return abs(float(cents(find_drones(played.samples, RATE, KEYNOTE_HZ).base_hz, true)))


@cache
def _reeds():
    """Errors of the fitted numbers over those stated, (10, 3)."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", OutsideRange)
        return in_errors(*fitted_reeds(10))


REED, DRAWN = "least squares on the chart", "10 invented reeds, 14 readings within 3 cents"


@row("reed from readings: farthest number, in standard errors", REED, "own model", "the bore and holes are known",
     DRAWN, "standard errors", 4.0)  # fmt: skip
def _():
    return float(np.max(np.abs(_reeds())))


@row("reed from readings: standard errors", REED, "own model", "the bore and holes are known",
     "how far 10 invented reeds' numbers scatter", "%", 50.0)  # fmt: skip
def _():
    return 100 * abs(rms(_reeds()) - 1.0)
