"""Pictures from the bench: readings against a fitted reed, and a chanter before and after a change."""

from __future__ import annotations

import numpy as np

from ..bench.actions import Plan
from ..bench.reed_fit import ReedFit
from ..tuning.chart import IN_TUNE, known, signed
from .picture import COLOUR, GREY, Picture, notes_along, sheet

_MARK, _NAME = {1: "o", 2: "s"}, {1: "first octave", 2: "second octave"}


def plot_reed_fit(fit: ReedFit) -> Picture:
    """Readings with their errors beside what the reed and all other readings say of the note (`ReedFit.cents`), and
    below what no reed explains, with all that it is allowed (`ReedFit.allowed`)."""
    rows = fit.setup.chart.rows
    names, places = notes_along(row.title for row in rows)
    figure, (above, below) = sheet(10.0, 5.0, 2, sharex=True, height_ratios=(3, 2))
    fitted = fit.cents
    for register, colour in COLOUR.items():
        mine = [i for i, row in enumerate(rows) if row.fingering.register == register and np.isfinite(fitted[i])]
        above.plot(places[mine], fitted[mine], "_", color=colour, ms=13, mew=2.0, label=f"fitted, {_NAME[register]}")
    lines = [f"{'':24}{'read':>8}{'±':>6}{'fitted':>8}{'left':>8}{'±':>6}"]
    for row, reading, off, allowed in zip(fit.rows, fit.readings.sound, fit.residuals, fit.allowed, strict=True):
        register = rows[row].fingering.register
        how = {"color": COLOUR[register], "fmt": _MARK[register], "ms": 5, "lw": 1.2, "capsize": 2}
        above.errorbar(places[row], reading.cents, reading.error_cents, **how)
        below.errorbar(places[row], off, allowed, **how)
        numbers = (signed(reading.cents), f"{reading.error_cents:.1f}", signed(fitted[row]), signed(off))
        said = f"{numbers[0]:>8}{numbers[1]:>6}{numbers[2]:>8}{numbers[3]:>8}{allowed:6.1f}"
        lines.append(f"{reading.title:24}{said}")
    _frame(above, names, "cents", "Readings (marks with errors) and the fitted reed (bars)")
    _frame(below, names, "cents left", "What the reed does not explain: chanter, reading or gauging")
    _legend(above)
    return Picture(figure, "\n".join(lines))


def plot_change(plan: Plan, which: int = 1) -> Picture:
    """Every note as it is (grey) and as suggestion number `which` would leave it, with errors; hollow where no usable
    reading was given and the model alone speaks."""
    chosen = plan.suggestions[which - 1]
    rows = plan.diagnosis.setup.chart.rows
    names, places = notes_along(row.title for row in rows)
    figure, axis = sheet(10.0, 3.6)
    lines = [chosen.said, f"{'':24}{'now':>8}{'±':>6}{'after':>8}{'±':>6}"]
    for i, row in enumerate(rows):
        now, after, error = plan.before[i], chosen.after[i], chosen.errors[i]
        if not np.isfinite(now) or not np.isfinite(after):
            lines.append(f"{row.title:24}{'none':>8}")
            continue
        register, read = row.fingering.register, i in plan.diagnosis.rows
        colour, mark = COLOUR[register], _MARK[register]
        axis.plot([places[i]] * 2, [now, after], color=GREY, lw=1.0)
        axis.plot(places[i], now, mark, color=GREY, ms=6, mfc=GREY if read else "white")
        how = {"color": colour, "mfc": colour if read else "white", "fmt": mark, "ms": 5, "lw": 1.2, "capsize": 2}
        axis.errorbar(places[i], after, error if np.isfinite(error) else None, **how)
        numbers = f"{signed(now):>8}{plan.before_errors[i]:6.1f}{signed(after):>8}"
        lines.append(f"{row.title:24}{numbers} {known(error):>5}{'' if read else '  no clear reading'}")
    for register, colour in COLOUR.items():
        axis.plot([], [], _MARK[register], color=colour, label=f"after, {_NAME[register]}")
    axis.plot([], [], "o", color=GREY, label="as it is")
    axis.plot([], [], "o", color=GREY, mfc="white", label="hollow: no clear reading")
    _frame(axis, names, "cents", chosen.move.said(chosen.amount).capitalize())
    _legend(axis)
    return Picture(figure, "\n".join(lines))


def _frame(axis, names, unit: str, title: str) -> None:
    axis.axhspan(-IN_TUNE, IN_TUNE, color=GREY, alpha=0.12, lw=0)
    axis.axhline(0.0, color=GREY, lw=0.8)
    axis.set_xticks(range(len(names)), names, fontsize=10)
    axis.set_xlim(-0.6, len(names) - 0.4)
    axis.set_ylabel(unit, fontsize=9)
    axis.set_title(title, fontsize=10, loc="left")


def _legend(axis) -> None:
    """Between the picture and its title, which may be long."""
    axis.legend(fontsize=9, frameon=False, ncols=4, loc="lower left", bbox_to_anchor=(0.0, 0.98))
    axis.set_title(axis.get_title("left"), fontsize=10, loc="left", pad=24)
