"""Drill tables: published sizes, steps, and the nearest one."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acoustics.errors import Refusal
from acoustics.shop.drills import FRACTIONAL, LETTER, LISTS, METRIC, NUMBER, Drill, nearest_drill, own_drills
from tests.pipes.sample import assert_one_sentence


def mm(name: str) -> float:
    return own_drills([name])[0].mm


@pytest.mark.parametrize("drills", LISTS.values(), ids=LISTS)
def test_lists_grow(drills):
    assert all(a.mm < b.mm for a, b in pairwise(drills))
    assert len({drill.name for drill in drills}) == len(drills)


def test_lengths_of_the_lists():
    assert (len(NUMBER), len(LETTER), len(FRACTIONAL)) == (80, 26, 48)
    assert len(METRIC) == 40 + 110 + 25


def test_metric_steps():
    """ISO 235, as in BS 328: 0.05 mm below 3, 0.1 mm from 3.0 to 13.9, 0.25 mm from 14."""
    for a, b in pairwise(METRIC):
        step = 0.05 if b.mm <= 3.0 else 0.1 if b.mm < 13.95 or a.mm == 13.9 else 0.25
        assert b.mm - a.mm == pytest.approx(step, abs=1e-9)
    assert {1.0, 2.95, 3.0, 5.1, 13.9, 14.0, 14.25} <= {drill.mm for drill in METRIC}


def test_published_inch_sizes():
    """ANSI B94.11M, inches: ends of the lists, numbers 7, 41, 60 and 55."""
    inches = {"no. 80": 0.0135, "no. 1": 0.2280, "no. 7": 0.2010, "no. 41": 0.0960, "no. 60": 0.0400, "no. 55": 0.0520}
    inches |= {"letter A": 0.2340, "letter E": 0.2500, "letter Z": 0.4130, "1/4 in": 0.25, "13/64 in": 13 / 64}
    for name, size in inches.items():
        assert mm(name) == pytest.approx(25.4 * size, abs=6e-4), name


def test_numbers_and_letters_are_half_thousandths_of_an_inch():
    """Sizes of the standard are whole half thousandths, but for no. 69 (0.0292); the table is rounded to 0.001 mm."""
    assert mm("no. 69") == pytest.approx(25.4 * 0.0292, abs=6e-4)
    for drill in (*NUMBER, *LETTER):
        halves = drill.mm / 25.4 * 2000.0
        assert drill.name == "no. 69" or abs(halves - round(halves)) * 25.4 / 2000.0 <= 6e-4, drill


def test_numbers_fall_as_drills_grow():
    names = [int(drill.name.split()[1]) for drill in NUMBER]
    assert names == list(range(80, 0, -1))
    assert NUMBER[-1].mm < LETTER[0].mm


def test_nearest():
    assert nearest_drill(5.27).name == "5.3 mm"
    assert nearest_drill(5.27, side="below").name == "5.2 mm"
    assert nearest_drill(5.27, side="above").name == "5.3 mm"
    assert nearest_drill(5.25).name == "5.2 mm", "of two equally near the smaller"
    assert nearest_drill(5.3, side="below").mm == nearest_drill(5.3, side="above").mm == 5.3
    assert nearest_drill(5.16, ["metric", "13/64 in", "no. 7"]).name == "13/64 in"
    assert nearest_drill(9.0, [4, 5.5], "below").mm == 5.5


@given(st.floats(0.5, 19.0), st.lists(st.floats(0.2, 20.0), min_size=1, max_size=20))
def test_nearest_is_on_its_side_and_nothing_is_nearer(size, have):
    for side, ok in (("below", lambda d: d <= size + 1e-9), ("above", lambda d: d >= size - 1e-9)):
        fit = [d for d in have if ok(d)]
        if fit:
            assert abs(nearest_drill(size, have, side).mm - size) <= min(abs(d - size) for d in fit) + 1e-9
        else:
            with pytest.raises(Refusal):
                nearest_drill(size, have, side)
    assert abs(nearest_drill(size, have).mm - size) <= min(abs(d - size) for d in have) + 1e-9


REFUSED = {
    "empty": (lambda: own_drills(()), "drills: there is no drill in the list"),
    "number": (lambda: own_drills(5.0), "drills: 5 is not a list of drills"),
    "unknown": (lambda: own_drills(["no. 81"]), "drills: 'no. 81' is not a drill"),
    "negative": (lambda: own_drills([-5.0]), "drills: -5 is out of bounds"),
    "negative drill": (lambda: own_drills([Drill(-5.0, "x")]), "drills, diameter: -5 is out of bounds"),
    "none": (lambda: own_drills([None]), "drills: None is not a number"),
    "too small": (lambda: nearest_drill(0.5, "metric", "below"), "drills: no drill of the list is 0.5 mm or smaller"),
    "too large": (lambda: nearest_drill(30.0, "letter", "above"), "drills: no drill of the list is 30 mm or larger"),
    "side": (lambda: nearest_drill(5.0, "metric", "left"), "side: 'left' is not a side"),
}


@pytest.mark.parametrize(("make", "start"), REFUSED.values(), ids=REFUSED)
def test_refused_in_one_sentence(make, start):
    with pytest.raises(Refusal) as caught:
        make()
    assert_one_sentence(caught.value, start)


def test_drills_as_they_are_printed():
    assert [str(drill) for drill in own_drills(["letter F", "no. 7", 5.25])] == [
        "no. 7 (5.105 mm)",
        "5.25 mm",
        "letter F (6.528 mm)",
    ]
