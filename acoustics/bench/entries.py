"""What a bench log holds: measurements, predictions, changes and results, and how each is written down."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, fields
from typing import ClassVar

import tomlkit

from ..errors import Refusal, number, short, text, within

LONGEST = 200
MOST_NOTES = 100
MAY_LACK = ("remark", "chanter")


@dataclass(frozen=True)
class Cents:
    """Where one note stands against the scale.

    Parameters
    ----------
    note : str
        As a chart says it: "A, second octave".
    cents : float
        Positive is sharp, -1200 to 1200; kept to 0.01.
    error_cents : float, optional
        One standard deviation of it, 0 to 1200.
    """

    note: str
    cents: float
    error_cents: float | None = None

    def __post_init__(self):
        text("note", self.note, 40)
        object.__setattr__(self, "cents", _rounded("cents", self.cents, -1200.0, 1200.0))
        if self.error_cents is not None:
            object.__setattr__(self, "error_cents", _rounded("error_cents", self.error_cents, 0.0, 1200.0))


def _rounded(field: str, value: object, low: float, high: float) -> float:
    return round(number(field, value, low, high, "cents"), 2) + 0.0  # no negative zero


@dataclass(frozen=True)
class Entry:
    """One record.  Do not make this one: make a `Measurement`, `Prediction`, `Change` or `Result`.

    Parameters
    ----------
    date : str
        As you write it; no clock is read.
    design : str
        Which state of the design file it is about: `design_file.revision` of the pipe, 8 digits.
    action : str
        A short name for what was measured or done.  What is said under the same name of one
        action belongs together: its prediction, its change and its result.
    remark : str
        Whatever else is worth keeping, at most 200 characters.
    chanter : str
        Its name in the design file; "" when it is not said.
    """

    KIND: ClassVar[str] = ""

    date: str
    design: str
    action: str
    remark: str = field(default="", kw_only=True)
    chanter: str = field(default="", kw_only=True)

    def __post_init__(self):
        text("date", self.date, 40)
        _check_revision("design", self.design)
        text("action", self.action, 80)
        for name in MAY_LACK:
            if getattr(self, name) != "":
                text(name, getattr(self, name), LONGEST)


@dataclass(frozen=True)
class _Noted(Entry):
    """A record with cents of notes: `Cents`, or rows of (note, cents) or (note, cents, error in cents)."""

    cents: tuple[Cents, ...]

    def __post_init__(self):
        super().__post_init__()
        object.__setattr__(self, "cents", _noted(self.cents))


class Measurement(_Noted):
    """What a tuner said of the chanter as it is.

    Parameters
    ----------
    date : str
        As you write it, at most 40 characters; no clock is read.
    design : str
        Which state of the design file it is about: `revision` of the pipe, 8 digits.
    action : str
        A short name for what was measured, at most 80 characters.
    cents : sequence of (note, cents) or (note, cents, error in cents)
        1 to 100 notes, each once; -1200 to 1200, and 0 to 1200 of error.
    remark : str
        Whatever else is worth keeping, at most 200 characters.
    chanter : str
        Its name in the design file, at most 200 characters; "" when it is not said.

    Raises
    ------
    Refusal
        One of these cannot be.
    """

    KIND = "measurement"


class Prediction(_Noted):
    """Where each note will stand after an action that is not yet done.

    Parameters
    ----------
    date, design, action, remark, chanter, cents
        As for `Measurement`.
    """

    KIND = "prediction"


class Result(_Noted):
    """Where each note stands after an action.

    Parameters
    ----------
    date, design, action, remark, chanter, cents
        As for `Measurement`; `action` is that of the prediction which it answers.
    """

    KIND = "result"


@dataclass(frozen=True)
class Change(Entry):
    """What was done to the chanter.

    Parameters
    ----------
    date, design, action, remark, chanter
        As for `Measurement`.
    after : str
        Revision of the chanter's design file from then on; refused where it is none.
    """

    KIND: ClassVar[str] = "change"

    after: str

    def __post_init__(self):
        super().__post_init__()
        _check_revision("after", self.after)


KINDS = {form.KIND: form for form in (Measurement, Prediction, Change, Result)}


def _check_revision(field: str, value: object) -> None:
    if not isinstance(value, str) or not re.fullmatch(r"[0-9a-f]{8}", value):
        allowed = "the 8 digits that revision(pipe) gives, and that stand on its sheets, are needed"
        raise Refusal(f"{short(value)} is not a design's revision", allowed, field)


def _noted(given: object) -> tuple[Cents, ...]:
    allowed = 'rows like ("A, second octave", 3.5) or ("A, second octave", 3.5, 1.0) are needed'
    if not isinstance(given, (list, tuple)) or not 1 <= len(given) <= MOST_NOTES:
        raise Refusal(f"{short(given)} is not a list of 1 to {MOST_NOTES} notes", allowed, "cents")
    rows = []
    for i, row in enumerate(given, 1):
        if not isinstance(row, (Cents, list, tuple)) or (not isinstance(row, Cents) and len(row) not in (2, 3)):
            raise Refusal(f"{short(row)} is not a note with its cents", allowed, f"cents, row {i}")
        with within(f"cents, row {i}"):
            rows.append(row if isinstance(row, Cents) else Cents(*row))
        if rows[-1].note in (one.note for one in rows[:-1]):
            raise Refusal(f"{short(rows[-1].note)} is there twice", "each note is allowed once", f"cents, row {i}")
    return tuple(rows)


def entry_text(entry: Entry) -> str:
    """The record as the lines of a TOML table, without its heading."""
    lines = [f'kind = "{entry.KIND}"']
    for one in fields(entry):
        value = getattr(entry, one.name)
        if one.name == "cents":
            rows = [[v for v in (row.note, row.cents, row.error_cents) if v is not None] for row in value]
            value = "".join(f"    {tomlkit.item(row).as_string()},\n" for row in rows)
            lines.append(f"cents = [\n{value}]")
        elif value != "":
            lines.append(f"{one.name} = {tomlkit.item(value).as_string()}")
    return "\n".join(lines) + "\n"


def entry_from(table: object) -> Entry:
    """The record of a TOML table, or a `Refusal`."""
    if not isinstance(table, dict):
        raise Refusal(f"{short(table)} is not a table", "a record with its fields is needed")
    kind, given = table.get("kind"), {name: value for name, value in table.items() if name != "kind"}
    if not isinstance(kind, str) or kind not in KINDS:
        raise Refusal(f"{short(kind)} is not a kind of record", f"{', '.join(KINDS)} are allowed", "kind")
    names = [one.name for one in fields(KINDS[kind])]
    for name in given:
        if name not in names:
            raise Refusal(f"there is no {short(name)} in a {kind}", f"allowed names: {', '.join(names)}")
    for name in names:
        if name not in given and name not in MAY_LACK:
            raise Refusal("it is missing", f"{name} = ... must be given", name)
    return KINDS[kind](**given)
