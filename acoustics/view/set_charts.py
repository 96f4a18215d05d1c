"""Pictures of a set: its worst beats, its regulators, their stoppers, what keys cost."""

from __future__ import annotations

import numpy as np

from ..tuning.agreement import Against, Agreement
from ..tuning.chart import USABLE, signed
from ..tuning.keys import KeyCurve, ShutKeys
from ..tuning.regulators import RegulatorChart, stopper_curve
from .picture import BRASS, FIRST, GREY, SECOND, Picture, sheet, tuning_bands
from .table import Table

MARKS, DASHES = "osD^v<>", ("-", "--", "-.", ":", (0, (5, 1)))
COLOURS = (FIRST, SECOND, "black", BRASS, GREY)


def against_table(lines: tuple[Against, ...]) -> Table:
    """Sounds against drones, line by line."""
    rows = [
        (one.pipe, one.note, one.drone, f"{one.overtone} against {one.drone_overtone}", one.beats, signed(one.cents))
        for one in lines
    ]
    heads = ("pipe", "note", "heard against", "overtones that beat", "beats a second", "cents off")
    return Table(heads, tuple(rows))


def slide_table(agreement: Agreement) -> Table:
    """Where each slide stands, where it is needed, and what it has left."""
    rows = []
    for place in agreement.slides:
        needs = "out of reach" if place.needs_mm is None else f"{place.needs_mm:.1f}"
        pitch = f"{place.sounds_hz:.2f}", f"{place.target_hz:.2f}"
        reach = place.sharp_cents, place.flat_cents, f"{place.cents_per_mm:.1f}"
        rows.append((place.drone.name, *pitch, f"{place.drone.slide.gap_mm:.1f}", needs, *reach))
    heads = (
        "drone",
        "sounds Hz",
        "wanted Hz",
        "slide at mm",
        "needed mm",
        "can go sharp",
        "can go flat",
        "cents per mm",
    )
    return Table(heads, tuple(rows), 0)


def plot_worst(agreement: Agreement, most: int = 16) -> Picture:
    """The fastest beats of a set, as bars, with the cents behind them."""
    lines = agreement.worst_first[:most]
    figure, axis = sheet(10.0, 0.9 + 0.27 * len(lines))
    regulators = {chart.regulator.name for chart in agreement.regulators}
    drones = {drone.name for drone in agreement.pipes.drones}
    place = np.arange(len(lines))[::-1]
    kinds = [1 if one.pipe in regulators else 2 if one.pipe in drones else 0 for one in lines]
    for kind, name in enumerate(("chanter", "regulator", "drone")):
        at = [i for i, found in enumerate(kinds) if found == kind]
        if at:
            values = np.nan_to_num([lines[i].beats for i in at])
            axis.barh(place[at], values, 0.7, color=COLOURS[kind], alpha=(0.6, 0.9, 0.5)[kind], label=name)
    for y, one in zip(place, lines, strict=True):
        said = f" {signed(one.cents)} cents, {one.overtone} against {one.drone_overtone}"
        axis.annotate(said, (np.nan_to_num(one.beats), y), fontsize=8.5, va="center")
    names = [f"{one.pipe}: {one.note}" if kind else one.note for kind, one in zip(kinds, lines, strict=True)]
    axis.set_yticks(place, names, fontsize=9)
    axis.set_xlim(0.0, 1.35 * max(1.0, np.nanmax([one.beats for one in lines])))
    axis.set_xlabel("beats a second against the drone that it meets lowest", fontsize=9)
    axis.legend(fontsize=9, frameon=False, loc="lower right")
    return Picture(figure, repr(against_table(lines)))


def plot_regulators(charts: tuple[RegulatorChart, ...]) -> Picture:
    """Every key of the regulators in cents against the just scale."""
    figure, axis = sheet(10.0, 2.6)
    tuning_bands(axis)
    names, start = [], 0
    for chart, colour, mark in zip(charts, COLOURS * 2, MARKS * 2, strict=False):
        place = start + np.arange(len(chart.rows))
        axis.plot(place, chart.cents, mark, ms=7, color=colour, label=chart.regulator.name)
        names += [row.note for row in chart.rows]
        start += len(chart.rows) + 1
        names.append("")
    axis.set_xticks(np.arange(len(names)), names)
    axis.tick_params(axis="x", length=0)
    low, high = axis.get_ylim()
    axis.set_ylim(min(low, -USABLE - 2.0), max(high, USABLE + 2.0))
    axis.set_ylabel("cents, sharp is up", fontsize=9)
    axis.legend(fontsize=9, frameon=False, ncols=3, loc="lower center", bbox_to_anchor=(0.5, 1.0))
    return Picture(figure, "\n".join(str(chart) for chart in charts))


def plot_stopper(chart: RegulatorChart, moves_mm) -> Picture:
    """What moving the stopper does to every key."""
    moves = np.asarray(moves_mm, float)
    curve = stopper_curve(chart.regulator, moves, chart.chart.scale, chart.chart.air)
    figure, axis = sheet(10.0, 3.2)
    tuning_bands(axis)
    for i, row in enumerate(chart.rows):
        how = {"ls": DASHES[i % len(DASHES)], "marker": MARKS[i % len(MARKS)], "color": COLOURS[i % len(COLOURS)]}
        axis.plot(moves, curve[:, i], lw=1.6, ms=5, mfc="white", label=row.note, **how)
    axis.set_xlabel(f"stopper of the {chart.regulator.name} drawn out, mm (minus: pushed in)", fontsize=9)
    axis.set_ylabel("cents, sharp is up", fontsize=9)
    axis.legend(fontsize=9, frameon=False, ncols=5, loc="upper right")
    rows = [(f"{by:+g}" if by else "0", *curve[n]) for n, by in enumerate(moves)]
    return Picture(figure, repr(Table(("mm out", *(row.note for row in chart.rows)), tuple(rows), signed=True)))


def plot_shut_keys(costs: ShutKeys) -> Picture:
    """What the shut keys cost every note, one strip for each octave."""
    figure, axes = sheet(10.0, 4.8, 2, sharey=True)
    octaves = [note.rsplit(", ", 1)[1] for note in costs.notes]
    for axis, octave in zip(axes, dict.fromkeys(octaves), strict=False):
        at = [i for i, found in enumerate(octaves) if found == octave]
        place = np.arange(len(at))
        axis.axhline(0.0, color=GREY, lw=0.8)
        axis.bar(place, np.nan_to_num(costs.together[at]), 0.7, color=GREY, alpha=0.35, label="all keys together")
        for n, key in enumerate(costs.keys):
            mark = {"marker": MARKS[n % len(MARKS)], "color": COLOURS[n % len(COLOURS)], "mfc": "white"}
            axis.plot(place, costs.moved[n, at], ls="", ms=6, label=key, **mark)
        axis.set_xticks(place, [costs.notes[i].rsplit(", ", 1)[0] for i in at])
        axis.set_title(octave, fontsize=10, loc="left")
        axis.set_ylabel("cents", fontsize=9)
    axes[0].legend(fontsize=9, frameon=False, ncols=5, loc="lower right")
    rows = [(note, *costs.moved[:, i], costs.together[i]) for i, note in enumerate(costs.notes)]
    return Picture(figure, repr(Table(("note", *costs.keys, "all"), tuple(rows), signed=True)))


def plot_key_curve(curve: KeyCurve, others: int = 2) -> Picture:
    """What one dimension of a key does to its own notes and to those of the others that it moves most."""
    most = np.nanmax(np.abs(curve.moved), axis=0, initial=0.0)
    rest = sorted((i for i in range(len(curve.notes)) if not curve.own[i]), key=lambda i: -most[i])[:others]
    shown = [*np.flatnonzero(curve.own), *rest]
    figure, axis = sheet(10.0, 2.8)
    axis.axhline(0.0, color=GREY, lw=0.8)
    for n, i in enumerate(shown):
        dash = "-" if curve.own[i] else "--"
        said = curve.notes[i] if curve.own[i] else f"{curve.notes[i]} (key shut)"
        mark = {"marker": MARKS[n % len(MARKS)], "color": COLOURS[n % len(COLOURS)], "mfc": "white"}
        axis.plot(curve.values, curve.moved[:, i], ls=dash, lw=1.6, ms=5, label=said, **mark)
    axis.set_xlabel(f"{curve.key}: {curve.what}", fontsize=9)
    axis.set_ylabel("cents", fontsize=9)
    axis.legend(fontsize=9, frameon=False)
    rows = [(f"{value:g}", *curve.moved[n, shown]) for n, value in enumerate(curve.values)]
    heads = (f"{curve.key}: {curve.what}", *(curve.notes[i] for i in shown))
    return Picture(figure, repr(Table(heads, tuple(rows), signed=True)))
