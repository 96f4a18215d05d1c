"""How near the chart's kernel is to what the machine can do, as ratios of one run, printed; nothing is asserted.

The kernel is what a chart spends its air on: (p, U) at the eye under all fingerings of the demo chanter, from the
slices' numbers, at the frequencies that the polynomial needs.  Against it: the same recursion compiled by numba
(`pip install -e '.[bench]'`, not needed for anything else), a plain Python loop over frequency, fingering and slice,
and a finite-element solve (scikit-fem) of the bare bore at the same frequencies.  Run with OMP_NUM_THREADS=1.
"""

import cmath
import math
import pathlib
import resource
import statistics
import sys
import time
import types

import numpy as np

sys.path.insert(0, str(pathlib.Path(__file__).parents[2]))
import acoustics as ac
from acoustics.physics.ducts import _SPLIT, _loss_tables
from acoustics.physics.network import at_eye, column, foot_state_vector, points_needed, states
from acoustics.physics.spectral import chebyshev_nodes
from acoustics.physics.toneholes import hole_twoports
from acoustics.physics.twoport import fold
from acoustics.tuning.resonances import band, first_target
from acoustics.tuning.setup import Setup
from tests.references import axisymmetric

DESIGN = pathlib.Path(__file__).parents[2] / "notebooks" / "designs" / "sallow-ford-1.toml"
REPEATS = 15


def loss(x, low, high, split):
    """F from the package's own spline tables, one number (see `ducts.loss_function`)."""
    table, at, end = (low, x, split) if x < split else (high, 1.0 / x, 1.0 / split)
    step = end / table.shape[0]
    cell = min(int(at / step), table.shape[0] - 1)
    rest, real, imag = at - cell * step, 0.0, 0.0
    for power in range(table.shape[1]):
        real, imag = real * rest + table[cell, power, 0], imag * rest + table[cell, power, 1]
    return complex(real, imag)


def cosh_and_ratio(square):
    """cosh q and sinh(q)/q of q^2, by the same series as `ducts` for short slices."""
    if abs(square.real) < 0.5 and abs(square.imag) < 0.5:
        cosh = ratio = 1.0 + 0j
        for n in range(14, 0, -2):
            cosh = 1.0 + square * (1.0 / (n * (n - 1))) * cosh
            ratio = 1.0 + square * (1.0 / (n * (n + 1))) * ratio
        return cosh, ratio
    q = cmath.sqrt(square)
    return cmath.cosh(q), cmath.sinh(q) / q


def kernel(length, area, perimeter, step, ends, sides, side_of, feet, foot_of, omega, gas, low, high, split):
    """The recursion, slice by slice: one frequency and pattern after the other, from the foot to the eye.

    Written for numba and for plain Python alike; `sides` are the holes' two-ports, `ends` the end of each run.
    """
    rho, c, viscosity, gamma, root = gas
    runs, patterns, many = len(ends), len(foot_of), len(omega)
    out = np.empty((2, patterns, many), np.complex128)
    z, y, ports = np.empty(2, np.complex128), np.empty(2, np.complex128), np.empty((runs, 4), np.complex128)
    for n in range(many):
        w = omega[n]
        for run in range(runs):
            a, b, g, d = 1.0 + 0j, 0j, 0j, 1.0 + 0j
            start = 0 if run == 0 else ends[run - 1]
            for i in range(start, ends[run]):
                for m in range(2):
                    x = 2.0 * area[m, i] / perimeter[m, i] * math.sqrt(w * rho / viscosity)
                    z[m] = 1j * w * rho / area[m, i] / (1.0 - loss(x, low, high, split))
                    heat = 1.0 + (gamma - 1.0) * loss(x * root, low, high, split)
                    y[m] = 1j * w * area[m, i] / (rho * c * c) * heat
                zl, yl = 0.5 * length[i] * (z[0] + z[1]), 0.5 * length[i] * (y[0] + y[1])
                lean = 0.14433756729740643 * length[i] ** 2 * (z[0] * y[1] - z[1] * y[0])
                cosh, ratio = cosh_and_ratio(lean * lean + zl * yl)
                e, f, h, k = cosh + ratio * lean, ratio * zl, ratio * yl, cosh - ratio * lean
                drop = 1j * rho * step[i] * w
                e, f = e + drop * h, f + drop * k
                a, b, g, d = a * e + b * h, a * f + b * k, g * e + d * h, g * f + d * k
            ports[run, 0], ports[run, 1], ports[run, 2], ports[run, 3] = a, b, g, d
        for j in range(patterns):
            p, u = feet[0, foot_of[j], n], feet[1, foot_of[j], n]
            for run in range(runs - 1, -1, -1):
                p, u = ports[run, 0] * p + ports[run, 1] * u, ports[run, 2] * p + ports[run, 3] * u
                if run > 0:
                    s = side_of[j, run - 1]
                    p, u = sides[0, 0, s, n] * p + sides[0, 1, s, n] * u, sides[1, 0, s, n] * p + sides[1, 1, s, n] * u
            out[0, j, n], out[1, j, n] = p, u
    return out


def seconds(function, repeats=REPEATS) -> float:
    """Median time of one call, after one that is not counted."""
    function()
    spent = []
    for _ in range(repeats):
        start = time.perf_counter()
        function()
        spent.append(time.perf_counter() - start)
    return statistics.median(spent)


def case():
    """The demo chart's column, states, frequencies and gas."""
    setup = Setup(ac.read_design(DESIGN))
    built, gas = column(setup.pipe), setup.air.gas
    chosen = states(built, tuple(dict.fromkeys(f.pattern for f in setup.fingerings)))
    low, high = band([first_target(f, setup.scale) for f in setup.fingerings])
    return setup, built, chosen, chebyshev_nodes(low, high, points_needed(built, high - low, gas)) ** 2, gas


def even(table, cells: int = 128):
    """The same piecewise polynomial on cells of one width, highest power first: (cells, 8, real and imaginary)."""
    left = np.linspace(table.x[0], table.x[-1], cells + 1)[:-1] + 1e-12
    powers = range(len(table.c) - 1, -1, -1)
    values = np.array([(table.derivative(k) if k else table)(left) / math.factorial(k) for k in powers]).T
    return np.ascontiguousarray(np.stack([values.real, values.imag], axis=-1))


def calls(built, chosen, frequency, gas, run):
    """A call of the recursion `run` on this case; holes and feet are made by the package, as in its own kernel."""
    bore, low, high = built.bore, *(even(table) for table in _loss_tables())
    numbers = (gas.density, gas.sound_speed, gas.viscosity, gas.heat_capacity_ratio, float(np.sqrt(gas.prandtl)))
    ends = np.cumsum(bore.counts)

    def call():
        omega = 2 * np.pi * frequency
        feet = np.stack([foot_state_vector(built, foot, omega, gas) for foot in chosen.feet], axis=1)
        chimneys = fold(built.holes.chimneys.each(omega, gas), built.holes.chimneys.counts)
        sides = hole_twoports(built.holes, chosen.hole, chosen.share, chimneys, omega, gas)
        shape = (bore.length, bore.area, bore.perimeter, bore.step, ends, sides, chosen.hole_of, feet, chosen.foot_of)
        return run(*shape, omega, numbers, low, high, _SPLIT)

    return call


def compiled():
    """The recursion compiled by numba and its version, or nothing where numba is not installed."""
    try:
        import numba
    except ImportError:
        return None, ""
    jit = numba.njit(fastmath=True, error_model="numpy")
    names = {"np": np, "math": math, "cmath": cmath, "loss": jit(loss), "cosh_and_ratio": jit(cosh_and_ratio)}
    return jit(types.FunctionType(kernel.__code__, names)), numba.__version__


def bare_bore(built, chosen, frequency, gas):
    """A call of a finite-element solve of the bore without holes, under one fingering."""
    x, area = np.concatenate([[0], np.cumsum(built.bore.length)]), built.bore.area.mean(axis=0)
    radius = np.interp(x, x[:-1] + built.bore.length / 2, np.sqrt(area / np.pi))
    stations = [(float(a), float(b)) for a, b in zip(x, radius, strict=True)]
    return lambda: axisymmetric.input_impedance(stations, frequency, gas.density, gas.sound_speed, 5e-3)


def most_megabytes() -> float:
    """The most memory that this process has had."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1024.0**2 if sys.platform == "darwin" else 1024.0)


def main() -> None:
    setup, built, chosen, frequency, gas = case()
    ours = at_eye(built, chosen, frequency, gas)
    base = seconds(lambda: at_eye(built, chosen, frequency, gas))
    sizes = f"{len(built.bore.length)} slices, {len(built.holes.names)} holes, {len(chosen.foot_of)} fingerings"
    print(f"chart kernel: {sizes}, {len(frequency)} frequencies: {1e3 * base:.2f} ms")
    plain, (fast, version) = calls(built, chosen, frequency, gas, kernel), compiled()
    away = float(np.max(np.abs(plain() / ours - 1)))
    print(
        f"  plain Python loop (the same numbers within {away:.0e}) takes {seconds(plain, 3) / base:.0f} times as long"
    )
    if fast is None:
        print("  compiled recursion: numba is not installed (pip install -e '.[bench]')")
    else:
        limit = calls(built, chosen, frequency, gas, fast)
        away, spent = float(np.max(np.abs(limit() / ours - 1))), seconds(limit)
        print(f"  compiled by numba {version} (within {away:.0e}): {1e3 * spent:.2f} ms")
        print(f"  we take {base / spent:.1f} times as long as the compiled recursion")
    solve = seconds(bare_bore(built, chosen, frequency, gas), 3)
    print(f"  finite elements of the bare bore, one fingering, take {solve / base:.0f} times as long")
    whole = seconds(lambda: ac.tuning_chart(setup.pipe, setup.fingerings, setup.scale, setup.air))
    memory = f"memory at most {most_megabytes():.0f} MB"
    print(f"whole chart: {1e3 * whole:.1f} ms, of which the kernel {base / whole:.0%}; {memory}")


if __name__ == "__main__":
    main()
