"""What was done to a chanter, and how well each prediction came true."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape

import numpy as np

from ..tuning.chart import signed
from .entries import Entry, Measurement, Prediction, Result
from .log import Log

HEADINGS = ("date", "design", "record", "what", "remark")


@dataclass(frozen=True)
class Note:
    """One note of a prediction that came to be measured [cents].

    Parameters
    ----------
    note : str
    before : float
        nan where it had not been measured.
    predicted, came : float
    error : float
        One standard deviation of the two together; nan where neither was given one.
    """

    note: str
    before: float
    predicted: float
    came: float
    error: float

    @property
    def off(self) -> float:
        """What came less what was predicted; positive is sharper than predicted."""
        return self.came - self.predicted


@dataclass(frozen=True)
class Judgement:
    """A prediction beside its result.

    Parameters
    ----------
    prediction : Prediction
    result : Result
    notes : tuple of Note
        Those that both have, in the prediction's order.
    """

    prediction: Prediction
    result: Result
    notes: tuple[Note, ...]

    @property
    def rms(self) -> float:
        """Root mean square of what came less what was predicted [cents]."""
        return _rms([one.off for one in self.notes])

    @property
    def moved(self) -> float:
        """Root mean square of how far the notes moved [cents]: what `rms` would be, had no move been predicted.

        nan where none of them had been measured before.
        """
        return _rms([one.came - one.before for one in self.notes if one.before == one.before])

    @property
    def inside(self) -> tuple[int, int]:
        """How many notes came within two standard deviations of the prediction, of how many that state one."""
        stated = [one for one in self.notes if one.error == one.error]
        return sum(abs(one.off) <= 2.0 * one.error for one in stated), len(stated)

    def __str__(self) -> str:
        """In plain words."""
        name, many = self.prediction.action, len(self.notes)
        if not many:
            return f"{name}: none of the notes predicted was measured afterwards."
        worst = max(self.notes, key=lambda one: abs(one.off))
        out = f"{name}: predicted to {self.rms:.1f} cents rms on {_count(many, 'note')}"
        out += f", which moved by {self.moved:.1f} cents rms" if self.moved == self.moved else ""
        out += f". Worst: {worst.note}, {abs(worst.off):.1f} cents {'sharp' if worst.off > 0 else 'flat'}"
        out += " of its prediction."
        good, stated = self.inside
        return out + (f" {good} of {stated} came within two standard deviations." if stated else "")


@dataclass(frozen=True, repr=False)
class History:
    """A log as it is read.  Shows itself in a notebook.

    Parameters
    ----------
    log : Log
    judgements : tuple of Judgement
        One for each result that had a prediction, in the order of the results.
    """

    log: Log
    judgements: tuple[Judgement, ...]

    @property
    def rms(self) -> float:
        """Of all notes of all predictions together [cents]; nan where there are none."""
        return _rms([one.off for judged in self.judgements for one in judged.notes])

    @property
    def sentences(self) -> tuple[str, ...]:
        """What is aside, how each prediction came true, and all of them together."""
        asides = [f"Mind: {aside}" for aside in self.log.asides]
        said = [str(judged) for judged in self.judgements]
        if len(said) > 1 and self.rms == self.rms:
            many = sum(len(judged.notes) for judged in self.judgements)
            said.append(f"All {len(said)} predictions together: {self.rms:.1f} cents rms on {_count(many, 'note')}.")
        return (*asides, *(said or ["No prediction has a result yet."]))

    def __str__(self) -> str:
        rows = [HEADINGS, *map(_cells, self.log.entries)]
        width = [max(len(row[i]) for row in rows) for i in range(len(HEADINGS))]
        lines = ["  ".join(cell.ljust(n) for cell, n in zip(row, width, strict=True)).rstrip() for row in rows]
        return "\n".join([*lines, *self.sentences])

    def __repr__(self) -> str:
        return str(self)

    def _repr_html_(self) -> str:
        out = _table("What was done", HEADINGS, map(_cells, self.log.entries))
        for judged in self.judgements:
            rows = ((one.note, *map(_said, (one.before, one.predicted, one.came, one.off))) for one in judged.notes)
            heads = ("note", "before", "predicted", "came", "came less predicted")
            out += _table(f"{judged.prediction.action}, in cents", heads, rows)
        return out + "".join(f"<p style='max-width:48em'>{escape(line)}</p>" for line in self.sentences)


def history(log: Log) -> History:
    """What was done, and every result beside the last prediction made before it of the same action.

    Parameters
    ----------
    log : Log

    Returns
    -------
    History

    Notes
    -----
    How a note stood before is taken from the last measurement or result above the prediction.
    """
    judgements = []
    for at, result in enumerate(log.entries):
        if not isinstance(result, Result):
            continue
        made = [i for i, one in enumerate(log.entries[:at]) if _predicts(one, result)]
        if made:
            before = _stood(log.entries[: made[-1]])
            judgements.append(_judged(log.entries[made[-1]], result, before))
    return History(log, tuple(judgements))


def _predicts(entry: Entry, result: Result) -> bool:
    return isinstance(entry, Prediction) and entry.action == result.action


def _stood(entries: tuple[Entry, ...]) -> dict[str, float]:
    """The last that is known of each note [cents]."""
    found: dict[str, float] = {}
    for entry in entries:
        if isinstance(entry, (Measurement, Result)):
            found |= {one.note: one.cents for one in entry.cents}
    return found


def _judged(prediction: Prediction, result: Result, before: dict[str, float]) -> Judgement:
    came = {one.note: one for one in result.cents}
    notes = []
    for one in prediction.cents:
        if one.note in came:
            heard = came[one.note]
            errors = [e for e in (one.error_cents, heard.error_cents) if e is not None]
            error = float(np.hypot.reduce(errors)) if errors else float("nan")
            notes.append(Note(one.note, before.get(one.note, float("nan")), one.cents, heard.cents, error))
    return Judgement(prediction, result, tuple(notes))


def _rms(values: list[float]) -> float:
    return float(np.sqrt(np.mean(np.square(values)))) if values else float("nan")


def _count(many: int, what: str) -> str:
    return f"{many} {what}" + ("" if many == 1 else "s")


def _said(cents: float) -> str:
    return signed(cents) if cents == cents else ""


def _cells(entry: Entry) -> tuple[str, ...]:
    after = getattr(entry, "after", "")
    design = f"{entry.design} to {after}" if after else entry.design
    return entry.date, design, entry.KIND, entry.action, entry.remark


def _table(caption: str, heads, rows) -> str:
    head = "".join(f"<th>{escape(one)}</th>" for one in heads)
    body = "".join("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in rows)
    return f"<table><caption>{escape(caption)}</caption><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"
