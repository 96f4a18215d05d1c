"""Regulators: the chart of each key opened alone, and keys brought into tune by place, size, pin or stopper."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from html import escape

import numpy as np

from ..errors import Refusal, check_kind, number, short
from ..physics.air import Air, as_air
from ..pipes.bore import LONGEST_MM
from ..pipes.regulator import Regulator
from .chart import IN_TUNE, Row, TuningChart, signed, tuning_chart
from .dials import DIALS, Dial, hole_dials
from .scales import Scale
from .search import Found, Rules, search
from .setup import Setup

WAYS = ("position", "size", "pin", "stopper")
PIN_MM, PIN_LENGTH_MM = 2.0, 40.0  # where the search for a pin starts
STOPPER_MM = 30.0  # how far a search may move a stopper
_KEYS_APART_MM = 1000.0  # wrists reach any key; only the wood between two counts


@dataclass(frozen=True, repr=False)
class RegulatorChart:
    """Each key of a regulator opened alone, against the drones' scale.  Shows itself as a table.

    Parameters
    ----------
    regulator : Regulator
    chart : TuningChart
        Its rows are the keys, lowest note first.
    """

    regulator: Regulator
    chart: TuningChart

    @property
    def rows(self) -> tuple[Row, ...]:
        """One for each key."""
        return self.chart.rows

    @property
    def cents(self) -> np.ndarray:
        """Every key's error, array (keys,) [cents]; nan where nothing sounds."""
        return self.chart.cents

    @property
    def summary(self) -> str:
        """What the chart says, in one sentence or two."""
        sounding = [row for row in self.rows if row.mode is not None]
        silent = [row.note for row in self.rows if row.mode is None]
        said = f"Nothing sounds near {', '.join(silent)}." if silent else ""
        if not sounding:
            return said
        worst = max(sounding, key=lambda row: abs(row.cents))
        good = sum(abs(row.cents) <= IN_TUNE for row in sounding)
        many = f"{good} of {len(self.rows)} keys lie within {IN_TUNE:.0f} cents"
        return f"{many}; the worst is {worst.note}, {signed(worst.cents)} cents. {said}".strip()

    def _cells(self) -> list[list[str]]:
        cells = []
        for row in self.rows:
            key = self.regulator.hole(row.note)
            sound = ["none", ""] if row.mode is None else [f"{row.sounding_hz:.1f}", signed(row.cents)]
            where = [f"{key.position_mm:.1f}", f"{key.diameter_mm:.2f}", f"{key.lift_mm:.1f}"]
            cells.append([row.note, *where, f"{row.target_hz:.1f}", *sound])
        return cells

    def __str__(self) -> str:
        heads = ("key", "at mm", "size mm", "lift mm", "target", "sounds", "cents")
        widths = (5, 8, 9, 9, 9, 9, 8)
        lines = [f"{self.regulator.name}: {self.chart.scale.name}, each key opened alone"]
        for cells in (heads, *self._cells()):
            lines.append("".join(f"{c:>{w}}" if w > 5 else f"{c:{w}}" for c, w in zip(cells, widths, strict=True)))
        return "\n".join(line.rstrip() for line in lines)

    def __repr__(self) -> str:
        return str(self)

    def _repr_html_(self) -> str:
        heads = ("key", "hole at mm", "size mm", "lift mm", "target Hz", "sounds Hz", "cents", "mind")
        head = "".join(f"<th>{h}</th>" for h in heads)
        body = ""
        for row, cells in zip(self.rows, self._cells(), strict=True):
            mind = f"<td style='text-align:left'>{escape('; '.join(row.remarks))}</td>"
            body += "<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in cells) + mind + "</tr>"
        name = f"{escape(self.regulator.name)}: {escape(str(self.chart.scale))}. Each key opened alone."
        return f"<table><caption>{name}</caption><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


def regulator_chart(regulator: Regulator, scale: Scale | None = None, air: Air | None = None) -> RegulatorChart:
    """Every key of a regulator, opened alone, against its target.

    Parameters
    ----------
    regulator : Regulator
    scale : Scale, optional
        The just scale at A = 440 Hz in the regulator's key when None.
    air : Air, optional
        20 degrees C and half humid when None.

    Returns
    -------
    RegulatorChart

    Raises
    ------
    Refusal
        Not a regulator, or one without keys.

    Warns
    -----
    OutsideRange
        Where a hole lies outside the range of its published formula.

    Notes
    -----
    The bore beyond the open key is a stopped branch with resonances of its own; where one of them comes
    near the note, the two push each other apart.  The chart's remarks name such neighbours.
    """
    _check(regulator)
    return RegulatorChart(regulator, tuning_chart(regulator, None, scale, air))


def _check(regulator: object) -> None:
    if not isinstance(regulator, Regulator):
        raise Refusal(f"{short(regulator)} is not a regulator", "a Regulator is needed", "regulator")


def stopper_curve(regulator: Regulator, moves_mm, scale: Scale | None = None, air: Air | None = None) -> np.ndarray:
    """Cents of every key against its target as the stopper is drawn out by `moves_mm`, array (moves, keys).

    Parameters
    ----------
    regulator : Regulator
    moves_mm : sequence of float
        From where it stands; negative is further in [mm].
    scale, air
        As for `regulator_chart`.

    Raises
    ------
    Refusal
        As for `regulator_chart`; a stopper in the seat of the staple, or short of the lowest key.
    """
    _check(regulator)
    check_kind("moves_mm", moves_mm, Iterable, "a list of moves in mm")
    length, moves = regulator.bore.length_mm, [number("moves_mm", by, -LONGEST_MM, LONGEST_MM) for by in moves_mm]
    return np.array([regulator_chart(regulator.stopped(length + by), scale, air).cents for by in moves])


def tuning_dials(setup: Setup, way: str) -> dict[str, Dial]:
    """The dials with which a regulator is tuned.

    Parameters
    ----------
    setup : Setup
        Of a regulator.
    way : str
        "position" or "size" of every key's hole, "pin": thickness and length of the wire in the stopper, or
        "stopper": where it stands.
    """
    if way not in WAYS:
        raise Refusal(f"{short(way)} is not a way of tuning", f"one of {', '.join(WAYS)} is allowed", "way")
    if way == "pin":
        return {name: DIALS[name] for name in ("rush", "rush length")}
    if way == "stopper":
        return {way: _stopper_dial(setup)}
    return {hole.name: hole_dials(setup, hole.name)[way] for hole in setup.base.holes}


def _stopper_dial(setup: Setup) -> Dial:
    at, last = setup.base.bore.length_mm, max(hole.position_mm + hole.along_mm for hole in setup.base.holes)

    def turn(setup, value):
        return replace(setup, base=setup.base.stopped(value))

    limits = max(at - STOPPER_MM, last), at + STOPPER_MM
    return Dial("bore", "stopper at", "mm", *limits, 0.5, lambda setup: setup.base.bore.length_mm, turn)


def tune_keys(
    regulator: Regulator,
    way: str = "position",
    scale: Scale | None = None,
    air: Air | None = None,
    least_wood_mm: float = 3.0,
) -> Found:
    """Search for what brings a regulator's keys into tune, as `search` does for a chanter.

    Parameters
    ----------
    regulator : Regulator
        Keys within 6 mm of their places, or within the drill's reach of their sizes.
    way : str
        As for `tuning_dials`.  A pin or a stopper moves all keys at once and seldom brings all of them home.
    scale, air
        As for `regulator_chart`.
    least_wood_mm : float
        Between two holes [mm].

    Returns
    -------
    Found
        Its `setup.pipe` is the regulator found.

    Raises
    ------
    Refusal
        Not a regulator, or another way.
    """
    _check(regulator)
    setup = Setup(regulator, as_air(air), scale)
    if way == "pin" and regulator.rush is None:
        setup = replace(setup, rush_mm=PIN_MM, rush_length_mm=PIN_LENGTH_MM)
    elif way == "pin":
        length = regulator.bore.length_mm - regulator.rush.top_mm
        setup = replace(setup, rush_mm=regulator.rush.diameter_mm, rush_length_mm=length)
    return search(setup, tuning_dials(setup, way), rules=Rules(least_wood_mm=least_wood_mm, reach_mm=_KEYS_APART_MM))
