"""A reed pipe in the time domain: an impedance as a sum of modes, and a valve without memory in front of it.

Nothing here knows how the package works: frequencies, impedances and a flow law come from the caller.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

PER_SECOND = 1e4  # time is counted in units of 0.1 ms, so that poles are near 1


@dataclass(frozen=True)
class Modal:
    """Z(s) = sum of C/(s - a) + conj(C)/(s - conj(a)) over pairs, and of D/(s - b) over real poles, all damped."""

    pair: np.ndarray
    pair_residue: np.ndarray
    real: np.ndarray
    real_residue: np.ndarray

    def impedance(self, frequency):
        s = 2j * np.pi * np.asarray(frequency)[:, None] / PER_SECOND
        pairs = self.pair_residue / (s - self.pair) + self.pair_residue.conj() / (s - self.pair.conj())
        return pairs.sum(axis=1) + (self.real_residue / (s - self.real)).sum(axis=1)

    def matrices(self):
        """A, b, c of x' = A x + b u, p = c x, all real; time in units of 1 / `PER_SECOND`."""
        n, size = len(self.pair), 2 * len(self.pair) + len(self.real)
        a, b, c = np.zeros((size, size)), np.zeros(size), np.zeros(size)
        even = np.arange(0, 2 * n, 2)
        a[even, even] = a[even + 1, even + 1] = self.pair.real
        a[even, even + 1], a[even + 1, even] = self.pair.imag, -self.pair.imag
        b[even], c[even], c[even + 1] = 2.0, self.pair_residue.real, self.pair_residue.imag
        rest = np.arange(2 * n, size)
        a[rest, rest], b[rest], c[rest] = self.real, 1.0, self.real_residue
        return a, b, c


def fitted(frequency, impedance, pairs: int = 40, turns: int = 8) -> Modal:
    """A sum of damped modes through an impedance known at real frequencies.

    Vector fitting: B. Gustavsen and A. Semlyen, IEEE Trans. Power Delivery 14, 1052 (1999), from memory.
    """
    s, weight = 2j * np.pi * frequency / PER_SECOND, np.abs(impedance) ** -0.5
    reach = 2.0 * np.pi * np.linspace(100.0, 1.2 * frequency.max(), pairs) / PER_SECOND
    poles = np.concatenate([(-0.02 + 1j) * reach, [-1.0, -10.0]])
    for turn in range(turns + 1):
        pair, real = poles[poles.imag > 0.0], poles[poles.imag == 0.0].real
        n, up, down = len(pair), 1.0 / (s[:, None] - pair), 1.0 / (s[:, None] - pair.conj())
        basis = np.concatenate([up + down, 1j * (up - down), 1.0 / (s[:, None] - real)], axis=1)
        columns = basis if turn == turns else np.concatenate([basis, -basis * impedance[:, None]], axis=1)
        factor = _least_squares(columns * weight[:, None], impedance * weight)
        if turn == turns:
            return Modal(pair, factor[:n] + 1j * factor[n : 2 * n], real, factor[2 * n :])
        factor = factor[basis.shape[1] :]
        own, drive, _ = Modal(pair, np.zeros(n, complex), real, np.zeros(len(real))).matrices()
        factor = np.concatenate([np.stack([factor[:n], factor[n : 2 * n]], axis=1).ravel(), factor[2 * n :]])
        found = np.linalg.eigvals(own - np.outer(drive, factor))
        found = np.where(found.real > 0.0, -found.conj(), found)
        flat = np.abs(found.imag) < 1e-9 * np.abs(found)
        poles = np.concatenate([found[(found.imag > 0.0) & ~flat], found[flat].real + 0j])
    raise AssertionError


def _least_squares(columns, target):
    columns = np.concatenate([columns.real, columns.imag])
    size = np.linalg.norm(columns, axis=0)
    return np.linalg.lstsq(columns / size, np.concatenate([target.real, target.imag]), rcond=1e-12)[0] / size


def grows_at(modal: Modal, conductance: float):
    """Eigenvalues of the still reed on the pipe, valve linearised: growth [1/s] and frequency [Hz], two arrays."""
    a, b, c = modal.matrices()
    roots = PER_SECOND * np.linalg.eigvals(a - conductance * np.outer(b, c))
    roots = roots[roots.imag > 0.0]
    return roots.real, roots.imag / (2.0 * np.pi)


def settle(modals, law, mouths, frequencies, starts, settling: float, listening: float):
    """Let several reeds play at once, each on its own pipe, and take down their tones.

    Parameters
    ----------
    modals : list of Modal
    law : callable
        Pressure differences (reeds,) -> flows, in the units of the impedances.
    mouths : array (reeds,)
        Pressures in the bags.
    frequencies : array (reeds,)
        Roughly those of the tones [Hz]; only combs to listen with.
    starts : list of complex array (harmonics,)
        Harmonics of the flows from which the air columns are set going.
    settling, listening : float
        Both [s].

    Returns
    -------
    for each reed: frequency [Hz], amplitude of the fundamental, root mean square of the pressure
    """
    systems = [modal.matrices() for modal in modals]
    sizes = np.array([len(b) for _, b, _ in systems])
    first = np.concatenate([[0], np.cumsum(sizes)[:-1]])
    decay = np.concatenate([np.diag(a) for a, _, _ in systems])
    drive, sense = (np.concatenate([system[i] for system in systems]) for i in (1, 2))
    even = np.concatenate([at + np.arange(0, 2 * len(m.pair), 2) for at, m in zip(first, modals, strict=True)])
    turn = np.concatenate([modal.pair.imag for modal in modals])
    mouths = np.asarray(mouths, float)

    def slope(_, x):
        flow = law(mouths - np.add.reduceat(sense * x, first))
        change = decay * x + drive * np.repeat(flow, sizes)
        change[even] += turn * x[even + 1]
        change[even + 1] -= turn * x[even]
        return change

    begun = []
    for (a, b, _), frequency, start in zip(systems, frequencies, starts, strict=True):
        s = 2j * np.pi * frequency / PER_SECOND * np.arange(1, len(start) + 1)
        each = np.linalg.solve(s[:, None, None] * np.eye(len(b)) - a, np.outer(start, b)[:, :, None])
        begun.append(each.sum(axis=0)[:, 0].real)
    end = (settling + listening) * PER_SECOND
    time = np.linspace(settling * PER_SECOND, end, int(listening * 48000.0))
    run = solve_ivp(
        slope, (0.0, end), np.concatenate(begun), method="RK45", t_eval=time, rtol=1e-5, atol=1e-7, max_step=1.0
    )
    assert run.success
    pressure = np.add.reduceat(sense[:, None] * run.y, first)
    return [listened(time / PER_SECOND, one, frequency) for one, frequency in zip(pressure, frequencies, strict=True)]


def listened(time, pressure, frequency: float):
    """Frequency, amplitude of the fundamental and root mean square of a steady tone near a frequency."""
    half = len(time) // 2
    window = np.hanning(half)
    comb = np.exp(-2j * np.pi * frequency * time)
    early, late = (
        2.0 * np.sum(window * (comb * pressure)[part]) / window.sum() for part in (slice(0, half), slice(-half, None))
    )
    apart = time[-half] - time[0]
    return (
        frequency + np.angle(late / early) / (2.0 * np.pi * apart),
        abs(late),
        np.sqrt(np.sum(window * pressure[-half:] ** 2) / window.sum()),
    )


def raman(gamma: float, law, bounces: int = 600) -> float:
    """Plateau of the two-step tone of a lossless cylinder, by sending a wave to and fro.

    p = out + back and z u = out - back at the reed; what comes back is what went out before, with its sign
    turned.  Pressures in closing pressures, `law` gives flow times the characteristic impedance.
    C. V. Raman's bowed-string tone; J. Kergomard, in *Mechanics of Musical Instruments*, 1995, from memory.
    """
    back = 0.01
    for _ in range(bounces):
        pressure = brentq(lambda p, back=back: p - 2.0 * back - law(gamma - p), back - 3.0, back + 3.0, xtol=1e-10)
        back = back - pressure
    return abs(pressure)
