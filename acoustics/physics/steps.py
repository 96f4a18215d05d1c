"""Abrupt changes of diameter: the added inertance of the flow that turns the corner."""

from __future__ import annotations

import numpy as np


def step_length(narrow_radius, wide_radius):
    """Added length of the narrower duct at a step between coaxial round ducts.

    Parameters
    ----------
    narrow_radius, wide_radius : array
        Same unit, narrow <= wide.

    Returns
    -------
    array, same unit
        The inertance is density times this over the narrower area.

    Notes
    -----
    A fit to mode matching for low frequencies.  Mode matching recomputed for the tests lies within
    0.0013 of the narrow radius up to a ratio of 0.7 and within 0.0024 of it above.  For other
    shapes take the round duct of the same area.

    References
    ----------
    J. Kergomard and A. Garcia, J. Sound Vib. 114, 465 (1987); coefficients from memory, confirmed
    by mode matching.
    """
    ratio = np.asarray(narrow_radius, float) / wide_radius
    fit = np.polynomial.polynomial.polyval(ratio, (0.26164, -0.353, 0.0, 0.0809, 0.03816, -0.12386, 0.09616))
    return np.where(ratio < 1.0, np.pi * fit * narrow_radius, 0.0)


def step_inertance(area_1, area_2):
    """Inertance over density of a step between two areas [m2] -> [1/m]; 0 where they are equal."""
    narrow, wide = np.minimum(area_1, area_2), np.maximum(area_1, area_2)
    jump = wide - narrow > 1e-9 * wide
    return np.where(jump, step_length(np.sqrt(narrow / np.pi), np.sqrt(wide / np.pi)) / narrow, 0.0)


def gap_relief(gaps_mm, middle_mm, length, area):
    """What a gap too short for its two steps takes off them, per slice [1/m], 0 or below.

    Parameters
    ----------
    gaps_mm : sequence of (start, end)
        Wider stretches along the path [mm].
    middle_mm, length, area : arrays (n,)
        Increasing middles [mm], lengths [m] and areas [m2] of the slices.

    Notes
    -----
    Taking wall away cannot hinder the flow, yet two steps far apart would make a gap that closes hinder it
    more than plain tube.  With x the most that half the gap may add, its length times (1/narrow - 1/wide),
    over the inertance of its step standing alone, the step counts by (tanh x + 1 - exp(-x))/2: by x in a
    short gap, in full in a long one.  No published source; within 0.01 of the narrow radius of finite
    elements of potential flow for wide over narrow diameters of 1.1 to 2.
    """
    relief = np.zeros(len(length))
    for start, end in gaps_mm:
        first, after = np.searchsorted(middle_mm, [start, end])
        half, wide = 0.5 * length[first:after].sum(), area[first]
        for at, beside in ((first, area[first - 1]), (after, area[after])):
            alone = float(step_inertance(beside, wide))
            if alone > 0.0:
                x = half * max(1.0 / beside - 1.0 / wide, 0.0) / alone
                relief[at] -= alone * (1.0 - 0.5 * (np.tanh(x) - np.expm1(-x)))
    return relief
