"""Saving all or nothing: a disk that fails, a file that appears meanwhile, a disk without hard links."""

import os
import shutil

import pytest

from acoustics.errors import Refusal
from acoustics.pipes.files import save_all, write_text
from tests.pipes.sample import assert_one_sentence

NEW = {name: name.encode() for name in ("a.svg", "b.svg", "c.svg")}


@pytest.fixture(autouse=True)
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def no_links(monkeypatch):
    """A disk that knows no hard links."""

    def refuse(*_):
        raise OSError(95, "Operation not supported")

    monkeypatch.setattr(os, "link", refuse)


def found(folder) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def nth(number: int, real, meanwhile):
    """`real`, which is `meanwhile` before it at its `number`-th call."""
    calls = iter(range(1, 99))

    def call(*arguments):
        if next(calls) == number:
            meanwhile()
        return real(*arguments)

    return call


def full():
    raise OSError(28, "No space left on device")


def test_a_file_that_appears_meanwhile_is_not_overwritten(here, monkeypatch):
    """Another program makes the third file while the third is being written beside it: two go, that one stays."""
    appears = nth(3, os.fsync, lambda: (here / "c.svg").write_bytes(b"mine"))
    monkeypatch.setattr(os, "fsync", appears)
    with pytest.raises(Refusal) as caught:
        save_all(NEW)
    assert_one_sentence(caught.value, "c.svg: there is already a file of that name")
    assert found(here) == {"c.svg": b"mine"}


def test_a_text_that_appears_meanwhile_is_not_overwritten(here, monkeypatch):
    monkeypatch.setattr(os, "fsync", nth(1, os.fsync, lambda: (here / "a.txt").write_bytes(b"mine")))
    with pytest.raises(Refusal) as caught:
        write_text("a.txt", "yours")
    assert_one_sentence(caught.value, "a.txt: there is already a file of that name")
    assert found(here) == {"a.txt": b"mine"}


@pytest.mark.parametrize("number", [1, 2, 3])
def test_when_one_cannot_be_replaced_all_old_files_stay(here, monkeypatch, number):
    """The one that fails may be new, or old; both kinds are as before."""
    old = {"a.svg": b"old a", "c.svg": b"old c"}
    for name, data in old.items():
        (here / name).write_bytes(data)
    monkeypatch.setattr(os, "replace", nth(number, os.replace, full))
    with pytest.raises(OSError, match="No space left"):
        save_all(NEW, overwrite=True)
    assert found(here) == old


def test_what_cannot_be_put_back_is_left_beside_its_place(here, monkeypatch):
    """A disk that takes nothing more from the second file on: the first's old content is not thrown away."""
    (here / "a.svg").write_bytes(b"old")
    real = os.replace

    def failing(source, target):
        if os.path.basename(target) != "a.svg" or str(source).endswith(".old"):
            full()
        real(source, target)

    monkeypatch.setattr(os, "replace", failing)
    with pytest.raises(OSError, match="No space left"):
        save_all(NEW, overwrite=True)
    assert b"old" in found(here).values()


@pytest.mark.parametrize("overwrite", [False, True])
def test_all_are_saved_and_nothing_else_is_left(here, overwrite):
    save_all(NEW, overwrite)
    assert found(here) == NEW


def test_a_disk_without_hard_links(here, no_links, monkeypatch):
    save_all(NEW)
    assert found(here) == NEW
    changed = {"a.svg": b"2", "d.svg": b"2"}
    with pytest.raises(Refusal, match=r"a\.svg: there is already"):
        save_all(changed)
    assert found(here) == NEW
    save_all(changed, overwrite=True)
    assert found(here) == NEW | changed
    monkeypatch.setattr(os, "fsync", nth(1, os.fsync, lambda: (here / "e.svg").write_bytes(b"mine")))
    with pytest.raises(Refusal, match=r"e\.svg: there is already"):
        save_all({"e.svg": b"yours"})
    assert found(here) == NEW | changed | {"e.svg": b"mine"}


def test_a_copy_that_fails_halfway_leaves_nothing(here, no_links, monkeypatch):
    monkeypatch.setattr(shutil, "copyfileobj", nth(3, shutil.copyfileobj, full))
    with pytest.raises(OSError, match="No space left"):
        save_all(NEW)
    assert found(here) == {}
