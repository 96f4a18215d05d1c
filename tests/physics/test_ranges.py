"""Every range of validity in the package is silent inside and warns just outside, with number and source."""

import importlib
import pkgutil
import re
import warnings
from pathlib import Path as File

import numpy as np
import pytest

import acoustics.physics as physics
from acoustics.physics import air, bends, network, profile, radiation, rivals, toneholes
from acoustics.physics.air import Air
from acoustics.physics.network import column, input_impedance
from acoustics.physics.radiation import foot_impedance, unflanged
from acoustics.physics.standing_wave import standing_wave
from acoustics.physics.steps import step_length
from acoustics.physics.toneholes import arrange
from acoustics.pipes.drone import Drone
from acoustics.pipes.holes import Key, ToneHole
from acoustics.pipes.reed import Reed
from acoustics.pipes.stretches import Bend, Slide, Straight
from acoustics.validity import OutsideRange, Range
from tests.physics.simple import DRY, Tube, cylinder, side
from tests.references import axisymmetric
from tests.tuning.bench import demo

W = np.array([2 * np.pi * 300.0])


def hole(diameter=5.0, wall=4.0, body=None):
    return arrange((side(ToneHole("h", 100.0, diameter), wall, 10.0, body),))


def undercut(growth):
    """A cone 2 mm deep that grows so much in radius over its depth; the drill where it grows nothing."""
    cut = {"undercut_diameter_mm": 4.0 + 4.0 * growth, "undercut_depth_mm": 2.0} if growth > 0.0 else {}
    return arrange((side(ToneHole("h", 100.0, 4.0, **cut), 4.0, 10.0),))


def lifted(ratio, pad=1.6):
    key = Key("h", 100.0, 5.0, lift_mm=2.5 * ratio, pad_diameter_mm=5.0 * pad)
    return arrange((side(key, 4.0, 10.0),))


def impedance(pipe, diameter, ka, open_holes=()):
    """Of a pipe at the frequency of that k times a radius."""
    frequency = max(ka, 1e-3) * DRY.sound_speed / (np.pi * diameter * 1e-3)
    return input_impedance(pipe, frequency, open_holes, air=DRY)


def cone(growth):
    """A tube of 10 mm that widens so much in radius over 20 mm."""
    wide = 10.0 + 40.0 * growth
    return Tube(((0.0, 10.0), (50.0, 10.0), (70.0, wide), (90.0, wide)))


def stepped(ratio):
    """A hole on a step of the bore."""
    stations = ((0.0, 10.0), (100.0, 10.0), (100.0, 10.0 * ratio), (200.0, 10.0 * ratio))
    return Tube(stations, (side(ToneHole("h", 100.0, 5.0), 4.0, 10.0),))


LEG = Straight(90.0, 8.0)
BENT = Drone("bent", Reed(100.0, 19.0), [LEG, Bend(20.0, 8.0), LEG, Slide(5.0, 9.0, 50.0), LEG])
PIERCED = cylinder(10.0, 200.0, side(ToneHole("h", 100.0, 5.0), 4.0, 10.0))

# range -> (what uses it, the value looked at -> a call)
USES = {
    id(air.AIR_TEMPERATURE): lambda t: Air(temperature_c=t),
    id(air.AIR_PRESSURE): lambda p: Air(pressure=p),
    id(air.AIR_CO2): lambda share: Air(co2=max(share, 0.0)),
    id(bends.BEND_CURVATURE): lambda ratio: bends.joint_length(ratio, 1.0),
    id(bends.BRIDGE_SPACING): lambda ratio: bends.bridge_lengths(1.0, ratio),
    id(network.PLANE_WAVES): lambda ka: impedance(cylinder(12.0, 200.0), 12.0, ka),
    id(bends.TURN_KA): lambda ka: impedance(BENT, 8.0, ka),
    id(profile.TAPER): lambda growth: column(cone(growth)),
    id(profile.UNDER_HOLE): lambda ratio: column(stepped(ratio)),
    id(radiation.MOUTH_KA): lambda ka: impedance(PIERCED, 5.0, ka, ["h"]),
    id(radiation.UNFLANGED_KA): lambda ka: unflanged(np.array([max(ka, 0.0)])),
    id(radiation.WALL_RATIO): lambda ratio: foot_impedance(5e-3, 5e-3 / ratio, W, DRY),
    id(radiation.HOLE_IN_BODY): lambda ratio: hole(body=5.0 / ratio),
    id(radiation.LIFT): lifted,
    id(radiation.PAD): lambda ratio: lifted(1.0, ratio),
    id(toneholes.HOLE_RATIO): lambda ratio: hole(diameter=10.0 * ratio, wall=12.0, body=30.0),
    id(toneholes.OPEN_WALL): lambda ratio: hole(wall=2.5 * ratio, body=20.0),
    id(toneholes.SHUT_WALL): lambda ratio: hole(wall=2.5 * ratio, body=20.0),
    id(toneholes.OVAL): lambda ratio: hole(diameter=(5.0, 5.0 * ratio)),
    id(toneholes.TILT): lambda degrees: arrange((side(ToneHole("h", 100.0, 5.0, tilt_deg=degrees), 4.0, 10.0),)),
    id(toneholes.CONE): undercut,
    id(rivals.NEDERVEEN_RATIO): lambda ratio: rivals.nederveen(hole(diameter=10.0 * ratio, wall=12.0, body=30.0)),
    id(rivals.DUBOS_RATIO): lambda ratio: rivals.dubos(hole(diameter=10.0 * ratio, wall=12.0, body=30.0)),
    id(rivals.KEEFE_RATIO): lambda ratio: rivals.keefe(hole(diameter=10.0 * ratio, wall=12.0, body=30.0)),
}
OPEN_ENDED = {
    id(air.AIR_CO2): 0,
    id(bends.BEND_CURVATURE): 0,
    id(bends.TURN_KA): 0,
    id(network.PLANE_WAVES): 0,
    id(profile.TAPER): 0,
    id(profile.UNDER_HOLE): 0,
    id(radiation.MOUTH_KA): 0,
    id(radiation.PAD): 0,
    id(radiation.UNFLANGED_KA): 0,
    id(radiation.WALL_RATIO): 1,
    id(toneholes.OVAL): 0,
    id(toneholes.CONE): 0,
}  # a side not reachable


def registered() -> dict[str, Range]:
    found = {}
    for module in pkgutil.iter_modules(physics.__path__):
        for name, value in vars(importlib.import_module(f"acoustics.physics.{module.name}")).items():
            if isinstance(value, Range):
                found[name] = value
    return found


RANGES = registered()


def test_every_range_of_the_package_is_looked_at_here():
    text = "".join(file.read_text(encoding="utf-8") for file in File(physics.__file__).parents[1].rglob("*.py"))
    assert sorted(re.findall(r"^(\w+) = Range\(", text, re.MULTILINE)) == sorted(RANGES)
    assert {id(value) for value in RANGES.values()} == set(USES)
    for name in RANGES:
        assert text.count(f"{name}.check(") >= 1, name


def said(value: Range, number: float) -> list[str]:
    """The warnings of this range when it meets that number."""
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        USES[id(value)](number)
    assert all(issubclass(w.category, OutsideRange) for w in caught)
    return [str(w.message) for w in caught if value.model in str(w.message) and value.quantity in str(w.message)]


def ends(value: Range):
    """(end, just inside, just outside) of each end that the package lets one reach."""
    reach = 1e-3 * (value.high - value.low)
    both = [(value.low, value.low + reach, value.low - reach), (value.high, value.high - reach, value.high + reach)]
    if id(value) in OPEN_ENDED:
        del both[OPEN_ENDED[id(value)]]
    return both


@pytest.mark.parametrize("name", sorted(RANGES))
def test_silent_inside_and_warning_just_outside(name):
    value = RANGES[name]
    if value.low == 0.25:  # walls under b/4: of the range 0.25 to 40 a thousandth is 0.04
        assert said(value, 0.2)
    for _, inside, outside in ends(value):
        assert said(value, inside) == [], name
        (message,) = said(value, outside)
        assert f"is {outside:.3g}, outside {value.low:g} to {value.high:g}" in message
        assert value.source in message


def test_steep_cones_and_steps_under_holes_name_their_place():
    """A cup, a hole across a step; a step itself is no cone, and a low one may be a short cone."""
    with pytest.warns(OutsideRange, match="^from 50 to 70 mm below the top: growth of the radius .* is 0.3,"):
        column(cone(0.3))
    short = Tube(((0.0, 10.0), (50.0, 10.0), (50.001, 11.9), (90.0, 11.9)))
    column(short)  # nearly a step, but a low one: what turns the corner there is little
    with pytest.warns(OutsideRange, match='^hole "h": wider over narrower bore under the hole is 1.3,'):
        column(stepped(1.3))
    apart = Tube(stepped(1.3).stations, (side(ToneHole("h", 97.0, 5.0), 4.0, 10.0),))
    column(apart)


def test_what_the_steepest_cone_in_range_misses():
    """Potential flow finds 0.05 to 0.08 narrow radii more in cones of that slope from twice as wide on."""
    missed = [axisymmetric.cone_inertance(ratio, profile.TAPER.high) for ratio in (2.0, 3.0, 5.0)]
    assert np.all(np.diff(missed) > 0.0)
    assert 0.045 < missed[0] < missed[-1] < 0.08
    assert float(step_length(1.0, 1.0 + profile.TAPER.high)) < 0.05  # the most that a shorter, steeper one can


def test_waves_too_short_are_told_once_and_long_ones_not():
    """The demo's A at 14 kHz names its hole, of a block its highest; at 6 kHz, and with the hole shut, nothing is said;
    a standing wave says the same."""
    for of in (input_impedance, standing_wave):
        with pytest.warns(OutsideRange, match='^hole "A": k times the hole') as caught:
            of(demo(), np.array([300.0, 14000.0]), ["A"], "shut")
        assert len(caught) == 1
        of(demo(), np.array([300.0, 6000.0]), ["A"], "shut")
        of(demo(), 12000.0, (), "shut")


@pytest.mark.parametrize("name", sorted(RANGES))
def test_every_range_is_a_whole_sentence(name):
    value = RANGES[name]
    assert value.low < value.high
    assert re.search(r"[12][0-9]{3}|no source", value.source), "year or an open admission"
    assert value.model.startswith(("the ", "a "))


def test_the_place_is_named_and_the_farthest_number_quoted():
    few = Range("a rule", "a number", 0.0, 1.0, "Nobody 1900")
    with pytest.warns(
        OutsideRange, match=r'^hole "b": a number is 3, outside 0 to 1 \(by 2\), where a rule.*Nobody 1900'
    ):
        few.check([1.5, 3.0, 0.5], ['hole "a"', 'hole "b"', 'hole "c"'])
    assert few.excess([1.5, 3.0]) == 2.0
    assert few.excess([]) == 0.0
    few.check([0.0, 1.0], "ends belong to it")


def test_the_low_frequency_limit_at_the_end_of_its_range():
    """Resistance (ka)^2/4 and length 0.6127 of the radius, against the open end of Levine and Schwinger: 5.5 %."""
    ka = np.array([1e-3, radiation.MOUTH_KA.high])
    modulus, length = unflanged(ka)
    reflection = -modulus * np.exp(-2j * ka * length)
    impedance = (1.0 + reflection) / (1.0 - reflection)
    resistance, reactance = impedance.real / (ka**2 / 4.0), impedance.imag / ka
    assert 0.0 < 1.0 - resistance[1] < 0.055
    assert 0.0 < 1.0 - reactance[1] / reactance[0] < 0.055
