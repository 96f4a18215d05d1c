"""Records of a round at the bench; the demo workshop's cards, log and planted truth are what their generators make."""

from collections import Counter
from dataclasses import replace
from pathlib import Path

import nbformat
import numpy as np
import pytest

from acoustics.bench.actions import what_to_change
from acoustics.bench.entries import Change, Measurement, Prediction, Result
from acoustics.bench.history import history
from acoustics.bench.log import Log, open_log
from acoustics.bench.readings import place_of
from acoustics.bench.records import new_records
from acoustics.bench.reed_card import read_reed_card
from acoustics.bench.reed_fit import fit_reed
from acoustics.errors import Refusal
from acoustics.pipes.design_file import revision
from acoustics.tuning.dials import DIALS
from acoustics.tuning.free import turned
from acoustics.validity import OutsideRange
from tests.bench import make_bench, make_demo, make_playing
from tests.bench.simulated import FOURTEEN, hit, planted, read
from tests.pipes.sample import assert_one_sentence
from tests.tuning.bench import bench, demo

PAGE = Path(__file__).parents[2] / "notebooks" / "11-what-did-i-make-and-what-do-i-do-next.ipynb"
EMPTY = Log("none.toml", (), ())


@pytest.fixture(scope="module")
def readings():
    """Of the chanter with its staple 2 mm too deep."""
    return read(turned(bench(), {DIALS["insertion"]: 17.0}), 1.0, np.random.default_rng(0), FOURTEEN)


@pytest.fixture(scope="module")
def plan(readings):
    return what_to_change(bench(), readings)


def test_a_round(readings, plan):
    flagged = replace(readings, rows=(replace(readings.rows[0], flag="doubtful"), *readings.rows[1:]))
    measured, predicted = new_records(EMPTY, demo(), "3 May", flagged, plan)
    assert isinstance(measured, Measurement)
    assert isinstance(predicted, Prediction)
    assert {measured.design, predicted.design} == {revision(demo())}
    assert [one.note for one in measured.cents] == [r.title for r in readings.rows[1:]]
    chosen = plan.suggestions[0]
    assert predicted.action == chosen.move.said(chosen.amount)
    np.testing.assert_allclose([one.cents for one in predicted.cents], chosen.after, atol=0.006)
    np.testing.assert_allclose([one.error_cents for one in predicted.cents], chosen.errors, atol=0.006)
    assert new_records(EMPTY, demo(), "3 May", readings, plan, 0) == (replace(measured, cents=_cents(readings)),)


def _cents(readings):
    return [(r.title, r.cents, r.error_cents) for r in readings.rows]


def test_run_twice_it_adds_nothing(tmp_path, readings, plan):
    path = tmp_path / "log.toml"
    after = turned(bench(), {DIALS["insertion"]: 15.0}).base
    action = new_records(EMPTY, demo(), "3 May", readings, plan)[-1].action
    for _ in range(2):
        for design, done in ((demo(), ""), (replace(after, name="as changed"), action)):
            for entry in new_records(open_log(path), design, "3 May", readings, plan, 1, done):
                open_log(path).append(entry)
    kinds = [type(entry) for entry in open_log(path).entries]
    assert kinds == [Measurement, Prediction, Change, Result, Prediction]


def test_every_suggestion_can_be_written(tmp_path, readings, plan):
    for which in range(1, len(plan.suggestions) + 1):
        (one,) = new_records(EMPTY, demo(), "3 May", readings, plan, which)[1:]
        assert open_log(tmp_path / "log.toml").append(one).entries[-1] == one


def test_refusals(readings, plan):
    with pytest.raises(Refusal) as refused:
        new_records(EMPTY, demo(), "3 May", readings, plan, len(plan.suggestions) + 1)
    assert_one_sentence(refused.value, "which")
    with pytest.raises(Refusal) as refused:
        new_records(EMPTY, demo(), "3 May", readings, plan, 1, "undercut E")
    assert_one_sentence(refused.value, "after")


def test_an_unknown_action_names_those_that_are_known(readings, plan):
    log = replace(EMPTY, entries=new_records(EMPTY, demo(), "3 May", readings, plan))
    with pytest.raises(Refusal, match="raw the staple out"):
        new_records(log, demo(), "4 May", readings, plan, 1, "undercut E")


# -- a reed that is not known


@pytest.mark.long
@pytest.mark.filterwarnings(f"ignore::{OutsideRange.__module__}.{OutsideRange.__name__}")
@pytest.mark.parametrize("spread", [0.0, 1.0])
def test_a_fault_beside_a_fitted_reed(spread, capsys):
    """60 chanters with one fault that is not the reed's, their reed fitted from the same readings within 1 cent.

    With a reed as designed the fault stands in the first two suggestions; with one that is softer or stiffer (0.05)
    and rings higher or lower (30 Hz) the reed's own cure comes first, and the fault stands there or among the first
    two suspects.  The page quotes what is printed.
    """
    random, told = np.random.default_rng(2), Counter()
    while told["of"] < 60:
        name, by, setup = planted(random)
        if name in ("softness", "reed length"):
            continue
        dials = {DIALS["softness"]: 0.05, DIALS["blades"]: 30.0}
        off = {dial: dial.read(bench()) + spread * random.normal(0.0, by_how) for dial, by_how in dials.items()}
        found = read(turned(setup, off), 1.0, random)
        plan = what_to_change(bench(), found, fit_reed(bench(), found))
        suspected = name in [cause.name for cause, *_ in plan.diagnosis.ranking[:2]]
        told["of"] += 1
        told["suggested"] += hit(name, by, plan)
        told["suspected"] += suspected
        told["either"] += suspected or hit(name, by, plan)
    with capsys.disabled():
        print(f"\nreed off by {spread:g} times what reeds differ: {dict(told)}")
    assert told["either"] >= 0.85 * told["of"]


# -- the demo workshop


@pytest.mark.parametrize("number", make_bench.CARDS)
def test_the_stored_cards_are_what_their_generator_makes(number):
    assert read_reed_card(make_bench.CARDS[number]) == make_bench.card(number)


def test_the_stored_log_is_what_its_generator_makes(tmp_path):
    make_bench.write_log(tmp_path / "log.toml")
    stored, made = open_log(make_bench.LOG), open_log(tmp_path / "log.toml")
    assert stored.asides == ()
    assert [type(one) for one in stored.entries] == [Measurement, Prediction, Change, Result]
    for old, new in zip(stored.entries, made.entries, strict=True):
        assert (old.date, old.design, old.action) == (new.date, new.design, new.action)
        if not isinstance(old, Change):
            assert [one.note for one in old.cents] == [one.note for one in new.cents]
            np.testing.assert_allclose([one.cents for one in old.cents], [one.cents for one in new.cents], atol=0.05)


def test_what_the_workshop_followed_does_good():
    """The chanter itself, without a microphone: its notes come much nearer to the scale, and near the prediction."""
    _, plan = make_bench.first_round()
    chosen = plan.suggestions[make_bench.followed() - 1]
    before, after = make_bench.as_played(), make_bench.as_played(-chosen.amount)
    assert np.sqrt(np.mean(np.square(list(after.values())))) < 0.4 * np.sqrt(np.mean(np.square(list(before.values()))))
    told = {place_of(row.fingering): cents for row, cents in zip(chosen.setup.chart.rows, chosen.after, strict=True)}
    off = [cents - told[place] for place, cents in after.items()]
    assert np.sqrt(np.mean(np.square(off))) < 1.0
    (judged,) = history(open_log(make_bench.LOG)).judgements
    assert judged.rms < 0.3 * judged.moved


def test_the_page_says_what_was_planted():
    (cell,) = [c for c in nbformat.read(PAGE, as_version=4).cells if "planted" in c.metadata.get("tags", [])]
    said: dict = {}
    exec(cell.source.splitlines()[0], said)
    assert said["over"] == (make_demo.OVER_MM, make_demo.OVER_FROM, make_demo.OVER_TO)
    assert said["under"] == (-make_demo.LEFT_MM, make_demo.LEFT_FROM, make_demo.LEFT_TO)
    assert (said["softer"], said["lower_hz"]) == (make_playing.SOFTER, -make_playing.LOWER_HZ)


def test_the_page_is_told_how_it_was_blown():
    (cell,) = [c for c in nbformat.read(PAGE, as_version=4).cells if "parameters" in c.metadata.get("tags", [])]
    said: dict = {}
    exec(cell.source, said)
    blown = make_playing.BLOWN
    assert [1e3 * kpa for kpa in said["bag_kpa"]] == [blown.pressure_first, blown.pressure_second]
    assert (said["lips_open_mm2"], 1e3 * said["lips_shut_kpa"]) == (
        blown.valve.opening_mm2,
        blown.valve.closing_pressure,
    )
    assert said["follow"] == make_bench.followed()


def test_the_page_suggests_what_the_generator_followed():
    _, plan = make_bench.first_round()
    cells = nbformat.read(PAGE, as_version=4).cells
    shown = [out.get("data", {}).get("text/plain") for cell in cells for out in cell.get("outputs", [])]
    assert plan.said in shown
