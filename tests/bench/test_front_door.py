"""What is given where something else is asked for, a file's name above all, is said in one sentence."""

import numpy as np
import pytest

import acoustics as ac
from acoustics.errors import Refusal
from acoustics.pipes.fingering import own_fingerings
from tests.pipes.broken_regulators import sample_regulator
from tests.pipes.sample import assert_one_sentence
from tests.pipes.test_set_file import sample_set
from tests.tuning.bench import bench, demo

READINGS = ac.typed_readings("A 1 +4; B 1 3; D 1 2; E 1 3; G 1 2")
AIR, SCALE, VALVE = ac.Air(), ac.equal_scale(), ac.Valve(0.6, 6800.0)
WRONG = {
    "a file's name to listen to": (lambda: ac.listen("x.wav", temperature_c=20.0), "recording: 'x.wav' stands there"),
    "a file's name to fit": (lambda: ac.fit_bore("x.csv"), "gauges: 'x.csv' stands there"),
    "no fit beside the design": (lambda: ac.as_cut(demo().bore, demo().bore), "fit: Bore("),
    "a file's name for a reed": (lambda: ac.which_reed_suits(bench(), ["x.toml"]), "cards 1: 'x.toml' stands there"),
    "a chanter for a setup": (lambda: ac.what_to_change(demo(), READINGS), "setup: Chanter("),
    "text for readings": (lambda: ac.what_to_change(bench(), "A 1 +4"), "readings: 'A 1 +4' stands there"),
    "a chart for readings": (lambda: ac.fit_reed(bench(), bench().chart.cents), "readings: "),
    "pressures for a pitch": (lambda: ac.fit_reed(bench(), READINGS, pitch=(3.6, 5.0)), "pitch: (3.6, 5.0) stands"),
    "a pressure for a pitch": (lambda: ac.what_to_change(bench(), READINGS, pitch=3.6), "pitch: 3.6 stands there"),
    "scale and air of a chart": (lambda: ac.tuning_chart(demo(), None, AIR, SCALE), "scale: Air("),
    "an air for a chart's fingerings": (lambda: ac.tuning_chart(demo(), AIR), "fingerings: Air("),
    "a scale for an air": (lambda: ac.tuning_chart(demo(), air=SCALE), "air: Scale("),
    "notes for fingerings": (lambda: ac.tuning_chart(demo(), ["D", "E"]), "fingerings: 'D' stands there"),
    "a note for a fingering": (lambda: ac.modes(demo(), "D"), "fingering: 'D' stands there"),
    "air and scale of modes": (lambda: ac.modes(demo(), own_fingerings(demo())[0], SCALE, AIR), "scale: Air("),
    "air of a mode": (lambda: ac.modes(demo(), own_fingerings(demo())[0], 20.0), "air: 20 stands there"),
    "scale and air of a setup": (lambda: ac.Setup(demo(), SCALE, AIR), "air: Scale("),
    "scale of a setup": (lambda: ac.Setup(demo(), AIR, "just"), "scale: 'just' stands there"),
    "air and scale of a drone": (lambda: ac.drone_pitch(sample_set().drones[0], SCALE, AIR), "scale: Air("),
    "air of a slide": (lambda: ac.cents_per_mm(sample_set().drones[0], 20.0), "air: 20 stands there"),
    "scale and air of a regulator": (lambda: ac.regulator_chart(sample_regulator(), AIR, SCALE), "scale: Air("),
    "scale and air of its keys": (lambda: ac.tune_keys(sample_regulator(), "size", AIR, SCALE), "air: Scale("),
    "air and scale of a set": (lambda: ac.agreement(sample_set(), SCALE, AIR), "air: Scale("),
    "air of an impedance": (lambda: ac.input_impedance(demo(), 300.0, air=SCALE), "air: Scale("),
    "no pipe for a setup": (lambda: ac.Setup("chanter.toml"), "base: 'chanter.toml' stands there"),
    "a chanter to draw": (lambda: ac.tolerance_spread(demo()), "setup: Chanter("),
    "a chanter for rivals": (lambda: ac.model_spread(demo()), "setup: Chanter("),
    "a chanter's bore": (lambda: ac.bore_sensitivity(demo()), "setup: Chanter("),
    "a chanter's moves": (lambda: ac.sensitivities(demo()), "setup: Chanter("),
    "a chanter to play": (lambda: ac.played_chart(demo()), "setup: Chanter("),
    "a pressure for a valve": (lambda: ac.played_chart(bench(), 3600.0), "valve: 3600 stands there"),
    "windows of a chanter": (lambda: ac.windows(demo(), VALVE, ()), "setup: Chanter("),
    "a chanter from rest": (lambda: ac.attacks(demo(), VALVE, ()), "setup: Chanter("),
    "voices of a chanter": (lambda: ac.voices(demo(), VALVE, bench().chart.rows[0], 3600.0), "setup: Chanter("),
    "a design for a fit": (lambda: ac.what_to_change(bench(), READINGS, demo()), "fit: Chanter("),
    "a design on the bench": (lambda: ac.gauged_chart(demo(), None), "setup: Chanter("),
    "a word for a number": (lambda: ac.what_to_change(bench(), READINGS, most="3"), "most: '3' is not a number"),
    "keys of a chanter": (lambda: ac.tune_keys(demo()), "regulator: Chanter("),
}


@pytest.mark.parametrize(("ask", "start"), WRONG.values(), ids=WRONG)
def test_another_thing(ask, start):
    with np.printoptions(threshold=3), pytest.raises(Refusal) as caught:
        ask()
    assert_one_sentence(caught.value, start)
