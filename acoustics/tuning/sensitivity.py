"""What moves what: every note's cents in both octaves for every dimension a maker can touch."""

from __future__ import annotations

import warnings
from dataclasses import dataclass, replace

import numpy as np

from ..errors import Refusal
from ..physics.ducts import Slices
from ..physics.network import Unlike, recut
from ..physics.toneholes import in_order
from ..pipes.chanter import Chanter, air_path
from ..pipes.holes import Key, ToneHole
from ..pipes.path import SideHole
from ..pipes.staple import Staple
from ..units import MM
from ..validity import OutsideRange
from .perturbation import bore_sensitivity
from .setup import Setup
from .tangent import Tangent

NUDGE, CHARTED = 1e-5, 1e-4
_REED = (("length_mm", "mm"), ("area_mm2", "mm²"), ("softness", "0.1"), ("resonance_hz", "10 Hz"))
_AIR = (("temperature_c", "°C", 1e-3, 40.0), ("relative_humidity", "10 %", 1e-4, 0.5))
_PER = {"0.1": 0.1, "10 Hz": 10.0, "10 %": 0.1, "10 % humidity": 0.1}
_STAPLE = ("length_mm", "foot_mm", "tip_mm", "insertion_mm", "eye_opening_mm", "flattened_mm")
_HOLE = ("position_mm", "diameter_mm", "depth_mm", "undercut_diameter_mm", "undercut_depth_mm")
_KEY = ("position_mm", "diameter_mm", "depth_mm", "lift_mm", "pad_diameter_mm")


@dataclass(frozen=True, repr=False)
class Sensitivity:
    """Derivatives of a chart.

    Parameters
    ----------
    notes : tuple of str
        Titles of the chart's rows.
    dimensions : tuple of str
        What is changed, as "staple foot", "bore at 121 mm", "A size".
    units : tuple of str
        Unit of each dimension: the matrix is per mm, or per the amount that stands here.
    matrix : array (rows, dimensions)
        Cents per unit; nan in rows that do not sound.
    """

    notes: tuple[str, ...]
    dimensions: tuple[str, ...]
    units: tuple[str, ...]
    matrix: np.ndarray

    def of(self, dimension: str) -> np.ndarray:
        """Cents of every row per unit of a dimension, or a `Refusal`."""
        if dimension not in self.dimensions:
            raise Refusal(
                f'there is no dimension "{dimension}"', f"one of {len(self.dimensions)} is allowed", "dimension"
            )
        return self.matrix[:, self.dimensions.index(dimension)]

    def __repr__(self) -> str:
        return f"{len(self.dimensions)} dimensions by {len(self.notes)} notes"


def sensitivities(setup: Setup) -> Sensitivity:
    """First derivatives of every sounding note's cents, from one sweep through the air column.

    Parameters
    ----------
    setup : Setup

    Returns
    -------
    Sensitivity

    Raises
    ------
    Refusal
        No setup, or a staple of which a dimension can be neither raised nor lowered.

    Notes
    -----
    The acoustics is differentiated by the adjoint method (see `physics.adjoint`); only the geometry,
    which costs next to nothing, is stepped by `NUDGE`.
    """
    tangent = Tangent(setup)
    names, units, columns = [], [], []

    def add(name, unit, values):
        names.append(name)
        units.append(unit)
        columns.append(values)

    with warnings.catch_warnings():
        warnings.simplefilter("ignore", OutsideRange)
        for field, unit in _REED:
            changed, by = _nudged(setup.pipe.reed, field)
            add(f"reed {_words(field)}", unit, tangent.reed_toward(changed) / by * _PER.get(unit, 1.0))
        for field in _STAPLE:
            if getattr(setup.pipe.staple, field) is not None:
                add(f"staple {_words(field)}", "mm", _staple(tangent, field))
        _add_bore(add, setup, tangent)
        _add_holes(add, setup, tangent)
        for field, unit, step, middle in _AIR:
            value = getattr(setup.air, field)
            by = step if value < middle else -step  # inwards, from wherever it stands
            air = replace(setup.air, **{field: value + by})
            add(_words(field), unit, tangent.gas_toward(air.gas) / by * _PER.get(unit, 1.0))
    notes = tuple(row.title for row in setup.chart.rows)
    return Sensitivity(notes, tuple(names), tuple(units), np.stack(columns, axis=1))


def _words(field: str) -> str:
    for ending in ("_mm2", "_mm", "_hz", "_c"):
        field = field.removesuffix(ending)
    return {"diameter": "size", "depth": "wall"}.get(field, field.replace("_", " "))


def _nudged(part, field: str):
    """The part with one field a little larger, and by how much."""
    value = getattr(part, field)
    by = 0.1 * NUDGE * max(abs(value), 0.1)
    return replace(part, **{field: value + by}), by


def _staple(tangent: Tangent, field: str):
    staple = tangent.pipe.staple
    value = getattr(staple, field)
    for by in (NUDGE * value, -NUDGE * value):
        try:
            return tangent.bore_toward(_bore_below(tangent, replace(staple, **{field: value + by}))) / by
        except (Refusal, Unlike):
            continue
    return _one_sided(tangent, field, value)


def _bore_below(tangent: Tangent, staple: Staple) -> Slices:
    """The slices of the tangent's pipe with another staple, which moves the holes along the path."""
    path = air_path(staple, tangent.pipe.bore, tangent.pipe.rush)
    moved = path.body_offset_mm - tangent.pipe.path.body_offset_mm
    cuts = tangent.column.holes.place / MM + moved if tangent.column.holes else np.empty(0)
    return recut(path, cuts, tangent.column)


def _one_sided(tangent: Tangent, field: str, value: float):
    """The same from full charts on the side that can be built: a staple pressed over its whole length gets one
    more stretch when it is pressed less far."""
    setup, base = tangent.setup, tangent.setup.base
    for by in (CHARTED * value, -CHARTED * value):
        try:
            far, near = (
                replace(setup, base=replace(base, staple=replace(base.staple, **{field: value + step}))).chart.cents
                for step in (by, 0.5 * by)
            )
        except Refusal:
            continue
        return (4.0 * near - far - 3.0 * setup.chart.cents) / by
    raise Refusal(
        f"the staple's {_words(field)} can be neither raised nor lowered", "room for a change is needed", "staple"
    )


def _add_bore(add, setup: Setup, tangent: Tangent) -> None:
    bore, below = bore_sensitivity(setup, tangent), setup.pipe.staple.insertion_mm
    unique = np.unique(setup.pipe.bore.table_mm[0])
    by_points = bore.weight / bore.diameter_mm @ _shares(bore.from_top_mm, unique)
    by_spots = bore.spot_weight / bore.spot_diameter_mm @ _shares(bore.spot_mm, unique)
    for i, place in enumerate(unique):
        if place >= below or (i + 1 < len(unique) and unique[i + 1] > below):
            add(f"bore at {place:g} mm", "mm", (by_points + by_spots)[:, i])


def _shares(places, stations):
    """How much each station, wider by 1, widens the bore at each place, (places, stations)."""
    at = np.interp(places, stations, np.arange(len(stations)))
    return np.maximum(0.0, 1.0 - np.abs(at[:, None] - np.arange(len(stations))))


def _add_holes(add, setup: Setup, tangent: Tangent) -> None:
    """All holes are changed at once, one field after the other: what one hole does is its own."""
    pipe, mine = setup.pipe, tangent.column.holes
    if mine is None:
        return
    ordered = sorted(pipe.side_holes, key=lambda side: mine.names.index(side.name))
    fields = [field for field in dict.fromkeys((*_HOLE, *_KEY)) if any(_has(side.hole, field) for side in ordered)]
    variants = in_order([_larger(pipe, side, field) for field in fields for side in ordered])
    moved = tangent.variants_toward(variants) / NUDGE
    for i, field in enumerate(fields):
        for hole in pipe.holes:
            if _has(hole, field):
                add(f"{hole.name} {_words(field)}", "mm", moved[:, i, mine.names.index(hole.name)])


def _larger(pipe: Chanter, side: SideHole, field: str) -> SideHole:
    """A hole in its place, larger by `NUDGE` mm in one field that it has."""
    hole = side.hole
    if not _has(hole, field):
        return side
    value = side.wall_mm if field == "depth_mm" else getattr(hole, field)
    larger = replace(hole, **{field: value + NUDGE})
    return pipe.placed(larger) if field in ("position_mm", "depth_mm") else replace(side, hole=larger)


def _has(hole: ToneHole | Key, field: str) -> bool:
    if isinstance(hole, Key):
        return field in _KEY
    if field == "diameter_mm":
        return not isinstance(hole.diameter_mm, tuple)
    return field in _HOLE and (field == "depth_mm" or getattr(hole, field) is not None)
