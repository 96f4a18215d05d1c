"""Sheet 2: the boring schedule, the reamer, and where each gauge must stop."""

from __future__ import annotations

from ..pipes.chanter import Chanter
from . import cautions
from .along import Place, places
from .boring import SHALLOWEST_MM, GaugeStop, Step, boring_steps, gauge_stops
from .layout import Block, Column, Paragraph, Table
from .workshop import Workshop

TITLE = "2  Bore: drills, reamer, gauges"
CAUTIONS = (cautions.DUST, cautions.LATHE, cautions.REAMER, cautions.LAW)


def tolerances(shop: Workshop) -> str:
    return (
        f"Tolerances: finished bore ±{shop.bore_tolerance_mm:g} mm; drilled steps stay {shop.allowance_mm:g} mm of "
        "diameter inside the finished bore, point of the drill included; depths ±0.5 mm."
    )


def sizes(place: Place) -> str:
    """One diameter, or both of a step, in mm."""
    return f"{place.above_mm:.2f} / {place.below_mm:.2f}" if place.step else f"{place.above_mm:.2f}"


def profile_list(title: str, found: tuple[Place, ...], step: str, widths: tuple[float, ...]) -> Table:
    """A profile from the top down; `step` is what its steps are called, `widths` are those of the columns [mm]."""
    top, foot, diameter, kind = widths
    columns = (
        Column("from top", "mm", top),
        Column("from foot", "mm", foot),
        Column("diameter", "mm", diameter),
        Column("", "", kind, True),
    )
    rows = tuple(
        (f"{p.from_top_mm:.1f}", f"{p.from_foot_mm:.1f}", sizes(p), step if p.step else "station" * p.station)
        for p in found
    )
    return Table(title, columns, rows)


def _steps(title: str, steps: tuple[Step, ...]) -> Table:
    columns = (
        Column("no.", "", 8.0),
        Column("drill", "", 38.0, True),
        Column("depth to", "corners, mm", 20.0),
        Column("point goes", "on, mm", 18.0),
    )
    rows = tuple(
        (str(n), str(step.drill), "through" if step.through else f"{step.depth_mm:.1f}", f"{step.point_mm:.1f}")
        for n, step in enumerate(steps, 1)
    )
    return Table(title, columns, rows)


def _stop(value: float, length: float) -> str:
    return "out" if value <= 0.0 else "through" if value >= length else f"{value:.1f}"


def _gauges(title: str, stops: tuple[GaugeStop, ...], length: float) -> Table:
    columns = (
        Column("gauge", "mm", 12.0),
        Column("stops at", "mm deep", 17.0),
        Column("not before", "mm", 18.0),
        Column("nor past", "mm", 17.0),
        Column("found", "mm", 14.0),
    )
    rows = tuple(
        (
            f"{s.gauge_mm:.1f}",
            f"{s.depth_mm:.1f}",
            _stop(s.shallow_mm, length),
            _stop(s.deep_mm, length),
            "",
        )
        for s in stops
    )
    return Table(title, columns, rows)


def blocks(pipe: Chanter, shop: Workshop) -> tuple[Block, ...]:
    """The whole sheet."""
    bore = pipe.bore
    at, throat = bore.throat_mm
    top_steps = boring_steps(bore, shop, "top")
    words = (
        f"Bore {bore.length_mm:.1f} mm long, throat {throat:.2f} mm at {at:.1f} mm from the top, foot "
        f"{bore.stations_mm[-1][1]:.2f} mm. Drill from the foot, the largest first, each smaller one deeper, the "
        "throat's drill last and through. Depths are those of the drill's corners, measured from the end it enters; "
        f"the column beside says how far a 118° point goes on. Steps less than {SHALLOWEST_MM:g} mm deep are left "
        "to the reamer."
    )
    out: list[Block] = [Paragraph(words, 84.0), _steps("Drilled steps from the foot", boring_steps(bore, shop))]
    if top_steps:
        out.append(_steps("Drilled steps from the top (reed seat)", top_steps))
    along = places(bore.stations_mm, bore.length_mm)
    out.append(profile_list("Reamer, or the finished bore", along, "step", (17.0, 17.0, 26.0, 18.0)))
    out.append(_gauges("Round gauges from the foot", gauge_stops(bore, shop.bore_tolerance_mm), bore.length_mm))
    top_stops = gauge_stops(bore, shop.bore_tolerance_mm, "top")
    if top_stops:
        out.append(_gauges("Round gauges from the top", top_stops, bore.length_mm))
    said = (
        "A gauge that stops before the first bound has met a bore too narrow there, one that goes past the last a bore "
        f"too wide, by more than {shop.bore_tolerance_mm:g} mm. Let the wood rest after reaming and gauge again."
    )
    out.append(Paragraph(said, 78.0))
    return tuple(out)
