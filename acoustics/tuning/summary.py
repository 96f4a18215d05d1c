"""A chart, and a change from one chart to another, in a sentence or two of plain words."""

from __future__ import annotations

import numpy as np

from ..errors import Refusal, check_kind
from .chart import IN_TUNE, TuningChart, label


def _count(cents: float) -> str:
    return f"{abs(cents):.0f} cent" + ("" if round(abs(cents)) == 1 else "s")


def _way(cents: float) -> str:
    return f"{_count(cents)} {'sharp' if cents > 0 else 'flat'}" if round(abs(cents)) else "in tune"


def _wide(cents: float) -> str:
    return f"{_count(cents)} too {'wide' if cents > 0 else 'narrow'}" if round(abs(cents)) else "true"


def summary(chart: TuningChart) -> str:
    """What a chart says: how many notes are in tune, the worst note, the worst octave.

    Parameters
    ----------
    chart : TuningChart

    Returns
    -------
    str

    Raises
    ------
    Refusal
        No chart.
    """
    check_kind("chart", chart, TuningChart, "a TuningChart")
    sounding = [row for row in chart.rows if row.mode is not None]
    if not sounding:
        return "No note sounds near its target."
    good = sum(abs(row.cents) <= IN_TUNE for row in sounding)
    worst = max(sounding, key=lambda row: abs(row.cents))
    register = "first" if worst.fingering.register == 1 else "second"
    said = f"{good} of {len(chart.rows)} notes lie within {IN_TUNE:.0f} cents of the scale"
    said += f"; the worst is {label(worst.fingering)} in the {register} octave, {_way(worst.cents)}."
    return said + _silent(chart.rows) + _octaves(chart)


def _silent(rows) -> str:
    names = [label(row.fingering) for row in rows if row.mode is None]
    return f" Nothing sounds near {', '.join(dict.fromkeys(names))}." if names else ""


def _octaves(chart: TuningChart) -> str:
    stretch = chart.stretch
    if not stretch:
        return ""
    worst = max(stretch, key=lambda name: abs(stretch[name]))
    mean = float(np.mean(list(stretch.values())))
    return f" The octaves are {_wide(mean)} on average; the worst is that of {worst}, {_wide(stretch[worst])}."


def compare(before: TuningChart, after: TuningChart) -> str:
    """What a change did to both octaves, and where the octaves stand now.

    Parameters
    ----------
    before, after : TuningChart
        Of the same notes in the same order; their fingerings may differ.

    Returns
    -------
    str

    Raises
    ------
    Refusal
        No charts, or of different notes.
    """
    for chart in (before, after):
        check_kind("chart", chart, TuningChart, "a TuningChart")
    notes = [[(row.note, row.octave, row.fingering.register) for row in chart.rows] for chart in (before, after)]
    if notes[0] != notes[1]:
        raise Refusal(
            "the two charts are not of the same notes", "charts of the same list of notes are needed", "chart"
        )
    moved = after.cents - before.cents
    register = np.array([row.fingering.register for row in after.rows])
    first, second = (moved[(register == r) & np.isfinite(moved)] for r in (1, 2))
    if not first.size or not second.size:
        return summary(after)
    if max(np.abs(first).max(), np.abs(second).max()) < 0.5:
        return "Nothing moved by as much as half a cent." + _silent(after.rows) + _octaves(after)
    rows = [row for row, cents in zip(after.rows, moved, strict=True) if np.isfinite(cents)]
    most = rows[int(np.argmax(np.abs(moved[np.isfinite(moved)])))]
    shift = float(moved[after.rows.index(most)])
    octave = "first" if most.fingering.register == 1 else "second"
    said = f"First octave {_shift(first.mean())}, second octave {_shift(second.mean())} on average"
    said += f"; most of all {label(most.fingering)} in the {octave}, {_shift(shift)}."
    return said + _silent(after.rows) + _octaves(after)


def _shift(cents: float) -> str:
    if not round(abs(cents)):
        return "unmoved"
    return f"{'up' if cents > 0 else 'down'} {_count(cents)}"
