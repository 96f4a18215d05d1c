"""Sheet 1: the staple's flat pattern and its two mandrels, at 1:1."""

from __future__ import annotations

import math

from ..pipes.chanter import Chanter
from ..pipes.staple import Staple
from . import cautions
from .drawing_1to1 import Arc, Item, Line, Plan, Polyline, Text, dimension, rectangle
from .layout import Block, Column, Paragraph, Table
from .staple_pattern import Pattern, eye_mandrel, frustum_volume_mm3, rolling_mandrel, staple_pattern
from .workshop import Workshop

TITLE = "1  Staple: flat pattern and mandrels"
CAUTIONS = (cautions.METAL, cautions.TORCH, *cautions.SOLDERING, cautions.LATHE, cautions.LICENSED, cautions.LAW)


def tolerances(shop: Workshop) -> str:
    return (
        f"Tolerances: staple inside diameters ±{shop.staple_tolerance_mm:g} mm, mandrels "
        f"±{shop.staple_tolerance_mm / 2.0:g} mm, lengths ±0.2 mm."
    )


def _sector(pattern: Pattern) -> list[Item]:
    """The ring's part, lying on its side: small end left, its cut line outside its finished line."""
    frustum = pattern.frustum
    inner, outer = frustum.radii_mm
    middle = -outer  # the large end's arc touches x = 0
    half = frustum.angle_deg / 2.0
    cut = [Arc(middle, 0.0, r, *pattern.corners_deg(i > 0), "cut") for i, r in enumerate(pattern.cut_radii_mm)]
    done = [Arc(middle, 0.0, r, -half, half, "hidden") for r in (inner, outer)]
    items: list[Item] = [*cut, *done]
    for side in (0, 1):
        ends = [arc.point(arc.start_deg if side == 0 else arc.end_deg) for arc in cut]
        items.append(Line(*ends[0], *ends[1], "cut"))
        ends = [arc.point(-half if side == 0 else half) for arc in done]
        items.append(Line(*ends[0], *ends[1], "hidden"))
    return items


def _strip_of_sheet(pattern: Pattern) -> list[Item]:
    """The pattern of a straight tube: a rectangle."""
    long, wide = pattern.frustum.slant_mm, pattern.frustum.arcs_mm[1]
    f, lap = pattern.filing_mm, pattern.seam_mm
    done = rectangle(-long, -wide / 2.0, 0.0, wide / 2.0, "hidden")
    return [rectangle(-long - f, -wide / 2.0 - f, f, wide / 2.0 + f + lap, "cut"), done]


def pattern_plan(pattern: Pattern) -> Plan:
    """The pattern with its dimensions."""
    frustum = pattern.frustum
    items = _strip_of_sheet(pattern) if math.isinf(frustum.radii_mm[0]) else _sector(pattern)
    small, large = (chord / 2.0 for chord in frustum.chords_mm)
    depth = 0.0 if math.isinf(frustum.radii_mm[0]) else frustum.bulge_mm
    left = min(item.box[0] for item in items)
    top, low = max(item.box[3] for item in items), min(item.box[1] for item in items)
    start = -frustum.slant_mm
    items += dimension(start, top, 0.0, top, 6.0, f"slant {frustum.slant_mm:.2f}")
    items += dimension(left, -small, left, small, 4.0, f"chord {2 * small:.2f}")
    items += dimension(0.8, -large, 0.8, large, -5.0, f"chord {2 * large:.2f} (on a line {depth:.2f} inside the arc)")
    ends = ("eye", "foot") if pattern.eye_is_small else ("foot", "eye")
    items.append(Text(start + 2.0, 0.6, ends[0], 2.5))
    items.append(Text(-2.0, -2.4, ends[1], 2.5, "end"))
    items.append(Text(left, low - 4.0, "full line: cut; dashed: finished, after filing", 2.5))
    return Plan("Flat pattern (developed cone), cut from the sheet", tuple(items))


def trapezoid_plan(pattern: Pattern) -> Plan:
    """The straight-sided piece that makers cut instead, its edges finished."""
    long = pattern.frustum.slant_mm
    eye, foot = pattern.eye_width_mm / 2.0, pattern.foot_width_mm / 2.0
    top = max(eye, foot)
    items: list[Item] = [Polyline(((0.0, -eye), (long, -foot), (long, foot), (0.0, eye)), True, "cut")]
    items += dimension(0.0, top, long, top, 3.0, f"{long:.2f}")
    items += dimension(-0.4, -eye, -0.4, eye, 4.0, f"eye {2 * eye:.2f}")
    items += dimension(long + 0.4, -foot, long + 0.4, foot, -4.0, f"foot {2 * foot:.2f}")
    return Plan("Trapezoid instead, without filing or lap", tuple(items))


def mandrel_plan(pipe: Chanter) -> Plan:
    """The rolling mandrel from the side."""
    points = rolling_mandrel(pipe.staple)
    (start, first), *_, (end, last) = points
    half = max(first, last) / 2.0
    edge = [(x, d / 2.0) for x, d in points]
    items: list[Item] = [Polyline((*edge, *((x, -y) for x, y in reversed(edge))), True)]
    items.append(Line(start - 3.0, 0.0, end + 3.0, 0.0, "axis"))
    for name, (x, d) in zip(("eye", "foot"), points[1:3], strict=True):
        items.append(Line(x, -half - 1.5, x, half + 1.5, "thin"))
        way = -1.0 if name == "eye" else 1.0
        items.append(Text(x + way, half + 1.2, f"{name} ⌀{d:.2f}", 2.5, "end" if way < 0.0 else "start"))
    items += dimension(0.0, -half, pipe.staple.length_mm, -half, -8.0, f"{pipe.staple.length_mm:.2f}")
    items.append(Text(start, -half - 3.4, f"⌀{first:.2f}", 2.5, "middle"))
    items.append(Text(end, -half - 3.4, f"⌀{last:.2f}", 2.5, "middle"))
    return Plan("Rolling mandrel, round steel", tuple(items))


def eye_plan(pipe: Chanter) -> Plan:
    """The flat mandrel of the eye: from its wide side, from its thin side, and the eye's opening."""
    points = eye_mandrel(pipe.staple, 27)
    end = points[-1][0]
    items: list[Item] = []
    for y, ways, said in ((0.0, 2, "wide side"), (-12.0, 1, "thin side")):
        edge = [(p[0], p[ways] / 2.0) for p in points]
        items.append(Polyline((*((x, y + h) for x, h in edge), *((x, y - h) for x, h in reversed(edge))), True))
        items.append(Line(-3.0, y, end + 3.0, y, "axis"))
        items.append(Text(end + 5.0, y - 0.9, said, 2.5))
    _, short, long = points[0]
    x, angles = -18.0, [2.0 * math.pi * n / 90 for n in range(90)]
    ring = tuple((x + short / 2.0 * math.cos(a), long / 2.0 * math.sin(a)) for a in angles)
    items.append(Polyline(ring, True))
    items += dimension(x, -long / 2.0, x, long / 2.0, 5.0, f"{long:.2f}")
    items += dimension(x - short / 2.0, -long / 2.0, x + short / 2.0, -long / 2.0, -4.5, f"{short:.2f}")
    items.append(Text(x, long / 2.0 + 2.5, "the eye, inside", 2.5, "middle"))
    items += dimension(0.0, -14.5, end, -14.5, -4.0, f"{end:.2f}")
    items.append(Text(-2.0, 4.0, "eye end", 2.5))
    return Plan("Eye mandrel, on which the eye is pressed flat", tuple(items))


def _sizes(staple: Staple, pattern: Pattern, shop: Workshop) -> Table:
    """The pattern in numbers."""
    frustum = pattern.frustum
    inner, outer = frustum.radii_mm
    ring = (
        (f"{inner:.2f}", f"{outer:.2f}", f"{frustum.angle_deg:.3f}°") if frustum.angle_deg else ("–", "–", "rectangle")
    )
    volume = frustum_volume_mm3(staple.length_mm, staple.tip_mm, staple.foot_mm)
    rows = (
        ("sheet, thickness", f"{shop.sheet_mm:g}"),
        ("length along the axis", f"{staple.length_mm:.2f}"),
        ("slant, along the sheet", f"{frustum.slant_mm:.2f}"),
        ("radius of the small end's arc", ring[0]),
        ("radius of the large end's arc", ring[1]),
        ("opening of the pattern", ring[2]),
        ("arc, small and large end", " / ".join(f"{arc:.2f}" for arc in frustum.arcs_mm)),
        ("chord, small and large end", " / ".join(f"{chord:.2f}" for chord in frustum.chords_mm)),
        ("filing allowance, every edge", f"{shop.filing_mm:g}"),
        ("lap of the seam, one edge", f"{shop.seam_mm:g}" if shop.seam_mm else "0 (edges butt)"),
        ("least blank, along x across", f"{pattern.blank_mm[0]:.1f} x {pattern.blank_mm[1]:.1f}"),
        ("air inside before pressing", f"{volume:.0f} mm³"),
    )
    return Table("Pattern", (Column("what", "", 56.0, True), Column("size", "mm", 32.0)), rows)


def _eye_list(staple: Staple) -> Table:
    columns = (Column("from the eye", "mm", 26.0), Column("short way", "mm", 24.0), Column("long way", "mm", 24.0))
    lines = tuple(tuple(f"{v:.2f}" for v in p) for p in eye_mandrel(staple, 9))
    return Table("Eye mandrel: an ellipse at each place", columns, lines)


def blocks(pipe: Chanter, shop: Workshop) -> tuple[Block, ...]:
    """The whole sheet."""
    staple, pattern = pipe.staple, staple_pattern(pipe.staple, shop)
    words = (
        f"Widths are taken at the middle of the wall: pi x (inside + thickness), so that inside = width / pi − "
        f"thickness. Inside before pressing: foot {staple.foot_mm:.2f} mm, eye end {staple.tip_mm:.2f} mm. The "
        f"straight-sided trapezoid leaves out the bulge of the large end, {pattern.frustum.bulge_mm:.2f} mm in the "
        "middle: file that end square after rolling. Anneal, roll on the mandrel, let spring back, measure, then "
        "solder."
    )
    pressed = staple.eye_opening_mm is not None
    out: list[Block] = [pattern_plan(pattern), trapezoid_plan(pattern), mandrel_plan(pipe)]
    out += [eye_plan(pipe)] if pressed else []
    out.append(_sizes(staple, pattern, shop))
    out += [_eye_list(staple)] if pressed else []
    return (*out, Paragraph(words, 112.0))
