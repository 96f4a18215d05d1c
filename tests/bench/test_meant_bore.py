"""A bore that was meant to be a design: the design helps where the gauges leave the bore open, and does no harm.

The departures are those of `gauging`, and others that no reamer of the design leaves.
"""

from dataclasses import replace

import numpy as np
import pytest

from acoustics.bench.bore_chart import gauged_chart
from acoustics.bench.bore_draws import _gate
from acoustics.bench.bore_fit import FOLLOWS, STRAYS, fit_bore
from acoustics.bench.bore_process import USUAL_ABOUT, Process
from acoustics.bench.probing import Gauging, evidence
from acoustics.errors import Refusal
from acoustics.pipes.bore import Bore
from acoustics.pipes.gauges import Reading
from tests.bench.gauging import bore_of, cup_and_cone, fine, gauged, spoiled, stop_mm
from tests.bench.test_bore_fit import BAR_RMS_MM, FEW, MANY, inside, meant, off, recovered, rms
from tests.pipes.sample import assert_one_sentence
from tests.tuning.bench import bench, demo

DESIGN = demo().bore
X = fine(DESIGN.length_mm)


def beside(shape, seed: int):
    """A bore of a shape as it came out, its fit knowing the design, and not."""
    rng = np.random.default_rng(seed)
    bore = bore_of(X, spoiled(rng, X, shape(rng)))
    found = gauged(bore, rng)
    return bore, fit_bore(found, design=DESIGN), fit_bore(found)


def longer(x) -> np.ndarray:
    """The design's diameter, its cup carried on above the top."""
    slope = (DESIGN.diameter_mm(2.0) - DESIGN.diameter_mm(0.0)) / 2.0
    return DESIGN.diameter_mm(np.maximum(x, 0.0)) + slope * np.minimum(x, 0.0)


def cup_deeper(by_mm: float) -> np.ndarray:
    """The design's cone, and its cup driven in farther than was meant."""
    throat = DESIGN.throat_mm[0]
    return np.where(throat - X > 0.0, np.maximum(DESIGN.diameter_mm(X), longer(X - by_mm)), DESIGN.diameter_mm(X))


def test_a_few_bores_of_a_known_design():
    recovered([meant(seed, True) for seed in range(6000, 6000 + FEW // 2)])


@pytest.mark.long
def test_two_hundred_bores_of_a_known_design():
    """One, 3088, is off by 0.037 mm: waves left a wide pocket in the long throat of the design, where no gauge feels
    it.  Without the design that bore is off by 0.045 mm."""
    cases = [meant(seed, True) for seed in range(3000, 3000 + MANY)]
    recovered(cases, 0.995)
    assert np.mean([fit.follows for *_, fit in cases]) > 0.98


def test_the_design_helps_at_the_throat():
    """Between the deepest stops the fit of 8 bores is nearer when it knows the design, and as sure as it is near."""
    x = np.arange(20.0, 65.0)
    error, band = np.empty((2, 8)), np.empty((2, 8))
    for i in range(8):
        for known in (False, True):
            bore, _, fit = meant(6000 + i, known)
            error[int(known), i] = rms(fit.bore.diameter_mm(x) - bore.diameter_mm(x))
            band[int(known), i] = rms(np.interp(x, fit.at_mm, fit.sigma_mm))
    assert rms(error[1]) < 0.95 * rms(error[0])
    assert rms(band[1]) < rms(band[0])
    assert 0.6 < rms(error[1]) / rms(band[1]) < 1.5


# Another bore than the design


@pytest.mark.parametrize("seed", range(8000, 8003))
def test_a_bore_of_another_design_is_fitted_as_if_there_were_none(seed):
    _, knowing, without = beside(lambda rng: cup_and_cone(rng, X), seed)
    assert knowing.follows is False
    assert STRAYS in str(knowing)
    np.testing.assert_array_equal(knowing.drawn_mm, without.drawn_mm)


WRONG = {
    "2.5 mm too deep, 0.15 mm over size": lambda rng: longer(X - 2.5) + 0.15,
    "2.5 mm too shallow, 0.15 mm under size": lambda rng: longer(X + 2.5) - 0.15,
    "cup 1.5 mm too deep": lambda rng: cup_deeper(1.5),
    "too steep by 0.2 mm": lambda rng: DESIGN.diameter_mm(X) + 0.2 * X / X[-1],
    "bulged by 0.4 mm": lambda rng: DESIGN.diameter_mm(X) + 0.4 * np.sin(np.pi * np.clip((X - 150) / 110, 0, 1)),
    "throat opened by 0.25 mm": lambda rng: DESIGN.diameter_mm(X) + 0.25 * np.sin(np.pi * np.clip((X - 15) / 80, 0, 1)),
}


@pytest.mark.parametrize("wrong", WRONG)
def test_a_reamer_gone_wrong_does_no_harm(wrong):
    """Of three such bores the band covers nine places in ten, and the fit is not worse than without the design."""
    cases = [beside(WRONG[wrong], seed) for seed in range(8010, 8013)]
    assert np.mean([inside(bore, knowing).mean() for bore, knowing, _ in cases]) > 0.9
    knowing, without = (rms([rms(off(bore, fits[i])) for bore, *fits in cases]) for i in (0, 1))
    assert knowing < min(BAR_RMS_MM, 1.1 * without)


def test_only_the_cup_bends_away_from_its_design():
    """Integrated Brownian motion upwards from the throat, whose variance at a height h is h³/3; nothing below."""
    throat, heights = DESIGN.throat_mm[0], np.array([5.0, 10.0, 20.0])
    process = Process(np.arange(0.0, 361.5), throat, USUAL_ABOUT, DESIGN)
    cup = process.parts(throat - heights, np.zeros(3))["cup"]
    np.testing.assert_allclose(np.sum(cup**2, axis=1), heights**3 / 3.0, rtol=0.01)
    assert not process.parts([throat, 150.0], np.zeros(2))["cup"].any()


# Gauge logic


def test_no_draw_keeps_a_gauge_out():
    """In 19 draws of 20 every gauge goes in to where it stopped, but for three errors of gauge and depth."""
    for seed in range(6000, 6003):
        _, found, fit = meant(seed, True)
        for drawn in fit.drawn_mm[::40]:
            bore = bore_of(fit.at_mm, drawn)
            short = []
            for r in found.readings:
                depth = stop_mm(bore, r.gauge_mm - 0.04 - 3.0 * fit.rough_mm, r.end)
                short.append(depth is not None and depth < r.depth_mm - 2.0)
            assert np.mean(short) < 0.05
        assert fit.drawn_mm.min() >= max(r.gauge_mm for r in found.through)


def test_a_bore_that_keeps_gauges_out_is_unlikely():
    """0.03 mm narrower than the gauge that has been farther in costs 4.5 when a gauge gives 0.01 mm; a pocket none."""
    _, found, fit = meant(6001, False)
    gate = _gate(found, evidence(found, Gauging()), "round", fit.at_mm, 0.5, 0.01)
    outside = next(r for r in found.readings if r.gauge_mm == 10.0)
    wide = np.maximum(fit.size_mm, np.interp(fit.at_mm, *_reached(found)))
    there = (fit.at_mm >= outside.distance_mm + 3.0) & (fit.at_mm < outside.distance_mm + 4.5)
    tight = np.where(there, 10.0 - 0.03, wide)
    pocket = np.where(there, wide + 0.5, wide)
    costs = gate(np.array([wide, tight, pocket]))
    assert costs[0] == costs[2] < 1.0
    assert costs[1] - costs[0] == pytest.approx(4.5, abs=1.5)


def _reached(found):
    """Places and sizes wide enough for every reading."""
    rows = sorted((r.distance_mm, r.gauge_mm + 0.02) for r in found.readings)
    return np.array(rows).T


def test_round_and_oval_with_a_design():
    rng = np.random.default_rng(9)
    narrow = spoiled(rng, X, DESIGN.diameter_mm(X))
    found = gauged(bore_of(X, narrow), rng, wide=bore_of(X, narrow + 0.08))
    fit = fit_bore(found, design=DESIGN)
    assert fit.follows
    assert FOLLOWS in str(fit)
    assert fit.ovality_mm == pytest.approx(0.08, abs=0.015)
    assert rms(fit.bore.diameter_mm(X) - np.sqrt(narrow * (narrow + 0.08))) < BAR_RMS_MM


# Refused


def test_a_design_of_another_length_is_refused():
    _, found, _ = meant(6000, False)
    with pytest.raises(Refusal) as refused:
        fit_bore(found, design=Bore([(0.0, 5.0), (350.0, 12.0)]))
    assert_one_sentence(refused.value, "design: the bore is 361 mm long")
    with pytest.raises(Refusal):
        fit_bore(found, design="sallow-ford-1.toml")


# What would tell it better


def regauged(bore: Bore, found, sizes, rng):
    """The table with more gauges, pushed in from both ends."""
    more = []
    for size in sizes:
        for end in ("foot", "top"):
            depth = stop_mm(bore, size + 0.01 * rng.normal(), end)
            assert depth is not None
            depth = np.round(2.0 * max(depth + 0.5 * rng.normal(), 0.0)) / 2.0
            at = depth if end == "top" else bore.length_mm - depth
            more.append(Reading(500 + len(more), size, depth, end, "round", at, (f"{size:g}", f"{depth:g}")))
    return replace(found, readings=(*found.readings, *more))


def test_the_gauges_asked_for_help_as_foretold():
    """7150: a pocket behind a second throat.  With the gauges asked for the least known note is as sure as was said."""
    bore, found, fit = meant(7150, True)
    better = gauged_chart(bench(), fit).better
    assert better.within_cents > 3.0 >= better.then_cents[-1]
    assert 15.0 < better.from_mm < better.to_mm < 90.0
    used = [r.gauge_mm for r in found.readings]
    assert all(min(abs(size - g) for g in used) > 0.04 for size in better.gauges_mm)
    sizes, told = regauged(bore, found, better.gauges_mm, np.random.default_rng(1)), better.then_cents[-1]
    then = 1.96 * gauged_chart(bench(), fit_bore(sizes, design=DESIGN)).sigma_cents.max()
    assert then < better.within_cents
    assert then == pytest.approx(told, rel=0.35)
    assert f"±{better.within_cents:.1f} cents" in str(better)
    assert f"{better.gauges_mm[0]:.2f}" in better._repr_html_()


def test_a_chart_that_is_known_asks_for_nothing():
    _, _, fit = meant(7001, True)
    better = gauged_chart(bench(), fit).better
    assert better.within_cents < 3.0
    assert better.gauges_mm == ()
    assert "well enough known" in str(better)


def test_the_stretch_named_is_the_one_that_counts():
    """With the bore known outside the stretch, nearly nothing of the note's variance is gone; within it, its share."""
    _, _, fit = meant(7150, True)
    found = gauged_chart(bench(), fit)
    better = found.better
    there = (fit.at_mm >= better.from_mm) & (fit.at_mm <= better.to_mm)
    known = replace(fit, drawn_mm=np.where(there, fit.drawn_mm, fit.size_mm))
    row = int(np.argmax(found.sigma_cents))
    left = gauged_chart(bench(), known).covariance[row, row] / found.covariance[row, row]
    assert found.setup.chart.rows[row].title == better.note
    assert 0.5 < left < 1.3
    elsewhere = replace(fit, drawn_mm=np.where(there, fit.size_mm, fit.drawn_mm))
    rest = gauged_chart(bench(), elsewhere).covariance[row, row] / found.covariance[row, row]
    assert rest < 0.5 * left
