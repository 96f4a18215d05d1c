"""The invented workshop's chanter on the bench; for tests only."""

from functools import cache
from pathlib import Path

from acoustics.pipes.chanter import Chanter
from acoustics.pipes.design_file import read_design
from acoustics.tuning.setup import Setup

DESIGN = Path(__file__).parents[2] / "notebooks" / "designs" / "sallow-ford-1.toml"


@cache
def demo() -> Chanter:
    """Sallow Ford 1, as in the notebooks."""
    return read_design(DESIGN)


@cache
def bench() -> Setup:
    """Its setup before any dial is turned; frozen, so that it may be shared."""
    return Setup(demo())
