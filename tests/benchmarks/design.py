"""What the design study costs on this machine, printed; nothing here is a test.

All derivatives against one cold chart, a search with 20 free dimensions for a planted target, and 10 000 draws of a
workshop's tolerances (1000 with --quick).  Run with OMP_NUM_THREADS=1: the draws share the cores by themselves.
"""

import os
import pathlib
import statistics
import sys
import time
import warnings
from dataclasses import replace

import numpy as np

sys.path.insert(0, str(pathlib.Path(__file__).parents[2]))
from acoustics.tuning.search import search
from acoustics.tuning.sensitivity import sensitivities
from acoustics.tuning.tolerance import tolerance_spread
from tests.tuning.bench import bench
from tests.tuning.test_search import TWENTY, planted
from tests.tuning.test_sensitivity import refined

REPEATS = 25


def fresh(setup, rng):
    """The setup with another staple, its chart not yet made."""
    staple = replace(setup.base.staple, length_mm=setup.base.staple.length_mm + rng.uniform(-1.0, 1.0))
    return replace(setup, base=replace(setup.base, staple=staple))


def seconds(function, *arguments):
    """Of this process on a core, and what was made."""
    start = time.process_time()
    result = function(*arguments)
    return time.process_time() - start, result


def main() -> None:
    warnings.simplefilter("ignore")
    rng, setup = np.random.default_rng(), refined()
    sensitivities(fresh(setup, rng))
    cold, after = [], []
    for _ in range(REPEATS):
        one = fresh(setup, rng)
        cold.append(seconds(lambda one=one: one.chart)[0])
        spent, found = seconds(sensitivities, one)
        after.append(spent)
    ratio = statistics.median(b / a for a, b in zip(cold, after, strict=True))
    rows, dimensions = found.matrix.shape
    print(
        f"{rows} rows by {dimensions} dimensions: {1e3 * statistics.median(after):.0f} ms, a cold chart "
        f"{1e3 * statistics.median(cold):.0f} ms, ratio {ratio:.1f} ({ratio + 1.0:.1f} with the chart itself)"
    )
    for seed in (7, 8, 9):
        hidden = planted(seed, 45.0, 60.0)
        spent, found = seconds(lambda hidden=hidden: search(bench(), TWENTY, target_cents=hidden.chart.cents))
        print(f"search, {len(TWENTY)} dimensions, planted: {spent:.1f} s, worst note {found.worst_cents:.2g} cents")
    draws = 1000 if "--quick" in sys.argv[1:] else 10_000
    start = time.perf_counter()
    spread = tolerance_spread(bench(), draws=draws)
    spent = time.perf_counter() - start
    off = 100.0 * np.max(np.abs(spread.first_order / spread.spread - 1.0))
    print(f"{draws} tolerance draws, {os.cpu_count()} cores: {spent:.1f} s; first order within {off:.1f} %")


if __name__ == "__main__":
    main()
