"""What everything costs beside what else could do it, as ratios of one run: python tests/benchmarks/all.py [--long].

Five tasks: a chart, all its derivatives, a search, tolerance draws, a step of the panel.  Beside each stands the air
alone of as many charts as the plainest way needs (one more for each derivative), at the frequencies of our own chart:
as scikit-rf networks, in a plain Python loop, compiled by numba, and by finite elements of the bare bore under one
fingering.  CPU time of this process, so that other work on the machine counts less; nothing is asserted.
"""

import os
import pathlib
import statistics
import sys
import time
import tracemalloc
import warnings
from dataclasses import dataclass, replace
from unittest.mock import patch

os.environ.setdefault("OMP_NUM_THREADS", "1")
sys.path.insert(0, str(pathlib.Path(__file__).parents[2]))

import numpy as np

from acoustics.physics.network import at_eye, foot_state_vector
from acoustics.physics.toneholes import hole_twoports
from acoustics.physics.twoport import fold
from acoustics.tuning import search, setup
from acoustics.tuning.sensitivity import sensitivities
from acoustics.tuning.tolerance import tolerance_spread
from acoustics.view.board import Board
from acoustics.view.table import Table
from tests.benchmarks import limits
from tests.benchmarks.design import fresh
from tests.references.network import cascade_input_impedance
from tests.tuning.bench import bench
from tests.tuning.test_search import TWENTY, planted
from tests.tuning.test_sensitivity import refined

LONG = "--long" in sys.argv[1:]
REPEATS, DRAWS = (25, 10_000) if LONG else (7, 300)


@dataclass(frozen=True)
class Cost:
    """Median CPU time [ms], most memory asked for at once [MB], and how many charts the plainest way needs."""

    ms: float
    megabytes: float
    charts: int = 1


def cost(prepare, run, repeats: int, charts: int = 1) -> Cost:
    """What `run(prepare())` costs; the first call is not counted, and memory is taken in a call of its own."""
    run(prepare())
    spent = []
    for _ in range(repeats):
        given = prepare()
        start = time.process_time()
        run(given)
        spent.append(time.process_time() - start)
    given = prepare()
    tracemalloc.start()
    run(given)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return Cost(1e3 * statistics.median(spent), peak / 1e6, charts)


def charted(one):
    """The setup with its chart made."""
    one.chart  # noqa: B018
    return one


def plainest(run) -> int:
    """Charts of a search whose every Jacobian were made by differences."""
    chart, jacobian = setup.tuning_chart, search._Problem.jacobian
    with (
        patch.object(setup, "tuning_chart", wraps=chart) as charts,
        patch.object(search._Problem, "jacobian", autospec=True, side_effect=jacobian) as jacobians,
    ):
        run()
    return charts.call_count + len(TWENTY) * jacobians.call_count


def tasks() -> dict[str, Cost]:
    """Our own five."""
    rng, many, start = np.random.default_rng(), refined(), bench()
    dimensions = sensitivities(charted(many)).matrix.shape[1]
    target = planted(7, 45.0, 60.0).chart.cents

    def find(_=None):
        return search.search(replace(start), TWENTY, target_cents=target)

    def step(one):
        board.png(charted(one), start)

    board = Board(start)
    one_chart = cost(lambda: fresh(start, rng), charted, REPEATS)
    return {
        "chart": one_chart,
        f"derivatives, {dimensions}": cost(lambda: charted(fresh(many, rng)), sensitivities, REPEATS, dimensions),
        f"search, {len(TWENTY)} dimensions": cost(lambda: None, find, 1, plainest(find)),
        f"tolerance draws, {DRAWS}": cost(
            lambda: start, lambda s: tolerance_spread(s, draws=DRAWS, workers=1), 1, DRAWS
        ),
        "panel step": cost(lambda: fresh(start, rng), step, REPEATS),
    }


def networks(built, chosen, frequency, gas) -> np.ndarray:
    """Impedance at the eye under every fingering by scikit-rf, (patterns, f); the slices' numbers are ours."""
    omega = 2 * np.pi * frequency
    bore = built.bore.each(omega, gas)
    chimneys = fold(built.holes.chimneys.each(omega, gas), built.holes.chimneys.counts)
    sides = hole_twoports(built.holes, chosen.hole, chosen.share, chimneys, omega, gas)
    out = []
    for holes, foot in zip(chosen.hole_of, chosen.foot_of, strict=True):
        parts = np.insert(bore, np.cumsum(built.bore.counts)[:-1], sides[:, :, holes], axis=2)
        pressure, flow = foot_state_vector(built, chosen.feet[foot], omega, gas)
        load = np.divide(pressure, flow, out=np.full(omega.shape, np.inf, complex), where=flow != 0)
        out.append(cascade_input_impedance(*parts.reshape(4, -1, len(omega)), load, frequency, 1e7))
    return np.array(out)


def kernels() -> tuple[Cost, dict[str, Cost]]:
    """The air of one chart: our own, and the others'; each must give the same numbers."""
    _, built, chosen, frequency, gas = case = limits.case()
    ours = at_eye(built, chosen, frequency, gas)
    fast, version = limits.compiled()
    ways = {
        "scikit-rf": lambda _: networks(built, chosen, frequency, gas),
        "Python loop": lambda _: limits.calls(built, chosen, frequency, gas, limits.kernel)(),
        "finite elements": lambda _: limits.bare_bore(*case[1:])(),
    }
    if fast is None:
        print("numba is not installed, so the compiled limit is left out: pip install -e '.[bench]'")
    else:
        call = limits.calls(built, chosen, frequency, gas, fast)
        ways[f"numba {version}"] = lambda _: call()
    impedance = ours[0] / ours[1]
    for name, way in ways.items():
        if name != "finite elements":
            theirs = way(None)
            theirs = theirs if theirs.ndim == 2 else theirs[0] / theirs[1]
            print(f"{name}: the same impedances within {np.max(np.abs(theirs / impedance - 1)):.0e}")
    own = cost(lambda: None, lambda _: at_eye(built, chosen, frequency, gas), REPEATS)
    return own, {name: cost(lambda: None, way, REPEATS if "numba" in name else 1) for name, way in ways.items()}


def main() -> None:
    warnings.simplefilter("ignore")
    own, others = kernels()
    found = {"air of one chart": own, **tasks()}
    rows = []
    for name, one in found.items():
        times = [f"{one.charts * other.ms / one.ms:.3g}" for other in others.values()]
        rows.append((name, f"{one.ms:.3g}", f"{one.megabytes:.1f}", f"{one.charts}", *times))
    beside = [f"{name}, times as long" for name in others]
    print("beside each task the air alone of so many charts, over the whole task; below 1 the other is faster:")
    print(Table(("task", "CPU ms", "MB", "charts", *beside), tuple(rows)))
    print("memory for the air of one chart, MB:", ", ".join(f"{n} {c.megabytes:.1f}" for n, c in others.items()))
    print(f"the whole process: {limits.most_megabytes():.0f} MB at most")


if __name__ == "__main__":
    main()
