"""How much a chart hangs on the models: against charts and modes found again by hand."""

from dataclasses import replace

import numpy as np
import pytest

from acoustics.physics.rivals import RIVALS, Rival
from acoustics.pipes.design_file import read_design
from acoustics.pipes.fingering import TIGHT
from acoustics.tuning.dials import DIALS
from acoustics.tuning.free import turned
from acoustics.tuning.resonances import band, find_modes, first_target, lips
from acoustics.tuning.setup import Setup
from acoustics.tuning.uncertainty import model_spread
from acoustics.units import cents
from acoustics.validity import OutsideRange
from acoustics.view import plot_models
from tests.tuning.bench import DESIGNS, bench
from tests.tuning.changes import outside_allowed

BACK_D = pytest.warns(OutsideRange, match=r'hole "back D": .* outside 0\.2 to 0\.9 .*Dubos')


@pytest.fixture(scope="module")
def spread():
    with BACK_D:
        return model_spread(bench())


def row(spread, name):
    return spread.moved[[rival.name for rival in spread.rivals].index(name)]


def test_the_own_models_move_nothing():
    """A rival that changes nothing finds the chart's own modes: 1e-4 cents."""
    same = model_spread(bench(), (Rival("same", "none", lambda column: column),))
    assert np.max(np.abs(same.moved)) < 1e-4
    assert np.max(same.uncertainty) < 1e-4


def test_foot_of_thin_wall_moves_only_what_comes_out_of_the_foot(spread):
    """A wall lengthens: low D, the one note off the knee, is sharp without it by the difference of end lengths."""
    moved = row(spread, "foot of thin wall")
    open_foot = np.array([r.fingering.foot == "open" for r in spread.chart.rows])
    assert 0 < open_foot.sum() < len(open_foot)
    assert np.all(moved[open_foot] > 0.5)
    assert np.max(np.abs(moved[~open_foot])) < 1e-4


def test_a_flat_wall_only_flattens_what_has_an_open_hole(spread):
    moved = row(spread, "holes in a flat wall")
    opened = np.array([bool(r.fingering.open_holes) for r in spread.chart.rows])
    assert np.all(moved[opened] < -0.5)
    assert np.max(np.abs(moved[~opened])) < 1e-4


def test_without_losses_everything_is_sharp(spread):
    """Losses slow the sound down."""
    assert np.all(row(spread, "walls without loss") > 10)
    assert np.all(spread.uncertainty < 10), "the rival without losses is not credible and does not count"


def test_without_losses_no_stray_is_followed():
    """The demo as it is now: without losses its A has a second mode, 31 cents flat of the note with losses, that the
    lips hardly hold; losses flatten, so that every note followed is sharp."""
    setup = Setup(read_design(DESIGNS / "sallow-ford-1.toml"))
    with outside_allowed():
        moved = model_spread(setup, tuple(rival for rival in RIVALS if rival.lossless)).moved[0]
    assert np.all(moved[np.isfinite(moved)] > 10.0)
    assert np.isfinite(moved).sum() == np.isfinite(setup.chart.cents).sum()


def test_without_losses_is_the_chart_of_lossless_air():
    """The same chart computed by the public function with the gas replaced."""
    setup = bench()
    with BACK_D:
        got = row(model_spread(setup), "walls without loss")
    fingering = TIGHT[0]
    low, high = band([first_target(fingering, setup.scale)])
    found = find_modes(lips(setup.pipe, [fingering.pattern], low, high, setup.air.lossless), low, high)[0]
    own = setup.chart.rows[0].sounding_hz
    assert min((cents(m.frequency, own) for m in found), key=abs) == pytest.approx(got[0], abs=1e-3)


def test_uncertainty_is_the_farthest_of_the_credible(spread):
    credible = np.array([r.credible for r in RIVALS])
    np.testing.assert_allclose(spread.uncertainty, np.abs(spread.moved[credible]).max(axis=0))
    assert np.all(spread.uncertainty > 1)
    centred = spread.moved[credible] - spread.moved[credible].mean(axis=1, keepdims=True)
    np.testing.assert_allclose(spread.relative, np.abs(centred).max(axis=0))
    assert spread.relative.mean() < 0.5 * spread.uncertainty.mean()


def test_a_change_is_far_more_certain_than_a_note(spread):
    """The staple 1 mm deeper: every note moves, and all models agree how far."""
    setup = bench()
    deeper = turned(setup, {DIALS["insertion"]: DIALS["insertion"].read(setup) + 1.0})
    with BACK_D:
        other = model_spread(deeper)
    unsure = spread.of_change(other)
    step = other.chart.cents - spread.chart.cents
    assert np.all(np.abs(step) > 2)
    assert np.max(unsure) < 0.05 * np.max(np.abs(step))
    assert np.all(unsure < 0.1 * spread.uncertainty)


def test_a_note_that_is_lost_is_nan():
    """A rival that takes all the holes' openings far out leaves nothing near the note."""

    def longer(column):
        bore = replace(column.bore, length=column.bore.length * 1.3)
        return replace(column, bore=bore, slices=bore.joined(column.holes.chimneys))

    lost = model_spread(bench(), (Rival("longer", "none", longer),))
    assert np.isnan(lost.cents[0, 0])


def test_a_lost_note_is_as_unsure_as_those_say_who_follow_it(spread):
    """One credible rival loses the first note, all lose the second: the others' farthest, and not known."""
    cents = spread.cents.copy()
    credible = np.flatnonzero([rival.credible for rival in spread.rivals])
    cents[credible[0], 0] = cents[credible, 1] = np.nan
    lost = replace(spread, cents=cents)
    kept = np.abs(spread.moved[credible[1:], 0]).max()
    assert lost.uncertainty[0] == pytest.approx(kept)
    assert np.isnan(lost.uncertainty[1])
    assert np.isnan(lost.relative[1])
    np.testing.assert_allclose(lost.uncertainty[2:], spread.uncertainty[2:])
    step = lost.of_change(replace(spread, cents=spread.cents + np.arange(1.0, len(cents) + 1.0)[:, None]))
    assert step[0] == pytest.approx(credible[-1] + 1.0)
    assert np.isnan(step[1])
    assert plot_models(lost).words.splitlines()[2].endswith("not known")
    cents[:] = np.nan
    assert np.all(np.isnan(replace(spread, cents=cents).relative))


def test_picture_says_the_numbers(spread):
    words = plot_models(spread).words.splitlines()
    assert len(words) == 1 + len(spread.notes)
    for line, note, value in zip(words[1:], spread.notes, spread.uncertainty, strict=True):
        assert line.startswith(note)
        assert float(line.split()[-1]) == pytest.approx(value, abs=0.051)
    assert plot_models(spread).png()[:4] == b"\x89PNG"
