"""What is given where something else is asked for, a file's name above all, is said in one sentence."""

import numpy as np
import pytest

import acoustics as ac
from acoustics.errors import Refusal
from tests.pipes.sample import assert_one_sentence
from tests.tuning.bench import bench, demo

READINGS = ac.typed_readings("A 1 +4; B 1 3; D 1 2; E 1 3; G 1 2")
WRONG = {
    "a file's name to listen to": (lambda: ac.listen("x.wav", temperature_c=20.0), "recording: 'x.wav' stands there"),
    "a file's name to fit": (lambda: ac.fit_bore("x.csv"), "gauges: 'x.csv' stands there"),
    "no fit beside the design": (lambda: ac.as_cut(demo().bore, demo().bore), "fit: Bore("),
    "a file's name for a reed": (lambda: ac.which_reed_suits(bench(), ["x.toml"]), "cards 1: 'x.toml' stands there"),
    "a chanter for a setup": (lambda: ac.what_to_change(demo(), READINGS), "setup: Chanter("),
    "text for readings": (lambda: ac.what_to_change(bench(), "A 1 +4"), "readings: 'A 1 +4' stands there"),
    "a chart for readings": (lambda: ac.fit_reed(bench(), bench().chart.cents), "readings: "),
    "keys of a chanter": (lambda: ac.tune_keys(demo()), "regulator: Chanter("),
}


@pytest.mark.parametrize(("ask", "start"), WRONG.values(), ids=WRONG)
def test_another_thing(ask, start):
    with np.printoptions(threshold=3), pytest.raises(Refusal) as caught:
        ask()
    assert_one_sentence(caught.value, start)
