"""Two-ports: how pressure and volume flow at one end follow from those at the other.

p1 = A p2 + B U2 and U1 = C p2 + D U2, end 1 nearer to the reed, flow positive away from it.
A two-port is an array of shape (2, 2, ...); whatever follows the first two axes is a batch.
"""

from __future__ import annotations

import numpy as np


def cascade(first, second):
    """The two-port of `first` followed, further from the reed, by `second`.

    Parameters
    ----------
    first, second : array (2, 2, ...)
        The batches broadcast.

    Returns
    -------
    array (2, 2, ...)
    """
    return first[:, :1] * second[None, 0] + first[:, 1:] * second[None, 1]


def apply(twoport, state):
    """(p, U) at the near end from `state`, (p, U) at the far end, array (2, ...)."""
    return twoport[:, 0] * state[None, 0] + twoport[:, 1] * state[None, 1]


def series(impedance):
    """Two-port of an impedance through which the flow passes, array (...) -> (2, 2, ...)."""
    one, zero = np.ones_like(impedance), np.zeros_like(impedance)
    return np.array([[one, impedance], [zero, one]])


def shunt(admittance):
    """Two-port of an admittance to the side, array (...) -> (2, 2, ...)."""
    one, zero = np.ones_like(admittance), np.zeros_like(admittance)
    return np.array([[one, zero], [admittance, one]])


def determinant(twoport):
    """AD - BC, array (...): 1 for every reciprocal two-port."""
    return twoport[0, 0] * twoport[1, 1] - twoport[0, 1] * twoport[1, 0]


def fold(twoports, counts):
    """Cascade runs of neighbours, pairwise, all runs at once.

    Parameters
    ----------
    twoports : array (2, 2, n, ...)
        In the order from the reed outward.
    counts : int array (runs,)
        How many neighbours belong to each run, at least 1 each; they add up to n.

    Returns
    -------
    array (2, 2, runs, ...)
    """
    counts = np.asarray(counts)
    while counts.max() > 1:
        place = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
        keep = np.flatnonzero(place % 2 == 0)
        paired = place[keep] + 1 < np.repeat(counts, counts)[keep]
        folded = twoports[:, :, keep]
        folded[:, :, paired] = cascade(folded[:, :, paired], twoports[:, :, keep[paired] + 1])
        twoports, counts = folded, (counts + 1) // 2
    return twoports
