"""Opening and saving the maker's text files without losing any, and saying plainly why not."""

from __future__ import annotations

import os
import secrets
import shutil
import stat
from collections.abc import Callable, Mapping
from contextlib import ExitStack
from pathlib import Path
from typing import TypeVar

from ..errors import Refusal, short, within

Made = TypeVar("Made")
LARGEST_BYTES = 1024 * 1024


def label(path: object) -> str:
    """The file's name as the caller gave it, fit to stand in a sentence, or a `Refusal`."""
    try:
        name = os.fspath(path)
    except TypeError:
        name = None
    if not isinstance(name, str) or not name:
        raise Refusal(f"{short(path)} is not a file name", "a file name in quotation marks is allowed", "file")
    return name if name.isprintable() else ascii(name)


def reason(error: Exception) -> str:
    """What the machine says of an error, as part of a sentence."""
    return (getattr(error, "strerror", None) or str(error)).rstrip(".").lower()


def check_ordinary(path: str | os.PathLike, kind: str = "text file") -> None:
    """A `Refusal` unless `path` is an ordinary file that is there; `kind` is what the sentence asks for."""
    where = label(path)
    try:
        mode = os.stat(path).st_mode
    except FileNotFoundError:
        raise Refusal("there is no such file", f"the name of an existing {kind} is needed", where) from None
    except (OSError, ValueError) as error:
        allowed = f"the name of a {kind} that you may open is needed"
        raise Refusal(f"it cannot be opened ({reason(error)})", allowed, where) from None
    if stat.S_ISDIR(mode):
        raise Refusal("it is a folder", f"the name of a {kind} is needed", where)
    if not stat.S_ISREG(mode):
        raise Refusal("it is not an ordinary file", f"the name of a {kind} is needed", where)


def empty_folder(path: str | os.PathLike) -> Path:
    """A folder of that name with nothing in it, made where it is not there yet.

    Parameters
    ----------
    path : str or path
        New, or an empty folder.

    Raises
    ------
    Refusal
        Files are in it already, a file has that name, or it cannot be made.
    """
    where = label(path)
    try:
        os.makedirs(path, exist_ok=True)
        full = bool(os.listdir(path))
    except (FileExistsError, NotADirectoryError):
        raise Refusal("there is already a file of that name", "the name of a new folder is needed", where) from None
    except (OSError, ValueError) as error:
        allowed = "a place where you may make folders is needed"
        raise Refusal(f"it cannot be made ({reason(error)})", allowed, where) from None
    if full:
        raise Refusal("this folder has files in it already", "the name of a new or empty folder is needed", where)
    return Path(path)


def read_bytes(path: str | os.PathLike) -> bytes:
    """The whole of an ordinary file of at most 1 MiB, or a `Refusal`; never waits on a pipe or a device."""
    where = label(path)
    check_ordinary(path)
    try:
        with open(path, "rb") as file:
            data = file.read(LARGEST_BYTES + 1)
    except OSError as error:
        allowed = "the name of a text file that you may open is needed"
        raise Refusal(f"it cannot be opened ({reason(error)})", allowed, where) from None
    if len(data) > LARGEST_BYTES:
        raise Refusal("it is bigger than 1 MiB", "a text file of at most 1 MiB is allowed", where)
    return data


def read_text(path: str | os.PathLike) -> str:
    """The whole of a text file, with lines ended by newlines only.

    Parameters
    ----------
    path : str or path
        A UTF-8 text file of at most 1 MiB; a byte order mark at its start is taken off.

    Returns
    -------
    str

    Raises
    ------
    Refusal
        Missing, a folder, not readable, too big, empty, not text, or not UTF-8.
    """
    where, data = label(path), read_bytes(path)
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise Refusal("it is saved as UTF-16", "a text file saved as UTF-8 is allowed", where)
    if b"\0" in data:
        raise Refusal("it is not a text file", "a text file saved as UTF-8 is allowed", where)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        what = f"a character there is not saved as UTF-8 (byte {data[error.start]:#04x})"
        raise Refusal(what, "a text file saved as UTF-8 is allowed", f"{where}, line {line}") from None
    if not text.strip():
        raise Refusal("it is empty", "a file with something in it is needed", where)
    return text.replace("\r\n", "\n").replace("\r", "\n")


def read_as(make: Callable[[str], Made], path: str | os.PathLike) -> Made:
    """What `make` makes of a text file; whatever it refuses is said with the file's name."""
    text = read_text(path)
    with within(label(path)):
        return make(text)


def check_place(path: str | os.PathLike, overwrite: bool = False) -> None:
    """A `Refusal` unless a file may be saved as `path`, with `overwrite` also over an old one."""
    where, target = label(path), os.path.realpath(path)
    if os.path.isdir(target):
        raise Refusal("it is a folder", "the name of a file is needed", where)
    if not os.path.isdir(os.path.dirname(target)):
        raise Refusal("there is no folder to save it in", "a name in an existing folder is needed", where)
    if not os.path.lexists(target):
        return
    if not overwrite:
        allowed = "another name, or overwrite=True, is allowed"
        raise Refusal("there is already a file of that name", allowed, where)
    if not os.path.isfile(target) or not os.access(target, os.W_OK):
        raise Refusal("it may not be written to", "a file that you may write to is needed", where)


def _second_name(source: Path, target: Path) -> None:
    """Give a file a second name, or a copy on a disk that has no hard links; FileExistsError when it is taken."""
    try:
        os.link(source, target)
    except FileExistsError:
        raise
    except OSError:
        with source.open("rb") as old, target.open("xb") as new:
            try:
                shutil.copyfileobj(old, new)
                os.fsync(new.fileno())
                shutil.copymode(source, target)
            except BaseException:
                target.unlink()
                raise


def _write(path: Path, data: bytes) -> None:
    with path.open("xb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def _undo(placed: list[Path], olds: dict[Path, Path]) -> None:
    with ExitStack() as undo:  # each, whatever becomes of the others
        for target in placed:
            if target in olds:
                undo.callback(os.replace, olds.pop(target), target)
            else:
                undo.callback(os.unlink, target)


def save_all(files: Mapping[str | os.PathLike, bytes], overwrite: bool = False) -> None:
    """Save files, all of them whole or none; when anything fails, old files stay as they are.

    They are written beside their places first.  Without `overwrite`, a file that another program puts into
    one of the places meanwhile stays as well.

    Parameters
    ----------
    files : dict of path to bytes
        The folders must exist.
    overwrite : bool
        Whether files of those names may be replaced.

    Raises
    ------
    Refusal
        As `check_place`.
    OSError
        What else the machine cannot do.
    """
    for path in files:
        check_place(path, overwrite)
    mark, placed = secrets.token_hex(6), []
    parts: dict[Path, Path] = {}
    olds: dict[Path, Path] = {}
    try:
        for n, (path, data) in enumerate(files.items()):
            target = Path(os.path.realpath(path))
            parts[target] = target.with_name(f".{mark}-{n}.part")
            _write(parts[target], data)
            if overwrite and target.exists():
                parts[target].chmod(stat.S_IMODE(target.stat().st_mode))
                olds[target] = target.with_name(f".{mark}-{n}.old")
                _second_name(target, olds[target])
        for target, part in parts.items():
            (os.replace if overwrite else _second_name)(part, target)
            placed.append(target)
    except BaseException as error:
        _undo(placed, olds)
        if isinstance(error, FileExistsError):
            for path in files:
                check_place(path)
        raise
    finally:
        for left in (*parts.values(), *olds.values()):
            left.unlink(missing_ok=True)


def write_text(path: str | os.PathLike, text: str, overwrite: bool = False) -> None:
    """Save a text file whole or not at all; an old file stays as it is when anything fails.

    Parameters
    ----------
    path : str or path
        Where to save; its folder must exist.
    text : str
        At most 1 MiB as UTF-8.
    overwrite : bool
        Whether a file of that name may be replaced.

    Raises
    ------
    Refusal
        The file exists and `overwrite` is False, no such folder, a folder of that name, no
        permission, disk full, or too much text.
    """
    where = label(path)
    try:
        data = text.encode("utf-8")
    except UnicodeEncodeError as error:
        what = f"the character {text[error.start]!a} cannot be saved"
        raise Refusal(what, "characters that UTF-8 knows are allowed", where) from None
    if len(data) > LARGEST_BYTES:
        raise Refusal("it would be bigger than 1 MiB", "a text file of at most 1 MiB is allowed", where)
    try:
        save_all({path: data}, overwrite)
    except Refusal:
        raise
    except (OSError, ValueError) as error:
        what, allowed = f"it cannot be saved ({reason(error)})", "a place where you may save files is needed"
        raise Refusal(what, allowed, where) from None
