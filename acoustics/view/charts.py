"""Pictures of what the ear hears and what the air does: the tuning chart, the impedance."""

from __future__ import annotations

import numpy as np

from ..physics.air import Air, as_air
from ..physics.network import input_impedance
from ..pipes.fingering import Fingering
from ..pipes.path import Pipe
from ..tuning.chart import USABLE, TuningChart, label
from ..tuning.resonances import modes
from ..tuning.scales import Scale
from ..units import MM
from .picture import FIRST, GREY, SECOND, Picture, sheet, tuning_bands


def plot_chart(chart: TuningChart, before: TuningChart | None = None, ghost: str = "before") -> Picture:
    """Both octaves of every note in cents against target.

    Parameters
    ----------
    chart : TuningChart
    before : TuningChart, optional
        The state before a change, drawn as a grey ghost; same fingerings.
    ghost : str
        What the ghost is called.
    """
    figure, axis = sheet(10.0, 3.6)
    names = [label((first or second).fingering) for first, second in chart.lines]
    place = np.arange(len(names))
    tuning_bands(axis)
    if before is not None:
        _dots(axis, place, before, (GREY, GREY), 0.55, f", {ghost}")
    first, second = _dots(axis, place, chart, (FIRST, SECOND), 1.0, "")
    shown = np.concatenate([first, second, *([] if before is None else octaves(before))])
    margin = 4.0
    low, high = np.nanmin(shown, initial=-USABLE) - margin, np.nanmax(shown, initial=USABLE) + margin
    axis.set_ylim(low, high)
    axis.set_xticks(place, names, fontsize=10)
    axis.set_ylabel("cents, sharp is up", fontsize=9)
    axis.legend(fontsize=9, frameon=False, loc="upper center", bbox_to_anchor=(0.5, 1.14), ncols=4)
    return Picture(figure, str(chart))


def octaves(chart: TuningChart):
    """Cents of the first and of the second octave, one array each over the chart's lines."""
    return [np.array([row.cents if row else np.nan for row in column]) for column in zip(*chart.lines, strict=True)]


def _dots(axis, place, chart: TuningChart, colours, alpha, named):
    first, second = octaves(chart)
    axis.vlines(place, first, second, color=GREY, lw=1.0, alpha=alpha)
    axis.plot(place, first, "o", ms=7, color=colours[0], alpha=alpha, label=f"first octave{named}")
    square = {"mfc": "white", "mec": colours[1], "mew": 1.8, "alpha": alpha, "label": f"second octave{named}"}
    axis.plot(place, second, "s", ms=7, **square)
    return first, second


def plot_impedance(
    pipe: Pipe, fingerings, air: Air | None = None, low=150.0, high=2000.0, scale: Scale | None = None
) -> Picture:
    """Input impedance at the eye, one strip per fingering, with the modes that sound.

    Parameters
    ----------
    pipe : Pipe
    fingerings : sequence of Fingering
    air : Air, optional
    low, high : float
        [Hz]
    scale : Scale, optional
        Where the sounding modes are looked for, as for `modes`.
    """
    air = as_air(air)
    fingerings = list(fingerings)
    frequency = np.geomspace(low, high, 900)
    figure, axes = sheet(10.0, 0.9 + 1.25 * len(fingerings), len(fingerings), sharex=True, squeeze=True)
    axes = np.atleast_1d(axes)
    lines = []
    for axis, fingering in zip(axes, fingerings, strict=True):
        impedance = input_impedance(pipe, frequency, fingering.open_holes, fingering.foot, air)
        axis.plot(frequency, 20.0 * np.log10(np.abs(impedance) / _eye_impedance(pipe, air)), color="black", lw=1.1)
        axis.set_ylim(-38, 38)
        axis.set_ylabel(label(fingering), fontsize=10, rotation=0, ha="right", va="center")
        lines.append(_mark_modes(axis, pipe, fingering, air, scale))
    axes[-1].set_xscale("log")
    ticks = [tick for tick in (150, 200, 300, 400, 600, 800, 1200, 1600, 2000) if low <= tick <= high]
    axes[-1].set_xticks(ticks, [str(tick) for tick in ticks])
    axes[-1].minorticks_off()
    axes[-1].set_xlabel("Hz", fontsize=9)
    axes[0].set_title(
        "How strongly the air pushes back at the staple's eye (input impedance, dB).  "
        "Lines: full first octave, dashed second, dotted stray",
        fontsize=9,
        loc="left",
    )
    return Picture(figure, "\n".join(lines))


def _eye_impedance(pipe: Pipe, air: Air) -> float:
    area, _ = pipe.path.cross_section(np.array([1e-6]))
    return air.density * air.sound_speed / (float(area[0]) * MM**2)


def _mark_modes(axis, pipe: Pipe, fingering: Fingering, air: Air, scale: Scale | None) -> str:
    found = modes(pipe, fingering, air, scale)
    said = []
    for name, mode, colour, line in (("first", found.first, FIRST, "-"), ("second", found.second, SECOND, "--")):
        if mode is not None:
            axis.axvline(mode.frequency, color=colour, ls=line, lw=1.4)
            said.append(f"{name} octave {mode.frequency:.1f} Hz (Q {mode.quality:.0f})")
    for mode in found.stray:
        axis.axvline(mode.frequency, color=GREY, ls=":", lw=1.4)
        said.append(f"stray {mode.frequency:.1f} Hz")
    return f"{label(fingering):8} {', '.join(said) or 'no mode found'}"
