"""Many dials at once: bore stations as dials, turning all in one go, and first-order moves."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from ..errors import Refusal, check_kind, number
from ..physics.network import Unlike, column
from ..pipes.bore import Bore
from ..units import cents
from .dials import Dial
from .resonances import first_target
from .setup import Setup
from .tangent import Tangent

STEP = 1e-4
_ROUNDED = (("", "patch_at_mm"), ("", "patch_length_mm"))


def station_dials(setup: Setup, reach_mm: float = 0.5) -> dict[str, Dial]:
    """One dial for each bore station below the staple: its diameter.

    Parameters
    ----------
    setup : Setup
    reach_mm : float
        How far each may be turned up and down, 0.01 to 10 [mm].

    Returns
    -------
    {"bore at 121 mm": Dial, ...}

    Raises
    ------
    Refusal
        No setup, or another reach.
    """
    check_kind("setup", setup, Setup, "a Setup")
    reach_mm, dials = number("reach_mm", reach_mm, 0.01, 10.0), {}
    for i, (distance, diameter) in enumerate(setup.base.bore.stations_mm):
        if distance > setup.base.staple.insertion_mm:
            name = f"bore at {distance:g} mm"
            limits = (round(diameter - reach_mm, 3), round(diameter + reach_mm, 3))
            dials[name] = Dial("bore", name, "mm", *limits, 0.01, _read_station(i), _turn_station(i), ("bore", str(i)))
    return dials


def _read_station(i: int):
    return lambda setup: setup.base.bore.stations_mm[i][1]


def _turn_station(i: int):
    def turn(setup, value):
        stations = list(setup.base.bore.stations_mm)
        stations[i] = (stations[i][0], float(value))
        return replace(setup, base=replace(setup.base, bore=Bore(tuple(stations))))

    return turn


def turned(setup: Setup, values: Mapping[Dial, float]) -> Setup:
    """A setup with many dials turned, its pipe built and checked once.

    Parameters
    ----------
    values : {Dial: value}
    """
    parts: dict[str, dict[str, float]] = {}
    for dial, value in values.items():
        if dial.where is None:
            setup = dial.turn(setup, float(value))
        else:
            parts.setdefault(dial.where[0], {})[dial.where[1]] = float(value)
    own = parts.pop("", {})
    base, changed = setup.base, {}
    for part in ("reed", "staple"):
        if part in parts:
            changed[part] = replace(getattr(base, part), **parts.pop(part))
    if "bore" in parts:
        new = parts.pop("bore")
        pairs = ((x, new.get(str(i), d)) for i, (x, d) in enumerate(base.bore.stations_mm))
        changed["bore"] = Bore(tuple(pairs))
    if parts:
        changed["holes"] = tuple(replace(h, **parts[h.name]) if h.name in parts else h for h in base.holes)
    if changed:
        own["base"] = replace(base, **changed)
    return replace(setup, **own) if own else setup


def first_order(tangent: Tangent, other: Setup) -> np.ndarray:
    """Cents of every row when the tangent's setup becomes a little different `other`, to first order.

    Changes of reed, staple, bore, holes, air and scale are followed by the tangent; where the fingerings
    themselves change (tape, a lifted foot) the difference of the charts stands in.
    """
    mine = tangent.setup
    if other.fingered != mine.fingered:
        return other.chart.cents - mine.chart.cents
    moved = np.zeros(len(mine.chart.rows))
    pipe, old = other.pipe, tangent.pipe
    if pipe.reed != old.reed:
        moved = moved + tangent.reed_toward(pipe.reed)
    if any(getattr(pipe, part) != getattr(old, part) for part in ("staple", "bore", "holes", "body", "rush")):
        moved = moved + tangent.toward(column(pipe, like=tangent.column))
    if other.air != mine.air:
        moved = moved + tangent.gas_toward(other.air.gas)
    if other.scale != mine.scale:
        targets = [row.fingering.register * first_target(row.fingering, other.scale) for row in mine.chart.rows]
        moved = moved - cents(targets, [row.target_hz for row in mine.chart.rows])
    return moved


def derivative(tangent: Tangent, dial: Dial) -> np.ndarray:
    """Cents of every row per unit of a dial, (rows,).

    A dial that puts new stations into the bore (a patch, a throat) has no slices in common with the
    tangent, and one that moves those of a patch moves them by whole thousandths of a mm; two charts a
    tenth of a step apart on either side stand in.
    """
    value = (dial.exact or dial.read)(tangent.setup)
    step = STEP * max(dial.step, 1e-3)
    for by in () if dial.where in _ROUNDED else (step, -step):
        try:
            other = dial.turn(tangent.setup, value + by)
            if other != tangent.setup:  # a hole cannot be left open by more than all of it
                return first_order(tangent, other) / by
        except (Refusal, Unlike):
            continue
    apart = 0.1 * dial.step
    try:
        up, down = (dial.turn(tangent.setup, value + by).chart.cents for by in (apart, -apart))
    except Refusal:
        said = f"{value:g} can be neither raised nor lowered"
        raise Refusal(said, "room for a change is needed", dial.name) from None
    return (up - down) / (2.0 * apart)


def rounded(setup: Setup, dials: Mapping[str, Dial]) -> Setup:
    """A setup with every dial on a whole step, as the workshop can set it; holes on the smaller side."""
    values = {}
    for dial in dials.values():
        steps = dial.read(setup) / dial.step
        down = dial.group == "holes" and dial.where is not None and dial.where[1] == "diameter_mm"
        values[dial] = round((np.floor(steps + 1e-6) if down else round(steps)) * dial.step, 6)
    return turned(setup, values)
