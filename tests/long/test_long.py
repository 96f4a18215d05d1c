"""The tools of the long run, in small: every mistake can be planted, and a bad reader is noticed."""

import random
import shutil
import time
import warnings
from pathlib import Path

import pytest

from acoustics import read_design
from tests.long import fuzz, last, mutate, run
from tests.long.mistakes import MISTAKES
from tests.long.mutate import HOME, plant


@pytest.mark.parametrize("mistake", MISTAKES, ids=lambda m: m.name)
def test_every_mistake_can_be_planted(tmp_path, mistake):
    """What it replaces stands once in its room; what comes of it is Python still; its tests are there."""
    room = tmp_path / "acoustics" / f"{mistake.room}.py"
    room.parent.mkdir(parents=True)
    shutil.copy(HOME / "acoustics" / f"{mistake.room}.py", room)
    before = room.read_text(encoding="utf-8")
    plant(tmp_path, mistake)
    assert room.read_text(encoding="utf-8") != before
    assert all((HOME / "tests" / test).exists() for test in mistake.tests)


def test_there_are_enough_mistakes():
    assert len(MISTAKES) >= 30
    assert len({mistake.name for mistake in MISTAKES}) == len(MISTAKES)


def test_what_stands_nowhere_cannot_be_planted(tmp_path):
    (tmp_path / "acoustics").mkdir()
    (tmp_path / "acoustics" / "units.py").write_text("nothing\n", encoding="utf-8")
    with pytest.raises(ValueError, match="stands 0 times"):
        plant(tmp_path, next(m for m in MISTAKES if m.room == "units"))


def test_two_thousand_damaged_files(capfd):
    assert fuzz.main(2000, seed=7, workers=1) == 0
    said = capfd.readouterr().out
    assert "files fuzzed: 2000, refusals: " in said
    refused = int(said.split("refusals: ")[1].split(",")[0])
    assert refused > 500, "damage that nobody minds is no damage"


def test_every_file_is_good_before_it_is_damaged(tmp_path):
    for part in fuzz.DESIGNS.glob("*.toml"):
        shutil.copy(part, tmp_path)
    path = tmp_path / "fuzz"
    fuzz.signal.signal(fuzz.signal.SIGALRM, fuzz._too_long)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for text, readers in fuzz.seeds():
            path.write_text(text, encoding="utf-8")
            assert "" in [fuzz.fault(path, read) for read in readers], text[:100]
    assert len(fuzz.log.open_log(path).entries) == 4, "the last is a log"


def test_a_bad_reader_is_noticed(tmp_path, monkeypatch):
    path = tmp_path / "m.toml"
    path.write_text("x", encoding="utf-8")

    def breaks(_):
        raise KeyError("x")

    def hangs(_):
        time.sleep(5.0)

    monkeypatch.setattr(fuzz, "LONGEST_S", 0.2)
    fuzz.signal.signal(fuzz.signal.SIGALRM, fuzz._too_long)
    assert fuzz.fault(path, breaks).startswith("KeyError")
    assert fuzz.fault(path, hangs).startswith("TimeoutError")
    assert fuzz.fault(path, read_design) is None
    assert fuzz.fault(path, Path.read_text) == ""


def test_damage_is_the_same_for_the_same_seed():
    text = fuzz.seeds()[0][0]
    assert fuzz.damaged(random.Random(3), text) == fuzz.damaged(random.Random(3), text)
    assert fuzz.damaged(random.Random(3), text) != text.encode()


def test_a_part_is_kept_and_the_others_stay(tmp_path, monkeypatch):
    monkeypatch.setattr(last, "LAST", tmp_path / "last.txt")
    last.keep(last.FILES, "now", True, 11.6, "files fuzzed: 20000\n")
    last.keep(last.LAWS, "then", False, 3.0, "\n".join(f"line {i}" for i in range(200)))
    last.keep(last.FILES, "later", False, 12.0, "a fault\n")
    assert list(last.kept()) == [last.LAWS, last.FILES], "in the order of the parts"
    assert last.kept()[last.FILES] == "later\nFAILED in 12 s\na fault\n\n"
    assert last.kept()[last.LAWS].splitlines()[2:4] == ["line 100", "line 101"]


@pytest.mark.parametrize(("found", "passed"), [([True, True], "passed"), ([True, False], "FAILED"), ([], "FAILED")])
def test_the_mistakes_keep_their_own_result(tmp_path, monkeypatch, found, passed):
    """All of them; of a few nothing is kept, and where not all could be tried none passed."""
    monkeypatch.setattr(last, "LAST", tmp_path / "last.txt")
    monkeypatch.setattr(mutate, "MISTAKES", MISTAKES[:2])
    monkeypatch.setattr(mutate, "survey", lambda chosen: [(f"line of {one}", one) for one in found])
    assert mutate.main(["sign"]) in (0, 1)
    assert not last.LAST.exists()
    assert mutate.main([]) == (0 if passed == "passed" else 1)
    section = last.kept()[last.MISTAKES]
    assert section.splitlines()[1].startswith(passed)
    assert section.endswith(f"mistakes caught: {sum(found)} of 2\n\n")


def test_every_part_of_the_long_run_has_its_place():
    assert tuple(run.PARTS) == last.ORDER
    assert run.main(["no such part"]) == 2
