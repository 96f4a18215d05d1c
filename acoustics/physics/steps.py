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
