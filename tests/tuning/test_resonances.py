"""Modes seen from the lips, against root finding on single evaluations of impedance and head."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq, minimize_scalar

from acoustics.physics.air import Air
from acoustics.physics.network import column, input_impedance
from acoustics.physics.reeds import head
from acoustics.physics.twoport import apply
from acoustics.pipes.fingering import TIGHT, Fingering
from acoustics.pipes.holes import ToneHole
from acoustics.pipes.reed import Reed
from acoustics.tuning.resonances import NEAR_CENTS, Mode, band, choose, find_modes, first_target, lips, modes
from acoustics.tuning.scales import just_scale
from acoustics.units import cents, from_cents
from tests.physics.simple import DRY, LOSSLESS, Tube, cone, cylinder, side
from tests.pipes.sample import sample_chanter
from tests.references import cone_roots, levine_schwinger
from tests.tuning.bench import bench

AIR = Air()
PATTERNS = [TIGHT[0], TIGHT[2], TIGHT[4], TIGHT[7], TIGHT[11], TIGHT[24]]
LOW, HIGH = 150.0, 2000.0


def admittance(pipe, frequency, fingering, gas=AIR.gas):
    """At the lips, from `input_impedance` and `head` alone, a few frequencies at a time (never interpolated)."""
    frequency = np.atleast_1d(frequency)
    parts = np.array_split(frequency, max(1, len(frequency) // 8))
    z = np.concatenate([input_impedance(pipe, part, fingering.open_holes, fingering.foot, gas) for part in parts])
    pressure, flow = apply(head(pipe.head, frequency, gas), np.array([z, np.ones_like(z)]))
    return flow / pressure


@pytest.fixture(scope="module")
def found():
    """All modes of six fingerings between 150 and 2000 Hz."""
    return find_modes(lips(sample_chanter(), [f.pattern for f in PATTERNS], LOW, HIGH, AIR.gas), LOW, HIGH)


@pytest.mark.parametrize("i", range(len(PATTERNS)))
def test_every_mode_is_a_rising_zero(found, i):
    """Independent bisection on single evaluations: 0.001 cents; strength is Re Z there."""
    pipe = sample_chanter()
    assert len(found[i]) >= 2
    for mode in found[i]:
        ends = mode.frequency * from_cents([-3.0, 3.0])
        values = admittance(pipe, ends, PATTERNS[i]).imag
        assert values[0] < 0 < values[1]
        root = brentq(lambda f, i=i: admittance(pipe, f, PATTERNS[i])[0].imag, *ends, xtol=1e-10)
        assert abs(cents(mode.frequency, root)) < 1e-3
        assert mode.strength == pytest.approx(1 / admittance(pipe, root, PATTERNS[i])[0].real, rel=1e-5)


@pytest.mark.parametrize("i", range(len(PATTERNS)))
def test_no_mode_is_missed(found, i):
    """A scan of single evaluations every 4 cents."""
    grid = LOW * from_cents(np.arange(0.0, cents(HIGH, LOW), 4.0))
    imag = admittance(sample_chanter(), grid, PATTERNS[i]).imag
    # the last cell of the package's own 20-cent grid may be cut short
    rising = [f for f in grid[:-1][(imag[:-1] < 0) & (imag[1:] >= 0)] if f < HIGH * from_cents(-20.0)]
    names = [mode.frequency for mode in found[i] if mode.frequency < HIGH * from_cents(-20.0)]
    np.testing.assert_allclose(cents(np.array(names), np.array(rising)), 2.0, atol=2.01)


def test_no_pair_hides_between_two_points_of_the_grid():
    """Random reeds on the demo chanter: as many modes as a scan of every cent has, the last cell included, where one
    of every `SCAN_CENTS` loses some; and each lies where that scan has it."""
    setup, random, lost = bench(), np.random.default_rng(0), 0
    patterns = tuple(dict.fromkeys(fingering.pattern for fingering in setup.fingerings))
    low, high = band([first_target(fingering, setup.scale) for fingering in setup.fingerings])
    seen = lips(setup.pipe, patterns, low, high, AIR.gas)
    grid = np.append(low * from_cents(np.arange(0.0, cents(high, low), 1.0)), high)
    for _ in range(20):
        length, area, softness, blades = random.uniform((22.0, 6.0, 0.0, 1000.0), (36.0, 16.0, 1.5, 2200.0))
        some = replace(seen, reed=Reed(length, area, softness, blades))
        imag = some.admittance(grid).imag
        row, cell = np.nonzero((imag[:, :-1] < 0.0) & (imag[:, 1:] >= 0.0))
        got = find_modes(some, low, high)
        assert [len(modes) for modes in got] == np.bincount(row, minlength=len(patterns)).tolist()
        hertz = np.array([mode.frequency for modes in got for mode in modes])
        assert np.all((grid[cell] <= hertz * (1 + 1e-7)) & (hertz <= grid[cell + 1] * (1 + 1e-7)))
        coarse = imag[:, ::20]
        lost += len(row) - np.count_nonzero((coarse[:, :-1] < 0.0) & (coarse[:, 1:] >= 0.0))
    assert lost > 5


def test_quality_is_the_half_power_width():
    """|Z| at the lips falls to 1/sqrt 2 of its top over f/Q, within 3 % for single modes of Q over 15."""
    pipe, fingering = sample_chanter(), TIGHT[0]
    checked = 0
    for mode in find_modes(lips(pipe, [fingering.pattern], LOW, 1000.0, AIR.gas), LOW, 1000.0)[0]:

        def modulus(f):
            return abs(1 / admittance(pipe, f, fingering)[0])

        reach = from_cents([-1731.0 / mode.quality, 1731.0 / mode.quality])
        top = minimize_scalar(lambda f: -modulus(f), bounds=mode.frequency * from_cents([-20, 20]), method="bounded").x
        half = modulus(top) / np.sqrt(2)
        low, high = (brentq(lambda f, half=half: modulus(f) - half, *sorted((top, top * r))) for r in reach)
        assert top / (high - low) == pytest.approx(mode.quality, rel=0.03)
        checked += 1
    assert checked >= 2


@pytest.mark.parametrize("fingering", [TIGHT[0], TIGHT[2], TIGHT[7]])
def test_blade_cents_is_the_shift_of_a_second_run(fingering):
    """Blades 1 % higher, run again: first order against the real shift, 5 % (4.2 reached) and 0.02 cents."""
    pipe = sample_chanter()
    stiffer = replace(pipe, reed=replace(pipe.reed, resonance_hz=1.01 * pipe.reed.resonance_hz))
    own, other = (
        find_modes(lips(p, [fingering.pattern], LOW, 1250.0, AIR.gas), LOW, 1250.0)[0] for p in (pipe, stiffer)
    )
    assert len(own) == len(other) >= 2
    for one, two in zip(own, other, strict=True):
        assert one.blade_cents == pytest.approx(cents(two.frequency, one.frequency), rel=0.05, abs=0.02)
    assert max(abs(mode.blade_cents) for mode in own) > 1


def test_rigid_head_on_a_cylinder_is_a_longer_cylinder():
    """Closed at the lips, open at the foot: (2n - 1) c/(4 (L + end)), end of Levine and Schwinger: 0.1 cents."""
    reed = Reed(length_mm=20.0, area_mm2=np.pi * 16.0, softness=0.0)
    tube = cylinder(8.0, 300.0, head=reed)
    got = find_modes(lips(tube, [((), "open")], 100.0, 2500.0, LOSSLESS), 100.0, 2500.0)[0]
    assert len(got) == 5
    for n, mode in enumerate(got):
        end = levine_schwinger.end_correction(2 * np.pi * mode.frequency / DRY.sound_speed * 4e-3) * 4e-3
        assert abs(cents(mode.frequency, (2 * n + 1) * DRY.sound_speed / (4 * (0.32 + end)))) < 0.1


def test_rigid_head_on_a_cone_is_a_cavity():
    """A short wide stub at the small end: cot kL = kV/S1 - 1/(k x1) (cone_roots; Nederveen 1969): 0.5 cents.

    The end correction lengthens the cone; the stub is 1 mm, so its own wave is nothing.
    """
    volume = 600.0
    tube = cone(4.6, 12.4, 400.0, head=Reed(length_mm=3.0, area_mm2=volume / 3.0, softness=0.0))
    got = [m.frequency for m in find_modes(lips(tube, [((), "open")], 100.0, 1500.0, LOSSLESS), 100.0, 1500.0)[0]]
    x1, x2 = cone_roots.apex_distances(2.3e-3, 6.2e-3, 0.4)
    ends = [levine_schwinger.end_correction(2 * np.pi * f / DRY.sound_speed * 6.2e-3) * 6.2e-3 for f in got]
    roots = [
        cone_roots.cavity_open(x1, x2 + end, volume * 1e-9 / (np.pi * 2.3e-3**2), DRY.sound_speed)[n]
        for n, end in enumerate(ends)
    ]
    assert len(got) == 4
    np.testing.assert_allclose(cents(np.array(got), np.array(roots)), 0.0, atol=0.9)
    assert abs(cents(got[0], roots[0])) < 0.5


def mode(frequency, strength=1.0):
    return Mode(frequency, strength, 20.0, 0.0)


def test_choice_of_first_and_second():
    """The nearest of the strong; the second around twice the first that was found; the rest within a fourth stray."""
    low, weak, first, second, near_second, far = (
        mode(250.0, 1.0), mode(301.0, 0.1), mode(310.0), mode(640.0), mode(720.0), mode(1200.0),
    )  # fmt: skip
    named = choose([low, weak, first, second, near_second, far], 300.0)
    assert (named.first, named.second) == (first, second)
    assert named.stray == (low, weak, near_second)
    only = choose([first], 300.0)
    assert (only.first, only.second, only.stray) == (first, None, ())
    empty = choose([far], 300.0)
    assert (empty.first, empty.second) == (None, None)
    upper = choose([second], 300.0)
    assert (upper.first, upper.second) == (None, second)


def test_stray_modes_of_the_shut_lower_bore_are_reported():
    """One hole high up, the foot stopped: the bore below is a side branch with its own resonance near the second."""
    holes = (side(ToneHole("h", 170.0, 4.0), 4.0, 8.5),)
    tube = Tube(((0.0, 4.6), (400.0, 12.4)), holes, 4.0, Reed(31.0, 11.0))
    fingering = Fingering("A", 1, ["h"], "shut")
    named = modes(tube, fingering)
    near = [450.0, *(m.frequency for m in (named.first, named.second) if m)]
    assert named.first.frequency > 0
    assert len(named.stray) >= 1
    for stray in named.stray:
        assert stray not in (named.first, named.second)
        assert min(abs(cents(stray.frequency, f)) for f in (*near, 2 * near[0])) < NEAR_CENTS + 5
    open_foot = modes(tube, Fingering("A", 1, ["h"], "open"))
    assert [m.frequency for m in named.stray] != [m.frequency for m in open_foot.stray]


def test_band_reaches_a_fourth_around_every_octave():
    low, high = band([300.0, 550.0])
    assert cents(300.0, low) >= NEAR_CENTS
    assert cents(high, 2 * 550.0) >= NEAR_CENTS


def test_target_of_a_second_octave_is_its_first():
    scale = just_scale()
    for fingering in TIGHT:
        assert first_target(fingering, scale) * fingering.register == scale.frequency(fingering.note, fingering.octave)


@pytest.mark.parametrize("fingering", [TIGHT[0], TIGHT[5], TIGHT[16]])
def test_modes_in_one_call(found, fingering):
    """The public function is the same search with the pipe's own key and the given air."""
    pipe = sample_chanter()
    named = modes(pipe, fingering, Air(25.0, 0.5))
    target = first_target(fingering, just_scale())
    low, high = band([target])
    by_hand = choose(find_modes(lips(pipe, [fingering.pattern], low, high, Air(25.0, 0.5).gas), low, high)[0], target)
    assert named == by_hand
    assert cents(named.first.frequency, modes(pipe, fingering).first.frequency) == pytest.approx(15.7, abs=3.0)


def test_halved_slices_move_nothing(monkeypatch):
    """No chart pitch by more than 0.02 cents (8 mm against 4 mm); here every mode of the 13 fingerings."""
    import acoustics.tuning.resonances as module

    pipe = sample_chanter()
    patterns = tuple(dict.fromkeys(f.pattern for f in TIGHT))
    targets = [first_target(f, just_scale()) for f in TIGHT]
    low, high = band(targets)

    def charted():
        every = find_modes(lips(pipe, patterns, low, high, AIR.gas), low, high)
        named = [choose(every[patterns.index(f.pattern)], t) for f, t in zip(TIGHT, targets, strict=True)]
        picked = [n.first if f.register == 1 else n.second for f, n in zip(TIGHT, named, strict=True)]
        return np.array([m.frequency for m in picked if m])

    coarse = charted()
    monkeypatch.setattr(module, "column", lambda p: column(p, 4.0))
    fine = charted()
    assert len(coarse) == len(fine) >= 25
    moved = np.abs(cents(fine, coarse))
    assert 0 < np.max(moved) < 0.02
