"""How long the charts of a whole set take, printed; nothing here is a test.

Run with OMP_NUM_THREADS=1 for one core.  CPU time of this process, so that other work on the machine counts less;
every repeat takes new dimensions, so that nothing is remembered from the one before.
"""

import dataclasses
import pathlib
import statistics
import time

import numpy as np

import acoustics as ac

SET = pathlib.Path(__file__).parents[2] / "notebooks" / "designs" / "sallow-ford-set.toml"
REPEATS = 25


def changed(pipes: ac.PipeSet, rng: np.random.Generator) -> ac.PipeSet:
    """The set with every reed a little longer or shorter."""

    def new(pipe):
        length = pipe.reed.length_mm + rng.uniform(-0.2, 0.2)
        return dataclasses.replace(pipe, reed=dataclasses.replace(pipe.reed, length_mm=length))

    parts = (map(new, pipes.drones), map(new, pipes.regulators))
    return ac.PipeSet(pipes.name, new(pipes.chanter), *map(tuple, parts))


def charts(pipes: ac.PipeSet) -> None:
    """Every chart of a set: the chanter's, the drones' pitches, the regulators'."""
    ac.tuning_chart(pipes.chanter)
    for drone in pipes.drones:
        ac.drone_pitch(drone)
    for regulator in pipes.regulators:
        ac.regulator_chart(regulator)


def spent_ms(pipes: ac.PipeSet) -> float:
    """CPU time of the charts [ms]."""
    start = time.process_time()
    charts(pipes)
    return 1e3 * (time.process_time() - start)


def main() -> None:
    pipes, rng = ac.read_set(SET), np.random.default_rng()
    first = spent_ms(pipes)
    again = [spent_ms(changed(pipes, rng)) for _ in range(REPEATS)]
    said = f"{len(pipes.drones)} drones, {len(pipes.regulators)} regulators and the chanter"
    print(f"charts of {said}, new dimensions each time: {statistics.median(again):.1f} ms of CPU time")
    print(f"the very first in a new process, with its tables: {first:.0f} ms")


if __name__ == "__main__":
    main()
