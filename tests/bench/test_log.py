"""The bench log: what is written comes back, whatever happens to the writing; and every refusal."""

import errno
import os
import random
import subprocess
import sys
import time
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acoustics.bench import log as room
from acoustics.bench.entries import Cents, Change, Entry, Measurement, Prediction, Result
from acoustics.bench.history import history
from acoustics.bench.log import append, open_log
from acoustics.errors import Refusal
from acoustics.pipes.design_file import revision
from tests.bench.writer import entry
from tests.pipes.sample import assert_one_sentence, sample_chanter

HOME = Path(__file__).parents[2]
OLD, NEW = "1a2b3c4d", "5e6f7081"
E1, E2, A1 = "E, first octave", "E, second octave", "A, first octave"
STORY = (
    Measurement("3 May 2026", OLD, "off the lathe", [(E1, -12, 2), (E2, -3, 2), (A1, 1)], remark="16 °C, damp"),
    Prediction("3 May 2026", OLD, "undercut E", [(E1, 2.0, 2.0), (E2, 1.5, 2.0), ("G, first octave", 0.0)]),
    Change("4 May 2026", OLD, "undercut E", NEW, remark='0.4 mm more "at the bore", \\ by hand'),
    Result("5 May 2026", NEW, "undercut E", [(E1, 1.0), (E2, -6.111, 1.0), (A1, 1.2)]),
)


def told(path, story=STORY):
    for one in story:
        log = append(path, one)
    return log


@pytest.fixture(autouse=True)
def _here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)


def refused(function, *arguments):
    with pytest.raises(Refusal) as caught:
        function(*arguments)
    return caught.value


# -- what is written


def test_what_is_added_comes_back():
    assert open_log("b.log").entries == ()
    assert os.listdir() == [], "looking writes nothing"
    log = open_log("b.log")
    for one in STORY:
        log = log.append(one)
    assert log.entries == STORY
    assert log == open_log("b.log")
    assert log.asides == ()


def test_the_file_is_toml_that_a_person_can_read():
    told("b.log")
    text = Path("b.log").read_text(encoding="utf-8")
    tables = tomllib.loads(text)
    assert (tables["form"], tables["version"]) == ("bench log", 1)
    assert [one["kind"] for one in tables["entry"]] == ["measurement", "prediction", "change", "result"]
    assert 'action = "undercut E"\n' in text
    assert '    ["E, second octave", -6.11, 1.0],\n' in text


def test_a_design_is_known_by_its_revision():
    one = replace(STORY[2], design=revision(sample_chanter()))
    assert append("b.log", one).entries == (one,)


letters = st.characters(categories=("L", "M", "N", "P", "S"), include_characters=" ")
words = st.text(letters, min_size=1, max_size=40).filter(str.strip)
cents = st.floats(-1200, 1200)
rows = st.lists(st.tuples(words, cents) | st.tuples(words, cents, st.floats(0, 1200)), min_size=1, max_size=5)
noted = st.sampled_from([Measurement, Prediction, Result])
digits = st.text("0123456789abcdef", min_size=8, max_size=8)
records = st.builds(
    lambda form, date, design, action, cents, remark: form(date, design, action, cents, remark=remark),
    noted, words, digits, words, rows.filter(lambda given: len({row[0] for row in given}) == len(given)), words,
) | st.builds(Change, words, digits, words, digits)  # fmt: skip


@settings(max_examples=60)
@given(story=st.lists(records, min_size=1, max_size=4))
def test_any_record_comes_back_and_no_byte_before_it_changes(tmp_path_factory, story):
    path, before = tmp_path_factory.mktemp("any") / "b.log", b""
    for i, one in enumerate(story, 1):
        assert append(path, one).entries == tuple(story[:i])
        assert path.read_bytes().startswith(before)
        before = path.read_bytes()
    assert repr(history(open_log(path)))


# -- writing that was interrupted


def test_torn_at_any_byte_every_earlier_record_is_there_and_the_next_is_kept():
    told("b.log")
    whole = Path("b.log").read_bytes()
    ends, at = [], 0
    while (at := whole.find(b"# end ", at) + 1) > 0:
        ends.append(whole.index(b"\n", at))
    for cut in range(0, len(whole)):
        Path("b.log").write_bytes(whole[:cut])
        log, kept = open_log("b.log"), sum(end <= cut for end in ends)
        assert log.entries == STORY[:kept]
        # only between two records, or between two lines of the head, is nothing missing
        assert len(log.asides) <= 1
        if cut % 23 == 0 or cut > len(whole) - 25:
            later = append("b.log", STORY[2])
            assert later.entries == (*STORY[:kept], STORY[2])
            assert len(later.asides) == len(log.asides)
            assert Path("b.log").read_bytes().startswith(whole[:cut])


def test_a_torn_record_is_named():
    told("b.log")
    whole = Path("b.log").read_bytes()
    Path("b.log").write_bytes(whole[:-30])
    log = open_log("b.log")
    first = whole[:-30].decode().split("\n")
    place = len(first) - first[::-1].index("[[entry]]")
    why = f"lines {place} to {len(first)}: a record whose end is missing, as when writing it was interrupted"
    assert [str(aside) for aside in log.asides] == [f"{why}; left in the file and not used."]
    assert f"Mind: {why}" in repr(history(log))
    assert f"Mind: {why}" in history(log)._repr_html_()


def test_a_record_changed_by_hand_is_not_believed_and_the_others_are():
    told("b.log")
    text = Path("b.log").read_text(encoding="utf-8")
    Path("b.log").write_text(text.replace("1.5, 2.0", "-6.0, 2.0"), encoding="utf-8")
    log = open_log("b.log")
    assert log.entries == (STORY[0], *STORY[2:])
    assert [aside.why for aside in log.asides] == ["a record that is damaged or was changed by hand"]
    assert history(log).judgements == ()


def test_saved_by_another_editor_it_still_reads():
    told("b.log")
    text = Path("b.log").read_bytes()
    Path("b.log").write_bytes(b"\xef\xbb\xbf" + text.replace(b"\n", b"\r\n"))
    assert open_log("b.log").entries == STORY
    assert append("b.log", STORY[2]).entries == (*STORY, STORY[2])


def test_zeros_after_a_power_cut():
    """Some file systems leave zeros where the last write was to go."""
    told("b.log")
    with open("b.log", "ab") as file:
        file.write(bytes(700))
    assert open_log("b.log").entries == STORY
    later = append("b.log", STORY[2])
    assert later.entries == (*STORY, STORY[2])
    assert [aside.why for aside in later.asides] == ["not part of any record"]


# -- killed, full, two at once


def started(path, name, count, *more):
    command = [sys.executable, "-m", "tests.bench.writer", str(path), name, str(count), *more]
    environment = {**os.environ, "PYTHONPATH": str(HOME)}
    return subprocess.Popen(command, cwd=HOME, env=environment, stdout=subprocess.PIPE, text=True)


def killed_at_random(path, times, seed):
    """Start a writer so often on one log and kill it; what was said to be safe must be there, in order."""
    rng, safe, torn = random.Random(seed), [], 0
    for i in range(times):
        with started(path, f"run {i}", 10_000) as writer:
            assert writer.stdout.readline() == "ready\n"
            time.sleep(rng.uniform(0.0, 0.15))
            writer.kill()
            numbers = writer.stdout.read().split("\n")[:-1]
        safe += [entry(f"run {i}", int(number)) for number in numbers]
        log = open_log(path)
        left = iter(log.entries)
        assert all(one in left for one in safe), f"after {i + 1} kills a record that was safe is gone"
        assert len(log.entries) - len(safe) <= i + 1, "at most one record each time was in but not yet reported"
        torn = len(log.asides)
        if path.exists() and path.stat().st_size > 600_000:
            path, safe = path.with_name(f"{i}.log"), []
    return len(safe), torn


def test_killed_at_any_moment(tmp_path):
    safe, _ = killed_at_random(tmp_path / "b.log", 4, 1)
    assert safe >= 4


@pytest.mark.long
def test_killed_two_hundred_times(tmp_path):
    killed_at_random(tmp_path / "b.log", 200, 2)


def test_two_notebooks_at_once(tmp_path):
    """Two processes add 25 records each; all 50 are there, each one's own in order."""
    path = tmp_path / "b.log"
    writers = [started(path, name, 25) for name in ("one", "two")]
    assert [writer.communicate()[0].split("\n")[-2] for writer in writers] == ["24", "24"]
    log = open_log(path)
    assert log.asides == ()
    for name in ("one", "two"):
        assert [one for one in log.entries if one.action.startswith(name)] == [entry(name, i) for i in range(25)]
    assert len(log.entries) == 50


def test_two_notebooks_without_locks(monkeypatch):
    """The log that was opened first knows nothing of the second's record, and keeps it all the same."""
    monkeypatch.setattr(room, "fcntl", None)
    mine, yours = open_log("b.log").append(STORY[0]), open_log("b.log")
    assert yours.append(STORY[1]).entries == STORY[:2]
    assert mine.entries == STORY[:1]
    assert mine.append(STORY[2]).entries == STORY[:3]


def test_a_disk_that_knows_no_locks(monkeypatch):
    def unknown(*_):
        raise OSError(errno.ENOLCK, "No locks available")

    monkeypatch.setattr(room.fcntl, "flock", unknown)
    assert told("b.log").entries == STORY


def test_another_notebook_that_never_finishes(monkeypatch):
    told("b.log")
    monkeypatch.setattr(room, "LONGEST_WAIT_S", 0.05)
    with open("b.log", "rb") as other:
        room.fcntl.flock(other, room.fcntl.LOCK_EX)
        refusal = refused(append, "b.log", STORY[0])
    assert_one_sentence(refusal, "b.log: another notebook has been writing to it for 0.05 s")
    assert open_log("b.log").entries == STORY


def test_a_full_disk_refuses_in_one_sentence_and_loses_nothing(tmp_path):
    """The system stops the file at 12 000 bytes; after that it still reads, whole."""
    path = tmp_path / "b.log"
    said = started(path, "full", 100, "12000").communicate()[0].split("\n")[1:-1]
    *numbers, sentence = said
    assert sentence == (
        f"{path}: the record could not be added (file too large), and all earlier ones are still there; "
        "a place where you may write and a disk with room are needed."
    )
    log = open_log(path)
    assert log.entries == tuple(entry("full", int(number)) for number in numbers)
    assert len(log.entries) >= 5
    assert log.asides == ()
    assert append(path, STORY[0]).entries[-1] == STORY[0], "with room again it goes on"


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="only where the system has it")
def test_the_sentence_of_a_full_disk(monkeypatch):
    told("b.log")
    monkeypatch.setattr(room, "_write", lambda _, block, alone: os.write(os.open("/dev/full", os.O_WRONLY), b"x"))
    refusal = refused(append, "b.log", STORY[0])
    assert_one_sentence(refusal, "b.log: the record could not be added (no space left on device)")
    assert open_log("b.log").entries == STORY


@pytest.mark.parametrize("alone", [True, False])
def test_half_a_record_then_a_full_disk(monkeypatch, alone):
    """Taken back under a lock; without one it stays, and is named."""
    told("b.log")
    before, write = Path("b.log").read_bytes(), os.write
    room_left = [100]

    def short(file, data):
        if not room_left:
            raise OSError(errno.ENOSPC, "No space left on device")
        return write(file, data[: room_left.pop()])

    with monkeypatch.context() as patched:
        patched.setattr(os, "write", short)
        if not alone:
            patched.setattr(room, "fcntl", None)
        refusal = refused(append, "b.log", STORY[0])
    assert_one_sentence(refusal, "b.log: the record could not be added (no space left on device)")
    after, log = Path("b.log").read_bytes(), open_log("b.log")
    assert log.entries == STORY
    assert (after == before) is alone
    assert len(after) - len(before) == (0 if alone else 100)
    assert len(log.asides) == (0 if alone else 1)


def test_a_record_that_something_else_spoiled(monkeypatch):
    told("b.log")
    write = os.write
    monkeypatch.setattr(os, "write", lambda file, data: write(file, data.replace(b"May", b"may")) and len(data))
    refusal = refused(append, "b.log", STORY[0])
    assert_one_sentence(refusal, "b.log: something else wrote at the same moment and spoiled the record")
    assert open_log("b.log").entries == STORY


# -- refusals

WRONG = {
    "a design file": ("# Lengths in mm\n", "b.log, line 1: it is not a bench log"),
    "one line": ("hello", "b.log, line 1: it is not a bench log"),
    "another form": ('form = "chanter"\nversion = 1\n', "b.log, line 1: it is not a bench log"),
    "another version": ('form = "bench log"\nversion = 2\n', "b.log, line 2: '2' is not a known version"),
    "too big": ('form = "bench log"\n' + "#" * 1024 * 1024, "b.log: it is bigger than 1 MiB"),
}


@pytest.mark.parametrize(("text", "start"), WRONG.values(), ids=WRONG)
def test_files_that_are_no_log(text, start):
    Path("b.log").write_text(text, encoding="utf-8")
    assert_one_sentence(refused(open_log, "b.log"), start)
    assert_one_sentence(refused(append, "b.log", STORY[0]), start)
    assert Path("b.log").read_text(encoding="utf-8") == text


def test_what_is_no_file():
    os.mkdir("folder")
    os.mkfifo("fifo")
    os.symlink("nowhere", "link")
    for function in (open_log, lambda path: append(path, STORY[0])):
        assert_one_sentence(refused(function, "folder"), "folder: it is a folder")
        assert_one_sentence(refused(function, "fifo"), "fifo: it is not an ordinary file")
        assert_one_sentence(refused(function, "link"), "link: there is no such file")
        assert_one_sentence(refused(function, None), "file: None is not a file name")
    start = "none/b.log: the record could not be added (no such file or directory)"
    assert_one_sentence(refused(append, "none/b.log", STORY[0]), start)


def test_a_file_that_may_not_be_written(monkeypatch):
    def forbidden(*_):
        raise PermissionError(errno.EACCES, "Permission denied")

    told("b.log")
    monkeypatch.setattr(os, "open", forbidden)
    assert_one_sentence(refused(append, "b.log", STORY[0]), "b.log: the record could not be added (permission denied)")


def test_a_log_that_is_full():
    told("b.log")
    room_left = room.LARGEST_BYTES - os.path.getsize("b.log")
    with open("b.log", "ab") as file:
        file.write(b"\n" * (room_left - 10))
    assert_one_sentence(refused(append, "b.log", STORY[0]), "b.log: it would grow beyond 1 MiB")
    assert open_log("b.log").entries == STORY


NOTED = ("6 May 2026", OLD, "as it is")
BAD = {
    "date": (lambda: Measurement("", OLD, "x", [(E1, 1)]), "date: ''"),
    "design": (lambda: Measurement("today", "1A2B3C4D", "x", [(E1, 1)]), "design: '1A2B3C4D' is not a design's"),
    "no design": (lambda: Measurement("today", None, "x", [(E1, 1)]), "design: None is not a design's revision"),
    "action": (lambda: Measurement("today", OLD, "two\nlines", [(E1, 1)]), "action: 'two\\nlines'"),
    "remark": (lambda: Measurement(*NOTED, [(E1, 1)], remark="x" * 201), "remark: 'xxx"),
    "no notes": (lambda: Result(*NOTED, []), "cents: [] is not a list of 1 to 100 notes"),
    "one note": (lambda: Result(*NOTED, E1), "cents: 'E, first octave' is not a list"),
    "half a row": (lambda: Result(*NOTED, [(E1,)]), "cents, row 1: ('E, first octave',) is not a note with its cents"),
    "words": (lambda: Result(*NOTED, [(E1, 1), (E2, "2")]), "cents, row 2, cents: '2' is not a number"),
    "nan": (lambda: Result(*NOTED, [(E1, np.nan)]), "cents, row 1, cents: nan is not a finite number"),
    "error": (lambda: Result(*NOTED, [(E1, 1, -1)]), "cents, row 1, error_cents: '-1' is out of bounds"),
    "twice": (lambda: Result(*NOTED, [(E1, 1), (E1, 2)]), "cents, row 2: 'E, first octave' is there twice"),
    "after": (lambda: Change(*NOTED, "later"), "after: 'later' is not a design's revision"),
    "no record": (lambda: append("b.log", "words"), "entry: 'words' is not a record"),
    "bare": (lambda: append("b.log", Entry(*NOTED)), "entry: Entry(date='6 May 2026'"),
}


@pytest.mark.parametrize(("make", "start"), BAD.values(), ids=BAD)
def test_records_that_cannot_be(make, start):
    assert_one_sentence(refused(make), start.replace("'-1'", "-1"))
    assert os.listdir() == []


def test_a_sealed_record_that_is_none_is_named_and_not_used():
    body = "".join(f"{line}\n" for line in ('kind = "wish"', 'date = "today"'))
    with open("b.log", "w", encoding="utf-8") as file:
        file.write(f"{room.HEAD}\n[[entry]]\n{body}# end {room._seal(body)}\n")
    (aside,) = told("b.log").asides
    assert aside.why.startswith("a record that cannot be understood (kind: 'wish' is not a kind of record")


# -- the history


def test_history_by_hand():
    """E: predicted 2.0 and 1.5, came 1.0 and -6.11; before -12 and -3; errors 2, and 2 with 1."""
    told("b.log")
    found = history(open_log("b.log"))
    (judged,) = found.judgements
    assert [one.note for one in judged.notes] == [E1, E2]
    assert judged.rms == pytest.approx(np.sqrt((1.0**2 + 7.61**2) / 2))
    assert judged.moved == pytest.approx(np.sqrt((13.0**2 + 3.11**2) / 2))
    assert [one.error for one in judged.notes] == pytest.approx([2.0, np.sqrt(5.0)])
    assert judged.inside == (1, 2)
    assert found.rms == judged.rms
    assert repr(found).splitlines()[-1] == (
        "undercut E: predicted to 5.4 cents rms on 2 notes, which moved by 9.5 cents rms. Worst: E, second octave, "
        "7.6 cents flat of its prediction. 1 of 2 came within two standard deviations."
    )
    shown = found._repr_html_()
    assert "<tr><td>E, second octave</td><td>-3.0</td><td>+1.5</td><td>-6.1</td><td>-7.6</td></tr>" in shown
    assert "<td>4 May 2026</td><td>1a2b3c4d to 5e6f7081</td><td>change</td><td>undercut E</td>" in shown
    assert "&quot;at the bore&quot;" in shown


def test_the_last_prediction_above_the_result_counts():
    again = Prediction("4 May 2026", OLD, "undercut E", [(E1, 1.0)])
    late = Prediction("6 May 2026", OLD, "undercut E", [(E1, 99.0)])
    told("b.log", (*STORY[:2], again, *STORY[2:], late))
    (judged,) = history(open_log("b.log")).judgements
    assert judged.prediction == again
    assert judged.rms == 0.0
    assert judged.inside == (0, 0)


def test_what_was_never_measured_is_said():
    told("b.log", (STORY[1], Result("5 May 2026", NEW, "undercut E", [(A1, 0.0)])))
    found = history(open_log("b.log"))
    assert str(found.judgements[0]) == "undercut E: none of the notes predicted was measured afterwards."
    assert np.isnan(found.rms)
    told("b.log", (STORY[3],))
    assert "All 2 predictions together: 5.4 cents rms on 2 notes." in repr(history(open_log("b.log")))


def test_an_empty_history():
    found = history(open_log("b.log"))
    assert repr(found).endswith("No prediction has a result yet.")
    assert "<caption>What was done</caption>" in found._repr_html_()


def test_cents_are_kept_to_a_hundredth():
    assert Cents(E1, -0.001).cents == 0.0
    assert str(Cents(E1, -0.001).cents) == "0.0"
    assert Cents(E1, 3.14159, 0.333).error_cents == 0.33


# -- whose log it is

OTHER, THIRD = "0123abcd", "4567cdef"


def owned(design, name, action="as it is"):
    return Measurement("4 May 2026", design, action, [(E1, 1)], chanter=name)


def test_another_chanter_is_refused(tmp_path):
    path = tmp_path / "log.toml"
    append(path, owned(OLD, "Sallow Ford 1"))
    said = "the record is of the chanter 'Osier Lane 2', those there are of 'Sallow Ford 1'"
    assert_one_sentence(refused(append, path, owned(OTHER, "Osier Lane 2")), f"{path}: {said}")
    assert open_log(path).entries == (owned(OLD, "Sallow Ford 1"),)


def test_the_same_chanter_goes_on_after_a_cut(tmp_path):
    """By a new revision under its name; by a change that tells the next revision, under whatever name; unnamed."""
    path = tmp_path / "log.toml"
    story = (
        owned(OLD, "Sallow Ford 1"),
        owned(OTHER, "Sallow Ford 1", "hole undercut by eye"),
        Change("5 May 2026", OTHER, "reamed", THIRD, chanter="Sallow Ford 1, reamed"),
        owned(THIRD, "Sallow Ford 1, reamed", "after it"),
        owned("76543210", ""),
    )
    assert told(path, story).entries == story


def test_another_notebook_begins_the_log_first(tmp_path, monkeypatch):
    """Between the look at the log and the lock: the second chanter is refused none the less."""
    path, locked = tmp_path / "log.toml", room._locked

    def late(file):
        monkeypatch.setattr(room, "_locked", locked)
        append(path, owned(OLD, "Sallow Ford 1"))
        return locked(file)

    monkeypatch.setattr(room, "_locked", late)
    assert_one_sentence(refused(append, path, owned(OTHER, "Osier Lane 2")), f"{path}: the record is of the chanter")
    assert open_log(path).entries == (owned(OLD, "Sallow Ford 1"),)
