"""Pictures of a bore from the bench: how far it is off its design, with the band and the readings."""

from __future__ import annotations

import numpy as np

from ..bench.as_cut import OVER, REAM, AsCut
from .picture import FIRST, GREY, SECOND, Picture, sheet

HATCH = {OVER: (SECOND, "over size"), REAM: (FIRST, "under size")}


def plot_as_cut(cut: AsCut) -> Picture:
    """A gauged bore less its design, along the bore: the fit, its bands, the readings, and what is certain.

    The dark band holds the bore 19 times in 20 at any one place, the light one 19 bores in 20 everywhere.
    """
    fit, design = cut.fit, cut.design
    at, meant = fit.at_mm, design.diameter_mm(fit.at_mm)
    figure, axis = sheet(10.0, 3.6)
    for everywhere, shade in ((True, 0.10), (False, 0.22)):
        low, high = fit.band_mm(at, everywhere=everywhere)
        axis.fill_between(at, low - meant, high - meant, color="black", alpha=shade, lw=0)
    axis.axhline(0.0, color="black", lw=0.8)
    axis.plot(at, fit.size_mm - meant, color="black", lw=1.6, label="as cut, fitted")
    _readings(axis, cut)
    low, high = np.percentile(np.concatenate([end - meant for end in fit.band_mm(at, everywhere=True)]), [1, 99])
    reach = max(0.08, -low, high, *(abs(outlier.off_mm) + 0.05 for outlier in fit.outliers)) * 1.1
    axis.set_ylim(-1.25 * reach, reach)
    for stretch in cut.stretches:
        if stretch.verdict in HATCH:
            box = (stretch.from_mm, stretch.to_mm), [-1.25 * reach] * 2, [-1.13 * reach] * 2
            axis.fill_between(*box, color=HATCH[stretch.verdict][0], lw=0)
    for verdict, (colour, name) in HATCH.items():
        if any(s.verdict == verdict for s in cut.stretches):
            axis.plot([], [], lw=6, color=colour, label=f"{name}, certain")
    axis.set_xlim(0.0, fit.gauged.length_mm)
    axis.set_xlabel("mm from the top of the wood", fontsize=9)
    axis.set_ylabel("mm wider (+) or narrower (−)\nthan the design", fontsize=9)
    axis.legend(fontsize=9, frameon=False, ncols=5, loc="lower center", bbox_to_anchor=(0.5, 1.0))
    return Picture(figure, f"{cut.said}\n{cut}")


def _readings(axis, cut: AsCut) -> None:
    """Every gauge where it stopped, by the end it came from; what was left out is crossed."""
    left_out = [outlier.reading for outlier in cut.fit.outliers]
    kinds = (("foot", "o", "gauge from the foot"), ("top", "^", "gauge from the top"))
    for end, marker, name in kinds:
        kept = [r for r in cut.fit.gauged.readings if r.end == end and r not in left_out]
        if kept:
            _dots(axis, cut, kept, marker, GREY, name)
    if left_out:
        _dots(axis, cut, left_out, "x", SECOND, "left out")


def _dots(axis, cut: AsCut, readings, marker: str, colour: str, name: str) -> None:
    place = np.array([r.distance_mm for r in readings])
    off = np.array([r.gauge_mm for r in readings]) - cut.design.diameter_mm(place)
    axis.plot(place, off, marker, ms=4, mfc="none" if marker != "x" else colour, mec=colour, label=name, ls="none")
