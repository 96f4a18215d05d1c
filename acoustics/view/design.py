"""Pictures of the design study: what moves what, and what tolerance costs."""

from __future__ import annotations

import numpy as np

from ..tuning.sensitivity import Sensitivity
from ..tuning.tolerance import Spread
from .picture import FIRST, GREY, SECOND, Picture, notes_along, sheet, tuning_bands

AMOUNTS = {
    "mm": (0.1, "0.1 mm"),
    "mm²": (0.1, "0.1 mm²"),
    "0.1": (0.1, "0.01"),
    "10 Hz": (1.0, "10 Hz"),
    "°C": (1.0, "1 °C"),
    "10 %": (1.0, "10 %"),
}


def plot_moves(sensitivity: Sensitivity, dimensions) -> Picture:
    """A map of notes by actions: cents of every note for a small amount (`AMOUNTS`) of each dimension.

    Parameters
    ----------
    sensitivity : Sensitivity
    dimensions : sequence of str
    """
    names, columns = [], []
    for dimension in dimensions:
        amount, said = AMOUNTS[sensitivity.units[sensitivity.dimensions.index(dimension)]]
        names.append(f"{dimension}  +{said}")
        columns.append(sensitivity.of(dimension) * amount)
    table = np.array(columns)
    first = [i for i, note in enumerate(sensitivity.notes) if note.endswith("first octave")]
    second = [i for i, note in enumerate(sensitivity.notes) if note.endswith("second octave")]
    order = first + second
    figure, axis = sheet(10.5, 0.34 * len(names) + 1.5)
    reach = float(np.nanmax(np.abs(table)))
    axis.imshow(table[:, order], cmap="PuOr_r", vmin=-reach, vmax=reach, aspect="auto")
    for (i, j), value in np.ndenumerate(table[:, order]):
        dark = abs(value) > 0.6 * reach
        said = "" if not np.isfinite(value) else f"{value:.1f}".replace("-0.0", "0.0")
        axis.text(j, i, said, ha="center", va="center", fontsize=7, color="white" if dark else "black")
    axis.axvline(len(first) - 0.5, color="black", lw=1.5)
    axis.set_xticks(range(len(order)), [sensitivity.notes[i].split(",")[0] for i in order], fontsize=8, rotation=45)
    axis.set_yticks(range(len(names)), names, fontsize=8.5)
    axis.set_title("cents: first octave left of the line, second octave right", fontsize=9, loc="left")
    axis.spines[:].set_visible(False)
    lines = [f"{'':36}" + "".join(f"{sensitivity.notes[i].split(',')[0]:>8}" for i in order)]
    for name, row in zip(names, table[:, order], strict=True):
        lines.append(f"{name:36}" + "".join(f"{value + 0.0:8.1f}" for value in row.round(1)))
    return Picture(figure, "\n".join(lines))


def plot_spread(spread: Spread) -> Picture:
    """Where 9 of 10 drawn chanters lie, note by note, with the middle one."""
    figure, axis = sheet(10.0, 3.4)
    names, places = notes_along(spread.notes)
    low, middle, high = np.nanpercentile(spread.drawn, (5.0, 50.0, 95.0), axis=0)
    lines = [f"{'note':26}{'middle':>8}{'9 of 10 between':>20}{'spread':>8}"]
    tuning_bands(axis)
    for i, note in enumerate(spread.notes):
        upper = note.endswith("second octave")
        colour = SECOND if upper else FIRST
        axis.plot([places[i], places[i]], [low[i], high[i]], color=colour, lw=3.0, alpha=0.6, solid_capstyle="butt")
        axis.plot(places[i], middle[i], "s" if upper else "o", color=colour, mfc="white" if upper else colour, ms=6)
        between = f"{low[i]:+.1f} to {high[i]:+.1f}"
        lines.append(f"{note:26}{middle[i]:+8.1f}{between:>20}{spread.spread[i]:8.1f}".replace("-0.0", "+0.0"))
    axis.plot([], [], "o", color=FIRST, label="first octave")
    axis.plot([], [], "s", color=SECOND, mfc="white", label="second octave")
    axis.plot([], [], color=GREY, lw=3.0, label="9 of 10 chanters")
    axis.set_xticks(np.arange(len(names)), names)
    axis.set_ylabel("cents, sharp is up", fontsize=9)
    axis.legend(fontsize=9, frameon=False, ncols=3, loc="lower center", bbox_to_anchor=(0.5, 1.0))
    return Picture(figure, "\n".join(lines))
