"""Folded drones: 200 that can be built, planned again; what cannot be built, in one sentence; strain and marks."""

import re
from dataclasses import replace
from functools import cache
from math import pi

import numpy as np
import pytest

from acoustics.errors import Refusal
from acoustics.pipes.design_file import read_design
from acoustics.pipes.drone import Drone
from acoustics.pipes.stretches import Bend, Bridge, Slide, Straight
from acoustics.shop.cut_list import bent_pieces, bridged_pieces
from acoustics.shop.fold import Fold
from acoustics.shop.fold_layout import Space, least_straight_mm, legs_mm, reach_mm
from acoustics.shop.fold_wish import Wish, quarter_wave_mm, wish_for
from acoustics.shop.folding import plan_fold
from acoustics.shop.layout import Table
from acoustics.shop.paper_bends import blocks
from acoustics.shop.tube_bending import TEMPERS, Bending, Tube, bending_advice, check_radius, least_radius_mm
from acoustics.tuning.drones import drone_pitch
from acoustics.units import cents
from tests.pipes.sample import assert_one_sentence
from tests.shop.wishes import built, changes, straight_and_bent, walk
from tests.tuning.bench import DESIGNS, demo

RACK = [Tube(5.0, 4.0), Tube(7.4, 6.4), Tube(8.0, 7.0), Tube(8.5, 7.5), Tube(9.5, 8.5)]


@cache
def bass() -> Drone:
    return read_design(DESIGNS / "sallow-ford-bass.toml")


@cache
def wish(**changes) -> Wish:
    one = Wish("Sallow Ford folded bass", bass().reed, RACK, 420.0, 120.0, 24.0, resonator=bass().resonator)
    return replace(one, **changes)


@cache
def fold(**changes) -> Fold:
    return plan_fold(wish(**changes))


def test_a_design_gives_its_reed_its_chamber_and_its_note():
    """A drone for a chanter in C is folded to sound C: a whole tone of 200 cents below D on a piano."""
    named = "Sallow Ford bass drone, folded"
    assert wish_for(bass(), RACK, 420.0, 120.0, 24.0) == replace(wish(), name=named)
    low = plan_fold(wish_for(replace(bass(), key="C"), RACK, 480.0, 120.0, 24.0))
    assert cents(low.target_hz, fold().target_hz) == pytest.approx(-200.0)
    with pytest.raises(Refusal) as caught:
        wish_for(demo(), RACK, 420.0, 120.0, 24.0)
    assert_one_sentence(caught.value, "design: Chanter(")


# Every plan adds up, sounds its note, and fits


def tables(plan: Fold) -> dict[str, Table]:
    return {block.title.split(":")[0].split(",")[0]: block for block in blocks(plan) if isinstance(block, Table)}


def printed(plan: Fold) -> Drone:
    """The drone built from nothing but the numbers of the sheet."""
    stretches = []
    for part, inside, length, _ in tables(plan)["Along the air"].rows:
        kind, mm, bore = part.split()[0], float(length), float(inside)
        if kind == "gap":
            stretches.append(Slide(mm, bore, plan.wish.longest_mm))
        elif kind == "bend":
            stretches.append(Bend(mm / pi, bore))
        elif kind == "bridge":
            stretches.append(Bridge(2.0 * plan.wish.radius_mm, bore))
        else:
            stretches.append(Straight(mm, bore))
    return replace(plan.drone, stretches=stretches)


def assert_adds_up(plan: Fold):
    """The same length from the drone, from legs and half circles, from the cut list and from the sheet: 0.1 mm."""
    one = plan.wish
    drone = sum(stretch.length_mm for stretch in plan.drone.stretches)
    before = one.head_mm + plan.drone.slide.gap_mm + one.pin_mm
    sheet = tables(plan)
    air = sheet["Along the air"].rows
    assert abs(sum(float(row[2]) for row in air) - drone) < 0.1
    assert abs(float(air[-1][3]) - drone) < 0.1
    cuts = {row[0]: [float(cell) for cell in row[2:]] for row in sheet["Cut list"].rows}
    assert cuts["pin"][0] == pytest.approx(one.pin_mm, abs=0.00501)
    assert cuts["socket"][0] == pytest.approx(one.longest_mm + one.bending.hold_mm, abs=0.00501)
    for finished, trim, cut in cuts.values():
        assert 0.0 <= cut - finished - 2 * trim + 0.00501 < 0.111, "cut long, never short"
    folded = sum(finished for name, (finished, *_) in cuts.items() if name.startswith(("fold", "leg")))
    if one.bridge and plan.turns:
        # a tube goes on through its passage, a bore beyond the leg; the air of a bridge is its two crossed cylinders
        bore = plan.tubes.folded.inside_mm
        assert abs(folded - sum(plan.legs_mm) - 2 * plan.turns * bore) < 0.1
        bridge = (2 * one.radius_mm * (bore / 2) ** 2 * pi + (4 - 16 / (3 * pi)) * pi * (bore / 2) ** 3) / (
            pi * (bore / 2) ** 2
        )
        assert abs(before + sum(plan.legs_mm) + plan.turns * bridge - drone) < 0.1
    else:
        length = straight_and_bent(plan.legs_mm, plan.turns, one.radius_mm)
        assert abs(folded - length) < 0.1
        assert abs(before + length - drone) < 0.1
        marks = [float(row[2]) for row in sheet["Marks on the cut tube"].rows] if plan.turns else []
        lengths = np.subtract(marks[1::2], marks[::2])
        assert np.all(np.abs(lengths - pi * one.radius_mm) < 0.11)
        assert len(lengths) == plan.turns


def assert_in_tune(plan: Fold):
    """As planned, and as rebuilt from the printed numbers, within 0.5 cents; the slide has its reserve both ways."""
    for drone in (plan.drone, printed(plan)):
        assert abs(cents(drone_pitch(drone).frequency, plan.target_hz)) < 0.5
    for gap, way in ((0.0, 1.0), (plan.wish.longest_mm, -1.0)):
        left = way * cents(drone_pitch(plan.drone.drawn(gap)).frequency, plan.target_hz)
        assert left >= plan.wish.reserve_cents - 0.1


def assert_fits(plan: Fold):
    """Walked along by the test: inside the lap with the slide out, clear of the reed's end with it shut."""
    one, half = plan.wish, plan.tubes.folded.outside_mm / 2
    reach = plan.tubes.folded.inside_mm + plan.tubes.folded.wall_mm if one.bridge else one.radius_mm + half
    end = 0.0 if one.resonator is None else one.resonator.length_mm + one.resonator.wall_mm
    low, high, at, way = walk(plan.legs_mm, one.head_mm + one.pin_mm, reach)
    assert min(low, at + way * end) >= -0.2
    assert max(high, at + way * end) + one.longest_mm <= one.lap_length_mm + 1e-9
    side = half if one.resonator is None else max(half, one.resonator.diameter_mm / 2 + one.resonator.wall_mm)
    wood = one.head_outside_mm / 2
    assert wood + max(wood, 2 * plan.turns * one.radius_mm + side) <= one.lap_width_mm
    assert min(plan.legs_mm) >= one.bending.grip_mm - 0.06


def assert_holds(seed: int) -> Fold:
    plan = plan_fold(built(seed).wish)
    assert_adds_up(plan)
    assert_in_tune(plan)
    assert_fits(plan)
    return plan


def test_feasible_wishes_are_planned():
    """Each answers a drone that the test has built: a plan exists, so one must be found."""
    plans = [assert_holds(seed) for seed in range(20)]
    assert {plan.turns for plan in plans} >= {0, 1, 2, 3}
    assert {plan.wish.bridge for plan in plans} == {False, True}
    assert {plan.wish.octaves_below for plan in plans} == {0, 1, 2}


@pytest.mark.long
def test_200_feasible_wishes_are_planned():
    for seed in range(200):
        assert_holds(seed)


def test_the_demo_bass_folds_into_its_lap():
    plan = fold()
    assert_adds_up(plan)
    assert_in_tune(plan)
    assert_fits(plan)
    assert plan.turns == 2
    assert plan.target_hz == pytest.approx(440.0 * 2.0 ** (-7.0 / 12.0) / 4.0), (
        "D, equal to a piano's, two octaves down"
    )
    assert "2 bends" in str(plan)
    assert "<p" in plan._repr_html_()


def test_a_sounding_length_is_a_quarter_wave():
    """c/(4 f) with c of the same air; a plan for that length sounds that frequency."""
    plan = fold(sounding_mm=1100.0)
    assert plan.target_hz == pytest.approx(343.99 / 4.4, rel=1e-3)  # humid air at 20 degrees, c within a few 0.1 m/s
    assert quarter_wave_mm(plan.target_hz) == pytest.approx(1100.0)
    assert_in_tune(plan)


# What cannot be: one sentence, the limit that binds, by how much


INFEASIBLE = {
    "lap too short": ({"lap_length_mm": 300.0}, "lap_length_mm: the lap is 97.", "of length, or 167.0 mm of width"),
    "lap too narrow": (
        {"lap_width_mm": 18.0},
        "lap_width_mm: the lap's width of 18 mm is 5.0 mm too little",
        "23.0 mm",
    ),
    "too many turns": ({"turns": 4}, "lap_width_mm: the lap's width of 120 mm is 95.0 mm too little", "215.0 mm"),
    "radius": ({"radius_mm": 9.0}, "radius_mm: 9 mm is too tight by 1.4 mm", "at least 10.4 mm"),
    "temper": (
        {"rack": tuple(replace(tube, temper="hard") for tube in RACK)},
        "radius_mm: 24 mm is too tight by 16.0 mm for hard tube of 8 x 7 mm, as its outside would stretch by 17 %, 7 %",
        "at least 40.0 mm",
    ),
    "radius inside the tube": ({"radius_mm": 3.5}, "radius_mm: 3.5 mm is too tight by 6.9 mm", "114 %, 69 % more"),
    "head wider than its socket": ({"head_bore_mm": 8.0}, "head_bore_mm: 8 is out of bounds", "to 7.5 mm"),
    "reserve": ({"reserve_cents": 500.0}, "reserve_cents: 500 is out of bounds", "0 to 300 cents"),
    "chamber": (
        {"radius_mm": 10.5, "bending": Bending(clear_mm=6.0)},
        "radius_mm: 10.5 mm leaves the legs 2.0 mm",
        "11.5",
    ),
    "no such bore": ({"bore_mm": 7.2}, "rack: no tube of 7.2 mm inside for the fold, the nearest", "0.20 mm off"),
    "no socket": ({"pin_bore_mm": 4.1}, "rack: no tube slides over the pin of 5 x 4 mm", "1.05 mm off"),
    "stock too short": (
        {"rack": tuple(replace(tube, length_mm=112.0) for tube in RACK)},
        "rack: the tube of 8 x 7 mm is 3.4 mm too short for the piece with a bend",
        "at least 115.4 mm",
    ),
    "slide": ({"longest_mm": 20.0}, "longest_mm: the slide of 20 mm reaches only 18.", "short of the 40"),
    "pin": ({"pin_mm": 60.0}, "pin_mm: 60 mm is 14.0 mm too short to be drawn 54 mm", "at least 74 mm"),
    "parts too long": (
        {"head_mm": 900.0},
        "Sallow Ford folded bass, length: head, pin, no bend",
        "too long for 73.42 Hz",
    ),
    "note too low": ({"octaves_below": 3}, "Sallow Ford folded bass, length: 36.71 Hz takes about 268 mm", "1900 mm"),
    "slide far too long": (
        {"longest_mm": 290.0, "pin_mm": 320.0, "target_hz": 92.0, "lap_length_mm": 900.0},
        "longest_mm: the slide of 290 mm leads more than a fourth away from 92.00 Hz",
        "a shorter slide",
    ),
    "another octave": ({"target_hz": 150.0}, "target_hz: 150.00 Hz is not 2 octaves below", "400 cents"),
    "two targets": ({"target_hz": 73.0, "sounding_mm": 1000.0}, "target_hz: both a frequency", "one of"),
    "turns": ({"turns": 9}, "turns: 9 turns are asked for", "0 to 4"),
    "rack": ({"rack": ()}, "rack: () is no rack", "at least one Tube"),
}


@pytest.mark.parametrize(("change", "start", "said"), INFEASIBLE.values(), ids=INFEASIBLE)
def test_infeasible_wishes_name_the_limit_that_binds(change, start, said):
    with pytest.raises(Refusal) as caught:
        fold(**change)
    assert_one_sentence(caught.value, start)
    assert said in str(caught.value)


NEEDED = {
    "lap too short": ({"lap_length_mm": 300.0}, "lap_length_mm"),
    "lap too narrow": ({"lap_width_mm": 60.0, "turns": 2}, "lap_width_mm"),
    "radius": ({"radius_mm": 9.0}, "radius_mm"),
    "slide": ({"longest_mm": 20.0}, "longest_mm"),
    "pin": ({"pin_mm": 60.0}, "pin_mm"),
}


@pytest.mark.parametrize(("change", "field"), NEEDED.values(), ids=NEEDED)
def test_with_what_the_sentence_asks_for_it_is_planned(change, field):
    """The number after "at least" or "about" is taken at its word, and no other limit then binds."""
    change = {"resonator": None, "lap_length_mm": 420.0, "lap_width_mm": 120.0} | change
    with pytest.raises(Refusal) as caught:
        fold(**change)
    words = caught.value.allowed.split()
    needed = float(words[words.index("mm") - 1])
    assert_adds_up(fold(**(change | {field: needed})))
    if field != "longest_mm":  # "about": a slide a little shorter may do
        with pytest.raises(Refusal):
            fold(**(change | {field: needed - 0.2}))


@pytest.mark.parametrize("seed", range(6))
def test_a_lap_shorter_than_the_fold_says_by_how_much(seed):
    """A millimetre to ten too short for a plan that was just made, its turns kept."""
    plan = plan_fold(built(seed).wish)
    short = 1.0 + 1.5 * seed
    with pytest.raises(Refusal) as caught:
        plan_fold(replace(plan.wish, turns=plan.turns, lap_length_mm=plan.length_mm - short))
    assert_one_sentence(caught.value, f"lap_length_mm: the lap is {short:.1f} mm too short")


def assert_fold_or_sentence(seed: int) -> bool:
    """Whatever is asked for: a plan that holds, or one sentence with a number in it."""
    plan = refusal = None
    try:
        plan = plan_fold(replace(built(seed).wish, **changes(seed)))
    except Refusal as caught:
        refusal = caught
    if plan is None:
        assert_one_sentence(refusal, "")
        assert re.search(r"\d", str(refusal))
        return False
    assert_adds_up(plan)
    assert_in_tune(plan)
    assert_fits(plan)
    return True


@pytest.mark.filterwarnings("ignore::acoustics.validity.OutsideRange")
def test_any_wish_is_planned_or_refused_in_one_sentence():
    assert 2 <= sum(assert_fold_or_sentence(seed) for seed in range(30)) <= 28


@pytest.mark.long
@pytest.mark.filterwarnings("ignore::acoustics.validity.OutsideRange")
def test_any_of_500_wishes_is_planned_or_refused_in_one_sentence():
    for seed in range(500):
        assert_fold_or_sentence(seed)


# Layout


@pytest.mark.parametrize("turns", range(5))
def test_legs_are_the_shortest_fold(turns):
    """None of 2000 random folds of the same tube, kept to the same limits, reaches less far."""
    space = Space(230.0, 0.0, 20.0, 37.0, 15.0)
    rng, straight = np.random.default_rng(turns), least_straight_mm(space, turns) + 640.0
    legs = legs_mm(space, turns, straight)
    assert sum(legs) == pytest.approx(straight)
    assert min(legs) >= 15.0 - 1e-9
    low, high, at, way = walk(legs, 230.0, 20.0)
    assert min(low, at + way * 37.0) >= -1e-9
    best = max(high, at + way * 37.0)
    assert reach_mm(space, legs) == pytest.approx(best)
    for _ in range(2000):
        others = rng.dirichlet(np.ones(turns + 1)) * straight
        low, high, at, way = walk(others, 230.0, 20.0)
        if min(others) >= 15.0 and min(low, at + way * 37.0) >= 0.0:
            assert max(high, at + way * 37.0) >= best - 1e-6


# Bending


def test_strain_and_least_radius():
    """12.7 mm tube bent to 38.1 mm, three diameters: 1/6; hard brass of 10 % needs five diameters; by hand."""
    assert least_radius_mm(Tube(12.7, 11.2)) == pytest.approx(1.3 * 12.7)
    assert least_radius_mm(Tube(12.7, 11.2, temper="hard")) == pytest.approx(5.0 * 12.7)
    assert "stretches by 17 % of the 45 %" in bending_advice(Tube(12.7, 11.2), 38.1)
    assert "from 0.75 to about 0.64 mm" in bending_advice(Tube(12.7, 11.2), 38.1)
    assert "easy bend" in bending_advice(Tube(12.7, 11.2), 38.1)
    assert "38 mm) are easier" in bending_advice(Tube(12.7, 11.2), 26.0)
    for temper, elongation in TEMPERS.items():
        tube = Tube(10.0, 9.0, temper=temper)
        assert ("no reserve" in bending_advice(tube, 60.0)) == (5.0 / least_radius_mm(tube) > 0.99 * elongation)
        assert ("no reserve" in bending_advice(tube, 60.0)) == (temper != "annealed")
        check_radius(tube, least_radius_mm(tube))
        assert 5.0 / least_radius_mm(tube) <= elongation + 1e-12
        with pytest.raises(Refusal):
            check_radius(tube, 0.99 * least_radius_mm(tube))


def test_pieces_join_in_legs():
    """Two halves where both lie in legs; a join that would fall on a bend moves back to 15 mm before it."""
    bending, arc = Bending(), 24.0 * pi
    legs = (80.0, 300.0, 290.0)
    (whole,) = bent_pieces(legs, 24.0, Tube(8.0, 7.0), bending)
    assert whole.cut_mm == pytest.approx(670.0 + 2 * arc + 10.0)
    one, two = bent_pieces(legs, 24.0, Tube(8.0, 7.0, 540.0), bending)
    assert one.finished_mm == pytest.approx(335.0 + arc) == pytest.approx(two.finished_mm)
    assert [at for _, at in two.marks] == pytest.approx([5.0 + 45.0, 50.0 + arc])
    assert [words for words, _ in two.marks] == ["bend 2 begins", "bend 2 ends"]
    one, two = bent_pieces((200.0, 100.0, 290.0), 24.0, Tube(8.0, 7.0, 400.0), bending)
    assert one.finished_mm == pytest.approx(200.0 + arc + 100.0 - 15.0)
    assert two.finished_mm == pytest.approx(15.0 + arc + 290.0)
    with pytest.raises(Refusal) as caught:
        bent_pieces((80.0, 20.0, 60.0), 24.0, Tube(8.0, 7.0, 150.0), bending)
    assert_one_sentence(caught.value, "rack: the tube of 8 x 7 mm is")


@pytest.mark.parametrize("seed", range(40))
def test_pieces_of_any_fold_add_up_and_keep_clear_of_bends(seed):
    rng = np.random.default_rng(seed)
    bending, radius = Bending(), rng.uniform(10.0, 40.0)
    legs = rng.uniform(30.0, 400.0, int(rng.integers(1, 6)))
    tube = Tube(8.0, 7.0, rng.uniform(200.0, 900.0))
    made = bent_pieces(legs, radius, tube, bending)
    assert sum(piece.finished_mm for piece in made) == pytest.approx(straight_and_bent(legs, len(legs) - 1, radius))
    assert all(piece.cut_mm <= tube.length_mm + 1e-9 for piece in made)
    assert sum(len(piece.marks) for piece in made) == 2 * (len(legs) - 1)
    for piece in made:
        places = [at for _, at in piece.marks]
        if places:
            assert places[0] >= 5.0 + 15.0 - 1e-9
            assert places[-1] <= piece.cut_mm - 5.0 - 15.0 + 1e-9
        for begins, ends in zip(places[::2], places[1::2], strict=True):
            assert ends - begins == pytest.approx(pi * radius)


def test_bridged_tubes_go_on_to_the_far_side_of_the_passage():
    one, two, passage = bridged_pieces((100.0, 120.0), 14.0, Tube(8.0, 7.0), Bending())
    assert (one.finished_mm, two.finished_mm, passage.finished_mm) == (107.0, 127.0, 7.0)
    assert one.marks == (("axis of bridge 1", 5.0 + 100.0 + 3.5),)
    assert two.marks == (("axis of bridge 1", 5.0 + 3.5),)


def test_tubes_are_checked():
    for change, start in (
        ({"inside_mm": 8.0}, "inside_mm: 8 is out of bounds"),
        ({"temper": "soft"}, "temper: 'soft' is not a temper"),
    ):
        with pytest.raises(Refusal) as caught:
            Tube(**({"outside_mm": 8.0, "inside_mm": 7.0} | change))
        assert_one_sentence(caught.value, start)
