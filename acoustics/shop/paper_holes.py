"""Sheet 3: the pipe at 1:1 from every side that has holes, and the drilling list."""

from __future__ import annotations

from ..pipes.chanter import Chanter
from . import cautions
from .drawing_1to1 import SMALL_MM, Circle, Item, Line, Plan, Polyline, Text, cross, oval, scale_bar
from .hole_list import HoleLine
from .layout import Block, Column, Paragraph, Table
from .lettering import fitted, width_mm
from .outside import turning
from .workshop import Workshop

TITLE = "3  Holes: drilling list"
CAUTIONS = (cautions.DUST, cautions.DRILLING, cautions.LAW)
VIEWS = {"front": "from the front", "right": "from its right", "left": "from its left", "back": "from the back"}
LABEL_MM, FLAG_MM = 4.0, 0.8
BOTH_ENDS_MM = 200.0  # a longer pipe is titled at both ends
# Which edge of a view, upwards (1) or downwards (-1) with the reed at the left, a face at the side is seen on.
EDGES = {"front": {"right": 1.0, "left": -1.0}, "back": {"right": -1.0, "left": 1.0}}


def tolerances(shop: Workshop) -> str:
    return f"Tolerances: position ±{shop.position_tolerance_mm:g} mm, hole diameter ±{shop.hole_tolerance_mm:g} mm."


def label_rows(labels: list[tuple[float, str]]) -> list[int]:
    """A row for each (place, words), places growing, so that no words cover other words or another's leader.

    Words start at their leader, which comes up from below; so each may only stand over those further right.
    """
    taken: list[list[tuple[float, float]]] = []
    rows: list[int] = []
    for at, words in reversed(labels):
        start, end, row = at - 0.4, at + FLAG_MM + width_mm(words, SMALL_MM) + 0.6, 0
        while row < len(taken) and any(end > a and start < b for a, b in taken[row]):
            row += 1
        if row == len(taken):
            taken.append([])
        taken[row].append((start, end))
        for lower in taken[:row]:
            lower.append((at - 0.4, at + 0.4))
        rows.append(row)
    return rows[::-1]


def flags(labels: list[tuple[float, str]], ends: list[float], level: float) -> list[Item]:
    """The words of `label_rows`, the lowest row on `level`, with leaders down to the heights `ends`."""
    items: list[Item] = []
    for (at, words), row, end in zip(labels, label_rows(labels), ends, strict=True):
        y = level + row * LABEL_MM
        items += [Line(at, end, at, y + 1.9, "thin"), Text(at + FLAG_MM, y, words, SMALL_MM)]
    return items


def _view(pipe: Chanter, lines: tuple[HoleLine, ...], face: str, top: float) -> tuple[list[Item], float]:
    """One view below the level `top`, and the level below it."""
    seen = [line for line in lines if line.face == face]
    labels = [(line.mark_top_mm, f"{fitted(line.name, SMALL_MM, 26.0)} {line.mark_top_mm:.1f}") for line in seen]
    rows = label_rows(labels)
    outer = turning(pipe)
    half = outer.widest_mm / 2.0
    first = top - 4.5 - LABEL_MM * (max(rows, default=0) + 1)  # base line of the lowest row of labels
    y = first - 2.5 - half
    edge = [(x, d / 2.0) for x, d in outer.stations_mm]
    items: list[Item] = [Text(0.0, top - 3.0, f"Seen {VIEWS[face]}, reed end at the left", bold=True)]
    if pipe.bore.length_mm > BOTH_ENDS_MM:  # the drawing may be tiled: its other end says it too
        said = VIEWS[face].capitalize()  # shorter than tiles overlap, so that one of them has it whole
        items.append(Text(pipe.bore.length_mm, top - 3.0, said, anchor="end", bold=True))
    items.append(Polyline((*((x, y + h) for x, h in edge), *((x, y - h) for x, h in reversed(edge))), True))
    items.append(Line(-3.0, y, pipe.bore.length_mm + 3.0, y, "axis"))
    for line in seen:
        at = line.mark_top_mm
        items.append(oval(at, y, line.along_mm, line.across_mm, "cut"))
        items += cross(at, y, line.along_mm / 2.0 + 1.2)
        if line.pad_mm is not None:
            items.append(Circle(at, y, line.pad_mm / 2.0, "hidden"))
        if line.undercut_mm is not None:
            items.append(Circle(line.axis_top_mm, y, line.undercut_mm[0] / 2.0, "hidden"))
    items += flags(labels, [y + line.along_mm / 2.0 + 1.2 for line in seen], first)
    for line in lines:
        way = EDGES.get(face, {}).get(line.face)
        if way is not None:
            rim = y + way * (line.outer_mm / 2.0 + 0.6)
            size = line.along_mm / 2.0
            items.append(Line(line.mark_top_mm - size, rim, line.mark_top_mm + size, rim, "outline"))
    items += scale_bar(pipe.bore.length_mm, 0.0, y - half - 2.0)
    return items, y - half - 9.0


def holes_plan(pipe: Chanter, lines: tuple[HoleLine, ...]) -> Plan:
    """Views from every side that has holes, one below the other."""
    items: list[Item] = []
    top = 0.0
    for face in VIEWS:
        if face in ("front", "back") or any(line.face == face for line in lines):
            found, top = _view(pipe, lines, face, top)
            items += found
    return Plan("Holes at 1:1, mm from the top of the wood on the outside", tuple(items))


def _size(line: HoleLine) -> str:
    if line.across_mm == line.along_mm:
        return f"{line.across_mm:.2f}"
    return f"{line.across_mm:.2f} x {line.along_mm:.2f}"


def _drilling(lines: tuple[HoleLine, ...]) -> Table:
    columns = (
        Column("hole", "", 28.0, True),
        Column("face", "", 15.0, True),
        Column("mark, top", "mm", 20.0),
        Column("mark, foot", "mm", 20.0),
        Column("tilt", "degrees", 15.0),
        Column("at the bore", "mm from top", 22.0),
        Column("drill", "", 34.0, True),
        Column("finished", "mm", 26.0),
        Column("open by", "mm", 16.0),
        Column("wall", "mm", 14.0),
        Column("undercut", "⌀ x deep, mm", 26.0),
    )
    rows = tuple(
        (
            line.name,
            line.face,
            f"{line.mark_top_mm:.1f}",
            f"{line.mark_foot_mm:.1f}",
            f"{line.tilt_deg:+.1f}" if line.tilt_deg else "0",
            f"{line.axis_top_mm:.1f}",
            str(line.drill),
            _size(line),
            f"{line.open_up_mm:.2f}" if line.open_up_mm >= 0.005 else "–",
            f"{line.wall_mm:.2f}",
            f"{line.undercut_mm[0]:.2f} x {line.undercut_mm[1]:.2f}" if line.undercut_mm else "–",
        )
        for line in lines
    )
    return Table("Drilling list", columns, rows)


def _keys(lines: tuple[HoleLine, ...]) -> Table:
    columns = (
        Column("key", "", 28.0, True),
        Column("mark, top", "mm", 20.0),
        Column("pad", "⌀ mm", 14.0),
        Column("opening", "⌀ mm", 16.0),
        Column("seat ring", "mm wide", 18.0),
        Column("lift", "mm", 14.0),
        Column("passage from the wall to the pad", "length x ⌀, mm", 60.0, True),
    )
    rows = tuple(
        (
            line.name,
            f"{line.mark_top_mm:.1f}",
            f"{line.pad_mm:.2f}",
            f"{line.seat_mm:.2f}",
            f"{(line.pad_mm - line.seat_mm) / 2.0:.2f}",
            f"{line.lift_mm:.2f}",
            ", then ".join(f"{long:.2f} x {wide:.2f}" for long, wide in line.duct_mm) or "on the wood",
        )
        for line in lines
    )
    return Table("Key seats", columns, rows)


def blocks(pipe: Chanter, shop: Workshop, lines: tuple[HoleLine, ...], left_handed: bool) -> tuple[Block, ...]:
    """The whole sheet."""
    out: list[Block] = [holes_plan(pipe, lines)]
    if lines:
        out.append(_drilling(lines))
    hand = "LEFT-HANDED set: left and right are swapped. " if left_handed else "Right-handed set. "
    words = (
        f"{hand}Left and right are those of the pipe seen from the front with the reed up; the design says only "
        '"side", so check the side of every key on your pattern. Marks are on the outside: a tilted hole is marked '
        "where its axis comes out and drilled towards its place at the bore; a positive tilt leans the outer end "
        "towards the foot. The drill is the largest in the shop that is not larger than the hole. Start a size or two "
        "smaller, play with the reed that is meant for it, and open from the lowest hole up, the last by file or "
        "reamer. Undercut from inside, wider towards the bore. Spot, drill slowly with the bore plugged, and stop "
        "short of the far wall. In the drawing a broken circle is a pad or an undercut, a bar on an edge a hole at "
        "the side."
    )
    out.append(Paragraph(words, 236.0))
    keys = tuple(line for line in lines if line.kind == "key")
    if keys:
        out.append(_keys(keys))
    blocked = [line.name for line in keys if any(wide < line.across_mm for _, wide in line.duct_mm)]
    if blocked:
        mind = (
            f"Mind: {', '.join(blocked)}: the hole in the wall is wider than the passage over it, so no drill reaches "
            "it from outside; drill it before the block is put on, or make the passage as wide."
        )
        out.append(Paragraph(mind, 236.0, bold=True))
    return tuple(out)
