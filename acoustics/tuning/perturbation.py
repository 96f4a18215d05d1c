"""First-order prediction: what a small change of the bore does to every note, without a new chart."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from ..physics.adjoint import NUDGE
from ..physics.ducts import GAUSS
from ..physics.network import column
from ..pipes.bore import Bore
from ..pipes.chanter import Chanter
from ..units import MM
from .setup import Setup
from .tangent import Tangent

SLICE_MM = 4.0


@dataclass(frozen=True)
class BoreSensitivity:
    """How every note of a chart moves when the bore's diameter changes a little somewhere.

    Parameters
    ----------
    from_top_mm : array (points,)
        Where, from the top of the body [mm].
    diameter_mm : array (points,)
        Of the bore there.
    weight : array (rows, points)
        Cents per relative change of the diameter at a point; the points are those of a quadrature,
        so a change of shape adds up over them.
    span_mm : array (points,)
        Length of bore that each point stands for.
    spot_mm, spot_diameter_mm, spot_weight : arrays (spots,), (spots,), (rows, spots)
        Holes, steps and the foot: where they are, the bore there, and cents per relative change of its
        diameter.  The wall gets thinner, the hole smaller beside its bore, the step higher, the end wider.
    """

    from_top_mm: np.ndarray
    diameter_mm: np.ndarray
    weight: np.ndarray
    span_mm: np.ndarray
    spot_mm: np.ndarray
    spot_diameter_mm: np.ndarray
    spot_weight: np.ndarray

    def shift(self, wider_mm: Callable) -> np.ndarray:
        """Cents of every row for a bore wider by `wider_mm(distance from the top)`, array (rows,)."""
        at_spots = self.spot_weight @ (wider_mm(self.spot_mm) / self.spot_diameter_mm)
        return self.weight @ (wider_mm(self.from_top_mm) / self.diameter_mm) + at_spots

    def per_patch(self, wider_mm: float = 0.1, length_mm: float = 10.0) -> np.ndarray:
        """Cents of every row for a stretch of `length_mm` wider by `wider_mm` at each point, (rows, points)."""
        return self.weight / self.span_mm * length_mm * wider_mm / self.diameter_mm


def bore_sensitivity(setup: Setup, tangent: Tangent | None = None) -> BoreSensitivity:
    """First-order sensitivity of every row of a setup's chart to its bore below the staple.

    Parameters
    ----------
    setup : Setup
    tangent : Tangent, optional
        That of the setup, where one has been made.

    Returns
    -------
    BoreSensitivity

    Raises
    ------
    Refusal
        No setup.

    Notes
    -----
    Rayleigh's principle for a resonance that bore, holes and reed make together: a stretch made wider
    adds compliance where the pressure is high, which flattens, and takes inertance away where the
    flow is high, which sharpens.  Losses at the walls, open holes and the reed are part of it.

    References
    ----------
    Lord Rayleigh, *The Theory of Sound*, vol. II, 1896, section 265; see also `physics.adjoint`.
    """
    tangent = Tangent(setup, SLICE_MM) if tangent is None else tangent
    pipe, built = setup.pipe, tangent.column
    other = column(_wider_everywhere(pipe, NUDGE), like=built)
    at_spots = [
        tangent.holes_toward(other.holes) if built.holes else np.empty((len(setup.chart.rows), 0)),
        tangent.steps_toward(other),
        tangent.foot_toward(other)[:, None],
    ]
    length = built.bore.length / MM
    start = np.cumsum(length) - length
    place = start + GAUSS * length - pipe.path.body_offset_mm
    below = place > pipe.staple.insertion_mm
    round_mm = pipe.bore.diameter_mm(place)
    more_area = 0.5 * np.pi * (round_mm * MM) ** 2 / built.bore.area
    more_perimeter = np.pi * round_mm * MM / built.bore.perimeter
    gradient = tangent.gradient
    weight = more_area[..., None] * gradient["area"] + more_perimeter[..., None] * gradient["perimeter"]
    # a hole has the bore and the wall of where its axis meets the bore's
    on_axis = {side.name: side.path_mm for side in pipe.side_holes}
    holes = np.array([on_axis[name] for name in built.holes.names]) if built.holes else np.empty(0)
    steps = start[np.flatnonzero(built.bore.step)]
    spots = np.concatenate([holes, steps, [pipe.path.edges_mm[-1]]]) - pipe.path.body_offset_mm
    spot_diameter = pipe.bore.diameter_mm(spots)
    return BoreSensitivity(
        from_top_mm=place[below],
        diameter_mm=round_mm[below],
        weight=tangent.cents(weight[below]),
        span_mm=np.broadcast_to(length / 2.0, place.shape)[below],
        spot_mm=spots,
        spot_diameter_mm=spot_diameter,
        spot_weight=np.concatenate(at_spots, axis=1) / NUDGE * spot_diameter,
    )


def _wider_everywhere(pipe: Chanter, by: float) -> Chanter:
    stations = tuple((distance, diameter + by) for distance, diameter in pipe.bore.stations_mm)
    return replace(pipe, bore=Bore(stations))
