"""One way to show a figure: a picture that also says in words what it shows."""

from __future__ import annotations

import io
from dataclasses import dataclass

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from PIL import Image

FIRST, SECOND, GREY, WOOD, COPPER, CANE, BRASS = (
    "#1d4e89",
    "#c4501b",
    "#8a8a8a",
    "#d9c3a0",
    "#b06a35",
    "#e8d99a",
    "#c9a227",
)
DPI, COLOURS = 100, 200


@dataclass(frozen=True)
class Picture:
    """A figure and the words that stand for it.

    Parameters
    ----------
    figure : matplotlib Figure
    words : str
        The numbers behind the picture, for readers without it and for tests.
    """

    figure: Figure
    words: str

    def png(self, dpi: int = DPI) -> bytes:
        """The picture as PNG of at most 200 colours, the same bytes for the same numbers."""
        drawn, out = io.BytesIO(), io.BytesIO()
        FigureCanvasAgg(self.figure)
        self.figure.savefig(drawn, format="png", dpi=dpi, facecolor="white", metadata={"Software": None})
        self.figure.set_layout_engine("none")  # laid out once: a second pass would move things by a hair
        picture = Image.open(drawn).convert("RGB").quantize(COLOURS, dither=Image.Dither.NONE)
        picture.save(out, format="png", optimize=True)
        return out.getvalue()

    def _repr_png_(self) -> bytes:
        return self.png()

    def __repr__(self) -> str:
        return self.words


def sheet(width: float, height: float, rows: int = 1, **how):
    """A new figure and its axes (one, or an array of `rows`), sizes in inches."""
    figure = Figure(figsize=(width, height), layout="constrained")
    axes = figure.subplots(rows, 1, **how)
    for axis in [axes] if rows == 1 else axes:
        axis.spines[["top", "right"]].set_visible(False)
        axis.tick_params(labelsize=9)
    return figure, axes
