"""The bend sheet: the folded drone at 1:1, its cut list, its marks, and what can do harm on the way."""

from __future__ import annotations

import os
from collections.abc import Iterable
from math import ceil
from pathlib import Path

from ..errors import Refusal, short
from ..pipes.design_file import revision
from . import cautions
from .bends import outer_strain, outer_wall_mm
from .drawing_1to1 import SMALL_MM, Arc, Circle, Item, Line, Plan, Text, dimension, rectangle
from .fold import Fold
from .fold_layout import Segment
from .frame import Stamp
from .layout import Block, Column, Paragraph, Table
from .sheets import Paper, checked_order, save_papers

TITLE = "Bends: fold, cut list and marks"
SHORT_LEG_MM = 60.0  # a shorter one has its length in the table only


def tolerances() -> str:
    return "Tolerances: lengths ±0.2 mm, bends ±1°, legs parallel within 0.5 mm; the slide takes up what is left."


def _tube(one: Segment) -> list[Item]:
    """A straight tube: walls, bore and axis."""
    left, right, items = min(one.u1, one.u2), max(one.u1, one.u2), []
    for half, pen in ((one.outside_mm / 2.0, "outline"), (one.inside_mm / 2.0, "hidden")):
        items += [Line(left, one.v1 + way * half, right, one.v1 + way * half, pen) for way in (-1.0, 1.0)]
    return [*items, Line(left, one.v1, right, one.v1, "axis")]


def _bend(one: Segment) -> list[Item]:
    """A half circle of tube with the tangent lines where it begins and ends."""
    middle, radius = (one.v1 + one.v2) / 2.0, (one.v2 - one.v1) / 2.0
    angles = (-90.0, 90.0) if one.way > 0.0 else (90.0, 270.0)
    half, bore = one.outside_mm / 2.0, one.inside_mm / 2.0
    rings = ((-half, "outline"), (half, "outline"), (-bore, "hidden"), (bore, "hidden"), (0.0, "axis"))
    items: list[Item] = [Arc(one.u1, middle, radius + away, *angles, pen) for away, pen in rings]
    items += [Line(one.u1, v - half - 2.0, one.u1, v + half + 2.0, "thin") for v in (one.v1, one.v2)]
    items += [Line(one.u1 - 2.0, middle, one.u1 + 2.0, middle, "thin")]
    if 2.0 * radius - one.outside_mm >= 11.0:
        said, anchor = f"{one.name}, {one.length_mm:.1f} long", "end" if one.way > 0.0 else "start"
        items.append(Text(one.u1 - 3.0 * one.way, middle - 0.9, said, SMALL_MM, anchor))
    return items


def _bridge(one: Segment) -> list[Item]:
    """The cross passage between two tubes, their ends closed flush with its far side."""
    wall, end = (one.outside_mm - one.inside_mm) / 2.0, one.u1 + one.way * one.inside_mm
    left, right = min(one.u1, end + one.way * wall), max(one.u1, end + one.way * wall)
    low, high = one.v1 - one.outside_mm / 2.0, one.v2 + one.outside_mm / 2.0
    axis = one.u1 + one.way * one.inside_mm / 2.0
    items: list[Item] = [rectangle(left, low, right, high), Line(axis, low - 2.0, axis, high + 2.0, "axis")]
    inner = (one.v1 - one.inside_mm / 2.0, one.v2 + one.inside_mm / 2.0)
    items.append(rectangle(min(one.u1, end), inner[0], max(one.u1, end), inner[1], "hidden"))
    anchor = "start" if one.way > 0.0 else "end"
    at = (right if one.way > 0.0 else left) + 2.0 * one.way
    return [*items, Text(at, (one.v1 + one.v2) / 2.0 - 0.9, one.name, SMALL_MM, anchor)]


def _chamber(one: Segment, fold: Fold) -> list[Item]:
    made = fold.wish.resonator
    far, half = one.u2 + one.way * made.wall_mm, one.outside_mm / 2.0
    left, right = min(one.u1, far), max(one.u1, far)
    inner = rectangle(
        min(one.u1, one.u2), one.v1 - one.inside_mm / 2.0, max(one.u1, one.u2), one.v1 + one.inside_mm / 2.0, "hidden"
    )
    outlet = Circle(one.u1 + one.way * made.outlet_at_mm, one.v1, made.outlet_mm / 2.0)
    said = f"chamber, outlet ⌀{made.outlet_mm:g}"
    words = Text((left + right) / 2.0, one.v1 + half + 1.2, said, SMALL_MM, "middle")
    return [rectangle(left, one.v1 - half, right, one.v1 + half), inner, outlet, words]


def _wood(one: Segment, fold: Fold) -> list[Item]:
    """The head with the socket that its pin goes into."""
    long = fold.wish.head_mm + fold.wish.longest_mm + fold.wish.bending.hold_mm
    half, bore = one.outside_mm / 2.0, one.inside_mm / 2.0
    items: list[Item] = [rectangle(0.0, -half, long, half), Line(0.0, 0.0, one.u2, 0.0, "axis")]
    items += [Line(0.0, v, one.u2, v, "hidden") for v in (-bore, bore)]
    socket = fold.tubes.socket.inside_mm / 2.0
    items.append(rectangle(one.u2, -socket, long, socket, "hidden"))
    return [*items, Text(2.0, -half - 3.2, f"wood, bore ⌀{one.inside_mm:g} for {one.length_mm:.1f}", SMALL_MM)]


def _marks(fold: Fold) -> list[Item]:
    """Beside each tangent line its distance from the first end of the cut tube."""
    at = [mark for piece in fold.pieces for mark in piece.marks] if not fold.wish.bridge else []
    items: list[Item] = []
    bends = [one for one in fold.course if one.kind == "bend"]
    for one, (_, begins), (_, ends) in zip(bends, at[::2], at[1::2], strict=True) if at else ():
        half, anchor = one.outside_mm / 2.0, "end" if one.way > 0.0 else "start"
        u = one.u1 - 1.2 * one.way
        items.append(Text(u, one.v1 - half - 3.2, f"mark {begins:.1f}", SMALL_MM, anchor))
        items.append(Text(u, one.v2 + half + 1.2, f"mark {ends:.1f}", SMALL_MM, anchor))
    return items


def fold_plan(fold: Fold) -> Plan:
    """The folded drone from above, slide drawn to its note."""
    items: list[Item] = []
    for one in fold.course:
        match one.kind:
            case "wood":
                items += _wood(one, fold)
            case "pin" | "leg":
                items += _tube(one)
            case "bend":
                items += _bend(one)
            case "bridge":
                items += _bridge(one)
            case "chamber":
                items += _chamber(one, fold)
        if one.kind == "leg" and one.length_mm >= SHORT_LEG_MM:
            said = f"{one.name}: {one.length_mm:.1f}"
            items.append(Text((one.u1 + one.u2) / 2.0, one.v1 + one.outside_mm / 2.0 + 1.2, said, SMALL_MM, "middle"))
    items += _marks(fold)
    left, right = min(one.box[0] for one in items), fold.length_mm - fold.wish.longest_mm + fold.gap_mm
    low = min(item.box[1] for item in items)
    items += dimension(0.0, low, right, low, -6.0, f"{right:.1f} with the slide drawn {fold.gap_mm:.2f}")
    head = -fold.wish.head_outside_mm / 2.0
    items += dimension(left, head, left, head + fold.width_mm, 5.0, f"{fold.width_mm:.1f}")
    return Plan("Folded drone, seen from above", tuple(items))


def _cut_list(fold: Fold) -> Table:
    rows = [
        (
            one.name,
            str(one.tube),
            f"{one.finished_mm:.2f}",
            f"{one.trim_mm:g}",
            f"{ceil(10 * one.cut_mm - 1e-6) / 10:.1f}",
        )
        for one in fold.pieces
    ]
    columns = (
        Column("piece", "", 22.0, True),
        Column("tube", "", 28.0, True),
        Column("finished", "mm", 20.0),
        Column("trim, each end", "mm", 26.0),
        Column("cut", "mm", 20.0),
    )
    return Table("Cut list: straight tube", columns, tuple(rows))


def _mark_list(fold: Fold) -> Table:
    rows = [(one.name, words, f"{at:.1f}") for one in fold.pieces for words, at in one.marks]
    columns = (Column("piece", "", 22.0, True), Column("mark", "", 44.0, True), Column("from first end", "mm", 28.0))
    return Table("Marks on the cut tube, trim included, before it is bent", columns, tuple(rows))


def _bend_list(fold: Fold) -> Table:
    tube, radius = fold.tubes.folded, fold.wish.radius_mm
    former = f"{180.0 + fold.wish.bending.springback_deg:g}°"
    strain = f"{100.0 * outer_strain(tube.outside_mm, radius):.0f} %"
    wall = f"{outer_wall_mm(tube.outside_mm, tube.wall_mm, radius):.2f}"
    rows = [
        (one.name, f"{radius:g}", "180°", former, f"{one.length_mm:.1f}", strain, wall)
        for one in fold.course
        if one.kind == "bend"
    ]
    columns = (
        Column("bend", "", 18.0, True),
        Column("radius", "mm", 14.0),
        Column("wanted", "", 16.0),
        Column("bend to", "", 16.0),
        Column("developed", "mm", 22.0),
        Column("stretch", "outside", 18.0),
        Column("wall left", "mm", 18.0),
    )
    return Table("Bends", columns, tuple(rows))


def _air_list(fold: Fold) -> Table:
    rows = [
        (one.name, f"{one.inside_mm:g}", f"{one.length_mm:.2f}", f"{one.end_mm:.2f}")
        for one in fold.course
        if one.kind != "chamber"
    ]
    columns = (
        Column("part", "", 22.0, True),
        Column("inside", "mm", 16.0),
        Column("length", "mm", 20.0),
        Column("ends at", "mm", 20.0),
    )
    return Table("Along the air, from the reed's end", columns, tuple(rows))


def _steps(fold: Fold) -> str:
    if fold.wish.bridge:
        return (
            "Bore each pair of tubes through for its passage, close the ends flush with the passage's far side, saddle "
            "the passage so that it leaves no lip inside, then solder. Along the air a bridge counts by its volume."
        )
    return (
        "Mark the straight tube, anneal where it bends, dry it, fill it, bend it slowly on a former from mark to mark, "
        f"past 180° by the springback ({fold.wish.bending.springback_deg:g}°, the shop's own: try it on a scrap; "
        "common practice, no source), lay it on the drawing, melt the filler out in hot water, look through, then trim."
    )


def blocks(fold: Fold) -> tuple[Block, ...]:
    """The whole sheet."""
    out: list[Block] = [fold_plan(fold), _cut_list(fold)]
    if fold.turns:
        out += [_mark_list(fold), *([] if fold.wish.bridge else [_bend_list(fold)])]
    sharp, flat = fold.reserve_cents
    slide = (
        f"Slide drawn {fold.gap_mm:.2f} mm it sounds {fold.sounding_hz:.2f} Hz; it has {sharp:.0f} cents left sharp "
        f"and {flat:.0f} flat. Finish the last leg long and cut it back to pitch. The socket is let into the wood, and "
        "the pin slides in it. Where tube meets tube end to end, a turned ferrule holds both (common practice, no "
        "source)."
    )
    out += [_air_list(fold), Paragraph(slide, 118.0)]
    out += [Paragraph(words, 118.0) for words in (_steps(fold), fold.advice) if words and fold.turns]
    out.append(Paragraph("Care: read this before any flame or filler", 118.0, bold=True))
    out += [Paragraph(words, 118.0) for words in cautions.BENDING]
    return tuple(out)


def bend_paper(fold: Fold, date: str) -> Paper:
    """The sheet with its stamp."""
    care = "Care: " + " ".join((cautions.FILLER, cautions.TRACE, cautions.SPLASH, *cautions.SOLDERING, cautions.LAW))
    stamp = Stamp(fold.drone.name, TITLE, date, revision(fold.drone), tolerances(), care)
    return Paper("bends", stamp, blocks(fold))


def write_bend_sheet(
    fold: Fold,
    folder: str | os.PathLike,
    date: str,
    paper: str = "A4",
    formats: Iterable[str] = ("pdf", "svg"),
    overwrite: bool = False,
) -> list[Path]:
    """Write the bend sheet of a planned drone; arguments, files and refusals as for `sheets.write_sheets`."""
    if not isinstance(fold, Fold):
        raise Refusal(f"{short(fold)} is not a fold", "a Fold from plan_fold is needed", "fold")
    formats = checked_order(folder, date, paper, formats)
    return save_papers([bend_paper(fold, date)], fold.drone.name, folder, paper, formats, overwrite)
