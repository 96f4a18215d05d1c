"""Rows on bends and bridges, and on the other published models of holes."""

from __future__ import annotations

import numpy as np

from acoustics.physics.bends import (
    BEND_CURVATURE,
    BRIDGE_SPACING,
    bend,
    bridge,
    bridge_lengths,
    inertance_ratio,
    joint_length,
)
from acoustics.physics.rivals import (
    DUBOS_RATIO,
    KEEFE_RATIO,
    NEDERVEEN_RATIO,
    inner_length_dubos,
    inner_length_keefe,
    inner_length_nederveen,
)
from tests.physics.simple import LOSSLESS
from tests.published import table

from . import row

SOLID = "finite elements in three dimensions"
RADIUS = 3.5e-3


@row(
    "bend: inertance",
    "shorter way inside",
    "Nederveen 1969",
    BEND_CURVATURE,
    "closed form, printed table",
    "relative",
    1e-6,
)
def _():
    t = table("bend")
    return float(np.max(np.abs(inertance_ratio(t["bore_radius_mm"] / t["bend_radius_mm"]) - t["inertance_ratio"])))


@row("bend: joint with a straight tube", "fit", "no published source", BEND_CURVATURE, SOLID, "%", 0.5)
def _():
    t = table("bend_joint")
    return 100 * float(np.max(np.abs(joint_length(t["curvature"], 1.0) / t["curvature"] / t["joint_3"] - 1)))


@row("bridge of two bores: inertance", "fit", "no published source", BRIDGE_SPACING, SOLID, "%", 0.5)
def _():
    t = table("bridge_sweep")
    return 100 * float(np.max(np.abs(bridge_lengths(1.0, t["spacing"])[0] / t["inertance"] - 1)))


def _phase_length(what, port):
    """Largest error of the phase length [mm] against the Helmholtz finite elements."""
    t = table("turns_helmholtz")
    at = t["what"] == what
    omega = 2 * np.pi * t["frequency_hz"][at]
    length = np.arccos(port(omega)[0, 0].real) * LOSSLESS.sound_speed / omega * 1e3
    return float(np.max(np.abs(length - t["phase_length"][at])))


HELMHOLTZ = "finite elements of sound, to 1 kHz"


@row("bend of 180°: acoustic length", "bend with joints", "as above", BEND_CURVATURE, HELMHOLTZ, "mm", 0.02)
def _():
    return _phase_length("bend", lambda omega: bend(RADIUS, 10e-3, np.pi, omega, LOSSLESS))


@row("bridge: acoustic length", "two corners", "as above", BRIDGE_SPACING, HELMHOLTZ, "mm", 0.02)
def _():
    return _phase_length("bridge", lambda omega: bridge(RADIUS, 9e-3, 10e-3, omega, LOSSLESS))


def _inner(length, inside):
    t = table("tone_hole_elements")
    opened = t["ts_over_b"] + t["ta_open"] * t["delta"] ** 4 / 4
    off = np.abs(length(t["delta"], 1.0) / t["delta"] - opened)
    return float(np.max(off[(t["delta"] >= inside.low - 1e-9) & (t["delta"] <= inside.high + 1e-9)]))


@row(
    "not used: inner length of Nederveen",
    "Nederveen's formula",
    "Nederveen et al. 1998",
    NEDERVEEN_RATIO,
    SOLID,
    "hole radius",
    0.033,
)
def _():
    return _inner(inner_length_nederveen, NEDERVEEN_RATIO)


@row(
    "not used: inner length of Dubos", "Dubos's formula", "Dubos et al. 1999", DUBOS_RATIO, SOLID, "hole radius", 0.026
)
def _():
    return _inner(inner_length_dubos, DUBOS_RATIO)


@row(
    "not used: open length of Keefe",
    "Keefe's formula",
    "Keefe 1990",
    KEEFE_RATIO,
    "finite elements in three dimensions, bodies 1.4 to 3 times the bore",
    "hole radius",
    0.11,
)
def _():
    bodies = np.linspace(1.4, 3.0, 9)
    return max(_inner(lambda b, a, body=body: inner_length_keefe(b, a, body), KEEFE_RATIO) for body in bodies)
