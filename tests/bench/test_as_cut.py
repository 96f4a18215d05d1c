"""As cut beside the design: what is certain is so, what was planted is found, and the sentences carry the numbers."""

import re
import warnings
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from matplotlib.collections import PolyCollection

from acoustics.bench.as_cut import FINE, OVER, PERHAPS_OVER, PERHAPS_REAM, REAM, UNKNOWN, AsCut, as_cut
from acoustics.bench.bore_chart import gauged_chart
from acoustics.bench.bore_fit import fit_bore
from acoustics.errors import Refusal
from acoustics.pipes.bore import Bore
from acoustics.pipes.bore_file import UnmeasuredBore, read_bore_csv, read_gauges
from acoustics.pipes.design_file import read_design
from acoustics.tuning.perturbation import bore_sensitivity
from acoustics.view.bench_bore import plot_as_cut
from tests.bench import make_demo
from tests.bench.gauging import bore_of, fade, fine, gauged, waves
from tests.pipes.sample import assert_one_sentence
from tests.tuning.bench import DESIGNS, bench, demo

DESIGN = demo().bore
MEANT = read_design(DESIGNS / "sallow-ford-1.toml").bore
TOLERANCE_MM = 0.03


@cache
def stored() -> AsCut:
    """The workshop's new chanter."""
    return as_cut(fit_bore(read_gauges(make_demo.STORED)), MEANT)


@cache
def cut(seed: int, off_mm: float) -> AsCut:
    """A bore that is the design but for small waves and a stretch from 200 to 260 mm that is off by so much."""
    rng, x = np.random.default_rng(seed), fine(DESIGN.length_mm)
    d = DESIGN.diameter_mm(x) + waves(rng, x, 150.0, 30.0, 0.005, 4) + off_mm * fade(x, 205.0, 255.0, 10.0)
    return as_cut(fit_bore(gauged(bore_of(x, d), rng)), DESIGN, TOLERANCE_MM)


def inner(found: AsCut) -> list[str]:
    """Verdicts of the stretches wholly inside 210 to 250 mm, and near them."""
    return [s.verdict for s in found.stretches if s.from_mm < 250.0 and s.to_mm > 210.0]


@pytest.mark.parametrize(("off", "verdict"), [(0.08, OVER), (-0.08, REAM)])
def test_what_was_planted_is_found(off, verdict):
    for seed in range(5):
        assert inner(cut(seed, off)) == [verdict] * 3


def test_a_good_bore_is_left_alone():
    """Nothing is certain in a bore that is its design to 0.005 mm: of 10 bores at most one has any such stretch."""
    wrong = [seed for seed in range(10) if {OVER, REAM} & {s.verdict for s in cut(seed, 0.0).stretches}]
    assert len(wrong) <= 1
    good = [s.verdict for seed in range(10) for s in cut(seed, 0.0).stretches]
    assert good.count(FINE) > 0.8 * len(good)


def test_what_is_safe_to_ream_stays_inside_the_design():
    """In truth no stretch that may be reamed has less wood left than is said to be safe; some is nearly that."""
    x = fine(DESIGN.length_mm)
    for seed in range(5):
        found = cut(seed, -0.08)
        rng = np.random.default_rng(seed)
        left = -(waves(rng, x, 150.0, 30.0, 0.005, 4) - 0.08 * fade(x, 205.0, 255.0, 10.0))
        for s in found.stretches:
            if s.verdict == REAM:
                true = left[(x >= s.from_mm) & (x <= s.to_mm)].mean()
                assert 0.0 < s.take_mm < true
                assert s.take_mm > true - 0.06


def test_the_numbers_hang_together():
    found = stored()
    assert found.stretches[0].from_mm == 0.0
    assert found.stretches[-1].to_mm == DESIGN.length_mm
    for one, next_one in zip(found.stretches, found.stretches[1:], strict=False):
        assert one.to_mm == next_one.from_mm
    for s in found.stretches:
        inside = (found.fit.at_mm >= s.from_mm) & (found.fit.at_mm <= s.to_mm)
        assert s.cut_mm == pytest.approx(found.fit.size_mm[inside].mean(), abs=1e-9)
        assert s.sure_mm > 2.9 * s.sigma_mm
        assert (s.verdict in (OVER, PERHAPS_OVER)) <= (s.off_mm > found.tolerance_mm)
        assert (s.verdict in (REAM, PERHAPS_REAM)) <= (s.off_mm < -found.tolerance_mm)
        assert (s.verdict == FINE) <= (abs(s.off_mm) <= found.tolerance_mm)


def test_the_stored_table_is_the_workshop_s():
    """Made by the generator, read by both readers, and what was planted in its truth is what is said of it."""
    assert make_demo.STORED.read_text(encoding="utf-8") == make_demo.text()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UnmeasuredBore)
        read_bore_csv(make_demo.STORED)
    found, truth = stored(), make_demo.truth()
    x = fine(truth.length_mm)
    assert np.sqrt(np.mean((found.fit.bore.diameter_mm(x) - truth.diameter_mm(x)) ** 2)) < 0.03
    by = {(s.from_mm + s.to_mm) / 2.0: s for s in found.stretches}
    for at, s in by.items():
        if make_demo.OVER_FROM < at < make_demo.OVER_TO:
            assert s.verdict == OVER
            assert s.off_mm == pytest.approx(make_demo.OVER_MM, abs=0.03)
        if make_demo.LEFT_FROM < at < make_demo.LEFT_TO - 20.0:
            assert s.verdict == REAM
    assert "Over size already: from 140 to 201 mm by up to 0.08 mm" in found.said
    assert "cannot be put back" in found.said
    assert "Under size: from 281 to 321 mm" in found.said
    assert "<td>281</td><td>301</td>" in found._repr_html_()
    assert found.said in found._repr_html_()


def test_nothing_certain_is_said_so():
    said = replace(stored(), stretches=tuple(replace(s, verdict=FINE) for s in stored().stretches)).said
    assert said == "Nowhere is it certain that the bore is off its design."
    said = replace(stored(), stretches=tuple(replace(s, verdict=UNKNOWN) for s in stored().stretches)).said
    assert "cannot tell for certain from 0 to 361 mm" in said


def test_another_length_is_refused():
    with pytest.raises(Refusal) as refused:
        as_cut(stored().fit, Bore([(0.0, 5.0), (350.0, 12.0)]))
    assert_one_sentence(refused.value, "design: the bore is 361 mm long")
    with pytest.raises(Refusal):
        as_cut(stored().fit, DESIGN, tolerance_mm=0.0)


# What it does to the chart


def test_the_chart_of_a_gauged_bore():
    """In full for the fitted bore; its spread is that of the draws followed by hand."""
    setup, fit = bench(), stored().fit
    found = gauged_chart(setup, fit)
    by_hand = replace(setup, base=replace(demo(), bore=fit.bore))
    np.testing.assert_array_equal(found.cents, by_hand.chart.cents)
    np.testing.assert_array_equal(found.design_cents, setup.chart.cents)
    sensitivity = bore_sensitivity(by_hand)
    moved = [sensitivity.shift(lambda x, d=d: np.interp(x, fit.at_mm, d - fit.size_mm)) for d in fit.drawn_mm]
    np.testing.assert_allclose(np.std(moved, axis=0), found.sigma_cents, rtol=1e-9)
    assert f"{np.abs(found.moved_cents).max():.1f} cents" in found.said
    assert found.setup.chart.rows[int(np.abs(found.moved_cents).argmax())].title in found.said


def test_first_order_spread_is_that_of_full_charts():
    """Eight of the draws charted in full move as the derivatives say, to 0.15 cents and a tenth of the move."""
    setup, fit = bench(), stored().fit
    found = gauged_chart(setup, fit)
    sensitivity = bore_sensitivity(found.setup)
    for drawn in fit.drawn_mm[:8]:
        bore = Bore(tuple(zip(fit.at_mm.tolist(), drawn.tolist(), strict=True)))
        full = replace(setup, base=replace(demo(), bore=bore)).chart.cents - found.cents
        first = sensitivity.shift(lambda x, d=drawn: np.interp(x, fit.at_mm, d - fit.size_mm))
        np.testing.assert_allclose(first, full, rtol=0.1, atol=0.15)


def test_the_chart_shows_itself():
    found = gauged_chart(bench(), stored().fit)
    html = found._repr_html_()
    for row, cents in zip(found.setup.chart.rows, found.cents, strict=True):
        line = next(line for line in repr(found).splitlines() if line.startswith(row.title))
        assert float(re.findall(r"[+-]?\d+\.\d", line)[1]) == pytest.approx(cents, abs=0.051)
        assert row.title in html
    assert "-0.0<" not in html


# The picture


def test_the_picture_draws_the_fit():
    found = stored()
    picture = plot_as_cut(found)
    (axis,) = picture.figure.axes
    line = next(line for line in axis.lines if line.get_label() == "as cut, fitted")
    np.testing.assert_array_equal(line.get_ydata(), found.fit.size_mm - MEANT.diameter_mm(found.fit.at_mm))
    dots = sum(len(line.get_xdata()) for line in axis.lines if str(line.get_label()).startswith("gauge"))
    assert dots == len(found.fit.gauged.readings)
    bands = [c for c in axis.collections if isinstance(c, PolyCollection)]
    assert len(bands) == 2 + sum(s.verdict in (OVER, REAM) for s in found.stretches)
    assert picture.words == f"{found.said}\n{found}"
    assert picture.png() == plot_as_cut(found).png()


def test_what_was_left_out_is_crossed():
    readings = read_gauges(make_demo.STORED)
    i = next(i for i, r in enumerate(readings.readings) if r.gauge_mm == 9.0)
    wrong = readings.readings[i]
    moved = replace(wrong, depth_mm=wrong.depth_mm + 20.0, distance_mm=wrong.distance_mm - 20.0)
    changed = replace(readings, readings=(*readings.readings[:i], moved, *readings.readings[i + 1 :]))
    picture = plot_as_cut(as_cut(fit_bore(changed), DESIGN))
    cross = next(line for line in picture.figure.axes[0].lines if line.get_label() == "left out")
    assert cross.get_xdata() == pytest.approx([moved.distance_mm])
    low, high = picture.figure.axes[0].get_ylim()
    assert low < cross.get_ydata()[0] < high


def test_the_good_table_is_the_workshop_s():
    assert make_demo.GOOD.read_text(encoding="utf-8") == make_demo.good_text()


def _table(path, rows):
    lines = ["# form: bore measurement", "# version: 1", "# unit: mm", "# length: 361", "gauge,depth,from"]
    path.write_text(
        "\n".join([*lines, *(f"{r.gauge_mm:g},{depth:g},{end}" for r, depth, end in rows), "5.3,through,foot\n"])
    )
    return fit_bore(read_gauges(path))


def test_ends_exchanged_are_refused(tmp_path):
    """Every top said to be a foot: no table of where to ream."""
    other = {"top": "foot", "foot": "top"}
    rows = [(r, r.depth_mm, other[r.end]) for r in read_gauges(make_demo.STORED).readings]
    with pytest.raises(Refusal) as refused:
        as_cut(_table(tmp_path / "turned.csv", rows), MEANT)
    assert_one_sentence(refused.value, "gauges: the bore lies")


def test_depths_in_another_unit_are_spoken_of(tmp_path):
    rows = [(r, round(r.depth_mm / 25.4, 2), r.end) for r in read_gauges(make_demo.STORED).readings]
    said = as_cut(_table(tmp_path / "inch.csv", rows), MEANT).said
    assert said.startswith("Mind: from 1 to 349 mm no gauge stopped")
