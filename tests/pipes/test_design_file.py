"""Design files: what is written comes back exactly, and can be read by a maker."""

import dataclasses
import os
import re
import tomllib

import pytest
from hypothesis import given, settings

from acoustics.errors import Refusal
from acoustics.pipes import design_file
from acoustics.pipes.bore import Body, Bore
from acoustics.pipes.chanter import Chanter
from acoustics.pipes.design_file import design_text, read_design, write_design
from acoustics.pipes.files import empty_folder
from acoustics.pipes.holes import Key, ToneHole
from acoustics.pipes.reed import Reed
from acoustics.pipes.rush import Rush
from acoustics.pipes.staple import Staple

from .sample import assert_one_sentence, sample_chanter
from .strategies import chanters

BY_HAND = """\
form = "chanter"
version = 1
name = "By hand"
[bore]
stations_mm = [[0, 5], [300, 12]]
[staple]
foot_mm = 4.5
tip_mm = 3.5
length_mm = 50
insertion_mm = 20
[[hole]]
name = "Eb"
kind = "finger"
position_mm = 240
diameter_mm = [6, 7]
depth_mm = 4
[[hole]]
kind = "key"
name = "Bb"
position_mm = 120
diameter_mm = 4
depth_mm = 4
[reed]
length_mm = 24
area_mm2 = 14
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("designs")


@settings(max_examples=150, deadline=None)
@given(pipe=chanters())
def test_any_chanter_comes_back_exactly(folder, pipe):
    path = folder / "pipe.toml"
    write_design(pipe, path, overwrite=True)
    assert read_design(path) == pipe


def test_writing_twice_gives_the_same_text(tmp_path):
    text = design_text(sample_chanter())
    (tmp_path / "a.toml").write_text(text, encoding="utf-8")
    assert design_text(read_design(tmp_path / "a.toml")) == text


def test_a_file_by_hand_in_any_order_with_defaults_left_out(tmp_path):
    (tmp_path / "hand.toml").write_text(BY_HAND, encoding="utf-8")
    assert read_design(tmp_path / "hand.toml") == Chanter(
        name="By hand",
        reed=Reed(24.0, 14.0),
        staple=Staple(50.0, 4.5, 3.5, 20.0),
        bore=Bore([(0.0, 5.0), (300.0, 12.0)]),
        holes=[Key("Bb", 120.0, 4.0, 4.0), ToneHole("Eb", 240.0, (6.0, 7.0), 4.0)],
    )


def test_windows_line_ends_and_a_byte_order_mark_are_read(tmp_path):
    plain, windows = tmp_path / "plain.toml", tmp_path / "windows.toml"
    plain.write_bytes(BY_HAND.encode())
    windows.write_bytes(b"\xef\xbb\xbf" + BY_HAND.replace("\n", "\r\n").encode())
    assert read_design(windows) == read_design(plain)


def test_fields_stand_head_to_foot():
    text = design_text(sample_chanter())
    tables = re.findall(r"^\[(\w+)\]", text, re.MULTILINE)
    assert tables == ["reed", "staple", "bore", "body", "rush"]
    positions = [float(at) for at in re.findall(r"^position_mm = ([\d.]+)", text, re.MULTILINE)]
    assert len(positions) == 12
    assert positions == sorted(positions)
    assert text.index("[rush]") < text.index("[[hole]]")


def test_every_station_has_its_own_line():
    pipe = sample_chanter()
    lines = design_text(pipe).splitlines()
    for distance, diameter in pipe.bore.stations_mm + pipe.body.outer_stations_mm:
        assert f"    [{distance!r}, {diameter!r}]," in lines


@pytest.mark.parametrize("part", [Reed, Staple, Bore, Body, Rush, ToneHole, Key])
def test_every_field_of_every_part_can_stand_in_a_file(part):
    full = dataclasses.replace(
        sample_chanter(),
        holes=[
            ToneHole("a", 100.0, 5.0, 4.0, 5.5, 2.0, 3.0, "back", -170.0),
            Key("b", 200.0, 5.0, 4.0, 2.0, 9.0, ((2.0, 5.0),), "front", 20.0),
        ],
    )
    written = tomllib.loads(design_text(full))
    tables = {Reed: "reed", Staple: "staple", Bore: "bore", Body: "body", Rush: "rush"}
    table = written[tables[part]] if part in tables else written["hole"][part is Key]
    assert set(table) - {"kind"} == {field.name for field in dataclasses.fields(part)}


def test_comments_belong_to_fields_that_exist():
    parts = (Chanter, Reed, Staple, Bore, Body, Rush, ToneHole, Key)
    assert set(design_file.COMMENTS) <= {field.name for part in parts for field in dataclasses.fields(part)}


def test_an_existing_file_is_not_overwritten(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "old.toml").write_text("mine", encoding="utf-8")
    with pytest.raises(Refusal) as caught:
        write_design(sample_chanter(), "old.toml")
    assert_one_sentence(caught.value, "old.toml: there is already a file")
    assert (tmp_path / "old.toml").read_text(encoding="utf-8") == "mine"
    write_design(sample_chanter(), "old.toml", overwrite=True)
    assert read_design("old.toml") == sample_chanter()


@pytest.mark.parametrize("step", ["replace", "fsync"])
def test_a_failed_write_leaves_the_old_file_and_nothing_else(tmp_path, monkeypatch, step):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.chdir(tmp_path)
    (tmp_path / "old.toml").write_text("mine", encoding="utf-8")
    monkeypatch.setattr(os, step, full)
    with pytest.raises(Refusal) as caught:
        write_design(sample_chanter(), "old.toml", overwrite=True)
    assert_one_sentence(caught.value, "old.toml: it cannot be saved (no space left on device)")
    assert (tmp_path / "old.toml").read_text(encoding="utf-8") == "mine"
    assert os.listdir(tmp_path) == ["old.toml"]


@pytest.mark.parametrize("mode", [0o640, 0o604])
def test_overwriting_keeps_the_file_mode(tmp_path, mode):
    path = tmp_path / "old.toml"
    path.write_text("mine", encoding="utf-8")
    path.chmod(mode)
    write_design(sample_chanter(), path, overwrite=True)
    assert path.stat().st_mode & 0o777 == mode


def test_overwriting_through_a_link_changes_the_file_behind_it(tmp_path):
    (tmp_path / "real.toml").write_text("mine", encoding="utf-8")
    (tmp_path / "link.toml").symlink_to(tmp_path / "real.toml")
    write_design(sample_chanter(), tmp_path / "link.toml", overwrite=True)
    assert (tmp_path / "link.toml").is_symlink()
    assert read_design(tmp_path / "real.toml") == sample_chanter()


@pytest.mark.parametrize(
    ("name", "place"),
    [
        ("no/such/pipe.toml", "no/such/pipe.toml: there is no folder"),
        ("folder", "folder: it is a folder"),
        ("a" * 300 + ".toml", "a" * 300 + ".toml: it cannot be saved"),
    ],
)
def test_places_that_cannot_be_written(tmp_path, monkeypatch, name, place):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "folder").mkdir()
    with pytest.raises(Refusal) as caught:
        write_design(sample_chanter(), name, overwrite=True)
    sentence = str(caught.value)
    assert sentence.startswith(place)
    assert "; " in sentence
    assert os.listdir(tmp_path) == ["folder"]


@pytest.mark.parametrize("pipe", [None, "chanter", Bore([(0, 5), (9, 5)])])
def test_only_pipes_are_written(tmp_path, pipe):
    with pytest.raises(Refusal) as caught:
        write_design(pipe, tmp_path / "x.toml")
    assert_one_sentence(caught.value, "pipe: ")
    assert os.listdir(tmp_path) == []


def test_an_empty_folder_is_made_once_and_never_one_with_files(tmp_path):
    made = empty_folder(tmp_path / "sheets" / "new")
    assert made.is_dir()
    assert empty_folder(made) == made
    (made / "design.toml").write_text("mine", encoding="utf-8")
    with pytest.raises(Refusal, match=r"this folder has files in it already; the name of a new or empty folder"):
        empty_folder(made)
    with pytest.raises(Refusal, match=r"there is already a file of that name; the name of a new folder"):
        empty_folder(made / "design.toml")
    with pytest.raises(Refusal, match=r"there is already a file of that name"):
        empty_folder(made / "design.toml" / "below")
    with pytest.raises(Refusal, match="it cannot be made"):
        empty_folder("a\0b")
    assert (made / "design.toml").read_text(encoding="utf-8") == "mine"
