"""The straight-line behaviour of a chart against full charts, calculated anew on either side of every change.

All charts of small changes: 0.003 mm on either side leaves some 1e-7 of curvature for most dimensions, 2e-6 for the
smallest gaps (a pad's lift, the pressed eye), and the rounding of two charts (1e-8 cents and less) over 0.006 mm.
Places are moved by 0.1 mm, stations and tilts by 0.3: along the bore everything is straight for longer (1e-5), and
where a stretch is a whole number of longest slices long (16 and 24 mm in the demo) the chart anew gets one slice
more on one side, which is a jump of some 5e-6 cents.
"""

from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, assume, given, settings
from hypothesis import strategies as st

from acoustics.errors import Refusal
from acoustics.physics import network
from acoustics.physics.network import column
from acoustics.pipes.bore import Body, Bore
from acoustics.pipes.holes import ToneHole
from acoustics.tuning import resonances
from acoustics.tuning.setup import Setup
from acoustics.tuning.tangent import Tangent
from tests.pipes.sample import sample_chanter
from tests.tuning.bench import bench, demo
from tests.tuning.changes import central, cents, grown, outside_allowed, setups, with_bore, with_hole, with_part

STEP, PLACE, TILT = 0.003, 0.1, 0.3
SAMPLE = Setup(sample_chanter())


@pytest.fixture(scope="module", params=["demo", "sample", "gap and rush"])
def known(request):
    """The tangents of the demo; of the invented chanter with oval, undercut and tilted hole, step and rush; of the
    demo off the knee by a gap, with a rush, tape and other air."""
    setup = {
        "demo": bench(),
        "sample": SAMPLE,
        "gap and rush": replace(bench(), gap_mm=2.0, rush_mm=1.4, rush_length_mm=130.3, taped=(("A", 0.6),)),
    }[request.param]
    with outside_allowed():
        return Tangent(setup)


def assert_slope(got, want, within=1e-4):
    """Rows that do not sound are nan in both; the others within a part of the largest, or of a cent per mm."""
    np.testing.assert_array_equal(np.isnan(got), np.isnan(want))
    np.testing.assert_allclose(got, want, rtol=0.0, atol=max(within * np.nanmax(np.abs(want)), within))


def toward(tangent: Tangent, setup_at, by: float = STEP):
    """The tangent's own slope, by the column of the changed pipe."""
    with outside_allowed():
        ends = [tangent.toward(column(setup_at(way * by).pipe, like=tangent.column)) for way in (1.0, -1.0)]
    return (ends[0] - ends[1]) / (2.0 * by)


def assert_toward(tangent: Tangent, setup_at, by: float = STEP):
    assert_slope(toward(tangent, setup_at, by), central(setup_at, by))


# Every method on pipes that are known


@pytest.mark.parametrize("field", ["length_mm", "foot_mm", "tip_mm", "insertion_mm", "eye_opening_mm", "flattened_mm"])
def test_toward_another_staple(known, field):
    """Insertion and length move every hole and station along the path, too."""
    assert_toward(known, lambda by: with_part(known.setup, "staple", **{field: by}))


def test_toward_another_bore(known):
    """Every station below the staple, one after the other, and the foot wider with the last."""
    setup, heard = known.setup, 0
    for at in sorted({at for at, _ in setup.base.bore.stations_mm if at > setup.base.staple.insertion_mm}):
        assert_toward(known, lambda by, at=at: with_bore(setup, at, by))
        heard += np.nanmax(np.abs(toward(known, lambda by, at=at: with_bore(setup, at, by)))) > 0.1
    assert heard >= 5


def test_toward_stations_elsewhere(known):
    """Two of the stations, no hole between, moved down the bore."""

    def moved(by):
        stations = list(known.setup.base.bore.stations_mm)
        for i in (-3, -2):
            stations[i] = (stations[i][0] + by, stations[i][1])
        return replace(known.setup, base=replace(known.setup.base, bore=Bore(stations)))

    assert_toward(known, moved, 0.3)


def test_toward_another_rush():
    """Thicker, and reaching farther up."""
    with outside_allowed():
        tangent = Tangent(SAMPLE)
    for field, step in (("diameter_mm", STEP), ("top_mm", PLACE)):
        slope = central(lambda by, field=field: with_part(SAMPLE, "rush", **{field: by}), step)
        assert np.nanmax(np.abs(slope)) > 0.1
        assert_toward(tangent, lambda by, field=field: with_part(SAMPLE, "rush", **{field: by}), step)


HOLE_FIELDS = [
    "position_mm",
    "diameter_mm",
    "depth_mm",
    "undercut_diameter_mm",
    "undercut_depth_mm",
    "tilt_deg",
    "lift_mm",
    "pad_diameter_mm",
]


def has(hole, field: str) -> bool:
    own = field in {one.name for one in fields(hole)}
    return own and (field == "depth_mm" or getattr(hole, field) is not None)


@pytest.mark.parametrize("field", HOLE_FIELDS)
def test_every_hole(known, field):
    """All holes of a pipe that have the field: `toward`, and `holes_toward` with the others as they were."""
    setup, names, tried = known.setup, known.column.holes.names, 0
    step = {"position_mm": PLACE, "tilt_deg": TILT}.get(field, STEP)
    for hole in setup.base.holes:
        if not has(hole, field):
            continue

        def changed(by, name=hole.name):
            return with_hole(setup, name, **{field: by})

        want = central(changed, step)
        assert_slope(toward(known, changed, step), want)
        with outside_allowed():
            ends = [known.holes_toward(column(changed(by).pipe).holes) for by in (step, -step)]
        each = (ends[0] - ends[1]) / (2.0 * step)
        own = names.index(hole.name)
        assert_slope(each[:, own], want)
        others = np.delete(each[known.sounding], own, axis=1)
        np.testing.assert_array_equal(others, 0.0)
        tried += 1
    # the demo has no undercut hole
    assert tried == sum(has(hole, field) for hole in setup.base.holes)
    assert tried > 0 or (field.startswith("undercut") and known.setup.base.name == demo().name)


def test_holes_all_at_once(known):
    """The columns of `holes_toward` are what each hole does alone, and their sum what `toward` says of all."""

    def all_larger(by):
        holes = tuple(grown(hole, {"diameter_mm": by}) for hole in known.setup.base.holes)
        return replace(known.setup, base=replace(known.setup.base, holes=holes))

    with outside_allowed():
        other = column(all_larger(STEP).pipe, like=known.column)
    each = known.holes_toward(other.holes)
    np.testing.assert_allclose(each.sum(axis=1), known.toward(other), rtol=1e-9, atol=1e-12)
    assert_slope(toward(known, all_larger), central(all_larger, STEP))


@pytest.mark.parametrize("field", ["length_mm", "area_mm2", "softness", "resonance_hz", "quality"])
def test_reed_toward(known, field):
    by = {"resonance_hz": 0.3, "softness": 3e-4}.get(field, STEP)
    ends = [known.reed_toward(with_part(known.setup, "reed", **{field: way * by}).pipe.reed) for way in (1.0, -1.0)]
    want = central(lambda more: with_part(known.setup, "reed", **{field: more}), by)
    assert_slope((ends[0] - ends[1]) / (2.0 * by), want)
    assert np.nanmax(np.abs(want)) > 1e-3


@pytest.mark.parametrize(("field", "by"), [("temperature_c", 0.03), ("relative_humidity", 0.003)])
def test_gas_toward(known, field, by):
    """Air changes everything at once: bore, chimneys, foot and reed."""
    ends = [known.gas_toward(with_part(known.setup, "air", **{field: way * by}).air.gas) for way in (1.0, -1.0)]
    want = central(lambda more: with_part(known.setup, "air", **{field: more}), by)
    assert_slope((ends[0] - ends[1]) / (2.0 * by), want)
    assert np.nanmin(want) > 0.5


def test_foot_toward(known):
    """A thicker ring round the end of the wood, the last millimetre: heard where the foot is off the knee alone."""
    base = known.setup.base
    end, outside = base.bore.length_mm, base.body.outer_stations_mm
    ring = [*outside[:-1], (end - 1.0, float(base.body.diameter_mm(end - 1.0))), outside[-1]]
    setup = replace(known.setup, base=replace(base, body=Body(ring)))
    with outside_allowed():
        tangent = Tangent(setup)

    def thicker(by):
        body = Body([*ring[:-1], (end, ring[-1][1] + by)])
        return replace(setup, base=replace(setup.base, body=body))

    with outside_allowed():
        ends = [tangent.foot_toward(column(thicker(by).pipe)) for by in (0.03, -0.03)]
    slope, want = (ends[0] - ends[1]) / 0.06, central(thicker, 0.03)
    # 0.1 cents per mm at most: held to a thousandth of that
    np.testing.assert_allclose(slope, want, rtol=0.0, atol=1e-6 * np.nanmax(np.abs(want)))
    assert_toward(tangent, thicker, 0.03)
    off = np.array([row.fingering.foot != "shut" for row in setup.chart.rows])
    assert np.all(slope[off & ~np.isnan(slope)] != 0.0)
    np.testing.assert_array_equal(slope[~off & ~np.isnan(slope)], 0.0)


def test_steps_toward(monkeypatch):
    """The inertance of every step 1 % more, and nothing else: full charts with another `step_inertance`."""
    with outside_allowed():
        tangent = Tangent(SAMPLE)
    steps = np.flatnonzero(tangent.column.bore.step)
    assert len(steps) >= 2
    plain = network.step_inertance

    def charted(by):
        monkeypatch.setattr(network, "step_inertance", lambda *areas: (1.0 + by) * plain(*areas))
        made = cents(SAMPLE)
        monkeypatch.undo()
        return made

    want = (charted(0.01) - charted(-0.01)) / 0.02
    other = replace(tangent.column.bore, step=1.01 * tangent.column.bore.step)
    each = tangent.steps_toward(replace(tangent.column, bore=other)) / 0.01
    assert each.shape == (len(SAMPLE.chart.rows), len(steps))
    assert_slope(each.sum(axis=1), want)
    assert np.nanmax(np.abs(want)) > 0.1
    one = np.array(tangent.column.bore.step)
    one[steps[0]] *= 1.01
    alone = tangent.steps_toward(replace(tangent.column, bore=replace(tangent.column.bore, step=one))) / 0.01
    np.testing.assert_array_equal(alone[:, 0], each[:, 0])
    np.testing.assert_array_equal(alone[tangent.sounding, 1:], 0.0)


@pytest.mark.parametrize("name", ["area", "perimeter", "length"])
def test_slices_and_cents(known, name, monkeypatch):
    """Every slice changed by a random amount of its own: full charts of a column so changed."""
    bore = known.column.bore
    own = np.random.default_rng(5).normal(size=getattr(bore, name).shape)
    parts = {"area": np.zeros((2, bore.length.size)), "perimeter": np.zeros((2, bore.length.size))}
    parts["length"] = np.zeros(bore.length.size)
    parts[name] = own if name != "length" else own * bore.length

    def charted(by):
        def changed(pipe):
            built = column(pipe)
            slices = replace(built.bore, **{name: getattr(built.bore, name) * (1.0 + by * own)})
            return replace(built, bore=slices, slices=slices.joined(built.holes.chimneys))

        monkeypatch.setattr(resonances, "column", changed)
        made = cents(known.setup)
        monkeypatch.undo()
        return made

    want = (charted(3e-4) - charted(-3e-4)) / 6e-4
    assert_slope(known.cents(known.slices(**parts)), want)
    assert np.nanmax(np.abs(want)) > 1.0


# Random chanters


# an example that fails is as good as the smallest one, which takes minutes to find
@settings(
    deadline=None,
    max_examples=15,
    suppress_health_check=[HealthCheck.too_slow],
    derandomize=True,
    phases=[Phase.generate],
)
@given(setups(), st.data())
def test_random_chanters(setup, data):
    """Eight changes of a random chanter, of every part one at least."""
    with outside_allowed():
        try:
            tangent = Tangent(setup)
        except Refusal:  # wider than the bore
            assume(False)
    base, names = setup.base, [hole.name for hole in setup.base.holes]
    fingers = [hole.name for hole in base.holes if isinstance(hole, ToneHole)]
    stations = [at for at, _ in base.bore.stations_mm if at > base.staple.insertion_mm]
    staple = data.draw(st.sampled_from(["length_mm", "foot_mm", "tip_mm", "insertion_mm", "eye_opening_mm"]))
    hole, finger, at = (data.draw(st.sampled_from(pick)) for pick in (names, fingers, stations))
    changes = [
        lambda by: with_part(setup, "staple", **{staple: by}),
        lambda by: with_bore(setup, at, by),
        lambda by: with_hole(setup, hole, position_mm=by),
        lambda by: with_hole(setup, hole, diameter_mm=by),
        lambda by: with_hole(setup, hole, depth_mm=by),
        lambda by: with_hole(setup, finger, tilt_deg=by),
    ]
    cut = [h.name for h in base.holes if h.undercut_depth_mm]
    if cut:
        changes += [lambda by: with_hole(setup, cut[0], undercut_diameter_mm=by, undercut_depth_mm=by)]
    if base.rush:
        changes += [lambda by: with_part(setup, "rush", diameter_mm=by, top_mm=by)]
    for change in changes:
        pieces = _pieces(change)
        # where a stretch becomes longer than a slice may be, the chart itself is cut anew
        if pieces and all(np.array_equal(p, tangent.column.pieces) for p in pieces):
            with outside_allowed():
                ends = [tangent.toward(column(change(by).pipe, like=tangent.column)) for by in (STEP, -STEP)]
            assert_named(ends, change, STEP)
    reed = [tangent.reed_toward(with_part(setup, "reed", length_mm=by).pipe.reed) for by in (STEP, -STEP)]
    assert_named(reed, lambda by: with_part(setup, "reed", length_mm=by), STEP)
    warm = [tangent.gas_toward(with_part(setup, "air", temperature_c=by).air.gas) for by in (0.03, -0.03)]
    assert_named(warm, lambda by: with_part(setup, "air", temperature_c=by), 0.03)


def assert_named(ends, setup_at, by):
    """The slope in all rows but those, two at most, where two resonances are so alike that the smallest change lets
    the other one be called the note: there the chart itself jumps."""
    coarse, got = central(setup_at, by), (ends[0] - ends[1]) / (2.0 * by)
    want = (4.0 * central(setup_at, by / 2.0) - coarse) / 3.0  # Richardson: without the error of by squared
    jumped = np.abs(want - got) > 20.0 / (2.0 * by)
    assert jumped.sum() <= 2
    assert_slope(got[~jumped], want[~jumped])


def _pieces(change) -> list:
    """How the pipe is cut with the change on either side; nothing where one cannot be built."""
    try:
        with outside_allowed():
            return [column(change(by).pipe).pieces for by in (STEP, -STEP)]
    except Refusal:
        return []


# Where two columns cannot be compared


def test_other_stretches_are_refused():
    """One station more; a hole fewer; a hole past a station."""
    built = column(demo())
    more = replace(demo(), bore=Bore(sorted([*demo().bore.stations_mm, (70.0, 5.5)])))
    fewer = replace(demo(), holes=demo().holes[1:])
    for other in (more, fewer):
        with pytest.raises(ValueError, match="the same stretches"):
            column(other, like=built)
    past = with_hole(bench(), "A", position_mm=-16.0).pipe
    assert past.hole("A").position_mm == 155.0 < 156.0 < demo().hole("A").position_mm
    with pytest.raises(ValueError, match="a hole has passed a station"):
        column(past, like=built)


def test_the_same_holes_are_skipped(monkeypatch):
    """Another bore between the holes leaves them as they are: nothing is calculated for them, the answer stays."""
    tangent = Tangent(bench())
    stations = list(demo().bore.stations_mm)
    wider = replace(
        demo(), bore=Bore([*stations[:2], (22.0, 5.28), *stations[3:]]), staple=grown(demo().staple, {"foot_mm": 1e-3})
    )
    other = column(wider, like=tangent.column)
    calls = []
    plain = tangent.toward(other)

    def counted(*_):
        calls.append(1)
        return np.zeros((len(tangent.column.holes.names), len(tangent.frequency)), complex)

    monkeypatch.setattr("acoustics.tuning.tangent.hole_change", counted)
    np.testing.assert_array_equal(tangent.toward(other), plain)
    assert not calls
    tangent.toward(column(with_hole(bench(), "A", diameter_mm=0.01).pipe, like=tangent.column))
    assert calls


def test_a_hole_exactly_at_a_station():
    """Every change that leaves the two together is exact; the hole upward alone has the slope of the bore above."""
    setup = with_hole(bench(), "G", position_mm=16.0)
    assert setup.base.hole("G").position_mm in setup.base.bore.table_mm[0]
    tangent = Tangent(setup)
    for field in ("length_mm", "insertion_mm", "foot_mm"):
        assert_toward(tangent, lambda by, field=field: with_part(setup, "staple", **{field: by}))
    assert_toward(tangent, lambda by: with_bore(setup, 227.0, by))
    higher = with_hole(setup, "G", position_mm=-1e-4)
    got = tangent.toward(column(higher.pipe, like=tangent.column)) / -1e-4
    one, two = ((cents(with_hole(setup, "G", position_mm=-by)) - setup.chart.cents) / -by for by in (0.006, 0.003))
    assert_slope(got, 2.0 * two - one)
    with pytest.raises(ValueError, match="a hole has passed a station"):
        column(with_hole(setup, "G", position_mm=1e-4).pipe, like=tangent.column)


def test_rows_that_do_not_sound_are_nan():
    """Blades at 1000 Hz silence two notes."""
    setup = with_part(bench(), "reed", resonance_hz=-300.0)
    silent = np.isnan(setup.chart.cents)
    assert 0 < silent.sum() < 5
    tangent = Tangent(setup)
    np.testing.assert_array_equal(tangent.sounding, np.flatnonzero(~silent))
    assert_toward(tangent, lambda by: with_part(setup, "staple", length_mm=by))
    each = tangent.holes_toward(column(with_hole(setup, "A", diameter_mm=0.01).pipe).holes)
    np.testing.assert_array_equal(np.isnan(each).all(axis=1), silent)


def test_nothing_changed_nothing_moves(known):
    for moved in (
        known.toward(known.column),
        known.reed_toward(known.pipe.reed),
        known.foot_toward(known.column),
        known.holes_toward(known.column.holes).sum(axis=1),
        known.steps_toward(known.column).sum(axis=1),
    ):
        np.testing.assert_allclose(moved[known.sounding], 0.0, atol=1e-9)
    # the air's is the sweep against the polynomial
    np.testing.assert_allclose(known.gas_toward(known.gas)[known.sounding], 0.0, atol=1e-6)


def test_finer_slices_say_the_same():
    """Slices of at most 4 mm instead of 8: their error is of fourth order."""
    coarse, fine = Tangent(bench()), Tangent(bench(), 4.0)
    wider = with_bore(bench(), 192.0, STEP).pipe
    one, two = (t.toward(column(wider, like=t.column)) / STEP for t in (coarse, fine))
    np.testing.assert_allclose(one, two, rtol=0.0, atol=2e-5 * np.max(np.abs(two)))
    assert len(fine.column.bore.length) > 1.5 * len(coarse.column.bore.length)
