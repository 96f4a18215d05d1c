"""Gauge the invented workshop's chanters and store the tables: python -m tests.bench.make_demo.

The truth stays here.  One bore is the design of Sallow Ford 1 with waves of the reamer, a little oval; the other was
cut too far on one stretch and left narrow on another.
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
GOOD, GOOD_SEED, OVAL_MM, CAREFUL_MM = DESIGNS / "sallow-ford-1-bore.csv", 1, 0.02, 0.25
GOOD_HEAD = """# form: bore measurement
# version: 1
# unit: mm
# length: {length:g}
# Sallow Ford 1 as reamed, an invented chanter; gauges 0.1 apart up to 10 mm and 0.2 above, depths read to 0.5 mm
gauge,depth,from,probe
"""
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


def good_text() -> str:
    """The table of the chanter that came out well, round and oval."""
    design = read_design(DESIGNS / "sallow-ford-1.toml").bore
    x, rng = fine(design.length_mm), np.random.default_rng(GOOD_SEED)
    size = design.diameter_mm(x) + waves(rng, x, 150.0, 30.0, 0.015, 4)
    wide = bore_of(x, size + OVAL_MM)
    found = gauged(bore_of(x, size), rng, depth_sigma=CAREFUL_MM, coarse_above=10.0, wide=wide)
    rows = [f"{r.gauge_mm:.1f},{r.depth_mm:.1f},{r.end},{r.probe}" for r in found.readings]
    return GOOD_HEAD.format(length=found.length_mm) + "\n".join(rows) + "\n"


if __name__ == "__main__":
    for file, table in ((STORED, text()), (GOOD, good_text())):
        file.write_text(table, encoding="utf-8")
        print(f"{file.name}: {table.count(chr(10))} lines")
