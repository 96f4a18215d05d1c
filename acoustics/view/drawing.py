"""The pipe drawn to scale: cut lengthwise, and from the front."""

from __future__ import annotations

from itertools import cycle

import numpy as np
from matplotlib.patches import Ellipse, Polygon, Rectangle

from ..errors import Refusal
from ..pipes.bore import Bore
from ..pipes.chanter import DEFAULT_WALL_MM, Chanter
from ..pipes.holes import Key, lean
from ..pipes.regulator import Regulator
from .picture import BRASS, CANE, COPPER, FIRST, GREY, SECOND, WOOD, Picture, sheet

STOPPER_MM = 4.0


def _outline(axis, x, half, **paint):
    axis.add_patch(Polygon(np.column_stack([np.r_[x, x[::-1]], np.r_[half, -half[::-1]]]), closed=True, **paint))


def _outside(pipe: Chanter):
    if pipe.body is not None:
        return pipe.body.table_mm
    x, inner = pipe.bore.table_mm
    return x, inner + 2.0 * DEFAULT_WALL_MM


def _staple_and_reed(axis, pipe: Chanter):
    staple, reed = pipe.staple, pipe.reed
    eye = staple.insertion_mm - staple.length_mm
    x = np.linspace(0.0, staple.length_mm, 60)
    _outline(axis, x + eye, staple.axes_mm(x)[1] / 2.0 + 0.5, fc=COPPER, ec="black", lw=0.6)
    _outline(axis, x + eye, staple.axes_mm(x)[1] / 2.0, fc="white", ec="none")
    wide = float(staple.axes_mm(0.0)[1]) / 2.0
    _outline(
        axis,
        np.array([eye - reed.length_mm, eye + 6.0]),
        np.array([6.4, wide + 1.0]),
        fc=CANE,
        ec="black",
        lw=0.6,
        alpha=0.8,
    )


def _holes_in_section(axis, pipe: Chanter):
    for side in pipe.side_holes:
        hole, half = side.hole, side.hole.along_mm / 2.0
        at, inner, outer = hole.position_mm, side.bore_mm / 2.0, side.bore_mm / 2.0 + side.wall_mm
        way = -1.0 if hole.face == "back" else 1.0
        if hole.face == "side":
            axis.add_patch(Ellipse((at, 0.0), 2 * half, 2 * half, fill=False, ec=GREY, lw=1.0, ls=(0, (2, 1.5))))
            continue
        near, far = inner * 0.98, outer * 1.01
        upper, lower = at + near * lean(hole), at + far * lean(hole)
        corners = [(upper - half, near), (upper + half, near), (lower + half, far), (lower - half, far)]
        axis.add_patch(Polygon([(x, way * y) for x, y in corners], fc="white", ec="black", lw=0.6))
        if hole.undercut_depth_mm:
            cut, deep = hole.undercut_diameter_mm / 2.0, inner + hole.undercut_depth_mm
            corners = [(at - cut, inner * 0.98), (at + cut, inner * 0.98), (at + half, deep), (at - half, deep)]
            axis.add_patch(Polygon([(x, way * y) for x, y in corners], fc="white", ec="black", lw=0.6))


def _from_the_front(axis, pipe: Chanter):
    x, outer = _outside(pipe)
    _outline(axis, x, outer / 2.0, fc=WOOD, ec="black", lw=0.6)
    for side in pipe.side_holes:
        hole = side.hole
        size = (hole.along_mm, hole.across_mm)
        if hole.face == "side":
            pad = getattr(hole, "pad_diameter_mm", hole.along_mm)
            edge = (hole.position_mm, -side.outer_mm / 2.0)
            axis.add_patch(Ellipse(edge, pad, pad / 3.0, fc=BRASS, ec="black", lw=0.6))
            continue
        if isinstance(hole, Key):
            pad = hole.pad_diameter_mm
            axis.add_patch(Ellipse((hole.position_mm, 0.0), pad, pad, fc=BRASS, ec="black", lw=0.6))
        shade = "none" if hole.face == "back" else "#4a3826"
        line = (0, (2, 1.5)) if hole.face == "back" else "-"
        axis.add_patch(Ellipse((hole.position_mm, 0.0), *size, fc=shade, ec="black", lw=0.7, ls=line))


def _label_holes(axis, pipe: Chanter, above: float):
    for hole in pipe.holes:
        low = hole.face != "front"
        axis.annotate(
            hole.name,
            (hole.position_mm, -above if low else above),
            ha="center",
            va="top" if low else "bottom",
            fontsize=8.5,
            color=GREY if isinstance(hole, Key) else "black",
        )


def draw_section(axis, pipe: Chanter) -> None:
    """A chanter cut lengthwise, with staple, reed and rush, on an axis in mm."""
    x, outer = _outside(pipe)
    _outline(axis, x, outer / 2.0, fc=WOOD, ec="black", lw=0.6)
    bore_x, bore = pipe.bore.table_mm
    _outline(axis, bore_x, bore / 2.0, fc="white", ec="black", lw=0.6)
    _holes_in_section(axis, pipe)
    _staple_and_reed(axis, pipe)
    if pipe.rush is not None:
        rush = pipe.rush
        low = -float(np.min(pipe.bore.diameter_mm(np.array([rush.top_mm, rush.foot_mm])))) / 2.0
        box = (rush.top_mm, low), rush.foot_mm - rush.top_mm, rush.diameter_mm
        axis.add_patch(Rectangle(*box, fc=BRASS, ec="black", lw=0.5))


def _stopper(axis, pipe: Regulator) -> None:
    end, wide = pipe.bore.stations_mm[-1]
    axis.add_patch(Rectangle((end, -wide / 2.0), STOPPER_MM, wide, fc=CANE, ec="black", lw=0.6))


def draw_pipe(pipe: Chanter) -> Picture:
    """A chanter to scale: above cut lengthwise with staple and reed, below from the front.

    In the cut, finger holes stand in the wall, keys at the side are dashed circles, and the thumb
    hole is below.  From the front, the thumb hole at the back is dashed; the pads of side keys are brass.
    """
    figure, (cut, front) = sheet(10.0, 2.9, 2, sharex=True)
    outer = _outside(pipe)[1]
    draw_section(cut, pipe)
    if isinstance(pipe, Regulator):
        _stopper(cut, pipe)
    _from_the_front(front, pipe)
    above = float(np.max(outer)) / 2.0 + 3.0
    _label_holes(front, pipe, above)
    top = pipe.staple.insertion_mm - pipe.staple.length_mm - pipe.reed.length_mm
    for axis in (cut, front):
        axis.set_aspect("equal")
        axis.set_xlim(top - 4.0, pipe.bore.length_mm + (STOPPER_MM if isinstance(pipe, Regulator) else 0.0) + 4.0)
        axis.spines[["left"]].set_visible(False)
        axis.set_yticks([])
    cut.set_ylim(-above, above)
    front.set_ylim(-above - 9.0, above + 9.0)
    front.set_xlabel("mm from the top of the wood", fontsize=9)
    cut.set_title(f"{pipe.name}, to scale", fontsize=10, loc="left")
    return Picture(figure, drawing_words(pipe))


def drawing_words(pipe: Chanter) -> str:
    """The drawing's main dimensions as lines of text."""
    at, throat = pipe.bore.throat_mm
    lines = [
        f"{pipe.name}: wood {pipe.bore.length_mm:.1f} mm, throat {throat:.2f} mm at {at:.0f} mm, "
        f"foot {pipe.bore.stations_mm[-1][1]:.2f} mm",
        f"staple {pipe.staple.length_mm:.1f} mm, {pipe.staple.foot_mm:.2f} mm at its foot, "
        f"{pipe.staple.insertion_mm:.1f} mm deep in the wood; reed head {pipe.reed.length_mm:.1f} mm",
    ]
    for side in pipe.side_holes:
        hole = side.hole
        kind = "key" if isinstance(hole, Key) else "hole"
        size = f"{hole.across_mm:.2f}"
        if hole.along_mm != hole.across_mm:
            size += f" x {hole.along_mm:.2f}"
        lines.append(f"{kind:4} {hole.name:10} at {hole.position_mm:6.1f}  size {size:>5}  wall {side.wall_mm:5.2f} mm")
    return "\n".join(lines)


def plot_bores(bores: dict[str, Bore], step_mm: float = 20.0) -> Picture:
    """How bores depart from the straight cone between the first one's throat and foot, and below from the first.

    Parameters
    ----------
    bores : {name: Bore}
        The first gives the straight cone.
    step_mm : float
        Distance between the lines of the words [mm].
    """
    (first_name, first), *others = bores.items()
    (throat_at, throat), (foot_at, foot) = first.throat_mm, first.stations_mm[-1]
    if throat_at >= foot_at:
        raise Refusal("the bore is narrowest at its foot", "it must widen below its throat", "bore")

    def cone(x):
        return throat + (foot - throat) * (x - throat_at) / (foot_at - throat_at)

    colours = dict(zip(bores, cycle((FIRST, SECOND, "black", GREY)), strict=False))
    figure, axes = sheet(10.0, 4.2, 2, sharex=True, height_ratios=(5, 3)) if others else sheet(10.0, 2.8)
    above, *below = np.atleast_1d(axes)
    for name, bore in bores.items():
        x, diameter = bore.table_mm
        down = x >= throat_at
        above.plot(x[down], (diameter - cone(x))[down], lw=1.2, color=colours[name], label=name, **_dot(x[down]))
    above.set_ylabel("mm wider (+) or narrower (−)\nthan the straight cone", fontsize=9)
    above.legend(fontsize=9, frameon=False, loc="best")
    for axis in below:
        for name, bore in others:
            _apart(axis, bore, first, throat_at, colours[name])
        axis.set_ylabel(f"mm from\n{first_name}", fontsize=9)
    for axis in (above, *below):
        axis.axhline(0.0, color=GREY, lw=0.8)
    axis.set_xlabel("mm from the top of the wood", fontsize=9)
    at = np.arange(np.ceil(throat_at / step_mm) * step_mm, foot_at, step_mm)
    lines = [f"{'mm down':>8}" + "".join(f"{name:>14}" for name in bores)]
    lines += [f"{x:8.0f}" + "".join(f"{float(bore.diameter_mm(x)):14.2f}" for bore in bores.values()) for x in at]
    return Picture(figure, "\n".join(lines))


def _dot(x) -> dict:
    """How to draw a dot for each of some given diameters: smaller where there are many."""
    return {"ms": 4, "marker": "." if len(x) > 20 else "o"}


def _apart(axis, bore: Bore, first: Bore, start_mm: float, colour: str) -> None:
    """Diameters of a bore less those of the first, from `start_mm` down, a dot at each that is given."""
    end = min(bore.length_mm, first.length_mm)
    given = bore.table_mm[0][(bore.table_mm[0] >= start_mm) & (bore.table_mm[0] <= end)]
    for x, how in ((np.linspace(start_mm, end, 500), {"lw": 1.2}), (given, {"ls": "", **_dot(given)})):
        axis.plot(x, bore.diameter_mm(x) - first.diameter_mm(x), color=colour, **how)
