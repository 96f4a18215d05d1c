"""What a gauged bore does to the chart, and how far the gauges leave it open."""

from __future__ import annotations

from dataclasses import dataclass, replace
from html import escape

import numpy as np

from ..errors import check_kind
from ..tuning.chart import signed
from ..tuning.perturbation import bore_sensitivity
from ..tuning.setup import Setup
from .better_gauges import Better, better_gauges
from .bore_fit import BoreFit


@dataclass(frozen=True, repr=False)
class GaugedChart:
    """The chart of a chanter with its bore as gauged.  Shows itself as a table.

    Parameters
    ----------
    setup : Setup
        With the fitted bore.
    design_cents, cents : arrays (rows,)
        With the bore as designed and as gauged [cents]; nan where nothing sounds.
    covariance : array (rows, rows)
        Of the latter, from the gauging alone [cents squared]; nan where nothing sounds.
    better : Better or None
        What would tell it better; None where no note sounds.
    """

    setup: Setup
    design_cents: np.ndarray
    cents: np.ndarray
    covariance: np.ndarray
    better: Better | None

    @property
    def sigma_cents(self) -> np.ndarray:
        """One standard deviation of each row that comes from the gauging alone, (rows,) [cents]."""
        return np.sqrt(np.diag(self.covariance))

    @property
    def moved_cents(self) -> np.ndarray:
        """What the bore as cut does to each row, (rows,) [cents]."""
        return self.cents - self.design_cents

    @property
    def said(self) -> str:
        """The note that the bore as cut moves most, in plain words."""
        moved = self.moved_cents
        if np.all(np.isnan(moved)):
            return "No note sounds with both bores."
        row = int(np.nanargmax(np.abs(moved)))
        way = "sharper" if moved[row] > 0.0 else "flatter"
        return (
            f"The bore as cut moves {self.setup.chart.rows[row].title} most: {abs(moved[row]):.1f} cents {way} than "
            f"designed, ±{1.96 * self.sigma_cents[row]:.1f} from the gauging. Reed and holes are taken as designed."
        )

    def _cells(self) -> list[tuple[str, ...]]:
        columns = self.design_cents, self.cents, self.moved_cents
        said = [["" if np.isnan(value) else signed(value) for value in column] for column in columns]
        plus_minus = ["" if np.isnan(s) else f"{1.96 * s:.1f}" for s in self.sigma_cents]
        return list(zip((row.title for row in self.setup.chart.rows), *said, plus_minus, strict=True))

    def __repr__(self) -> str:
        lines = [f"{'':26}{'design':>9}{'as cut':>9}{'moved':>9}{'±':>7}"]
        lines += [f"{name:26}{a:>9}{b:>9}{c:>9}{d:>7}" for name, a, b, c, d in self._cells()]
        return "\n".join([self.said, *lines])

    def _repr_html_(self) -> str:
        body = "".join(
            f"<tr><th style='text-align:left'>{escape(name)}</th>{''.join(f'<td>{cell}</td>' for cell in cells)}</tr>"
            for name, *cells in self._cells()
        )
        return (
            f"<p style='max-width:48em'>{escape(self.said)}</p>"
            "<table><caption>Cents against the scale; ± holds 19 times in 20 and comes from the gauging alone</caption>"
            "<thead><tr><th></th><th>bore as designed</th>"
            f"<th>as cut</th><th>moved</th><th>±</th></tr></thead><tbody>{body}</tbody></table>"
        )


def gauged_chart(setup: Setup, fit: BoreFit) -> GaugedChart:
    """The chart of a chanter with its bore as gauged, with the uncertainty that the gauging leaves.

    Parameters
    ----------
    setup : Setup
        Of the design.
    fit : BoreFit

    Notes
    -----
    The chart of the fitted bore is computed in full; the draws about it are followed to first order
    (`tuning.perturbation`).
    """
    check_kind("setup", setup, Setup, "a Setup")
    check_kind("fit", fit, BoreFit, "what fit_bore gives")
    cut = replace(setup, base=replace(setup.base, bore=fit.bore))
    sensitivity = bore_sensitivity(cut)
    off = fit.drawn_mm - fit.size_mm
    drawn = np.array([sensitivity.shift(lambda place, o=o: np.interp(place, fit.at_mm, o)) for o in off])
    better = better_gauges(fit, sensitivity, [row.title for row in setup.chart.rows], drawn)
    return GaugedChart(cut, setup.chart.cents, cut.chart.cents, np.cov(drawn.T, ddof=0), better)
