"""How far to trust a chart: the spread under other published models, and the table of evidence."""

from __future__ import annotations

import csv
from itertools import cycle
from pathlib import Path

import numpy as np

from ..tuning.uncertainty import ModelSpread
from .picture import FIRST, GREY, SECOND, Picture, notes_along, sheet
from .table import Table

MARKS = "v^<>dx+*1234"


def plot_models(spread: ModelSpread) -> Picture:
    """How far other models move each note: bars over the credible ones, a mark for each.

    Parameters
    ----------
    spread : ModelSpread
        Rivals that nobody believes are in the words only.
    """
    figure, axis = sheet(10.0, 3.4)
    names, place = notes_along(spread.notes)
    upper = np.array([note.endswith("second octave") for note in spread.notes])
    kept = [i for i, rival in enumerate(spread.rivals) if rival.credible]
    moved = spread.moved[kept]
    low, high = (farther.reduce(moved, axis=0, initial=0.0) for farther in (np.fmin, np.fmax))
    axis.axhline(0.0, color="black", lw=0.8)
    for octave, colour in ((~upper, FIRST), (upper, SECOND)):
        axis.vlines(place[octave], low[octave], high[octave], color=colour, lw=4.0, alpha=0.45)
    for mark, row, i in zip(cycle(MARKS), moved, kept, strict=False):
        axis.plot(place, row, mark, color="black", ms=4, label=spread.rivals[i].name)
    axis.plot([], [], color=FIRST, lw=4.0, alpha=0.45, label="first octave")
    axis.plot([], [], color=SECOND, lw=4.0, alpha=0.45, label="second octave")
    axis.grid(axis="y", color=GREY, alpha=0.2)
    axis.set_xticks(np.arange(len(names)), names)
    axis.set_ylabel("cents from this chart", fontsize=9)
    axis.legend(fontsize=8, frameon=False, ncols=7, columnspacing=1.0, loc="lower center", bbox_to_anchor=(0.5, 1.0))
    return Picture(figure, repr(model_table(spread)))


def model_table(spread: ModelSpread) -> Table:
    """Cents by which each rival moves each note, and the farthest of the credible ones."""
    headings = ("note", *(rival.name for rival in spread.rivals), "model uncertainty")
    rows = []
    for i, note in enumerate(spread.notes):
        unsure = f"{spread.uncertainty[i]:.1f}" if np.isfinite(spread.uncertainty[i]) else "not known"
        rows.append((note, *(float(v) for v in spread.moved[:, i]), unsure))
    return Table(headings, tuple(rows), signed=True)


def evidence_table(path: str | Path) -> Table:
    """The stored table of evidence: what was compared with what, and how far apart they are."""
    with Path(path).open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return Table(
        ("what", "model", "source", "trusted for", "checked against", "apart by at most", "allowed"),
        tuple(
            (
                row["element"],
                row["model"],
                row["source"],
                row["valid range"],
                row["compared with"],
                f"{row['error found']} {row['unit']}",
                row["bar"],
            )
            for row in rows
        ),
    )
