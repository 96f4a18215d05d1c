"""Slips of the reading are told from faults of the chanter, and no cut is suggested on them."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from acoustics.bench.actions import what_to_change
from acoustics.bench.bore_chart import gauged_chart
from acoustics.bench.bore_fit import fit_bore
from acoustics.bench.faults import NOTHING_WRONG, _weighed, diagnose
from acoustics.bench.reed_fit import fit_reed
from acoustics.bench.slips import CENTS_PER_DEGREE, SLIPPED, Slip, slips
from acoustics.physics.air import Air
from acoustics.pipes.bore_file import read_gauges
from acoustics.tuning.dials import DIALS, hole_dials
from acoustics.tuning.free import turned
from acoustics.tuning.scales import equal_scale, just_scale
from acoustics.units import cents
from acoustics.validity import OutsideRange
from tests.bench.simulated import read
from tests.tuning.bench import DESIGNS, bench

pytestmark = pytest.mark.filterwarnings(f"ignore::{OutsideRange.__module__}.{OutsideRange.__name__}")


def shifted(by, setup=None, error=1.5, seed=2):
    """Readings of a chanter, each `by(reading)` cents off what it plays."""
    true = read(bench() if setup is None else setup, error, np.random.default_rng(seed))
    return replace(true, rows=tuple(replace(row, cents=row.cents + by(row)) for row in true.rows))


def plans(readings, fitted):
    fit = fit_reed(bench(), readings) if fitted else None
    return [what_to_change(bench(), readings, fit, aim=aim) for aim in ("design", "scale")]


@pytest.mark.parametrize("fitted", [False, True])
@pytest.mark.parametrize(
    ("by", "word"),
    [(-25.0, "°C colder than said"), (-100.0, "a chanter for C#"), (-200.0, "a chanter for C;"), (100.0, "for E-flat")],
)
def test_all_alike(by, word, fitted):
    """Another key, A or air moves every note alike: said so, and nothing is suggested."""
    for plan in plans(shifted(lambda _: by), fitted):
        assert plan.suggestions == ()
        assert "alike" in plan.said
        assert word in plan.said


@pytest.mark.parametrize("fitted", [False, True])
def test_a_piano_tuner(fitted):
    """Cents against equal temperament, typed as if they counted from the just scale."""
    just, equal = just_scale(), equal_scale()

    def by(row):
        note = "D" if row.note == "back D" else row.note
        return float(cents(just.frequency(note, 1), equal.frequency(note, 1)))

    for plan in plans(shifted(by), fitted):
        assert plan.suggestions == ()
        assert "equal temperament, not from the just scale" in plan.said


def test_one_note_misread():
    """60 cents on one note of a sound chanter are no hole 5 mm too low."""
    for plan in plans(shifted(lambda row: -60.0 * (row.place == ("A", 1))), True):
        assert not [one for one in plan.suggestions if one.move.cause.startswith("A:")]
        assert plan.said.startswith("A, first octave, was read")


def test_faults_are_no_slips():
    """A soft reed, a wide throat and a large hole move the notes, but not alike."""
    hole = hole_dials(bench(), "A")["size"]
    for dial, by in ((DIALS["softness"], 0.15), (DIALS["throat"], 0.15), (DIALS["taper"], 0.3), (hole, 0.6)):
        readings = shifted(lambda _: 0.0, turned(bench(), {dial: dial.read(bench()) + by}), 1.0)
        plan = what_to_change(bench(), readings)
        assert plan.diagnosis.doubt == ""
        assert plan.suggestions


def test_few_readings_are_not_enough():
    """What no reading tells is not cured: 4 notes and a free reed ask for more readings."""
    readings = shifted(lambda _: 0.0)
    few = replace(
        readings, rows=tuple(row for row in readings.rows if row.place in (("D", 1), ("G", 1), ("A", 1), ("D", 2)))
    )
    for plan in plans(few, True):
        assert plan.suggestions == ()
        assert "read more notes" in plan.said


def test_what_the_gauging_left_open_is_no_fault(tmp_path):
    """Gauges from the foot alone leave the cup to a guess: no staple is suspected for it."""
    lines = (DESIGNS / "sallow-ford-1-as-cut.csv").read_text().splitlines()
    path = tmp_path / "foot.csv"
    path.write_text("\n".join(line for line in lines if not line.endswith(",top")) + "\n")
    gauged = gauged_chart(bench(), fit_bore(read_gauges(path)))
    readings = shifted(lambda _: 0.0)
    fit = fit_reed(gauged.setup, readings, gauged=gauged)
    known, taken_as_true = (diagnose(gauged.setup, readings, one) for one in (fit, replace(fit, gauged=None)))
    assert known.all_well > taken_as_true.all_well
    assert np.nanmean(np.diag(known.covariance)) > np.nanmean(np.diag(taken_as_true.covariance))


def test_chances_with_slips_are_bayes_rule():
    """Against scipy's normal densities; a slip moves the readings and no note."""
    random = np.random.default_rng(3)
    slopes, rows = random.normal(size=(2, 5)), np.array([0, 2, 3])
    mixed = random.normal(size=(5, 5))
    ground, noise, off = 0.3 * mixed @ mixed.T, np.diag([0.5, 0.7, 0.4]), np.array([4.0, 3.0, 5.0])
    slip = Slip("all", np.ones(3), 3.0, 0.1)
    chances, amounts, _, mean, _ = _weighed(slopes, [1.0, 2.0], ground, noise, rows, off, (slip,))
    base = ground[np.ix_(rows, rows)] + noise
    wide = [base + s**2 * np.outer(j[rows], j[rows]) for j, s in zip(slopes, (1.0, 2.0), strict=True)]
    wide += [base + 9.0 * np.ones((3, 3)), base]
    before = [(1.0 - NOTHING_WRONG - 0.1) / 2.0] * 2 + [0.1, NOTHING_WRONG]
    density = np.array([w * multivariate_normal(cov=one).pdf(off) for w, one in zip(before, wide, strict=True)])
    np.testing.assert_allclose(chances, (density / density.sum())[:3], rtol=1e-9)
    np.testing.assert_allclose(amounts[2], 9.0 * np.ones(3) @ np.linalg.solve(wide[2], off), rtol=1e-9)
    each = [
        (ground + s**2 * np.outer(j, j))[:, rows] @ np.linalg.solve(one, off)
        for j, s, one in zip([*slopes, slopes[0], slopes[0]], (1.0, 2.0, 0.0, 0.0), wide, strict=True)
    ]
    np.testing.assert_allclose(mean, density / density.sum() @ np.array(each), rtol=1e-9)


def test_cents_of_a_degree():
    """Sound goes as the root of the absolute temperature (any textbook of physics): half of 1/T as an interval; and the
    project's own air, which has vapour in it, comes near."""
    assert pytest.approx(600.0 / np.log(2.0) / 293.15, abs=0.1) == CENTS_PER_DEGREE
    apart = cents(Air(21.0).gas.sound_speed, Air(20.0).gas.sound_speed)
    assert apart == pytest.approx(CENTS_PER_DEGREE, abs=0.2)


def test_every_slip_has_its_chance():
    readings = shifted(lambda _: 0.0)
    made = slips(readings, readings.sound)
    assert sum(slip.chance for slip in made) == pytest.approx(SLIPPED)
    assert len(made) == 2 + len(readings.sound)
