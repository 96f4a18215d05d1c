"""A tuner's readings: how sharp or flat each note of a chanter plays, and under what."""

from __future__ import annotations

from dataclasses import dataclass, replace
from html import escape

import numpy as np

from ..errors import Refusal, check_kind, number, short, text
from ..pipes.fingering import NOTES, Fingering
from ..tuning.chart import TuningChart, label, signed
from ..tuning.scales import Scale
from ..tuning.setup import Setup
from ..units import cents

NAMES = (*NOTES, "back D")
LARGEST_CENTS, LARGEST_ERROR_CENTS, USUAL_ERROR_CENTS = 300.0, 100.0, 3.0  # common practice, no source


@dataclass(frozen=True)
class Reading:
    """One note as it played.

    Parameters
    ----------
    note : str
        As the piper fingers it on a chanter in D; "back D" is the D of the thumb, in octaves 2 and 3.
    octave : int
        1 from the lowest D up, 2 from the back D up, 3 the D above that.
    cents : float
        Against the scale, positive is sharp, -300 to 300.
    error_cents : float
        One standard deviation of it, above 0 to 100.
    flag : str
        Why the reading is doubtful; "" when it is not.  Fits leave a flagged reading out.
    """

    note: str
    octave: int
    cents: float
    error_cents: float
    flag: str = ""

    def __post_init__(self):
        if self.note not in NAMES:
            raise Refusal(f"{short(self.note)} is not a note", f"one of {', '.join(NAMES)} is allowed", "note")
        allowed = (2, 3) if self.note == "back D" else (1, 2, 3) if self.note == "D" else (1, 2)
        if isinstance(self.octave, bool) or self.octave not in allowed:
            said = f"{self.note} has no octave {short(self.octave)}"
            raise Refusal(said, f"{' or '.join(map(str, allowed))} is allowed", "octave")
        object.__setattr__(self, "octave", int(self.octave))
        value = number("cents", self.cents, -LARGEST_CENTS, LARGEST_CENTS, "cents")
        error = number("error_cents", self.error_cents, 0.01, LARGEST_ERROR_CENTS, "cents")
        object.__setattr__(self, "cents", value)
        object.__setattr__(self, "error_cents", error)
        if self.flag != "":
            text("flag", self.flag, 200)

    @property
    def place(self) -> tuple[str, int]:
        """(name, octave), where the D above is always the thumb's."""
        return ("back D", 3) if self.octave == 3 else (self.note, self.octave)

    @property
    def title(self) -> str:
        """As a chart says it: "A, second octave"."""
        name, octave = self.place
        register = octave - 1 if name == "back D" else octave
        return f"{name}, {'first' if register == 1 else 'second'} octave"


@dataclass(frozen=True, repr=False)
class Readings:
    """All notes of one round of measuring.  Shows itself as a table in a notebook.

    Parameters
    ----------
    rows : tuple of Reading
        Each note once in each octave.
    scale : Scale
        What the cents count from.
    temperature_c : float
        Of the air in the pipe, -10 to 45.
    """

    rows: tuple[Reading, ...]
    scale: Scale
    temperature_c: float

    def __post_init__(self):
        object.__setattr__(self, "rows", tuple(self.rows))
        if not isinstance(self.scale, Scale):
            raise Refusal(f"{short(self.scale)} is not a scale", "just_scale() or equal_scale() is needed", "scale")
        degrees = number("temperature_c", self.temperature_c, -10.0, 45.0, "°C")
        object.__setattr__(self, "temperature_c", degrees)
        if not self.rows:
            raise Refusal("there is no reading", "at least one is needed", "readings")
        seen = set()
        for row in self.rows:
            if not isinstance(row, Reading):
                raise Refusal(f"{short(row)} is not a reading", "a Reading is needed", "readings")
            if row.place in seen:
                raise Refusal(f"{row.title} stands there twice", "each note may stand once in each octave", "readings")
            seen.add(row.place)

    @property
    def sound(self) -> tuple[Reading, ...]:
        """The readings without a flag."""
        return tuple(row for row in self.rows if not row.flag)

    def flagged(self, keep, why: str) -> Readings:
        """With a flag on each sound reading that is not to be kept; `keep` (sound readings,) of bool."""
        kept = iter(keep)
        return replace(self, rows=tuple(row if row.flag or next(kept) else replace(row, flag=why) for row in self.rows))

    def against(self, scale: Scale) -> Readings:
        """The same pitches, their cents counted from another scale."""
        apart = (
            cents(*(s.frequency(r.note.removeprefix("back "), r.octave) for s in (self.scale, scale)))
            for r in self.rows
        )
        moved = tuple(replace(r, cents=r.cents + float(by)) for r, by in zip(self.rows, apart, strict=True))
        return replace(self, rows=moved, scale=scale)

    def _cells(self) -> list[tuple[str, str, str, str]]:
        return [(r.title, signed(r.cents), f"{r.error_cents:.1f}", r.flag) for r in self.rows]

    def __str__(self) -> str:
        lines = [f"Readings at {self.temperature_c:g} °C: {self.scale}", f"{'note':24}{'cents':>8}{'±':>7}"]
        lines += [f"{name:24}{cents:>8}{error:>7}  {flag}".rstrip() for name, cents, error, flag in self._cells()]
        return "\n".join(lines)

    def __repr__(self) -> str:
        return str(self)

    def _repr_html_(self) -> str:
        body = "".join(
            f"<tr><th style='text-align:left'>{escape(name)}</th><td>{cents}</td><td>{error}</td>"
            f"<td style='text-align:left'>{escape(flag)}</td></tr>"
            for name, cents, error, flag in self._cells()
        )
        return (
            f"<table><caption>Readings at {self.temperature_c:g} °C: {escape(str(self.scale))}.</caption>"
            "<thead><tr><th style='text-align:left'>note</th><th>cents</th><th>±</th>"
            "<th style='text-align:left'>mind</th></tr></thead>"
            f"<tbody>{body}</tbody></table>"
        )


def place_of(fingering: Fingering) -> tuple[str, int]:
    """(name, octave) under which a fingering's note is read."""
    return label(fingering), fingering.octave


def chart_rows(readings: Readings, chart: TuningChart) -> list[int]:
    """For each unflagged reading the row of the chart that it belongs to, or a `Refusal` that names the note."""
    places = {place_of(row.fingering): i for i, row in reversed(list(enumerate(chart.rows)))}
    for reading in readings.sound:
        if reading.place not in places:
            what = f"the pipe has no fingering for {reading.title}"
            raise Refusal(what, "only notes that the pipe can play may be read", "readings")
    return [places[reading.place] for reading in readings.sound]


def usable(readings: Readings, chart: TuningChart, says) -> tuple[np.ndarray, tuple[Reading, ...]]:
    """Rows of the chart of the unflagged readings of which it says something, and these; a `Refusal` without any.

    `says` (rows,) are the cents that the notes should have; nan where nothing sounds.
    """
    each = zip(chart_rows(readings, chart), readings.sound, strict=True)
    seen = [(row, reading) for row, reading in each if np.isfinite(says[row])]
    if not seen:
        needed = "a reading of a note that sounds, without a flag, is needed"
        raise Refusal("no reading can be used", needed, "readings")
    rows, used = zip(*seen, strict=True)
    return np.array(rows), used


def as_read(setup: Setup, readings: Readings) -> Setup:
    """The setup in the air and against the scale of the readings; a `Refusal` where one of them is something else, or
    the readings count from another key than the pipe's."""
    check_kind("setup", setup, Setup, "a Setup")
    check_kind("readings", readings, Readings, "Readings, as typed_readings or listen(...).readings gives them,")
    if readings.scale.key != setup.base.key:
        what = f"they count from the scale on {readings.scale.key}, the pipe's lowest note sounds {setup.base.key}"
        raise Refusal(what, "readings on the scale of the pipe's own key are needed", "readings")
    air = replace(setup.air, temperature_c=readings.temperature_c)
    return replace(setup, air=air, scale=readings.scale)
