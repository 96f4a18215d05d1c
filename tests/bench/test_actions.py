"""What to change first: planted faults are found, a sound chanter is left alone, predictions come true."""

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from acoustics.bench.actions import REASON, what_to_change
from acoustics.bench.faults import NOTHING_WRONG, _weighed, causes, diagnose
from acoustics.bench.moves import BY_KINDNESS, GENTLE, Option, listed, moves, unmatched
from acoustics.bench.readings import Readings
from acoustics.bench.reed_fit import fit_reed
from acoustics.bench.suspects import Suspects
from acoustics.errors import Refusal
from acoustics.physics.rivals import RIVALS
from acoustics.tuning.chart import IN_TUNE, signed
from acoustics.tuning.dials import DIALS, hole_dials
from acoustics.tuning.free import turned
from acoustics.tuning.uncertainty import model_spread
from acoustics.validity import OutsideRange
from tests.bench.simulated import KINDS, best_possible, hit, known_causes, planted, read
from tests.pipes.sample import assert_one_sentence
from tests.tuning.bench import bench, demo

pytestmark = pytest.mark.filterwarnings(f"ignore::{OutsideRange.__module__}.{OutsideRange.__name__}")


def wide_a(by=0.6, error=1.0, seed=0):
    """Readings of the demo chanter with its A hole drilled too large."""
    dial = hole_dials(bench(), "A")["size"]
    return read(turned(bench(), {dial: dial.read(bench()) + by}), error, np.random.default_rng(seed))


def suspected(name, by, plan) -> bool:
    """Whether a planted fault is one of the first two suspects."""
    return any(cause.name == name and amount * by > 0.0 for cause, _, amount, _ in plan.diagnosis.ranking[:2])


def trials(count, error_cents, seed=1, tolerance=0.0):
    """{kind of fault: [found, planted, first two suspects]} over chanters with one planted fault each."""
    random, tally = np.random.default_rng(seed), {kind: [0, 0, 0] for kind in KINDS}
    for _ in range(count):
        name, by, setup = planted(random, tolerance)
        plan = what_to_change(bench(), read(setup, error_cents, random), most=2)
        kind = tally[name.rpartition(": ")[2]]
        for i, one in enumerate((hit(name, by, plan), True, suspected(name, by, plan))):
            kind[i] += one
    return tally


def share(tally):
    found, of, _ = np.sum(list(tally.values()), axis=0)
    return found / of


def test_a_few_planted_faults():
    assert share(trials(6, 1.0)) >= 0.66


@pytest.mark.long
@pytest.mark.parametrize("tolerance", [0.0, 1.0])
@pytest.mark.parametrize("error_cents", [1.0, 1.5, 2.0, 3.0])
def test_100_planted_faults(error_cents, tolerance, capsys):
    """The bar is 85 of 100 in the first two suggestions; rule and faults in `simulated`.

    It is asserted for readings within 1 cent, what a recording gives, of chanters that are otherwise as drawn.
    A hole 0.3 mm over size moves its two notes by 2 to 4 cents, which readings within 3 cents cannot show.  Printed
    beside it is the share that could be found at best, by one who knows the law by which the faults were drawn:
    with every other dimension off by its tolerance that lies below the bar already.  Some of what is suspected rightly
    is not suggested: what can be undone comes first, and a cut that would do little good now is not worth the wood.
    """
    tally, best = trials(100, error_cents, tolerance=tolerance), best_possible(error_cents, tolerance)
    with capsys.disabled():
        print(f"\nreadings within {error_cents} cents, tolerance {tolerance}: {share(tally):.2f} of {best:.2f} {tally}")
        print(f"among the first two suspects: {sum(suspects for *_, suspects in tally.values()) / 100:.2f}")
    if error_cents == 1.0 and not tolerance:
        assert share(tally) >= 0.85


def test_what_could_be_found_at_best():
    """Nearly all with exact readings; with tolerances less than the bar of 85 of 100, whoever reads."""
    assert best_possible(0.01, 0.0, 500) > 0.99
    assert best_possible(1.0, 1.0) < 0.85
    assert best_possible(300.0, 0.0, 2000) == pytest.approx(1.0 / 7.0 + 1.0 / 14.0, abs=0.03)  # a mere guess


def sound(random, tolerance: float):
    """A chanter without a fault, every dimension off by so many times what the workshop holds."""
    off = {c.dial: c.dial.read(bench()) + tolerance * random.normal(0.0, c.held) for c in known_causes().values()}
    return turned(bench(), off) if tolerance else bench()


@pytest.mark.long
@pytest.mark.parametrize("tolerance", [0.0, 1.0])
@pytest.mark.parametrize("error_cents", [1.0, 3.0])
def test_sound_chanters_are_not_cut(error_cents, tolerance, capsys):
    """Of 100 without a fault: how many are given something to do, and how many a cut.  Where every dimension is off
    by its tolerance, the notes are off too, and something that can be undone is worth doing."""
    random, told = np.random.default_rng(5), Counter()
    for _ in range(100):
        plan = what_to_change(bench(), read(sound(random, tolerance), error_cents, random))
        kinds = {one.move.kind for one in plan.suggestions}
        told["anything"] += bool(kinds)
        told["a cut"] += bool(kinds - {GENTLE})
    with capsys.disabled():
        print(f"\nof 100 sound chanters, read within {error_cents} cents, tolerance {tolerance}: {dict(told)}")
    assert tolerance or told["anything"] <= 20
    assert told["a cut"] <= (15 if tolerance else 5)


def test_noise_alone_is_left_alone():
    """Six sound chanters read within 3 cents: at most one is given something to do."""
    random = np.random.default_rng(5)
    assert sum(bool(what_to_change(bench(), read(bench(), 3.0, random)).suggestions) for _ in range(6)) <= 1


def told(count, rival, models, seed=5):
    """Of sound chanters under another published model, read within 3 cents: (told to do something, told to cut)."""
    random, found = np.random.default_rng(seed), np.zeros(2, int)
    for _ in range(count):
        plan = what_to_change(bench(), read(bench(), 3.0, random, rival=rival), models=models)
        kinds = {one.move.kind for one in plan.suggestions}
        found += [bool(kinds), bool(kinds - {GENTLE})]
    return found


def test_another_published_model_is_no_fault():
    """Holes in a flat wall: a fault where the own formulas are taken as true, none where others are allowed for."""
    (flat,) = (rival for rival in RIVALS if rival.name == "holes in a flat wall")
    assert told(2, flat, None)[0] == 2
    assert told(2, flat, model_spread(bench()))[0] == 0
    soft = read(turned(bench(), {DIALS["softness"]: 0.85}), 1.0, np.random.default_rng(0))
    plan = what_to_change(bench(), soft, models=model_spread(bench()))
    assert {one.move.cause for one in plan.suggestions} == {"softness", "reed length"}  # no reading parts the two


@pytest.mark.long
def test_twelve_sound_chanters_of_other_models(capsys):
    """Twelve each under the own formulas and under others, told to do something and told to cut, without and with
    other models allowed for; asserted that those allow for all of them."""
    models = model_spread(bench())
    for rival in (None, *(rival for rival in RIVALS if rival.credible)):
        plain, allowed = told(12, rival, None), told(12, rival, models)
        with capsys.disabled():
            print(f"\n{rival.name if rival else 'own models'}: {plain}, others allowed for: {allowed}")
        assert allowed[0] <= 1
    tally = {}
    for allowed in (None, models):
        random, hits = np.random.default_rng(1), 0
        for _ in range(40):
            name, by, setup = planted(random)
            hits += hit(name, by, what_to_change(bench(), read(setup, 1.0, random), most=2, models=allowed))
        tally[allowed is not None] = hits
    with capsys.disabled():
        print(f"planted faults found of 40, others allowed for or not: {tally}")
    assert tally[True] >= 0.6 * 40


@pytest.mark.parametrize("seed", range(4))
def test_what_can_be_undone_comes_first(seed):
    """Every list goes from the kind to the unkind, one move for each dimension, and a cut has a reason."""
    random = np.random.default_rng(seed)
    plan = what_to_change(bench(), read(planted(random, 1.0)[2], 1.0, random))
    unkind = [BY_KINDNESS.index(one.move.kind) for one in plan.suggestions]
    assert unkind == sorted(unkind)
    assert len({one.move.cause for one in plan.suggestions}) == len(unkind) > 0
    for one in plan.suggestions:
        assert one.rms_cents < plan.rms_cents
        assert one.move.kind == GENTLE or (one.chance >= REASON and one.suspicion)


def test_a_hole_too_small_is_cut():
    """Nothing that can be undone makes up for it: cuts alone are listed, the right one first, with its reason."""
    size = hole_dials(bench(), "A")["size"]
    small = turned(bench(), {size: size.read(bench()) - 0.6})
    plan = what_to_change(bench(), read(small, 1.0, np.random.default_rng(0)))
    assert all(one.move.kind != GENTLE for one in plan.suggestions)
    assert plan.suggestions[0].move.cause == "A: size"
    assert "cannot be undone" in plan.suggestions[0].said


def test_suspicion_has_a_direction():
    """Of a hole too large: tape over it undoes what is suspected, a file does not."""
    plan = what_to_change(bench(), wide_a())
    suspects = Suspects(plan.diagnosis, bench(), None)
    undone = {move.words: suspects.of(move)[0] for move in moves(bench()) if move.cause == "A: size"}
    assert undone.pop("tape or wax over the A hole") > 0.5
    assert set(undone.values()) == {0.0}


def test_a_cut_needs_a_reason():
    """Notes off by what a wider bore would mend, but with every dimension by chance within tolerance: no cut.  Against
    the scale, where no suspicion is needed, it does more good than what can be undone, and mends a note out of tune."""
    taper = next(move for move in moves(bench()) if move.cause == "taper" and move.kind == "ream")
    low = taper.dial.turn(bench(), taper.dial.read(bench()) - 0.1)
    readings = read(low, 1.0, np.random.default_rng(0))
    diagnosis = diagnose(bench(), readings)
    assert Suspects(diagnosis, bench(), None).of(taper)[0] < REASON
    design, scale = (what_to_change(bench(), readings, aim=aim, most=20) for aim in ("design", "scale"))
    assert "taper" not in {one.move.cause for one in design.suggestions if one.move.kind == "ream"}
    cuts = [one for one in scale.suggestions if one.move.kind != GENTLE]
    assert {one.move.cause for one in cuts} == {"taper"}
    gentle = min(one.rms_cents for one in scale.suggestions if one.move.kind == GENTLE)
    assert all(one.rms_cents < gentle for one in cuts)


def test_no_cut_for_notes_in_tune():
    """Of a chanter nearly on the scale, no cut for a note that nobody hears to be off, however little is to be gained
    else; of one with a reed too soft, no cut either: the reed does more good."""
    size = hole_dials(bench(), "A")["size"]
    small = read(turned(bench(), {size: size.read(bench()) - 0.3}), 1.0, np.random.default_rng(0))
    soft = read(turned(bench(), {DIALS["softness"]: 0.85}), 1.0, np.random.default_rng(0))
    for readings in (small, soft):
        plan = what_to_change(bench(), readings, aim="scale", most=20)
        for one in plan.suggestions:
            most = np.argmax(np.abs(one.after - plan.before))
            assert one.move.kind == GENTLE or abs(plan.before[most]) > IN_TUNE
    assert {one.move.kind for one in plan.suggestions} == {GENTLE}


def test_what_no_rule_measures_is_told_by_notes():
    """A bridle has no scale: two notes that were read say when it has gone far enough, where they are foretold."""
    readings = read(turned(bench(), {DIALS["softness"]: 0.85}), 1.0, np.random.default_rng(0))
    plan = what_to_change(bench(), readings)
    i = next(i for i, one in enumerate(plan.suggestions) if one.move.cause == "softness")
    line = plan.said.splitlines()[i + 1]
    first, second = line.split(" Far enough when ")[1].split(" and ")
    for said, octave in ((first, "first"), (second, "second")):
        title = said.split(", stands at ")[0]
        assert title.endswith(f"{octave} octave")
        row = plan.notes.index(title)
        after, before = (signed(cents[row], 0) for cents in (plan.suggestions[i].after, plan.before))
        assert said.startswith(f"{title}, stands at {after} cents (now {before})")
    assert "Far enough" not in what_to_change(bench(), wide_a(), most=1).said


def test_the_kindest_that_is_nearly_as_good_comes_first():
    """Of made-up moves: good 1.0 by reaming, 0.6 by hand and 0.4 by tape; one on the same dimension falls away."""
    template = moves(bench())[0]
    made = [("ream", "throat", 1.0), (GENTLE, "eye", 0.6), (GENTLE, "insertion", 0.4), ("enlarge", "throat", 0.7)]
    options = [Option(replace(template, kind=kind, cause=cause), 1.0, good) for kind, cause, good in made]
    assert [(one.move.kind, one.good) for one in listed(options)] == [(GENTLE, 0.6), ("enlarge", 0.7)]
    assert listed([replace(one, good=0.0) for one in options]) == []


def test_one_move_makes_up_for_the_rest():
    """Of moves that undo nothing suspected the kindest best one is listed alone, after those of its kind that do."""
    template = moves(bench())[0]
    made = [("eye", 0.6, False), ("insertion", 0.9, True), ("reed length", 1.0, True), ("throat", 0.7, False)]
    options = [Option(replace(template, cause=cause), 1.0, good, bare) for cause, good, bare in made]
    cut = Option(replace(template, kind="ream", cause="taper"), 1.0, 0.8)
    assert [one.move.cause for one in listed([cut, *options])] == ["throat", "eye", "reed length", "taper"]


def test_a_cut_that_something_gentle_matches_is_left_out():
    template = moves(bench())[0]
    made = [("ream", 1.0), ("enlarge", 0.5), (GENTLE, 0.5), (GENTLE, 0.1)]
    options = [Option(replace(template, kind=kind), 1.0, good) for kind, good in made]
    assert unmatched(options) == [options[0], *options[2:]]


def test_without_a_fault_nothing_is_done():
    """Readings exactly as designed: the list is empty and says why."""
    made = Readings(tuple(read(bench(), 0.01, np.random.default_rng(0)).rows), bench().scale, 20.0)
    rows = tuple(type(r)(r.note, r.octave, r.cents, 3.0) for r in made.rows)
    plan = what_to_change(bench(), Readings(rows, made.scale, 20.0))
    assert plan.suggestions == ()
    assert "leave it" in plan.said
    assert plan._repr_html_().count("<tr>") == 27
    assert plan.diagnosis.all_well > 0.5


def test_a_hole_too_large_is_taped():
    plan = what_to_change(bench(), wide_a())
    first = plan.suggestions[0]
    assert (first.move.cause, first.move.kind) == ("A: size", GENTLE)
    assert "the A hole is too large" in first.said
    assert "left open" in first.said
    assert first.rms_cents < plan.rms_cents
    assert plan.diagnosis.ranking[0][0].name == "A: size"
    _, chance, amount, error = plan.diagnosis.ranking[0]
    assert abs(amount - 0.6) < 3.0 * error
    assert 0.0 < chance < 1.0
    assert plan.said.count("\n") == len(plan.suggestions)
    assert repr(plan) == plan.said


def test_what_is_predicted_comes_true():
    """The suggestion made on the chanter that was read: its notes lie where predicted, within the errors said."""
    dial = hole_dials(bench(), "A")["size"]
    truth = turned(bench(), {dial: dial.read(bench()) + 0.6})
    random, off = np.random.default_rng(7), []
    for _ in range(3):
        first = what_to_change(bench(), read(truth, 1.0, random), most=1).suggestions[0]
        tape = first.move.dial
        done = tape.turn(truth, tape.read(truth) + first.amount)
        off.append((done.chart.cents - first.after) / first.errors)
        assert np.mean(done.chart.cents**2) < np.mean(truth.chart.cents**2)
    off = np.array(off)
    assert 0.3 < np.sqrt(np.mean(off**2)) < 1.5
    assert np.mean(np.abs(off) < 1.96) > 0.9


def test_half_the_notes_will_do():
    """Missing notes are filled in from the model, with larger errors."""
    whole = wide_a()
    some = Readings(whole.rows[:14] + whole.rows[19:20], whole.scale, 20.0)
    plan = what_to_change(bench(), some)
    assert plan.suggestions[0].move.cause == "A: size"
    assert plan._repr_html_().count("no clear reading") == 26 - 15
    seen = np.isin(np.arange(26), plan.diagnosis.rows)
    assert plan.before_errors[~seen].mean() > plan.before_errors[seen].mean()
    assert np.all(np.isfinite(plan.before))


def test_with_a_fitted_reed():
    """A softer reed and a wide hole together: the fit takes the one, the diagnosis the other; both are named."""
    size = hole_dials(bench(), "A")["size"]
    truth = turned(bench(), {size: size.read(bench()) + 0.6, DIALS["softness"]: 0.8})
    readings = read(truth, 1.0, np.random.default_rng(2))
    fit = fit_reed(bench(), readings)
    plan = what_to_change(bench(), readings, fit, aim="scale")
    assert plan.diagnosis.ranking[0][0].name == "A: size"
    assert not {cause.name for cause in plan.diagnosis.causes} & {"softness", "blades", "reed length"}
    found = {one.move.cause for one in plan.suggestions}
    assert "softness" in found or "reed length" in found
    assert any("by the fit" in one.said for one in plan.suggestions)


def test_all_that_was_fitted_stands_in_the_diagnosis():
    """Air three degrees warmer than said, fitted with the reed: nothing is left to be diagnosed."""
    warm = read(turned(bench(), {DIALS["temperature"]: 23.0}), 0.5, np.random.default_rng(0))
    readings = replace(warm, temperature_c=20.0)
    fit = fit_reed(bench(), readings, ("softness", "blades", "reed length", "temperature"))
    found = diagnose(bench(), readings, fit).setup
    assert found.air.temperature_c == pytest.approx(23.0, abs=0.3)
    np.testing.assert_allclose(found.chart.cents, fit.setup.chart.cents, atol=1e-9)
    hole = hole_dials(bench(), "A")["position"]
    moved = turned(bench(), {hole: hole.read(bench()) + 1.0})
    assert hole.read(diagnose(moved, readings, fit).setup) == hole.read(moved)


def test_aims():
    """Against the scale the design's own distance counts, against the design it does not."""
    readings = wide_a()
    design, scale = (what_to_change(bench(), readings, aim=aim) for aim in ("design", "scale"))
    assert scale.rms_cents > design.rms_cents
    assert "the scale" in scale.said
    with pytest.raises(Refusal) as refused:
        what_to_change(bench(), readings, aim="heaven")
    assert_one_sentence(refused.value, "aim")


def test_no_reading_without_a_flag():
    flagged = tuple(type(r)(r.note, r.octave, r.cents, 1.0, "a drone") for r in wide_a().rows)
    with pytest.raises(Refusal):
        diagnose(bench(), Readings(flagged, bench().scale, 20.0))


def test_moves():
    """Each can be made, farthest and by one step, and names a dimension that may be the cause."""
    known = set(known_causes())
    for move in moves(bench()):
        assert move.cause in known
        assert move.kind in BY_KINDNESS
        for by in (move.farthest, np.sign(move.farthest) * move.step):
            setup = move.dial.turn(bench(), round(move.dial.read(bench()) + by, 6))
            assert np.any(np.abs(setup.chart.cents - bench().chart.cents) > 1e-6) or "rush" in move.words
        assert move.said(move.farthest)[0] == move.words[0]
    cuts = {move.words for move in moves(bench()) if move.kind != GENTLE}
    assert all(word.split()[0] in ("ream", "undercut", "enlarge", "shift") for word in cuts)


@pytest.mark.parametrize("name", ["insertion", "throat", "A: size", "E: position", "eye", "softness"])
@pytest.mark.parametrize("sign", [-1.0, 1.0])
def test_moves_undo(name, sign):
    """A move said to be against a cause brings the notes back towards the design."""
    cause = known_causes()[name]
    off = turned(bench(), {cause.dial: cause.dial.read(bench()) + sign * cause.usual})
    tried = [move for move in moves(off) if move.cause == name and move.against == sign]
    assert tried
    for move in tried:
        back = move.dial.turn(off, round(move.dial.read(off) + 0.2 * move.farthest, 6))
        apart = [np.sum((setup.chart.cents - bench().chart.cents) ** 2) for setup in (off, back)]
        assert apart[1] < apart[0]


def test_words_of_every_cause():
    for cause in causes(bench()):
        assert cause.said(1.0) != cause.said(-1.0)
        assert cause.said(0.123).endswith(f" by 0.12 {cause.dial.unit}".rstrip())
    assert len({cause.name for cause in causes(bench())}) == 10 + 2 * len(demo().holes)


def test_chances_are_bayes_rule():
    """Against scipy's normal densities, and conditional means and covariances written out for each cause."""
    random = np.random.default_rng(1)
    slopes, usual, rows = random.normal(size=(3, 5)), np.array([1.0, 2.0, 0.5]), np.array([0, 1, 3])
    mixed = random.normal(size=(5, 5))
    ground, noise = 0.3 * mixed @ mixed.T, np.diag([0.5, 0.7, 0.4])
    off = np.array([1.0, -2.0, 0.7])
    chances, amounts, errors, mean, covariance = _weighed(slopes, usual, ground, noise, rows, off)
    base = ground[np.ix_(rows, rows)] + noise
    each = [base + s**2 * np.outer(j[rows], j[rows]) for j, s in zip(slopes, usual, strict=True)]
    density = [multivariate_normal(cov=one).pdf(off) * (1.0 - NOTHING_WRONG) / 3.0 for one in each]
    density.append(multivariate_normal(cov=base).pdf(off) * NOTHING_WRONG)
    np.testing.assert_allclose(chances, np.array(density[:3]) / np.sum(density), rtol=1e-9)
    means, seconds = [], []
    for k in range(4):
        whole = ground + (usual[k] ** 2 * np.outer(slopes[k], slopes[k]) if k < 3 else 0.0)
        gain = whole[:, rows] @ np.linalg.inv(whole[np.ix_(rows, rows)] + noise)
        means.append(gain @ off)
        seconds.append(whole - gain @ whole[rows])
    share = np.append(chances, 1.0 - chances.sum())
    np.testing.assert_allclose(mean, share @ np.array(means), rtol=1e-9)
    spread = np.einsum("k,kij->ij", share, seconds) + np.cov(np.array(means).T, aweights=share, ddof=0)
    np.testing.assert_allclose(covariance, spread, rtol=1e-9, atol=1e-12)
    precise = [j[rows] @ np.linalg.inv(base) @ j[rows] + s**-2.0 for j, s in zip(slopes, usual, strict=True)]
    np.testing.assert_allclose(errors, np.sqrt(1.0 / np.array(precise)), rtol=1e-9)
    # the amount by which each is off, together with the readings a joint normal: its conditional mean
    cause = zip(slopes, usual, each, strict=True)
    expected = [s**2 * j[rows] @ np.linalg.solve(whole, off) for j, s, whole in cause]
    np.testing.assert_allclose(amounts, expected, rtol=1e-9)
