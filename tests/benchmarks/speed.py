"""Speeds and ratios on this machine, printed; nothing here is a test.

Run with OMP_NUM_THREADS=1 for one core.  Every repeat takes new random dimensions, so that nothing
is remembered from the one before.
"""

import dataclasses
import statistics
import time
import warnings

import numpy as np

import acoustics as ac
from acoustics.physics.ducts import SLICE_MM
from acoustics.physics.network import column
from tests.references.network import input_impedance_of_slices

REPEATS = 25


def random_chanter(rng: np.random.Generator) -> ac.Chanter:
    """A chanter of 100 bore stations, 8 finger holes and 4 keys."""
    distance = np.linspace(0.0, 357.0 + rng.uniform(-3, 3), 100)
    bore = np.interp(distance, [0, 12, 20, 357], [7, 5.6, 5.2, 12.9]) + rng.normal(0.0, 0.02, 100)
    fingers = {"back D": 83, "C#": 99, "B": 134, "A": 171, "G": 211, "F#": 239, "E": 272, "Eb": 307}
    keys = {"C natural": 115, "Bb": 147, "G#": 190, "F natural": 250}
    holes = [
        ac.ToneHole(name, place + rng.uniform(-1, 1), rng.uniform(4.4, 5.4), face="back" if name == "back D" else "front")
        for name, place in fingers.items()
    ]
    holes += [ac.Key(name, place + rng.uniform(-1, 1), 5.0, duct=((2.5, 5.0),)) for name, place in keys.items()]
    staple = ac.Staple(rng.uniform(50, 56), 4.4, 3.1, 15.0, 1.7, 26.0)
    body = ac.Body(((0, 17.0), (360, 23.0)))
    return ac.Chanter("random", ac.Reed(29, 10), staple, ac.Bore(list(zip(distance, bore, strict=True))), holes, body)


def median_ms(function, arguments) -> float:
    """Median time of `function` over prepared arguments [ms]."""
    spent = []
    for argument in arguments:
        start = time.perf_counter()
        function(argument)
        spent.append(time.perf_counter() - start)
    return 1e3 * statistics.median(spent)


def main() -> None:
    warnings.simplefilter("ignore")
    rng = np.random.default_rng()
    air = ac.Air()
    chanters = [random_chanter(rng) for _ in range(REPEATS)]
    ac.tuning_chart(random_chanter(rng))
    cold = median_ms(ac.tuning_chart, chanters)
    stepped = [
        dataclasses.replace(chanters[0], staple=dataclasses.replace(chanters[0].staple, insertion_mm=15.0 + 0.1 * i))
        for i in range(REPEATS)
    ]
    warm = median_ms(ac.tuning_chart, stepped)
    print(f"whole chart, new dimensions each time: {cold:.1f} ms; after one slider step: {warm:.1f} ms")

    frequency = np.linspace(100.0, 3000.0, 1000)
    ours = median_ms(lambda pipe: ac.input_impedance(pipe, frequency, ("A", "G"), "shut", air), chanters)
    slices = column(chanters[0]).bore
    omega = 2.0 * np.pi * frequency
    with_one = slices.each(omega, air.gas)
    theirs = median_ms(lambda _: input_impedance_of_slices(with_one, frequency), range(3))
    n = len(slices.length)
    print(f"input impedance, 1000 frequencies, holes and ends: {ours:.1f} ms")
    print(f"scikit-rf, bore alone, the same {n} slices (at most {SLICE_MM:g} mm), cascade only: {theirs:.0f} ms")
    print(f"ratio: {theirs / ours:.0f}")


if __name__ == "__main__":
    main()
