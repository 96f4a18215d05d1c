"""The set: what it is made of, its file, and every way in which the file may be wrong."""

import dataclasses
import os
import warnings
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acoustics.errors import Refusal
from acoustics.pipes.design_file import design_text, read_design, write_design
from acoustics.pipes.pipe_set import PipeSet
from acoustics.pipes.set_file import read_set, set_text, write_set

from .broken_drones import sample_drone
from .broken_regulators import sample_regulator
from .broken_sets import SET, SETS
from .sample import assert_one_sentence, sample_chanter
from .test_broken_files import BYTES, assert_said, damaged

DESIGNS = Path(__file__).parents[2] / "notebooks" / "designs"
FILES = {"chanter.toml", "tenor.toml", "bass.toml", "regulator.toml"}


def sample_set() -> PipeSet:
    """Everything invented."""
    bass = sample_drone()
    tenor = dataclasses.replace(bass, name="Sliabh Ban tenor, invented", octaves_below=0)
    return PipeSet("Sliabh Ban set", sample_chanter(), (bass, tenor), (sample_regulator(),))


def saved(folder) -> dict[str, str]:
    """The pipes of the sample set and what else the tests need in a folder; {pipe's name: file}."""
    pipes, broken = sample_set(), design_text(sample_chanter()).replace("length_mm = 24.0", 'length_mm = "long"', 1)
    names = ("chanter.toml", "tenor.toml", "bass.toml", "regulator.toml")
    for pipe, name in zip(pipes.pipes, names, strict=True):
        write_design(pipe, folder / name)
    write_design(dataclasses.replace(sample_drone(), name="In C", key="C"), folder / "in-c.toml")
    (folder / "broken.toml").write_text(broken, encoding="utf-8")
    return {pipe.name: name for pipe, name in zip(pipes.pipes, names, strict=True)}


@pytest.fixture
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return saved(tmp_path)


def refused(make):
    with pytest.raises(Refusal) as caught:
        make()
    return caught.value


# -- the set


def test_drones_stand_from_the_highest_down_and_chanter_first():
    pipes = sample_set()
    assert [drone.octaves_below for drone in pipes.drones] == [0, 2]
    assert pipes.pipes == (pipes.chanter, *pipes.drones, *pipes.regulators)


@pytest.mark.parametrize(
    ("change", "start"),
    [
        ({"chanter": None}, "chanter: NoneType stands there"),
        ({"chanter": sample_regulator()}, "chanter: Regulator stands there"),
        ({"drones": 5}, "drones: 5 is not a list"),
        ({"drones": "ab"}, "drones: 'ab' is not a list"),
        ({"drones": (sample_chanter(),)}, "drones 1: Chanter stands there"),
        ({"regulators": (sample_chanter(),)}, "regulators 1: Chanter stands there"),
        ({"regulators": (sample_regulator(),) * 9}, "regulators: the number of pipes is 9"),
        ({"regulators": (sample_regulator(),) * 2}, "regulators 2: two pipes are called"),
        ({"regulators": (dataclasses.replace(sample_regulator(), key="B"),)}, "regulators 1: "),
        ({"name": ""}, "name: '' is empty"),
    ],
)
def test_what_a_set_is_not_made_of(change, start):
    assert_one_sentence(refused(lambda: dataclasses.replace(sample_set(), **change)), start)


# -- its file


def test_what_is_written_comes_back(here):
    write_set(sample_set(), here, "s.toml")
    assert read_set("s.toml") == sample_set()
    assert Path("s.toml").read_text(encoding="utf-8") == SET


def test_a_chanter_alone(here):
    alone = PipeSet("practice set", sample_chanter())
    write_set(alone, here, "s.toml")
    assert read_set("s.toml") == alone
    short = 'form = "set"\nversion = 1\nname = "practice set"\nchanter = "chanter.toml"\n'
    Path("short.toml").write_text(short, encoding="utf-8")
    assert read_set("short.toml") == alone


def test_names_are_seen_from_the_set_file(tmp_path):
    (tmp_path / "deep").mkdir()
    files = {name: f"deep/{file}" for name, file in saved(tmp_path / "deep").items()}
    write_set(sample_set(), files, tmp_path / "s.toml")
    assert read_set(tmp_path / "s.toml") == sample_set()


def test_a_set_file_is_never_replaced_unless_asked(here):
    Path("s.toml").write_text("mine", encoding="utf-8")
    assert_one_sentence(refused(lambda: write_set(sample_set(), here, "s.toml")), "s.toml: there is already a file")
    assert Path("s.toml").read_text(encoding="utf-8") == "mine"
    write_set(sample_set(), here, "s.toml", overwrite=True)
    assert read_set("s.toml") == sample_set()


def test_what_could_not_be_read_back_is_not_written(here):
    pipes, chanter = sample_set(), sample_chanter()
    missing = {name: file for name, file in here.items() if file != "bass.toml"}
    other = dataclasses.replace(pipes, chanter=dataclasses.replace(chanter, rush=None))
    cases = (
        (chanter, here, "set: Chanter"),
        (pipes, missing, 's.toml: no file is named for "Sliabh Ban bass'),
        (pipes, here | {chanter.name: "../chanter.toml"}, f"{chanter.name}: '../chanter.toml' leads out"),
        (pipes, here | {chanter.name: "none.toml"}, "s.toml, none.toml: there is no such file"),
        (pipes, here | {chanter.name: "bass.toml"}, "s.toml: 'bass.toml' holds a drone"),
        (other, here, "s.toml: 'chanter.toml' holds something else"),
    )
    for given_set, files, start in cases:
        assert_one_sentence(refused(lambda p=given_set, f=files: write_set(p, f, "s.toml")), start)
        assert not os.path.exists("s.toml")


@pytest.mark.parametrize(("text", "start", "fragment"), SETS.values(), ids=SETS)
def test_broken_set(here, text, start, fragment):
    assert_said(read_set, "s.toml", text.encode(), start, fragment)


@pytest.mark.parametrize(("data", "start", "fragment"), BYTES.values(), ids=BYTES)
def test_no_usable_text(here, data, start, fragment):
    assert_said(read_set, "s.toml", data, "s.toml" + start, fragment)


@pytest.mark.parametrize("name", [None, 3, "", b"s.toml"])
def test_what_is_no_file_name(name):
    assert_one_sentence(refused(lambda: read_set(name)), f"file: {name!r} is not a file name")


def test_the_demo_set():
    path = DESIGNS / "sallow-ford-set.toml"
    pipes = read_set(path)
    drones = [f"sallow-ford-{name}.toml" for name in ("tenor", "baritone", "bass")]
    regulators = [f"sallow-ford-{name}-regulator.toml" for name in ("tenor", "baritone", "bass")]
    assert set_text("Sallow Ford set", "sallow-ford-1.toml", drones, regulators) == path.read_text(encoding="utf-8")
    assert pipes.pipes == tuple(read_design(DESIGNS / name) for name in ("sallow-ford-1.toml", *drones, *regulators))


# -- fuzz: either it loads and can be saved and read again, or it is one sentence


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    made = tmp_path_factory.mktemp("sets")
    return made, saved(made)


@settings(max_examples=150, deadline=None)
@given(data=damaged(SET).map(lambda text: text.encode("utf-8", "replace")) | st.binary(max_size=100))
def test_damaged_sets(folder, data):
    where, files = folder
    path = where / "fuzz.toml"
    path.write_bytes(data)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            found = read_set(path)
        except Refusal as refusal:
            sentence = str(refusal)
            assert sentence.startswith(str(path))
            assert sentence.isprintable()
            assert sentence.endswith(".")
            assert "; " in sentence
            assert len(sentence) < 500
            return
        write_set(found, files, where / "again.toml", overwrite=True)
        assert read_set(where / "again.toml") == found
