"""Design files: a chanter, a drone or a regulator as a text file (TOML) that a maker can read and edit.

The dataclasses are the only list of fields: tables, names, what must be there and what may be left
out all follow from them.
"""

from __future__ import annotations

import dataclasses
import difflib
import hashlib
import os
import re
import typing

import tomlkit

from ..errors import Refusal, short
from .chanter import Chanter
from .design_words import COMMENTS, DRONE_COMMENTS, REGULATOR_COMMENTS
from .drone import Drone
from .files import read_as, write_text
from .holes import Key, ToneHole
from .regulator import Regulator
from .stretches import Bend, Bridge, Slide, Straight
from .toml import parsed

VERSION = 1
FORMS = {"chanter": Chanter, "drone": Drone, "regulator": Regulator}


@dataclasses.dataclass(frozen=True)
class Rows:
    """What a form lists in a row: [[table]] in the file, `field` of the pipe, {kind in the file: class}."""

    table: str
    field: str
    kinds: dict[str, type]


ROWS = {
    Chanter: Rows("hole", "holes", {"finger": ToneHole, "key": Key}),
    Drone: Rows("stretch", "stretches", {"straight": Straight, "slide": Slide, "bend": Bend, "bridge": Bridge}),
    Regulator: Rows("hole", "holes", {"key": Key}),
}

SAID = {Chanter: COMMENTS, Drone: DRONE_COMMENTS, Regulator: REGULATOR_COMMENTS}
HEADS = {
    Chanter: "Lengths and diameters in mm; distances are from the top of the body.",
    Drone: "Lengths and inside diameters in mm; stretches in their order from the reed to the open end.",
    Regulator: "Lengths and diameters in mm; distances are from the top of the body, the foot is stopped.",
}


def _parts(form: type) -> dict[str, type]:
    """The fields of a pipe that are dataclasses themselves: {field: class}, in order."""
    hints = typing.get_type_hints(form)
    found = {}
    for field in dataclasses.fields(form):
        for kind in (hints[field.name], *typing.get_args(hints[field.name])):
            if dataclasses.is_dataclass(kind):
                found[field.name] = kind
    return found


def _plain(form: type) -> list[dataclasses.Field]:
    """The fields of a pipe that are single values."""
    return [f for f in dataclasses.fields(form) if f.name != ROWS[form].field and f.name not in _parts(form)]


def _needed(field: dataclasses.Field) -> bool:
    return field.default is dataclasses.MISSING and field.default_factory is dataclasses.MISSING


def check_names(given: dict, known: dict[str, str]) -> None:
    """Refuse a name that is not in `known`, {name: as it is written in a file}."""
    for name in given:
        if name not in known:
            near = difflib.get_close_matches(name, known, 1, 0.6)
            hint = f" (did you mean {known[near[0]]}?)" if near else ""
            where = name if re.fullmatch(r"[A-Za-z0-9_-]{1,40}", name) else short(name)
            raise Refusal(f"there is no such name here{hint}", f"allowed names: {', '.join(known.values())}", where)


def _made(kind: type, given: dict, also: tuple[str, ...] = ()) -> object:
    """One part from its table; `also` names keys of the table that are not fields of the part."""
    fields = dataclasses.fields(kind)
    check_names(given, {name: name for name in (*also, *(f.name for f in fields))})
    for field in fields:
        if _needed(field) and field.name not in given:
            raise Refusal("it is missing", f"{field.name} = ... must be given", field.name)
    return kind(**{name: value for name, value in given.items() if name not in also})


def _relabelled(refusal: Refusal, old: str, new: str) -> Refusal:
    """`refusal` with a leading `old` in its place turned into `new`, or put inside `new`."""
    if refusal.where == old or refusal.where.startswith(f"{old}, "):
        return Refusal(refusal.what, refusal.allowed, new + refusal.where[len(old) :])
    return refusal.inside(new)


def part_of(name: str, kind: type, given: object) -> object:
    """One dataclass from its table [name] in a file, or a `Refusal` that names table and field."""
    if not isinstance(given, dict):
        raise Refusal(f"{short(given)} is not a table", f"a line [{name}] with its fields below is needed", f"[{name}]")
    fields = dataclasses.fields(kind)
    try:
        return _made(kind, given)
    except Refusal as refusal:
        # Bore and Body, which have one field, name their refusals after themselves
        only = len(fields) == 1 and fields[0].name in given and refusal.where.startswith(name)
        raise _relabelled(refusal, name, f"[{name}], {fields[0].name}" if only else f"[{name}]") from None


def _listed(rows: Rows, given: object) -> tuple[tuple, dict[str, str]]:
    """The holes or stretches in the file's order, and {what the pipe calls one: place in the file}."""
    head, named = f"[[{rows.table}]]", rows.table == "hole"
    if not isinstance(given, list):
        allowed = f"every {rows.table} needs a line {head} with two brackets on each side"
        many = "holes" if named else "stretches"
        raise Refusal(f"it is not a list of {many}", allowed, head)
    made, places = [], {}
    for i, table in enumerate(given, 1):
        place = f"{head} {i}"
        if not isinstance(table, dict):
            raise Refusal(f"{short(table)} is not a table", f"a line {head} with its fields below is needed", place)
        name = table.get("name") if named else None
        if isinstance(name, str) and name.isprintable() and len(name) <= 40:
            place += f' ("{name}")'
        kind = table.get("kind")
        if not isinstance(kind, str) or kind not in rows.kinds:
            allowed = " or ".join(f'kind = "{known}"' for known in rows.kinds) + " is allowed"
            what = "it is missing" if kind is None else f"{short(kind)} is not a kind of {rows.table}"
            raise Refusal(what, allowed, f"{place}, kind")
        called = f'hole "{name}"' if named else f"stretch {i}"
        try:
            made.append(_made(rows.kinds[kind], table, ("kind",)))
        except Refusal as refusal:
            raise _relabelled(refusal, called, place) from None
        if called in places:
            raise Refusal(f"{places[called]} has the same name", "each hole needs its own name", f"{place}, name")
        places[called] = place
    return tuple(made), places


def _check_form(given: dict) -> type:
    form, forms = given.get("form"), " or ".join(f'form = "{known}"' for known in FORMS)
    if form is None:
        raise Refusal("it is missing", f"{forms} must stand at the start", "form")
    if not isinstance(form, str) or form not in FORMS:
        raise Refusal(f"{short(form)} is not a known form", f"{forms} is allowed", "form")
    version = given.get("version")
    if version is None:
        raise Refusal("it is missing", f"version = {VERSION} must stand below the form", "version")
    if type(version) is not int or version != VERSION:
        raise Refusal(
            f"{short(version)} is not a known version", f"version = {VERSION}, a whole number, is allowed", "version"
        )
    return FORMS[form]


def _pipe(given: dict) -> Chanter | Drone | Regulator:
    form = _check_form(given)
    parts, plain, rows = _parts(form), _plain(form), ROWS[form]
    single = {name: name for name in ("form", "version", *(f.name for f in plain))}
    check_names(given, single | {name: f"[{name}]" for name in parts} | {rows.table: f"[[{rows.table}]]"})
    for field in dataclasses.fields(form):
        if field.name != rows.field and _needed(field) and field.name not in given:
            if field.name in parts:
                raise Refusal("the table is missing", f"a line [{field.name}] is needed", f"[{field.name}]")
            raise Refusal("it is missing", f"{field.name} = ... must be given", field.name)
    values = {field.name: given[field.name] for field in plain if field.name in given}
    for name, kind in parts.items():
        if name in given:
            values[name] = part_of(name, kind, given[name])
    values[rows.field], places = _listed(rows, given.get(rows.table, []))
    try:
        return form(**values)
    except Refusal as refusal:
        renamed = {name: f"[{name}]" for name in parts} | {rows.field: f"[[{rows.table}]]"} | places
        if refusal.where in renamed:
            raise Refusal(refusal.what, refusal.allowed, renamed[refusal.where]) from None
        raise


def read_design(path: str | os.PathLike) -> Chanter | Drone | Regulator:
    """The pipe that a design file describes.

    Parameters
    ----------
    path : str or path
        A file as `write_design` makes it, or written by hand; lengths in mm.

    Returns
    -------
    Chanter, Drone or Regulator

    Raises
    ------
    Refusal
        With file and field, or file and line, when anything in it cannot be used.
    """
    return read_as(lambda source: _pipe(parsed(source)), path)


def fill(table, part: object, comments: dict[str, str]) -> None:
    """Put the fields of `part` that are given into `table`, with what is said beside them."""
    for field in dataclasses.fields(part):
        value = getattr(part, field.name)
        if value is None or value == ():
            continue
        if isinstance(value, tuple):
            array = tomlkit.array()
            for item in value:
                array.append(list(item) if isinstance(item, tuple) else item)
            value = array.multiline(isinstance(value[0], tuple))
        table[field.name] = value
        if field.name in comments:
            table[field.name].comment(comments[field.name])


def design_text(pipe: Chanter | Drone | Regulator) -> str:
    """The text of a design file: head to foot, each station on its own line, lengths in mm."""
    form, names = type(pipe), {kind: name for name, kind in FORMS.items()}
    if form not in names:
        raise Refusal(f"{short(pipe)} is not a pipe", f"a {' or '.join(k.__name__ for k in names)} is needed", "pipe")
    rows, comments = ROWS[form], SAID[form]
    document = tomlkit.document()
    document.add(tomlkit.comment(HEADS[form]))
    document["form"], document["version"] = names[form], VERSION
    for field in _plain(form):
        document[field.name] = getattr(pipe, field.name)
        if field.name in comments:
            document[field.name].comment(comments[field.name])
    for name in _parts(form):
        if getattr(pipe, name) is not None:
            table = tomlkit.table()
            table.comment(comments[name])
            fill(table, getattr(pipe, name), comments)
            document[name] = table
    kinds, said, listed = {kind: name for name, kind in rows.kinds.items()}, set(), tomlkit.aot()
    for part in getattr(pipe, rows.field):
        table = tomlkit.table()
        table["kind"] = kinds[type(part)]
        fill(table, part, {} if type(part) in said else comments)
        said.add(type(part))
        listed.append(table)
    if getattr(pipe, rows.field):
        document[rows.table] = listed
    return tomlkit.dumps(document)


def revision(pipe: Chanter | Drone | Regulator) -> str:
    """First 8 hexadecimal digits of the SHA-256 of the design file that `write_design` would save.

    Parameters
    ----------
    pipe : Chanter, Drone or Regulator

    Raises
    ------
    Refusal
        Not a pipe.
    """
    return hashlib.sha256(design_text(pipe).encode("utf-8")).hexdigest()[:8]


def write_design(pipe: Chanter | Drone | Regulator, path: str | os.PathLike, overwrite: bool = False) -> None:
    """Save a pipe as a design file; `read_design` gives back an equal one.

    Parameters
    ----------
    pipe : Chanter, Drone or Regulator
    path : str or path
        Usually ending in ``.toml``.
    overwrite : bool
        Whether a file of that name may be replaced.

    Raises
    ------
    Refusal
        Not a pipe, or the file cannot be saved; an old file stays as it is.
    """
    write_text(path, design_text(pipe), overwrite)
