"""Set files: a short text file (TOML) that names the design files of a chanter, its drones and regulators.

    form = "set"
    version = 1
    name = "Sallow Ford set"
    chanter = "sallow-ford-1.toml"
    drones = ["sallow-ford-tenor.toml", "sallow-ford-bass.toml"]
    regulators = []

File names are taken from the folder in which the set file lies, with / before a name in a folder below it;
`drones` and `regulators` may be left out.
"""

from __future__ import annotations

import os
import re
from pathlib import PurePosixPath

import tomlkit

from ..errors import Refusal, short, within
from .design_file import FORMS, check_names, read_design
from .drone import Drone
from .files import label, read_as, write_text
from .pipe_set import MOST, PipeSet
from .regulator import Regulator
from .toml import check_form, parsed

FORM, VERSION = "set", 1
FIELDS = ("form", "version", "name", "chanter", "drones", "regulators")
LONGEST = 200
SAID = "A set of pipes; the names are those of design files in this folder, or below it."


def _file_name(given: object, where: str) -> str:
    """A design file's name as it may stand in a set file, or a `Refusal`."""
    allowed = "the name of a design file in the set file's folder, or below it, is allowed"
    if not isinstance(given, str):
        raise Refusal(f"{short(given)} is not a file name", allowed, where)
    if not given.strip() or len(given) > LONGEST or not given.isprintable():
        raise Refusal(f"{short(given)} is empty, too long or not printable", allowed, where)
    parts = PurePosixPath(given).parts
    if given.startswith("/") or ".." in parts or "\\" in given or re.match(r"[A-Za-z]:", given):
        raise Refusal(f"{short(given)} leads out of the folder", allowed, where)
    return given


def _names(given: dict, field: str) -> tuple[str, ...]:
    found = given.get(field, [])
    if not isinstance(found, list):
        raise Refusal(f"{short(found)} is not a list", f'lists look like {field} = ["one.toml", "two.toml"]', field)
    if len(found) > MOST:
        raise Refusal(f"the number of pipes is {len(found)}", f"at most {MOST} are allowed", field)
    return tuple(_file_name(name, f"{field} {i}") for i, name in enumerate(found, 1))


def _checked(given: dict) -> None:
    """Refuse another form or version, a name that is not known here, one that is missing."""
    check_form(given, FORM, VERSION)
    check_names(given, {name: name for name in FIELDS})
    for name in ("name", "chanter"):
        if name not in given:
            raise Refusal("it is missing", f"{name} = ... must be given", name)


def _member(folder: str, name: str, where: str, form: str):
    """The pipe in one of the named files, which must hold a design of that form."""
    with within(where):
        pipe = read_design(os.path.join(folder, name))
    held = next(known for known, kind in FORMS.items() if type(pipe) is kind)
    if held != form:
        raise Refusal(f"{short(name)} holds a {held}", f"the design file of a {form} is needed", where)
    return pipe


def _set(given: dict, folder: str) -> PipeSet:
    """The set of a file in `folder`; all names are checked before any pipe is read."""
    _checked(given)
    chanter = _file_name(given["chanter"], "chanter")
    listed = {field: _names(given, field) for field in ("drones", "regulators")}
    pipes = {"chanter": _member(folder, chanter, "chanter", "chanter")}
    for field, form in (("drones", "drone"), ("regulators", "regulator")):
        named = enumerate(listed[field], 1)
        pipes[field] = tuple(_member(folder, name, f"{field} {i}", form) for i, name in named)
    return PipeSet(given["name"], **pipes)


def read_set(path: str | os.PathLike) -> PipeSet:
    """The set that a set file names, with all its pipes read.

    Parameters
    ----------
    path : str or path
        A file as `write_set` makes it, or written by hand.

    Returns
    -------
    PipeSet

    Raises
    ------
    Refusal
        With file and field, or file and line: of the set file, or of a design file that it names.
    """
    return read_as(lambda source: _set(parsed(source), os.path.dirname(os.fspath(path))), path)


def set_text(name: str, chanter: str, drones=(), regulators=()) -> str:
    """The text of a set file, from the names of design files."""
    document = tomlkit.document()
    document.add(tomlkit.comment(SAID))
    document["form"], document["version"] = FORM, VERSION
    document["name"], document["chanter"] = name, chanter
    for field, names in (("drones", drones), ("regulators", regulators)):
        document[field] = tomlkit.array()
        document[field].extend(names)
        document[field].multiline(len(names) > 1)
    return tomlkit.dumps(document)


def write_set(pipes: PipeSet, files: dict[str, str], path: str | os.PathLike, overwrite: bool = False) -> None:
    """Save a set file whose design files stand beside it or below; `read_set` gives back an equal set.

    Parameters
    ----------
    pipes : PipeSet
    files : {pipe's name: file name}
        Where each pipe was saved with `write_design`, seen from the set file's folder.
    path : str or path
        Usually ending in ``.toml``.
    overwrite : bool
        Whether a file of that name may be replaced.

    Raises
    ------
    Refusal
        Not a set; a pipe whose file is not named, is missing or holds something else; or the set file cannot be
        saved.  An old file stays as it is.
    """
    if not isinstance(pipes, PipeSet):
        raise Refusal(f"{short(pipes)} is not a set", "a PipeSet is needed", "set")
    where, folder = label(path), os.path.dirname(os.fspath(path))
    names = {}
    for pipe in pipes.pipes:
        if pipe.name not in files:
            raise Refusal(f'no file is named for "{pipe.name}"', "each pipe needs the name of its file", where)
        names[pipe.name] = _file_name(files[pipe.name], pipe.name)
        form = next(known for known, kind in FORMS.items() if type(pipe) is kind)
        if _member(folder, names[pipe.name], where, form) != pipe:
            said = f'{short(names[pipe.name])} holds something else than "{pipe.name}"'
            raise Refusal(said, "save the pipe with write_design first", where)
    drones, regulators = ([names[p.name] for p in pipes.pipes if isinstance(p, kind)] for kind in (Drone, Regulator))
    write_text(path, set_text(pipes.name, names[pipes.chanter.name], drones, regulators), overwrite)
