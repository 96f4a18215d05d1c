"""Design files: a chanter as a text file (TOML) that a maker can read and edit.

The dataclasses are the only list of fields: tables, names, what must be there and what may be left
out all follow from them.
"""

from __future__ import annotations

import dataclasses
import difflib
import os
import re
import typing

import tomlkit

from ..errors import Refusal, short
from .chanter import Chanter
from .files import label, read_text, write_text
from .holes import Key, ToneHole
from .toml import parsed

VERSION = 1
FORMS = {"chanter": Chanter}
HOLE_KINDS = {"finger": ToneHole, "key": Key}
HOLE_TABLE, HOLE_FIELD = "hole", "holes"

# Said beside a table or a field (a field of that name in any table) when a file is written.
COMMENTS = {
    "key": "sounding name of the lowest note",
    "reed": "head of the reed, from the eye of the staple to the lips",
    "staple": "copper cone; foot and tip are inside diameters before the eye is pressed",
    "bore": "inside: [distance from the top, diameter]; the same distance twice is a step",
    "body": "outside: [distance from the top, diameter]",
    "rush": "wire in the bore; distances from the top",
    "area_mm2": "mean cross-section of the air inside",
    "softness": "how far the blades yield, against the air between them; 0 is rigid",
    "resonance_hz": "resonance of the blades",
    "insertion_mm": "how far the staple's foot sits below the top",
    "eye_opening_mm": "short way across the pressed eye",
    "flattened_mm": "length over which the pressing fades to round",
    "position_mm": "from the top to the middle of the hole",
    "tilt_deg": "outer end towards the foot is positive",
    "lift_mm": "height of the open pad",
    "duct": "[length, diameter] of each further stretch, from the wall out to the pad",
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
    return [f for f in dataclasses.fields(form) if f.name != HOLE_FIELD and f.name not in _parts(form)]


def _needed(field: dataclasses.Field) -> bool:
    return field.default is dataclasses.MISSING and field.default_factory is dataclasses.MISSING


def _check_names(given: dict, known: dict[str, str]) -> None:
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
    _check_names(given, {name: name for name in (*also, *(f.name for f in fields))})
    for field in fields:
        if _needed(field) and field.name not in given:
            raise Refusal("it is missing", f"{field.name} = ... must be given", field.name)
    return kind(**{name: value for name, value in given.items() if name not in also})


def _relabelled(refusal: Refusal, old: str, new: str) -> Refusal:
    """`refusal` with a leading `old` in its place turned into `new`, or put inside `new`."""
    if refusal.where == old or refusal.where.startswith(f"{old}, "):
        return Refusal(refusal.what, refusal.allowed, new + refusal.where[len(old) :])
    return refusal.inside(new)


def _part(name: str, kind: type, given: object) -> object:
    if not isinstance(given, dict):
        raise Refusal(f"{short(given)} is not a table", f"a line [{name}] with its fields below is needed", f"[{name}]")
    fields = dataclasses.fields(kind)
    try:
        return _made(kind, given)
    except Refusal as refusal:
        # Bore and Body, which have one field, name their refusals after themselves
        only = len(fields) == 1 and fields[0].name in given and refusal.where.startswith(name)
        raise _relabelled(refusal, name, f"[{name}], {fields[0].name}" if only else f"[{name}]") from None


def _holes(given: object) -> tuple[tuple[ToneHole | Key, ...], dict[str, str]]:
    """The holes in the file's order, and {name: place in the file}."""
    if not isinstance(given, list):
        allowed = "every hole needs a line [[hole]] with two brackets on each side"
        raise Refusal("it is not a list of holes", allowed, f"[[{HOLE_TABLE}]]")
    holes, places = [], {}
    for i, table in enumerate(given, 1):
        place = f"[[{HOLE_TABLE}]] {i}"
        if not isinstance(table, dict):
            raise Refusal(f"{short(table)} is not a table", "a line [[hole]] with its fields below is needed", place)
        name = table.get("name")
        if isinstance(name, str) and name.isprintable() and len(name) <= 40:
            place += f' ("{name}")'
        kind = table.get("kind")
        if not isinstance(kind, str) or kind not in HOLE_KINDS:
            allowed = " or ".join(f'kind = "{known}"' for known in HOLE_KINDS) + " is allowed"
            what = "it is missing" if kind is None else f"{short(kind)} is not a kind of hole"
            raise Refusal(what, allowed, f"{place}, kind")
        try:
            holes.append(_made(HOLE_KINDS[kind], table, ("kind",)))
        except Refusal as refusal:
            raise _relabelled(refusal, f'hole "{name}"', place) from None
        if name in places:
            raise Refusal(f"{places[name]} has the same name", "each hole needs its own name", f"{place}, name")
        places[name] = place
    return tuple(holes), places


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


def _pipe(given: dict) -> Chanter:
    form = _check_form(given)
    parts, plain = _parts(form), _plain(form)
    single = {name: name for name in ("form", "version", *(f.name for f in plain))}
    _check_names(given, single | {name: f"[{name}]" for name in parts} | {HOLE_TABLE: f"[[{HOLE_TABLE}]]"})
    for field in dataclasses.fields(form):
        if field.name != HOLE_FIELD and _needed(field) and field.name not in given:
            if field.name in parts:
                raise Refusal("the table is missing", f"a line [{field.name}] is needed", f"[{field.name}]")
            raise Refusal("it is missing", f"{field.name} = ... must be given", field.name)
    values = {field.name: given[field.name] for field in plain if field.name in given}
    for name, kind in parts.items():
        if name in given:
            values[name] = _part(name, kind, given[name])
    values[HOLE_FIELD], places = _holes(given.get(HOLE_TABLE, []))
    try:
        return form(**values)
    except Refusal as refusal:
        renamed = {name: f"[{name}]" for name in parts} | {HOLE_FIELD: f"[[{HOLE_TABLE}]]"}
        renamed |= {f'hole "{name}"': place for name, place in places.items()}
        if refusal.where in renamed:
            raise Refusal(refusal.what, refusal.allowed, renamed[refusal.where]) from None
        raise


def read_design(path: str | os.PathLike) -> Chanter:
    """The pipe that a design file describes.

    Parameters
    ----------
    path : str or path
        A file as `write_design` makes it, or written by hand; lengths in mm.

    Returns
    -------
    Chanter

    Raises
    ------
    Refusal
        With file and field, or file and line, when anything in it cannot be used.
    """
    source = read_text(path)
    try:
        return _pipe(parsed(source))
    except Refusal as refusal:
        raise refusal.inside(label(path)) from None


def _fill(table, part: object, comments: bool) -> None:
    """Put the fields of `part` that are given into `table`, with comments if wanted."""
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
        if comments and field.name in COMMENTS:
            table[field.name].comment(COMMENTS[field.name])


def design_text(pipe: Chanter) -> str:
    """The text of a design file: head to foot, each station on its own line, lengths in mm."""
    names, kinds = ({kind: name for name, kind in known.items()} for known in (FORMS, HOLE_KINDS))
    if type(pipe) not in names:
        raise Refusal(f"{short(pipe)} is not a pipe", f"a {' or '.join(k.__name__ for k in names)} is needed", "pipe")
    document = tomlkit.document()
    document.add(tomlkit.comment("Lengths and diameters in mm; distances are from the top of the body."))
    document["form"], document["version"] = names[type(pipe)], VERSION
    for field in _plain(type(pipe)):
        document[field.name] = getattr(pipe, field.name)
        if field.name in COMMENTS:
            document[field.name].comment(COMMENTS[field.name])
    for name in _parts(type(pipe)):
        if getattr(pipe, name) is not None:
            table = tomlkit.table()
            table.comment(COMMENTS[name])
            _fill(table, getattr(pipe, name), True)
            document[name] = table
    said, holes = set(), tomlkit.aot()
    for hole in pipe.holes:
        table = tomlkit.table()
        table["kind"] = kinds[type(hole)]
        _fill(table, hole, type(hole) not in said)
        said.add(type(hole))
        holes.append(table)
    if pipe.holes:
        document[HOLE_TABLE] = holes
    return tomlkit.dumps(document)


def write_design(pipe: Chanter, path: str | os.PathLike, overwrite: bool = False) -> None:
    """Save a pipe as a design file; `read_design` gives back an equal one.

    Parameters
    ----------
    pipe : Chanter
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
