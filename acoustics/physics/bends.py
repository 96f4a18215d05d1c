"""Bent tube and the bridge between two parallel bores: the same air, but a shorter way for the flow.

In a curved duct the flow keeps to the inner side, where the way is shorter: the inertance falls, the
compliance does not.  The sound runs faster than along a straight tube of the centre line's length, and
the impedance is lower.  A bridge does the same more strongly, and at its ends gains volume.

Both are low-frequency laws: the finite elements of the tests reach 1 kHz at a radius of 3.5 mm.
"""

from __future__ import annotations

import numpy as np

from ..pipes.path import Turn, bridge_volume_length
from ..units import MM
from ..validity import Range
from .air import Gas
from .ducts import per_length, uniform
from .twoport import cascade, series

BEND_CURVATURE = Range(
    "the joint of a bend",
    "bore radius over bend radius",
    0.0,
    0.6,
    "no source but finite elements of potential flow, 0.2 to 0.6",
)
BRIDGE_SPACING = Range(
    "the bridge between two bores",
    "spacing of the axes over the bore's radius",
    2.05,
    4.7,
    "no source but finite elements of potential flow",
)
TURN_KA = Range(
    "a bend or bridge taken as if the waves were long",
    "k times the bore's radius",
    0.0,
    0.065,
    "no source but finite elements of sound, to 1 kHz in a bore of 7 mm",
)
_JOINT = (0.0674, 0.0367, 0.0426)
_CORNERS = (0.39583, -0.10773, -0.08713)
_CROSS_MODE = 1.8412


def inertance_ratio(curvature):
    """Inertance of a curved round duct per length of centre line, over that of a straight one [1].

    Parameters
    ----------
    curvature : array, 0 to below 1
        B, bore radius over the radius of the centre line.

    Notes
    -----
    B^2/(2(1 - sqrt(1 - B^2))), written as (1 + sqrt(1 - B^2))/2: exact at low frequency for an endless bend.
    The compliance is that of the straight duct (Pappus), so the sound speed is c over the root of this.

    References
    ----------
    C. J. Nederveen, *Acoustical Aspects of Woodwind Instruments*, 1969 (from memory, derived again).
    """
    return 0.5 * (1.0 + np.sqrt(1.0 - np.asarray(curvature, float) ** 2))


def joint_length(bore_radius, bend_radius):
    """Length of straight duct whose inertance each joint of a straight tube and a bend adds, same unit.

    Where the tube begins to bend the flow moves over to the inner side.

    References
    ----------
    No published source: (0.0674 + 0.0367 B^2 + 0.0426 B^4) a B^2, fitted to potential flow by finite
    elements within 0.3 % of itself for B from 0.2 to 0.6; 0.0725 a B^2 at B = 0.35.
    """
    curvature = np.asarray(bore_radius, float) / bend_radius
    BEND_CURVATURE.check(curvature, "bend")
    return np.polynomial.polynomial.polyval(curvature**2, _JOINT) * bore_radius * curvature**2


def bridge_lengths(bore_radius, spacing):
    """Lengths of straight duct that have the inertance and the compliance of a bridge, same unit.

    Between the planes across both bores where the cross passage begins, a radius before its axis.

    Parameters
    ----------
    bore_radius, spacing : array
        Radius of bores and passage, and distance between the axes of the bores.

    Returns
    -------
    inertance_length, compliance_length : arrays

    Notes
    -----
    Compliance: the volume, exactly (`pipes.path.bridge_volume_length`).  Inertance: two corners and the
    way between them, which hear each other through the first cross mode of the passage, exp(-1.8412
    spacing/a), and its square.  Three numbers fitted to potential flow by finite elements: within 0.1 %
    of the whole, at points left out of the fit too.
    """
    bore_radius, spacing = np.asarray(bore_radius, float), np.asarray(spacing, float)
    BRIDGE_SPACING.check(spacing / bore_radius, "bridge")
    near = np.exp(-_CROSS_MODE * (spacing / bore_radius - 2.0))
    corners = np.polynomial.polynomial.polyval(near, _CORNERS)
    return spacing + corners * bore_radius, bridge_volume_length(bore_radius, spacing)


def _line(length, ratio, radius, omega, gas: Gas):
    """Two-port of a round duct whose inertance is `ratio` times that of a straight one; its losses are the same."""
    area = np.pi * radius**2
    impedance, admittance = per_length(area, 2.0 * np.pi * radius, omega, gas)
    impedance = impedance + 1j * omega * gas.density / area * (ratio - 1.0)
    return uniform(length, impedance, admittance)


def bend(bore_radius: float, bend_radius: float, angle: float, omega, gas: Gas):
    """Two-port of a tube bent to a circle between two straight tubes, joints included.

    Parameters
    ----------
    bore_radius, bend_radius : float
        Of the bore and of its centre line [m].
    angle : float
        [rad]
    omega : array (f,) [rad/s]
    gas : Gas

    Returns
    -------
    complex array (2, 2, f)
    """
    omega = np.asarray(omega, float)
    line = _line(bend_radius * angle, inertance_ratio(bore_radius / bend_radius), bore_radius, omega, gas)
    joint = series(1j * omega * gas.density * joint_length(bore_radius, bend_radius) / (np.pi * bore_radius**2))
    return cascade(cascade(joint, line), joint)


def bridge(bore_radius: float, spacing: float, leg: float, omega, gas: Gas):
    """Two-port of two parallel bores joined by a cross passage, between planes `leg` before its axis.

    Parameters
    ----------
    bore_radius, spacing, leg : float
        Radius of bores and passage, distance of the bores' axes, and from each plane to the passage's
        axis, at least a radius [m].
    omega : array (f,) [rad/s]
    gas : Gas

    Returns
    -------
    complex array (2, 2, f)
    """
    omega = np.asarray(omega, float)
    inertance, compliance = bridge_lengths(bore_radius, spacing)
    straight = _line(leg - bore_radius, 1.0, bore_radius, omega, gas)
    core = _line(compliance, inertance / compliance, bore_radius, omega, gas)
    return cascade(cascade(straight, core), straight)


def along(turns: tuple[Turn, ...], middle_mm, area):
    """What the turns of a path do to its slices.

    Parameters
    ----------
    turns : tuple of Turn
    middle_mm : array (n,)
        Increasing middles of the slices along the path.
    area : array (n,)
        Of each slice [m2].

    Returns
    -------
    ratio : array (n,)
        Inertance over that of a straight slice.
    joints : array (n,)
        Inertance over density that the joints add at each slice's near end [1/m].
    """
    ratio, joints = np.ones(len(middle_mm)), np.zeros(len(middle_mm))
    for turn in turns:
        first, after = np.searchsorted(middle_mm, [turn.start_mm, turn.end_mm])
        radius = 0.5 * turn.bore_mm
        if turn.bridge:
            inertance, compliance = bridge_lengths(radius, 2.0 * turn.radius_mm)
            ratio[first:after] = inertance / compliance
        else:
            ratio[first:after] = inertance_ratio(radius / turn.radius_mm)
            joints[[first, after]] += joint_length(radius, turn.radius_mm) * MM / area[first]
    return ratio, joints
