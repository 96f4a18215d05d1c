"""First-order prediction: what a small change of the bore does to every note, without a new chart."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from ..physics.adjoint import NUDGE, bore_gradient, foot_change, hole_change, step_change, sweep
from ..physics.network import column, eye_spectrum, states
from ..pipes.bore import Bore
from ..pipes.chanter import Chanter
from ..units import MM
from .resonances import Lips, band, first_target
from .setup import Setup

SLICE_MM = 4.0
CENTS = 1200.0 / np.log(2.0)


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


def bore_sensitivity(setup: Setup) -> BoreSensitivity:
    """First-order sensitivity of every row of a setup's chart to its bore below the staple.

    Notes
    -----
    Rayleigh's principle for a resonance that bore, holes and reed make together: a stretch made wider
    adds compliance where the pressure is high, which flattens, and takes inertance away where the
    flow is high, which sharpens.  Losses at the walls, open holes and the reed are part of it.

    References
    ----------
    Lord Rayleigh, *The Theory of Sound*, vol. II, 1896, section 265; see also `physics.adjoint`.
    """
    pipe, gas, rows = setup.pipe, setup.air.gas, setup.chart.rows
    built = column(pipe, SLICE_MM)
    patterns = tuple(dict.fromkeys(row.fingering.pattern for row in rows))
    chosen = states(built, patterns)
    low, high = band([first_target(row.fingering, setup.scale) for row in rows])
    lips = Lips(eye_spectrum(built, chosen, low, high, gas), pipe.head, gas)
    sounding = np.array([i for i, row in enumerate(rows) if row.mode is not None])
    frequency = np.array([rows[i].sounding_hz for i in sounding])
    pattern = np.array([patterns.index(rows[i].fingering.pattern) for i in sounding])
    swept = sweep(built, chosen, pattern, frequency, gas)
    slope = lips.around(frequency, pattern)[1]
    gradient = bore_gradient(built, swept, frequency, gas)
    per_lips = -CENTS / slope.imag
    lips2 = lips.pressure(swept.eye, frequency) ** 2
    other = column(_wider_everywhere(pipe, NUDGE), SLICE_MM)
    at_spots = np.concatenate(
        [
            hole_change(built, other, chosen, pattern, swept, frequency, gas),
            step_change(built, other, swept, frequency, gas),
            foot_change(built, other, chosen, pattern, swept, frequency, gas)[None],
        ]
    )
    length = built.bore.length / MM
    start = np.cumsum(length) - length
    share = 0.5 + np.sqrt(3.0) / 6.0 * np.array([[-1.0], [1.0]])
    place = start + share * length - pipe.path.body_offset_mm
    below = place > pipe.staple.insertion_mm
    round_mm = pipe.bore.diameter_mm(place)
    more_area = 0.5 * np.pi * (round_mm * MM) ** 2 / built.bore.area
    more_perimeter = np.pi * round_mm * MM / built.bore.perimeter
    change = more_area[..., None] * gradient["area"] + more_perimeter[..., None] * gradient["perimeter"]
    cents = per_lips * (change / lips2).imag
    holes = built.holes.place / MM if built.holes else np.empty(0)
    steps = start[np.flatnonzero(built.bore.step)]
    spots = np.concatenate([holes, steps, [pipe.path.edges_mm[-1]]]) - pipe.path.body_offset_mm

    def whole(values):
        out = np.full((len(rows), values.shape[0]), np.nan)
        out[sounding] = values.T
        return out

    return BoreSensitivity(
        from_top_mm=place[below],
        diameter_mm=round_mm[below],
        weight=whole(cents[below]),
        span_mm=np.broadcast_to(length / 2.0, place.shape)[below],
        spot_mm=spots,
        spot_diameter_mm=pipe.bore.diameter_mm(spots),
        spot_weight=whole(per_lips * (at_spots / lips2).imag / NUDGE),
    )


def _wider_everywhere(pipe: Chanter, by: float) -> Chanter:
    stations = tuple((distance, diameter * (1.0 + by)) for distance, diameter in pipe.bore.stations_mm)
    return replace(pipe, bore=Bore(stations))
