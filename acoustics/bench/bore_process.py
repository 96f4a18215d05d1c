"""How bores run before any gauge has told: a random process that bends, wanders and is a little rough.

The diameter is a straight cone, any at all, plus a slope that changes at random along the bore (which makes
the smoothest curve through the readings a cubic spline), plus a diameter that wanders at random (which lets a
step be a step), plus roughness that neighbouring places do not share.  How much of each is in this bore is
found from its readings by maximum likelihood, leaning a little on what is usual.

A bore that was meant to be a design departs from it by a reamer a little too large, too steep or sitting too deep,
plus waves some hundredths of a mm high, a centimetre or two long, that do not add up along the bore.  Its cup, which
another reamer cut, bends away from the design's by itself.

References
----------
G. Wahba, J. R. Statist. Soc. B 40, 364 (1978): splines as the mean of a process.
C. E. Rasmussen and C. K. I. Williams, *Gaussian Processes for Machine Learning*, 2006, eqs 2.23-2.24 (mean and
covariance), 5.8-5.9 (likelihood and its gradient), 5.12 (each reading foretold by the others).  Both from memory.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.linalg import cho_factor, cho_solve
from scipy.optimize import minimize

from ..pipes.bore import Bore

# Variances per mm of length: of the slope in the cup and below it, of the diameter, of half the difference of
# the two ways across; and of the roughness.  Chosen here from how reamers cut; a bore's own is found from its readings.
USUAL = {"cup": 1e-3, "bend": 2e-6, "walk": 1e-5, "oval": 1e-5, "rough": 6e-5}
# The same about a design, where the departure bends in the cup only, and has waves of two lengths: variances [mm²].
USUAL_ABOUT = {"cup": 1e-6, "short": 5e-4, "long": 5e-4, "walk": 1e-6, "oval": 1e-5, "rough": 6e-5}
WAVES_MM = {"short": 10.0, "long": 20.0}
LEANING = 1.0  # standard deviation of the logarithm of a variance about the usual one; chosen here
VAGUE = (10.0, 0.2, 0.1)  # diameter [mm], slope, half the difference of the ways across [mm]; chosen here
VAGUE_ABOUT = (0.3, 1e-3, 0.1, 2.0)  # the same about a design, and how far it may sit too deep [mm]; chosen here
SLOPE_OVER_MM = 2.0  # of the design, to either side


@dataclass(frozen=True)
class Process:
    """A bore's random shape on a grid of cells.

    Parameters
    ----------
    edge_mm : array (cells + 1,)
        Ends of the cells, from the top [mm].
    cup_mm : float
        Down to here the slope changes as in a cup; of a design, down to its throat [mm].
    variances : dict
        As `USUAL`, or as `USUAL_ABOUT` with a design; those of this bore.
    design : Bore, optional
        What the bore was meant to be.
    unlikely : float
        Negative logarithm of how likely the readings are, and the variances beside the usual ones; nan before a fit.
    """

    edge_mm: np.ndarray
    cup_mm: float
    variances: dict[str, float]
    design: Bore | None = None
    unlikely: float = float("nan")

    def parts(self, place_mm, way) -> dict[str, np.ndarray]:
        """Each part of the diameter at places as weights of independent unit numbers, {part: (n, numbers)}."""
        place, way = np.asarray(place_mm, float)[:, None], np.asarray(way, float)[:, None]
        middle, cell = (self.edge_mm[1:] + self.edge_mm[:-1]) / 2.0, np.sqrt(np.diff(self.edge_mm))
        walk = np.clip((place - self.edge_mm[:-1]) / np.diff(self.edge_mm), 0.0, 1.0) * cell
        shape = (self._bends if self.design is None else self._waves)(place, way, middle, cell)
        return {**shape, "walk": walk, "oval": way * walk}

    def _bends(self, place, way, middle, cell) -> dict[str, np.ndarray]:
        """A straight cone, any at all, and how the slope changes."""
        bend = np.maximum(place - middle, 0.0) * cell
        cup = middle < self.cup_mm
        vague = np.hstack([VAGUE[0] + 0.0 * place, VAGUE[1] * (place - middle.mean()), VAGUE[2] * way])
        return {"vague": vague, "cup": bend * cup, "bend": bend * ~cup}

    def _waves(self, place, way, middle, cell) -> dict[str, np.ndarray]:
        """How a reamer of the design's shape may be off as a whole, the cup apart, and the waves that reamers leave."""
        size, slope, across, deep = VAGUE_ABOUT
        length = self.edge_mm[-1]
        columns = [size + 0.0 * place, slope * (place - length / 2.0), across * way, deep * self._slope(place)]
        beyond = 3.0 * max(WAVES_MM.values())
        crest = np.linspace(-beyond, length + beyond, len(self.edge_mm))
        apart = crest[1] - crest[0]
        waves = {
            name: np.exp(-(((place - crest) / long) ** 2)) * np.sqrt(apart / long) * (2.0 / np.pi) ** 0.25
            for name, long in WAVES_MM.items()
        }
        cup = np.maximum(middle - place, 0.0) * cell * (middle < self.cup_mm)
        return {"vague": np.hstack(columns), "cup": cup, **waves}

    def _slope(self, place_mm) -> np.ndarray:
        ends = (self.design.diameter_mm(place_mm + side * SLOPE_OVER_MM) for side in (1.0, -1.0))
        return np.subtract(*ends) / (2.0 * SLOPE_OVER_MM)

    def _expected(self, place_mm, size_mm) -> np.ndarray:
        """Diameter at places before any reading, but for the mean of all where there is no design."""
        if self.design is None:
            return np.full(len(place_mm), np.mean(size_mm))
        return self.design.diameter_mm(np.asarray(place_mm, float))

    def fitted(self, place_mm, way, size_mm, noise) -> Process:
        """The same with the variances of greatest likelihood.

        Parameters
        ----------
        place_mm, way, size_mm : arrays (n,)
            See `probing.Evidence`.
        noise : array (n, n)
            Covariance of what the readings are off by [mm²].
        """
        parts = {name: part @ part.T for name, part in self.parts(place_mm, way).items()}
        fixed = parts.pop("vague") + noise
        parts["rough"] = np.eye(len(place_mm))
        table = USUAL if self.design is None else USUAL_ABOUT
        usual = np.array([table[name] for name in parts])
        stack, size = np.stack(list(parts.values())), size_mm - self._expected(place_mm, size_mm)

        def unlikeliness(ratio):
            variance = usual * np.exp(ratio)
            factor = cho_factor(fixed + np.tensordot(variance, stack, 1), lower=True)
            inverse, pull = cho_solve(factor, np.eye(len(size))), cho_solve(factor, size)
            value = 0.5 * size @ pull + np.log(np.diag(factor[0])).sum() + 0.5 * np.sum((ratio / LEANING) ** 2)
            slope = 0.5 * variance * np.einsum("kij,ij->k", stack, inverse - np.outer(pull, pull))
            return value, slope + ratio / LEANING**2

        start = np.zeros(len(usual))
        best = minimize(unlikeliness, start, jac=True, method="L-BFGS-B", bounds=[(-9.0, 9.0)] * len(usual))
        found = dict(zip(parts, (usual * np.exp(best.x)).tolist(), strict=True))
        return replace(self, variances=found, unlikely=float(best.fun))

    def _root(self, place_mm, way) -> np.ndarray:
        """Everything but the roughness as weights of independent unit numbers, (n, numbers)."""
        parts = self.parts(place_mm, way)
        return np.hstack([part * np.sqrt(self.variances.get(name, 1.0)) for name, part in parts.items()])

    def given(self, place_mm, way, size_mm, noise, at_mm, at_way):
        """Mean (m,) and covariance (m, m) of the diameter at places `at_mm`, readings known, roughness left out."""
        known, asked = self._root(place_mm, way), self._root(at_mm, at_way)
        factor = cho_factor(self._whole(known, noise), lower=True)
        off, across = size_mm - self._expected(place_mm, size_mm), asked @ known.T
        mean = self._expected(at_mm, size_mm) + across @ cho_solve(factor, off)
        return mean, asked @ asked.T - across @ cho_solve(factor, across.T)

    def foretold(self, place_mm, way, size_mm, noise):
        """How far each reading is from what all others foretell, and the standard deviation of that, (n,) each."""
        whole = self._whole(self._root(place_mm, way), noise)
        inverse = cho_solve(cho_factor(whole, lower=True), np.eye(len(size_mm)))
        own = np.diag(inverse)
        return inverse @ (size_mm - self._expected(place_mm, size_mm)) / own, 1.0 / np.sqrt(own)

    def _whole(self, root, noise):
        return root @ root.T + noise + self.variances["rough"] * np.eye(len(root))
