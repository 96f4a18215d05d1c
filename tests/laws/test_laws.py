"""What must hold for every pipe, whatever its shape."""

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from acoustics.physics import network, toneholes
from acoustics.physics.air import Air
from acoustics.physics.network import at_eye, column, input_impedance, states
from acoustics.physics.reeds import head
from acoustics.physics.twoport import apply
from acoustics.pipes.holes import ToneHole
from acoustics.pipes.reed import Reed
from acoustics.units import cents
from tests.physics.simple import DRY, LOSSLESS, Tube, side
from tests.pipes.strategies import floats

from . import LONG, SHARES, pipes

pytestmark = pytest.mark.filterwarnings("ignore::acoustics.validity.OutsideRange")


def law(name):
    """Settings of one law; the short run takes the same pipes every time."""
    return settings(
        max_examples=pipes(name), deadline=None, derandomize=not LONG, suppress_health_check=list(HealthCheck)
    )


STEEPEST = 0.15


@st.composite
def bores(draw, grow=False):
    """Stations of a bore of 150 to 500 mm, 4 to 16 mm wide, with steps; `grow` lets it only get wider, without.

    Between steps the diameter changes by `STEEPEST` at most, more than a counterbore's 0.12: steeper cones are no
    plane waves, and slices of 8 mm do not follow them within the tolerances here.
    """
    length = draw(floats(150.0, 500.0))
    inner = sorted(draw(st.lists(floats(0.1, 0.9), max_size=4, unique=True)))
    inner = [x for i, x in enumerate(inner) if i == 0 or x - inner[i - 1] > 0.02]
    distances = [0.0, *(x * length for x in inner), length]
    if not grow and inner and draw(st.booleans()):
        distances = sorted([*distances, inner[0] * length])
    diameters = [draw(floats(4.0, 16.0)) for _ in distances]
    stations = list(zip(distances, sorted(diameters) if grow else diameters, strict=True))
    for i in range(1, len(stations)):
        (before, above), (at, wide) = stations[i - 1 : i + 1]
        if at > before:
            reach = STEEPEST * (at - before)
            stations[i] = (at, min(max(wide, above - reach), above + reach))
    return tuple(stations)


@st.composite
def tubes(draw, holes=2):
    """A random pipe with up to so many open or shut holes: (tube, names of the open ones)."""
    stations = draw(bores())
    x, d = np.array(stations).T
    sides, opened = [], []
    for i in range(draw(st.integers(0, holes))):
        at = x[-1] * (0.35 + 0.3 * i + 0.2 * draw(floats(0.0, 1.0)))
        bore = float(np.interp(at, x, d))
        hole = ToneHole(f"h{i}", at, draw(floats(0.25, 0.9)) * bore)
        sides.append(side(hole, draw(floats(2.0, 8.0)), bore, bore + 16.0))
        if draw(st.booleans()):
            opened.append(f"h{i}")
    return Tube(stations, tuple(sides), draw(floats(0.0, 5.0))), tuple(opened)


def test_the_shares_add_up():
    assert sum(SHARES.values()) == pytest.approx(1.0)


# -- causality

TOP = 12_000.0
COUNT = 6000


def before_and_whole(reflection):
    """Energy of a windowed impulse response before time zero, and all of it.

    The reflection at the eye against a plane wave in a tube of the eye's size, on `COUNT` frequencies up to `TOP`;
    a window that falls to 0 at the top stands for a pulse of finite width, four widths of which are allowed for.
    """
    f = TOP * (np.arange(COUNT) + 1) / COUNT
    window = np.exp(-0.5 * (f / (TOP / 5.0)) ** 2)
    spectrum = np.concatenate([[reflection(f[:1])[0].real], reflection(f) * window])
    response = np.fft.irfft(spectrum)
    n = len(response)
    pulse = int(np.ceil(4 * n / (2 * np.pi * COUNT / 5.0)))
    return np.sum(response[n // 2 : n - pulse] ** 2), np.sum(response**2)


@given(tubes(), floats(0.0, 30.0))
@law("causality")
def test_no_answer_before_the_question(pipe, temperature):
    """Less than 1e-3 of the energy of the windowed impulse response lies before time zero."""
    tube, opened = pipe
    gas = Air(temperature).gas
    own = gas.density * gas.sound_speed / (np.pi / 4 * (tube.stations[0][1] * 1e-3) ** 2)

    def reflection(f):
        z = input_impedance(tube, f, opened, "open", gas)
        return (z - own) / (z + own)

    before, all_of_it = before_and_whole(reflection)
    assert before < 1e-3 * all_of_it


def test_a_pipe_that_answers_early_is_noticed():
    """The same response shifted a millisecond forward in time is not causal."""
    tube = Tube(((0.0, 8.0), (300.0, 8.0)))
    own = DRY.density * DRY.sound_speed / (np.pi / 4 * 8e-3**2)

    def early(f):
        z = input_impedance(tube, f, air=DRY)
        return (z - own) / (z + own) * np.exp(2j * np.pi * f * 3e-3)

    before, all_of_it = before_and_whole(early)
    assert before > 0.1 * all_of_it


# -- cutting


@given(tubes(), st.lists(floats(0.01, 0.99), min_size=1, max_size=3), st.booleans())
@law("cutting")
def test_cutting_a_duct_in_two_changes_nothing(pipe, cuts, lossy):
    """A cut is one more edge: what moves is the error of 8 mm slices, 2e-3 of |Z|'s scale; none in a cylinder."""
    tube, opened = pipe
    gas, f = DRY if lossy else LOSSLESS, np.array([150.0, 310.0, 640.0, 1300.0])
    cut = replace(tube, extra_edges=tuple(c * tube.stations[-1][0] for c in cuts))
    one, other = (_reflected(t, f, opened, gas) for t in (tube, cut))
    assert np.max(np.abs(one - other)) < 2e-3
    straight = replace(tube, stations=((0.0, tube.stations[0][1]), (tube.stations[-1][0], tube.stations[0][1])))
    both = (replace(straight, side_holes=(), extra_edges=e) for e in ((), cut.extra_edges))
    one, other = (_reflected(t, f, (), gas) for t in both)
    assert np.max(np.abs(one - other)) < 1e-11


def _reflected(tube, f, opened, gas):
    """Reflection at the eye: bounded, so that a resonance does not magnify a difference."""
    z = input_impedance(tube, f, opened, "open", gas)
    own = gas.density * gas.sound_speed / (np.pi / 4 * (tube.stations[0][1] * 1e-3) ** 2)
    return (z - own) / (z + own)


# -- bigger, longer, warmer

STOP = Reed(length_mm=1.0, area_mm2=12.0, softness=0.0)
GRID = np.linspace(60.0, 2500.0, 1221)
SLIGHT = 1e-6  # far less than a mode and its neighbouring pole lie apart


@lru_cache(maxsize=8)
def _built(tube, opened):
    built = column(tube)
    return built, states(built, [(tuple((name, 1.0) for name in opened), "open")])


def susceptance(tube, f, opened=(), gas=LOSSLESS):
    """Imaginary part of the admittance at the eye, seen through a rigid stub of 1 mm."""
    eye = at_eye(*_built(tube, opened), f, gas)[:, 0]
    pressure, flow = apply(head(STOP, f, gas), eye)
    return (flow / pressure).imag


def modes_of(tube, opened=(), gas=LOSSLESS, grid=GRID):
    """Zeros of the susceptance where it rises, closed in by bisection to the last digits."""
    values = susceptance(tube, grid, opened, gas)
    cell = np.flatnonzero((values[:-1] < 0) & (values[1:] >= 0))
    low, high = grid[cell], grid[cell + 1]
    for _ in range(36):
        middle = 0.5 * (low + high)
        below = susceptance(tube, middle, opened, gas) < 0
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return 0.5 * (low + high)


@pytest.fixture
def reactive(monkeypatch):
    """Openings that radiate nothing: without losses the susceptance then only rises (R. M. Foster 1924), and a
    mode moves up exactly when a slight change lowers the susceptance at its place.  What holds for every slight
    change at every size holds for large ones, at a fixed number of the mode."""
    for module, name in ((toneholes, "mouth_impedance"), (network, "foot_impedance")):
        own = getattr(module, name)
        monkeypatch.setattr(module, name, lambda *a, own=own: 1j * own(*a).imag)


def shifts(tube, changed, opened=()):
    """First-order shift of every mode of `tube` when it becomes `changed` [cents]."""
    f = modes_of(tube, opened)
    assert len(f) >= 1
    rise = susceptance(tube, f * (1 + 1e-7), opened) - susceptance(tube, f * (1 - 1e-7), opened)
    assert np.all(rise > 0)
    return -susceptance(changed, f, opened) / (rise / 2e-7) * 1200 / np.log(2)


@given(bores(), floats(0.3, 0.9), floats(0.2, 0.9), floats(1.0, 3.0))
@law("hole")
def test_a_bigger_hole_never_flattens_its_own_note(reactive, stations, place, share, wall):
    """Without losses, reed and radiation, every mode: up, or by less than rounding down (1e-7 cents)."""
    x, d = np.array(stations).T
    bore = float(np.interp(place * x[-1], x, d))

    def with_hole(ratio):
        hole = side(ToneHole("h", place * x[-1], ratio * bore), wall * share * bore / 2.0, bore, bore + 16.0)
        return Tube(stations, (hole,))

    moved = shifts(with_hole(share), with_hole(share * (1.0 + SLIGHT)), ("h",))
    assert np.all(moved > -1e-7)
    assert np.max(moved) > 1e-8


@given(bores(), floats(0.02, 1.0))
@law("length")
def test_a_longer_bore_never_sharpens(reactive, stations, share):
    """A straight piece at the end, slightly longer: without losses and radiation every mode falls."""
    x, d = np.array(stations).T

    def lengthened(by):
        return Tube((*stations, (x[-1] * (1.0 + by), d[-1])))

    moved = shifts(lengthened(share), lengthened(share + SLIGHT))
    assert np.all(moved < 1e-7)
    assert np.min(moved) < -1e-5


@given(tubes(), floats(0.0, 30.0), floats(0.0, 30.0))
@law("warmth")
def test_warmer_is_sharper_by_the_root_of_absolute_temperature(pipe, one, two):
    """Dry air without losses: every mode goes with the sound speed, and that with the root within 0.4 cents."""
    tube, opened = pipe
    airs = [Air(t, 0.0) for t in (one, two)]
    c = LOSSLESS.sound_speed
    first, second = (modes_of(tube, opened, air.lossless, GRID * air.sound_speed / c) for air in airs)
    assert len(first) == len(second) >= 1
    moved = cents(second, first)
    root = 600.0 * np.log2((two + 273.15) / (one + 273.15))
    np.testing.assert_allclose(moved, root, rtol=0, atol=0.4)
    exact = float(cents(airs[1].sound_speed, airs[0].sound_speed))
    np.testing.assert_allclose(moved, exact, rtol=0, atol=1e-6)
    if two - one > 0.3:
        assert np.all(moved > 0)


@given(tubes(), floats(0.6, 1.8))
@law("scale")
def test_ratios_stay_when_everything_scales(pipe, factor):
    """Lengths, bores, walls and holes times a factor, no losses: the same impedance at the frequency over it."""
    tube, opened = pipe
    scaled = Tube(
        tuple((factor * x, factor * d) for x, d in tube.stations),
        tuple(
            side(
                replace(s.hole, position_mm=factor * s.hole.position_mm, diameter_mm=factor * s.hole.diameter_mm),
                factor * s.wall_mm,
                factor * s.bore_mm,
                factor * s.outer_mm,
            )
            for s in tube.side_holes
        ),
        factor * tube.wall_mm,
    )
    f = np.array([200.0, 433.0, 900.0, 1500.0])
    gas = LOSSLESS
    # slices scale too: of a length that stays there may be more in one than in the other
    fine = np.max(np.abs(_fine(tube, f, opened, gas) - _fine(scaled, f / factor, opened, gas, factor)))
    assert fine < 1e-9


def _fine(tube, f, opened, gas, factor=1.0):
    """The same with slices scaled as well: as many in both."""
    built = column(tube, 4.0 * factor)
    pressure, flow = at_eye(built, states(built, [(tuple((n, 1.0) for n in opened), "open")]), f, gas)[:, 0]
    own = gas.density * gas.sound_speed / (np.pi / 4 * (tube.stations[0][1] * 1e-3) ** 2)
    return (pressure / flow - own) / (pressure / flow + own)


@given(bores(grow=True))
@settings(max_examples=6, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
def test_the_search_for_modes_agrees_with_a_finer_grid(stations):
    """What the laws above look at: none of the first modes is missed between two points of the grid."""
    found = modes_of(Tube(stations))
    fine = np.linspace(60.0, 2500.0, 6101)
    values = susceptance(Tube(stations), fine)
    cell = np.flatnonzero((values[:-1] < 0) & (values[1:] >= 0))
    assert len(found) >= 1
    np.testing.assert_allclose(found, fine[cell] + 0.2, atol=0.201)
