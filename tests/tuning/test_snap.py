"""Hole sizes of a drill list: against every combination, within the list and the limits, and what is refused."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from acoustics.errors import Refusal
from acoustics.shop.drills import METRIC
from acoustics.tuning.dials import DIALS, hole_dials
from acoustics.tuning.free import turned
from acoustics.tuning.search import search
from acoustics.tuning.snap import is_size, snap
from tests.pipes.sample import assert_one_sentence
from tests.tuning.bench import bench
from tests.tuning.changes import with_part
from tests.tuning.test_search import HOLES, rms

BENCH = bench()
# wider limits than those of a dial, so that every size next to what is found can be drilled
SIZES = {f"{name} size": replace(HOLES[f"{name} size"], high=9.0) for name in ("B", "G", "E")}
FEW = SIZES | {"G position": HOLES["G position"], "staple tip": DIALS["staple tip"]}
COARSE = np.arange(3.0, 12.0, 0.5)


def test_against_every_combination():
    """Three holes, half a millimetre from drill to drill: within a tenth of a cent of the best of all eight."""
    free = search(BENCH, FEW)
    made = snap(free.setup, FEW, COARSE)
    rest = {name: dial for name, dial in FEW.items() if not is_size(dial)}
    around = []
    for dial in SIZES.values():
        value = dial.read(free.setup)
        around.append([max(s for s in COARSE if s <= value), min(s for s in COARSE if s > value)])
    every = [search(turned(free.setup, dict(zip(SIZES.values(), two, strict=True))), rest) for two in product(*around)]
    reached = [found.rms_cents for found in every]
    print(f"snapped {made.found.rms_cents:.3f}, every combination {sorted(round(r, 3) for r in reached)}")
    assert made.found.rms_cents < min(reached) + 0.1
    assert max(reached) > min(reached) + 0.3
    assert made.before_rms == free.rms_cents
    assert made.cost_cents == made.found.rms_cents - free.rms_cents > 0.0


def test_sizes_stand_in_the_list():
    """The shop's metric drills: every size is one of them, between the limits, and the rest keeps its own."""
    free = search(BENCH, FEW)
    made = snap(free.setup, FEW, [drill.mm for drill in METRIC])
    for dial in SIZES.values():
        size = dial.read(made.found.setup)
        assert size in {drill.mm for drill in METRIC}
        assert dial.low <= size <= dial.high
        assert made.sizes_mm[dial.label] == size
        assert abs(size - dial.read(free.setup)) < 0.11
    assert made.found.rms_cents == pytest.approx(rms(made.found.chart.cents), abs=1e-9)
    assert 0.0 < made.cost_cents < 0.5
    assert f"{made.found.rms_cents:.1f} cents rms" in repr(made)
    assert repr(made) in made._repr_html_()


def test_undercuts_make_up_for_a_drill():
    """A size held, its undercut free: no worse than without."""
    dials = {"A size": HOLES["A size"], "B position": HOLES["B position"]}
    plain = snap(BENCH, dials, COARSE)
    cut = snap(BENCH, dials | {"A undercut": hole_dials(BENCH, "A")["undercut"]}, COARSE)
    assert cut.found.rms_cents < plain.found.rms_cents + 1e-6


def test_sizes_alone():
    """Nothing else free: the nearest, or the other side where that is better."""
    made = snap(BENCH, SIZES, COARSE)
    values = [
        [s for s in COARSE if abs(s - dial.read(BENCH)) < 0.5 and dial.low <= s <= dial.high] for dial in SIZES.values()
    ]
    best = min(rms(turned(BENCH, dict(zip(SIZES.values(), v, strict=True))).chart.cents) for v in product(*values))
    assert made.found.rms_cents == pytest.approx(best, abs=0.3)


def test_silent_notes_are_named():
    """Nothing but a size turned, of a chanter with silent notes: before and after count the rows that sound."""
    setup = with_part(BENCH, "reed", resonance_hz=-300.0)
    made = snap(setup, {"G size": SIZES["G size"]}, COARSE)
    cents = made.found.chart.cents
    assert made.found.silent == tuple(row.title for row in made.found.chart.rows if row.mode is None)
    assert made.found.rms_cents == pytest.approx(rms(cents[np.isfinite(cents)]))
    assert made.before_rms == pytest.approx(rms(setup.chart.cents[np.isfinite(setup.chart.cents)]))
    assert repr(made).endswith(f" Silent: {'; '.join(made.found.silent)}.")
    assert made.found.silent


def test_stopped():
    seen = []
    made = snap(BENCH, FEW, COARSE, progress=lambda *said: seen.append(said) or len(seen) == 3)
    assert made.found.stopped
    assert len(seen) == 3
    for name, dial in SIZES.items():
        nearest = COARSE[np.argmin(np.abs(COARSE - dial.read(BENCH)))]
        assert made.sizes_mm[dial.label] == nearest, name


@pytest.mark.parametrize(
    ("dials", "sizes", "start"),
    [
        (FEW, [], "drill sizes: there is no drill in the list"),
        (FEW, [5.0, float("nan")], "drill sizes: nan is not a finite number"),
        (FEW, ["5"], "drill sizes: '5' is not a number"),
        ({"staple tip": DIALS["staple tip"]}, [5.0], "snap: no hole's size is free"),
        ({"G size": replace(SIZES["G size"], low=5.1)}, [5.0, 9.5], "G: size: no drill of the list lies between"),
    ],
)
def test_refused_in_one_sentence(dials, sizes, start):
    with pytest.raises(Refusal) as refused:
        snap(BENCH, dials, sizes)
    assert_one_sentence(refused.value, start)
