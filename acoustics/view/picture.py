"""One way to show a figure: a picture that also says in words what it shows."""

from __future__ import annotations

import io
from dataclasses import dataclass

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from PIL import Image

from ..tuning.chart import IN_TUNE, USABLE

FIRST, SECOND, GREY, WOOD, COPPER, CANE, BRASS = (
    "#1d4e89",
    "#c4501b",
    "#8a8a8a",
    "#d9c3a0",
    "#b06a35",
    "#e8d99a",
    "#c9a227",
)
COLOUR = {1: FIRST, 2: SECOND}  # of a register
ASIDE = 0.16
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


def tuning_bands(axis) -> None:
    """Shades around 0 cents: dark where a note is in tune, light where it is usable."""
    for reach, shade in ((USABLE, 0.06), (IN_TUNE, 0.07)):
        axis.axhspan(-reach, reach, color="black", alpha=shade, lw=0)
    axis.axhline(0.0, color="black", lw=0.8)


def notes_along(titles) -> tuple[list[str], np.ndarray]:
    """Notes along an axis, in the order of some titles ("A, second octave").

    Returns
    -------
    names : list of str
        Each note once; its place is its index.
    places : array (titles,)
        The first octave a little left of its name, the second a little right.
    """
    parts = [title.rsplit(", ", 1) for title in titles]
    names = list(dict.fromkeys(name for name, _ in parts))
    aside = [ASIDE if octave.startswith("second") else -ASIDE for _, octave in parts]
    return names, np.array([names.index(name) for name, _ in parts]) + aside
