"""A reed as the readings see it: its few numbers, how well they are known, and what no reed explains."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape

import numpy as np

from ..errors import Refusal
from ..pipes.reed import Reed
from ..tuning.dials import Dial
from ..tuning.pull import AsPlayed, Played
from ..tuning.setup import Setup
from .bore_chart import GaugedChart
from .readings import Readings

ALIKE = 0.9  # correlation from where on two numbers can hardly be told apart; a choice, no source
STRAINED = 3.0  # errors of ruler, thermometer or gauges beyond which these are contradicted; a choice, no source
SCATTERED = 1.5  # `ReedFit.scatter` above which more than the reed is off; a choice, no source
OPEN_HZ = 60.0  # what the blades' own note of reeds differs by; common practice, no source
MANY = 0.25  # of the notes read, from where on they are no faults of single holes; a choice, no source
PLAIN_FAULT = 2.5  # of all notes of a faultless chanter one in 80 lies farther off; a choice, no source
SILENT = "the fitted reed does not sound it"
SAID = {"softness": "softness", "blades": "the blades' own note", "reed length": "effective length"}
SAID |= {"temperature": "temperature", "bore": "bore wider by"}


@dataclass(frozen=True, repr=False)
class ReedFit:
    """A reed as the readings see it.  Shows itself as a table in a notebook.

    Parameters
    ----------
    setup : Setup
        The pipe with the fitted numbers, in the air and scale of the readings.
    readings : Readings
        Those of notes that stay silent at the end are flagged.
    names : tuple of str
        What was fitted: "softness", "blades", "reed length", "temperature", "bore".
    dials : tuple of Dial
        One for each name.
    values : array (names,)
    covariance : array (names, names)
        In the units of the dials; widened by `scatter` where that is above 1.
    cents : array (chart rows,)
        What every note should say with the fitted reed, as played if asked for, and with what other models, gauging or
        known chanters make likely; a note that was read by the readings of all others.  nan where nothing sounds, and
        for notes as played where nothing was read.
    rows : tuple of int
        Row of the chart of each unflagged reading.
    residuals : array (readings,)
        Each reading less its note in `cents`: what neither the reed nor what was allowed for explains [cents].
    allowed : array (readings,)
        One standard deviation of these, if only that is off which was allowed for [cents].
    scatter : float
        Root of chi-square per degree of freedom: 1 where the residuals are as large as the stated errors.
    swayed : array (names,)
        The farthest that any one other published model of holes or foot would have put each number off, were it right.
    start, held : arrays (names,)
        Where each stood at first, and 1 over how well that was known, 0 where it was not.
    played : AsPlayed or None
        Of a fit to played notes; None of one to resonances.
    gauged : GaugedChart or None
        What the fit allowed for of the gauging.
    """

    setup: Setup
    readings: Readings
    names: tuple[str, ...]
    dials: tuple[Dial, ...]
    values: np.ndarray
    covariance: np.ndarray
    cents: np.ndarray
    rows: tuple[int, ...]
    residuals: np.ndarray
    allowed: np.ndarray
    scatter: float
    swayed: np.ndarray
    start: np.ndarray
    held: np.ndarray
    played: AsPlayed | None = None
    gauged: GaugedChart | None = None

    @property
    def reed(self) -> Reed:
        """The fitted reed."""
        return self.setup.base.reed

    @property
    def errors(self) -> np.ndarray:
        """Standard errors, (names,), each in its dial's unit."""
        return np.sqrt(np.diag(self.covariance))

    @property
    def correlations(self) -> np.ndarray:
        """Correlation matrix, (names, names)."""
        return self.covariance / np.outer(self.errors, self.errors)

    @property
    def alike(self) -> tuple[tuple[str, str, float], ...]:
        """Pairs that these readings can hardly tell apart: (name, name, correlation)."""
        matrix, n = self.correlations, len(self.names)
        pairs = [(self.names[i], self.names[j], float(matrix[i, j])) for i in range(n) for j in range(i)]
        return tuple(pair for pair in pairs if abs(pair[2]) >= ALIKE)

    def check_pitch(self, pitch: Played | None) -> None:
        """A `Refusal` where a fit to notes as played meets resonances, or the other way round."""
        if (self.played is None) != (pitch is None):
            what, needed = "notes as played and resonances are mixed", "the pitch that the fit was given is needed"
            raise Refusal(what, needed, "pitch")

    def interval(self, name: str) -> tuple[float, float]:
        """The 95 % interval of one number: 1.96 standard errors either side."""
        i = self.names.index(name)
        reach = 1.96 * self.errors[i]
        return float(self.values[i] - reach), float(self.values[i] + reach)

    @property
    def own_faults(self) -> tuple[tuple[str, float], ...]:
        """(note, cents) plainly off what the reed and all other notes say: the chanter's own."""
        each = zip(self.readings.sound, self.residuals, self.allowed, strict=True)
        return tuple((r.title, float(off)) for r, off, error in each if abs(off) > PLAIN_FAULT * error)

    @property
    def strained(self) -> tuple[str, ...]:
        """Numbers that came out plainly elsewhere than ruler, thermometer or gauges say."""
        far = self.held * np.abs(self.values - self.start) > STRAINED
        return tuple(name for name, one in zip(self.names, far, strict=True) if one)

    @property
    def silent(self) -> tuple[str, ...]:
        """Notes that were read but that the fitted reed does not sound: left out."""
        return tuple(r.title for r in self.readings.rows if r.flag == SILENT)

    @property
    def said(self) -> str:
        """In plain sentences."""
        numbers = (self._number(i) for i in range(len(self.names)))
        out = [f"From {len(self.rows)} readings: {'; '.join(numbers)}."]
        if self.silent:
            out.append(f"Left out, as the fitted reed does not sound them: {'; '.join(self.silent)}.")
        if np.any(self.swayed):
            off = "; ".join(self._digits(i, by) for i, by in enumerate(self.swayed))
            out.append(
                f"If another published formula of holes or foot were right, these would be off by up to {off}; "
                "± allows for that."
            )
        if "blades" in self.names and self.errors[self.names.index("blades")] > OPEN_HZ:
            out.append("The blades' own note stays open: it moves the high notes of the second octave; read those.")
        for name in self.strained:
            i = self.names.index(name)
            out.append(
                f"{SAID[name].capitalize()}: {self._digits(i, self.start[i])} was said, which the readings contradict; "
                "if it is right, in this unit, something beside the reed is off, and these numbers are not the reed's."
            )
        for one, two, matched in self.alike:
            i, j = self.names.index(one), self.names.index(two)
            slope = matched * self.errors[j] / self.errors[i]
            step = 10.0 ** np.floor(np.log10(self.errors[i]))
            out.append(
                f"These readings can hardly tell {SAID[one]} from {SAID[two]} (correlation {matched:+.2f}): "
                f"{_amount(self.dials[i], step)} in the one and {_amount(self.dials[j], slope * step)} in the "
                "other sound alike."
            )
        if self.scatter > SCATTERED:
            out.append(
                f"The readings lie {self.scatter:.1f} times as far off as their errors allow: something beside the "
                "reed is not as the design says, and the errors above are widened by as much."
            )
        faults = [f"{note}, is {abs(off):.0f} cents {'sharp' if off > 0 else 'flat'}" for note, off in self.own_faults]
        if len(faults) > MANY * len(self.rows):
            out.append(
                f"{len(faults)} of {len(self.rows)} notes are plainly off beside what this reed does: look for what "
                "they share (the air, the tuner's A, how they were blown, the bore) before any hole."
            )
        else:
            out += [f"{fault} beside what this reed does." for fault in faults]
        if self.played is not None:
            out.append(f"Taken as played.{'' if self.played.clear else f' {self.played}'}")
        return " ".join(out)

    def _number(self, i: int) -> str:
        return f"{SAID[self.names[i]]} {self._digits(i, self.values[i], self.errors[i])}"

    def _digits(self, i: int, *amounts: float) -> str:
        """Amounts of one number, joined by ±, with as many digits as its error asks for."""
        digits = max(0, 1 - int(np.floor(np.log10(self.errors[i]))))
        return f"{' ± '.join(f'{amount:.{digits}f}' for amount in amounts)} {self.dials[i].unit}".rstrip()

    def __repr__(self) -> str:
        return self.said

    def _repr_html_(self) -> str:
        body = ""
        for i, name in enumerate(self.names):
            cells = self._number(i).removeprefix(SAID[name]).strip()
            body += f"<tr><th style='text-align:left'>{escape(SAID[name])}</th><td>{escape(cells)}</td></tr>"
        return f"<table><tbody>{body}</tbody></table><p style='max-width:48em'>{escape(self.said)}</p>"


def _amount(dial: Dial, value: float) -> str:
    return f"{value:+.2g} {dial.unit}".rstrip()
