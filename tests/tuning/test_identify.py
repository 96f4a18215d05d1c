"""What a chart fixes: hidden chanters found again from readings, errors against many searches, and closed cases."""

from dataclasses import replace

import numpy as np
import pytest

from acoustics.errors import Refusal
from acoustics.tuning.dials import DIALS, hole_dials
from acoustics.tuning.free import station_dials, turned
from acoustics.tuning.held import PLUS_MINUS, SIGMA, SIGMA_IN_DIAGNOSIS, field, plus_minus
from acoustics.tuning.identify import identify
from acoustics.tuning.rules import Rules
from acoustics.tuning.search import search
from tests.pipes.sample import assert_one_sentence
from tests.tuning.bench import bench
from tests.tuning.changes import outside_allowed
from tests.tuning.test_search import HOLES, PLACES, TWENTY

BENCH = bench()
FREE = Rules(least_wood_mm=0.0, reach_mm=200.0, never_narrowing=False)
REED = {name: DIALS[name] for name in ("reed length", "reed area", "softness", "eye", "staple foot")}
SETS = {"holes": HOLES, "holes and staple": TWENTY, "everything": REED | TWENTY | station_dials(BENCH)}


def hidden_and_start(dials, seed):
    """A chanter up to 3 % from the demo, and one 3 % from that, its holes' places 2 and 1 mm."""
    rng = np.random.default_rng(seed)
    while True:
        hidden, away = {}, {}
        for dial in dials.values():
            place, value = "middle" in dial.label, dial.read(BENCH)
            hidden[dial] = value + rng.uniform(-2.0, 2.0) if place else value * (1.0 + rng.uniform(-0.03, 0.03))
            way = rng.choice([-1.0, 1.0])
            away[dial] = hidden[dial] + way if place else hidden[dial] * (1.0 + 0.03 * way)
        try:
            with outside_allowed():
                goal, start = turned(BENCH, hidden), turned(BENCH, away)
                off = np.abs(start.chart.cents - goal.chart.cents)
        except Refusal:
            continue
        if np.all(np.isfinite(off)) and 5.0 < off.max() < 100.0:
            limits = {n: replace(d, low=min(d.low, away[d]), high=max(d.high, away[d])) for n, d in dials.items()}
            return [hidden[dial] for dial in dials.values()], goal, start, limits


CASES = [("holes", 1), ("holes", 2), ("holes and staple", 1), ("everything", 2)]
MORE = [("holes", 3), ("holes and staple", 2), ("holes and staple", 3), ("everything", 1), ("everything", 3)]


@pytest.mark.parametrize(("name", "seed"), [*CASES, *(pytest.param(*case, marks=pytest.mark.long) for case in MORE)])
def test_a_hidden_chanter_is_found_again(name, seed):
    """Its chart, read to a tenth of a cent: what is called known lies within the workshop's tolerance, and all that
    does not lie there is named."""
    want, goal, start, limits = hidden_and_start(SETS[name], seed)
    readings = np.round(goal.chart.cents, 1)
    found = search(start, limits, target_cents=readings, rules=FREE)
    assert np.max(np.abs(found.chart.cents - goal.chart.cents)) < 0.5
    with outside_allowed():
        said = identify(found.setup, limits)
    off = [abs(d.read(found.setup) - w) for d, w in zip(limits.values(), want, strict=True)]
    wrong = [one.dial for one, by in zip(said.dimensions, off, strict=True) if by > one.tolerance]
    assert set(wrong) <= set(said.untold)
    assert set(said.told) | set(said.untold) == {dial.label for dial in limits.values()}
    # 26 readings fix some of 16 or 20 dimensions, but not 36
    assert (len(said.told) > 2) == (name != "everything")
    if name == "everything":
        assert wrong


def test_errors_against_many_searches():
    """Readings off by 0.3 cents, 20 times, searched anew each time: spread as said, within what 20 draws allow."""
    dials = {name: TWENTY[name] for name in ("A size", "A position", "E size", "staple tip")}
    said, rng = identify(BENCH, dials, reading_cents=0.3), np.random.default_rng(2)
    found = []
    for _ in range(20):
        readings = BENCH.chart.cents + rng.normal(0.0, 0.3, len(BENCH.chart.rows))
        setup = search(BENCH, dials, target_cents=readings, rules=FREE).setup
        found.append([dial.read(setup) for dial in dials.values()])
    spread = np.std(found, axis=0)
    # a standard deviation from 20 draws lies within half of the true one 999 times of 1000 (chi-squared)
    np.testing.assert_allclose(spread, [0.5 * one.within for one in said.dimensions], rtol=0.5)


def test_one_dimension_by_hand():
    """Alone: reading over the length of its column of slopes, twice."""
    place = PLACES["A"]
    up, down = (place.turn(BENCH, place.read(BENCH) + by).chart.cents for by in (0.1, -0.1))
    (one,) = identify(BENCH, {"A": place}, reading_cents=0.2).dimensions
    assert one.within == pytest.approx(2.0 * 0.2 / np.linalg.norm((up - down) / 0.2), rel=4e-6)
    assert one.told
    assert one.said == f"A: middle at: known to ± {one.within:.2g} mm"


def test_twice_the_error_twice_as_far():
    one, two = (identify(BENCH, HOLES, reading_cents=reading).dimensions for reading in (0.1, 0.2))
    for a, b in zip(one, two, strict=True):
        assert b.within == pytest.approx(2.0 * a.within, rel=1e-9)


def test_two_that_are_one():
    """The same dimension under two names: neither can be told, each goes with the other."""
    twin = replace(PLACES["A"], label="A once more")
    said = identify(BENCH, {"A": PLACES["A"], "twin": twin, "E": PLACES["E"]})
    assert said.untold == ("A: middle at", "A once more")
    assert said.dimensions[0].within == np.inf
    assert said.dimensions[0].goes_with[0] == "A once more"
    assert "this can be anything" not in repr(said)
    assert "these can be anything, if the others make up for it: A: middle at, A once more" in repr(said)


def test_what_is_known_beforehand_helps():
    """With everything free nothing is told; with each dimension known to a tenth of its range some are closer."""
    with outside_allowed():
        alone, helped = (identify(BENCH, SETS["everything"], prior=prior) for prior in (None, 0.1))
    assert alone.told == ()
    for one, dial in zip(helped.dimensions, SETS["everything"].values(), strict=True):
        assert one.within <= 2.0 * 0.1 * (dial.high - dial.low) * (1.0 + 1e-9)
    assert min(one.within / one.tolerance for one in helped.dimensions) < 2.0


def test_shown_in_plain_words():
    said = identify(BENCH, HOLES)
    known = len(said.told)
    head = f"Read to 0.1 cents, the chart fixes {known} of 16 dimensions as closely as the workshop can make them. "
    assert repr(said).startswith(head)
    assert head.strip() in said._repr_html_()
    assert said._repr_html_().count("<li>") == 16
    assert all(name in repr(said) for name in said.untold)


def test_what_the_workshop_holds_is_named_as_dials_turn_it():
    turns = {field(dial) for dial in (*DIALS.values(), *hole_dials(BENCH, "A").values())}
    assert SIGMA.keys() == SIGMA_IN_DIAGNOSIS.keys()
    assert SIGMA.keys() | PLUS_MINUS.keys() <= turns
    assert all(held > 0.0 for table in (SIGMA, SIGMA_IN_DIAGNOSIS, PLUS_MINUS) for held in table.values())


def test_tolerances_of_ones_own():
    assert plus_minus(PLACES["A"]) == 0.25
    assert plus_minus(DIALS["staple tip"]) == plus_minus(HOLES["A size"]) == 0.05
    assert plus_minus(next(iter(station_dials(BENCH).values()))) == 0.03
    (one,) = identify(BENCH, {"A": PLACES["A"]}, tolerances={"A": 1e-4}).dimensions
    assert (one.told, one.tolerance) == (False, 1e-4)


@pytest.mark.parametrize(
    ("dials", "more", "start"),
    [
        ({}, {}, "identify: no dimension is asked for"),
        (PLACES, {"reading_cents": 0.0}, "reading_cents: 0 is out of bounds"),
        (PLACES, {"prior": -1.0}, "prior: -1 is out of bounds"),
    ],
)
def test_refused_in_one_sentence(dials, more, start):
    with pytest.raises(Refusal) as refused:
        identify(BENCH, dials, **more)
    assert_one_sentence(refused.value, start)
