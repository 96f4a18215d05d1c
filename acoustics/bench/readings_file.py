"""Readings as a table (CSV), or typed into a notebook.

A file starts with a few lines and the names of the columns::

    # form: tuning readings
    # version: 1
    # a: 440
    # scale: just
    # key: D
    # temperature: 18.5
    note,octave,cents,error
    D,1,+4,2
    back D,2,-6,3

``a`` is the A of the tuning fork in Hz, ``scale`` is ``just`` or ``equal``, ``key`` the sounding name of the
chanter's lowest note (D where it is not given), ``temperature`` that of the air in the pipe in °C.  Notes are
named as fingered on a chanter in D; ``back D`` is the thumb's.  Octaves count from 1; cents are against the
scale, positive is sharp; ``error``, one standard deviation in cents, may be left out (3 then).  Other lines that
start with ``#`` are remarks.

Typed into a notebook, one reading stands on each line or between semicolons: ``A 1 +4`` or ``back D 2 -6 ±2``.

An octave may also be in words, as a chart prints it: ``A, second octave +4``.  A chart calls the back D in the middle
``back D, first octave``, the one above it ``back D, second octave``; counted, they are back D 2 and back D 3.
A typed ``back D -6`` with its sign and no octave is the one in the middle.
"""

from __future__ import annotations

import os
import re

from ..errors import Refusal, number, short
from ..pipes.files import label, read_text, write_text
from ..pipes.sheet import NUMBER, cell_number, cells_of, put_header
from ..tuning.scales import SEMITONES_FROM_D, Scale, equal_scale, just_scale
from .readings import LARGEST_CENTS, NAMES, USUAL_ERROR_CENTS, Reading, Readings

FORM, VERSION = "tuning readings", "1"
SCALES = {"just": just_scale, "equal": equal_scale}
COLUMNS = (("note", "octave", "cents"), ("note", "octave", "cents", "error"))
_HEADERS = ("form", "version", "a", "scale", "key", "temperature")
_WORDS = {"first": 1, "second": 2}  # of a chart's octaves
_TYPED = re.compile(
    r"(?P<note>(?!(back|thumb)\s+D\s+\S+$)\D*?[^\d\s,])(\s*,\s*|\s+)(?P<octave>(first|second)(\s+octave)?|[^\s,:]+)"
    r"\s*[,:]?\s+(?P<cents>[^\s±]+)(\s*±\s*(?P<error>\S+))?",
    re.IGNORECASE,
)
_THUMB_D_ALONE = re.compile(r"((?:back|thumb)[\s-]?D)\s+(?=[+\-−][^\s±]+(\s*±.*)?$)", re.IGNORECASE)
_SPELT = {name.lower().replace(" ", ""): name for name in NAMES} | {"thumbd": "back D"}
_HIGHER_D = (
    "back D 2 (the one in the middle, which a chart calls back D, first octave), D 2 (the lowest fingering overblown) "
    "or back D 3 (the one above) is allowed"
)


def _octave(said: str, note: str) -> int | None:
    """The octave, counted or in a chart's words, which count the back D's from the one in the middle."""
    word = said.lower().removesuffix("octave").strip()
    if word in _WORDS:
        return _WORDS[word] + (note == "back D")
    return int(said) if said in ("1", "2", "3") else None


def _reading(line: str, cells: dict[str, str]) -> Reading:
    """One row, its places named by line and column."""
    places = {column: f"{line}, column {column}" for column in cells}
    note = re.sub(r"[\s-]", "", cells["note"].replace("♭", "b").replace("♯", "#").lower())
    if note in ("d'", "d’", "d''", "d’’", "highd"):
        raise Refusal(f"{short(cells['note'])} may be more than one note", _HIGHER_D, places["note"])
    if note not in _SPELT:
        hint = " (are the columns in the order of their names?)" if NUMBER.fullmatch(note) else ""
        what = f"{short(cells['note'])} is not a note{hint}"
        raise Refusal(what, f"one of {', '.join(NAMES)} is allowed", places["note"])
    octave = _octave(cells["octave"], _SPELT[note])
    if octave is None:
        hint = " (is it a frequency or a column out of its place?)" if NUMBER.fullmatch(cells["octave"]) else ""
        allowed = "1, 2 or 3, first octave or second octave is allowed"
        raise Refusal(f"{short(cells['octave'])} is not an octave{hint}", allowed, places["octave"])
    if (_SPELT[note], octave) == ("back D", 1):
        raise Refusal("a back D has no octave 1", _HIGHER_D, places["octave"])
    unsigned = cells["cents"].lstrip("+-−")
    if NUMBER.fullmatch(unsigned) and float(unsigned) > LARGEST_CENTS:
        what = f"{cells['cents']} cents is more than any note is out of tune (is it a frequency in Hz?)"
        raise Refusal(
            what, f"cents from -{LARGEST_CENTS:g} to {LARGEST_CENTS:g} against the scale are needed", places["cents"]
        )
    cents = cell_number(cells["cents"], places["cents"], -LARGEST_CENTS, LARGEST_CENTS, "cents")
    error = USUAL_ERROR_CENTS
    if cells.get("error", ""):
        error = cell_number(cells["error"], places["error"], 0.01, 100.0, "cents")
    try:
        return Reading(_SPELT[note], octave, cents, error)
    except Refusal as refusal:
        raise refusal.inside(line) from None


def _gathered(rows: list[tuple[str, Reading]], scale: Scale, temperature_c: float) -> Readings:
    seen: dict[tuple[str, int], str] = {}
    for line, reading in rows:
        if reading.place in seen:
            what = f"{reading.title} stands on {seen[reading.place]} already"
            raise Refusal(what, "each note may stand once in each octave", line)
        seen[reading.place] = line
    if rows and all(reading.cents >= 100.0 for _, reading in rows):
        what = "every note is more than 100 cents sharp (are these frequencies in Hz?)"
        raise Refusal(what, "cents against the scale are needed", "cents")
    return Readings(tuple(reading for _, reading in rows), scale, temperature_c)


def _header(headers: dict[str, tuple[int, str]], name: str, example: str, usual: str | None = None) -> tuple[str, str]:
    if name not in headers:
        if usual is None:
            allowed = f'a line like "# {name}: {example}" is needed above the table'
            raise Refusal(f"the {name} is not declared", allowed, name)
        return name, usual
    line, value = headers[name]
    return f"line {line}", value


def _declared(headers: dict[str, tuple[int, str]]) -> tuple[Scale, float]:
    """Scale and temperature of a file, its form and version checked."""
    known = {"form": (FORM,), "version": (VERSION,), "scale": tuple(SCALES), "key": tuple(SEMITONES_FROM_D)}
    values = {}
    for name, allowed in known.items():
        where, value = _header(headers, name, allowed[0], "D" if name == "key" else None)
        if value not in allowed:
            raise Refusal(f"{short(value)} is not a known {name}", f"{' or '.join(allowed)} is allowed", where)
        values[name] = value
    where, value = _header(headers, "a", "440")
    a_hz = cell_number(value, f"{where}, a" if where != "a" else where, 300.0, 600.0, "Hz")
    where, value = _header(headers, "temperature", "18.5")
    return SCALES[values["scale"]](a_hz, values["key"]), cell_number(value, f"{where}, temperature", -10.0, 45.0, "°C")


def _read(text: str) -> Readings:
    headers: dict[str, tuple[int, str]] = {}
    columns, rows = None, []
    for i, content in enumerate(text.split("\n"), 1):
        content, line = content.strip(), f"line {i}"
        if content.startswith("#"):
            put_header(headers, _HEADERS, i, content)
        elif content.strip(", ") and columns is None:
            _declared(headers)
            columns = tuple(name.lower() for name in cells_of(i, content))
            if columns not in COLUMNS:
                allowed = " or ".join(",".join(known) for known in COLUMNS)
                raise Refusal(f"{short(content)} are no known columns", f"{allowed} is allowed", line)
        elif content.strip(", "):
            cells = cells_of(i, content)
            if len(cells) != len(columns):
                what = f"the number of values is {len(cells)}, that of columns {len(columns)}"
                raise Refusal(what, f"{','.join(columns)} are needed, with a point for decimals", line)
            rows.append((line, _reading(line, dict(zip(columns, cells, strict=True)))))
    scale, temperature_c = _declared(headers)
    if columns is None:
        raise Refusal("there is no table", "a line like note,octave,cents with readings below it is needed", "columns")
    return _gathered(rows, scale, temperature_c)


def read_readings_csv(path: str | os.PathLike) -> Readings:
    """A tuner's readings from a table as described at the top of this module.

    Parameters
    ----------
    path : str or path

    Raises
    ------
    Refusal
        With file, line and column, when anything in it cannot be used.
    """
    text, where = read_text(path), label(path)
    try:
        return _read(text)
    except Refusal as refusal:
        raise refusal.inside(where) from None


def write_readings_csv(readings: Readings, path: str | os.PathLike, overwrite: bool = False) -> None:
    """Save readings; `read_readings_csv` gives back equal ones.

    Parameters
    ----------
    readings : Readings
        Without flags, on the just scale (seventh 9/5) or in equal temperament: the form has no others.
    path : str or path
        Usually ending in ``.csv``.
    overwrite : bool
        Whether a file of that name may be replaced.

    Raises
    ------
    Refusal
        Not readings, or such as the form has no place for, or the file cannot be saved; an old file stays.
    """
    if not isinstance(readings, Readings):
        raise Refusal(f"{short(readings)} is not readings", "Readings are needed", "readings")
    scale = readings.scale
    names = [name for name, made in SCALES.items() if made(scale.a_hz, scale.key) == scale]
    if not names:
        raise Refusal(
            f"the file has no word for the scale {short(scale.name)}", "just_scale or equal_scale is allowed", "scale"
        )
    flagged = [row.title for row in readings.rows if row.flag]
    if flagged:
        raise Refusal(
            f"{flagged[0]} is flagged", "readings without flags are allowed; leave it out or mend it", "readings"
        )
    lines = [f"# form: {FORM}", f"# version: {VERSION}", f"# a: {scale.a_hz!r}", f"# scale: {names[0]}"]
    lines += [f"# key: {scale.key}", f"# temperature: {readings.temperature_c!r}", ",".join(COLUMNS[1])]
    lines += [f"{r.note},{r.octave},{r.cents!r},{r.error_cents!r}" for r in readings.rows]
    write_text(path, "\n".join(lines) + "\n", overwrite)


def typed_readings(
    text: str, scale: Scale | None = None, temperature_c: float = 20.0, error_cents: float = USUAL_ERROR_CENTS
) -> Readings:
    """Readings as a maker types them: ``A 1 +4`` on each line or between semicolons, ``±2`` after it if wanted.

    Parameters
    ----------
    text : str
    scale : Scale, optional
        The just scale at A = 440 Hz on D when None.
    temperature_c : float
    error_cents : float
        Of every reading that says none.

    Raises
    ------
    Refusal
        With the line, when anything in it cannot be used.
    """
    if not isinstance(text, str):
        raise Refusal(f"{short(text)} is not text", "lines like A 1 +4 in quotation marks are needed", "readings")
    rows = []
    for i, content in enumerate(filter(None, map(str.strip, re.split(r"[\n;]", text))), 1):
        line, taken = f"reading {i}", _TYPED.fullmatch(_THUMB_D_ALONE.sub(r"\1 2 ", content))
        if taken is None:
            raise Refusal(
                f"{short(content)} cannot be understood",
                "lines like A 1 +4, back D 2 -6 ±2 or back D, first octave -6, or semicolons between, are allowed",
                line,
            )
        cells = {name: value or "" for name, value in taken.groupdict().items()}
        cells["error"] = cells["error"] or repr(number("error_cents", error_cents, 0.01, 100.0, "cents"))
        rows.append((line, _reading(line, cells)))
    return _gathered(rows, just_scale() if scale is None else scale, temperature_c)
