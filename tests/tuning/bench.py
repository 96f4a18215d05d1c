"""The invented workshop's chanter on the bench; for tests only."""

from functools import cache
from pathlib import Path

import numpy as np

from acoustics.pipes.bore import Body, Bore
from acoustics.pipes.chanter import Chanter
from acoustics.pipes.design_file import read_design
from acoustics.pipes.reed import Reed
from acoustics.pipes.regulator import Regulator
from acoustics.pipes.staple import Staple
from acoustics.tuning.resonances import find_modes, lips
from acoustics.tuning.setup import Setup
from acoustics.units import cents
from tests.physics.simple import LOSSLESS
from tests.references import cone_roots

DESIGNS = Path(__file__).parents[2] / "notebooks" / "designs"
DESIGN = Path(__file__).parents[1] / "designs" / "fixed.toml"  # stays as it is when the demo is tuned anew


@cache
def demo() -> Chanter:
    """Sallow Ford 1 as it once was."""
    return read_design(DESIGN)


@cache
def bench() -> Setup:
    """Its setup before any dial is turned; frozen, so that it may be shared."""
    return Setup(demo())


def stopped_cone_apart(eye_mm: float, foot_mm: float, length_mm: float, head_mm: float) -> float:
    """Largest distance [cents] of a regulator's modes below 1.5 kHz from the closed form.

    Staple and bore are one cone, the head is rigid and as wide as the eye, there is no key and no loss.
    """
    staple = 40.0
    at_foot = eye_mm + (foot_mm - eye_mm) * staple / length_mm
    bore, body = Bore([(0.0, at_foot), (length_mm - staple, foot_mm)]), Body([(0.0, 60.0), (length_mm - staple, 60.0)])
    head = Reed(head_mm, np.pi / 4 * eye_mm**2, softness=0.0)
    pipe = Regulator("cone", head, Staple(staple, at_foot, eye_mm, 0.0), bore, (), body)
    with np.errstate(divide="ignore"):  # nothing is lost, so that Q has no end
        modes = find_modes(lips(pipe, [((), "shut")], 40.0, 1550.0, LOSSLESS), 40.0, 1550.0)[0]
    found = np.array([mode.frequency for mode in modes])
    x1, x2 = cone_roots.apex_distances(eye_mm * 5e-4, foot_mm * 5e-4, length_mm * 1e-3)
    exact = cone_roots.head_closed(x1, x2, head_mm * 1e-3, LOSSLESS.sound_speed, 1500.0)
    return float(np.max(np.min(np.abs(cents(found, exact[exact > 50.0, None])), axis=1)))
