"""Reed cards: round trip, broken files, and which reed suits a chanter."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acoustics.bench.expected import Expected
from acoustics.bench.faults import causes
from acoustics.bench.reed_card import KnownTo, ReedCard, card_of, card_text, read_reed_card, write_reed_card
from acoustics.bench.reed_choice import which_reed_suits
from acoustics.bench.reed_fit import fit_reed
from acoustics.errors import Refusal
from acoustics.pipes.reed import Reed
from acoustics.pipes.rush import Rush
from acoustics.pipes.staple import Staple
from acoustics.tuning.pull import Played
from acoustics.tuning.setup import Setup
from acoustics.validity import OutsideRange
from tests.bench.simulated import FOURTEEN, read
from tests.pipes.sample import assert_one_sentence
from tests.pipes.strategies import floats, names
from tests.tuning.bench import bench, demo


@st.composite
def cards(draw):
    reed = Reed(draw(floats(1, 200)), draw(floats(0.5, 300)), draw(floats(0, 10)), draw(floats(100, 20000)))
    staple = draw(st.sampled_from([None, demo().staple, Staple(50.0, 4.5, 3.0, 12.0)]))
    maybe = st.none() | floats(1e-3, 5.0)
    known = KnownTo(draw(maybe), draw(maybe), draw(maybe), draw(st.none() | floats(-1.0, 1.0)))
    return ReedCard(draw(names()), reed, staple, known, draw(st.just("") | names()))


@settings(max_examples=50)
@given(cards())
def test_any_card_comes_back_exactly(tmp_path_factory, card):
    path = tmp_path_factory.mktemp("cards") / "reed.toml"
    write_reed_card(card, path)
    assert read_reed_card(path) == card


def test_never_overwritten_silently(tmp_path):
    card = ReedCard("one", demo().reed)
    write_reed_card(card, tmp_path / "reed.toml")
    with pytest.raises(Refusal, match="already"):
        write_reed_card(replace(card, name="two"), tmp_path / "reed.toml")
    assert read_reed_card(tmp_path / "reed.toml") == card
    write_reed_card(replace(card, name="two"), tmp_path / "reed.toml", overwrite=True)
    assert read_reed_card(tmp_path / "reed.toml").name == "two"


GOOD = card_text(ReedCard("one", demo().reed, demo().staple, KnownTo(1.0, 0.05, 20.0, -0.9), "from the long cane"))
WRONG = {
    "a design": (GOOD.replace("reed card", "chanter"), "form"),
    "no form": (GOOD.replace('form = "reed card"\n', ""), "form"),
    "another version": (GOOD.replace("version = 1", "version = 2"), "version"),
    "true for one": (GOOD.replace("version = 1", "version = true"), "version"),
    "no name": (GOOD.replace('name = "one"\n', ""), "name"),
    "a number for a name": (GOOD.replace('"one"', "1"), "name"),
    "no reed": (GOOD[: GOOD.index("[reed]")] + GOOD[GOOD.index("[staple]") :], "reed"),
    "misspelt": (GOOD.replace("softness = 0.73", "sofness = 0.73"), "[reed], sofness"),
    "decimal comma": (GOOD.replace("length_mm = 31.0", "length_mm = 31,0"), "line"),
    "no area": (GOOD.replace("area_mm2", "# area_mm2"), "[reed], area_mm2"),
    "an endless error": (GOOD.replace("softness = 0.05", "softness = inf"), "[known_to], softness"),
    "a correlation of two": (GOOD.replace("-0.9", "-2.0"), "[known_to], correlation"),
    "text for a table": (GOOD[: GOOD.index("[known_to]")] + "[hole]\n", "hole"),
    "cut off": (GOOD[:-40] + "[", "line"),
}


@pytest.mark.parametrize("mistake", WRONG)
def test_wrong_cards(tmp_path, mistake):
    text, where = WRONG[mistake]
    path = tmp_path / "reed.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(Refusal) as refused:
        read_reed_card(path)
    assert_one_sentence(refused.value, f"{path}, {where}")


def test_card_of_a_fit(tmp_path):
    """Rounded as far as it is known: the card's reed plays like the fitted one within 0.2 cents."""
    fit = fit_reed(bench(), read(bench(), 3.0, np.random.default_rng(1), FOURTEEN))
    card = card_of(fit, "Sallow Ford reed 3", "the short one")
    assert card.staple == demo().staple
    assert card.known_to.softness == pytest.approx(fit.errors[0], rel=0.05)
    assert card.known_to.correlation == pytest.approx(fit.correlations[0, 2], abs=1e-3)
    played = Setup(replace(demo(), reed=card.reed)).chart.cents
    np.testing.assert_allclose(played, fit.setup.chart.cents, atol=0.2)
    assert "softness" in card_text(card)


def test_which_reed_suits():
    """The chanter's own reed before a softer one and before one too stiff to be helped by its depth."""
    own, staple = demo().reed, demo().staple
    cards = [
        ReedCard("stiff", replace(own, softness=0.5), staple, KnownTo(1.0, 0.05, 20.0)),
        ReedCard("own", own, staple, KnownTo(1.0, 0.05, 20.0, -0.97)),
        ReedCard("soft", replace(own, softness=0.8)),
    ]
    suiting = which_reed_suits(bench(), cards)
    assert [one.card.name for one in suiting.reeds] == ["own", "soft", "stiff"]
    first, *_ = suiting.reeds
    assert first.rms_cents <= np.sqrt(np.mean(bench().chart.cents ** 2)) + 1e-9
    depths = [one.setup.base.staple.insertion_mm for one in suiting.reeds]
    assert depths[0] == pytest.approx(15.0, abs=1.0)
    assert depths[1] > depths[0] > depths[2], "a soft reed is flat and goes in deeper"
    assert all(8.0 <= depth <= 22.0 for depth in depths)
    assert np.isnan(suiting.reeds[1].error_cents)
    assert suiting.said.startswith("1. own, staple")
    assert suiting._repr_html_().count("<p") == len(suiting.said.splitlines())


def test_the_cards_errors_are_carried():
    """Against reeds drawn from the card: the spread of their rms, at the depth chosen."""
    reed = replace(demo().reed, softness=0.9)
    known = KnownTo(0.5, 0.04, 15.0, -0.9)
    (one,) = which_reed_suits(bench(), [ReedCard("soft", reed, None, known)]).reeds
    covariance = np.diag([0.5**2, 0.04**2, 15.0**2])
    covariance[0, 1] = covariance[1, 0] = -0.9 * 0.5 * 0.04
    drawn = np.random.default_rng(0).multivariate_normal((31.0, 0.9, 1300.0), covariance, 100)
    rms = []
    for length, softness, blades in drawn:
        other = replace(reed, length_mm=length, softness=softness, resonance_hz=blades)
        base = replace(one.setup.base, reed=other)
        rms.append(np.sqrt(np.mean(replace(one.setup, base=base).chart.cents ** 2)))
    assert one.error_cents == pytest.approx(np.std(rms), rel=0.25)


def test_what_a_card_leaves_out_counts_as_usual():
    """Softness alone on the card: length and blades' own note are off by what is usual, not known for certain."""
    usual = {cause.name: cause.usual for cause in causes(bench())}
    reed = replace(demo().reed, softness=0.9)
    filled = KnownTo(usual["reed length"], 0.04, usual["blades"], 0.0)
    known = {"some": KnownTo(softness=0.04), "all": filled, "sure": KnownTo(1e-6, 0.04, 1e-6)}
    found = which_reed_suits(bench(), [ReedCard(name, reed, None, one) for name, one in known.items()]).reeds
    errors = {one.card.name: one.error_cents for one in found}
    assert errors["some"] == pytest.approx(errors["all"], rel=1e-12)
    assert errors["some"] > 1.5 * errors["sure"]


def rms_as_played(setup):
    """Every tone reckoned anew."""
    return np.sqrt(np.mean(Expected(setup, Played()).cents ** 2))


def test_reeds_as_they_are_played():
    """With every tone reckoned anew the chanter plays as it is said to, and better than with the depth that suits soft
    notes; notes of which no tone lasts are counted."""
    card = ReedCard("own", demo().reed, None, KnownTo(1.0, 0.05, 20.0, -0.97))
    (soft,) = which_reed_suits(bench(), [card]).reeds
    suiting = which_reed_suits(bench(), [card], Played())
    (loud,) = suiting.reeds
    assert loud.setup.base.staple != soft.setup.base.staple
    assert loud.rms_cents == pytest.approx(rms_as_played(loud.setup), abs=0.3)
    assert rms_as_played(soft.setup) > loud.rms_cents + 0.5
    assert loud.error_cents > 0.0
    assert set(loud.silent) == {"G#, second octave", "B, second octave", "C, second octave", "C#, second octave",
                                "back D, second octave"}  # fmt: skip
    assert "; notes that do not last: 5." in suiting.said
    assert suiting.said.endswith(
        "Taken as played, in the bag 3.6 and 5.0 kPa, every reed with the same slit and strength."
    )
    assert "played" not in which_reed_suits(bench(), [card]).said


def test_where_no_note_lasts():
    """In a bag at 0.2 kPa every card is refused with the reason; what is no pitch is refused at once."""
    suiting = which_reed_suits(
        bench(), [ReedCard("own", demo().reed)], Played(pressure_first=200.0, pressure_second=200.0)
    )
    assert suiting.reeds == ()
    assert "no note lasts at these pressures" in suiting.said
    with pytest.raises(Refusal) as refused:
        which_reed_suits(bench(), [ReedCard("own", demo().reed)], (3.6, 5.0))
    assert_one_sentence(refused.value, "pitch")


@pytest.mark.parametrize(
    ("known", "said"),
    [
        ((KnownTo(), KnownTo()), "Neither the card of own nor that of soft says how well its reed is known"),
        ((KnownTo(softness=1e-4), KnownTo()), "The card of soft does not say how well its reed is known"),
        ((KnownTo(3.0, 0.3, 100.0),) * 2, "The first two are not told apart by what their cards know"),
        ((KnownTo(1e-3, 1e-4, 0.1),) * 2, None),
    ],
)
def test_told_apart(known, said):
    """Only where both cards say how well they are known, and the two lie further apart than that."""
    reeds = (demo().reed, replace(demo().reed, softness=0.9))
    cards = [ReedCard(name, reed, None, to) for name, reed, to in zip(("own", "soft"), reeds, known, strict=True)]
    last = which_reed_suits(bench(), cards).said.splitlines()[-1]
    assert last.startswith(said or "2. soft, staple")
    assert last.endswith("play both.") == bool(said)


def test_a_reed_for_another_chanter():
    """One for a pipe a fifth higher, and a length typed in cm: named with what the notes would do, and not ranked."""
    cards = [
        ReedCard("small", Reed(24.0, 6.0, 0.6, 1900.0)),
        ReedCard("own", demo().reed),
        ReedCard("in cm", replace(demo().reed, length_mm=3.1)),
    ]
    suiting = which_reed_suits(bench(), cards)
    assert [one.card.name for one in suiting.reeds] == ["own"]
    assert [name for name, _ in suiting.refused] == ["small", "in cm"]
    assert "small does not suit: at the best depth, 8 mm, its notes lie 155 cents (rms) off; a reed for" in suiting.said


CARD = ReedCard("own", demo().reed)


@pytest.mark.parametrize(
    ("cards", "where"),
    [((), "cards"), (CARD, "cards"), ("x.toml", "cards"), (3, "cards"), ([CARD, demo().reed], "cards 2"),
     ([CARD, ReedCard("soft", replace(demo().reed, softness=0.9)), CARD], "cards 3")],
)  # fmt: skip
def test_cards_that_cannot_be_ranked(cards, where):
    with pytest.raises(Refusal) as refused:
        which_reed_suits(bench(), cards)
    assert_one_sentence(refused.value, where)


def test_a_chosen_setup_outside_a_range_says_so():
    """The wall of A below the hole's radius: the choice is quiet about it, the chart that it hands out is not."""
    holes = [replace(hole, depth_mm=2.0) if hole.name == "A" else hole for hole in demo().holes]
    (one,) = which_reed_suits(Setup(replace(demo(), holes=holes)), [ReedCard("own", demo().reed)]).reeds
    with pytest.warns(OutsideRange, match='hole "A"'):
        one.setup.chart  # noqa: B018


def test_a_reed_with_which_nothing_sounds(monkeypatch):
    """No ranking and no error of the machine, but a reason."""
    silent = bench().chart
    rows = tuple(replace(row, mode=None, stray=()) for row in silent.rows)
    monkeypatch.setattr(Setup, "chart", property(lambda _: replace(silent, rows=rows)))
    suiting = which_reed_suits(bench(), [ReedCard("mute", demo().reed)])
    assert suiting.said == "mute does not suit: no note sounds with it; a reed that sounds in this chanter is needed."


@pytest.mark.parametrize("hz", [100.0, 20000.0])
def test_a_reed_at_the_edge_of_its_range(monkeypatch, hz):
    """No derivative steps outside of what a reed may be."""
    monkeypatch.setattr("acoustics.bench.reed_choice.FAR_OFF", 500.0)
    edge = ReedCard("edge", replace(demo().reed, resonance_hz=hz), None, KnownTo(1.0, 0.05, 20.0, -0.9))
    suiting = which_reed_suits(bench(), [edge])
    assert not suiting.refused
    assert np.isfinite(suiting.reeds[0].error_cents)


def test_a_reed_that_does_not_fit():
    """A rush up to 7 mm from the top leaves no room for a staple at any depth: named with its reason, not ranked."""
    base = replace(demo(), staple=replace(demo().staple, insertion_mm=5.0), rush=Rush(1.0, 7.0, 361.0))
    suiting = which_reed_suits(Setup(base), [ReedCard("own", demo().reed)])
    assert suiting.reeds == ()
    ((name, reason),) = suiting.refused
    assert name == "own"
    assert reason.startswith("rush: it lies from 7 to 361 mm")
    assert suiting.said == f"own does not suit: {reason}"
