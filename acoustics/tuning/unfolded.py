"""How much shorter a folded drone sounds than its centre line says: beside the same drone made straight."""

from __future__ import annotations

from dataclasses import dataclass, replace

from scipy.optimize import brentq

from ..errors import Refusal
from ..physics.air import Air, Gas
from ..pipes.drone import Drone
from ..pipes.stretches import Bend, Bridge, Straight, Stretch
from ..units import cents
from .drones import drone_pitch
from .scales import Scale


def centreline_mm(stretch: Stretch) -> float:
    """Length of a stretch along the middle of its tube; of a bridge from where the passage begins, round its axis."""
    return stretch.spacing_mm + stretch.diameter_mm if isinstance(stretch, Bridge) else stretch.length_mm


def straightened(drone: Drone) -> Drone:
    """The drone with a straight tube as long as the centre line in place of every bend and bridge."""
    stretches = [
        Straight(centreline_mm(one), one.diameter_mm, "brass") if isinstance(one, Bend | Bridge) else one
        for one in drone.stretches
    ]
    return replace(drone, stretches=stretches)


@dataclass(frozen=True)
class Shorter:
    """What the turns of a drone do to its pitch.

    Parameters
    ----------
    centreline_mm : float
        Of the whole drone from the reed's end, without a chamber [mm].
    sharper_cents : float
        How much sharper it sounds than its centre line made straight; negative is flatter.
    shorter_mm : float
        What has to be cut off the straight one's end for the same pitch [mm].
    """

    centreline_mm: float
    sharper_cents: float
    shorter_mm: float


def sounds_shorter(drone: Drone, air: Air | Gas | None = None, scale: Scale | None = None) -> Shorter:
    """`Shorter` of a drone; a `Refusal` when its last stretch is too short to cut as much off."""
    straight = straightened(drone)
    *others, last = straight.stretches
    folded = drone_pitch(drone, air, scale).frequency

    def flat(cut: float) -> float:
        one = replace(straight, stretches=[*others, replace(last, length_mm=last.length_mm - cut)])
        return float(cents(folded, drone_pitch(one, air, scale).frequency))

    sharper, most = flat(0.0), min(last.length_mm - 0.5, 60.0)
    if flat(most) > 0.0:
        allowed = f"turns that take less than {most:.1f} mm are needed"
        raise Refusal("the last stretch is too short to compare with", allowed, drone.name)
    length = sum(centreline_mm(one) for one in drone.stretches)
    return Shorter(length, sharper, float(brentq(flat, -60.0, most, xtol=1e-5)))
