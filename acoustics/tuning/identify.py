"""What a chart can tell of the dimensions behind it, and what it cannot."""

from __future__ import annotations

import warnings
from collections.abc import Mapping
from dataclasses import dataclass
from html import escape

import numpy as np

from ..errors import Refusal, number
from ..validity import OutsideRange
from .dials import Dial
from .free import derivative
from .held import plus_minus
from .setup import Setup
from .tangent import Tangent


@dataclass(frozen=True)
class Told:
    """One dimension: what the readings leave open, and what the workshop holds.

    Parameters
    ----------
    dial, unit : str
    within : float
        Two standard deviations of what fits the readings as well; inf where nothing bounds it.
    tolerance : float
        The workshop's, in the same unit.
    goes_with : tuple of str
        Other dimensions that can make up for a change of this one, the strongest first.
    """

    dial: str
    unit: str
    within: float
    tolerance: float
    goes_with: tuple[str, ...]

    @property
    def told(self) -> bool:
        """Whether the readings fix it to within the workshop's tolerance."""
        return self.within <= self.tolerance

    @property
    def said(self) -> str:
        """In plain words."""
        unit = f" {self.unit}" if self.unit else ""
        if self.told:
            return f"{self.dial}: known to ± {self.within:.2g}{unit}"
        width = f"± {self.within:.2g}{unit}" if np.isfinite(self.within) else "any amount"
        made_up = f", if {' and '.join(self.goes_with)} make up for it" if self.goes_with else ""
        return f"{self.dial}: could be off by {width}{made_up}"


@dataclass(frozen=True)
class Identified:
    """What a chart tells of every dimension.  Shows itself in plain words.

    Parameters
    ----------
    dimensions : tuple of Told
    reading_cents : float
        Standard deviation of a reading.
    prior : float or None
        How far each dimension was taken to be off beforehand, as a share of its dial's range.
    """

    dimensions: tuple[Told, ...]
    reading_cents: float
    prior: float | None = None

    @property
    def told(self) -> tuple[str, ...]:
        """Dimensions that the chart fixes to within the workshop's tolerance."""
        return tuple(one.dial for one in self.dimensions if one.told)

    @property
    def untold(self) -> tuple[str, ...]:
        """Those that it does not."""
        return tuple(one.dial for one in self.dimensions if not one.told)

    def __repr__(self) -> str:
        return "\n".join([self._head(), *(f"  {line}" for line in self._lines())])

    def _repr_html_(self) -> str:
        lines = "".join(f"<li>{escape(line)}</li>" for line in self._lines())
        return f"<p style='max-width:48em'>{escape(self._head())}</p><ul style='max-width:48em'>{lines}</ul>"

    def _lines(self) -> list[str]:
        bounded = [one.said for one in self.dimensions if np.isfinite(one.within)]
        open_ = [one.dial for one in self.dimensions if not np.isfinite(one.within)]
        many = "these can be anything, if the others make up for it" if len(open_) > 1 else "this can be anything"
        return bounded + ([f"{many}: {', '.join(open_)}"] if open_ else [])

    def _head(self) -> str:
        known, all_ = len(self.told), len(self.dimensions)
        head = f"Read to {self.reading_cents:g} cents, the chart fixes {known} of {all_} dimensions as closely as "
        head += "the workshop can make them"
        rest = ". The others it cannot tell: measure them on the wood." if known < all_ else "."
        return head + rest


def identify(
    setup: Setup,
    dials: Mapping[str, Dial],
    reading_cents: float = 0.1,
    tolerances: Mapping[str, float] | None = None,
    prior: float | None = None,
) -> Identified:
    """Which dimensions the chart of a setup fixes, were it read from an instrument.

    Parameters
    ----------
    setup : Setup
        As found: the straight-line behaviour is taken there.
    dials : {name: Dial}
        What is not known.
    reading_cents : float
        Standard deviation of each reading, 0.001 to 100 [cents].
    tolerances : {name: float}, optional
        Instead of `held.plus_minus`, in the dials' units.
    prior : float, optional
        How far a dimension may lie from where the maker thinks that it lies, as a share of its dial's
        range (one standard deviation); nothing is known beforehand when None.

    Returns
    -------
    Identified

    Notes
    -----
    Least squares to first order: with J the cents per dial, the covariance is (J'J / reading^2)^-1 by the
    singular value decomposition of J with its columns scaled to the dials' ranges.  Directions whose
    singular value vanishes beside the largest (1e-10) are bounded by nothing but the prior.

    References
    ----------
    G. A. F. Seber and C. J. Wild, *Nonlinear Regression*, Wiley, 1989, section 2.1 (from memory).
    """
    if not dials:
        raise Refusal("no dimension is asked for", "at least one dial is needed", "identify")
    reading = number("reading_cents", reading_cents, 1e-3, 100.0, "cents")
    tangent, each = Tangent(setup), list(dials.values())
    span = np.array([dial.high - dial.low for dial in each])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", OutsideRange)
        slopes = np.stack([np.nan_to_num(derivative(tangent, dial)) for dial in each], axis=1) * span / reading
    if prior is not None:
        known = np.eye(len(each)) / number("prior", prior, 1e-6, 100.0, "")
        slopes = np.concatenate([slopes, known])
    covariance, open_ = _covariance(slopes)
    deviation = np.sqrt(np.diag(covariance))
    within = np.where(open_, np.inf, 2.0 * deviation * span)
    own = {name: plus_minus(dial) for name, dial in dials.items()} | dict(tolerances or {})
    told = []
    for i, (name, dial) in enumerate(dials.items()):
        partners = _partners(covariance, deviation, i)
        with_ = tuple(each[j].label for j in partners) if within[i] > own[name] else ()
        told.append(Told(dial.label, dial.unit, float(within[i]), own[name], with_))
    return Identified(tuple(told), reading, prior)


def _covariance(slopes):
    """Covariance of the scaled dials, and which of them nothing bounds; those as if bounded by a hundred ranges."""
    _, size, way = np.linalg.svd(slopes, full_matrices=True)
    size = np.concatenate([size, np.zeros(len(way) - len(size))])
    lost = size <= 1e-10 * size[0]
    free = np.any(np.abs(way[lost]) > 1e-6, axis=0)
    spread = way.T / np.where(lost, 1e-2, np.maximum(size, 1e-300))
    return spread @ spread.T, free


def _partners(covariance, deviation, i: int) -> list[int]:
    """The two dimensions that go most with one, where they do."""
    correlation = np.abs(covariance[i]) / np.maximum(deviation[i] * deviation, 1e-300)
    correlation[i] = 0.0
    return [int(j) for j in np.argsort(-correlation, kind="stable")[:2] if correlation[j] > 0.5]
