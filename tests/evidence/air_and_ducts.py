"""Rows on air, straight ducts, cones and steps of the bore."""

from __future__ import annotations

import mpmath
import numpy as np
from scipy.optimize import brentq
from scipy.special import ellipe

from acoustics.physics.air import AIR_TEMPERATURE, Air
from acoustics.physics.ducts import loss_function, per_length
from acoustics.physics.network import input_impedance
from acoustics.physics.radiation import foot_impedance
from acoustics.physics.steps import step_length
from acoustics.pipes.staple import Staple
from acoustics.units import cents
from tests.physics.simple import DRY, LOSSLESS, REFERENCE, Tube, apart, cone, cylinder
from tests.physics.tubes import lossy_peaks, top, whole
from tests.published import table
from tests.references import axisymmetric, cone_roots, edge_modes, kirchhoff
from tests.references.air_coolprop import humid_air

from . import row

STATES = [(t, h) for t in (0.0, 10.0, 20.0, 30.0) for h in (0.0, 0.5, 1.0)]
COOLPROP = "CoolProp (equation of state), 0 to 30 °C, dry to saturated"
CONE = (2.3e-3, 6.2e-3, 0.4)
APEX = cone_roots.apex_distances(*CONE)
F = np.geomspace(20.0, 6000.0, 48)
ROUND = "round, below the first cross mode"


def per_cent(here: str, there: str) -> float:
    """Largest relative distance over the states of air [%]."""
    return 100 * max(abs(getattr(Air(t, h), here) / getattr(humid_air(t, h), there) - 1) for t, h in STATES)


@row("air: sound speed", "polynomial", "Cramer 1993", AIR_TEMPERATURE, COOLPROP, "%", 0.02)
def _():
    return per_cent("sound_speed", "c")


@row("air: density", "CIPM-2007", "Picard et al. 2008", AIR_TEMPERATURE, COOLPROP, "%", 0.01)
def _():
    return per_cent("density", "rho")


@row("air: viscosity", "ISO 2533 and vapour, mixed", "Wilke 1950; IAPWS 2008", AIR_TEMPERATURE, COOLPROP, "%", 1.7)
def _():
    return per_cent("viscosity", "mu")


@row(
    "air: heat conduction", "ISO 2533 and vapour, mixed", "Wilke 1950; IAPWS 2011", AIR_TEMPERATURE, COOLPROP, "%", 1.9
)
def _():
    return per_cent("thermal_conductivity", "k")


@row("air: heat capacity", "weighted by mass", "from memory", AIR_TEMPERATURE, COOLPROP, "%", 0.25)
def _():
    return per_cent("heat_capacity", "cp")


@row("air: ratio of heat capacities", "polynomial", "Cramer 1993", AIR_TEMPERATURE, COOLPROP, "%", 0.07)
def _():
    return per_cent("heat_capacity_ratio", "gamma")


@row("air: Prandtl number", "from the three above", "definition", AIR_TEMPERATURE, COOLPROP, "%", 0.6)
def _():
    return per_cent("prandtl", "prandtl")


@row("air: vapour", "saturation and enhancement", "Picard et al. 2008", AIR_TEMPERATURE, COOLPROP, "share", 2e-5)
def _():
    return max(abs(Air(t, h).vapour_fraction - humid_air(t, h).vapour_fraction) for t, h in STATES)


@row("air: standard atmosphere", "all of the above", "as above", "15 °C, dry", "ISO 2533 sea level: speed", "%", 0.05)
def _():
    return 100 * abs(Air(15.0, 0.0).sound_speed / table("isa")["sound_speed"][0] - 1)


@row(
    "air: what warmth does to pitch",
    "sound speed",
    "Cramer 1993",
    AIR_TEMPERATURE,
    f"{COOLPROP}, from 20 °C",
    "cents",
    0.15,
)
def _():
    start = humid_air(20.0, 0.0).c, Air(20.0, 0.0).sound_speed
    pairs = [(cents(humid_air(*s).c, start[0]), cents(Air(*s).sound_speed, start[1])) for s in STATES]
    return max(abs(there - here) for there, here in pairs)


@row(
    "wall losses: their function", "spline of Bessel functions", "Zwikker and Kosten 1949", "any radius and frequency",
    "mpmath, 30 digits", "relative", 1e-12,
)  # fmt: skip
def _():
    x = np.geomspace(1e-2, 1e3, 120)
    with mpmath.workdps(30):
        z = [mpmath.mpf(value) * mpmath.exp(-0.25j * mpmath.pi) for value in x]
        exact = np.array([complex(2 * mpmath.besselj(1, v) / (v * mpmath.besselj(0, v))) for v in z])
    return apart(loss_function(x), exact)


def _tabled():
    t = table("duct_constants")
    radius, omega = t["radius_mm"] * 1e-3, 2 * np.pi * t["frequency"]
    z, y = (np.diagonal(v) for v in per_length(np.pi * radius**2, 2 * np.pi * radius, omega, DRY))
    return t, omega, z, y


@row(
    "wall losses: impedance per length", "viscous and thermal layers", "Zwikker and Kosten 1949", ROUND,
    "table recomputed, 6 digits", "%", 5e-4,
)  # fmt: skip
def _():
    t, _, z, y = _tabled()
    return 100 * max(apart(z, t["z_real"] + 1j * t["z_imag"]), apart(y, t["y_real"] + 1j * t["y_imag"]))


@row(
    "wall losses: attenuation", "viscous and thermal layers", "Zwikker and Kosten 1949", ROUND,
    "Kirchhoff 1868, his whole equation", "%", 0.03,
)  # fmt: skip
def _():
    t, _, z, y = _tabled()
    return 100 * float(np.max(np.abs(np.sqrt(z * y).real / t["alpha_kirchhoff"] - 1)))


@row(
    "wall losses: sound speed in the duct", "viscous and thermal layers", "Zwikker and Kosten 1949", ROUND,
    "table recomputed from the source", "%", 1e-4,
)  # fmt: skip
def _():
    t, omega, z, y = _tabled()
    return 100 * float(np.max(np.abs(omega / np.sqrt(z * y).imag / t["phase_velocity"] - 1)))


def _cylinder(foot):
    load = np.inf if foot == "shut" else foot_impedance(4e-3, 4e-3, 2 * np.pi * F, DRY)
    exact = kirchhoff.seen_through(kirchhoff.cylinder(4e-3, 0.4, F, REFERENCE), load)
    return apart(input_impedance(cylinder(8, 400), F, foot=foot, air=DRY), exact)


@row("cylinder, shut", "lossy line", "Zwikker and Kosten 1949", ROUND, "closed form", "relative", 1e-10)
def _():
    return _cylinder("shut")


@row("cylinder, open", "lossy line", "Zwikker and Kosten 1949", ROUND, "closed form", "relative", 1e-10)
def _():
    return _cylinder("open")


@row(
    "chain of cylinders with steps",
    "two-ports in a row",
    "Kergomard and Garcia 1987",
    ROUND,
    "closed form",
    "relative",
    1e-10,
)
def _():
    tube = Tube(((0, 5), (120, 5), (120, 8.4), (250, 8.4), (250, 6), (400, 6)))

    def step(narrow, wide):
        one, zero = np.ones(F.shape), np.zeros(F.shape)
        return one, 2j * np.pi * F * REFERENCE.rho * step_length(narrow, wide) / (np.pi * narrow**2), zero, one

    ducts = [
        kirchhoff.cylinder(r, length, F, REFERENCE) for r, length in ((2.5e-3, 0.12), (4.2e-3, 0.13), (3e-3, 0.15))
    ]
    chain = kirchhoff.chain(ducts[0], step(2.5e-3, 4.2e-3), ducts[1], step(3e-3, 4.2e-3), ducts[2])
    return apart(input_impedance(tube, F, foot="shut", air=DRY), kirchhoff.seen_through(chain, np.inf))


def _cone_modes(near):
    tube = cone(4.6, 12.4, 400)
    return np.array([brentq(lambda f: whole(tube, [f], LOSSLESS)[1, 1, 0].real, r * 0.995, r * 1.005) for r in near])


MAGNUS = "slices of 8 mm, fourth order"


@row(
    "cone, no losses: modes",
    MAGNUS,
    "Blanes et al. 2009",
    ROUND,
    "roots of the horn equation (Nederveen 1969)",
    "cents",
    0.01,
)
def _():
    exact = cone_roots.closed_open(*APEX, DRY.sound_speed, 4)
    return float(np.max(np.abs(cents(_cone_modes(exact), exact))))


@row("cone, no losses: modes", MAGNUS, "Blanes et al. 2009", ROUND, "finite elements (scikit-fem)", "cents", 0.01)
def _():
    elements = axisymmetric.flat_ended_modes(*CONE, DRY.sound_speed) / axisymmetric.flat_end_factor(*CONE)
    return float(np.max(np.abs(cents(_cone_modes(elements), elements))))


@row("cone, no losses: two-port", MAGNUS, "Blanes et al. 2009", ROUND, "spherical waves, closed form", "relative", 1e-4)
def _():
    f = np.linspace(50, 2000, 40)
    exact = np.array(cone_roots.two_port(*APEX, np.pi * CONE[0] ** 2, f, DRY.density, DRY.sound_speed))
    zc = DRY.density * DRY.sound_speed / (np.pi * CONE[0] * CONE[1])
    scale = np.array([[1, zc], [1 / zc, 1]])[:, :, None]
    return float(np.max(np.abs(whole(cone(4.6, 12.4, 400), f, LOSSLESS) - exact.reshape(2, 2, -1)) / scale))


def _staircase():
    """((frequency, height) here, (the same) of 2000 cylinders) of the first four peaks of a lossy cone."""
    t = table("lossy_peaks")
    found = []
    for at in np.flatnonzero(t["object"] == "frustum"):
        f = t["frequency"][at] * (1 + np.linspace(-0.12, 0.12, 25) / t["q"][at])
        load = foot_impedance(CONE[1], CONE[1], 2 * np.pi * f, DRY)
        exact = kirchhoff.staircase_cone(*CONE, 2000, f, REFERENCE, load)
        found.append((top(f, np.abs(input_impedance(cone(4.6, 12.4, 400), f, air=DRY))), top(f, np.abs(exact))))
    return found


@row("cone with losses: peaks", MAGNUS, "Zwikker and Kosten 1949", ROUND, "staircase of 2000 cylinders", "cents", 0.02)
def _():
    return max(abs(float(cents(here[0], there[0]))) for here, there in _staircase())


@row(
    "cone with losses: height of peaks",
    MAGNUS,
    "Zwikker and Kosten 1949",
    ROUND,
    "staircase of 2000 cylinders",
    "%",
    0.01,
)
def _():
    return 100 * max(abs(here[1] / there[1] - 1) for here, there in _staircase())


def _published(name, of):
    """Frequency (0) or height (1) of the peaks of an object, here and in the table."""
    rows, found = zip(*((row, top(f, z)[of]) for row, f, z in lossy_peaks(name)), strict=True)
    return np.array(found), table("lossy_peaks")["frequency" if of == 0 else "abs_z"][list(rows)]


STAIRS = "table of stepped cylinders, 1600 slices"


@row("staircase: cone of the tables", MAGNUS, "Zwikker and Kosten 1949", ROUND, STAIRS, "cents", 0.02)
def _():
    return float(np.max(np.abs(cents(*_published("frustum", 0)))))


@row("staircase: bassoon-like cone", MAGNUS, "dimensions of Nederveen 2019", ROUND, STAIRS, "cents", 0.05)
def _():
    return float(np.max(np.abs(cents(*_published("bassoon_cone", 0)))))


@row("staircase: height of peaks", MAGNUS, "Zwikker and Kosten 1949", ROUND, STAIRS, "%", 0.05)
def _():
    here, there = _published("frustum", 1)
    return 100 * float(np.max(np.abs(here / there - 1)))


@row("convergence of the slices", MAGNUS, "Blanes et al. 2009", ROUND, "order 4, slices halved twice", "order", 0.1)
def _():
    f, tube = np.array([300.0, 1000.0, 2000.0]), cone(4.6, 12.4, 400)
    fine = whole(tube, f, DRY, 0.5)
    errors = [np.linalg.norm((whole(tube, f, DRY, size) - fine)[0, 0]) for size in (25.0, 12.5, 6.25)]
    return float(np.max(np.abs(np.log2(np.divide(errors[:-1], errors[1:])) - 4)))


@row(
    "step of the bore: inertance",
    "fit",
    "Kergomard and Garcia 1987",
    "ratio of radii to 0.7",
    "mode matching, edge built in",
    "narrow radius",
    1.3e-3,
)
def _():
    t = table("step_inertance")
    low = t["alpha"] < 0.75
    return float(np.max(np.abs(step_length(t["alpha"], 1.0) / t["alpha"] - t["edge_mode_matching"])[low]))


@row(
    "step of the bore: inertance",
    "fit",
    "Kergomard and Garcia 1987",
    "ratio of radii 0.7",
    "finite elements (scikit-fem)",
    "narrow radius",
    1.3e-3,
)
def _():
    return abs(float(step_length(3.5, 5.0)) / 3.5 - axisymmetric.step_inertance(3.5, 5.0))


@row(
    "step in a pipe: a mode",
    "inertance between ducts",
    "Kergomard and Garcia 1987",
    ROUND,
    "two cylinders and mode matching by hand",
    "cents",
    0.02,
)
def _():
    added = edge_modes.step_inertance(7.0, 10.0) * 3.5e-3 / (np.pi * 3.5e-3**2)
    tube = Tube(((0, 7), (150, 7), (150, 10), (400, 10)))

    def by_hand(f):
        f = np.atleast_1d(f)
        one = np.ones_like(f)
        ducts = [kirchhoff.cylinder(d / 2e3, length, f, REFERENCE) for d, length in ((7, 0.15), (10, 0.25))]
        step = (one, 2j * np.pi * f * REFERENCE.rho * added, 0 * one, one)
        return kirchhoff.seen_through(kirchhoff.chain(ducts[0], step, ducts[1]), np.inf).imag

    near = np.linspace(380.0, 480.0, 400)
    at = near[np.flatnonzero(np.diff(np.sign(by_hand(near))))][0]
    here = brentq(lambda f: input_impedance(tube, f, foot="shut", air=DRY).imag, at - 1, at + 1, xtol=1e-10)
    return abs(float(cents(here, brentq(lambda f: by_hand(f)[0], at - 1, at + 1, xtol=1e-10))))


EYE = Staple(length_mm=50.0, foot_mm=4.9, tip_mm=3.8, insertion_mm=26.0, eye_opening_mm=1.7, flattened_mm=22.0)


@row(
    "staple: pressed eye's axes",
    "ellipse of the rolled perimeter",
    "Abramowitz and Stegun 1964",
    "any pressed eye",
    "elliptic integral (scipy)",
    "relative",
    1e-9,
)
def _():
    x = np.linspace(0.0, 21.0, 40)
    short, long = EYE.axes_mm(x)
    return apart(2 * long * ellipe(1 - (short / long) ** 2), np.pi * (3.8 + 1.1 * x / 50.0))


def _slow(area, perimeter):
    return float(per_length(area, perimeter, np.array([2 * np.pi * 1e-3]), DRY)[0].real[0])


@row(
    "staple: loss in the pressed eye",
    "hydraulic radius",
    "thin layers exact",
    "eye 1.7 by 5.4 mm",
    "slow flow through an ellipse, exact",
    "%",
    11.0,
)
def _():
    short, long = (float(v[0]) * 1e-3 for v in EYE.axes_mm(np.array([0.0])))
    a, b = long / 2, short / 2
    exact = 4 * DRY.viscosity * (a**2 + b**2) / (np.pi * a**3 * b**3)
    return 100 * abs(_slow(np.pi * a * b, 2 * long * ellipe(1 - (b / a) ** 2)) / exact - 1)


@row(
    "rush: loss beside a wire on the axis",
    "hydraulic radius",
    "thin layers exact",
    "slow flow, the worst case",
    "flow through a ring, exact",
    "%",
    34.0,
)
def _():
    b, worst = 5e-3, 0.0
    for share in (0.1, 0.3, 0.6):
        a = share * b
        exact = 8 * DRY.viscosity / np.pi / (b**4 - a**4 - (b**2 - a**2) ** 2 / np.log(b / a))
        worst = max(worst, abs(_slow(np.pi * (b**2 - a**2), 2 * np.pi * (a + b)) / exact - 1))
    return 100 * worst


@row(
    "rush: thin layers, any shape",
    "perimeter over area",
    "boundary layers",
    "layer thin beside the duct",
    "limit of a thin layer",
    "%",
    0.2,
)
def _():
    area, perimeter, worst = np.pi / 4 * 0.06, 0.6, 0.0
    omega = np.array([2 * np.pi * 1000.0])
    z, _ = per_length(area, perimeter, omega, DRY)
    layer = perimeter / area * np.sqrt(DRY.viscosity / DRY.density / (1j * omega))
    worst = apart(1 - 1j * omega * DRY.density / area / z, layer)
    return 100 * worst
