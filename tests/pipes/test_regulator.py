"""The regulator: a chanter's parts stopped at the foot, its file, and what it refuses."""

import dataclasses
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acoustics.errors import Refusal
from acoustics.pipes.chanter import Chanter
from acoustics.pipes.design_file import design_text, read_design, write_design
from acoustics.pipes.design_words import REGULATOR_COMMENTS
from acoustics.pipes.fingering import NOTES, OPEN, TIGHT, never_opened, own_fingerings
from acoustics.pipes.holes import Key, ToneHole
from acoustics.pipes.regulator import Regulator

from .broken_regulators import REGULATOR, REGULATORS, sample_regulator
from .sample import assert_one_sentence, sample_chanter
from .strategies import chanters
from .test_broken_files import assert_said, damaged, loads_or_refuses

DESIGNS = Path(__file__).parents[2] / "notebooks" / "designs"


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("regulators")


@st.composite
def regulators(draw):
    """A random chanter whose keys, named anew, become those of a regulator."""
    base = draw(chanters())
    keys = [hole for hole in base.holes if isinstance(hole, Key)]
    names = draw(st.permutations(NOTES))
    holes = [dataclasses.replace(key, name=name) for key, name in zip(keys, names, strict=False)]
    own = {field.name: getattr(base, field.name) for field in dataclasses.fields(base)}
    return Regulator(**own | {"holes": holes, "octaves_below": draw(st.integers(0, 1))})


@settings(max_examples=60, deadline=None)
@given(pipe=regulators())
def test_any_regulator_comes_back_exactly(folder, pipe):
    path = folder / "regulator.toml"
    write_design(pipe, path, overwrite=True)
    assert read_design(path) == pipe
    assert type(read_design(path)) is Regulator


@settings(max_examples=120, deadline=None)
@given(text=damaged(REGULATOR))
def test_damaged_regulators(folder, text):
    loads_or_refuses(folder, text.encode("utf-8", "replace"), read_design, write_design)


@pytest.mark.parametrize(("text", "start", "fragment"), REGULATORS.values(), ids=REGULATORS)
def test_broken_regulator(tmp_path, monkeypatch, text, start, fragment):
    monkeypatch.chdir(tmp_path)
    assert_said(read_design, "m.toml", text.encode(), start, fragment)


@pytest.mark.parametrize("name", ["tenor", "baritone", "bass"])
def test_the_demo_files_are_as_the_package_writes_them(name):
    path = DESIGNS / f"sallow-ford-{name}-regulator.toml"
    assert design_text(read_design(path)) == path.read_text(encoding="utf-8")
    assert read_design(path).name == f"Sallow Ford {name} regulator"


def test_every_field_stands_in_the_file():
    written = tomllib.loads(REGULATOR)
    fields = {field.name for field in dataclasses.fields(Regulator)} - {"holes"}
    assert set(written) == {"form", "version", "hole"} | fields
    assert all(table["kind"] == "key" for table in written["hole"])
    assert REGULATOR.count(REGULATOR_COMMENTS["octaves_below"]) == 1


def test_each_key_is_opened_alone_with_the_foot_shut():
    played = sample_regulator().fingerings
    assert [f.note for f in played] == ["G", "A", "C"]
    assert all(f.open_holes == ((f.note, 1.0),) and f.foot == "shut" for f in played)
    assert {(f.octave, f.register) for f in played} == {(0, 1)}
    higher = dataclasses.replace(sample_regulator(), octaves_below=0)
    assert {(f.octave, f.register) for f in higher.fingerings} == {(1, 1)}
    assert own_fingerings(higher) == higher.fingerings
    assert own_fingerings(sample_chanter()) == TIGHT


@pytest.mark.parametrize("patterns", [TIGHT, OPEN])
def test_a_hole_that_no_fingering_knows_is_named(patterns):
    names = [side.name for side in sample_chanter().side_holes]
    assert never_opened(patterns, names) == ()
    assert never_opened(patterns, ["thumb", *names, "G hole"]) == ("thumb", "G hole")
    assert never_opened((), names) == tuple(names)


def test_the_air_is_that_of_a_chanter_of_the_same_parts():
    mine = sample_regulator()
    own = {field.name: getattr(mine, field.name) for field in dataclasses.fields(Chanter)}
    same = Chanter(**own)
    x = np.linspace(1.0, 800.0, 300)
    np.testing.assert_array_equal(mine.path.cross_section(x), same.path.cross_section(x))
    assert mine.side_holes == same.side_holes
    assert mine.head is mine.reed


@pytest.mark.parametrize(
    ("change", "start"),
    [
        ({"holes": [ToneHole("A", 400.0, 6.0)]}, 'hole "A": it has no pad'),
        ({"holes": [Key("a", 400.0, 6.0)]}, "hole \"a\": 'a' is not a note"),
        ({"octaves_below": 2}, "octaves_below: 2 stands there"),
        ({"octaves_below": None}, "octaves_below: None stands there"),
        ({"reed": None}, "reed: NoneType stands there"),
    ],
)
def test_what_a_regulator_is_not_made_of(change, start):
    with pytest.raises(Refusal) as caught:
        dataclasses.replace(sample_regulator(), **change)
    assert_one_sentence(caught.value, start)


def test_the_stopper_moves_and_the_rest_stays():
    plain = dataclasses.replace(sample_regulator(), rush=None)
    for length in (500.0, 700.0, 759.9, 760.0, 800.0):
        moved = plain.stopped(length)
        assert moved.bore.length_mm == moved.body.length_mm == length
        at = np.linspace(0.0, min(length, 760.0), 200)[1:-1]
        np.testing.assert_allclose(moved.bore.diameter_mm(at), plain.bore.diameter_mm(at), atol=1e-12)
        assert moved.holes == plain.holes
    assert plain.stopped(760.0) == plain
    taper = (16.7 - 7.0) / 680.0
    assert plain.stopped(860.0).bore.stations_mm[-1][1] == pytest.approx(16.7 + 100.0 * taper)
    for length, start in ((470.0, 'hole "G": at 466 mm'), ("x", "stopper: 'x' is not a number")):
        with pytest.raises(Refusal) as caught:
            plain.stopped(length)
        assert_one_sentence(caught.value, start)
