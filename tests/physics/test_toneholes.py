"""Side holes: inner and series lengths, chimneys, shares, undercuts, key ducts, tilts."""

import numpy as np
import pytest
from scipy.optimize import brentq

from acoustics.physics.network import column, input_impedance
from acoustics.physics.radiation import hole_in_body_length, mouth_impedance, pad_length
from acoustics.physics.steps import step_length
from acoustics.physics.toneholes import (
    arrange,
    hole_twoports,
    inner_length,
    matching_length,
    mouth_mm,
    outer_length,
    series_length_open,
    series_length_shut,
    shunt_length,
)
from acoustics.physics.twoport import fold
from acoustics.pipes.holes import Key, ToneHole
from acoustics.units import cents
from acoustics.validity import OutsideRange
from tests.physics.simple import DRY, LOSSLESS, REFERENCE, apart, cylinder, side
from tests.published import table
from tests.references import kirchhoff

ELEMENTS = table("tone_hole_elements")
LOW = np.array([2 * np.pi * 20.0])


@pytest.mark.parametrize("state", ["shut", "open"])
def test_inner_length_against_finite_elements(state):
    """Within 0.01 b for ratios 0.2 to 0.8 and 0.002 b above 0.85; reached 0.0078 b and 0.0011 b.

    The printed column, t_s - t_a/4 with t_a of the shut hole, for the shut T; the same with the printed t_a of the
    open hole for the open T.
    """
    d, wall = ELEMENTS["delta"], ELEMENTS["t_over_b"] * ELEMENTS["delta"]
    if state == "shut":
        printed, series = ELEMENTS["ti_over_b"], series_length_shut(d, 1.0, wall)
    else:
        printed, series = ELEMENTS["ts_over_b"] + ELEMENTS["ta_open"] * d**4 / 4, series_length_open(d, 1.0, wall)
    off = np.abs(shunt_length(inner_length(d, 1.0), series, d, 1.0) / d - printed)
    assert np.max(off[d <= 0.8]) < 0.01
    assert np.max(off[d > 0.85]) < 2e-3


def test_matching_length_against_finite_elements():
    """The volume between a flat bottom and the round bore, within 1 % of itself."""
    np.testing.assert_allclose(
        matching_length(ELEMENTS["delta"], 1.0) / ELEMENTS["delta"], ELEMENTS["tm_over_b"], rtol=0.012
    )


def test_series_lengths_against_finite_elements():
    """Asked: 5 % where the wall is at least b, 10 % below; short open chimneys are excluded."""
    d, t = ELEMENTS["delta"], ELEMENTS["t_over_b"]
    shut = -series_length_shut(d, 1.0, t * d) / (d * d**4)
    opened = -series_length_open(d, 1.0, t * d) / (d * d**4)
    long = t >= 1.0
    np.testing.assert_allclose(shut[long], ELEMENTS["ta_closed"][long], rtol=0.05)
    np.testing.assert_allclose(opened[long], ELEMENTS["ta_open"][long], rtol=0.05)
    np.testing.assert_allclose(shut[~long], ELEMENTS["ta_closed"][~long], rtol=0.10)


def drilled(bore, diameter, wall, body, **more):
    """One round hole as arrays, lengths in mm."""
    return arrange((side(ToneHole("h", 200.0, diameter, **more), wall, bore, body),))


def twoport(holes, share, omega, gas):
    """What the bore sees of one hole, (2, 2, f)."""
    chimneys = fold(holes.chimneys.each(omega, gas), holes.chimneys.counts)
    return hole_twoports(holes, np.array([0]), np.array([share]), chimneys, omega, gas)[:, :, 0]


@pytest.mark.parametrize("row", range(3))
def test_worked_holes(row):
    """worked_holes.csv through the whole two-port at 20 Hz without losses: length t_e, series length, volume."""
    h = {name: column[row] for name, column in table("worked_holes").items()}
    bore, hole = h["bore_radius"], h["hole_radius"]
    holes = drilled(2 * bore, 2 * hole, h["depth"], 2 * h["body_radius"])
    assert matching_length(hole, bore) == pytest.approx(h["tm"], abs=0.51e-3)
    assert inner_length(hole, bore) == pytest.approx(h["ti"], abs=0.51e-3)
    length, radius = outer_length(holes, np.array([0]), np.array([1.0]))
    assert (length[0] * 1e3, radius[0] * 1e3) == pytest.approx((h["tr"], hole), abs=0.51e-3)
    one = twoport(holes, 1.0, LOW, LOSSLESS)
    unit = LOW[0] * DRY.density / (np.pi * (hole * 1e-3) ** 2)  # inertance per length of hole
    assert (1 / one[1, 0, 0]).imag / unit * 1e3 == pytest.approx(h["te"], rel=2e-4)
    # T shape: A - 1 = (Za/2) C
    arm = ((one[0, 0] - 1) / one[1, 0])[0]
    opened = -hole * (hole / bore) ** 4 * (0.35 - 0.06 * np.tanh(2.7 * h["depth"] / hole))
    assert arm.imag / unit * 1e3 == pytest.approx(opened / 2, rel=1e-6)
    shut = twoport(holes, 0.0, LOW, LOSSLESS)
    assert ((shut[0, 0] - 1) / shut[1, 0])[0].imag / unit * 2e3 == pytest.approx(h["ta_closed"], abs=0.6e-4)
    volume = shut[1, 0, 0].imag / LOW[0] * DRY.density * DRY.sound_speed**2
    assert volume * 1e9 == pytest.approx(h["closed_volume"], abs=0.06)


def test_undercut_against_finite_elements():
    """Finite elements (P2, recomputed): ratio 0.7, bore radius 4, wall 5 mm, cone from b to 1.3 b over half the wall.

    Open hole's inner correction (beyond the wall, as length of the plain hole) from 1.41 to 0.33 mm, series length
    referred to the bore from 0.40 to 0.80 mm.
    """
    outside = mouth_impedance(2.8e-3, hole_in_body_length(2.8e-3, 9e-3), LOW, LOSSLESS)[0].imag

    def measured(**undercut):
        port = twoport(drilled(8.0, 5.6, 5.0, 18.0, **undercut), 1.0, LOW, LOSSLESS)
        unit = LOW[0] * DRY.density / (np.pi * 2.8e-3**2)
        arm = ((port[0, 0] - 1) / port[1, 0])[0].imag
        series = 2 * arm * np.pi * 4e-3**2 / (LOW[0] * DRY.density)
        return ((1 / port[1, 0, 0]).imag - outside) / unit * 1e3 - 5.0, -series * 1e3

    plain, cut = measured(), measured(undercut_diameter_mm=1.3 * 5.6, undercut_depth_mm=2.5)
    assert plain == pytest.approx((1.41, 0.40), abs=0.011)
    assert cut[0] == pytest.approx(0.33, abs=0.06)
    assert cut[1] == pytest.approx(0.80, rel=0.02)
    assert cut[0] - plain[0] == pytest.approx(0.33 - 1.41, rel=0.06)  # the change a maker makes


def chimney_by_hand(stretches, load, frequency):
    """Admittance into cylinders (radius, length) in a row with steps between them, from the bore outward."""
    parts, before = [], None
    one = np.ones_like(frequency)
    for radius, length in stretches:
        if before is not None and before != radius:
            narrow, wide = sorted((before, radius))
            added = 2j * np.pi * frequency * REFERENCE.rho * step_length(narrow, wide) / (np.pi * narrow**2)
            parts.append((one, added, 0 * one, one))
        parts.append(kirchhoff.cylinder(radius, length, frequency, REFERENCE))
        before = radius
    return 1 / kirchhoff.seen_through(kirchhoff.chain(*parts), load)


FREQUENCY = np.array([150.0, 400.0, 900.0, 1800.0])


@pytest.mark.parametrize("share", [0.0, 1.0])
def test_key_duct_of_two_diameters_by_hand(share):
    """Wall 4 mm of 4.5 mm, then 6 mm of 4.6 and 3 mm of 6.2, a pad of 10 mm lifted 2.5 mm: 1e-10."""
    key = Key("k", 200.0, 4.5, duct=[(6.0, 4.6), (3.0, 6.2)], lift_mm=2.5, pad_diameter_mm=10.0)
    omega = 2 * np.pi * FREQUENCY
    port = twoport(arrange((side(key, 4.0, 9.0, 17.0),)), share, omega, DRY)
    b, bore = 2.25e-3, 4.5e-3
    outer = hole_in_body_length(3.1e-3, 8.5e-3) + pad_length(3.1e-3, 1.9e-3, 5e-3, 2.5e-3)
    load = mouth_impedance(3.1e-3, outer, omega, DRY) if share else np.inf
    runs = [(b, matching_length(b, bore) + 4e-3), (2.3e-3, 6e-3), (3.1e-3, 3e-3)]
    into = chimney_by_hand(runs, load, FREQUENCY)
    unit = 1j * omega * DRY.density / (np.pi * b**2)
    series = series_length_open(b, bore, 13e-3) if share else series_length_shut(b, bore, 13e-3)
    shunt = 1 / (1 / into + unit * (inner_length(b, bore) - (series + 0.29 * b * (b / bore) ** 4) / 4))
    arm = unit * series / 2
    by_hand = np.array([[1 + arm * shunt, arm * (2 + arm * shunt)], [shunt, 1 + arm * shunt]])
    assert apart(port, by_hand) < 1e-10


def test_hole_in_a_pipe_by_hand():
    """Cylinder, hole (by hand from the published lengths), cylinder, stop."""
    a, b, wall = 5e-3, 3e-3, 4.5e-3
    tube = cylinder(10.0, 400.0, side(ToneHole("h", 250.0, 6.0), 4.5, 10.0, 19.0))
    omega = 2 * np.pi * FREQUENCY
    load = mouth_impedance(b, hole_in_body_length(b, 9.5e-3), omega, DRY)
    into = chimney_by_hand([(b, matching_length(b, a) + wall)], load, FREQUENCY)
    unit, one = 1j * omega * DRY.density / (np.pi * b**2), np.ones(4)
    series = series_length_open(b, a, wall)
    arm = (one, unit * series / 2, 0 * one, one)
    inner = inner_length(b, a) - (series + 0.29 * b * (b / a) ** 4) / 4
    shunt = (one, 0 * one, 1 / (1 / into + unit * inner), one)
    above, below = (kirchhoff.cylinder(a, length, FREQUENCY, REFERENCE) for length in (0.25, 0.15))
    exact = kirchhoff.seen_through(kirchhoff.chain(above, arm, shunt, arm, below), np.inf)
    assert apart(input_impedance(tube, FREQUENCY, ["h"], "shut", DRY), exact) < 1e-10


def resonance(tube, near, open_holes=(), foot="open"):
    """Where Im Z falls through 0 (a maximum of |Z|): the only place from a third below `near` to a half above."""
    f = np.linspace(0.67 * near, 1.5 * near, 45)
    z = input_impedance(tube, f, open_holes, foot, DRY)
    falls = np.flatnonzero((z.imag[:-1] > 0) & (z.imag[1:] <= 0))
    assert len(falls) == 1
    return brentq(
        lambda x: input_impedance(tube, x, open_holes, foot, DRY).imag, f[falls[0]], f[falls[0] + 1], xtol=1e-9
    )


def test_tiny_hole_leaves_the_bore_unchanged():
    """A hole of 0.5 mm in a bore of 12: under 0.1 cents shut, and its warning quotes the ratio."""
    tube = cylinder(12.0, 400.0, side(ToneHole("h", 200.0, 0.5), 4.0, 12.0))
    tiny = r'hole "h": hole over bore diameter is 0\.0417, outside 0\.2 to 1'
    with pytest.warns(OutsideRange, match=tiny), pytest.warns(OutsideRange, match="hole over body diameter is 0.025"):
        shut = resonance(tube, 210.0)
    assert abs(cents(shut, resonance(cylinder(12.0, 400.0), 210.0))) < 0.1


def test_share_of_nothing_is_shut_and_of_all_is_open():
    tube = cylinder(12.0, 400.0, side(ToneHole("h", 200.0, 6.0), 4.0, 12.0))
    shut, opened = (input_impedance(tube, FREQUENCY, holes, air=DRY) for holes in ((), ["h"]))
    np.testing.assert_array_equal(input_impedance(tube, FREQUENCY, {"h": 0.0}, air=DRY), shut)
    np.testing.assert_array_equal(input_impedance(tube, FREQUENCY, {"h": 1.0}, air=DRY), opened)
    assert apart(input_impedance(tube, FREQUENCY, {"h": 0.999}, air=DRY), opened) < 2e-3
    assert apart(shut, opened) > 0.1


def test_more_share_is_sharper():
    """From shut to open the note rises with every step, least at the end: half the opening gives most of the rise."""
    tube = cylinder(12.0, 400.0, side(ToneHole("h", 300.0, 6.0), 4.0, 12.0))
    notes = [resonance(tube, 215.0, {"h": share}) for share in (0.0, 0.05, 0.1, 0.2, 0.4, 0.6, 0.8, 0.9, 1.0)]
    assert np.all(np.diff(notes) > 0)
    rise = cents(np.array(notes), notes[0])
    assert rise[5] > 0.85 * rise[-1] > 10


def test_half_covered_hole_is_the_published_step_and_mouth():
    """Share s: a thin cover leaves radius b sqrt(s): a step (Kergomard and Garcia 1987) and its own mouth."""
    holes = drilled(12.0, 6.0, 4.0, 20.0)
    length, radius = outer_length(holes, np.array([0]), np.array([0.25]))
    assert radius[0] == pytest.approx(1.5e-3, rel=1e-12)
    assert length[0] == pytest.approx(float(step_length(1.5e-3, 3e-3) + hole_in_body_length(1.5e-3, 10e-3)), rel=1e-12)
    # a diaphragm in a wide wall: the inertance of the sum tends to two half-space ends, 2 * 0.82 r
    tiny, r = outer_length(holes, np.array([0]), np.array([1e-3]))
    assert tiny[0] / r[0] == pytest.approx(1.64, abs=0.09)


def test_taped_key_has_the_pad_of_its_smaller_opening():
    """Tape over a part of a key's outlet: a small opening in a wide wall under the same pad (own reasoning).

    The smaller the opening beside the lift, the smaller the part of the outer length that the pad adds.
    """
    key = Key("k", 200.0, 6.0, lift_mm=2.5, pad_diameter_mm=9.0)
    holes = arrange((side(key, 5.0, 12.0, 20.0),))
    bare = arrange((side(ToneHole("k", 200.0, 6.0), 5.0, 12.0, 20.0),))
    added = []
    for share in (1.0, 0.5, 0.05):
        (length,), (radius,) = outer_length(holes, np.array([0]), np.array([share]))
        (plain,), _ = outer_length(bare, np.array([0]), np.array([share]))
        assert length - plain == pytest.approx(pad_length(radius, 4.5e-3 - radius, 4.5e-3, 2.5e-3), rel=1e-9)
        added.append((length - plain) / plain)
    assert np.all(np.diff(added) < 0)
    assert 0 < added[-1] < 0.1


def test_wide_open_hole_cuts_the_pipe_off():
    """As wide as the bore, thin-walled, at 250 of 400 mm: the note is that of 250 mm and under 12 mm more."""
    tube = cylinder(10.0, 400.0, side(ToneHole("h", 250.0, 10.0), 10.0, 10.0, 30.0))
    length = 343.344 / 4 / resonance(tube, 320.0, ["h"]) * 1e3
    assert 250 + 10 < length < 250 + 24
    # towards the foot it can only add a second way out beside the end: the shift dies away
    shifts = []
    for at in (300.0, 340.0, 380.0, 394.0):
        tube = cylinder(10.0, 400.0, side(ToneHole("h", at, 8.0), 4.0, 10.0))
        shifts.append(cents(resonance(tube, 230.0 if at < 360 else 215.0, ["h"]), resonance(tube, 210.0)))
    assert np.all(np.diff(shifts) < 0)
    assert 0 < shifts[-1] < 40


def test_lattice_of_open_holes_has_benades_cutoff():
    """cutoff.csv: ks tan ks = s (b/a)^2/(2 t_e), with the own t_e and with the published one (Keefe)."""
    with pytest.warns(OutsideRange, match="wall over the hole's radius is 0.75"):
        holes = arrange((side(ToneHole("h", 9.0, 8.0), 3.0, 15.0, 21.0),))
    half = 9e-3

    def cell(f):
        omega = np.array([2 * np.pi * f])
        k, zc = omega / DRY.sound_speed, DRY.density * DRY.sound_speed / (np.pi * 7.5e-3**2)
        duct = np.array(
            [[np.cos(k * half), 1j * zc * np.sin(k * half)], [1j * np.sin(k * half) / zc, np.cos(k * half)]]
        )
        m = duct[:, :, 0] @ twoport(holes, 1.0, omega, LOSSLESS)[:, :, 0] @ duct[:, :, 0]
        return 0.5 * (m[0, 0] + m[1, 1]).real - 1.0

    cutoff = brentq(cell, 1200.0, 4000.0)
    b, a = 4.0, 7.5
    te = 3.0 + matching_length(b, a) + inner_length(b, a) + hole_in_body_length(b, 10.5)
    target = half * (b / a) ** 2 / (2e-3 * te)
    kb = brentq(lambda x: x * np.tan(x) - target, 1e-6, 1.5)
    assert cutoff == pytest.approx(kb * DRY.sound_speed / (2 * np.pi * half), rel=0.03)
    assert cutoff == pytest.approx(table("cutoff")["lattice"][1], rel=1e-3)


def test_tilt_lengthens_the_chimney_and_moves_its_mouth():
    """Drilled across: position is where the axes meet; the mouth lies bore/2 tan(tilt) further down."""
    straight, tilted = (
        side(ToneHole("h", 200.0, 5.0), 4.0, 12.0),
        side(ToneHole("h", 200.0, 5.0, tilt_deg=20.0), 4.0, 12.0),
    )
    assert mouth_mm(straight) == 200.0
    assert mouth_mm(tilted) == pytest.approx(200.0 + 6.0 * np.tan(np.radians(20.0)), rel=1e-14)
    one, other = arrange((straight,)), arrange((tilted,))
    assert other.wall[0] == pytest.approx(one.wall[0] / np.cos(np.radians(20.0)), rel=1e-12)
    assert other.place[0] * 1e3 == pytest.approx(mouth_mm(tilted), rel=1e-12)
    flat = resonance(cylinder(12.0, 400.0, tilted), 330.0, ["h"])
    assert -25 < cents(flat, resonance(cylinder(12.0, 400.0, straight), 330.0, ["h"])) < -10


def test_oval_hole_counts_by_its_area():
    oval, circle = (drilled(12.0, d, 4.0, 20.0) for d in ((5.0, 7.2), 6.0))
    for field in ("mouth", "wall", "outlet", "place"):
        np.testing.assert_allclose(getattr(oval, field), getattr(circle, field), rtol=1e-14)


def test_holes_are_sorted_by_their_mouths():
    """Two holes whose tilts cross: the path goes by where they meet the bore."""
    pair = (
        side(ToneHole("upper axis", 200.0, 4.0, tilt_deg=30.0), 4.0, 12.0),
        side(ToneHole("lower axis", 202.0, 4.0, tilt_deg=-30.0, face="back"), 4.0, 12.0),
    )
    built = column(cylinder(12.0, 400.0, *pair))
    assert built.holes.names == ("lower axis", "upper axis")
    assert np.all(np.diff(built.holes.place) > 0)
