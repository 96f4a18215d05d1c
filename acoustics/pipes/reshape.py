"""Changes a maker makes to a bore: a bell-shaped patch, a wider foot, a wider throat."""

from __future__ import annotations

import numpy as np

from ..errors import Refusal, number
from .bore import Bore

PATCH_STATIONS = 17
THROAT_REACH_MM = 60.0


def bell(distance_mm, position_mm: float, length_mm: float):
    """A raised cosine: the shape of a patch that fades out to both sides.

    Parameters
    ----------
    distance_mm : array
    position_mm : float
        Where it is 1 [mm].
    length_mm : float
        Of the whole, above 0: it is 0 from half of it away on [mm].

    Returns
    -------
    array, shape of `distance_mm` [1]
    """
    away = np.abs(np.asarray(distance_mm, float) - position_mm) / (length_mm / 2.0)
    return np.where(away < 1.0, 0.5 + 0.5 * np.cos(np.pi * np.minimum(away, 1.0)), 0.0)


def _changed(bore: Bore, extra_mm, change) -> Bore:
    """The bore with more stations at `extra_mm` and `change(distance)` added to every diameter."""
    distance, diameter = bore.table_mm
    new = np.unique(np.round(np.asarray(extra_mm, float), 3))
    apart = np.min(np.abs(new[:, None] - distance), axis=1, initial=np.inf)
    new = new[(new > 0.0) & (new < bore.length_mm) & (apart > 5e-4)]
    at = np.concatenate([distance, new])
    size = np.concatenate([diameter, bore.diameter_mm(new)])
    order = np.argsort(at, kind="stable")
    at, size = at[order], size[order] + change(at[order])
    return Bore(tuple(zip(at.tolist(), size.tolist(), strict=True)))


def patched(bore: Bore, position_mm: float, length_mm: float, depth_mm: float) -> Bore:
    """A bore made wider (or narrower) along a stretch, fading to nothing at both its ends.

    Parameters
    ----------
    bore : Bore
    position_mm : float
        Middle of the stretch, from the top [mm].
    length_mm : float
        Of the whole stretch, 2 to 500 [mm].
    depth_mm : float
        How much the *diameter* grows in the middle, -3 to 3; negative narrows [mm].
    """
    number("patch position", position_mm, 0.0, bore.length_mm)
    number("patch length", length_mm, 2.0, 500.0)
    number("patch depth", depth_mm, -3.0, 3.0)
    if depth_mm == 0.0:
        return bore
    extra = position_mm + length_mm * np.linspace(-0.5, 0.5, PATCH_STATIONS)
    return _changed(bore, extra, lambda x: depth_mm * bell(x, position_mm, length_mm))


def tapered(bore: Bore, foot_mm: float) -> Bore:
    """A bore whose foot is wider by `foot_mm`, straight down to nothing at the throat: another reamer."""
    number("foot wider by", foot_mm, -10.0, 10.0)
    throat = bore.throat_mm[0]
    if throat >= bore.length_mm:
        raise Refusal("the bore is narrowest at its foot", "it must widen below its throat", "taper")
    if foot_mm == 0.0:
        return bore
    return _changed(bore, (), lambda x: foot_mm * np.maximum(x - throat, 0.0) / (bore.length_mm - throat))


def throat_widened(bore: Bore, wider_mm: float) -> Bore:
    """A bore whose throat is wider by `wider_mm`, and all above it as much, fading out 60 mm below it."""
    number("throat wider by", wider_mm, -3.0, 3.0)
    if wider_mm == 0.0:
        return bore
    throat = bore.throat_mm[0]
    extra = throat + THROAT_REACH_MM * np.linspace(0.0, 1.0, 9)
    return _changed(
        bore, extra, lambda x: wider_mm * np.clip(1.0 - np.maximum(x - throat, 0.0) / THROAT_REACH_MM, 0.0, 1.0)
    )
