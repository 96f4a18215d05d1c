"""Broken files: always one plain sentence that names the file and the place, never anything else."""

import os
import stat
import warnings
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acoustics.errors import Refusal
from acoustics.pipes import files
from acoustics.pipes.bore_file import UnmeasuredBore, read_bore_csv, write_bore_csv
from acoustics.pipes.design_file import read_design, write_design

from .broken_bores import BORES, GAUGE, OVAL, PLAIN
from .broken_designs import DESIGN, DESIGNS
from .broken_drones import DRONE, DRONES
from .damage import BITS
from .sample import assert_one_sentence, sample_chanter

# -- files that hold no usable text at all, whatever they were meant for
BIG = b"# " + b"x" * files.LARGEST_BYTES
BYTES = {
    "empty": (b"", ": it is empty", "something in it"),
    "blank": (b" \r\n\t\n", ": it is empty", "something in it"),
    "only a mark": (b"\xef\xbb\xbf", ": it is empty", "something in it"),
    "huge": (BIG, ": it is bigger than 1 MiB", "at most 1 MiB"),
    "binary": (b"MZ\x00\x01\x02", ": it is not a text file", "UTF-8"),
    "a picture": (b"\x89PNG\r\n\x1a\n\x00\x00\x00\x0d", ": it is not a text file", "UTF-8"),
    "UTF-16": ("# bore".encode("utf-16"), ": it is saved as UTF-16", "UTF-8"),
    "UTF-16 without a mark": ("# bore".encode("utf-16-le"), ": it is not a text file", "UTF-8"),
    "Latin-1": (b"# one\n# \xe9tag\xe8re\n", ", line 2: a character there is not saved as UTF-8 (byte 0xe9)", "UTF-8"),
    "cut in a letter": ("# caf\u00e9".encode()[:-1], ", line 1: a character there is not saved", "UTF-8"),
}
READERS = {"m.toml": read_design, "b.csv": read_bore_csv}


def refused(read, name):
    with pytest.raises(Refusal) as caught:
        read(name)
    return caught.value


def assert_said(read, name, data, start, fragment):
    """A file of that name in this folder is refused in one sentence with this start and this fragment."""
    Path(name).write_bytes(data)
    refusal = refused(read, name)
    assert_one_sentence(refusal, start)
    assert fragment in str(refusal)


@pytest.fixture(autouse=True)
def _here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)


@pytest.mark.parametrize(("text", "start", "fragment"), DESIGNS.values(), ids=DESIGNS)
def test_broken_design(text, start, fragment):
    assert_said(read_design, "m.toml", text.encode(), start, fragment)


@pytest.mark.parametrize(("text", "start", "fragment"), DRONES.values(), ids=DRONES)
def test_broken_drone(text, start, fragment):
    assert_said(read_design, "m.toml", text.encode(), start, fragment)


@pytest.mark.parametrize(("text", "start", "fragment"), BORES.values(), ids=BORES)
def test_broken_bore(text, start, fragment):
    assert_said(read_bore_csv, "b.csv", text.encode(), start, fragment)


@pytest.mark.parametrize("name", READERS)
@pytest.mark.parametrize(("data", "start", "fragment"), BYTES.values(), ids=BYTES)
def test_no_usable_text(name, data, start, fragment):
    assert_said(READERS[name], name, data, name + start, fragment)


@pytest.mark.parametrize("read", READERS.values())
def test_what_is_no_file(tmp_path, read):
    (tmp_path / "folder").mkdir()
    os.mkfifo(tmp_path / "fifo")
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    assert_one_sentence(refused(read, "none.txt"), "none.txt: there is no such file")
    assert_one_sentence(refused(read, "no/where.txt"), "no/where.txt: there is no such file")
    assert_one_sentence(refused(read, "folder"), "folder: it is a folder")
    assert_one_sentence(refused(read, "fifo"), "fifo: it is not an ordinary file")
    assert_one_sentence(refused(read, "loop"), "loop: it cannot be opened (")
    assert_one_sentence(refused(read, "a\0b"), "'a\\x00b': it cannot be opened (")
    assert_one_sentence(refused(read, "two\nlines"), "'two\\nlines': there is no such file")


@pytest.mark.parametrize("read", READERS.values())
@pytest.mark.parametrize("name", [None, 3, "", b"m.toml", ["m.toml"]])
def test_what_is_no_file_name(read, name):
    assert_one_sentence(refused(read, name), f"file: {name!r} is not a file name")


@pytest.mark.parametrize("name", READERS)
def test_a_file_that_may_not_be_opened(tmp_path, monkeypatch, name):
    def forbidden(*_args, **_kwargs):
        raise PermissionError(13, "Permission denied")

    (tmp_path / name).write_text("x", encoding="utf-8")
    monkeypatch.setattr(files, "open", forbidden, raising=False)
    assert_one_sentence(refused(READERS[name], name), f"{name}: it cannot be opened (permission denied)")


def test_a_file_that_may_not_be_replaced(tmp_path, monkeypatch):
    (tmp_path / "m.toml").write_text("mine", encoding="utf-8")
    monkeypatch.setattr(os, "access", lambda *_: False)
    refusal = refused(lambda name: write_design(sample_chanter(), name, overwrite=True), "m.toml")
    assert_one_sentence(refusal, "m.toml: it may not be written to")
    assert (tmp_path / "m.toml").read_text(encoding="utf-8") == "mine"


def test_text_that_could_not_be_read_back_is_not_saved(tmp_path):
    too_big = "x" * (files.LARGEST_BYTES + 1)
    assert_one_sentence(refused(lambda name: files.write_text(name, too_big), "x.txt"), "x.txt: it would be bigger")
    lone = "\ud800"
    assert_one_sentence(refused(lambda name: files.write_text(name, lone), "x.txt"), "x.txt: the character '\\ud800'")
    assert os.listdir(tmp_path) == []


def test_a_new_file_may_be_read_by_whom_the_umask_lets(tmp_path):
    write_bore_csv(sample_chanter().bore, "b.csv")
    (tmp_path / "plain.txt").write_text("x", encoding="utf-8")
    assert stat.S_IMODE((tmp_path / "b.csv").stat().st_mode) == stat.S_IMODE((tmp_path / "plain.txt").stat().st_mode)


def test_the_largest_file_allowed_is_read(tmp_path):
    rest = files.LARGEST_BYTES - len(PLAIN.encode())
    (tmp_path / "b.csv").write_text(PLAIN + "#" * rest, encoding="utf-8")
    assert (tmp_path / "b.csv").stat().st_size == files.LARGEST_BYTES
    assert read_bore_csv("b.csv").length_mm == 356.0


# -- fuzz: either it loads and can be saved and read again, or it is one sentence

PIECES = st.sampled_from(BITS) | st.text(max_size=4)


@st.composite
def damaged(draw, text):
    """A valid text with one to four places cut, filled, doubled or moved."""
    for _ in range(draw(st.integers(1, 4))):
        start = draw(st.integers(0, len(text)))
        end = min(len(text), start + draw(st.integers(0, 12)))
        how = draw(st.integers(0, 3))
        if how == 0:
            text = text[:start] + draw(PIECES) + text[end:]
        elif how == 1:
            text = text[:start] + draw(PIECES) + text[start:]
        elif how == 2:
            text = text[:end] + text[start:end] + text[end:]
        else:
            lines = text.split("\n")
            line = lines.pop(draw(st.integers(0, len(lines) - 1)))
            lines.insert(draw(st.integers(0, len(lines))), line)
            text = "\n".join(lines)
    return text


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("fuzz")


def loads_or_refuses(folder, data, read, write):
    path = folder / "fuzz"
    path.write_bytes(data)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        warnings.simplefilter("ignore", UnmeasuredBore)
        try:
            found = read(path)
        except Refusal as refusal:
            sentence = str(refusal)
            assert sentence.startswith(str(path))
            assert sentence.isprintable(), "one line"
            assert sentence.endswith(".")
            assert "; " in sentence
            assert len(sentence) < 500
            return
        write(found, folder / "again", overwrite=True)
        assert read(folder / "again") == found


ways = pytest.mark.parametrize(("read", "write"), [(read_design, write_design), (read_bore_csv, write_bore_csv)])


@ways
@settings(max_examples=150, deadline=None)
@given(data=st.binary(max_size=200) | st.text(max_size=100).map(lambda text: text.encode("utf-8", "replace")))
def test_random_bytes(folder, read, write, data):
    loads_or_refuses(folder, data, read, write)


@settings(max_examples=500, deadline=None)
@given(text=damaged(DESIGN) | damaged(DRONE))
def test_damaged_designs(folder, text):
    loads_or_refuses(folder, text.encode("utf-8", "replace"), read_design, write_design)


@pytest.mark.parametrize("text", [PLAIN, OVAL, GAUGE, GAUGE + "6.5,295,foot,oval\n13,25,foot,oval\n"])
@settings(max_examples=250, deadline=None)
@given(data=st.data())
def test_damaged_bores(folder, text, data):
    loads_or_refuses(folder, data.draw(damaged(text)).encode("utf-8", "replace"), read_bore_csv, write_bore_csv)
