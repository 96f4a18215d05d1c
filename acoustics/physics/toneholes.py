"""Side holes: their inner lengths, their chimneys, and the two-port that a hole is to the bore."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.polynomial.polynomial import polyval

from ..pipes.holes import Key, lean
from ..pipes.path import SideHole
from ..units import MM
from ..validity import Range
from .air import Gas
from .ducts import GAUSS, Slices
from .radiation import HOLE_IN_BODY, LIFT, PAD, hole_in_body_length, mouth_impedance, pad_length
from .steps import step_inertance, step_length

HOLE_RATIO = Range(
    "the inner length of a hole", "hole over bore diameter", 0.2, 1.0, "Lefebvre and Scavone 2012, stated range"
)
OPEN_WALL = Range(
    "the series length of an open hole",
    "wall over the hole's radius",
    1.0,
    40.0,
    "Lefebvre and Scavone 2012, compared with finite elements",
)
SHUT_WALL = Range(
    "the series length of a shut hole",
    "wall over the hole's radius",
    0.25,
    40.0,
    "Lefebvre and Scavone 2012, compared with finite elements",
)
OVAL = Range(
    "a hole taken as round", "the oval's longer over shorter axis", 1.0, 1.5, "equal area, common practice, no source"
)
TILT = Range(
    "a tilted hole taken as a longer one",
    "the tilt (degrees)",
    -30.0,
    30.0,
    "wall along its axis, no source; at 30 degrees its mouth is 15 % longer than round",
)
CONE = Range(
    "the mouth of an undercut hole",
    "growth of the radius over the depth of the cone",
    0.0,
    0.7,
    "finite elements of our own in three dimensions, 2026",
)
SMALLEST_LEAK = 1e-3
LONG_SERIES = 0.29
INSIDE = 0.08


def matching_length(hole_radius, bore_radius):
    """Length of chimney whose volume is that between a flat bottom and the round bore, same unit.

    References
    ----------
    C. J. Nederveen, J. K. M. Jansen and R. R. van Hassel, Acustica 84, 957 (1998); from memory,
    within 1 % of the exact volume.
    """
    ratio = hole_radius / bore_radius
    return hole_radius * ratio / 8.0 * (1.0 + 0.207 * ratio**3)


def inner_length(hole_radius, bore_radius):
    """Length that the flow inside the bore adds to a chimney (shunt arm of the T), same unit.

    References
    ----------
    A. Lefebvre and G. P. Scavone, J. Acoust. Soc. Am. 131, 3153 (2012); from memory, within 0.0075
    of the hole's radius of finite elements for ratios of 0.2 to 0.95.
    """
    ratio = hole_radius / bore_radius
    return hole_radius * polyval(ratio, (0.822, -0.095, -1.566, 2.138, -1.640, 0.502))


def series_length_open(hole_radius, bore_radius, wall):
    """Negative length of an open hole in series with the bore, same unit, as length of *hole*.

    References
    ----------
    A. Lefebvre and G. P. Scavone, J. Acoust. Soc. Am. 131, 3153 (2012); from memory, within 5 % of
    finite elements where the wall is at least the hole's radius.
    """
    return -hole_radius * (hole_radius / bore_radius) ** 4 * (0.35 - 0.06 * np.tanh(2.7 * wall / hole_radius))


def series_length_shut(hole_radius, bore_radius, wall):
    """The same for a hole shut at its outer end.

    References
    ----------
    A. Lefebvre and G. P. Scavone 2012; from memory, within 5 % of finite elements for walls from
    half the hole's radius up.
    """
    return -hole_radius * (hole_radius / bore_radius) ** 4 * (0.12 + 0.17 * np.tanh(2.4 * wall / hole_radius))


def shunt_length(inner, series, hole_radius, bore_radius):
    """Inner length of the shunt arm beside series arms of a given length, same unit.

    What the flow inside the bore adds with equal pressure on both sides of the hole hardly hangs on
    the wall: it is the shunt arm and a quarter of the series length.  The published inner length is
    that of a long chimney; a short one has another series length, and the shunt takes the rest.

    Parameters
    ----------
    inner : array
        Inner length for a long chimney, as of `inner_length`.
    series : array
        Series length of the hole in its state, shut or open; not above zero.

    References
    ----------
    A. Lefebvre and G. P. Scavone 2012 for the long chimney's series length, 0.29 b (b/a)^4 below
    zero; the quarter follows from the T itself.  Within 0.0078 of the hole's radius of finite
    elements for ratios of 0.2 to 0.95 and walls from a quarter of the hole's radius up.
    """
    long = -LONG_SERIES * hole_radius * (hole_radius / bore_radius) ** 4
    return inner - (series - long) / 4.0


@dataclass(frozen=True)
class Holes:
    """The side holes of a pipe as arrays in SI, in the order of the path.

    `inner` is the length that the flow inside the bore adds; `chimneys` holds one run of slices per
    hole, from the bore outward.
    """

    names: tuple[str, ...]
    place: np.ndarray
    mouth: np.ndarray
    bore: np.ndarray
    inner: np.ndarray
    wall: np.ndarray
    outlet: np.ndarray
    outer: np.ndarray
    pad: np.ndarray
    lift: np.ndarray
    chimneys: Slices


def mouth_mm(hole: SideHole) -> float:
    """Where along the path the hole meets the bore's wall [mm]; a tilted hole is drilled across."""
    return hole.path_mm + hole.bore_mm / 2.0 * lean(hole.hole)


def _stretches(side: SideHole) -> list[tuple[float, float, float]]:
    """(length, inner, outer diameter) from the bore outward, matching volume first [mm]; an undercut is a cone."""
    hole = side.hole
    wall = side.wall_mm / np.cos(np.radians(hole.tilt_deg))
    undercut = hole.undercut_diameter_mm
    mouth = undercut or hole.round_mm
    stretches = [(matching_length(mouth / 2.0, side.bore_mm / 2.0), mouth, mouth)]
    if undercut is not None:
        cone = hole.undercut_depth_mm * wall / side.wall_mm
        stretches.append((cone, undercut, hole.round_mm))
        wall -= cone
    if wall > 1e-9:
        stretches.append((wall, hole.round_mm, hole.round_mm))
    return stretches + [(length, d, d) for length, d in getattr(hole, "duct", ())]


def _chimneys(stretches) -> Slices:
    """One slice per stretch: a chimney is short beside the wave."""
    counts = np.array([len(run) for run in stretches])
    length, inner, outer = np.array([stretch for run in stretches for stretch in run]).T * MM
    diameter = inner + (outer - inner) * GAUSS
    before = np.concatenate([inner[:1], outer[:-1]])
    before[np.cumsum(counts) - counts] = inner[np.cumsum(counts) - counts]
    step = step_inertance(np.pi / 4.0 * before**2, np.pi / 4.0 * inner**2)
    return Slices(length, np.pi / 4.0 * diameter**2, np.pi * diameter, step, counts)


def arrange(side_holes: tuple[SideHole, ...]) -> Holes:
    """Side holes as arrays, sorted by where they meet the bore; their ranges are checked here."""
    ordered = sorted(side_holes, key=mouth_mm)
    holes = in_order(ordered)
    _check_ranges(holes, ordered)
    return holes


def _widening(run) -> float:
    """Of an undercut, how much the radius grows over the depth of its cone [1]; 0 without one."""
    length, inner, outer = run[min(1, len(run) - 1)]
    return (inner - outer) / (2.0 * length)


def _mouth(run) -> float:
    """Diameter with which a hole counts for the flow in the bore [mm].

    An undercut counts a little inside its cone, `INSIDE` mouth radii beyond the plane that touches the
    bore: a fit of our own to finite elements in three dimensions (cones to 1.1 to 1.6 hole radii over a
    quarter or half of the wall).  Series lengths then lie within 2 % of them, the shunt's length within
    0.02 hole radii, 0.07 for the widest cone.  It never counts narrower than its drill.
    """
    mouth, drill = run[0][1], run[min(1, len(run) - 1)][2]
    return max(mouth * (1.0 - INSIDE * _widening(run)), drill)


def in_order(ordered: Sequence[SideHole]) -> Holes:
    """Side holes as arrays, in the order given; no range is checked."""
    stretches = [_stretches(side) for side in ordered]
    keys = [side.hole if isinstance(side.hole, Key) else None for side in ordered]

    def array(values):
        return np.array(list(values), float) * MM

    mouth, bore = array(_mouth(run) / 2.0 for run in stretches), array(side.bore_mm / 2.0 for side in ordered)
    return Holes(
        names=tuple(side.name for side in ordered),
        place=array(mouth_mm(side) for side in ordered),
        mouth=mouth,
        bore=bore,
        inner=inner_length(mouth, bore),
        wall=array(sum(stretch[0] for stretch in run[1:]) for run in stretches),
        outlet=array(run[-1][2] / 2.0 for run in stretches),
        outer=array(side.outer_mm / 2.0 for side in ordered),
        pad=array(key.pad_diameter_mm / 2.0 if key else 0.0 for key in keys),
        lift=array(key.lift_mm if key else np.inf for key in keys),
        chimneys=_chimneys(stretches),
    )


def _check_ranges(holes: Holes, ordered: Sequence[SideHole]) -> None:
    labels = [f'hole "{name}"' for name in holes.names]
    HOLE_RATIO.check(holes.mouth / holes.bore, labels)
    OPEN_WALL.check(holes.wall / holes.mouth, labels)
    SHUT_WALL.check(holes.wall / holes.mouth, labels)
    CONE.check([_widening(_stretches(side)) for side in ordered], labels)
    TILT.check([side.hole.tilt_deg for side in ordered], labels)
    HOLE_IN_BODY.check(holes.outlet / holes.outer, labels)
    OVAL.check(
        [max(s.hole.across_mm, s.hole.along_mm) / min(s.hole.across_mm, s.hole.along_mm) for s in ordered], labels
    )
    keyed = np.flatnonzero(np.isfinite(holes.lift))
    labels = [labels[i] for i in keyed]
    LIFT.check(holes.lift[keyed] / holes.outlet[keyed], labels)
    PAD.check(holes.pad[keyed] / holes.outlet[keyed], labels)


def outer_length(holes: Holes, index, share):
    """Outer length and radius of the openings of holes `index` opened to `share` of their area [m].

    A share below 1 is a thin cover that leaves a smaller round opening: the flow narrows to it
    (a step) and radiates from it.  Under a lifted pad everything between the opening and the rim of
    the pad counts as wall around the end.
    """
    radius = holes.outlet[index] * np.sqrt(share)
    length = hole_in_body_length(radius, holes.outer[index]) + step_length(radius, holes.outlet[index])
    lifted = np.isfinite(holes.lift[index])
    if np.any(lifted):
        pad, lift = holes.pad[index[lifted]], holes.lift[index[lifted]]
        length[lifted] += pad_length(radius[lifted], pad - radius[lifted], pad, lift)
    return length, radius


def hole_twoports(holes: Holes, index, share, chimneys, omega, gas: Gas):
    """What the bore sees of its holes, each in one state.

    Parameters
    ----------
    holes : Holes
    index, share : arrays (states,)
        Which hole, and how much of its area is open, 0 (shut) to 1; a leak below 0.001 counts as
        0.001, and any leak takes the series length of the open hole.
    chimneys : array (2, 2, holes, f)
        Two-ports of the chimneys.
    omega : array (f,)

    Returns
    -------
    array (2, 2, states, f)
        The T of two series arms and a shunt.
    """
    length, radius = outer_length(holes, index, np.maximum(share, SMALLEST_LEAK))
    shut = (share == 0.0)[:, None]
    load = np.where(shut, 0.0, 1.0 / mouth_impedance(radius, length, omega, gas))
    a, b, c, d = chimneys[:, :, index].reshape(4, len(index), -1)
    into = (c + d * load) / (a + b * load)
    mouth, bore, wall = holes.mouth[index], holes.bore[index], holes.wall[index]
    inertance = 1j * omega * gas.density / (np.pi * mouth**2)[:, None]
    series = np.where(shut[:, 0], series_length_shut(mouth, bore, wall), series_length_open(mouth, bore, wall))
    inner = shunt_length(holes.inner[index], series, mouth, bore)
    side = into / (1.0 + inertance * inner[:, None] * into)
    arm = 0.5 * inertance * series[:, None]
    along = 1.0 + arm * side
    return np.array([[along, arm * (1.0 + along)], [side, along]])
