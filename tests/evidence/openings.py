"""Rows on open ends, pads and tone holes."""

from __future__ import annotations

import numpy as np
from scipy.optimize import brentq

from acoustics.physics.lattice import cutoff_frequency
from acoustics.physics.network import input_impedance
from acoustics.physics.radiation import (
    HOLE_IN_BODY,
    LIFT,
    PAD,
    UNFLANGED_KA,
    WALL_RATIO,
    end_length_with_wall,
    foot_impedance,
    hole_in_body_length,
    mouth_impedance,
    pad_length,
    unflanged,
)
from acoustics.physics.toneholes import (
    HOLE_RATIO,
    OPEN_WALL,
    SHUT_WALL,
    arrange,
    hole_twoports,
    inner_length,
    matching_length,
    series_length_open,
    series_length_shut,
    shunt_length,
)
from acoustics.physics.twoport import fold
from acoustics.pipes.holes import ToneHole
from tests.physics.simple import DRY, LOSSLESS, REFERENCE, apart, cylinder, side
from tests.physics.test_tonehole_fields import CUT as CUTS
from tests.physics.test_tonehole_fields import ROWS, undercut_series, undercut_shunt
from tests.published import table
from tests.references import axisymmetric, edge_modes, kirchhoff, levine_schwinger

from . import row

KA = np.array([1e-3, 0.01, 0.033, 0.1, 0.27, 0.5, 0.77, 1.0, 1.23, 1.5])
LOW = np.array([2 * np.pi * 20.0])
FIELDS = "finite elements (Laplace, low frequency)"
SOLID = "finite elements in three dimensions"


@row(
    "thin open end: reflection",
    "integrals",
    "Levine and Schwinger 1948",
    UNFLANGED_KA,
    "adaptive integration",
    "%",
    1e-5,
)
def _():
    return 100 * float(np.max(np.abs(unflanged(KA)[0] / levine_schwinger.reflection(KA) - 1)))


@row(
    "thin open end: end length",
    "integrals",
    "Levine and Schwinger 1948",
    UNFLANGED_KA,
    "adaptive integration",
    "radius",
    1e-5,
)
def _():
    return float(np.max(np.abs(unflanged(KA)[1] - levine_schwinger.end_correction(KA))))


@row(
    "thin open end: end length",
    "integrals",
    "Levine and Schwinger 1948",
    UNFLANGED_KA,
    "fit of Silva et al. 2009",
    "radius",
    0.008,
)
def _():
    return float(np.max(np.abs(unflanged(KA)[1] - levine_schwinger.silva_fit(KA)[1])))


@row(
    "end in an infinite wall: end length",
    "limit of the wall formula",
    "Dalmont et al. 2001",
    WALL_RATIO,
    "mode matching, edge built in",
    "radius",
    1e-3,
)
def _():
    return abs(float(end_length_with_wall(0.0)) - edge_modes.flanged_end(1e-3)[1])


@row("foot with a finite wall: end length", "interpolation", "Dalmont et al. 2001", WALL_RATIO, FIELDS, "%", 0.5)
def _():
    t = table("finite_wall")
    return 100 * float(np.max(np.abs(end_length_with_wall(t["a_over_b"]) / t["fem"] - 1)))


@row(
    "foot with a finite wall: whole impedance",
    "thin wall, lengthened",
    "Dalmont et al. 2001",
    WALL_RATIO,
    FIELDS,
    "%",
    0.5,
)
def _():
    t, radius, ka = table("finite_wall"), 6e-3, 0.01
    worst = 0.0
    for ratio, length in zip(t["a_over_b"], t["fem"], strict=True):
        z = foot_impedance(radius, radius / ratio, np.array([ka * DRY.sound_speed / radius]), DRY)[0]
        z = z * np.pi * radius**2 / (DRY.density * DRY.sound_speed)
        worst = max(worst, abs(-np.angle(-(z - 1) / (z + 1)) / (2 * ka) / length - 1))
    return 100 * worst


@row(
    "lifted pad over a thin wall: what it adds",
    "fit",
    "Dalmont et al. 2001",
    LIFT,
    f"{FIELDS}, lift to 1 radius",
    "%",
    8.0,
)
def _():
    t = table("pad_over_end")
    extra = pad_length(1.0, t["wall_over_a"], t["pad_radius_over_a"], t["height_over_a"])
    near = t["height_over_a"] <= 1.0
    return 100 * float(np.max(np.abs(extra / t["fem_extra"] - 1)[near]))


@row(
    "pad over a key's seat as wide as itself",
    "fit",
    "Dalmont et al. 2001",
    PAD,
    f"{FIELDS}, lift 0.15 radii",
    "%",
    30.0,
)
def _():
    pad, lift = PAD.high, LIFT.low
    extra = axisymmetric.end_length(pad - 1.0, pad, lift) - axisymmetric.end_length(pad - 1.0)
    return 100 * abs(pad_length(1.0, pad - 1.0, pad, lift) / extra - 1)


@row("lifted pad: high lift", "fit", "Dalmont et al. 2001", LIFT, f"{FIELDS}, lift of 2 radii", "radius", 2e-3)
def _():
    t = table("pad_over_end")
    extra = pad_length(1.0, t["wall_over_a"], t["pad_radius_over_a"], t["height_over_a"])
    return float(np.max(np.abs(extra - t["fem_extra"])[t["height_over_a"] > 1.0]))


@row("open hole in a round body: outer length", "fit", "Dalmont et al. 2001", HOLE_IN_BODY, SOLID, "hole radius", 0.017)
def _():
    t = table("hole_in_body")
    share = t["b_over_body_radius"]
    return float(np.max(np.abs(hole_in_body_length(share, 1.0) / share - t["fem_tangent_plane"])[share < 0.75]))


@row(
    "open hole: radiated power",
    "small source",
    "Rayleigh 1896",
    "small beside the wave",
    "Levine and Schwinger 1948 at ka 0.05",
    "%",
    0.3,
)
def _():
    radius, omega = 6e-3, np.array([0.05]) * DRY.sound_speed / 6e-3
    theirs = levine_schwinger.impedance([0.05]).real * DRY.density * DRY.sound_speed / (np.pi * radius**2)
    return 100 * apart(mouth_impedance([radius], [0.7 * radius], omega, DRY)[0].real, theirs)


def _inner(series_length, printed, t=None):
    t = t or table("tone_hole_elements")
    d, wall = t["delta"], t["t_over_b"] * t["delta"]
    here = shunt_length(inner_length(d, 1.0), series_length(d, 1.0, wall), d, 1.0)
    return float(np.max(np.abs(here / d - printed(t))))


@row("hole: inner length, open", "polynomial", "Lefebvre and Scavone 2012", SHUT_WALL, SOLID, "hole radius", 0.01)
def _():
    return _inner(series_length_open, lambda t: t["ts_over_b"] + t["ta_open"] * t["delta"] ** 4 / 4)


@row("hole: inner length, shut", "polynomial", "Lefebvre and Scavone 2012", SHUT_WALL, SOLID, "hole radius", 0.01)
def _():
    return _inner(series_length_shut, lambda t: t["ti_over_b"])


OWN_MESH = "the same fields from the project's own mesh"


@row("hole: inner length", "polynomial", "Lefebvre and Scavone 2012", SHUT_WALL, OWN_MESH, "hole radius", 0.01)
def _():
    t = table("tone_hole_fields")
    return max(
        _inner(series_length_open, lambda _: t["ts_over_b"] + t["ta_open"] * t["delta"] ** 4 / 4, t),
        _inner(series_length_shut, lambda _: t["ts_over_b"] + t["ta_closed"] * t["delta"] ** 4 / 4, t),
    )


@row("hole: series length", "fit", "Lefebvre and Scavone 2012", OPEN_WALL, OWN_MESH, "%", 5.0)
def _():
    t = table("tone_hole_fields")
    shut = _series(series_length_shut, "ta_closed", lambda wall: wall >= 1.0, t)
    return max(shut, _series(series_length_open, "ta_open", lambda wall: wall >= 1.0, t))


@row("hole: matching length", "fit", "Nederveen et al. 1998", HOLE_RATIO, f"{SOLID}, volume", "%", 1.2)
def _():
    t = table("tone_hole_elements")
    return 100 * float(np.max(np.abs(matching_length(t["delta"], 1.0) / t["delta"] / t["tm_over_b"] - 1)))


def _series(function, column, keep, t=None):
    t = t or table("tone_hole_elements")
    d, wall = t["delta"], t["t_over_b"]
    here = -function(d, 1.0, wall * d) / d**5
    return 100 * float(np.max(np.abs(here / t[column] - 1)[keep(wall)]))


@row("hole: series length, open", "fit", "Lefebvre and Scavone 2012", OPEN_WALL, SOLID, "%", 5.0)
def _():
    return _series(series_length_open, "ta_open", lambda wall: wall >= 1.0)


@row("hole: series length, shut", "fit", "Lefebvre and Scavone 2012", OPEN_WALL, SOLID, "%", 5.0)
def _():
    return _series(series_length_shut, "ta_closed", lambda wall: wall >= 1.0)


@row("hole: series length, shut, thin wall", "fit", "Lefebvre and Scavone 2012", SHUT_WALL, SOLID, "%", 10.0)
def _():
    return _series(series_length_shut, "ta_closed", lambda wall: wall < 1.0)


def port(share, omega, gas, bore, diameter, wall, body, **more):
    """What the bore sees of one round hole, (2, 2, f), lengths in mm."""
    holes = arrange((side(ToneHole("h", 200.0, diameter, **more), wall, bore, body),))
    chimneys = fold(holes.chimneys.each(omega, gas), holes.chimneys.counts)
    return hole_twoports(holes, np.array([0]), np.array([share]), chimneys, omega, gas)[:, :, 0]


def _worked():
    t = table("worked_holes")
    return [{name: column[i] for name, column in t.items()} for i in range(len(t["te"]))]


def _unit(radius_mm):
    return LOW[0] * DRY.density / (np.pi * (radius_mm * 1e-3) ** 2)


HAND = "three worked holes, by hand"


@row(
    "whole open hole: effective length",
    "T of lengths",
    "Lefebvre and Scavone 2012; Dalmont et al. 2001",
    HOLE_RATIO,
    HAND,
    "%",
    0.1,
)
def _():
    worst = 0.0
    for h in _worked():
        one = port(1.0, LOW, LOSSLESS, 2 * h["bore_radius"], 2 * h["hole_radius"], h["depth"], 2 * h["body_radius"])
        worst = max(worst, abs((1 / one[1, 0, 0]).imag / _unit(h["hole_radius"]) * 1e3 / h["te"] - 1))
    return 100 * worst


@row(
    "whole open hole: effective length",
    "T of lengths",
    "Lefebvre and Scavone 2012",
    HOLE_RATIO,
    "the formula of Keefe 1990",
    "%",
    1.5,
)
def _():
    worst = 0.0
    for h in _worked():
        one = port(1.0, LOW, LOSSLESS, 2 * h["bore_radius"], 2 * h["hole_radius"], h["depth"], 2 * h["body_radius"])
        worst = max(worst, abs((1 / one[1, 0, 0]).imag / _unit(h["hole_radius"]) * 1e3 / h["te_keefe"] - 1))
    return 100 * worst


@row("whole shut hole: volume", "chimney and matching length", "Nederveen et al. 1998", HOLE_RATIO, HAND, "mm³", 0.06)
def _():
    worst = 0.0
    for h in _worked():
        one = port(0.0, LOW, LOSSLESS, 2 * h["bore_radius"], 2 * h["hole_radius"], h["depth"], 2 * h["body_radius"])
        volume = one[1, 0, 0].imag / LOW[0] * DRY.density * DRY.sound_speed**2 * 1e9
        worst = max(worst, abs(volume - h["closed_volume"]))
    return worst


@row("whole shut hole: series length", "T of lengths", "Lefebvre and Scavone 2012", SHUT_WALL, HAND, "mm", 1e-4)
def _():
    worst = 0.0
    for h in _worked():
        one = port(0.0, LOW, LOSSLESS, 2 * h["bore_radius"], 2 * h["hole_radius"], h["depth"], 2 * h["body_radius"])
        arm = ((one[0, 0] - 1) / one[1, 0])[0].imag / _unit(h["hole_radius"]) * 2e3
        worst = max(worst, abs(arm - h["ta_closed"]))
    return worst


def _undercut(**cut):
    """(inner correction, series length referred to the bore) of an open hole with and without an undercut [mm]."""
    outside = mouth_impedance(2.8e-3, hole_in_body_length(2.8e-3, 9e-3), LOW, LOSSLESS)[0].imag
    one = port(1.0, LOW, LOSSLESS, 8.0, 5.6, 5.0, 18.0, **cut)
    series = 2 * ((one[0, 0] - 1) / one[1, 0])[0].imag / _unit(4.0)
    return ((1 / one[1, 0, 0]).imag - outside) / _unit(2.8) * 1e3 - 5.0, -series * 1e3


CUT = {"undercut_diameter_mm": 1.3 * 5.6, "undercut_depth_mm": 2.5}
CONE = "cone over half the wall, 1.3 times as wide"


@row("undercut hole: what it takes off the length", "cone in the wall", "own model", CONE, SOLID, "%", 6.0)
def _():
    return 100 * abs((_undercut(**CUT)[0] - _undercut()[0]) / (0.33 - 1.41) - 1)


@row("undercut hole: series length", "cone in the wall", "own model", CONE, SOLID, "%", 2.0)
def _():
    return 100 * abs(_undercut(**CUT)[1] / 0.80 - 1)


CONES = "cones 1.1 to 1.6 times as wide over a quarter to half the wall"


@row("undercut holes: inner length", "cone in the wall", "own model", CONES, OWN_MESH, "hole radius", 0.07)
def _():
    return float(np.max(np.abs([undercut_shunt(i) - CUTS["shunt"][i] for i in ROWS])))


@row("undercut holes: series length, open and shut", "cone in the wall", "own model", CONES, OWN_MESH, "%", 2.0)
def _():
    shares = {"ta_closed": 0.0, "ta_open": 1.0}
    return 100 * max(
        abs(undercut_series(i, share) / CUTS[column][i] - 1) for column, share in shares.items() for i in ROWS
    )


F = np.array([150.0, 400.0, 900.0, 1800.0])


@row(
    "pipe with an open hole",
    "all of the above",
    "as above",
    HOLE_RATIO,
    "cylinders and lengths, by hand",
    "relative",
    1e-10,
)
def _():
    a, b, wall, omega = 5e-3, 3e-3, 4.5e-3, 2 * np.pi * F
    tube = cylinder(10.0, 400.0, side(ToneHole("h", 250.0, 6.0), 4.5, 10.0, 19.0))
    load = mouth_impedance(b, hole_in_body_length(b, 9.5e-3), omega, DRY)
    chimney = kirchhoff.cylinder(b, matching_length(b, a) + wall, F, REFERENCE)
    unit, one = 1j * omega * DRY.density / (np.pi * b**2), np.ones(4)
    series = series_length_open(b, a, wall)
    arm = (one, unit * series / 2, 0 * one, one)
    inner = inner_length(b, a) - (series + 0.29 * b * (b / a) ** 4) / 4
    shunt = (one, 0 * one, 1 / (kirchhoff.seen_through(chimney, load) + unit * inner), one)
    above, below = (kirchhoff.cylinder(a, length, F, REFERENCE) for length in (0.25, 0.15))
    exact = kirchhoff.seen_through(kirchhoff.chain(above, arm, shunt, arm, below), np.inf)
    return apart(input_impedance(tube, F, ["h"], "shut", DRY), exact)


@row(
    "row of open holes: cut-off",
    "close row of holes",
    "Benade 1960",
    "spacing small beside the wave",
    "table, exact coefficient",
    "Hz",
    0.51,
)
def _():
    t = table("cutoff")
    here = cutoff_frequency(7.5e-3, 4e-3, t["te_mm"] * 1e-3, 18e-3, 343.344)
    return float(np.max(np.abs(here - t["exact_coefficient"])))


@row("row of open holes: cut-off", "close row of holes", "Benade 1960", "spacing 9 mm", "exact lattice", "%", 1.0)
def _():
    half, ratio, te = 4.5e-3, 2 / 7.5, 9e-3
    x = brentq(lambda x: x * np.tan(x) - half * ratio**2 / (2 * te), 1e-9, 1.5)
    exact = x * 343.344 / (2 * np.pi * half)
    return 100 * abs(float(cutoff_frequency(7.5e-3, 2e-3, te, 2 * half, 343.344)) / exact - 1)
