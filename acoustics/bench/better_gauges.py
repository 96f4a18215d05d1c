"""What would tell a gauged bore better: the stretch that leaves the notes open, and the gauges that would close it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..tuning.perturbation import BoreSensitivity
from .bore_fit import BoreFit

STRETCH_MM = 30.0
STEP_MM = 0.05  # gauges that may be made are so far apart
WITHIN_CENTS = 3.0
GAUGES = 4  # at most so many are asked for


@dataclass(frozen=True, repr=False)
class Better:
    """Which gauges, pushed in from both ends, would make the least known note better known.

    Parameters
    ----------
    note : str
        Title of the note that the gauging leaves most open.
    from_mm, to_mm : float
        The stretch that leaves it open [mm from the top].
    share : float
        Of the note's variance that comes from there.
    within_cents : float
        Every note is known to so much now, 19 times in 20 [cents].
    gauges_mm : tuple of float
        The gauge that helps most, then the one that helps most beside it, and so on [mm]; empty where every note
        is known well enough.
    then_cents : tuple of float
        To how much every note would be known with each of them made, one after the other [cents].
    """

    note: str
    from_mm: float
    to_mm: float
    share: float
    within_cents: float
    gauges_mm: tuple[float, ...]
    then_cents: tuple[float, ...]

    def __str__(self) -> str:
        said = (
            f"The gauging leaves {self.note}, most open, ±{self.within_cents:.1f} cents; {100.0 * self.share:.0f} % of "
            f"that comes from the bore between {self.from_mm:.0f} and {self.to_mm:.0f} mm from the top."
        )
        if not self.gauges_mm:
            return f"{said} That is well enough known." if self.within_cents <= WITHIN_CENTS else said
        sizes = [f"{size:.2f}" for size in self.gauges_mm]
        gauges = (
            f"gauges of {', '.join(sizes[:-1])} and {sizes[-1]} mm" if len(sizes) > 1 else f"a gauge of {sizes[0]} mm"
        )
        return f"{said} With {gauges} too, from both ends, it would be about ±{self.then_cents[-1]:.1f} cents."

    def __repr__(self) -> str:
        return str(self)

    def _repr_html_(self) -> str:
        return f"<p style='max-width:48em'>{self}</p>"


def better_gauges(fit: BoreFit, sensitivity: BoreSensitivity, titles, drawn_cents) -> Better | None:
    """What would tell a bore better; None where no note sounds.

    Parameters
    ----------
    fit : BoreFit
    sensitivity : BoreSensitivity
        Of the notes to the fitted bore.
    titles : sequence of str (rows,)
    drawn_cents : array (draws, rows)
        How each draw of the fit moves them [cents].

    Notes
    -----
    A reading makes bores that agree with it likelier, to first order (the equations of a Kalman filter: R. E.
    Kalman, J. Basic Eng. 82, 35, 1960, from memory): its place is that where the fitted bore has the gauge's size,
    its error that of the gauge, of the depth and of the roughness.
    """
    sounding = np.flatnonzero(np.all(np.isfinite(drawn_cents), axis=0))
    if not len(sounding):
        return None
    row = int(sounding[np.argmax(drawn_cents[:, sounding].std(axis=0))])
    start, share = _stretch(fit, sensitivity, row)
    notes = len(sounding)
    covariance = np.cov(np.hstack([drawn_cents[:, sounding], fit.drawn_mm]).T, ddof=0)
    now = _within(np.diag(covariance)[:notes])
    sizes, made, then = _makeable(fit), [], []
    while sizes and len(made) < GAUGES and (then[-1] if then else now) > WITHIN_CENTS:
        gains = [_gain(fit, covariance, size) for size in sizes]
        left = [_within(np.diag(covariance)[:notes] - np.sum(gain[:notes] ** 2, axis=1)) for gain in gains]
        best = int(np.argmin(left))
        covariance = covariance - gains[best] @ gains[best].T
        made.append(sizes.pop(best))
        then.append(left[best])
    end = min(start + STRETCH_MM, fit.gauged.length_mm)
    return Better(titles[row], start, end, share, now, tuple(made), tuple(then))


def _within(variances) -> float:
    """So much is the least known note known to [cents]."""
    return 1.96 * float(np.sqrt(np.max(variances)))


def _stretch(fit: BoreFit, sensitivity: BoreSensitivity, row: int) -> tuple[float, float]:
    """Where the stretch starts that leaves a note most open [mm], and its share of the note's variance."""
    s = sensitivity
    place = np.concatenate([s.from_top_mm, s.spot_mm])
    cents = np.concatenate([s.weight[row] / s.diameter_mm, s.spot_weight[row] / s.spot_diameter_mm])
    moved = cents * np.array([np.interp(place, fit.at_mm, off) for off in fit.drawn_mm - fit.size_mm])
    part = moved.T @ moved.sum(axis=1) / np.sum(moved.sum(axis=1) ** 2)
    starts = np.arange(0.0, max(fit.gauged.length_mm - STRETCH_MM, 0.0) + 1.0, STRETCH_MM / 6.0)
    shares = [float(part[(place >= start) & (place <= start + STRETCH_MM)].sum()) for start in starts]
    best = int(np.argmax(shares))
    return float(starts[best]), min(max(shares[best], 0.0), 1.0)


def _makeable(fit: BoreFit) -> list[float]:
    """Sizes that were not used and stop somewhere in the fitted bore [mm]."""
    used = np.array([r.gauge_mm for r in (*fit.gauged.readings, *fit.gauged.through)])
    least, most = np.min(fit.size_mm), np.max(fit.size_mm)
    sizes = STEP_MM * np.arange(np.ceil(least / STEP_MM), np.floor(most / STEP_MM) + 1.0)
    return [round(float(s), 2) for s in sizes if np.min(np.abs(used - s)) > STEP_MM / 2.0]


def _gain(fit: BoreFit, covariance, gauge_mm: float) -> np.ndarray:
    """What readings of a gauge from both ends take from a covariance, as G of G @ G.T."""
    narrowed = np.minimum.accumulate(fit.size_mm), np.minimum.accumulate(fit.size_mm[::-1])[::-1]
    stops = [np.argmax(narrowed[0] < gauge_mm), len(fit.at_mm) - 1 - np.argmax(narrowed[1][::-1] < gauge_mm)]
    slope = np.gradient(fit.size_mm, fit.at_mm)[stops]
    index = len(covariance) - len(fit.at_mm) + np.array(stops)
    noise = np.diag((fit.gauging.depth_mm * slope) ** 2 + fit.rough_mm**2) + fit.gauging.probe_mm**2
    root = np.linalg.cholesky(covariance[np.ix_(index, index)] + noise)
    return np.linalg.solve(root, covariance[index]).T
