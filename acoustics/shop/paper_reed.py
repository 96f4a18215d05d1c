"""Sheet 5: the reed and its seat."""

from __future__ import annotations

from ..pipes.chanter import Chanter
from ..pipes.regulator import Regulator
from . import cautions
from .drawing_1to1 import SMALL_MM, Item, Line, Plan, Polyline, Text, dimension
from .layout import Block, Column, Paragraph, Table
from .workshop import Workshop

TITLE = "5  Reed and its seat"
CAUTIONS = (cautions.KNIFE, cautions.LAW)


def tolerances(shop: Workshop) -> str:
    return (
        f"Tolerances: lengths ±0.2 mm, staple inside ±{shop.staple_tolerance_mm:g} mm; the reed is tried, not measured."
    )


def reed_plan(pipe: Chanter, shop: Workshop) -> Plan:
    """Reed and staple from the wide side, lips at the left; 0 is the eye."""
    staple, reed = pipe.staple, pipe.reed
    x = [staple.length_mm * n / 60 for n in range(61)]
    edge = [(at, float(staple.axes_mm(at)[1]) / 2.0 + shop.sheet_mm) for at in x]
    half = max(shop.blade_lips_mm, 2.0 * edge[0][1]) / 2.0
    items: list[Item] = [Polyline((*edge, *((at, -h) for at, h in reversed(edge))), True)]
    root = edge[0][1]
    blade = ((-reed.length_mm, half), (0.0, root), (0.0, -root), (-reed.length_mm, -half))
    items.append(Polyline(blade, True))
    end = staple.length_mm
    items.append(Line(-reed.length_mm - 3.0, 0.0, end + 3.0, 0.0, "axis"))
    top = end - staple.insertion_mm
    items.append(Line(top, -half, top, half, "hidden"))
    items.append(Text(top, half + 1.0, "top of the wood", SMALL_MM, "middle"))
    items += dimension(-reed.length_mm, -half, 0.0, -half, -9.0, f"head {reed.length_mm:.2f}")
    items += dimension(0.0, -half, end, -half, -14.0, f"staple {end:.2f}")
    items += dimension(-reed.length_mm, -half, end, -half, -19.0, f"overall {reed.length_mm + end:.2f}")
    if staple.insertion_mm > 0.0:
        items += dimension(top, -half, end, -half, -4.0, f"in the wood {staple.insertion_mm:.2f}")
    said = f"{shop.blade_lips_mm:g} (the shop's)"
    items += dimension(-reed.length_mm, -half, -reed.length_mm, half, 4.0, said)
    return Plan(
        "Reed at 1:1, from the wide side; the blades' outline is the shop's own, not the design's", tuple(items)
    )


def blocks(pipe: Chanter, shop: Workshop) -> tuple[Block, ...]:
    """The whole sheet."""
    staple, reed = pipe.staple, pipe.reed
    outside = staple.foot_mm + 2.0 * shop.sheet_mm
    seat = float(pipe.bore.diameter_mm(staple.insertion_mm))
    short, long = (float(axis) for axis in staple.axes_mm(0.0))
    rows = (
        ("head, from the eye to the lips", f"{reed.length_mm:.2f} mm"),
        ("overall, head and staple", f"{reed.length_mm + staple.length_mm:.2f} mm"),
        ("staple in the wood", f"{staple.insertion_mm:.2f} mm"),
        ("staple standing out", f"{staple.length_mm - staple.insertion_mm:.2f} mm"),
        ("eye inside, short x long", f"{short:.2f} x {long:.2f} mm"),
        ("staple's foot, inside / outside", f"{staple.foot_mm:.2f} / {outside:.2f} mm"),
        ("bore where the foot sits", f"{seat:.2f} mm"),
        ("left for the thread there", f"{seat - outside:+.2f} mm of diameter"),
        ("mean air area in the head", f"{reed.area_mm2:.2f} mm²"),
        ("air in the head, area x length", f"{reed.area_mm2 * reed.length_mm:.0f} mm³"),
        ("softness of the blades (fitted)", f"{reed.softness:.3g}"),
        ("resonance of the blades (fitted)", f"{reed.resonance_hz:.0f} Hz"),
    )
    heard = "with every key opened alone" if isinstance(pipe, Regulator) else "with the chanter that both octaves agree"
    words = (
        "The design fixes the lengths, the eye and the air in the head. Width and curve of the blades, their thickness "
        "and the bridle are the reed maker's: scrape until the reed plays the chart, and check "
        f"{heard}. Softness and resonance are fitted to a reed that was played; they cannot be cut to size."
    )
    out: list[Block] = [reed_plan(pipe, shop)]
    out.append(Table("Reed", (Column("what", "", 58.0, True), Column("size", "", 42.0)), rows))
    if seat < outside:
        mind = (
            f"Mind: the staple's foot is {outside:.2f} mm outside, {outside - seat:.2f} mm more than the bore where it "
            "sits; thinner sheet, a shallower seat or a wider seat is needed."
        )
        out.append(Paragraph(mind, 100.0, bold=True))
    out.append(Paragraph(words, 100.0))
    return tuple(out)
