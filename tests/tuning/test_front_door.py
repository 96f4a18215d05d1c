"""What is given where a pipe, a setup, a chart or a number is asked for is said in one sentence."""

import numpy as np
import pytest

import acoustics as ac
from acoustics.errors import Refusal
from acoustics.pipes.fingering import TIGHT
from tests.pipes.broken_regulators import sample_regulator
from tests.pipes.sample import assert_one_sentence
from tests.pipes.test_set_file import sample_set
from tests.tuning.bench import bench, demo

TENOR, VALVE, NAN = sample_set().drones[0], ac.Valve(0.6, 6800.0), float("nan")
EYE = {"eye": ac.DIALS["eye"]}
WRONG = {
    "a file's name to chart": (lambda: ac.tuning_chart("x.toml"), "pipe: 'x.toml' stands there"),
    "a setup to chart": (lambda: ac.tuning_chart(bench()), "pipe: Setup("),
    "modes of a setup": (lambda: ac.modes(bench(), TIGHT[0]), "pipe: Setup("),
    "impedance of a setup": (lambda: ac.input_impedance(bench(), 300.0), "pipe: Setup("),
    "a wave in a bore": (lambda: ac.standing_wave(demo().bore, 300.0), "pipe: Bore("),
    "a wave by a word": (lambda: ac.standing_wave(demo(), 300.0, step_mm="2"), "step_mm: '2' is not a number"),
    "a chanter for a drone": (lambda: ac.drone_pitch(demo()), "drone: Chanter("),
    "a chanter's slide": (lambda: ac.cents_per_mm(demo()), "drone: Chanter("),
    "one point of a slide": (lambda: ac.slide_curve(TENOR, points=1), "points: 1 is out of bounds"),
    "a drone tuned to nothing": (lambda: ac.tuned(TENOR, target_hz=NAN), "target_hz: nan is not a finite number"),
    "a drone tuned an octave off": (lambda: ac.tuned(TENOR, target_hz=150.0), "target_hz: 150 is out of bounds"),
    "beats of a pipe": (lambda: ac.drone_beats(demo(), TENOR), "chart: Chanter("),
    "beats with no pitch": (lambda: ac.drone_beats(bench().chart, TENOR, 0.0), "drone_hz: 0 is out of bounds"),
    "a set tuned to nothing": (lambda: ac.agreement(sample_set(), keynote_hz=NAN), "keynote_hz: nan is not"),
    "a set tuned elsewhere": (lambda: ac.agreement(sample_set(), keynote_hz=440.0), "keynote_hz: 440 is out"),
    "stopper moved by words": (lambda: ac.stopper_curve(sample_regulator(), "ab"), "moves_mm: 'a' is not a number"),
    "stopper moved by one number": (lambda: ac.stopper_curve(sample_regulator(), 3.0), "moves_mm: 3 stands there"),
    "half an overtone": (lambda: ac.played_chart(bench(), harmonics=8.5), "harmonics: 8.5 is not a whole number"),
    "lips by a word": (lambda: ac.Played("v"), "valve: 'v' stands there"),
    "a word for draws": (lambda: ac.tolerance_spread(bench(), draws="many"), "draws: 'many' is not a number"),
    "tolerances by name": (lambda: ac.tolerance_spread(bench(), ("eye",)), "tolerances: 'eye' stands there"),
    "a chanter to search": (lambda: ac.search(demo(), EYE), "setup: Chanter("),
    "no start": (lambda: ac.search(bench(), EYE, starts=0), "starts: 0 is out of bounds"),
    "weights that are none": (lambda: ac.search(bench(), EYE, weights=[NAN] * len(TIGHT)), "search: targets and"),
    "a word for rules": (lambda: ac.search(bench(), EYE, rules="none"), "rules: 'none' stands there"),
    "a chanter to snap": (lambda: ac.snap(demo(), EYE, [5.0]), "setup: Chanter("),
    "no drills": (lambda: ac.snap(bench(), EYE, None), "drill sizes: None stands there"),
    "a chanter's hole": (lambda: ac.hole_dials(demo(), "A"), "setup: Chanter("),
    "a chanter's stations": (lambda: ac.station_dials(demo()), "setup: Chanter("),
    "stations' reach": (lambda: ac.station_dials(bench(), "1"), "reach_mm: '1' is not a number"),
    "advice on a setup": (lambda: ac.advice(bench(), "A, first octave", 3.0), "sensitivity: Setup("),
    "advice on no cents": (lambda: ac.advice(ac.sensitivities(bench()), "A, first octave", NAN), "cents: nan is not"),
    "a setup to sum up": (lambda: ac.summary(bench()), "chart: Setup("),
    "two setups to compare": (lambda: ac.compare(bench(), bench()), "chart: Setup("),
    "windows of a chart": (lambda: ac.windows(bench(), VALVE, bench().chart.rows), "rows: Row("),
    "attacks of a chart": (lambda: ac.attacks(bench(), VALVE, bench().chart.rows), "rows: Row("),
    "an attack before its time": (lambda: ac.attacks(bench(), VALVE, (), rise=-0.1), "rise: -0.1 is out of bounds"),
    "voices at no pressure": (
        lambda: ac.voices(bench(), VALVE, bench().chart.rows[0], NAN),
        "mouth_pressure: nan is not a finite number",
    ),
    "voices of a note": (lambda: ac.voices(bench(), VALVE, "A", 3600.0), "row: 'A' stands there"),
    "a hole without a name": (lambda: ac.Fingering("D", 1, {3: 1.0}), "fingering of D: a hole's name is not text"),
    "a list for a key": (lambda: ac.Scale("mine", [1.0] * 12, key=["D"]), "key: ['D'] is not a key"),
}


@pytest.mark.parametrize(("ask", "start"), WRONG.values(), ids=WRONG)
def test_another_thing(ask, start):
    with np.printoptions(threshold=3), pytest.raises(Refusal) as caught:
        ask()
    assert_one_sentence(caught.value, start)
