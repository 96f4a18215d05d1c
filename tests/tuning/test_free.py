"""Many dials at once: station dials, turning all in one go, derivatives of every dial there is."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acoustics.errors import Refusal
from acoustics.physics.network import Unlike, column
from acoustics.tuning.dials import DIALS, hole_dials
from acoustics.tuning.free import derivative, first_order, station_dials, turned
from acoustics.tuning.scales import equal_scale, just_scale
from acoustics.tuning.setup import Setup
from acoustics.tuning.tangent import Tangent
from tests.pipes.sample import assert_one_sentence, sample_chanter
from tests.pipes.strategies import floats
from tests.tuning.bench import bench, demo
from tests.tuning.changes import central, cents, outside_allowed, with_bore, with_part

BENCH = bench()
STATIONS = station_dials(BENCH)
HOLES = {f"{h.name}: {kind}": dial for h in demo().holes for kind, dial in hole_dials(BENCH, h.name).items()}
EVERY = {**DIALS, **STATIONS, **HOLES}
# what is turned in one go, and a few that are turned one by one
MANY = [*STATIONS, "staple tip", "eye", "reed length", "softness", "taper", "throat", "temperature", "humidity"]
MANY += [f"{name}: {kind}" for name in ("A", "E", "back D") for kind in ("position", "size")]
MANY += ["F natural: lift", "B: wall", "G: tape", "rush", "rush length"]


def test_station_dials():
    """One for each station below the staple, with limits of its own around what it has."""
    below = [(at, size) for at, size in demo().bore.stations_mm if at > demo().staple.insertion_mm]
    assert list(STATIONS) == [f"bore at {at:g} mm" for at, _ in below]
    for (name, dial), (_, size) in zip(STATIONS.items(), below, strict=True):
        assert dial.read(BENCH) == size
        assert (dial.low, dial.high) == pytest.approx((size - 0.5, size + 0.5), abs=5e-4)
        assert (dial.group, dial.unit, dial.label) == ("bore", "mm", name)
    narrow = station_dials(BENCH, 0.1)["bore at 121 mm"]
    assert (narrow.low, narrow.high) == pytest.approx((6.44, 6.64))


@pytest.mark.parametrize("name", STATIONS)
def test_one_station_turned(name):
    """That station alone, and back again; the chart is that of the bore written by hand."""
    dial = STATIONS[name]
    value = dial.read(BENCH) + 0.07
    moved = dial.turn(BENCH, value)
    assert dial.read(moved) == value
    assert dial.turn(moved, dial.read(BENCH)) == BENCH
    others = [other.read(moved) - other.read(BENCH) for key, other in STATIONS.items() if key != name]
    assert not any(others)
    by_hand = with_bore(BENCH, float(name.split()[2]), 0.07)
    np.testing.assert_allclose(moved.chart.cents, by_hand.chart.cents, atol=1e-9)


@settings(deadline=None, max_examples=60)
@given(st.dictionaries(st.sampled_from(MANY), floats(-1.0, 1.0), max_size=12))
def test_turned_is_turning_one_by_one(shares):
    """Any of many dials, each by up to a tenth of its range: an equal setup.

    Dials that are more than a field come first: a wall turned to the very value that it has stays that of the file
    only while the bore inside it is.
    """
    values, one_by_one = {}, BENCH
    for name, share in sorted(shares.items(), key=lambda pair: EVERY[pair[0]].where is not None):
        dial = EVERY[name]
        values[dial] = float(np.clip(dial.read(BENCH) + 0.1 * share * (dial.high - dial.low), dial.low, dial.high))
        one_by_one = dial.turn(one_by_one, values[dial])
    assert turned(BENCH, values) == one_by_one


def test_turned_by_nothing_and_in_any_order():
    assert turned(BENCH, {}) is BENCH
    values = {EVERY[name]: EVERY[name].read(BENCH) for name in MANY}
    assert turned(BENCH, values) == BENCH
    moved = {dial: value + 0.02 for dial, value in values.items() if dial.where}
    assert len(moved) > 20
    backwards = turned(BENCH, dict(reversed(moved.items())))
    assert turned(BENCH, moved) == backwards != BENCH
    for dial, value in moved.items():
        assert dial.read(backwards) == value


def test_turned_refuses_what_cannot_be_built():
    """Two holes turned into each other are refused as one turned there would be."""
    holes = {"E": 275.0, "Eb": 280.0}
    values = {replace(HOLES[f"{name}: position"], low=0.0, high=400.0): at for name, at in holes.items()}
    with pytest.raises(Refusal) as refused:
        turned(BENCH, values)
    assert_one_sentence(refused.value, 'holes: "E" and "Eb" overlap')


def test_turned_through_what_could_not_be_built_alone():
    """Both holes moved down: one by one in the wrong order the upper would run into the lower."""
    values = {HOLES["F#: position"]: 267.5, HOLES["E: position"]: 279.0}
    far = {replace(dial, high=400.0): value for dial, value in values.items()}
    with pytest.raises(Refusal):
        HOLES["F#: position"].turn(BENCH, 267.5)
    assert turned(BENCH, far).base.hole("F#").position_mm == 267.5


# Derivatives


SETUPS = {
    "plain": BENCH,
    "everything on": replace(
        BENCH,
        patch_depth_mm=0.12,
        patch_at_mm=151.3,
        foot_wider_mm=0.1,
        throat_wider_mm=0.05,
        rush_mm=1.2,
        rush_length_mm=130.3,
        taped=(("E", 0.7),),
        gap_mm=3.0,
    ),
}
# they put other stations into the bore, at whole thousandths of a mm: two charts a tenth of a step apart stand in,
# which leaves a curvature of 1 % of the largest at most
CHARTED = {"patch at", "patch length"}


@pytest.fixture(scope="module", params=SETUPS)
def tangent(request):
    return Tangent(SETUPS[request.param])


@pytest.mark.parametrize("name", [name for name in EVERY if name != "gap"])
def test_derivative_of_every_dial(tangent, name):
    """Against full charts: 1e-4 of the largest, or 1e-4 cents per unit.

    A tenth of a dial's step on either side and a twentieth, together free of the second order; places by 0.1 mm alone
    (see `test_tangent`); what stands at its limit, to the side that is open.
    """
    dial, setup = EVERY[name], tangent.setup
    at = (dial.exact or dial.read)(setup)
    step = 0.1 * dial.step

    def moved(by):
        return dial.turn(setup, at + by)

    got = derivative(tangent, dial)
    if name.endswith("position"):
        want = central(moved, 0.1)
    elif at in (dial.low, dial.high):
        way = 1.0 if at == dial.low else -1.0
        far, near = (cents(moved(way * by)) - cents(setup) for by in (step, 0.5 * step))
        want = way * (4.0 * near - far) / step
    else:
        wide, narrow = central(moved, step), central(moved, 0.5 * step)
        want = (4.0 * narrow - wide) / 3.0
    assert np.all(np.isfinite(got))
    largest = np.max(np.abs(want))
    allowed = 0.01 * largest if name in CHARTED else 1e-4 * max(1.0, largest)
    np.testing.assert_allclose(got, want, rtol=0.0, atol=allowed)


def test_a_wall_that_no_file_gives():
    """Read to the hundredth, but its slope is that of the wall that is there."""
    dial = HOLES["A: wall"]
    assert dial.read(BENCH) == round(dial.exact(BENCH), 2) != dial.exact(BENCH)
    assert derivative(Tangent(BENCH), dial)[BENCH.chart.rows.index(BENCH.chart.row("A", 1))] < -1.0


def test_a_shut_foot_has_no_slope():
    """From shut to the least gap that can be said is a jump: refused; with a gap it has one, off shut feet alone."""
    with outside_allowed(), pytest.raises(Refusal) as refused:
        derivative(Tangent(BENCH), DIALS["gap"])
    assert_one_sentence(refused.value, "foot off the knee by, mm: 0 can be neither raised nor lowered")
    setup = replace(BENCH, gap_mm=3.0)
    got = derivative(Tangent(setup), DIALS["gap"])
    wide, narrow = (central(lambda by: DIALS["gap"].turn(setup, 3.0 + by), by) for by in (0.04, 0.02))
    np.testing.assert_allclose(got, (4.0 * narrow - wide) / 3.0, rtol=0.0, atol=1e-4 * np.max(np.abs(got)))
    off_the_knee = np.array([row.fingering.foot == "open" for row in setup.chart.rows])
    np.testing.assert_allclose(got[off_the_knee], 0.0, atol=1e-4)
    assert np.abs(got[~off_the_knee]).max() > 0.1


def test_of_an_invented_chanter():
    """Another pipe, with oval, undercut and tilted holes, a step and a rush: its stations and its holes' places."""
    setup = Setup(sample_chanter())
    with outside_allowed():
        tangent = Tangent(setup)
        dials = [*station_dials(setup).values(), hole_dials(setup, "A")["size"], hole_dials(setup, "C#")["size"]]
        for dial in dials:
            got, want = derivative(tangent, dial), central(lambda by, d=dial: d.turn(setup, d.read(setup) + by), 0.003)
            np.testing.assert_array_equal(np.isnan(got), np.isnan(want))
            np.testing.assert_allclose(got, want, rtol=0.0, atol=4e-6 * max(1.0, np.nanmax(np.abs(want))))


def test_first_order_of_many_at_once():
    """Everything a little different at once: what is left falls to a quarter when the changes are halved."""
    tangent = Tangent(BENCH)
    names = ["staple tip", "reed length", "temperature", "A: size", "E: wall", "bore at 121 mm", "softness", "a"]
    rest, whole = [], []
    for share in (0.02, 0.01):
        values = {}
        for name in names:
            dial = EVERY[name]
            values[dial] = (dial.exact or dial.read)(BENCH) + share * 0.1 * (dial.high - dial.low)
        other = turned(BENCH, values)
        moved = other.chart.cents - BENCH.chart.cents
        rest.append(np.linalg.norm(first_order(tangent, other) - moved))
        whole.append(np.linalg.norm(moved))
    assert rest[0] < 0.01 * whole[0]
    assert rest[0] / rest[1] == pytest.approx(4.0, abs=3e-3)


def test_first_order_of_another_scale_and_of_nothing():
    tangent = Tangent(BENCH)
    np.testing.assert_array_equal(first_order(tangent, BENCH), 0.0)
    higher = replace(BENCH, scale=just_scale(442.0, "D"))
    np.testing.assert_allclose(first_order(tangent, higher), higher.chart.cents - BENCH.chart.cents, atol=1e-9)


def test_first_order_from_just_to_equal():
    """Every row by its own target: a third comes 14 cents flatter than it was, a second octave as its first."""
    moved = first_order(Tangent(BENCH), replace(BENCH, scale=equal_scale()))
    np.testing.assert_allclose(moved, replace(BENCH, scale=equal_scale()).chart.cents - BENCH.chart.cents, atol=1e-9)
    (third,) = {round(by, 6) for by, row in zip(moved, BENCH.chart.rows, strict=True) if row.note == "F#"}
    assert third == pytest.approx(1200.0 * np.log2(5.0 / 4.0) - 400.0, abs=1e-6)


def test_silent_rows_are_nan():
    setup = with_part(BENCH, "reed", resonance_hz=-300.0)
    silent = np.isnan(setup.chart.cents)
    assert 0 < silent.sum() < 5
    for name in ("staple length", "A: size", "bore at 121 mm", "patch depth", "temperature"):
        np.testing.assert_array_equal(np.isnan(derivative(Tangent(setup), EVERY[name])), silent)


def test_no_room_either_way():
    """A hole between two others, each a hair away: every small step is refused, in a sentence."""

    def stuck(setup, value):
        if value != 1.0:
            raise Refusal("it is stuck", "the value that it has is allowed", "rod")
        return setup

    rod = replace(DIALS["staple foot"], label="rod", read=lambda _: 1.0, turn=stuck, where=None)
    with pytest.raises(Refusal) as refused:
        derivative(Tangent(BENCH), rod)
    assert_one_sentence(refused.value, "rod, mm: 1 can be neither raised nor lowered")


def test_a_mistake_is_not_taken_for_want_of_room():
    """A plain ValueError of a dial, as numpy's of shapes that do not fit, comes out; pipes unlike each other do not."""

    def wrong(setup, value):
        return replace(setup, gap_mm=np.zeros(2) + np.zeros(3))

    rod = replace(DIALS["staple foot"], label="rod", read=lambda _: 1.0, turn=wrong, where=None)
    with pytest.raises(ValueError, match="could not be broadcast"):
        derivative(Tangent(BENCH), rod)
    with pytest.raises(Unlike):
        column(DIALS["throat"].turn(BENCH, 0.1).pipe, like=column(BENCH.pipe))
    assert np.all(np.isfinite(derivative(Tangent(BENCH), DIALS["throat"])))
