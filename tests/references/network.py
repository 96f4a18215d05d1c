"""A bore as a cascade of two-ports in scikit-rf, a general library for microwave networks.

Source: scikit-rf (Arsenovic et al. 2022, IEEE Microw. Mag. 23, 98). Voltage stands for pressure, current for volume
flow. The cascade goes through scattering matrices, so it is also a check against overflow or lost digits in chains
of (A, B, C, D).
"""

from __future__ import annotations

import numpy as np
import skrf


def slice_network(a, b, c, d, frequency, reference: float) -> skrf.Network:
    """One two-port from its (A, B, C, D), each of the shape of `frequency`."""
    matrix = np.moveaxis(np.array([[a, b], [c, d]]), -1, 0)
    ports = np.full((len(frequency), 2), reference, complex)
    return skrf.Network(f=frequency, f_unit="hz", s=skrf.network.a2s(matrix, ports), z0=ports)


def cascade_input_impedance(a, b, c, d, load, frequency, reference: float):
    """Input impedance of slices (n_slices, n_frequencies) in a row, the first at the entry, ending in `load`.

    `load` [Pa s/m3] has one value per frequency (np.inf is a rigid stop); `reference` is any impedance of the
    bore's order of magnitude and drops out of the result.
    """
    frequency = np.asarray(frequency, float)
    load = np.broadcast_to(np.asarray(load, complex), frequency.shape)
    stopped = np.isinf(load)
    finite = np.where(stopped, 0, load)
    reflected = np.where(stopped, 1, (finite - reference) / (finite + reference))
    end = skrf.Network(f=frequency, f_unit="hz", s=reflected[:, None, None], z0=reference)
    slices = [slice_network(*abcd, frequency, reference) for abcd in zip(a, b, c, d, strict=True)]
    s = skrf.network.cascade_list([*slices, end]).s[:, 0, 0]
    return reference * (1 + s) / (1 - s)
