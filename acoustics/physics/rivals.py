"""Other published models in place of the house's own: how far serious sources disagree.

None of these is what a chart is computed with; they measure how much a chart hangs on the choice.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.polynomial.polynomial import polyval

from ..validity import Range
from .network import Column
from .radiation import hole_in_body_length
from .toneholes import Holes, matching_length

NEDERVEEN_RATIO = Range(
    "the inner length of Nederveen 1998",
    "hole over bore diameter",
    0.2,
    0.95,
    "Nederveen et al. 1998, compared with finite elements",
)
DUBOS_RATIO = Range(
    "the inner length of Dubos 1999",
    "hole over bore diameter",
    0.2,
    0.9,
    "Dubos et al. 1999, compared with finite elements",
)
KEEFE_RATIO = Range(
    "the open length of Keefe 1990",
    "hole over bore diameter",
    0.4,
    0.95,
    "Keefe 1990, compared with finite elements and the outer length of Dalmont et al. 2001",
)


def inner_length_nederveen(hole_radius, bore_radius):
    """Inner length of an open hole, same unit.

    References
    ----------
    C. J. Nederveen, J. K. M. Jansen and R. R. van Hassel, Acustica 84, 957 (1998); from memory, within 0.032
    of the hole's radius of finite elements for ratios of 0.2 to 0.95, always longer up to 0.8.
    """
    ratio = hole_radius / bore_radius
    return hole_radius * (0.82 - 1.4 * ratio**2 + 0.75 * ratio**2.7)


def inner_length_dubos(hole_radius, bore_radius):
    """Inner length of an open hole, same unit.

    References
    ----------
    V. Dubos, J. Kergomard, A. Khettabi, J.-P. Dalmont, D. H. Keefe and C. J. Nederveen, Acustica 85, 153
    (1999); from memory, within 0.009 of the hole's radius of finite elements for ratios of 0.2 to 0.8, 0.025
    at 0.9.
    """
    ratio = hole_radius / bore_radius
    return hole_radius * polyval(ratio, (0.82, -0.193, -1.09, 1.27, -0.71))


def inner_length_keefe(hole_radius, bore_radius, body_radius):
    """What Keefe's length of a whole open hole leaves for the inside of the bore, same unit.

    His length is the chimney and 1.40 b - 0.58 b (b/a)^2; the chimney's matching length and the outer
    length of a hole in a round body are taken off.

    References
    ----------
    D. H. Keefe, J. Acoust. Soc. Am. 88, 35 (1990), limit of slow sound; from memory, measured for ratios of
    0.66 to 0.84.  Within 0.11 of the hole's radius of finite elements for ratios of 0.4 to 0.95 and bodies
    1.4 to 3 times as wide as the bore.
    """
    whole = hole_radius * (1.40 - 0.58 * (hole_radius / bore_radius) ** 2)
    return whole - matching_length(hole_radius, bore_radius) - hole_in_body_length(hole_radius, body_radius)


@dataclass(frozen=True)
class Rival:
    """One other model.

    Parameters
    ----------
    name : str
        In a maker's words.
    source : str
    change : callable
        Column -> the column under this model.
    lossless : bool
        Whether the walls take nothing.
    credible : bool
        False for what nobody believes and is shown for its size only.
    """

    name: str
    source: str
    change: Callable[[Column], Column]
    lossless: bool = False
    credible: bool = True


def _labels(holes: Holes) -> list[str]:
    return [f'hole "{name}"' for name in holes.names]


def nederveen(holes: Holes) -> Holes:
    """The same holes with the inner length of Nederveen 1998."""
    NEDERVEEN_RATIO.check(holes.mouth / holes.bore, _labels(holes))
    return replace(holes, inner=inner_length_nederveen(holes.mouth, holes.bore))


def dubos(holes: Holes) -> Holes:
    """The same holes with the inner length of Dubos 1999."""
    DUBOS_RATIO.check(holes.mouth / holes.bore, _labels(holes))
    return replace(holes, inner=inner_length_dubos(holes.mouth, holes.bore))


def keefe(holes: Holes) -> Holes:
    """The same holes with the open length of Keefe 1990."""
    KEEFE_RATIO.check(holes.mouth / holes.bore, _labels(holes))
    return replace(holes, inner=inner_length_keefe(holes.mouth, holes.bore, holes.outer))


def flat_wall(holes: Holes) -> Holes:
    """The same holes in a flat wall without end: outer length 0.822 of the radius."""
    return replace(holes, outer=np.full_like(holes.outer, np.inf))


def _of_holes(change: Callable[[Holes], Holes]) -> Callable[[Column], Column]:
    return lambda column: replace(column, holes=change(column.holes)) if column.holes else column


def _thin_foot(column: Column) -> Column:
    """The foot ends like a thin tube."""
    return replace(column, foot_radii=(column.foot_radii[0], column.foot_radii[0]))


RIVALS = (
    Rival("holes: Nederveen", "Nederveen et al. 1998", _of_holes(nederveen)),
    Rival("holes: Dubos", "Dubos et al. 1999", _of_holes(dubos)),
    Rival("holes: Keefe", "Keefe 1990", _of_holes(keefe)),
    Rival("holes in a flat wall", "Dalmont et al. 2001, limit of a wide body", _of_holes(flat_wall)),
    Rival("foot of thin wall", "Levine and Schwinger 1948", _thin_foot),
    Rival("walls without loss", "no source: no wall is so", lambda column: column, lossless=True, credible=False),
)
