"""Other published models: their printed values, how far they are from finite elements, what they change."""

import numpy as np
import pytest

from acoustics.physics import rivals
from acoustics.physics.network import column
from acoustics.physics.radiation import hole_in_body_length
from acoustics.physics.rivals import RIVALS, inner_length_dubos, inner_length_keefe, inner_length_nederveen
from acoustics.physics.toneholes import inner_length, matching_length, outer_length
from tests.physics.simple import cylinder
from tests.pipes.sample import sample_chanter
from tests.published import table

WORKED = table("worked_holes")
BUILT = column(sample_chanter())


@pytest.mark.parametrize(
    ("length", "printed"), [(inner_length_nederveen, "ti_nederveen"), (inner_length_dubos, "ti_dubos")]
)
def test_worked_holes(length, printed):
    """worked_holes.csv, to half a unit of the third decimal."""
    np.testing.assert_allclose(
        length(WORKED["hole_radius"], WORKED["bore_radius"]), WORKED[printed], atol=0.51e-3, rtol=0
    )


@pytest.mark.parametrize(
    ("length", "high", "most"),
    [(inner_length_nederveen, 0.95, 0.032), (inner_length_dubos, 0.8, 0.009), (inner_length_dubos, 0.9, 0.025)],
)
def test_against_finite_elements(length, high, most):
    """As their docstrings say, in hole radii; the house's own formula is never worse than either by more."""
    t = table("tone_hole_elements")
    inside = t["delta"] <= high + 1e-9
    opened = t["ts_over_b"] + t["ta_open"] * t["delta"] ** 4 / 4
    off = np.abs(length(t["delta"], 1.0) / t["delta"] - opened)[inside]
    own = np.abs(inner_length(t["delta"], 1.0) / t["delta"] - opened)[inside]
    assert 0.9 * most < off.max() < most
    assert own.max() < off.max()


def test_worked_holes_of_keefe():
    """worked_holes.csv: chimney, matching, inner and outer length together, to half a unit of the third decimal."""
    hole, bore, body = (WORKED[name] for name in ("hole_radius", "bore_radius", "body_radius"))
    whole = WORKED["depth"] + matching_length(hole, bore) + inner_length_keefe(hole, bore, body)
    whole += hole_in_body_length(hole, body)
    np.testing.assert_allclose(whole, WORKED["te_keefe"], atol=0.51e-3, rtol=0)


def test_keefe_against_finite_elements():
    t = table("tone_hole_elements")
    inside = t["delta"] >= 0.4 - 1e-9
    opened = (t["ts_over_b"] + t["ta_open"] * t["delta"] ** 4 / 4)[inside]
    delta, body = t["delta"][inside], np.linspace(1.4, 3.0, 9)[:, None]
    off = np.abs(inner_length_keefe(delta, 1.0, body) / delta - opened)
    assert 0.09 < off.max() < 0.11


def test_each_rival_changes_what_it_says_and_nothing_else():
    changed = {}
    for rival in RIVALS:
        other = rival.change(BUILT)
        fields = [name for name in vars(BUILT) if getattr(other, name) is not getattr(BUILT, name)]
        parts = [name for name in vars(BUILT.holes) if getattr(other.holes, name) is not getattr(BUILT.holes, name)]
        changed[rival.name] = (fields, parts, rival.lossless, rival.credible)
    assert changed == {
        "holes: Nederveen": (["holes"], ["inner"], False, True),
        "holes: Dubos": (["holes"], ["inner"], False, True),
        "holes: Keefe": (["holes"], ["inner"], False, True),
        "holes in a flat wall": (["holes"], ["outer"], False, True),
        "foot of thin wall": (["foot_radii"], [], False, True),
        "walls without loss": ([], [], True, False),
    }


def test_flat_wall_is_the_limit_of_a_wide_body():
    flat, index = rivals.flat_wall(BUILT.holes), np.array([0])
    got, radius = outer_length(flat, index, np.ones(1))
    assert got[0] == pytest.approx(0.822 * radius[0], rel=1e-12)
    assert got[0] == pytest.approx(float(hole_in_body_length(radius[0], 1e6)), rel=1e-5)


def test_thin_foot_has_no_wall():
    other = next(r for r in RIVALS if r.name == "foot of thin wall").change(BUILT)
    assert other.foot_radii == (BUILT.foot_radii[0], BUILT.foot_radii[0])


def test_pipe_without_holes_is_left_alone():
    tube = column(cylinder(8.0, 300.0))
    assert all(rival.change(tube).holes is None for rival in RIVALS)
