"""Pictures of notes as they are played: the chart, the windows of pressure, one tone."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure

from ..physics.valve import Valve
from ..tuning.chart import IN_TUNE
from ..tuning.played import PlayedChart, PlayedRow
from ..tuning.window import HIGHEST_PA, LOWEST_PA, Window
from .picture import COLOUR, FIRST, GREY, SECOND, Picture, notes_along, sheet, tuning_bands


def plot_played(chart: PlayedChart) -> Picture:
    """Played pitch of every note over its resonance, cents; a cross where the tone does not last."""
    figure, axis = sheet(10.0, 3.6)
    names, places = notes_along(row.row.title for row in chart.rows)
    tuning_bands(axis)
    for place, row in zip(places, chart.rows, strict=True):
        register = row.row.fingering.register
        axis.plot(place, row.resonance_cents, "_", ms=12, mew=2.0, color=GREY)
        if row.tone is None:
            where = {"xycoords": axis.get_xaxis_transform(), "ha": "center", "va": "bottom"}
            axis.annotate("no tone", (place, 0.03), fontsize=9, rotation=90, color=SECOND, **where)
            continue
        axis.vlines(place, row.resonance_cents, row.cents, color=GREY, lw=1.0)
        shape = ("o" if register == 1 else "s") if row.lasts else "x"
        fill = FIRST if register == 1 else "white"
        axis.plot(place, row.cents, shape, ms=7, color=COLOUR[register], mfc=fill, mew=1.8)
    axis.plot([], [], "o", color=FIRST, label="first octave, played")
    axis.plot([], [], "s", mfc="white", mec=SECOND, mew=1.8, label="second octave, played")
    axis.plot([], [], "x", color=SECOND, mew=1.8, label="does not last")
    axis.plot([], [], "_", ms=12, mew=2.0, color=GREY, label="resonance")
    axis.set_xticks(np.arange(len(names)), names, fontsize=10)
    axis.set_ylabel("cents, sharp is up", fontsize=9)
    axis.legend(fontsize=9, frameon=False, loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=4)
    return Picture(figure, str(chart))


def plot_windows(windows: tuple[Window, ...], chart: PlayedChart) -> Picture:
    """Between which pressures in the bag each note lasts; a tick where the still reed starts to sound it."""
    figure, axis = sheet(10.0, 3.8)
    names, places = notes_along(row.row.title for row in chart.rows)
    lasting = {one.row.row.title: one for one in windows}
    lines = [f"{'note':22}{'starts':>8}{'lasts from':>12}{'to kPa':>8}"]
    for place, row in zip(places, chart.rows, strict=True):
        register, window = row.row.fingering.register, lasting.get(row.row.title)
        starts = f"{row.onset.pressure / 1e3:8.2f}" if row.onset else f"{'never':>8}"
        line = f"{row.row.title:22}{starts}"
        if window:
            axis.vlines(place, window.low / 1e3, window.high / 1e3, color=COLOUR[register], lw=8.0, alpha=0.55)
            line += f"{window.low / 1e3:12.1f}{window.high / 1e3:8.1f}{' and beyond' if window.open_above else ''}"
            line += f", and below {window.low / 1e3:.1f}" if window.open_below else ""
        if row.onset:
            axis.plot(place, row.onset.pressure / 1e3, "_", ms=11, mew=2.0, color="black")
        lines.append(line)
    for register, dash in ((1, "-"), (2, "--")):
        bag = next(row.mouth_pressure for row in chart.rows if row.row.fingering.register == register) / 1e3
        axis.axhline(bag, color=COLOUR[register], ls=dash, lw=1.0)
    axis.plot([], [], color=FIRST, lw=8.0, alpha=0.55, label="first octave lasts")
    axis.plot([], [], color=SECOND, lw=8.0, alpha=0.55, label="second octave lasts")
    axis.plot([], [], "_", ms=11, mew=2.0, color="black", label="starts from rest")
    axis.plot([], [], color=GREY, lw=1.0, label="the chart's pressures")
    axis.set_ylim(LOWEST_PA / 1e3 - 0.1, HIGHEST_PA / 1e3 + 0.1)
    axis.set_xticks(np.arange(len(names)), names, fontsize=10)
    axis.set_ylabel("kPa in the bag", fontsize=9)
    axis.legend(fontsize=9, frameon=False, loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=4)
    return Picture(figure, "\n".join(lines))


def plot_tone(row: PlayedRow, valve: Valve, window: Window | None) -> Picture:
    """One tone: two periods behind the lips, its overtones, and its pitch along the pressure in the bag."""
    figure = Figure(figsize=(9.0, 5.0), layout="constrained")
    axes = figure.subplot_mosaic("AB;CC")
    for axis in axes.values():
        axis.spines[["top", "right"]].set_visible(False)
        axis.tick_params(labelsize=9)
    colour = COLOUR[row.row.fingering.register]
    lines = [f"{row.row.title} at {row.mouth_pressure / 1e3:.2f} kPa: {row.status}"]
    if row.tone is None:
        axes["A"].annotate("no tone", (0.5, 0.5), xycoords="axes fraction", ha="center", fontsize=14, color=GREY)
    else:
        _draw_wave(axes["A"], row, valve, colour)
        lines.append(_draw_overtones(axes["B"], row, colour))
    _draw_pitch(axes["C"], row, window, colour)
    if window:
        lines.append(f"{row.row.title} {window.said}")
    return Picture(figure, "\n".join(lines))


def _draw_wave(axis, row: PlayedRow, valve: Valve, colour: str) -> None:
    time = np.arange(800) / 400.0 / row.tone.frequency * 1e3
    across = row.mouth_pressure - np.tile(row.tone.waveform(400), 2)
    axis.fill_between(
        time,
        0.0,
        1.0,
        where=across >= valve.closing_pressure,
        color=GREY,
        alpha=0.25,
        lw=0,
        transform=axis.get_xaxis_transform(),
        label="lips shut",
    )
    axis.plot(time, (row.mouth_pressure - across) / 1e3, color=colour, lw=1.8)
    axis.axhline(0.0, color=GREY, lw=0.6)
    axis.set_xlabel("ms, two periods", fontsize=9)
    axis.set_ylabel("behind the lips, kPa", fontsize=9)
    axis.legend(fontsize=8, frameon=False, loc="lower center", bbox_to_anchor=(0.5, 1.0))


def _draw_overtones(axis, row: PlayedRow, colour: str) -> str:
    size = np.abs(row.tone.pressure)
    level = 20.0 * np.log10(np.maximum(size / size.max(), 1e-3))
    number = np.arange(1, len(size) + 1)
    axis.bar(number, level + 60.0, bottom=-60.0, color=colour, alpha=0.75)
    axis.set_xticks(number)
    axis.set_ylim(-60.0, 3.0)
    axis.set_xlabel("overtone, 1 is the note itself", fontsize=9)
    axis.set_ylabel("dB below the strongest", fontsize=9)
    said = " ".join(f"{value:.0f}" for value in level.round() + 0.0)
    return f"overtones, dB below the strongest: {said}; middle of the sound {row.centroid_hz:.0f} Hz"


def _draw_pitch(axis, row: PlayedRow, window: Window | None, colour: str) -> None:
    axis.axhspan(-IN_TUNE, IN_TUNE, color="#000000", alpha=0.07, lw=0)
    axis.axhline(0.0, color="black", lw=0.8)
    if window:
        axis.plot(window.pressure / 1e3, window.cents, color=colour, lw=2.0)
    if row.tone is not None:
        axis.plot(row.mouth_pressure / 1e3, row.cents, "o" if row.lasts else "x", ms=10, color=colour, mew=2.0)
    axis.set_xlim(LOWEST_PA / 1e3, HIGHEST_PA / 1e3)
    low, high = axis.get_ylim()
    axis.set_ylim(min(low, -12.0), max(high, 12.0))
    axis.set_xlabel("kPa in the bag; the line is where the tone lasts", fontsize=9)
    axis.set_ylabel("cents, sharp is up", fontsize=9)
