"""A page as SVG, in mm: the same bytes for the same page."""

from __future__ import annotations

import xml.etree.ElementTree as ET

from .drawing_1to1 import PENS, Arc, Circle, Item, Line, Page, Polyline, Text
from .lettering import FAMILY

NAMESPACE = "http://www.w3.org/2000/svg"


def _n(value: float) -> str:
    """A number to a millionth of a mm, without idle zeros."""
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _shape(item: Item, height: float) -> tuple[str, dict[str, str]]:
    """Element and its geometry, y turned downwards."""
    match item:
        case Line():
            ends = {"x1": item.x1, "y1": height - item.y1, "x2": item.x2, "y2": height - item.y2}
            return "line", {name: _n(value) for name, value in ends.items()}
        case Circle():
            return "circle", {"cx": _n(item.x), "cy": _n(height - item.y), "r": _n(item.radius)}
        case Arc():
            (x1, y1), (x2, y2) = item.point(item.start_deg), item.point(item.end_deg)
            large = int(item.end_deg - item.start_deg > 180.0)
            radius = _n(item.radius)
            path = f"M {_n(x1)} {_n(height - y1)} A {radius} {radius} 0 {large} 0 {_n(x2)} {_n(height - y2)}"
            return "path", {"d": path}
        case Polyline():
            points = " ".join(f"{_n(x)},{_n(height - y)}" for x, y in item.points)
            return "polygon" if item.closed else "polyline", {"points": points}
    raise TypeError(item)


def _put(parent: ET.Element, item: Item, height: float) -> None:
    if not isinstance(item, Text):
        name, geometry = _shape(item, height)
        ET.SubElement(parent, name, {**geometry, "class": item.pen})
        return
    at = {"x": _n(item.x), "y": _n(height - item.y), "font-size": _n(item.size), "text-anchor": item.anchor}
    if item.turned:
        at["transform"] = f"rotate(-90 {at['x']} {at['y']})"
    if item.bold:
        at["font-weight"] = "bold"
    if item.text:
        at |= {"textLength": _n(item.width), "lengthAdjust": "spacingAndGlyphs"}
    ET.SubElement(parent, "text", at).text = item.text


def _style() -> str:
    rules = [f'text {{ font-family: "{FAMILY}", Verdana, sans-serif; fill: black; stroke: none; }}']
    for name, pen in PENS.items():
        dashes = f" stroke-dasharray: {' '.join(f'{d:g}' for d in pen.dashes_mm)};" if pen.dashes_mm else ""
        rules.append(f".{name} {{ fill: none; stroke: black; stroke-width: {pen.width_mm:g};{dashes} }}")
    return "\n".join(rules)


def svg_bytes(page: Page, title: str) -> bytes:
    """One page as an SVG file whose user unit is 1 mm.

    Parameters
    ----------
    page : Page
    title : str
        Of the document.
    """
    size = {"width": f"{_n(page.width)}mm", "height": f"{_n(page.height)}mm"}
    view = f"0 0 {_n(page.width)} {_n(page.height)}"
    root = ET.Element("svg", {"xmlns": NAMESPACE, **size, "viewBox": view})
    ET.SubElement(root, "title").text = title
    ET.SubElement(root, "style").text = _style()
    ET.SubElement(root, "rect", {"width": _n(page.width), "height": _n(page.height), "fill": "white"})
    for item in page.items:
        _put(root, item, page.height)
    for i, window in enumerate(page.windows, 1):
        left, low, right, high = window.box
        clip = ET.SubElement(ET.SubElement(root, "defs"), "clipPath", {"id": f"window-{i}"})
        box = {"x": _n(left), "y": _n(page.height - high), "width": _n(right - left), "height": _n(high - low)}
        ET.SubElement(clip, "rect", box)
        group = ET.SubElement(root, "g", {"clip-path": f"url(#window-{i})"})
        for item in window.items:
            _put(group, item, page.height)
    ET.indent(root)
    return ET.tostring(root, encoding="utf-8", xml_declaration=True) + b"\n"
