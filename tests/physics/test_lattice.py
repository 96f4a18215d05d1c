"""Cut-off of a row of open holes: against a table, the exact lattice and the package's own two-ports."""

from itertools import pairwise

import numpy as np
import pytest
from scipy.optimize import brentq

from acoustics.physics.ducts import per_length, uniform
from acoustics.physics.lattice import Cutoff, cutoff_frequency, cutoffs
from acoustics.physics.network import column
from acoustics.physics.toneholes import hole_twoports, inner_length
from acoustics.physics.twoport import cascade, fold
from acoustics.pipes.holes import Key, ToneHole
from acoustics.units import cents
from tests.physics.simple import LOSSLESS, cylinder, side
from tests.pipes.sample import sample_chanter
from tests.published import table
from tests.published.printed import agree

C = 343.344


def test_table():
    """Benade 1960 with the exact coefficient, to the printed Hz; his 0.11 lies 2.2 % lower, as rounded."""
    t = table("cutoff")
    got = cutoff_frequency(7.5e-3, 4e-3, t["te_mm"] * 1e-3, 18e-3, C)
    agree(got, t["exact_coefficient"], 0)
    agree(got * 0.11 * 2 * np.pi * np.sqrt(2), t["benade"], 0)


def exact_lattice(te, spacing, ratio):
    """First root of ks tan ks = s (b/a)^2/(2 te), s half the spacing: the edge of the lossless lattice's stop band."""
    half = spacing / 2
    x = brentq(lambda x: x * np.tan(x) - half * ratio**2 / (2 * te), 1e-9, np.pi / 2 - 1e-9)
    return x * C / (2 * np.pi * half)


def test_lattice_of_the_table():
    t = table("cutoff")
    agree([exact_lattice(te * 1e-3, 18e-3, 4 / 7.5) for te in t["te_mm"]], t["lattice"], 0)


def test_exact_in_the_limit_of_a_close_row():
    """x tan x = x^2 (1 + x^2/3 ...): the formula errs by x^2/6, x = ks; a quarter of that at half the spacing."""
    errors = []
    for spacing in (18e-3, 9e-3, 4.5e-3):
        formula = cutoff_frequency(7.5e-3, 2e-3, 9e-3, spacing, C)
        exact = exact_lattice(9e-3, spacing, 2 / 7.5)
        x = 2 * np.pi * exact / C * spacing / 2
        errors.append(formula / exact - 1)
        assert errors[-1] == pytest.approx(x**2 / 6, rel=0.02)
    assert errors[0] > errors[1] > errors[2] > 0


def test_how_it_scales():
    base = cutoff_frequency(7.5, 3.0, 8.0, 20.0, 340e3)
    assert cutoff_frequency(7.5, 6.0, 8.0, 20.0, 340e3) == pytest.approx(2 * base)
    assert cutoff_frequency(7.5, 3.0, 8.0, 80.0, 340e3) == pytest.approx(base / 2)
    assert cutoff_frequency(7.5, 3.0, 32.0, 20.0, 340e3) == pytest.approx(base / 2)
    assert cutoff_frequency(7.5, 0.0, 8.0, 20.0, 340e3) == 0.0


def row(diameter, spacing, wall=4.0, count=5, bore=10.0, face="front"):
    holes = [
        side(ToneHole(f"h{i}", 100.0 + i * spacing, diameter, face=face), wall, bore, outer=26.0) for i in range(count)
    ]
    return cylinder(bore, 100.0 + count * spacing + 50.0, *holes)


def stop_band_ends(pipe, spacing):
    """Lowest frequency at which a lossless cell (half a spacing, a hole, half a spacing) lets sound through [Hz]."""
    holes = column(pipe).holes

    def half_trace(frequency):
        omega = np.array([2 * np.pi * frequency])
        chimneys = fold(holes.chimneys.each(omega, LOSSLESS), holes.chimneys.counts)
        hole = hole_twoports(holes, np.array([2]), np.array([1.0]), chimneys, omega, LOSSLESS)[:, :, 0, 0]
        z, y = (v[0] for v in per_length(np.pi / 4 * 0.01**2, np.pi * 0.01, omega, LOSSLESS))
        duct = uniform(spacing / 2e3, z, y)
        cell = cascade(cascade(duct, hole), duct)
        return (0.5 * (cell[0, 0] + cell[1, 1])).real

    return brentq(lambda f: half_trace(f) - 1.0, 300.0, 6000.0)


@pytest.mark.parametrize(("diameter", "spacing"), [(4.0, 12.0), (4.0, 24.0), (6.0, 16.0)])
def test_row_of_equal_holes(diameter, spacing):
    """All pairs alike, and the edge of the stop band of the package's own two-ports, within 1 %.

    The edge lies lower by x^2/6 (the formula is for a close row) and by k^2 l^3/(6 te): of the te the part l outside
    the bore is a short duct, whose inertance is that of tan(k l)/k.
    """
    pipe = row(diameter, spacing)
    found = cutoffs(pipe, LOSSLESS.sound_speed)
    assert [(one.upper, one.lower) for one in found] == [(f"h{i}", f"h{i + 1}") for i in range(4)]
    np.testing.assert_allclose([one.frequency for one in found], found[0].frequency, rtol=1e-12)
    exact = stop_band_ends(pipe, spacing)
    k = 2 * np.pi * exact / LOSSLESS.sound_speed
    length = (diameter / 10.0) ** 2 / (spacing * 1e-3) * (LOSSLESS.sound_speed / 2 / np.pi / found[0].frequency) ** 2
    duct = length - float(inner_length(diameter / 2e3, 5e-3))
    correction = 1 + (k * spacing * 0.5e-3) ** 2 / 6 + k**2 * duct**3 / (6 * length)
    assert found[0].frequency / exact / correction == pytest.approx(1.0, abs=2.5e-3)
    assert 4.0e-3 + 0.6 * diameter * 1e-3 < length < 4.0e-3 + 0.9 * diameter * 1e-3


def test_uneven_pair_lies_between_its_even_rows():
    wide, narrow = (cutoffs(row(d, 20.0), C)[0].frequency for d in (6.0, 4.0))
    holes = [side(ToneHole(n, at, d), 4.0, 10.0, outer=26.0) for n, at, d in (("a", 100, 6.0), ("b", 120, 4.0))]
    (pair,) = cutoffs(cylinder(10.0, 250.0, *holes), C)
    assert narrow < pair.frequency < wide
    assert pair.frequency == pytest.approx(np.sqrt((wide**2 + narrow**2) / 2), rel=1e-12)


def test_wider_and_closer_holes_raise_it():
    base = cutoffs(row(4.0, 20.0), C)[0].frequency
    assert cutoffs(row(5.0, 20.0), C)[0].frequency > 1.15 * base
    assert cents(cutoffs(row(4.0, 10.0), C)[0].frequency, base) == pytest.approx(600.0, abs=1e-6)
    assert cutoffs(row(4.0, 20.0, wall=8.0), C)[0].frequency < 0.9 * base


def test_keys_and_thumb_hole_are_left_out():
    found = cutoffs(sample_chanter(), C)
    front = ["C#", "B", "A", "G", "F#", "E", "Eb"]
    assert [(one.upper, one.lower) for one in found] == list(pairwise(front))
    assert all(isinstance(one, Cutoff) and 800.0 < one.frequency < 4000.0 for one in found)


def test_fewer_than_two_front_holes():
    assert cutoffs(row(4.0, 20.0, face="back"), C) == ()
    assert cutoffs(row(4.0, 20.0, count=1), C) == ()
    assert cutoffs(cylinder(10.0, 300.0), C) == ()
    key = side(Key("k", 120.0, 4.0), 4.0, 10.0, outer=26.0)
    assert cutoffs(cylinder(10.0, 300.0, side(ToneHole("a", 100.0, 4.0), 4.0, 10.0, outer=26.0), key), C) == ()
