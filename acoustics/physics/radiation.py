"""Open ends: the impedance of the air outside a foot, a finger hole or a lifted pad."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from scipy.interpolate import BSpline, make_interp_spline
from scipy.special import ive, jv, kve, yv

from ..validity import Range
from .air import Gas

UNFLANGED_KA = Range("the radiation of an open end", "k times the radius", 0.0, 3.0, "Levine and Schwinger 1948")
MOUTH_KA = Range(
    "the radiation of an open hole",
    "k times the hole's radius",
    0.0,
    0.7,
    "low-frequency limit, there 5 % from the open end of Levine and Schwinger 1948 in resistance and length",
)
WALL_RATIO = Range(
    "the end correction of a thick-walled end",
    "bore over outside diameter",
    0.2,
    1.0,
    "Dalmont et al. 2001, compared with finite elements",
)
HOLE_IN_BODY = Range(
    "the outer length of a hole in a round body",
    "hole over body diameter",
    0.1,
    0.7,
    "Dalmont et al. 2001, compared with finite elements",
)
LIFT = Range(
    "the pad over an open hole",
    "lift over the hole's radius",
    0.15,
    2.0,
    "Dalmont et al. 2001, compared with finite elements",
)
PAD = Range(
    "the pad over an open hole",
    "pad over the hole's diameter",
    1.0,
    3.0,
    "Dalmont et al. 2001, within 28 % of finite elements of our own, 2026; wider pads shade more",
)
_HIGHEST_KA = 3.5


@lru_cache(maxsize=1)
def _unflanged_tables() -> tuple[BSpline, BSpline]:
    """Splines over ka of -ln|R|/(ka)^2 and of the end length over the radius."""
    ka = np.linspace(0.0, _HIGHEST_KA, 141)
    node, weight = np.polynomial.legendre.leggauss(120)
    theta, weight = np.pi / 4.0 * (node + 1.0) ** 2 / 2.0, np.pi / 4.0 * weight * (node + 1.0)
    x = np.maximum(ka, 1e-6)[:, None] * np.sin(theta)
    phase = np.arctan2(jv(1, x), -yv(1, x))
    loss = 2.0 / np.pi * np.sum(weight * phase / x, axis=1) / np.maximum(ka, 1e-6)
    near = np.sum(weight * np.log(np.pi * jv(1, x) * np.hypot(jv(1, x), yv(1, x))) / x, axis=1)
    edges = np.linspace(-16.0, 18.0, 35)
    node, weight = np.polynomial.legendre.leggauss(12)
    step = edges[1] - edges[0]
    u = (edges[:-1, None] + step * (node + 1.0) / 2.0).ravel()
    weight = np.tile(weight * step / 2.0, len(edges) - 1)
    far = np.log(0.5 / (ive(1, np.exp(u)) * kve(1, np.exp(u))))
    far = np.sum(weight * far / np.hypot(np.exp(u), ka[:, None]), axis=1)
    return make_interp_spline(ka, loss, k=5), make_interp_spline(ka, (near + far) / np.pi, k=5)


def unflanged(ka):
    """Plane-wave reflection at the open end of a thin-walled round pipe.

    Parameters
    ----------
    ka : array, 0 to 3
        Wave number times radius.

    Returns
    -------
    modulus : array
        |R|
    length : array
        End length over the radius; R = -|R| exp(-2 j k length).

    Notes
    -----
    The published integrals, evaluated by Gauss quadrature once and kept as a spline.  The low limit
    of the length is 0.6127; the often printed 0.6133 is 0.0006 higher.

    References
    ----------
    H. Levine and J. Schwinger, Phys. Rev. 73, 383 (1948), eqs. VI.4 and VI.5.
    """
    ka = np.asarray(ka, float)
    UNFLANGED_KA.check(ka, "open end")
    loss, length = _unflanged_tables()
    inside = np.minimum(ka, _HIGHEST_KA)
    return np.exp(-loss(inside) * ka**2), length(inside)


def end_length_with_wall(bore_over_outer):
    """Low-frequency end length over the radius of an end whose wall has a thickness.

    Parameters
    ----------
    bore_over_outer : array, 0 to 1
        Inside over outside diameter: 1 is a thin wall (0.6127), 0 an infinite flange (0.8216).

    References
    ----------
    J.-P. Dalmont, C. J. Nederveen and N. Joly, J. Sound Vib. 244, 505 (2001), eq. 48 (number from
    memory).
    """
    ratio = np.asarray(bore_over_outer, float)
    thin = float(_unflanged_tables()[1](0.0))
    return 0.8216 + ratio * (thin - 0.8216) + 0.057 * ratio * (1.0 - ratio**5)


def pad_length(radius, wall, pad_radius, lift):
    """End length that a disc over an open end adds, same unit as the arguments.

    Parameters
    ----------
    radius, wall : array
        Inside radius and thickness of the wall around the end.
    pad_radius, lift : array
        Radius of the disc and its height above the end, lift above 0.

    Notes
    -----
    Within 8 % of finite elements for walls of up to half a radius and lift/radius 0.15 to 1; above that the term
    itself is small.  Where the wall is as wide as the pad, as on a key's seat, within 28 % for pads of up to 3
    radii, 17 % for lifts from 0.3: mostly too short, at the usual lifts of 0.6 to 1 by 0.01 to 0.04 radii.

    References
    ----------
    J.-P. Dalmont, C. J. Nederveen and N. Joly, J. Sound Vib. 244, 505 (2001); from memory,
    confirmed by finite elements.
    """
    gap = lift / radius
    return radius / (3.5 * gap**0.8 * (gap + 3.0 * wall / radius) ** -0.4 + 30.0 * (lift / pad_radius) ** 2.6)


def hole_in_body_length(radius, body_radius):
    """End length of an open hole in the side of a round body, same unit as the arguments.

    Counted from the plane that touches the body over the hole.  Within 0.017 of the radius of
    finite elements up to radius/body_radius = 0.7.

    References
    ----------
    J.-P. Dalmont, C. J. Nederveen and N. Joly, J. Sound Vib. 244, 505 (2001); from memory,
    confirmed by finite elements.
    """
    return radius * (0.822 - 0.47 * (np.asarray(radius, float) / body_radius) ** 0.8)


def foot_impedance(bore_radius, outer_radius, omega, gas: Gas, gap=None):
    """Radiation impedance of the foot of a pipe.

    Parameters
    ----------
    bore_radius, outer_radius : float
        [m]
    omega : array (f,)
        [rad/s]
    gas : Gas
    gap : float, optional
        Distance to the leg [m]; None is off the knee.  The leg is taken as a flat disc as wide as
        the foot.

    Returns
    -------
    complex array (f,) [Pa s m-3]

    Notes
    -----
    Modulus and frequency dependence are those of a thin wall; the wall scales the end length by its
    low-frequency limit, and a gap adds its own.  A rush that reaches the foot is not seen here.
    """
    WALL_RATIO.check(bore_radius / outer_radius, "foot")
    ka = omega / gas.sound_speed * bore_radius
    modulus, thin = unflanged(ka)
    length = thin * end_length_with_wall(bore_radius / outer_radius) / end_length_with_wall(1.0)
    if gap is not None:
        LIFT.check(gap / bore_radius, "foot")
        PAD.check(outer_radius / bore_radius, "foot")
        length = length + pad_length(bore_radius, outer_radius - bore_radius, outer_radius, gap) / bore_radius
    reflection = -modulus * np.exp(-2j * ka * length)
    return gas.density * gas.sound_speed / (np.pi * bore_radius**2) * (1.0 + reflection) / (1.0 - reflection)


def mouth_impedance(radius, length, omega, gas: Gas):
    """Radiation impedance of a small opening into free air, low frequency.

    Parameters
    ----------
    radius, length : array (...)
        Of the opening and its whole outer length [m].
    omega : array (f,)

    Returns
    -------
    complex array (..., f) [Pa s m-3]

    Notes
    -----
    The resistance is that of a small source in free space, rho omega^2 / (4 pi c): body and wave
    length compare as 1 to 10 or more.
    """
    radius, length = np.asarray(radius, float)[..., None], np.asarray(length, float)[..., None]
    resistance = gas.density * omega**2 / (4.0 * np.pi * gas.sound_speed)
    return resistance + 1j * omega * gas.density * length / (np.pi * radius**2)
