"""Workshop units: mm, cents, degrees Celsius.  Everything inside the package is SI."""

from __future__ import annotations

import numpy as np

MM = 1e-3
INCH_MM = 25.4
ZERO_CELSIUS = 273.15


def cents(frequency, reference):
    """Interval 1200 log2(frequency / reference): positive is sharp of the reference.

    Parameters
    ----------
    frequency, reference : float or array
        Both in the same unit [Hz], above 0.

    Returns
    -------
    float or array, broadcast [cents]

    References
    ----------
    A. J. Ellis, in H. Helmholtz, *On the Sensations of Tone*, 1885, Appendix XX.
    """
    return 1200.0 * np.log2(np.divide(frequency, reference))


def from_cents(interval):
    """Frequency ratio of an interval in cents (inverse of `cents`)."""
    return np.exp2(np.divide(interval, 1200.0))
