"""The bench log: an append-only file per chanter, which an interrupted writing cannot harm.

    form = "bench log"
    version = 1

    [[entry]]
    kind = "change"
    ...
    # end 0123456789abcdef

The file is TOML.  A record runs from its line [[entry]] to a line with the first 16 hexadecimal digits of the
SHA-256 of the lines between.  What is not a whole record so sealed is never used, named, and left where it stands.
"""

from __future__ import annotations

import hashlib
import os
import re
import time
from dataclasses import dataclass
from functools import lru_cache

from ..errors import Refusal, short, within
from ..pipes.files import LARGEST_BYTES, label, read_bytes, reason
from ..pipes.toml import parsed
from .entries import Entry, entry_from, entry_text

try:
    import fcntl
except ImportError:  # not on every system; a whole record is then still one single write
    fcntl = None

FORM, VERSION = 'form = "bench log"', "version = 1"
HEAD = f"{FORM}\n{VERSION}\n# Records are only ever added, by the notebook; a line changed by hand spoils its record.\n"
START, END = "[[entry]]", re.compile(r"# end ([0-9a-f]{16})")
LONGEST_WAIT_S = 10.0


@dataclass(frozen=True)
class Aside:
    """Lines of the file that are not a whole record; they stay in it and are not used.

    Parameters
    ----------
    first, last : int
        Lines of the file.
    why : str
    """

    first: int
    last: int
    why: str

    def __str__(self) -> str:
        lines = f"line {self.first}" if self.first == self.last else f"lines {self.first} to {self.last}"
        return f"{lines}: {self.why}; left in the file and not used."


@dataclass(frozen=True)
class Log:
    """All records of a file, oldest first, as it was when it was read.

    Parameters
    ----------
    path : str
    entries : tuple of Entry
    asides : tuple of Aside
        What was torn off by an interrupted writing, or changed by hand.
    """

    path: str
    entries: tuple[Entry, ...]
    asides: tuple[Aside, ...]

    def append(self, entry: Entry) -> Log:
        """The log with one record more, after it is safely in the file; see `append`."""
        return append(self.path, entry)


def open_log(path: str | os.PathLike) -> Log:
    """The records of a file; an empty log where there is no such file yet.

    Parameters
    ----------
    path : str or path
        Of at most 1 MiB.

    Returns
    -------
    Log

    Raises
    ------
    Refusal
        Not a bench log, of another version, or not to be opened.
    """
    where = label(path)
    if not os.path.lexists(path):
        return Log(os.fspath(path), (), ())
    source = read_bytes(path).decode("utf-8-sig", "replace").replace("\r\n", "\n")
    with within(where):
        entries, asides = _read(source)
    return Log(os.fspath(path), entries, asides)


def _read(source: str) -> tuple[tuple[Entry, ...], tuple[Aside, ...]]:
    lines = source.split("\n")
    if source and not (lines[0] and FORM.startswith(lines[0])):
        raise Refusal("it is not a bench log", f"a file that starts with {FORM} is needed", "line 1")
    entries, asides = [], []
    for first, block in _blocks(lines):
        if block[0] != START:
            loose = [(i, line) for i, line in enumerate(block, first) if line and line not in HEAD.splitlines()]
            if loose:
                _check_version(*loose[0])
                asides.append(Aside(loose[0][0], loose[-1][0], "not part of any record"))
            continue
        found = _entry(block)
        if isinstance(found, Entry):
            entries.append(found)
        else:
            last = max(i for i, line in enumerate(block) if line)
            asides.append(Aside(first, first + last, found))
    return tuple(entries), tuple(asides)


def _check_version(number: int, line: str) -> None:
    given = re.fullmatch(r"version = (.+)", line)
    if given and number == 2:
        raise Refusal(f"{short(given[1])} is not a known version", f"{VERSION} is allowed", f"line {number}")


def _blocks(lines: list[str]) -> list[tuple[int, list[str]]]:
    """(number of the first line, lines): records from start to end, and what lies between them."""
    found, begin, inside = [], 0, False
    for i, line in enumerate(lines):
        if line == START and i > begin:
            found.append((begin + 1, lines[begin:i]))
            begin = i
        inside = inside or line == START
        if inside and END.fullmatch(line):
            found.append((begin + 1, lines[begin : i + 1]))
            begin, inside = i + 1, False
    if begin < len(lines):
        found.append((begin + 1, lines[begin:]))
    return found


def _seal(body: str) -> str:
    return hashlib.sha256(body.encode("utf-8", "replace")).hexdigest()[:16]


def _entry(block: list[str]) -> Entry | str:
    """The record of a block, or why it is none."""
    end = END.fullmatch(block[-1])
    if not end:
        return "a record whose end is missing, as when writing it was interrupted"
    body = "\n".join(block[1:-1]) + "\n"
    return _understood(body) if _seal(body) == end[1] else "a record that is damaged or was changed by hand"


@lru_cache(2000)
def _understood(body: str) -> Entry | str:
    try:
        return entry_from(parsed(body))
    except Refusal as refusal:
        return f"a record that cannot be understood ({str(refusal).rstrip('.')})"


def append(path: str | os.PathLike, entry: Entry) -> Log:
    """Add one record to the end of a log, whole or not at all, and read the log again.

    Parameters
    ----------
    path : str or path
        Made with its first record when there is no such file; its folder must exist.
    entry : Measurement, Prediction, Change or Result

    Returns
    -------
    Log
        With this record, and with those that another notebook has added since.

    Raises
    ------
    Refusal
        Not a record, one of another chanter, not a bench log, not to be written to, disk full; every earlier record
        is still there.

    Notes
    -----
    One write at the end of the file (O_APPEND) and a flush to the disk, under a lock where the system has
    one.  A process killed in between leaves at most a piece without its seal behind whole records.

    A record is of the same chanter if its design is a revision that the log knows (a change tells the next one), or
    if it has the name of one that is there.  Records without a name are not asked.  This is looked up under the lock,
    for another notebook may have begun the log meanwhile.
    """
    if not isinstance(entry, Entry) or not entry.KIND:
        allowed = "a Measurement, Prediction, Change or Result is needed"
        raise Refusal(f"{short(entry)} is not a record", allowed, "entry")
    where, body, before = label(path), entry_text(entry), open_log(path)
    flags = os.O_RDWR | os.O_CREAT | os.O_APPEND | getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_BINARY", 0)
    try:
        file = os.open(path, flags, 0o666)
        try:
            alone = _locked(file)
            _check_same_chanter(open_log(path).entries, entry)
            _write(file, f"\n{START}\n{body}# end {_seal(body)}\n", alone)
        finally:
            os.close(file)
        _flush_folder(path)
    except Refusal as refusal:
        raise refusal.inside(where) from None
    except (OSError, ValueError) as error:
        what = f"the record could not be added ({reason(error)}), and all earlier ones are still there"
        raise Refusal(what, "a place where you may write and a disk with room are needed", where) from None
    log = open_log(path)
    if log.entries.count(entry) <= before.entries.count(entry):
        what = "something else wrote at the same moment and spoiled the record, and all earlier ones are still there"
        raise Refusal(what, "adding it once more is needed", where)
    return log


def _check_same_chanter(entries: tuple[Entry, ...], entry: Entry) -> None:
    names = {one.chanter: None for one in entries if one.chanter}
    known = {revision for one in entries for revision in (one.design, getattr(one, "after", ""))}
    if names and entry.chanter and entry.chanter not in names and entry.design not in known:
        what = f"the record is of the chanter {short(entry.chanter)}, those there are of {short(next(iter(names)))}"
        raise Refusal(what, "a log of its own for each chanter, or the same name in the design file, is needed")


def _locked(file: int) -> bool:
    """Whether this process alone may write now; False where the system or the disk has no locks."""
    if fcntl is None:
        return False
    start = time.monotonic()
    while True:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return True
        except BlockingIOError:
            if time.monotonic() - start > LONGEST_WAIT_S:
                what = f"another notebook has been writing to it for {LONGEST_WAIT_S:g} s"
                raise Refusal(what, "waiting until it is done, or closing it, is needed") from None
            time.sleep(0.01)
        except OSError:
            return False


def _write(file: int, block: str, alone: bool) -> None:
    before = os.fstat(file).st_size
    data = ((HEAD if before == 0 else "") + block).encode("utf-8")
    if before + len(data) > LARGEST_BYTES:
        raise Refusal("it would grow beyond 1 MiB", "starting another log is needed")
    written = 0
    try:
        while written < len(data):
            written += os.write(file, data[written:])
        os.fsync(file)
    except OSError:
        if alone and os.fstat(file).st_size == before + written:
            os.ftruncate(file, before)  # takes back nothing but what was begun here
        raise


def _flush_folder(path: str | os.PathLike) -> None:
    """Make the name of a new file as safe as what is in it, where the system can."""
    if hasattr(os, "O_DIRECTORY"):
        folder = os.open(os.path.dirname(os.path.realpath(path)), os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
