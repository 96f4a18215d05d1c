"""Regulators: a stopped cone against its closed form, each key's chart, tuning by place, size and pin."""

import dataclasses
import warnings
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acoustics.errors import Refusal
from acoustics.physics.air import Air
from acoustics.pipes.design_file import read_design
from acoustics.pipes.regulator import Regulator
from acoustics.pipes.set_file import read_set
from acoustics.shop.sheets import write_sheets
from acoustics.tuning.chart import tuning_chart
from acoustics.tuning.regulators import regulator_chart, stopper_curve, tune_keys, tuning_dials
from acoustics.tuning.resonances import modes
from acoustics.tuning.scales import just_scale
from acoustics.tuning.setup import Setup
from tests.pipes.sample import assert_one_sentence, sample_chanter
from tests.tuning.bench import DESIGNS, stopped_cone_apart

NAMES = ("tenor", "baritone", "bass")
NOTES = {"tenor": ["F#", "G", "A", "B", "C"], "baritone": ["D", "F#", "G", "A"], "bass": ["G", "A", "B", "C"]}


@cache
def regulator(name: str) -> Regulator:
    return read_design(DESIGNS / f"sallow-ford-{name}-regulator.toml")


# -- the closed form


@settings(max_examples=25, deadline=None)
@given(
    eye=st.floats(2.6, 6.0),
    taper=st.floats(0.008, 0.035),
    length=st.floats(250.0, 900.0),
    head=st.floats(2.0, 40.0),
)
def test_a_stopped_cone_sounds_where_its_equation_says(eye, taper, length, head):
    assert stopped_cone_apart(eye, eye + taper * length, length, head) < 0.01


# -- the demo regulators


@pytest.mark.parametrize("name", NAMES)
def test_every_key_of_the_demo_regulators_lies_within_8_cents(name):
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        chart = regulator_chart(regulator(name))
    assert [row.note for row in chart.rows] == NOTES[name]
    assert np.max(np.abs(chart.cents)) <= 8.0
    octave = 0 if name == "bass" else 1
    assert [row.target_hz for row in chart.rows] == [just_scale().frequency(note, octave) for note in NOTES[name]]


@pytest.mark.parametrize("name", NAMES)
def test_the_chart_is_each_key_opened_alone(name):
    pipe = regulator(name)
    chart = regulator_chart(pipe)
    for row, fingering in zip(chart.rows, pipe.fingerings, strict=True):
        assert row.fingering.open_holes == ((row.note, 1.0),)
        assert row.sounding_hz == pytest.approx(modes(pipe, fingering).first.frequency, rel=1e-9)
    assert tuning_chart(pipe).rows == chart.rows
    assert Setup(pipe).chart.rows == chart.rows


def test_the_stopper_matters_and_wood_beyond_it_does_not_exist():
    pipe = regulator("tenor")
    nearer, farther = (regulator_chart(pipe.stopped(336.0 + by)).cents for by in (-5.0, 5.0))
    here = regulator_chart(pipe).cents
    assert np.all(nearer > here)
    assert np.all(here > farther)


def test_the_stoppers_curve_is_the_chart_with_the_stopper_there():
    pipe = regulator("tenor")
    curve = stopper_curve(pipe, (-4.0, 0.0, 3.0))
    for row, by in zip(curve, (-4.0, 0.0, 3.0), strict=True):
        np.testing.assert_array_equal(row, regulator_chart(pipe.stopped(pipe.bore.length_mm + by)).cents)
    assert np.all(np.diff(curve, axis=0) < 0.0)


def test_an_octave_lower_only_moves_the_target():
    pipe = dataclasses.replace(regulator("bass"), octaves_below=0)
    lower = regulator_chart(regulator("bass"))
    targets = [fingering.octave for fingering in pipe.fingerings]
    assert targets == [1] * 4
    assert all(row.target_hz * 2 == just_scale().frequency(row.note, 1) for row in lower.rows)


def test_the_chart_says_itself():
    chart = regulator_chart(regulator("bass"))
    for row in chart.rows:
        key = chart.regulator.hole(row.note)
        line = f"{row.note:5}{key.position_mm:8.1f}{key.diameter_mm:9.2f}{key.lift_mm:9.1f}{row.target_hz:9.1f}"
        assert f"{line}{row.sounding_hz:9.1f}" in str(chart)
        assert f"<td>{row.sounding_hz:.1f}</td>" in chart._repr_html_()
    worst = chart.rows[int(np.argmax(np.abs(chart.cents)))]
    assert chart.summary.startswith("4 of 4 keys lie within 5 cents; the worst is " + worst.note)


def test_a_key_that_does_not_sound_is_said_so():
    pipe = regulator("bass")
    low = dataclasses.replace(pipe, octaves_below=1, key="D", holes=[dataclasses.replace(pipe.hole("G"), name="D")])
    chart = regulator_chart(low)
    assert chart.rows[0].mode is None
    assert "none" in str(chart)
    assert chart.summary == "Nothing sounds near D."


@pytest.mark.parametrize("pipe", [sample_chanter(), None, "tenor"])
def test_what_is_no_regulator(pipe):
    with pytest.raises(Refusal) as caught:
        regulator_chart(pipe)
    assert_one_sentence(caught.value, "regulator: ")


def test_no_keys_no_chart():
    with pytest.raises(Refusal) as caught:
        regulator_chart(dataclasses.replace(regulator("bass"), holes=()))
    assert_one_sentence(caught.value, "fingerings: the list of fingerings is empty")


# -- tuning


@pytest.mark.parametrize("way", ["position", "size"])
def test_keys_put_out_of_tune_are_brought_back(way):
    pipe = regulator("baritone")
    field, by = {"position": ("position_mm", 2.0), "size": ("diameter_mm", -0.4)}[way]
    holes = [dataclasses.replace(key, **{field: getattr(key, field) + by}) for key in pipe.holes]
    off = dataclasses.replace(pipe, holes=holes)
    assert np.max(np.abs(regulator_chart(off).cents)) > 4.0
    found = tune_keys(off, way)
    assert found.worst_cents < 0.1
    assert isinstance(found.setup.pipe, Regulator)
    np.testing.assert_array_equal(regulator_chart(found.setup.pipe).cents, found.chart.cents)


def test_a_pin_moves_all_keys_at_once_and_helps_as_far_as_it_can():
    pipe = regulator("tenor").stopped(341.0)
    before = float(np.sqrt(np.mean(regulator_chart(pipe).cents ** 2)))
    found = tune_keys(pipe, "pin")
    assert found.setup.pipe.rush.foot_mm == 341.0
    assert found.rms_cents < 0.7 * before
    again = tune_keys(found.setup.pipe, "pin")
    assert again.rms_cents <= found.rms_cents + 0.01


@pytest.mark.parametrize("by", [-6.0, 7.0])
def test_a_stopper_that_was_moved_goes_back(by):
    pipe = regulator("tenor")
    moved = pipe.stopped(336.0 + by)
    assert np.max(np.abs(regulator_chart(moved).cents)) > 5.0
    found = tune_keys(moved, "stopper")
    assert found.setup.pipe.bore.length_mm == pytest.approx(336.0, abs=0.15)
    assert found.rms_cents <= float(np.sqrt(np.mean(regulator_chart(pipe).cents ** 2))) + 0.01


def test_a_way_that_is_not_known():
    with pytest.raises(Refusal) as caught:
        tuning_dials(Setup(regulator("bass")), "reed")
    assert_one_sentence(caught.value, "way: 'reed' is not a way of tuning")


def test_warm_air_moves_every_key_up_about_as_a_chanters_note():
    cold, warm = (regulator_chart(regulator("bass"), None, Air(t)).cents for t in (15.0, 25.0))
    np.testing.assert_allclose(warm - cold, 1200 * np.log2(Air(25.0).sound_speed / Air(15.0).sound_speed), atol=3.0)


# -- the bench


@pytest.mark.parametrize("name", NAMES)
def test_sheets_for_the_bench(name, tmp_path):
    written = write_sheets(regulator(name), tmp_path, "1 May", formats=("svg",))
    assert {path.name.split("regulator-")[1][0] for path in written} == set("123456")
    holes = "".join(path.read_text(encoding="utf-8") for path in written if "3-holes" in path.name)
    for key in regulator(name).holes:
        assert f"{key.position_mm:.1f}" in holes
        assert f"{key.pad_diameter_mm:.2f}" in holes


def test_the_demo_set_holds_them():
    pipes = read_set(DESIGNS / "sallow-ford-set.toml")
    assert pipes.regulators == tuple(regulator(name) for name in NAMES)
