"""The panel's picture: the pipe with what changed picked out, and both octaves with a ghost.

What stays the same from one slider step to the next (axes, ticks, labels) is drawn once and kept as
pixels; only what moves is drawn anew.
"""

from __future__ import annotations

import io

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.patches import Ellipse, Polygon
from PIL import Image

from ..pipes.chanter import Chanter
from ..tuning.chart import TuningChart, label
from ..tuning.setup import Setup
from .charts import octaves
from .drawing import draw_section
from .picture import FIRST, GREY, SECOND, tuning_bands

REACHES = (15.0, 25.0, 50.0, 100.0, 200.0, 400.0)
CHANGED = "#7a1fa2"
_SIZE, _DPI = (8.6, 5.2), 84


def draw_changes(axis, pipe: Chanter, before: Chanter) -> None:
    """Pick out on a section of `pipe` what differs from `before`."""
    distance = np.linspace(0.0, pipe.bore.length_mm, 240)
    wider = pipe.bore.diameter_mm(distance) - before.bore.diameter_mm(distance)
    if np.max(np.abs(wider)) > 1e-6:
        half = pipe.bore.diameter_mm(distance) / 2.0
        for way in (-1.0, 1.0):
            edge = np.column_stack([np.r_[distance, distance[::-1]], way * np.r_[half, (half + 6.0 * wider)[::-1]]])
            axis.add_patch(Polygon(edge, fc=CHANGED, ec="none", alpha=0.75))
    eye = pipe.staple.insertion_mm - pipe.staple.length_mm
    if pipe.staple != before.staple:
        axis.plot([eye, pipe.staple.insertion_mm], [0.0, 0.0], color=CHANGED, lw=4.0, alpha=0.8)
    if pipe.reed != before.reed:
        axis.plot([eye - pipe.reed.length_mm, eye], [0.0, 0.0], color=CHANGED, lw=4.0, alpha=0.8)
    if pipe.rush != before.rush and pipe.rush is not None:
        axis.plot([pipe.rush.top_mm, pipe.rush.foot_mm], [0.0, 0.0], color=CHANGED, lw=3.0, alpha=0.8)
    old = {hole.name: hole for hole in before.holes}
    for side in pipe.side_holes:
        if side.hole != old.get(side.name):
            way = {"front": 1.0, "back": -1.0, "side": 0.0}[side.hole.face]
            middle = (side.hole.position_mm, way * (side.bore_mm + side.wall_mm) / 2.0)
            size = max(side.hole.along_mm, side.wall_mm) + 7.0
            axis.add_patch(Ellipse(middle, size, size, fill=False, ec=CHANGED, lw=2.2))


class Board:
    """Draws setups as PNG, one after the other, on the same two axes.

    Parameters
    ----------
    setup : Setup
        Fixes the notes along the axis and the length of the pipe shown.
    """

    def __init__(self, setup: Setup):
        self.figure = Figure(figsize=_SIZE, dpi=_DPI, facecolor="white")
        self.canvas = FigureCanvasAgg(self.figure)
        self.pipe_axis = self.figure.add_axes((0.01, 0.80, 0.98, 0.19))
        self.chart_axis = self.figure.add_axes((0.09, 0.075, 0.90, 0.62))
        self.names = [label((first or second).fingering) for first, second in setup.chart.lines]
        self._background: dict[float, object] = {}
        self._pipe_limits(setup.pipe)
        self._chart_frame()

    def _pipe_limits(self, pipe: Chanter) -> None:
        axis = self.pipe_axis
        axis.set_axis_off()
        left = pipe.staple.insertion_mm - pipe.staple.length_mm - pipe.reed.length_mm - 14.0
        right = pipe.bore.length_mm + 5.0
        box = axis.get_position()
        half = 0.5 * (right - left) * (box.height * _SIZE[1]) / (box.width * _SIZE[0])
        axis.set_xlim(left, right)
        axis.set_ylim(-half, half)

    def _chart_frame(self) -> None:
        axis = self.chart_axis
        axis.spines[["top", "right"]].set_visible(False)
        tuning_bands(axis)
        axis.set_xticks(np.arange(len(self.names)), self.names, fontsize=11)
        axis.tick_params(axis="y", labelsize=10)
        axis.set_xlim(-0.6, len(self.names) - 0.4)
        axis.set_ylabel("cents, sharp is up", fontsize=10)
        axis.plot([], [], "o", ms=8, color=FIRST, label="first octave")
        axis.plot([], [], "s", ms=8, mfc="white", mec=SECOND, mew=2, label="second octave")
        axis.plot([], [], "o", ms=8, color=GREY, alpha=0.5, label="grey: before")
        axis.legend(fontsize=10, frameon=False, loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=3)

    def _restore(self, reach: float) -> None:
        if reach not in self._background:
            self.chart_axis.set_ylim(-reach, reach)
            self.canvas.draw()
            self._background[reach] = self.canvas.copy_from_bbox(self.figure.bbox)
        self.chart_axis.set_ylim(-reach, reach)
        self.canvas.restore_region(self._background[reach])

    def _dots(self, chart: TuningChart, ghost: bool) -> None:
        axis, place = self.chart_axis, np.arange(len(self.names))
        first, second = octaves(chart)
        alpha = 0.4 if ghost else 1.0
        both = np.isfinite(first) & np.isfinite(second)
        ends = np.stack([np.column_stack([place, first])[both], np.column_stack([place, second])[both]], axis=1)
        blue, red = (GREY, GREY) if ghost else (FIRST, SECOND)
        artists = [
            LineCollection(ends, colors=GREY, linewidths=1.2, alpha=alpha),
            *axis.plot(place, first, "o", ms=8, color=blue, alpha=alpha),
            *axis.plot(place, second, "s", ms=8, mfc="white", mec=red, mew=2, alpha=alpha),
        ]
        axis.add_collection(artists[0], autolim=False)
        for artist in artists:
            axis.draw_artist(artist)
            artist.remove()

    def _pipe(self, pipe: Chanter, before: Chanter) -> None:
        axis = self.pipe_axis
        kept = set(axis.get_children())
        draw_section(axis, pipe)
        draw_changes(axis, pipe, before)
        for artist in [child for child in axis.get_children() if child not in kept]:
            axis.draw_artist(artist)
            artist.remove()

    def png(self, setup: Setup, before: Setup) -> bytes:
        """The picture of a setup with `before` as its ghost."""
        shown = np.concatenate([setup.chart.cents, before.chart.cents])
        largest = float(np.nanmax(np.abs(shown), initial=0.0)) + 2.0
        self._restore(next((reach for reach in REACHES if largest <= reach), REACHES[-1]))
        self._dots(before.chart, ghost=True)
        self._dots(setup.chart, ghost=False)
        self._pipe(setup.pipe, before.pipe)
        out = io.BytesIO()
        Image.fromarray(np.asarray(self.canvas.buffer_rgba())[..., :3]).save(out, format="png", compress_level=1)
        return out.getvalue()
