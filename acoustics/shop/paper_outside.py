"""Sheet 4: the outside for turning."""

from __future__ import annotations

from ..pipes.chanter import DEFAULT_WALL_MM, Chanter
from . import cautions
from .drawing_1to1 import Item, Line, Plan, Polyline, scale_bar
from .layout import Block, Paragraph
from .outside import Turning, turning
from .paper_boring import profile_list, sizes
from .paper_holes import flags
from .workshop import Workshop

TITLE = "4  Outside for turning"
CAUTIONS = (cautions.DUST, cautions.LATHE, cautions.LAW)


def tolerances(shop: Workshop) -> str:
    return f"Tolerances: outside diameter ±{shop.turning_tolerance_mm:g} mm, shoulders ±0.2 mm."


def outside_plan(pipe: Chanter, outer: Turning) -> Plan:
    """The outside and, dashed, the bore in it."""
    stations = [place for place in outer.places if place.station]
    labels = [(place.from_top_mm, f"⌀{sizes(place)}") for place in stations]
    half = outer.widest_mm / 2.0
    items: list[Item] = []
    for profile, pen in ((outer.stations_mm, "outline"), (pipe.bore.stations_mm, "hidden")):
        edge = [(x, d / 2.0) for x, d in profile]
        items.append(Polyline((*edge, *((x, -h) for x, h in reversed(edge))), True, pen))
    items.append(Line(-3.0, 0.0, pipe.bore.length_mm + 3.0, 0.0, "axis"))
    ends = [max(place.above_mm, place.below_mm) / 2.0 for place in stations]
    items += flags(labels, ends, half + 3.0)
    items += scale_bar(pipe.bore.length_mm, 0.0, -half - 2.0)
    return Plan("Outside at 1:1, mm from the top of the wood; dashed: the bore", tuple(items))


def blocks(pipe: Chanter, shop: Workshop) -> tuple[Block, ...]:
    """The whole sheet."""
    outer = turning(pipe)
    source = (
        "Diameters are those of the design."
        if outer.given
        else f"The design gives no outside: this is the bore with a wall of {DEFAULT_WALL_MM:g} mm, not a pattern."
    )
    words = (
        f"{source} Turn between centres or on a mandrel in the finished bore, so that the wall is even. At a shoulder "
        "the diameters above / below are given: a ferrule, mount or socket that sits there takes the smaller one; its "
        f"ring is bored to the wood, measured after it has rested. The blank needs at least {outer.widest_mm:.1f} "
        f"mm square and {pipe.bore.length_mm:.1f} mm of length, plus what chuck and centres need."
    )
    turned = profile_list("Turning", outer.places, "shoulder", (19.0, 19.0, 30.0, 20.0))
    return outside_plan(pipe, outer), turned, Paragraph(words, 88.0)
