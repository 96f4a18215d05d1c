"""A bore as it was cut beside its design: where to ream, and where too much is gone already."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from itertools import groupby, pairwise

import numpy as np
from scipy.stats import norm

from ..errors import Refusal, check_kind, number
from ..pipes.bore import Bore
from ..tuning.chart import signed
from ..tuning.held import BORE_PLUS_MINUS_MM
from .bore_fit import BoreFit
from .probing import check_design

LEVEL = 0.95
ROUGH_MM = 4.0  # roughness of places so far apart is not the same
TURNED, FAR_MM = 0.5, 0.5  # turned round it lies by this share nearer, and it lies so far off: chosen here
LEAST_MM = 0.01  # of diameter, that a reamer can take: common practice, no source
GAP = 0.25  # of the length, without a gauge that stopped: worth saying; chosen here
OVER, REAM = "over size", "ream"
PERHAPS_OVER, PERHAPS_REAM, FINE, UNKNOWN = "perhaps over", "perhaps ream", "as designed", "cannot tell"


@dataclass(frozen=True)
class Stretch:
    """A stretch of the bore against the design.

    Parameters
    ----------
    from_mm, to_mm : float
        From the top [mm].
    design_mm, cut_mm : float
        Mean diameter, designed and as cut [mm].
    sigma_mm : float
        One standard deviation of the latter [mm].
    sure_mm : float
        So far may it be off, either way, in any stretch of 19 bores in 20 [mm].
    verdict : str
        "as designed" where it is within the tolerance; "over size" or "ream" where it is not and that it is off that
        way is certain, "perhaps over" or "perhaps ream" where it would be if this stretch alone were looked at;
        "cannot tell" where the gauges leave more open than that.
    """

    from_mm: float
    to_mm: float
    design_mm: float
    cut_mm: float
    sigma_mm: float
    sure_mm: float
    verdict: str

    @property
    def off_mm(self) -> float:
        """As cut less design: positive is over size [mm]."""
        return self.cut_mm - self.design_mm

    @property
    def take_mm(self) -> float:
        """What may be reamed off the diameter without passing the design, the band allowed for [mm]."""
        return max(-self.off_mm - self.sure_mm, 0.0)


@dataclass(frozen=True, repr=False)
class AsCut:
    """A bore beside its design, stretch by stretch.  Shows itself as a table with a sentence.

    Parameters
    ----------
    fit : BoreFit
    design : Bore
    tolerance_mm : float
    stretches : tuple of Stretch
        From the top down.
    """

    fit: BoreFit
    design: Bore
    tolerance_mm: float
    stretches: tuple[Stretch, ...]

    @property
    def said(self) -> str:
        """What to do, in plain words."""
        runs = [(verdict, list(run)) for verdict, run in groupby(self.stretches, key=lambda s: s.verdict)]
        ream = [_ream_words(run) for verdict, run in runs if verdict == REAM]
        over = [_over_words(run) for verdict, run in runs if verdict == OVER]
        perhaps = [_place(run) for verdict, run in runs if verdict in (PERHAPS_OVER, PERHAPS_REAM, UNKNOWN)]
        out = []
        if ream:
            out.append(
                f"Under size: {'; '.join(ream)}. Ask first what that would do to the notes; then take less than that, "
                "and gauge again."
            )
        if over:
            out.append(
                f"Over size already: {'; '.join(over)}. That wood cannot be put back; a rush, wax or a patch "
                "can narrow the bore there."
            )
        if perhaps:
            out.append(f"The gauges cannot tell for certain from {', '.join(perhaps)}: gauge again before a cut there.")
        if self.fit.outliers:
            out.append(f"Left out, as the other gauges tell otherwise: {'; '.join(map(str, self.fit.outliers))}.")
        if not ream and not over:
            out.insert(0, "Nowhere is it certain that the bore is off its design.")
        start, end = _widest_gap(self.fit)
        if end - start > GAP * self.fit.gauged.length_mm:
            out.insert(
                0, f"Mind: from {start:.0f} to {end:.0f} mm no gauge stopped; is every depth in the file's unit?"
            )
        return " ".join(out)

    def __str__(self) -> str:
        head = f"{'from':>5}{'to':>5}{'design':>9}{'as cut':>9}{'off':>8}{'±':>7}  verdict"
        lines = [
            f"{s.from_mm:5.0f}{s.to_mm:5.0f}{s.design_mm:9.2f}{s.cut_mm:9.2f}{signed(s.off_mm, 2):>8}"
            f"{1.96 * s.sigma_mm:7.3f}  {_verdict(s)}"
            for s in self.stretches
        ]
        return "\n".join([head, *lines])

    def __repr__(self) -> str:
        return f"{self.said}\n{self}"

    def _repr_html_(self) -> str:
        rows = "".join(
            f"<tr><td>{s.from_mm:.0f}</td><td>{s.to_mm:.0f}</td><td>{s.design_mm:.2f}</td><td>{s.cut_mm:.2f}</td>"
            f"<td>{signed(s.off_mm, 2)}</td><td>{1.96 * s.sigma_mm:.3f}</td>"
            f"<td style='text-align:left'>{escape(_verdict(s))}</td></tr>"
            for s in self.stretches
        )
        return (
            f"<p style='max-width:48em'>{escape(self.said)}</p>"
            "<table><caption>Mean diameter of each stretch, mm; positive is over size; ± holds 19 times in 20</caption>"
            "<thead><tr><th>from</th><th>to</th><th>design</th><th>as cut</th><th>off</th><th>±</th>"
            f"<th style='text-align:left'>verdict</th></tr></thead><tbody>{rows}</tbody></table>"
        )


def as_cut(fit: BoreFit, design: Bore, tolerance_mm: float = BORE_PLUS_MINUS_MM, every_mm: float = 20.0) -> AsCut:
    """A fitted bore beside its design.

    Parameters
    ----------
    fit : BoreFit
    design : Bore
        Of the same length, to 2 mm.
    tolerance_mm : float
        Within so much a diameter is as designed, 0.005 to 1 [mm].
    every_mm : float
        Length of a stretch, 5 to 100 [mm].

    Returns
    -------
    AsCut

    Raises
    ------
    Refusal
        No fit, no bore, lengths that differ, or a bore that is the design's turned end for end.

    Notes
    -----
    "Certain" is that which is so in all stretches of 19 bores in 20 (C. E. Bonferroni, 1936, from memory): the
    deviation of one stretch must pass its standard deviation some three times.
    """
    check_kind("fit", fit, BoreFit, "what fit_bore gives")
    check_design(fit.gauged, design)
    number("tolerance", tolerance_mm, 0.005, 1.0)
    number("stretches", every_mm, 5.0, 100.0)
    length = fit.gauged.length_mm
    edges = np.linspace(0.0, length, max(1, round(length / every_mm)) + 1)
    many = norm.ppf(1.0 - (1.0 - LEVEL) / 2.0 / (len(edges) - 1))
    meant = design.diameter_mm(fit.at_mm)
    _check_ends(fit, meant)
    stretches = []
    for start, end in pairwise(edges):
        inside = (fit.at_mm >= start) & (fit.at_mm <= end)
        means = fit.drawn_mm[:, inside].mean(axis=1)
        sigma = float(np.hypot(means.std(), fit.rough_mm / np.sqrt(max((end - start) / ROUGH_MM, 1.0))))
        meant_mm, cut_mm = float(meant[inside].mean()), float(means.mean())
        verdict = _judged(cut_mm - meant_mm, sigma, many, tolerance_mm)
        stretches.append(Stretch(float(start), float(end), meant_mm, cut_mm, sigma, float(many * sigma), verdict))
    return AsCut(fit, design, tolerance_mm, tuple(stretches))


def _widest_gap(fit: BoreFit) -> tuple[float, float]:
    """The longest stretch in which no gauge stopped [mm]."""
    places = sorted({0.0, *(reading.distance_mm for reading in fit.gauged.readings), fit.gauged.length_mm})
    return max(pairwise(places), key=lambda pair: pair[1] - pair[0])


def _check_ends(fit: BoreFit, meant: np.ndarray) -> None:
    """A `Refusal` when the bore fits its design much better the other way round."""
    off, turned = (float(np.sqrt(np.mean((size - meant) ** 2))) for size in (fit.size_mm, fit.size_mm[::-1]))
    if off > FAR_MM and turned < TURNED * off:
        what = f"the bore lies {off:.1f} mm from the design, turned end for end only {turned:.1f} mm"
        raise Refusal(what, "under from the end into which each gauge was pushed, top or foot, is needed", "gauges")


def _judged(off: float, sigma: float, many: float, tolerance: float) -> str:
    if abs(off) <= tolerance:
        return FINE if 1.96 * sigma <= tolerance else UNKNOWN
    if off > many * sigma:
        return OVER
    if -off >= many * sigma + LEAST_MM:
        return REAM
    if abs(off) > 1.96 * sigma:
        return PERHAPS_OVER if off > 0.0 else PERHAPS_REAM
    return UNKNOWN


def _verdict(stretch: Stretch) -> str:
    if stretch.verdict == REAM:
        return f"ream, {stretch.take_mm:.2f} mm is safe"
    return stretch.verdict


def _place(run: list[Stretch]) -> str:
    return f"{run[0].from_mm:.0f} to {run[-1].to_mm:.0f} mm"


def _ream_words(run: list[Stretch]) -> str:
    take = [s.take_mm for s in run]
    amount = f"{min(take):.2f}" if len(run) == 1 else f"{min(take):.2f} to {max(take):.2f}"
    return f"from {_place(run)}, where {amount} mm of diameter can be reamed for certain"


def _over_words(run: list[Stretch]) -> str:
    most = max(run, key=lambda s: s.off_mm)
    return f"from {_place(run)} by up to {most.off_mm:.2f} mm (±{1.96 * most.sigma_mm:.2f})"
