"""What tolerance costs: drawn chanters against the derivatives, shares, seeds, refused draws, and counts by hand."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from acoustics.errors import Refusal
from acoustics.tuning.dials import DIALS, hole_dials
from acoustics.tuning.free import derivative, turned
from acoustics.tuning.tangent import Tangent
from acoustics.tuning.tolerance import Spread, Tolerance, tolerance_spread, workshop
from tests.pipes.sample import assert_one_sentence
from tests.tuning.bench import bench, demo
from tests.tuning.changes import outside_allowed, with_part

BENCH = bench()
ROWS = len(BENCH.chart.rows)
DRAWS = 400


@cache
def drawn(seed: int = 1) -> Spread:
    """The demo chanter from the workshop's own tolerances."""
    return tolerance_spread(BENCH, draws=DRAWS, seed=seed, workers=2)


def one(name: str, sigma: float) -> Tolerance:
    return Tolerance(name, (DIALS[name],), sigma)


def spread_of(drawn, **more) -> Spread:
    """A spread with draws of one's own."""
    drawn = np.array(drawn, float)
    rows = drawn.shape[1]
    given = {"spread": np.ones(rows), "first_order": np.ones(rows), "shares": np.ones((1, rows)), "tolerances": ("a",)}
    return Spread(notes=("x",) * rows, drawn=drawn, refused=0, **(given | more))


def test_first_order_is_the_drawn_spread():
    """The bar is 10 % in every note.  A standard deviation of n draws is itself uncertain by 1/sqrt(2 n), 3.5 % of
    400, so a true difference of 3 % passes and one of 17 % fails, each 39 times in 40.  The mean over all notes, whose
    draws are those of the same chanters, is hardly more certain than a note."""
    found = drawn()
    off = found.first_order / found.spread - 1.0
    print(f"first order against {DRAWS} draws: {100 * off.min():+.1f} to {100 * off.max():+.1f} %")
    assert np.max(np.abs(off)) < 0.10
    assert abs(np.mean(off)) < 1.0 / np.sqrt(2 * DRAWS) + 0.01
    assert found.refused == 0
    assert found.spread.min() > 1.0


def test_one_tolerance_at_a_time():
    """Of one small tolerance alone the spread is the derivative times sigma: 4 standard errors of 200 draws."""
    for name, sigma in (("staple tip", 0.01), ("softness", 0.005), ("temperature", 0.3)):
        found = tolerance_spread(BENCH, (one(name, sigma),), draws=200, seed=2, workers=2)
        want = np.abs(derivative(Tangent(BENCH), DIALS[name])) * sigma
        np.testing.assert_allclose(found.first_order, want, rtol=1e-9)
        np.testing.assert_allclose(found.spread, want, rtol=4.0 / np.sqrt(2 * 200), atol=1e-3)
        np.testing.assert_allclose(found.shares, 1.0, rtol=1e-12)


def test_the_draws_are_what_they_say():
    """Each drawn chart is that of a chanter turned by hand, each dial by its own normal draw."""
    tolerances = (one("staple tip", 0.05), Tolerance("sizes", (DIALS["eye"], hole_dials(BENCH, "A")["size"]), 0.02))
    found = tolerance_spread(BENCH, tolerances, draws=10, seed=5, workers=1)
    dials = [dial for tolerance in tolerances for dial in tolerance.dials]
    off = np.random.default_rng(5).normal(size=(10, 3)) * [0.05, 0.02, 0.02]
    for i in (0, 4, 9):
        values = {dial: dial.read(BENCH) + by for dial, by in zip(dials, off[i], strict=True)}
        np.testing.assert_array_equal(found.drawn[i], turned(BENCH, values).chart.cents)
    np.testing.assert_allclose(found.spread, np.std(found.drawn, axis=0), rtol=1e-12)


def test_shares():
    """They sum to one in every note, each the squares of its own derivatives, and agree with the whole variance."""
    found = drawn()
    tolerances, tangent = workshop(BENCH), Tangent(BENCH)
    assert found.tolerances == tuple(t.name for t in tolerances)
    assert found.shares.shape == (len(tolerances), ROWS)
    np.testing.assert_allclose(found.shares.sum(axis=0), 1.0, rtol=1e-12)
    assert found.shares.min() >= 0.0
    for i in (0, 4, 9):
        own = sum((derivative(tangent, dial) * tolerances[i].sigma) ** 2 for dial in tolerances[i].dials)
        np.testing.assert_allclose(found.shares[i] * found.first_order**2, own, rtol=1e-9, atol=1e-12)


def test_shares_of_two_by_hand():
    """Spreads of 3 and 4 cents are one of 5: shares 9/25 and 16/25."""
    slopes = [np.abs(derivative(Tangent(BENCH), DIALS[name])) for name in ("temperature", "staple length")]
    row = 5
    tolerances = (one("temperature", 3.0 / slopes[0][row]), one("staple length", 4.0 / slopes[1][row]))
    found = tolerance_spread(BENCH, tolerances, draws=10, workers=1)
    assert found.first_order[row] == pytest.approx(5.0, rel=1e-9)
    np.testing.assert_allclose(found.shares[:, row], [9 / 25, 16 / 25], rtol=1e-9)


def test_the_ranking_is_sorted():
    """Greatest first, every tolerance once, together one, and what the rows say by their variances."""
    found = drawn()
    names, shares = zip(*found.ranking, strict=True)
    assert set(names) == set(found.tolerances)
    assert list(shares) == sorted(shares, reverse=True)
    assert sum(shares) == pytest.approx(1.0)
    by_hand = spread_of(
        np.zeros((2, 2)),
        first_order=np.array([1.0, 3.0]),
        shares=np.array([[0.5, 0.1], [0.5, 0.9]]),
        tolerances=("loose", "tight"),
    )
    assert by_hand.ranking == (("tight", pytest.approx(8.6 / 10)), ("loose", pytest.approx(1.4 / 10)))


# Seeds and workers


@pytest.mark.parametrize("workers", [1, 3, None])
def test_the_same_seed_draws_the_same_chanters(workers):
    """However many share the work, and whether or not the number of draws fills the last batch."""
    tolerances = (one("staple tip", 0.05), one("eye", 0.05))
    found, alone = (tolerance_spread(BENCH, tolerances, draws=120, seed=9, workers=number) for number in (workers, 2))
    np.testing.assert_array_equal(found.drawn, alone.drawn)
    np.testing.assert_array_equal(found.spread, alone.spread)
    assert found.drawn.shape == (120, ROWS)
    other = tolerance_spread(BENCH, tolerances, draws=10, seed=10, workers=1)
    assert not np.any(other.drawn == found.drawn[:10])


def test_progress_counts_every_chart():
    seen = []
    tolerance_spread(BENCH, (one("eye", 0.05),), draws=230, workers=2, progress=lambda *two: seen.append(two))
    assert seen == [(100, 230), (200, 230), (230, 230)]


def test_draws_of_two_chanters_do_not_mix():
    """Another chanter's draws in the middle of one's own, in one process and in two."""
    tolerances, flat = (one("eye", 0.05),), with_part(BENCH, "reed", length_mm=1.0)
    alone = tolerance_spread(BENCH, tolerances, draws=120, seed=9, workers=1).drawn
    for workers in (1, 2):
        meanwhile = lambda *_, n=workers: tolerance_spread(flat, tolerances, draws=101, workers=n)  # noqa: E731
        found = tolerance_spread(BENCH, tolerances, draws=120, seed=9, workers=workers, progress=meanwhile)
        np.testing.assert_array_equal(found.drawn, alone)


# At the edges


def test_next_to_no_tolerance_is_no_spread():
    tolerances = tuple(replace(tolerance, sigma=1e-9 * tolerance.sigma) for tolerance in workshop(BENCH))
    found = tolerance_spread(BENCH, tolerances, draws=20, workers=1)
    assert found.spread.max() < 1e-6
    assert found.first_order.max() < 1e-6
    # any throat but the pipe's own puts nine stations into the bore: 1e-4 cents of finer slices
    np.testing.assert_allclose(found.drawn, np.broadcast_to(BENCH.chart.cents, found.drawn.shape), rtol=0.0, atol=2e-4)
    np.testing.assert_allclose(found.shares, drawn().shares, rtol=1e-6)


def test_refused_draws_are_counted():
    """E and F# so close that a normal draw of 0.5 mm each makes about half overlap: those draws are nan and counted."""
    base = demo()
    near = base.hole("F#").position_mm + (base.hole("F#").along_mm + base.hole("E").along_mm) / 2.0 + 0.01
    holes = tuple(replace(hole, position_mm=near) if hole.name == "E" else hole for hole in base.holes)
    setup = replace(BENCH, base=replace(base, holes=holes))
    places = tuple(hole_dials(setup, name)["position"] for name in ("F#", "E"))
    found = tolerance_spread(setup, (Tolerance("places", places, 0.5),), draws=200, seed=3, workers=2)
    apart = np.random.default_rng(3).normal(size=(200, 2)) * 0.5 @ [-1.0, 1.0]
    overlap = apart + 0.01 <= 1e-12
    assert 80 < overlap.sum() < 120
    assert found.refused == overlap.sum()
    np.testing.assert_array_equal(np.isnan(found.drawn).all(axis=1), overlap)
    np.testing.assert_allclose(found.spread, np.std(found.drawn[~overlap], axis=0), rtol=1e-12)
    assert np.all(found.within(1e6) == 1.0 - overlap.mean())


def test_silent_notes():
    """A note that does not sound is nan in every outcome, is not within anything, and leaves the others alone."""
    setup = with_part(BENCH, "reed", resonance_hz=-300.0)
    silent = np.isnan(setup.chart.cents)
    found = tolerance_spread(setup, (one("staple tip", 0.01),), draws=20, workers=1)
    assert found.refused == 0
    always = np.isnan(found.drawn).all(axis=0)
    np.testing.assert_array_equal(always, silent)
    assert np.all(np.isfinite(found.spread[~silent]))
    assert np.all(np.isnan(found.spread[silent]))
    assert not found.within(1e6)[silent].any()
    assert found.all_within(1e6) == 0.0
    assert found.ranking == (("staple tip", pytest.approx(1.0)),)


# Shares of chanters by hand


def test_within_by_hand():
    found = spread_of([[0.0, 4.0], [-5.0, 6.0], [5.1, np.nan], [2.0, -11.0]])
    np.testing.assert_array_equal(found.within(5.0), [0.75, 0.25])
    np.testing.assert_array_equal(found.within(10.0), [1.0, 0.5])
    np.testing.assert_array_equal(found.within(5.0, at=[5.0, 5.0]), [0.75, 0.5])
    assert found.all_within(5.0) == 0.25
    assert found.all_within(6.0) == 0.5
    assert found.all_within(12.0) == 0.75
    assert found.all_within(1.0, at=[0.0, 4.0]) == 0.25


def test_within_of_the_draws():
    """Of a near-normal note 68 and 95 % within one and two sigma of the middle: 3 standard errors of a share."""
    found = drawn()
    middle = found.drawn.mean(axis=0)
    for sigmas, share in ((1.0, 0.683), (2.0, 0.954)):
        row = 5
        got = found.within(sigmas * found.spread[row], at=middle)[row]
        assert got == pytest.approx(share, abs=3.0 * np.sqrt(share * (1 - share) / DRAWS))
    assert found.all_within(5.0, at=middle) <= found.within(5.0, at=middle).min()
    assert found.all_within(1e3) == 1.0


def test_the_workshop():
    """Every finger hole, its size and its place; one sentence each, with a number; nothing about keys."""
    tolerances = workshop(BENCH)
    fingers = [hole.name for hole in demo().holes if hole.face != "side"]
    assert [len(t.dials) for t in tolerances[:2]] == [len(fingers)] * 2
    labels = {dial.label.split(":")[0] for t in tolerances[:2] for dial in t.dials}
    assert labels == set(fingers)
    assert len({t.name for t in tolerances}) == len(tolerances)
    assert all(f"{t.sigma:g}" in t.name for t in tolerances)
    with outside_allowed():
        assert all(np.isfinite(dial.read(BENCH)) for t in tolerances for dial in t.dials)


def test_the_workshop_leaves_out_what_is_not_there():
    """A round staple has no eye, an oval hole no size; with them all chanters are drawn."""
    base = demo()
    holes = [replace(h, diameter_mm=(h.diameter_mm, h.diameter_mm + 0.5)) if h.name == "A" else h for h in base.holes]
    staple = replace(base.staple, eye_opening_mm=None, flattened_mm=None)
    setup = replace(BENCH, base=replace(base, holes=holes, staple=staple))
    names = [tolerance.name for tolerance in workshop(setup)]
    assert names == [tolerance.name for tolerance in workshop(BENCH) if "eye" not in tolerance.name]
    assert len(names) == len(workshop(BENCH)) - 1
    assert [len(t.dials) for t in workshop(setup)[:2]] == [len(t.dials) - 1 for t in workshop(BENCH)[:2]]
    assert tolerance_spread(setup, draws=10, workers=1).refused == 0
    keyed = replace(base, holes=[hole for hole in base.holes if hole.face == "side"])
    assert not any("finger hole" in t.name for t in workshop(replace(BENCH, base=keyed, fingerings=())))


@pytest.mark.parametrize(
    ("tolerances", "draws", "start"),
    [
        ((), 100, "tolerances: no tolerance is given"),
        (None, 9, "draws: 9 is out of bounds"),
        (None, 1_000_001, "draws: 1000001 is out of bounds"),
        (None, 99.5, "draws: 99.5 is not a whole number"),
    ],
)
def test_refused_in_one_sentence(tolerances, draws, start):
    with pytest.raises(Refusal) as refused:
        tolerance_spread(BENCH, tolerances, draws=draws)
    assert_one_sentence(refused.value, start)
