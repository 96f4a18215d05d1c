"""Tolerances that a printed number allows."""

from __future__ import annotations

import numpy as np


def agree(computed, printed, digits: int) -> None:
    """Equal to half a unit of the last of that many decimals (and a hundredth, for rounding at the edge)."""
    np.testing.assert_allclose(computed, printed, rtol=0, atol=0.51 * 10.0**-digits)


def agree_figures(computed, printed, figures: int) -> None:
    """Equal to half a unit of the last of that many significant figures of each printed value."""
    unit = 10.0 ** (np.floor(np.log10(np.abs(printed))) - figures + 1)
    np.testing.assert_allclose(np.asarray(computed) / unit, np.asarray(printed) / unit, rtol=0, atol=0.51)
