"""Write the invented workshop's reed cards and bench log: python -m tests.bench.make_bench.

The log tells what was done with the chanter of `make_demo` after it had been played as in `make_playing`: a
suggestion was followed, the bridle not quite by what was asked, and the piper blew as before and held each note twice
within a cent and a half.  The truth stays here.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np

from acoustics.bench.actions import Plan, what_to_change
from acoustics.bench.bore_chart import GaugedChart, gauged_chart
from acoustics.bench.bore_fit import fit_bore
from acoustics.bench.heard import listen
from acoustics.bench.log import open_log
from acoustics.bench.readings import Reading, Readings, place_of
from acoustics.bench.recording import read_recording
from acoustics.bench.records import new_records
from acoustics.bench.reed_card import KnownTo, ReedCard, card_text
from acoustics.bench.reed_fit import fit_reed
from acoustics.physics.air import Air
from acoustics.pipes.bore_file import read_gauges
from acoustics.pipes.chanter import Chanter
from acoustics.pipes.design_file import read_design
from acoustics.tuning.setup import Setup
from tests.bench.make_demo import DESIGNS, STORED
from tests.bench.make_playing import BLOWN, HOLD_CENTS, TEMPERATURE_C, really
from tests.bench.make_playing import STORED as PLAYING

LOG = DESIGNS / "sallow-ford-1-log.toml"
CARDS = {number: DESIGNS / f"sallow-ford-reed-{number}.toml" for number in (1, 2, 3)}
GIVEN, SEED = 0.9, 5  # the bridle moved by so much of what was asked
DATES = ("3 May", "4 May")
MADE = {
    1: (27.0, 0.86, 1500.0, KnownTo(0.8, 0.06, 15.0, -0.97), "plays in the design of Sallow Ford 1"),
    2: (26.0, 0.82, 1540.0, KnownTo(0.8, 0.05, 15.0, -0.97), "short blades, on a staple of its own"),
    3: (27.5, 0.93, 1450.0, KnownTo(1.0, 0.07, 20.0, -0.97), "soft, for damp weather"),
}


def design() -> Chanter:
    return read_design(DESIGNS / "sallow-ford-1.toml")


def card(number: int) -> ReedCard:
    length, softness, blades, known, remark = MADE[number]
    reed = replace(design().reed, length_mm=length, softness=softness, resonance_hz=blades)
    staple = replace(design().staple, tip_mm=design().staple.tip_mm - 0.05) if number == 2 else None
    return ReedCard(f"Sallow Ford reed {number}", reed, staple, known, remark)


@cache
def first_heard() -> tuple[Readings, GaugedChart]:
    """What the recording says, and the chanter with the bore that the gauges found."""
    readings = listen(read_recording(PLAYING), temperature_c=TEMPERATURE_C).readings
    setup = Setup(design(), Air(TEMPERATURE_C), readings.scale)
    return readings, gauged_chart(setup, fit_bore(read_gauges(STORED), design=design().bore))


@cache
def first_round() -> tuple[Readings, Plan]:
    """What the recording says, and what to change, as the page finds it."""
    readings, gauged = first_heard()
    fit = fit_reed(gauged.setup, readings, pitch=BLOWN, gauged=gauged)
    return readings, what_to_change(gauged.setup, readings, fit, "scale", pitch=BLOWN)


def as_played(stiffer: float = 0.0) -> dict[tuple[str, int], float]:
    """What the chanter really plays, its reed stiffer by so much: cents of each place that lasts."""
    readings, _ = first_round()
    setup = replace(really(stiffer), scale=readings.scale)
    heard = BLOWN.heard(setup, range(len(setup.chart.rows)))
    return {place_of(one.row.fingering): one.cents for one in heard if one.lasts}


def read_again(stiffer: float) -> Readings:
    """The notes that had no flag before, once more, those that last."""
    rng, (readings, _) = np.random.default_rng(SEED), first_round()
    cents, error = as_played(stiffer), HOLD_CENTS / np.sqrt(2.0)
    places = [r.place for r in readings.sound if r.place in cents]
    made = (Reading(*place, cents[place] + rng.normal(0.0, error), round(error, 1)) for place in places)
    return Readings(tuple(made), readings.scale, TEMPERATURE_C)


def changed(stiffer: float) -> Chanter:
    """The design with the reed that was asked for."""
    reed = design().reed
    return replace(design(), reed=replace(reed, softness=round(reed.softness - stiffer, 3)))


def followed() -> int:
    """Which suggestion the workshop followed, counted from 1: the one that mends what the fit names."""
    _, plan = first_round()
    return 1 + [one.move.cause for one in plan.suggestions].index("softness")


def write_log(path) -> None:
    """The measurement with its prediction; the change with its result."""
    readings, plan = first_round()
    chosen = plan.suggestions[followed() - 1]
    asked, action = -chosen.amount, chosen.move.said(chosen.amount)
    log = open_log(path)
    for entry in new_records(log, design(), DATES[0], readings, plan, followed()):
        log = log.append(entry)
    result = read_again(GIVEN * asked)
    for entry in new_records(log, changed(asked), DATES[1], result, plan, 0, action):
        log = log.append(entry)


if __name__ == "__main__":
    for number, path in CARDS.items():
        path.write_text(card_text(card(number)), encoding="utf-8")
    LOG.unlink(missing_ok=True)
    write_log(LOG)
    print(f"{LOG.name}: {len(open_log(LOG).entries)} records")
