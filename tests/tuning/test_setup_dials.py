"""The bench and its dials: what is read, what is turned, how far, and which way the notes go."""

import warnings
from dataclasses import replace

import numpy as np
import pytest

from acoustics.errors import Refusal
from acoustics.physics.air import Air
from acoustics.pipes.fingering import OPEN, TIGHT
from acoustics.pipes.rush import Rush
from acoustics.tuning.chart import tuning_chart
from acoustics.tuning.dials import DIALS, GROUPS, Dial, hole_dials
from acoustics.tuning.setup import Setup
from acoustics.validity import OutsideRange
from tests.pipes.sample import assert_one_sentence, sample_chanter
from tests.tuning.bench import bench, demo

BENCH = bench()
EVERY: dict[str, Dial] = {
    **DIALS,
    **{f"{hole.name}: {name}": dial for hole in demo().holes for name, dial in hole_dials(BENCH, hole.name).items()},
}
# a hole of 8.7 mm in what would then be a bore of 8.5 mm
REFUSED = {("taper", "low"): 'hole "F#": 8.7 mm is wider than the bore there'}
# dials that do nothing while another one stands at nothing
IDLE = {"patch at", "patch length", "rush", "rush length"}


def shifts(turned: Setup, before: Setup = BENCH):
    return turned.chart.cents - before.chart.cents


def octave(register: int):
    """Rows of a register, lowest first."""
    rows = BENCH.chart.rows
    mine = [i for i, row in enumerate(rows) if row.fingering.register == register]
    return np.array(sorted(mine, key=lambda i: rows[i].target_hz))


FIRST, SECOND = octave(1), octave(2)


def row(note: str, octave: int, register: int | None = None) -> int:
    return BENCH.chart.rows.index(BENCH.chart.row(note, octave, register))


def test_every_part_has_its_dials():
    assert {dial.group for dial in EVERY.values()} == set(GROUPS)
    kinds = {name.split(": ")[1] for name in EVERY if ": " in name}
    assert kinds == {"position", "size", "undercut", "lift", "wall", "tape"}
    assert len(EVERY) == len(DIALS) + 5 * len(demo().holes)


@pytest.mark.parametrize("name", EVERY)
def test_limits_and_steps_are_sane(name):
    """What the pipe has lies within the limits; at least three steps; no digits that the step does not need."""
    dial = EVERY[name]
    value = dial.read(BENCH)
    assert dial.low <= value <= dial.high
    assert 3 <= round((dial.high - dial.low) / dial.step, 6) <= 200
    assert round(dial.step, dial.decimals) == dial.step
    assert dial.decimals == 0 or round(dial.step, dial.decimals - 1) != dial.step
    for limit in (dial.low, dial.high):
        assert round(limit, 6) == limit
    assert dial.name == (f"{dial.label}, {dial.unit}" if dial.unit else dial.label)
    assert dial.unit or dial.label == "softness of the blades (0 stiff)"


@pytest.mark.parametrize("name", EVERY)
def test_read_after_turn_and_turning_back(name):
    """Exactly the value set, at every step from limit to limit; turned back, an equal setup."""
    dial = EVERY[name]
    before = dial.read(BENCH)
    for value in [*np.arange(dial.low, dial.high, dial.step).round(6).tolist(), dial.high]:
        if (name, "low") in REFUSED and value < 0.5 * dial.low:
            continue
        turned = dial.turn(BENCH, value)
        assert dial.read(turned) == value
        assert dial.turn(turned, before) == BENCH
        assert (turned == BENCH) == (value == before)
    assert dial.read(BENCH) == before


@pytest.mark.parametrize("end", ["low", "high"])
@pytest.mark.parametrize("name", EVERY)
def test_limits_can_be_built(name, end):
    """A chart at either end of every dial, or a sentence; some leave the range of a formula, which is said."""
    dial = EVERY[name]
    value = getattr(dial, end)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", OutsideRange)
        if (name, end) in REFUSED:
            with pytest.raises(Refusal) as refused:
                dial.turn(BENCH, value).chart  # noqa: B018
            assert_one_sentence(refused.value, REFUSED[name, end])
            return
        chart = dial.turn(BENCH, value).chart
    assert np.isfinite(chart.cents).sum() >= len(chart.rows) - 2
    still = np.array_equal(chart.cents, BENCH.chart.cents)
    assert still == (name in IDLE or value == dial.read(BENCH))


def test_a_dial_of_what_is_not_there():
    plain = replace(demo(), staple=replace(demo().staple, eye_opening_mm=None, flattened_mm=None))
    with pytest.raises(Refusal) as refused:
        DIALS["eye"].read(Setup(plain))
    assert_one_sentence(refused.value, "eye pressed to: the staple has none")
    assert "a staple whose file gives eye_opening_mm is needed" in str(refused.value)
    sample = Setup(sample_chanter())
    with pytest.raises(Refusal) as refused:
        hole_dials(sample, "G")
    assert_one_sentence(refused.value, 'hole: "G" is oval')
    with pytest.raises(Refusal, match='there is no hole called "H"'):
        hole_dials(sample, "H")


def test_a_hole_that_is_undercut_and_one_with_its_own_wall():
    """Turned to nothing and back, the undercut keeps the depth that its file gives; the wall is the file's."""
    sample = Setup(sample_chanter())
    cut = hole_dials(sample, "A")["undercut"]
    assert cut.read(sample) == pytest.approx(0.8, abs=1e-9)
    none = cut.turn(sample, 0.0)
    assert none.base.hole("A").undercut_diameter_mm is None
    assert none.base.hole("A").undercut_depth_mm is None
    assert cut.turn(none, 0.8).base.hole("A").undercut_depth_mm == 2.5
    wall = hole_dials(sample, "F#")["wall"]
    assert wall.read(sample) == 4.1
    assert wall.turn(wall.turn(sample, 5.0), 4.1) == sample


def test_dials_leave_each_other_alone():
    """Turned one after the other in both orders, three of different parts end in the same setup."""
    names = {"softness": 0.8, "patch depth": 0.1, "E: size": 5.0, "temperature": 25.0, "E: tape": 50.0}
    one = two = BENCH
    for name, value in names.items():
        one = EVERY[name].turn(one, value)
    for name, value in reversed(names.items()):
        two = EVERY[name].turn(two, value)
    assert one == two
    assert {name: EVERY[name].read(one) for name in names} == names


# The setup


def test_an_untouched_setup_is_the_chart_of_its_pipe():
    assert BENCH.pipe is BENCH.base
    assert BENCH.fingered == BENCH.fingerings == TIGHT
    np.testing.assert_array_equal(BENCH.chart.cents, tuning_chart(demo(), TIGHT).cents)
    assert BENCH.chart.scale.key == demo().key


def test_changes_reach_the_pipe():
    changed = replace(
        BENCH, patch_depth_mm=0.2, foot_wider_mm=0.3, throat_wider_mm=0.1, rush_mm=1.5, rush_length_mm=100.0
    )
    bore, old = changed.pipe.bore, demo().bore
    throat, foot = old.throat_mm[0], old.length_mm
    assert bore.diameter_mm(foot) == pytest.approx(13.4 + 0.3)
    assert bore.diameter_mm(throat) == pytest.approx(5.27 + 0.1)
    at = BENCH.patch_at_mm
    assert bore.diameter_mm(at) == pytest.approx(old.diameter_mm(at) + 0.2 + 0.3 * (at - throat) / (foot - throat))
    assert changed.pipe.rush == Rush(1.5, 261.0, 361.0)
    assert replace(demo(), bore=bore, rush=changed.pipe.rush) == changed.pipe
    assert BENCH.pipe == demo()


def test_a_rush_of_nothing_leaves_the_pipes_own():
    sample = Setup(sample_chanter())
    for change in ({"rush_mm": 1.0}, {"rush_length_mm": 50.0}):
        assert replace(sample, **change).pipe.rush == sample_chanter().rush
    assert replace(sample, rush_mm=1.0, rush_length_mm=50.0).pipe.rush == Rush(1.0, 306.0, 356.0)


def test_tape_and_gap_reach_the_fingerings():
    """The share of each open hole; every note on the knee gets the gap, those off it stay off."""
    taped = DIALS["gap"].turn(hole_dials(BENCH, "E")["tape"].turn(BENCH, 60.0), 3.0)
    assert taped.taped == (("E", 0.6),)
    for fingering, own in zip(taped.fingered, TIGHT, strict=True):
        assert dict(fingering.open_holes) == {name: 0.6 if name == "E" else 1.0 for name, _ in own.open_holes}
        assert fingering.foot == (3.0 if own.foot == "shut" else "open")
        assert (fingering.note, fingering.octave, fingering.register) == (own.note, own.octave, own.register)
    assert {"open", 3.0} == {fingering.foot for fingering in taped.fingered}
    assert [row.fingering for row in taped.chart.rows] == list(taped.fingered)
    twice = hole_dials(BENCH, "E")["tape"].turn(taped, 30.0)
    assert twice.taped == (("E", 0.3),)
    half = replace(
        BENCH, fingerings=tuple(replace(f, open_holes=dict.fromkeys(dict(f.open_holes), 0.5)) for f in TIGHT)
    )
    assert dict(replace(half, taped=(("E", 0.6),)).fingered[2].open_holes) == {"E": 0.3, "Eb": 0.5}


def test_open_fingering_ignores_the_knee():
    fingered = replace(BENCH, fingerings=OPEN, gap_mm=3.0).fingered
    assert {fingering.foot for fingering in fingered} == {"open"}


def test_a_keyless_chanter_is_charted_without_its_keys():
    keyless = Setup(replace(demo(), holes=tuple(hole for hole in demo().holes if hole.face != "side")))
    assert len(keyless.fingerings) == len(TIGHT) - 8
    assert {"C natural", "Bb", "G#", "F natural"}.isdisjoint(
        name for fingering in keyless.fingerings for name, _ in fingering.open_holes
    )


@pytest.mark.parametrize(
    ("change", "start"),
    [
        ({"rush_mm": -0.1}, "rush_mm: "),
        ({"rush_length_mm": float("nan")}, "rush_length_mm: "),
        ({"gap_mm": -1.0}, "gap_mm: "),
        ({"gap_mm": "3"}, "gap_mm: "),
        ({"taped": (("H", 0.5),)}, 'taped: there is no hole called "H"'),
        ({"patch_depth_mm": 4.0}, "patch depth: "),
        ({"patch_at_mm": 400.0}, "patch position: "),
        ({"foot_wider_mm": "1"}, "foot wider by: "),
        ({"throat_wider_mm": float("inf")}, "throat wider by: "),
        ({"rush_mm": 5.0, "rush_length_mm": 340.0}, "rush: "),
        ({"rush_mm": 1.0, "rush_length_mm": 350.0}, "rush: "),
    ],
)
def test_refused_in_one_sentence(change, start):
    with pytest.raises(Refusal) as refused:
        replace(BENCH, **change).chart  # noqa: B018
    assert_one_sentence(refused.value, start)


@pytest.mark.parametrize(
    ("change", "start"),
    [
        ({"taped": (("E", 1.5),)}, "taped, E: 1.5 is out of bounds"),
        ({"taped": (("A", 7),)}, "taped, A: 7 is out of bounds"),
        ({"taped": (("H", 0.5),)}, 'taped: there is no hole called "H"'),
        ({"taped": 5}, "taped: 5 is not a list of hole names"),
        ({"gap_mm": 0.05}, "gap_mm: 0.05 mm is no gap"),
        ({"scale": "just"}, "scale: 'just' stands there"),
        ({"fingerings": TIGHT[0]}, "fingerings: "),
        ({"fingerings": ("D",)}, "fingerings: 'D' stands there"),
    ],
)
def test_refused_when_made(change, start):
    with pytest.raises(Refusal) as refused:
        replace(BENCH, **change)
    assert_one_sentence(refused.value, start)


def test_lists_are_kept_where_nobody_can_change_them():
    given = replace(BENCH, fingerings=list(TIGHT), taped=[("E", 0.5), ("A", 0.6)])
    assert given == replace(BENCH, fingerings=TIGHT, taped={"A": 0.6, "E": 0.5})
    assert hash(given.scale) == hash(BENCH.scale)
    assert given.fingerings == TIGHT


# Which way the notes go: common practice, no source


def test_deeper_in_the_wood_sharpens_the_first_octave_the_upper_hand_most():
    moved = shifts(DIALS["insertion"].turn(BENCH, 16.0))[FIRST]
    assert np.all(moved > 3.0)
    assert np.all(np.diff(moved[:9]) > 0.0), "from low D to B flat each more than the one below"
    assert moved[:9].max() < moved[9:].min()
    assert moved[-1] > 2.0 * moved[0], "back D against low D"


@pytest.mark.parametrize(("name", "value"), [("softness", 0.8), ("reed length", 32.0), ("reed area", 9.0)])
def test_softer_longer_or_roomier_head_flattens_everything(name, value):
    """In the first octave the more, the higher the note: the head is a larger part of a shorter pipe."""
    moved = shifts(DIALS[name].turn(BENCH, value))
    assert np.all(moved < 0.0)
    assert np.all(np.diff(moved[FIRST]) < 0.0)


def test_straight_staple_widens_the_octaves_of_the_middle():
    """Rolled as wide at the eye as at the foot: all octaves too wide, those from G to C# most, low D least."""
    before = BENCH.chart.stretch
    after = DIALS["staple tip"].turn(BENCH, demo().staple.foot_mm).chart.stretch
    wider = {name: after[name] - before[name] for name in before}
    assert min(wider.values()) == wider["D"] > 0.0
    middle = [wider[name] for name in ("G", "G#", "A", "Bb", "B", "C", "C#")]
    assert min(middle) > max(wider[name] for name in ("D", "Eb", "E", "F", "back D"))
    assert min(middle) > 80.0


def test_a_longer_rush_reaches_higher_notes():
    """First octave, flattened by more than a cent: low D alone, then one more after the other."""
    reached = []
    for length in (40.0, 60.0, 100.0, 140.0, 180.0, 200.0):
        moved = shifts(replace(BENCH, rush_mm=1.5, rush_length_mm=length))[FIRST]
        flat = moved < -1.0
        assert np.all(flat[: flat.sum()]), "from low D up without a gap"
        assert moved[:-1].max() < 0.5
        reached.append(int(flat.sum()))
    assert reached[0] == 1
    assert reached == sorted(reached)
    assert reached[-1] >= 7


HOLE_OF = {"Eb": "Eb", "E": "E", "G": "G", "A": "A", "B": "B", "back D": "D"}


@pytest.mark.parametrize("hole", HOLE_OF)
def test_a_larger_hole_sharpens_its_own_note_most(hole):
    """And tape over a part of it flattens that note most, in both octaves."""
    octaves = [(2, 1), (3, 2)] if hole == "back D" else [(1, 1), (2, 2)]
    own = [row(HOLE_OF[hole], number, register) for number, register in octaves]
    dials = hole_dials(BENCH, hole)
    larger = shifts(dials["size"].turn(BENCH, round(dials["size"].read(BENCH) + 0.2, 2)))
    taped = shifts(dials["tape"].turn(BENCH, 75.0))
    for note, rows in zip(own, (FIRST, SECOND), strict=True):
        assert larger[note] > 0.5
        assert larger[note] == larger[rows].max()
        assert taped[note] < -0.5
        assert taped[note] == taped[rows].min()


@pytest.mark.parametrize("hole", ["E", "A", "B"])
def test_higher_and_thinner_sharpen_and_undercutting_sharpens(hole):
    dials, own = hole_dials(BENCH, hole), row(hole, 1)
    higher = dials["position"].turn(BENCH, dials["position"].read(BENCH) - 1.0)
    thinner = dials["wall"].turn(BENCH, dials["wall"].read(BENCH) - 0.1)
    undercut = dials["undercut"].turn(BENCH, 0.4)
    for turned in (higher, thinner, undercut):
        assert shifts(turned)[own] > 0.2
        assert shifts(turned)[own] == shifts(turned)[FIRST].max()


@pytest.mark.parametrize(("key", "note"), [("F natural", "F"), ("G#", "G#"), ("Bb", "Bb"), ("C natural", "C")])
def test_a_pad_lifted_further_sharpens_less_and_less(key, note):
    lift = hole_dials(BENCH, key)["lift"]
    heights = [lift.turn(BENCH, mm).chart.row(note, 1).cents for mm in (0.6, 1.2, 1.8, 2.4, 3.0)]
    rises = np.diff(heights)
    assert np.all(rises > 0.0)
    assert np.all(np.diff(rises) < 0.0)


def test_air_and_fork():
    """Warm air sharpens all; another fork moves every target and no sound."""
    assert np.all(shifts(DIALS["temperature"].turn(BENCH, 25.0)) > 5.0)
    assert np.all(shifts(DIALS["humidity"].turn(BENCH, 100.0)) > 0.0)
    assert DIALS["humidity"].turn(BENCH, 75.0).air == Air(20.0, 0.75)
    higher = DIALS["a"].turn(BENCH, 442.0)
    np.testing.assert_allclose(shifts(higher), -1200 * np.log2(442 / 440), atol=1e-6)
    assert str(higher.scale).startswith("just scale on D = 295.0")
