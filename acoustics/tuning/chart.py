"""The tuning chart: every note of a pipe in both octaves, against its target."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from html import escape

import numpy as np

from ..errors import Refusal, check_kind
from ..physics.air import Air, as_air
from ..physics.reeds import stop_band
from ..pipes.fingering import Fingering, own_fingerings
from ..pipes.path import Pipe, check_pipe
from ..units import cents
from .resonances import Mode, band, choose, find_modes, first_target, lips
from .scales import Scale, scale_for

IN_TUNE, USABLE, PLAINLY_HEARD = 5.0, 10.0, 20.0  # cents; common practice, no source
_WEAK = 0.1


@dataclass(frozen=True)
class Row:
    """One note of the chart.

    Parameters
    ----------
    fingering : Fingering
    target_hz : float
    mode : Mode or None
        The resonance that sounds; None where the fingering has none within a fourth of the target.
    stray : tuple of Mode
        Other resonances within a fourth of this note.
    remarks : tuple of str
        What would fool the reader, in plain words.
    """

    fingering: Fingering
    target_hz: float
    mode: Mode | None
    stray: tuple[Mode, ...]
    remarks: tuple[str, ...]

    @property
    def note(self) -> str:
        """As the piper names it on a chanter in D."""
        return self.fingering.note

    @property
    def octave(self) -> int:
        """1 from the lowest D, 2 from the back D, 3 the D above."""
        return self.fingering.octave

    @property
    def title(self) -> str:
        """The note with its octave in words: "A, second octave"."""
        return f"{label(self.fingering)}, {'first' if self.fingering.register == 1 else 'second'} octave"

    @property
    def sounding_hz(self) -> float:
        """Resonance of bore and reed [Hz]; nan where there is none."""
        return self.mode.frequency if self.mode else float("nan")

    @property
    def cents(self) -> float:
        """Sounding against target [cents], positive is sharp; nan where nothing sounds."""
        return float(cents(self.sounding_hz, self.target_hz))


@dataclass(frozen=True, repr=False)
class TuningChart:
    """Notes of a pipe in both octaves.  Shows itself as a table in a notebook.

    Parameters
    ----------
    pipe_name : str
    scale : Scale
    air : Air
    rows : tuple of Row
        In the order of the fingerings given.
    """

    pipe_name: str
    scale: Scale
    air: Air
    rows: tuple[Row, ...]

    @property
    def lines(self) -> tuple[tuple[Row | None, Row | None], ...]:
        """(first octave, second octave) rows of each fingering; None where the chart has only one."""
        paired: dict = {}
        for row in self.rows:
            fingering = row.fingering
            paired.setdefault((fingering.pattern, fingering.semitone), {})[fingering.register] = row
        return tuple((pair.get(1), pair.get(2)) for pair in paired.values())

    @property
    def stretch(self) -> dict[str, float]:
        """Second octave minus first, per note [cents]: positive is a wide octave.

        Of two fingerings of one note the first of the list counts; `octave_error` tells of each line.
        """
        found: dict[str, float] = {}
        for first, second in self.lines:
            error = octave_error(first, second)
            if error is not None:
                found.setdefault(label(first.fingering), error)
        return found

    @property
    def cents(self) -> np.ndarray:
        """Every row's error, array (rows,) [cents]; nan where nothing sounds."""
        return np.array([row.cents for row in self.rows])

    def row(self, note: str, octave: int, register: int | None = None) -> Row:
        """The row of a note, or a `Refusal`."""
        for row in self.rows:
            if (row.note, row.octave) == (note, octave) and register in (None, row.fingering.register):
                return row
        raise Refusal(f"there is no {note} in octave {octave}", "a note of this chart is needed", "chart")

    def __str__(self) -> str:
        head = f"{'note':8}{'target':>9}{'sounds':>9}{'cents':>8}   {'target':>9}{'sounds':>9}{'cents':>8}{'octave':>9}"
        out = [f"{self.pipe_name}: {self.scale}", _air_words(self.air), head]
        for first, second in self.lines:
            name, error = label((first or second).fingering), octave_error(first, second)
            wide = "" if error is None else f"{error:+9.1f}"
            out.append(f"{name:8}{_cells(first)}   {_cells(second)}{wide}".replace("-0.0", "+0.0").rstrip())
        return "\n".join(out)

    def __repr__(self) -> str:
        return str(self)

    def _repr_html_(self) -> str:
        body = []
        for first, second in self.lines:
            name, error = label((first or second).fingering), octave_error(first, second)
            remarks = "; ".join(dict.fromkeys(r for row in (first, second) if row for r in row.remarks))
            wide = "" if error is None else signed(error)
            cells = "".join(_html_cells(row) for row in (first, second))
            room = ";min-width:12em" if remarks else ""
            mind = f"<td style='text-align:left{room}'>{escape(remarks)}</td>"
            body.append(f"<tr><th>{escape(name)}</th>{cells}<td>{wide}</td>{mind}</tr>")
        octave = "<th>target Hz</th><th>sounds Hz</th><th>cents</th>"
        return (
            f"<table><caption>{escape(self.pipe_name)}: {escape(str(self.scale))}. {escape(_air_words(self.air))}. "
            "Resonances of bore and reed (where a very soft tone starts).</caption>"
            "<thead><tr><th></th><th colspan='3'>first octave</th><th colspan='3'>second octave</th>"
            "<th>octave too wide by</th><th></th></tr>"
            f"<tr><th>fingered</th>{octave}{octave}<th>cents</th><th style='text-align:left'>mind</th></tr></thead>"
            f"<tbody>{''.join(body)}</tbody></table>"
        )


def label(fingering: Fingering) -> str:
    """What a piper calls the fingering: the note, with "back" for the D of the thumb."""
    return f"back {fingering.note}" if fingering.semitone >= 12 else fingering.note


def octave_error(first: Row | None, second: Row | None) -> float | None:
    """Second octave minus first of one line of a chart [cents]; None where either is missing."""
    return second.cents - first.cents if first and second and first.mode and second.mode else None


def _air_words(air: Air) -> str:
    return f"Air at {air.temperature_c:g} °C, {100 * air.relative_humidity:g} % humid"


def signed(value: float, decimals: int = 1) -> str:
    """Cents, or whatever else lies to either side of what is meant, with its sign; zero has none."""
    said = f"{value:+.{decimals}f}"
    return said if float(said) else said[1:]


def known(error: float) -> str:
    """An error as it is shown: "1.2", or "not known" where it has no end."""
    return f"{error:.1f}" if np.isfinite(error) else "not known"


def _cells(row: Row | None) -> str:
    if row is None:
        return " " * 26
    if row.mode is None:
        return f"{row.target_hz:9.1f}{'none':>9}{'':8}"
    return f"{row.target_hz:9.1f}{row.sounding_hz:9.1f}{row.cents:+8.1f}"


def _html_cells(row: Row | None) -> str:
    if row is None:
        return "<td></td>" * 3
    if row.mode is None:
        return f"<td>{row.target_hz:.1f}</td><td>none</td><td></td>"
    said = signed(row.cents)
    cell = f"<b>{said}</b>" if abs(row.cents) >= PLAINLY_HEARD else said
    return f"<td>{row.target_hz:.1f}</td><td>{row.sounding_hz:.1f}</td><td>{cell}</td>"


def _remarks(pipe: Pipe, mode: Mode | None, stray: tuple[Mode, ...]) -> tuple[str, ...]:
    if mode is None:
        return ("no resonance within a fourth of the target",)
    out = []
    low, high = stop_band(pipe.head)
    if low <= mode.frequency <= high:
        out.append(f"between {low:.0f} and {high:.0f} Hz the blades block the sound: do not trust it")
    if abs(mode.blade_cents) >= 2.0:
        out.append(f"were the blades' own note 1 % higher: {mode.blade_cents:+.1f} cents")
    for other in stray:
        if _WEAK * mode.strength <= other.strength:
            out.append(f"another resonance at {other.frequency:.0f} Hz, {other.strength / mode.strength:.1f} as strong")
    return tuple(out)


def _check_holes(pipe: Pipe, fingerings: tuple[Fingering, ...]) -> None:
    """A `Refusal` that names the note when a fingering opens a hole that the pipe does not have."""
    names = [side.name for side in pipe.side_holes]
    for fingering in fingerings:
        check_kind("fingerings", fingering, Fingering, "a Fingering")
        for name, _ in fingering.open_holes:
            if name not in names:
                what = f'that of {fingering.note} opens "{name}", which is not there'
                allowed = f"fingerings of the pipe's own holes ({', '.join(names)}) are needed" if names else ""
                raise Refusal(what, allowed or "this pipe has no holes", "fingerings")


def tuning_chart(
    pipe: Pipe,
    fingerings: tuple[Fingering, ...] | None = None,
    scale: Scale | None = None,
    air: Air | None = None,
) -> TuningChart:
    """Every note of a pipe against its target.

    Parameters
    ----------
    pipe : Pipe
    fingerings : sequence of Fingering
        `TIGHT` (on the knee) or `OPEN`, or one's own list.  None: those of `TIGHT` for which the pipe
        has the holes and keys, or of a regulator each key alone.
    scale : Scale, optional
        The just scale at A = 440 Hz in the pipe's key when None.
    air : Air, optional
        20 degrees C and half humid when None.

    Returns
    -------
    TuningChart

    Raises
    ------
    Refusal
        No pipe; no fingering, or one with a hole that the pipe does not have.

    Notes
    -----
    What is charted are resonances of bore and reed seen from the lips; see `resonances.modes` for
    how the mode that sounds is told from the stray ones.  A loud tone lies up to some 20 cents
    from its resonance.

    Warns
    -----
    OutsideRange
        Where a hole or an end lies outside the range of its published formula.
    """
    check_pipe(pipe)
    scale, air = scale_for(pipe.key, scale), as_air(air)
    fingerings = own_fingerings(pipe) if fingerings is None else fingerings
    check_kind("fingerings", fingerings, Iterable, "a list of Fingerings")
    fingerings = tuple(fingerings)
    if not fingerings:
        raise Refusal("the list of fingerings is empty", "at least one fingering is needed", "fingerings")
    _check_holes(pipe, fingerings)
    targets = [first_target(fingering, scale) for fingering in fingerings]
    patterns = tuple(dict.fromkeys(fingering.pattern for fingering in fingerings))
    low, high = band(targets)
    found = find_modes(lips(pipe, patterns, low, high, air.gas), low, high)
    rows = []
    for fingering, target in zip(fingerings, targets, strict=True):
        named = choose(found[patterns.index(fingering.pattern)], target)
        mode = named.first if fingering.register == 1 else named.second
        goal = target * fingering.register
        near = tuple(m for m in named.stray if abs(cents(m.frequency, mode.frequency if mode else goal)) <= 500.0)
        rows.append(Row(fingering, goal, mode, near, _remarks(pipe, mode, near)))
    return TuningChart(pipe.name, scale, air, tuple(rows))
