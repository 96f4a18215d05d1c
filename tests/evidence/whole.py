"""Rows on the reed's head and on pipes as a whole."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from unittest.mock import patch

import numpy as np
from scipy.optimize import brentq

from acoustics.physics import adjoint
from acoustics.physics.adjoint import bore_gradient, sweep
from acoustics.physics.air import Air
from acoustics.physics.network import at_eye, column, input_impedance, slice_path, states
from acoustics.physics.radiation import foot_impedance
from acoustics.physics.reeds import head, quarter_wave
from acoustics.physics.standing_wave import standing_wave
from acoustics.physics.toneholes import hole_twoports
from acoustics.physics.twoport import apply, determinant, fold
from acoustics.pipes.fingering import TIGHT
from acoustics.pipes.reed import Reed
from acoustics.tuning.resonances import band, find_modes, first_target, lips
from acoustics.tuning.scales import just_scale
from acoustics.units import cents, from_cents
from tests.physics.simple import DRY, LOSSLESS, REFERENCE, Tube, apart, cone, cylinder
from tests.pipes.sample import sample_chanter
from tests.published import table
from tests.references import axisymmetric, cone_roots, kirchhoff, levine_schwinger, network
from tests.tuning.bench import stopped_cone_apart

from . import row

PLAIN = "plane waves, any pipe"
FINGERINGS = [((), "open"), ((), "shut"), (("E", "Eb"), "shut"), ({"A": 0.4, "G": 1.0}, 3.0), (("back D", "B"), "open")]
BAND = np.linspace(100.0, 2500.0, 1000)
SOFT = Reed(length_mm=31.0, area_mm2=11.0, softness=0.6, resonance_hz=1400.0, quality=1000.0)


@row(
    "reed: rigid head",
    "duct",
    "Zwikker and Kosten 1949",
    "softness 0",
    "closed form of a round duct",
    "relative",
    1e-11,
)
def _():
    f = np.array([50.0, 300.0, 900.0, 1250.0, 2300.0])
    rigid = Reed(length_mm=31.0, area_mm2=11.0, softness=0.0)
    exact = np.array(kirchhoff.cylinder(np.sqrt(11e-6 / np.pi), 31e-3, f, REFERENCE)).reshape(2, 2, -1)
    return apart(head(rigid, f, DRY), exact)


@row(
    "reed: limit of slow sound",
    "yielding walls",
    "own model",
    "well below the blades' note",
    "volume times 1 + softness",
    "%",
    1e-3,
)
def _():
    f = np.array([2.0])
    port = head(SOFT, f, LOSSLESS)
    volume = (port[1, 0] / port[0, 0] / (2j * np.pi * f))[0].real * DRY.density * DRY.sound_speed**2
    return 100 * abs(volume * 1e9 / (31.0 * 11.0 * 1.6) - 1)


@row(
    "reed: limit of stiff blades",
    "yielding walls",
    "own model",
    "blades' note far up",
    "quarter wave of the plain duct",
    "%",
    1e-7,
)
def _():
    rigid = Reed(length_mm=31.0, area_mm2=11.0, softness=0.0, resonance_hz=20000.0)
    return 100 * abs(quarter_wave(rigid, DRY) / (DRY.sound_speed / 0.124) - 1)


@row("reed: quarter wave of soft blades", "yielding walls", "own model", "undamped", "root of the two-port", "%", 1e-3)
def _():
    root = brentq(lambda f: head(SOFT, np.array([f]), LOSSLESS)[0, 0, 0].real, 1200.0, 1320.0, xtol=1e-10)
    return 100 * abs(quarter_wave(SOFT, LOSSLESS) / root - 1)


@row(
    "whole chanter: impedance",
    "chain of two-ports",
    "this package",
    PLAIN,
    "scikit-rf, the same parts",
    "relative",
    1e-9,
)
def _():
    frequency, worst = np.linspace(150.0, 1500.0, 20), 0.0
    gas, omega, built = Air().gas, 2 * np.pi * frequency, column(sample_chanter())
    ports = built.bore.each(omega, gas)
    chimneys = fold(built.holes.chimneys.each(omega, gas), built.holes.chimneys.counts)
    for holes, foot in FINGERINGS:
        given = holes if isinstance(holes, dict) else dict.fromkeys(holes, 1.0)
        share = np.array([given.get(name, 0.0) for name in built.holes.names])
        sides = hole_twoports(built.holes, np.arange(len(share)), share, chimneys, omega, gas)
        parts = np.insert(ports, np.cumsum(built.bore.counts)[:-1], sides, axis=2)
        gap = None if foot == "open" else foot
        load = np.inf if foot == "shut" else foot_impedance(*built.foot_radii, omega, gas, gap and gap * 1e-3)
        theirs = network.cascade_input_impedance(*parts.reshape(4, -1, len(omega)), load, frequency, 1e7)
        worst = max(worst, apart(input_impedance(sample_chanter(), frequency, holes, foot), theirs))
    return worst


@row(
    "whole chanter: interpolated impedance",
    "polynomial in root of frequency",
    "Berrut and Trefethen 2004",
    "100 to 2500 Hz",
    "each frequency alone",
    "relative",
    1e-7,
)
def _():
    worst = 0.0
    for holes, foot in FINGERINGS:
        together = input_impedance(sample_chanter(), BAND, holes, foot)
        alone = [input_impedance(sample_chanter(), part, holes, foot) for part in np.split(BAND, 100)]
        worst = max(worst, apart(together, np.concatenate(alone)))
    return worst


@row(
    "staple and bore together: modes",
    "slices of 8 mm",
    "Blanes et al. 2009",
    "round staple, no losses",
    "finite elements (scikit-fem)",
    "cents",
    0.3,
)
def _():
    """Staple 3.8 to 4.9 mm over 50 mm, then a cone to 12.9 over 330, no pressure at the foot, driven at the eye."""
    stations = ((0.0, 3.8), (50.0, 4.9), (380.0, 12.9))
    path = Tube(stations).path

    def here(f):
        slices = slice_path(path, [])
        port = fold(slices.each(np.array([2 * np.pi * f]), LOSSLESS), slices.counts)[:, :, 0, 0]
        return (port[1, 1] / port[0, 1]).imag

    metres = [(x * 1e-3, d / 2e3) for x, d in stations]

    def there(f):
        z = axisymmetric.input_impedance(metres, np.array([f]), LOSSLESS.density, LOSSLESS.sound_speed, 5e-3)
        return float((1 / z[0]).imag)

    worst = 0.0
    grid = np.arange(200.0, 1300.0, 25.0)
    values = np.array([here(f) for f in grid])
    found = np.flatnonzero((values[:-1] < 0) & (values[1:] >= 0))
    for cell in found:
        root = brentq(here, grid[cell], grid[cell + 1], xtol=1e-9)
        ends = root * from_cents(np.array([-3.0, 3.0]))
        worst = max(worst, abs(float(cents(root, brentq(there, *ends, xtol=1e-6)))))
    return worst if len(found) >= 3 else np.inf


@row("whole chanter: reciprocity", "determinant of every part", "Tellegen 1952", PLAIN, "1, exactly", "relative", 1e-10)
def _():
    omega, built = 2 * np.pi * BAND[::50], column(sample_chanter())
    gas = Air().gas
    chimneys = fold(built.holes.chimneys.each(omega, gas), built.holes.chimneys.counts)
    n = len(built.holes.names)
    parts = [built.slices.each(omega, gas)]
    parts += [
        hole_twoports(built.holes, np.arange(n), np.full(n, share), chimneys, omega, gas) for share in (0.0, 0.4, 1.0)
    ]
    return max(float(np.max(np.abs(determinant(part) - 1))) for part in parts)


@row(
    "whole chanter: passivity",
    "reflection at the eye",
    "energy cannot come out",
    PLAIN,
    "1, never reached",
    "largest |R|",
    0.999,
)
def _():
    zc = DRY.density * DRY.sound_speed / 10e-6
    every = np.concatenate([input_impedance(sample_chanter(), BAND, *fingering) for fingering in FINGERINGS])
    return float(np.max(np.abs((every - zc) / (every + zc))))


@row(
    "whole chanter: energy",
    "power along the bore",
    "conservation",
    "no losses at walls",
    "what the foot radiates",
    "relative",
    1e-8,
)
def _():
    wave = standing_wave(sample_chanter(), np.array([330.0, 710.0]), (), "open", LOSSLESS)
    through = 0.5 * (wave.pressure * wave.flow.conj()).real
    built = column(sample_chanter())
    load = foot_impedance(*built.foot_radii, 2 * np.pi * wave.frequency, LOSSLESS)
    return apart(through, np.broadcast_to(0.5 * np.abs(wave.flow[-1]) ** 2 * load.real, through.shape))


@row("standing wave: where it begins", "points every 2 mm", "this package", PLAIN, "input impedance", "%", 0.1)
def _():
    f = np.array([180.0, 420.0, 980.0])
    return 100 * max(
        apart(
            (w := standing_wave(sample_chanter(), f, *x)).pressure[0] / w.flow[0],
            input_impedance(sample_chanter(), f, *x),
        )
        for x in FINGERINGS
    )


@row(
    "reed and bore: modes of a cylinder",
    "seen from the lips",
    "this package",
    "rigid head, no losses",
    "odd quarter waves with end length",
    "cents",
    0.1,
)
def _():
    reed = Reed(length_mm=20.0, area_mm2=np.pi * 16.0, softness=0.0)
    got = find_modes(lips(cylinder(8.0, 300.0, head=reed), [((), "open")], 100.0, 2500.0, LOSSLESS), 100.0, 2500.0)[0]
    off = []
    for n, mode in enumerate(got):
        end = levine_schwinger.end_correction(2 * np.pi * mode.frequency / DRY.sound_speed * 4e-3) * 4e-3
        off.append(abs(float(cents(mode.frequency, (2 * n + 1) * DRY.sound_speed / (4 * (0.32 + end))))))
    return max(off) if len(off) == 5 else np.inf


@row(
    "reed and bore: first mode of a cone",
    "seen from the lips",
    "this package",
    "rigid head, no losses",
    "cone with a cavity (Nederveen 1969)",
    "cents",
    0.5,
)
def _():
    tube = cone(4.6, 12.4, 400.0, head=Reed(length_mm=3.0, area_mm2=200.0, softness=0.0))
    f = find_modes(lips(tube, [((), "open")], 100.0, 1500.0, LOSSLESS), 100.0, 1500.0)[0][0].frequency
    x1, x2 = cone_roots.apex_distances(2.3e-3, 6.2e-3, 0.4)
    end = levine_schwinger.end_correction(2 * np.pi * f / DRY.sound_speed * 6.2e-3) * 6.2e-3
    return abs(float(cents(f, cone_roots.cavity_open(x1, x2 + end, 600e-9 / (np.pi * 2.3e-3**2), DRY.sound_speed)[0])))


@row(
    "regulator: modes of a stopped cone",
    "seen from the lips",
    "this package",
    "rigid head, no key, no losses, to 1.5 kHz",
    "closed form, tan kL (Nederveen 1969)",
    "cents",
    0.01,
)
def _():
    return max(
        stopped_cone_apart(2.6, 11.75, 376.0, 31.0),
        stopped_cone_apart(3.2, 14.4, 512.0, 33.0),
        stopped_cone_apart(4.4, 16.7, 820.0, 44.0),
    )


def _charted(slice_mm):
    """Frequencies of all modes of the fingerings of the house chart."""
    pipe = sample_chanter()
    patterns = tuple(dict.fromkeys(f.pattern for f in TIGHT))
    low, high = band([first_target(f, just_scale()) for f in TIGHT])
    with patch("acoustics.tuning.resonances.column", lambda p: column(p, slice_mm)):
        return [
            [m.frequency for m in each] for each in find_modes(lips(pipe, patterns, low, high, Air().gas), low, high)
        ]


@row("chart: every mode", "slices of 8 mm", "this package", PLAIN, "slices of 4 mm", "cents", 0.02)
def _():
    pairs = zip(_charted(8.0), _charted(4.0), strict=True)
    return max(float(np.max(np.abs(cents(np.array(a), np.array(b))))) for a, b in pairs)


@row(
    "chart: every mode",
    "grid, then Newton's method",
    "this package",
    PLAIN,
    "bisection, each frequency alone",
    "cents",
    1e-3,
)
def _():
    pipe, gas, worst = sample_chanter(), Air().gas, 0.0
    for fingering in (TIGHT[0], TIGHT[2], TIGHT[7]):

        def admittance(f, fingering=fingering):
            z = input_impedance(pipe, np.array([f]), fingering.open_holes, fingering.foot, gas)
            pressure, flow = apply(head(pipe.head, np.array([f]), gas), np.array([z, np.ones_like(z)]))
            return (flow / pressure)[0].imag

        for mode in find_modes(lips(pipe, [fingering.pattern], 150.0, 2000.0, gas), 150.0, 2000.0)[0]:
            root = brentq(admittance, *(mode.frequency * from_cents([-3.0, 3.0])), xtol=1e-10)
            worst = max(worst, abs(float(cents(mode.frequency, root))))
    return worst


@cache
def _ideal():
    return column(cylinder(8.0, 400.0), 4.0)


def _nothing_at_the_foot(_column, _foot, omega, _gas):
    return np.array([0.0 * omega, 1.0 + 0.0j * omega])


def _swept(built, f):
    with patch.object(adjoint, "foot_state_vector", _nothing_at_the_foot):
        return sweep(built, states(built, [((), "open")]), np.zeros(len(f), int), f, LOSSLESS)


def _admittance(built, f):
    pressure, flow = _swept(built, np.atleast_1d(f)).eye
    return (flow / pressure).imag


def _wider(start):
    """The cylinder wider by 1 % of its area over 20 mm from `start`, and where that is."""
    built = _ideal()
    middle = (np.cumsum(built.bore.length) - built.bore.length / 2.0) * 1e3
    inside = (middle > start) & (middle < start + 20.0)
    return inside, replace(built, bore=replace(built.bore, area=np.where(inside, 1.01, 1.0) * built.bore.area))


@row(
    "change of the bore: first order",
    "adjoint sweep",
    "Tellegen 1952",
    "small changes",
    "Rayleigh 1896, table",
    "cents",
    1e-4,
)
def _():
    t, built, worst = table("rayleigh"), _ideal(), 0.0
    for mode in (1, 2, 3):
        f = np.array([(mode - 0.5) * LOSSLESS.sound_speed / 0.8])
        swept = _swept(built, f)
        area = bore_gradient(built, swept, f, LOSSLESS)["area"]
        slope = (_admittance(built, f * (1 + 1e-6)) - _admittance(built, f * (1 - 1e-6)))[0] / 2e-6
        for start, printed in zip(t["from_mm"], t[f"rayleigh_{mode}"], strict=True):
            moved = 0.01 * area[:, _wider(start)[0]].sum() / swept.eye[0, 0] ** 2
            worst = max(worst, abs(-1200 / np.log(2) * moved.imag / slope - printed))
    return worst


@row(
    "change of the bore: calculated again",
    "two-ports",
    "this package",
    "any change",
    "lossless tubes, exact table",
    "cents",
    1e-4,
)
def _():
    t, worst = table("rayleigh"), 0.0
    for mode in (1, 2, 3):
        plain = (mode - 0.5) * LOSSLESS.sound_speed / 0.8
        for start, printed in zip(t["from_mm"], t[f"exact_{mode}"], strict=True):
            other = _wider(start)[1]
            root = brentq(lambda f, other=other: _admittance(other, f)[0], plain * 0.98, plain * 1.02, xtol=1e-10)
            worst = max(worst, abs(1200 * np.log2(root / plain) - printed))
    return worst


@row(
    "change of a slice: adjoint",
    "p dU - U dp",
    "Tellegen 1952",
    "small changes",
    "whole chain again, differences",
    "relative",
    1e-5,
)
def _():
    built, gas = column(sample_chanter()), Air().gas
    f = np.array([311.0, 587.0, 1033.0])
    chosen = states(built, [TIGHT[2].pattern])
    swept = sweep(built, chosen, np.zeros(3, int), f, gas)
    gradient = bore_gradient(built, swept, f, gas)["area"]
    at, step, worst = len(built.bore.length) // 2, 1e-4, 0.0
    for row_ in range(2):

        def admittance(by, row_=row_):
            area = np.array(built.bore.area)
            area[row_, at] *= 1.0 + by
            bore = replace(built.bore, area=area)
            p, u = at_eye(replace(built, bore=bore, slices=bore.joined(built.holes.chimneys)), chosen, f, gas)[:, 0]
            return u / p

        wide, narrow = ((admittance(s) - admittance(-s)) / (2 * s) for s in (step, step / 2))
        worst = max(worst, apart(gradient[row_, at] / swept.eye[0] ** 2, (4 * narrow - wide) / 3))
    return worst
