"""A drawing as DXF, release 12 in plain text, one unit for 1 mm: a layer for every pen, one for text."""

from __future__ import annotations

from .drawing_1to1 import PENS, Arc, Circle, Item, Line, Polyline, Text, box_of
from .lettering import CAP

TEXT_LAYER = "text"
DASHED = "DASHED"
CODE_PAGE = "cp1252"


def _n(value: float) -> str:
    text = f"{value:.9f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _told(text: str) -> str:
    """Text as DXF writes it: marks of control made harmless, signs by their codes, a ? for letters it lacks."""
    for sign, code in (("%%", "% %"), ("^", "^ "), ("⌀", "%%c"), ("±", "%%p"), ("°", "%%d"), ("−", "-")):
        text = text.replace(sign, code)
    return text.encode(CODE_PAGE, "replace").decode(CODE_PAGE)


def _point(x: float, y: float, base: int = 10) -> list[tuple[int, str]]:
    return [(base, _n(x)), (base + 10, _n(y)), (base + 20, "0")]


def _entity(item: Item) -> list[tuple[int, str]]:
    """Group codes and values of one item."""
    match item:
        case Line():
            return [(0, "LINE"), (8, item.pen), *_point(item.x1, item.y1), *_point(item.x2, item.y2, 11)]
        case Circle():
            return [(0, "CIRCLE"), (8, item.pen), *_point(item.x, item.y), (40, _n(item.radius))]
        case Arc():
            angles = [(50, _n(item.start_deg % 360.0)), (51, _n(item.end_deg % 360.0))]
            return [(0, "ARC"), (8, item.pen), *_point(item.x, item.y), (40, _n(item.radius)), *angles]
        case Polyline():
            closed = [(70, "1" if item.closed else "0")]
            groups = [(0, "POLYLINE"), (8, item.pen), (66, "1"), *_point(0.0, 0.0), *closed]
            for x, y in item.points:
                groups += [(0, "VERTEX"), (8, item.pen), *_point(x, y)]
            return [*groups, (0, "SEQEND"), (8, item.pen)]
        case Text():
            align = [(72, {"start": "0", "middle": "1", "end": "2"}[item.anchor]), *_point(item.x, item.y, 11)]
            angle = [(50, "90")] if item.turned else []
            height, said = (40, _n(item.size * CAP)), (1, _told(item.text))
            return [(0, "TEXT"), (8, TEXT_LAYER), *_point(item.x, item.y), height, said, *angle, *align]
    raise TypeError(item)


def _table(name: str, entries: list[list[tuple[int, str]]]) -> list[tuple[int, str]]:
    groups = [(0, "TABLE"), (2, name), (70, str(len(entries)))]
    for entry in entries:
        groups += [(0, name), *entry]
    return [*groups, (0, "ENDTAB")]


def _line_types() -> list[list[tuple[int, str]]]:
    full = [(2, "CONTINUOUS"), (70, "0"), (3, "Solid line"), (72, "65"), (73, "0"), (40, "0")]
    dashed = [(2, DASHED), (70, "0"), (3, "Dashed"), (72, "65"), (73, "2"), (40, "3.2"), (49, "2"), (49, "-1.2")]
    return [full, dashed]


def _layers() -> list[list[tuple[int, str]]]:
    kinds = {name: DASHED if pen.dashes_mm else "CONTINUOUS" for name, pen in PENS.items()}
    kinds[TEXT_LAYER] = "CONTINUOUS"
    return [[(2, name), (70, "0"), (62, "7"), (6, kind)] for name, kind in kinds.items()]


def dxf_bytes(items: tuple[Item, ...], title: str) -> bytes:
    """A whole drawing, not cut into pages, as a DXF file; a cutter takes the layer ``cut`` alone.

    Parameters
    ----------
    items : tuple of items
    title : str
        Written as a remark at the start.

    References
    ----------
    Autodesk, *AutoCAD Release 12 Customization Manual*, DXF: group codes (from memory; read back by an
    independent reader in the tests).
    """
    left, low, right, high = box_of(items)
    header = [
        (9, "$ACADVER"),
        (1, "AC1009"),
        (9, "$DWGCODEPAGE"),
        (3, "ANSI_1252"),
        (9, "$EXTMIN"),
        *_point(left, low),
        (9, "$EXTMAX"),
        *_point(right, high),
    ]
    style = [(2, "STANDARD"), (70, "0"), (40, "0"), (41, "1"), (50, "0"), (71, "0"), (42, "2.5"), (3, "txt"), (4, "")]
    groups = [(999, _told(title)), (999, "lengths in mm, 1:1")]
    groups += [(0, "SECTION"), (2, "HEADER"), *header, (0, "ENDSEC")]
    groups += [(0, "SECTION"), (2, "TABLES"), *_table("LTYPE", _line_types()), *_table("LAYER", _layers())]
    groups += [*_table("STYLE", [style]), (0, "ENDSEC")]
    groups += [(0, "SECTION"), (2, "ENTITIES")]
    for item in items:
        groups += _entity(item)
    groups += [(0, "ENDSEC"), (0, "EOF")]
    return "".join(f"{code:3d}\n{value}\n" for code, value in groups).encode(CODE_PAGE)
