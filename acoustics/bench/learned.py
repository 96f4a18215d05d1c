"""What known chanters taught about the model: how far it is off on every note, and how sure that is."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape

import numpy as np

from ..tuning.chart import TuningChart

CONTRADICTED = 1.5  # `Learned.scatter` above which a chanter is doubted; a choice, no source
PLAIN = 2.0  # errors by which a note must be off to be named; common practice, no source
MOST_NAMED = 3


@dataclass(frozen=True, repr=False)
class Learned:
    """How far real chanters of one design play from the model.  Shows itself as a table in a notebook.

    Parameters
    ----------
    chart : TuningChart
        Of the chanter read last; its fingerings are those of the rows.
    cents : array (rows,)
        Real less model, expected; positive where the model says a note too flat [cents].
    covariance : array (rows, rows)
        Of these [cents squared].
    before : array (rows,)
        One standard deviation of each before any chanter was read [cents].
    read : array (rows,) of int
        How many known chanters were read on each note.
    same_reed : bool
        Whether it holds for one reed on one day only, what these are wrong by learned along.
    scatter : float
        Root of chi-square per reading of the chanter that fitted worst: 1 where readings lie as far off as was allowed.
    """

    chart: TuningChart
    cents: np.ndarray
    covariance: np.ndarray
    before: np.ndarray
    read: np.ndarray
    same_reed: bool = False
    scatter: float = 1.0

    @property
    def notes(self) -> tuple[str, ...]:
        """Titles of the rows."""
        return tuple(row.title for row in self.chart.rows)

    @property
    def errors(self) -> np.ndarray:
        """One standard deviation of each note, (rows,) [cents]."""
        return np.sqrt(np.diag(self.covariance))

    @property
    def together(self) -> tuple[float, float]:
        """Mean over all notes and its standard deviation [cents]."""
        return float(self.cents.mean()), float(np.sqrt(self.covariance.mean()))

    @property
    def beside(self) -> tuple[np.ndarray, np.ndarray]:
        """What each note is off beside that mean and its standard deviation, (rows,) each [cents]."""
        centred = np.eye(len(self.cents)) - 1.0 / len(self.cents)
        return centred @ self.cents, np.sqrt(np.clip(np.diag(centred @ self.covariance @ centred), 0.0, None))

    @property
    def said(self) -> str:
        """In plain sentences."""
        many, notes = int(self.read.max()), int(np.count_nonzero(self.read))
        off, errors = self.beside
        plain = [row for row in np.argsort(-np.abs(off), kind="stable") if abs(off[row]) > PLAIN * errors[row]]
        named = [f"{self.notes[row]}, {_said(off[row], errors[row])}" for row in plain[:MOST_NAMED]]
        others = "; ".join(named) or "none for sure"
        before, now = (float(np.sqrt(np.mean(each**2))) for each in (self.before, self.errors))
        doubt = (
            f" A chanter's readings lie {self.scatter:.1f} times as far off as is allowed for: was it of this design, "
            "in this key, with this reed, in this air, against this A? Do not trust this before that is clear."
            if self.scatter > CONTRADICTED
            else ""
        )
        return (
            f"What {many} known chanter{'s' if many > 1 else ''} taught, {notes} of {len(self.read)} notes read: the "
            f"model says all notes together {_said(*self.together)}; beside that {others}. "
            f"It was thought right to {before:.1f} cents a note before (one standard error); with this taken off it "
            f"is right to {now:.1f}{' for this reed on this day' if self.same_reed else ''}.{doubt}"
        )

    def __repr__(self) -> str:
        return self.said

    def _repr_html_(self) -> str:
        body = ""
        for row, note in enumerate(self.notes):
            cells = (
                _way(self.cents[row]),
                f"{self.errors[row]:.1f}",
                f"{self.before[row]:.1f}",
                "" if self.read[row] else "not read",
            )
            body += f"<tr><th style='text-align:left'>{escape(note)}</th>{''.join(f'<td>{c}</td>' for c in cells)}</tr>"
        return (
            f"<p style='max-width:48em'>{escape(self.said)}</p>"
            "<table><caption>Cents; ± is one standard error, before is that of the model untaught</caption>"
            "<thead><tr><th></th><th>the model says it</th><th>±</th><th>before</th><th></th></tr></thead>"
            f"<tbody>{body}</tbody></table>"
        )


def _way(off: float, unit: str = "") -> str:
    return f"{abs(off):.1f}{unit} too {'flat' if off > 0.0 else 'sharp'}"


def _said(off: float, error: float) -> str:
    return f"{_way(off, ' cents')}, ±{error:.1f}"
