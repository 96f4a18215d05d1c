"""Tone holes against finite elements in three dimensions made here (tests/references/generate_tone_hole.py)."""

import numpy as np
import pytest

from acoustics.physics.radiation import hole_in_body_length, mouth_impedance
from acoustics.physics.toneholes import (
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
from acoustics.validity import OutsideRange
from tests.physics.simple import DRY, LOSSLESS, side
from tests.published import table

T = table("tone_hole_fields")
HOLE, WALL = T["delta"], T["t_over_b"] * T["delta"]  # in bore radii
CUT = table("undercuts")
LOW = np.array([2 * np.pi * 20.0])


def test_the_mesh_is_fine_enough():
    """Refining by 1.5 moves nothing by 1e-3 of a hole's radius, or of the series length's unit."""
    assert max(np.max(T["error"]), np.max(CUT["error"])) < 1e-3


def test_two_meshes_two_authors():
    """The row that both tables have: within 3e-4, what the older states as its own error."""
    old = table("tone_hole_elements")
    (here,) = np.flatnonzero((T["delta"] == 0.7) & (T["t_over_b"] == 1.0))
    (there,) = np.flatnonzero((old["delta"] == 0.7) & (old["t_over_b"] == 1.0))
    for column in ("ts_over_b", "ta_closed", "ta_open", "ti_over_b"):
        assert T[column][here] == pytest.approx(old[column][there], abs=3e-4)


def test_inner_length():
    """Shut and open, within 0.0078 of the hole's radius, as `shunt_length` states."""
    for series, column in ((series_length_shut, "ta_closed"), (series_length_open, "ta_open")):
        here = shunt_length(inner_length(HOLE, 1.0), series(HOLE, 1.0, WALL), HOLE, 1.0) / HOLE
        assert np.max(np.abs(here - T["ts_over_b"] - T[column] * HOLE**4 / 4.0)) < 0.0078


@pytest.mark.parametrize(("series", "column"), [(series_length_shut, "ta_closed"), (series_length_open, "ta_open")])
def test_series_length(series, column):
    """Within 5 %, as both formulas state."""
    np.testing.assert_allclose(-series(HOLE, 1.0, WALL) / HOLE**5, T[column], rtol=0.05)


def undercut(row: int, share: float):
    """What a bore of radius 4 mm sees of an undercut hole, its own unit of inertance, its radius [m] and wall [m]."""
    b, wider = CUT["delta"][row] * 4.0, CUT["wider"][row]
    wall = CUT["t_over_b"][row] * b
    hole = ToneHole(
        "h", 200.0, 2 * b, undercut_diameter_mm=2 * wider * b, undercut_depth_mm=CUT["depth_over_t"][row] * wall
    )
    holes = arrange((side(hole, wall, 8.0, 18.0),))
    chimneys = fold(holes.chimneys.each(LOW, LOSSLESS), holes.chimneys.counts)
    port = hole_twoports(holes, np.array([0]), np.array([share]), chimneys, LOW, LOSSLESS)[:, :, 0, 0]
    return port, LOW[0] * DRY.density / (np.pi * (b * 1e-3) ** 2), b * 1e-3, wall * 1e-3


def undercut_series(row: int, share: float) -> float:
    """-t_a/(b delta^4) of the hole as wide as its drill."""
    port, unit, b, _ = undercut(row, share)
    return float(-2.0 * ((port[0, 0] - 1.0) / port[1, 0]).imag / unit / b / CUT["delta"][row] ** 4)


def undercut_shunt(row: int) -> float:
    """Length of the shunt arm of the open hole beyond its wall, in hole radii."""
    port, unit, b, wall = undercut(row, 1.0)
    outside = mouth_impedance(b, hole_in_body_length(b, 9e-3), LOW, LOSSLESS).imag.item()
    return float(((1.0 / port[1, 0]).imag - outside) / unit - wall) / b


ROWS = range(len(CUT["delta"]))


def test_undercuts_as_found_before():
    """The hole of `test_undercut_against_finite_elements`, meshed anew: 0.33 and 0.80 mm to their last digit."""
    assert CUT["shunt"][0] * 2.8 == pytest.approx(0.33, abs=5e-3)
    assert CUT["ta_open"][0] * 2.8 * CUT["delta"][0] ** 2 == pytest.approx(0.80, abs=5e-3)


def test_undercut_shunt_length():
    """Within 0.02 of the hole's radius, 0.07 for the cone to 1.6 b, as `toneholes` states."""
    off = np.abs([undercut_shunt(row) for row in ROWS] - CUT["shunt"])
    assert np.all(off[CUT["wider"] < 1.6] < 0.02)
    assert np.all(off < 0.07)


@pytest.mark.parametrize(("share", "column"), [(0.0, "ta_closed"), (1.0, "ta_open")])
def test_undercut_series_length(share, column):
    """Within 2 %, as `toneholes` states."""
    np.testing.assert_allclose([undercut_series(row, share) for row in ROWS], CUT[column], rtol=0.02)


def test_steep_undercuts_warn_and_count_no_narrower_than_the_drill():
    steep = ToneHole("h", 200.0, 5.0, undercut_diameter_mm=7.0, undercut_depth_mm=0.1)
    with pytest.warns(OutsideRange, match="growth of the radius over the depth of the cone is 10"):
        holes = arrange((side(steep, 5.0, 8.0, 18.0),))
    assert holes.mouth[0] == pytest.approx(2.5e-3)


@pytest.mark.parametrize("row", ROWS)
def test_shut_undercut_holds_its_volume(row):
    """Frustum, cylinder and the space between bore and tangent plane: closed forms, 1e-4 of it."""
    port, _, b, wall = undercut(row, 0.0)
    mouth, cone = b * CUT["wider"][row], wall * CUT["depth_over_t"][row]
    volume = np.pi * (mouth**2 * matching_length(mouth, 4e-3) + cone * (mouth**2 + mouth * b + b**2) / 3.0)
    volume += np.pi * b**2 * (wall - cone)
    assert port[1, 0].imag / LOW[0] * DRY.density * DRY.sound_speed**2 == pytest.approx(volume, rel=6e-6)
