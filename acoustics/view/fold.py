"""A planned fold drawn to scale on the player's lap."""

from __future__ import annotations

from matplotlib.patches import Circle, PathPatch, Rectangle, Wedge
from matplotlib.path import Path

from ..shop.fold import Fold
from ..shop.fold_layout import Segment
from .picture import BRASS, FIRST, GREY, SECOND, WOOD, Picture, sheet


def _box(axis, one: Segment, long: float, **paint) -> None:
    left = min(one.u1, one.u1 + one.way * long)
    axis.add_patch(Rectangle((left, one.v1 - one.outside_mm / 2.0), long, one.outside_mm, **paint))


def _turn(axis, one: Segment, **paint) -> None:
    """A bend as a half ring, a bridge as a block across both tubes."""
    half = one.outside_mm / 2.0
    if one.kind == "bend":
        angles = (-90.0, 90.0) if one.way > 0.0 else (90.0, 270.0)
        outer = (one.v2 - one.v1) / 2.0 + half
        axis.add_patch(Wedge((one.u1, (one.v1 + one.v2) / 2.0), outer, *angles, width=one.outside_mm, **paint))
        return
    deep = (one.inside_mm + one.outside_mm) / 2.0
    left = min(one.u1, one.u1 + one.way * deep)
    axis.add_patch(Rectangle((left, one.v1 - half), deep, one.v2 - one.v1 + one.outside_mm, **paint))


def _centreline(course: tuple[Segment, ...]) -> Path:
    """The middle of the tube as straight lines and half circles."""
    points, codes = [(0.0, 0.0)], [Path.MOVETO]
    for one in course:
        if one.kind == "bend":
            arc = Path.arc(-90.0, 90.0)
            radius, middle = (one.v2 - one.v1) / 2.0, (one.v1 + one.v2) / 2.0
            points += [(one.u1 + one.way * radius * x, middle + radius * y) for x, y in arc.vertices[1:]]
            codes += list(arc.codes[1:])
        else:
            across = one.u1 + one.way * one.inside_mm / 2.0
            corners = [(across, one.v1), (across, one.v2)] if one.kind == "bridge" else []
            points += [*corners, (one.u2, one.v2)]
            codes += [Path.LINETO] * (len(corners) + 1)
    return Path(points, codes)


def draw_fold(fold: Fold) -> Picture:
    """The folded drone from above, slide drawn to its note, in the rectangle that the lap leaves it.

    The drone lies at the lap's lower edge with the reed's end at the left; dotted is how far it reaches
    with the slide drawn right out.
    """
    wish, low = fold.wish, -fold.wish.head_outside_mm / 2.0
    figure, axis = sheet(10.0, 0.75 + 9.2 * (wish.lap_width_mm + 16.0) / (wish.lap_length_mm + 16.0))
    edge = {"ec": "black", "lw": 0.7}
    lap = Rectangle((0.0, low), wish.lap_length_mm, wish.lap_width_mm, fc="none", ec=SECOND, lw=1.4, ls="--")
    axis.add_patch(lap)
    for one in sorted(fold.course, key=lambda one: one.kind == "wood"):
        match one.kind:
            case "wood":
                _box(axis, one, wish.head_mm + wish.longest_mm + wish.bending.hold_mm, fc=WOOD, **edge)
            case "pin" | "leg":
                _box(axis, one, one.length_mm, fc=BRASS, **edge)
            case "bend" | "bridge":
                _turn(axis, one, fc=BRASS, **edge)
            case "chamber":
                _box(axis, one, one.length_mm + wish.resonator.wall_mm, fc=WOOD, **edge)
                at = (one.u1 + one.way * wish.resonator.outlet_at_mm, one.v1)
                axis.add_patch(Circle(at, wish.resonator.outlet_mm / 2.0, fc="#4a3826", ec="none"))
    axis.add_patch(PathPatch(_centreline(fold.course), fc="none", ec=FIRST, lw=0.9))
    axis.axvline(fold.length_mm, color=GREY, ls=":", lw=1.2)
    axis.set_aspect("equal")
    axis.set_xlim(-8.0, max(wish.lap_length_mm, fold.length_mm) + 8.0)
    axis.set_ylim(low - 8.0, low + max(wish.lap_width_mm, fold.width_mm) + 8.0)
    axis.set_xlabel("mm from the reed's end; broken line: the lap; dotted: reach with the slide drawn out", fontsize=9)
    axis.set_ylabel("mm", fontsize=9)
    return Picture(figure, fold_words(fold))


def fold_words(fold: Fold) -> str:
    """The drawing's numbers: where each part begins and ends, along the centre line and on the lap."""
    lines = [f"{'part':10}{'from':>9}{'to':>9}   begins at (along, across), mm"]
    for one in fold.course:
        where = f"({one.u1:.1f}, {one.v1:.1f})"
        lines.append(f"{one.name:10}{one.start_mm:9.2f}{one.end_mm:9.2f}   {where}")
    lines.append(f"drawn out {fold.length_mm:.1f} long, {fold.width_mm:.1f} wide")
    lines.append(f"the lap has {fold.wish.lap_length_mm:.1f} by {fold.wish.lap_width_mm:.1f}")
    return "\n".join(lines)
