"""The bore that gauge readings tell of, with an honest band, and the readings that do not fit in."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from html import escape

import numpy as np
from scipy.stats import norm

from ..errors import Refusal, check_kind, number
from ..pipes.bore import WIDEST_MM, Bore
from ..pipes.bore_file import NARROWEST_MM
from ..pipes.gauges import PROBES, Gauged, Reading
from .bore_draws import drawn_bores
from .bore_process import USUAL, USUAL_ABOUT, Process
from .probing import Evidence, Gauging, check_design, evidence, seen_mm, throat_mm

CELLS, ROUNDS = 400, 3
OUTLIER, MOST_OUTLIERS = 4.0, 0.1
FARTHEST_MM = 50.0  # by which a depth may be told to be off
DRAWS, STRAIGHT_MM, SCATTER_MM = 400, 0.004, 0.03
CUP_MM = 4.0  # the slope of the cup goes on so far below the deepest gauge from the top; chosen here
FOLLOWS = (
    "Between the gauges the bore is taken to follow its design, but for what the reamers of cup and cone may be off "
    "and their waves."
)
STRAYS = "The gauges tell of another bore than the design: the design was left out of account."


@dataclass(frozen=True)
class Outlier:
    """A reading that does not sit with its neighbours.

    Parameters
    ----------
    reading : Reading
    off_mm, off_depth_mm : float
        How much wider the gauge is than the bore that all others tell of at the place where it stopped, and how
        much deeper it went than it should have [mm].
    """

    reading: Reading
    off_mm: float
    off_depth_mm: float

    def __str__(self) -> str:
        r = self.reading
        way = "deep" if self.off_depth_mm > 0.0 else "shallow"
        said = f"line {r.line}: the {r.probe} gauge {r.said[0]} from the {r.end} is said to stop at {r.said[1]}, about "
        if abs(self.off_depth_mm) > FARTHEST_MM:
            return f"{said}{abs(self.off_mm):.2f} mm of diameter off"
        return f"{said}{abs(self.off_depth_mm):.1f} mm too {way} (or {abs(self.off_mm):.2f} mm of diameter off)"


@dataclass(frozen=True, repr=False)
class BoreFit:
    """A bore from gauge readings.  Says in a notebook what it is and how far it can be trusted.

    Parameters
    ----------
    gauged : Gauged
    at_mm : array (m,)
        From the top [mm].
    drawn_mm : array (draws, m)
        Diameters of bores that the readings allow, each as likely as the others [mm].
    sigma_mm : array (m,)
        Standard deviation of the bore about the fit, with the roughness that gauges only feel [mm].
    rough_mm : float
        The roughness alone [mm].
    everywhere : array (draws,)
        Farthest that each draw strays anywhere, in standard deviations.
    outliers : tuple of Outlier
        Left out of the fit.
    ovality_mm : float
        Greatest way across less smallest, root mean square; nan when only one probe was used.
    gauging : Gauging
        How well it was gauged.
    follows : bool, optional
        Whether the bore follows its design, waves of the reamer aside, so that the design was used; None without one.
    """

    gauged: Gauged
    at_mm: np.ndarray
    drawn_mm: np.ndarray
    sigma_mm: np.ndarray
    rough_mm: float
    everywhere: np.ndarray
    outliers: tuple[Outlier, ...]
    ovality_mm: float
    gauging: Gauging
    follows: bool | None = None

    @cached_property
    def size_mm(self) -> np.ndarray:
        """The fitted diameter, the mean of the draws, (m,) [mm]."""
        return self.drawn_mm.mean(axis=0)

    @cached_property
    def bore(self) -> Bore:
        """The fitted bore with as few stations as keep it straight between them to 0.004 mm."""
        keep = _corners(self.at_mm, self.size_mm, STRAIGHT_MM)
        return Bore(tuple((round(float(self.at_mm[i]), 3), round(float(self.size_mm[i]), 4)) for i in keep))

    def band_mm(self, distance_mm, level: float = 0.95, everywhere: bool = False):
        """Lower and upper end of the band about the fitted bore [mm].

        Parameters
        ----------
        distance_mm : float or array
            From the top [mm].
        level : float
            Probability that the bore lies inside at a place, 0.5 to 0.999.
        everywhere : bool
            That it lies inside at all places at once.
        """
        number("level", level, 0.5, 0.999, "")
        half = self._factor(level, everywhere) * self.sigma_mm
        ends = (np.interp(distance_mm, self.at_mm, self.size_mm + side * half) for side in (-1.0, 1.0))
        return tuple(ends)

    def _factor(self, level: float, everywhere: bool) -> float:
        if not everywhere:
            return float(norm.ppf(0.5 + level / 2.0))
        return float(np.quantile(self.everywhere, level))

    def __str__(self) -> str:
        low, high = np.quantile(1.96 * self.sigma_mm, [0.1, 0.9])
        lines = [
            f"{len(self.gauged.readings)} readings over {self.gauged.length_mm:g} mm: on the best tenth of "
            f"its length the bore is known to ±{low:.3f} mm, on nine tenths to ±{high:.3f} mm (19 times in 20)."
        ]
        worst = int(np.argmax(self.sigma_mm))
        lines.append(f"It is known worst at {self.at_mm[worst]:.0f} mm, to ±{1.96 * self.sigma_mm[worst]:.2f} mm.")
        if all(throat_mm(self.gauged, probe) is None for probe in PROBES):
            least = min(r.gauge_mm for r in self.gauged.readings)
            lines.append(f"No gauge is said to go through: how far below {least:g} mm the throat goes is a guess.")
        if self.ovality_mm == self.ovality_mm:
            lines.append(f"It is out of round by {self.ovality_mm:.2f} mm; the round bore of the same area is used.")
        if self.follows is not None:
            lines.append(FOLLOWS if self.follows else STRAYS)
        if self.outliers:
            lines.append("Left out, measure them again: " + "; ".join(map(str, self.outliers)) + ".")
        if self.rough_mm > SCATTER_MM:
            lines.append(
                f"The readings scatter by {self.rough_mm:.2f} mm more than gauging explains: it was done worse than "
                "stated, or the bore is rough. Gauge it again."
            )
        lines.append("A pocket that is wider than its own mouth cannot be felt by any gauge.")
        return "\n".join(lines)

    def __repr__(self) -> str:
        return str(self)

    def _repr_html_(self) -> str:
        return "".join(f"<p style='max-width:48em'>{escape(line)}</p>" for line in str(self).splitlines())


def fit_bore(gauged: Gauged, gauging: Gauging | None = None, draws: int = DRAWS, design: Bore | None = None) -> BoreFit:
    """The bore that gauge readings tell of.

    Parameters
    ----------
    gauged : Gauged
        See `pipes.bore_file.read_gauges`.
    gauging : Gauging, optional
        How well the maker gauges; 0.01 mm and 0.5 mm when None.
    draws : int
        Random bores that carry the uncertainty on, 50 to 5000; always the same ones.
    design : Bore, optional
        What the bore was meant to be, as long as the gauged one to 2 mm.  It tells how the bore runs between the
        readings, unless they are likelier without it.

    Returns
    -------
    BoreFit

    Raises
    ------
    Refusal
        Fewer than four readings, readings that make no bore, or a design of another length.

    Notes
    -----
    An error of the depth counts as one of the diameter, by the slope of the fitted bore there (effective
    variance; J. Orear, Am. J. Phys. 50, 912, 1982, from memory).  Where gauges have been, what they felt cannot
    narrow on the way out: fit and draws are put in order of size there, which brings them nearer to any bore that
    does not narrow (V. Chernozhukov, I. Fernández-Val and A. Galichon, Biometrika 96, 559, 2009, from memory).
    """
    check_kind("gauges", gauged, Gauged, "what read_gauges gives")
    gauging = Gauging() if gauging is None else gauging
    number("draws", draws, 50, 5000, "")
    if len(gauged.readings) < 4:
        raise Refusal(f"{len(gauged.readings)} readings", "at least four are needed for a fit", "gauges")
    known = evidence(gauged, gauging)
    at = _grid(gauged.length_mm)
    process = _likeliest(gauged, known, gauging, at, design)
    if process.design is not None:  # it tells of the throat what a valley between two gauges would only guess
        known = known.without(list(np.flatnonzero(~known.stopped)))
    outliers: list[Outlier] = []
    while True:
        process, noise, slope = _settled(process, known, gauging, at)
        worst = _worst(process, known, noise, 4.0 * gauging.depth_mm)
        if worst is None or len(outliers) >= MOST_OUTLIERS * len(gauged.readings):
            break
        i, off = worst
        inward = slope[i] if known.readings[i].end == "top" else -slope[i]
        outliers.append(Outlier(known.readings[i], off, float(off / max(-inward, 1e-3))))
        known = known.without([i])
    drawn = drawn_bores(gauged, process, known, noise, at, gauging, int(draws))
    rough, oval = float(np.sqrt(process.variances["rough"])), float("nan")
    if len(np.unique(known.way)) == 2:
        oval = float(np.sqrt(np.mean((drawn.wide_mm - drawn.narrow_mm).mean(axis=0) ** 2)))
    size, sigma = np.sqrt(drawn.narrow_mm * drawn.wide_mm), np.hypot(drawn.sigma_mm, rough)
    follows = None if design is None else process.design is not None
    fit = BoreFit(gauged, at, size, sigma, rough, drawn.everywhere, tuple(outliers), oval, gauging, follows)
    if fit.size_mm.min() < NARROWEST_MM or fit.size_mm.max() > WIDEST_MM:
        what = f"they tell of a bore from {fit.size_mm.min():.1f} to {fit.size_mm.max():.1f} mm"
        raise Refusal(what, "gauges that agree, and reach near both ends, are needed", "gauges")
    return fit


def _likeliest(gauged: Gauged, known: Evidence, gauging: Gauging, at, design: Bore | None) -> Process:
    """The process of any bore or that about the design, whichever makes the readings likelier."""
    free = Process(at, _cup_mm(gauged), USUAL)
    if design is None:
        return free
    check_design(gauged, design)
    about = Process(at, design.throat_mm[0], USUAL_ABOUT, design)
    return min(free, about, key=lambda process: _settled(process, known, gauging, at)[0].unlikely)


def _cup_mm(gauged: Gauged) -> float:
    """Down to where a cup may be: a little below the gauges from the top, or all that those from the foot left."""
    top, foot = seen_mm(gauged)
    return top + CUP_MM if any(r.end == "top" for r in gauged.readings) else foot


def _grid(length_mm: float) -> np.ndarray:
    step = max(1.0, float(np.ceil(length_mm / CELLS)))
    return np.append(np.arange(0.0, length_mm - 0.25 * step, step), length_mm)


def _settled(process: Process, known: Evidence, gauging: Gauging, at):
    """Process, noise and slope at the readings, each found with the others."""
    place, way, size = known.place_mm, known.way, known.size_mm
    slope = np.full(len(place), np.ptp(size) / np.ptp(at))
    for _ in range(ROUNDS):
        noise = known.covariance_mm2 + np.diag((gauging.depth_mm * slope) ** 2 * known.stopped)
        process = process.fitted(place, way, size, noise)
        side = 1.5
        ends = np.concatenate([place - side, place + side]), np.tile(way, 2)
        low, high = np.split(process.given(place, way, size, noise, *ends)[0], 2)
        slope = (high - low) / (2.0 * side)
    return process, noise, slope


def _worst(process: Process, known: Evidence, noise, apart_mm: float) -> tuple[int, float] | None:
    """The stopped reading farthest from what the others foretell, unless it lies between what those above and those
    below it foretell: it is part of a step then."""
    place, way, size = known.place_mm, known.way, known.size_mm
    off, sigma = process.foretold(place, way, size, noise)
    score = np.abs(off / sigma) * known.stopped
    for i in np.argsort(-score):
        if score[i] < OUTLIER:
            return None
        sides = [np.flatnonzero(side) for side in (place < place[i] - apart_mm, place > place[i] + apart_mm)]
        ends = np.array([_reach(process, known, noise, i, side) for side in sides if len(side) > 1])
        if not len(ends) or not ends[:, 0].min() <= size[i] <= ends[:, 1].max():
            return int(i), float(off[i])
    return None


def _reach(process: Process, known: Evidence, noise, i: int, side) -> tuple[float, float]:
    """Between which sizes the readings of one side foretell a reading, two standard deviations either way."""
    place, way, size = known.place_mm, known.way, known.size_mm
    mean, spread = process.given(place[side], way[side], size[side], noise[np.ix_(side, side)], place[[i]], way[[i]])
    far = 2.0 * np.sqrt(spread[0, 0] + noise[i, i] + process.variances["rough"])
    return mean[0] - far, mean[0] + far


def _corners(x, y, within: float) -> list[int]:
    """Indices of the points that a line through them needs to come within so much of all points.

    References
    ----------
    U. Ramer, Computer Graphics and Image Processing 1, 244 (1972), from memory.
    """
    todo, keep = [(0, len(x) - 1)], {0, len(x) - 1}
    while todo:
        first, last = todo.pop()
        line = y[first] + (y[last] - y[first]) * (x[first : last + 1] - x[first]) / (x[last] - x[first])
        far = int(np.argmax(np.abs(y[first : last + 1] - line))) + first
        if abs(y[far] - line[far - first]) > within:
            keep.add(far)
            todo += [(first, far), (far, last)]
    return sorted(keep)
