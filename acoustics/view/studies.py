"""Pictures of the study pages: the wave in the bore, what a change predicts, what a dial does to the octaves."""

from __future__ import annotations

import itertools

import numpy as np

from ..physics.standing_wave import standing_wave
from ..tuning.chart import Row, label
from ..tuning.dials import Dial
from ..tuning.perturbation import BoreSensitivity
from ..tuning.setup import Setup
from .picture import COLOUR, COPPER, FIRST, GREY, SECOND, Picture, notes_along, sheet

SOURCE = {1: ("first octave", FIRST, "-"), 2: ("second octave", SECOND, "--")}


def plot_pressure(setup: Setup, rows: list[Row]) -> Picture:
    """How strong the pressure is along the pipe for the notes of some rows, each scaled to its own largest."""
    figure, axis = sheet(10.0, 3.0)
    lines = [f"{'mm down':>8}" + "".join(f"{row.title:>24}" for row in rows)]
    table, marks = [], range(-40, int(setup.pipe.bore.stations_mm[-1][0]) + 1, 40)
    for row in rows:
        fingering = row.fingering
        wave = standing_wave(setup.pipe, row.sounding_hz, fingering.open_holes, fingering.foot, setup.air.gas)
        size = np.abs(wave.pressure[:, 0])
        _, colour, dash = SOURCE[fingering.register]
        axis.plot(wave.from_top_mm, size / size.max(), color=colour, ls=dash, lw=1.8, label=row.title)
        table.append(np.interp(marks, wave.from_top_mm, size / size.max()))
    foot = setup.pipe.staple.insertion_mm
    axis.axvspan(foot - setup.pipe.staple.length_mm, foot, color=COPPER, alpha=0.18, lw=0)
    axis.annotate("staple", (foot - setup.pipe.staple.length_mm + 2.0, 0.04), fontsize=9, color=COPPER)
    for hole in setup.pipe.holes:
        low = -0.03 if hole.face == "front" else -0.12
        axis.annotate(hole.name, (hole.position_mm, low), fontsize=8, ha="center", va="top", color=GREY)
    axis.set_ylim(-0.22, 1.08)
    axis.set_xlabel("mm from the top of the wood", fontsize=9)
    axis.set_ylabel("pressure, largest = 1", fontsize=9)
    axis.legend(fontsize=9, frameon=False, loc="upper right")
    for place, values in zip(marks, np.transpose(table), strict=True):
        lines.append(f"{place:8d}" + "".join(f"{value:24.2f}" for value in values))
    return Picture(figure, "\n".join(lines))


def plot_sensitivity(setup: Setup, sensitivity: BoreSensitivity, notes: list[str]) -> Picture:
    """What a stretch of 10 mm, 0.1 mm wider, does to some notes, by where it lies."""
    figure, axes = sheet(10.0, 1.5 * len(notes) + 0.6, len(notes), sharex=True, sharey=True)
    patch = sensitivity.per_patch()
    order = np.argsort(sensitivity.from_top_mm)
    marks = range(40, int(setup.pipe.bore.stations_mm[-1][0]) + 1, 40)
    lines = [f"{'mm down':16}" + "".join(f"{mark:8d}" for mark in marks)]
    for axis, note in zip(np.atleast_1d(axes), notes, strict=True):
        axis.axhline(0.0, color=GREY, lw=0.8)
        for i, row in enumerate(setup.chart.rows):
            if label(row.fingering) != note or row.mode is None:
                continue
            name, colour, dash = SOURCE[row.fingering.register]
            axis.plot(sensitivity.from_top_mm[order], patch[i][order], color=colour, ls=dash, lw=1.6, label=name)
            values = np.interp(marks, sensitivity.from_top_mm[order], patch[i][order])
            lines.append(f"{note} {name:13}"[:16].ljust(16) + "".join(f"{v + 0.0:8.2f}" for v in values.round(2)))
        axis.set_ylabel(note, rotation=0, ha="right", fontsize=10)
    np.atleast_1d(axes)[0].legend(fontsize=9, frameon=False, ncols=2, loc="lower right")
    np.atleast_1d(axes)[0].set_title("cents for 10 mm of bore 0.1 mm wider, by where it lies", fontsize=10, loc="left")
    np.atleast_1d(axes)[-1].set_xlabel("mm from the top of the wood", fontsize=9)
    return Picture(figure, "\n".join(lines))


def plot_predicted(before: Setup, after: Setup, predicted) -> Picture:
    """Computed shift of every note beside what first-order theory predicts, cents."""
    figure, axis = sheet(10.0, 3.0)
    names, places = notes_along(row.title for row in before.chart.rows)
    computed = after.chart.cents - before.chart.cents
    lines = [f"{'':10}{'computed':>10}{'predicted':>10}"]
    for i, row in enumerate(before.chart.rows):
        place = places[i]
        axis.bar(place, computed[i], 0.3, color=COLOUR[row.fingering.register], alpha=0.55)
        axis.plot([place - 0.15, place + 0.15], [predicted[i]] * 2, color="black", lw=2.0)
        lines.append(f"{label(row.fingering)} {row.octave:<3}".ljust(10) + f"{computed[i]:10.1f}{predicted[i]:10.1f}")
    axis.bar([0], [0], color=FIRST, alpha=0.55, label="first octave")
    axis.bar([0], [0], color=SECOND, alpha=0.55, label="second octave")
    axis.plot([], [], color="black", lw=2.0, label="predicted")
    axis.axhline(0.0, color="black", lw=0.8)
    axis.set_xticks(np.arange(len(names)), names)
    axis.set_ylabel("cents", fontsize=9)
    axis.legend(fontsize=9, frameon=False, ncols=3, loc="lower center", bbox_to_anchor=(0.5, 1.0))
    return Picture(figure, "\n".join(lines).replace("-0.0", " 0.0"))


def plot_stretch(setup: Setup, dial: Dial, values, notes: list[str], mark: float | None = None) -> Picture:
    """How wide the octave of some notes is, as a dial is turned through `values`.

    Parameters
    ----------
    mark : float, optional
        A value of the dial to draw a line at.
    """
    figure, axis = sheet(10.0, 3.4)
    stretches = [dial.turn(setup, float(value)).chart.stretch for value in values]
    lines = [f"{dial.name:>34}" + "".join(f"{value:8.{dial.decimals}f}" for value in values)]
    axis.axhline(0.0, color="black", lw=0.8)
    ends = []
    for note, dash, marker in zip(notes, itertools.cycle(("-", "--", "-.", ":")), "osD^v<>phX", strict=False):
        wide = np.array([stretch.get(note, np.nan) for stretch in stretches])
        axis.plot(values, wide, marker=marker, ms=5, lw=1.5, ls=dash, color=FIRST, mfc="white")
        ends.append((wide[-1], note))
        lines.append(f"{note:>34}" + "".join(f"{value + 0.0:8.1f}" for value in wide.round(1)))
    if mark is not None:
        axis.axvline(mark, color=GREY, ls=":", lw=1.4)
    axis.set_xlabel(dial.name, fontsize=9)
    axis.set_ylabel("octave too wide by, cents", fontsize=9)
    _name_ends(axis, values[-1], ends)
    return Picture(figure, "\n".join(lines))


def _name_ends(axis, at: float, ends: list[tuple[float, str]]) -> None:
    """Names at the right ends of lines, moved apart where they would touch."""
    low, high = axis.get_ylim()
    least, place = 0.065 * (high - low), -np.inf
    for value, note in sorted(end for end in ends if np.isfinite(end[0])):
        place = max(value, place + least)
        axis.annotate(f"  {note}", (at, place), fontsize=9, va="center", annotation_clip=False)
