"""Gauge the invented workshop's new chanter and store it: python -m tests.bench.make_demo.

The truth stays here: the bore is the design of Sallow Ford 1 with waves of the reamer, cut too far on one stretch
and left narrow on another.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from acoustics.pipes.bore import Bore
from acoustics.pipes.design_file import read_design
from tests.bench.gauging import bore_of, fade, fine, gauged, waves

DESIGNS = Path(__file__).parents[2] / "notebooks" / "designs"
STORED = DESIGNS / "sallow-ford-1-as-cut.csv"
OVER_MM, OVER_FROM, OVER_TO = 0.08, 150.0, 190.0
LEFT_MM, LEFT_FROM, LEFT_TO = 0.07, 285.0, 330.0
FADES_MM, SEED = 12.0, 7
HEAD = """# form: bore measurement
# version: 1
# unit: mm
# length: {length:g}
# Sallow Ford 1 after its first reaming, an invented chanter; gauges 0.1 apart up to 10 mm and 0.2 above
gauge,depth,from
"""


def truth() -> Bore:
    """The bore that the gauges were pushed into."""
    design = read_design(DESIGNS / "sallow-ford-1.toml").bore
    x = fine(design.length_mm)
    off = OVER_MM * fade(x, OVER_FROM, OVER_TO, FADES_MM) - LEFT_MM * fade(x, LEFT_FROM, LEFT_TO, FADES_MM)
    return bore_of(x, design.diameter_mm(x) + off + waves(np.random.default_rng(SEED), x, 150.0, 30.0, 0.01, 4))


def text() -> str:
    """The maker's table."""
    found = gauged(truth(), np.random.default_rng(SEED + 1), coarse_above=10.0)
    rows = [f"{r.gauge_mm:.1f},{r.depth_mm:.1f},{r.end}" for r in found.readings]
    rows += [f"{r.gauge_mm:.1f},through,{r.end}" for r in found.through]
    return HEAD.format(length=found.length_mm) + "\n".join(rows) + "\n"


if __name__ == "__main__":
    STORED.write_text(text(), encoding="utf-8")
    print(f"{STORED.name}: {text().count(chr(10))} lines")
