"""Speeds and ratios on this machine, printed; nothing here is a test.

Run with OMP_NUM_THREADS=1 for one core.  Every repeat takes new random dimensions, so that nothing
is remembered from the one before.
"""

import dataclasses
import pathlib
import statistics
import sys
import time
import warnings

import numpy as np
import skrf
from skrf.media import DefinedGammaZ0

import acoustics as ac
from acoustics.physics.ducts import SLICE_MM, per_length, uniform
from acoustics.physics.network import column

sys.path.insert(0, str(pathlib.Path(__file__).parents[2]))
from tests.references.network import slice_network

REPEATS = 25


def random_chanter(rng: np.random.Generator) -> ac.Chanter:
    """A chanter of 100 bore stations, 8 finger holes and 4 keys."""
    distance = np.linspace(0.0, 357.0 + rng.uniform(-3, 3), 100)
    bore = np.interp(distance, [0, 12, 20, 357], [7, 5.6, 5.2, 12.9]) + rng.normal(0.0, 0.02, 100)
    fingers = {"back D": 83, "C#": 99, "B": 134, "A": 171, "G": 211, "F#": 239, "E": 272, "Eb": 307}
    keys = {"C natural": 115, "Bb": 147, "G#": 190, "F natural": 250}
    holes = [
        ac.ToneHole(
            name, place + rng.uniform(-1, 1), rng.uniform(4.4, 5.4), face="back" if name == "back D" else "front"
        )
        for name, place in fingers.items()
    ]
    holes += [ac.Key(name, place + rng.uniform(-1, 1), 5.0, duct=((2.5, 5.0),)) for name, place in keys.items()]
    staple = ac.Staple(rng.uniform(50, 56), 4.4, 3.1, 15.0, 1.7, 26.0)
    body = ac.Body(((0, 17.0), (distance[-1], 23.0)))
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

    frequency = np.linspace(150.0, 2000.0, 1000)
    ours = median_ms(lambda pipe: ac.input_impedance(pipe, frequency, ("A", "G"), "shut", air), chanters)
    slices = column(chanters[0]).bore
    omega = 2.0 * np.pi * frequency
    n = len(slices.length)
    middle = per_length(slices.area.mean(axis=0), slices.perimeter.mean(axis=0), omega, air.gas)
    twoports = uniform(slices.length[:, None], *middle)
    gamma, own = np.sqrt(middle[0] * middle[1]), np.sqrt(middle[0] / middle[1])
    axis = skrf.Frequency.from_f(frequency, unit="hz")

    def lines(_):
        media = (DefinedGammaZ0(axis, z0_port=1e7, z0=own[i], gamma=gamma[i]) for i in range(n))
        return [medium.line(length, unit="m") for medium, length in zip(media, slices.length, strict=True)]

    def tables(_):
        return [slice_network(*twoports[:, :, i].reshape(4, -1), frequency, 1e7) for i in range(n)]

    made = tables(0)
    cascade = median_ms(lambda _: skrf.network.cascade_list(made), range(5))
    print(f"input impedance, 1000 frequencies, holes and ends, from dimensions: {ours:.1f} ms")
    print(f"scikit-rf {skrf.__version__}, the bore alone, the same {n} slices (at most {SLICE_MM:g} mm):")
    for what, spent in (
        ("slices as its own lines, and cascade", median_ms(lines, range(3)) + cascade),
        ("slices as ready tables of A, B, C, D, and cascade", median_ms(tables, range(5)) + cascade),
        ("cascade alone", cascade),
    ):
        print(f"  {what}: {spent:.0f} ms, ratio {spent / ours:.0f}")


if __name__ == "__main__":
    main()
