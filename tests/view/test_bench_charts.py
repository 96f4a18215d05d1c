"""Pictures from the bench: what they show is what the fit and the plan say."""

from dataclasses import replace

import numpy as np
import pytest

from acoustics.bench.actions import what_to_change
from acoustics.bench.reed_fit import fit_reed
from acoustics.tuning.dials import DIALS
from acoustics.tuning.free import turned
from acoustics.view.bench_charts import plot_change, plot_reed_fit
from tests.bench.simulated import FOURTEEN, read
from tests.tuning.bench import bench


@pytest.fixture(scope="module")
def readings():
    truth = turned(bench(), {DIALS["insertion"]: 17.0})
    return read(truth, 1.0, np.random.default_rng(0), FOURTEEN)


def drawn(axis, marker):
    """All marks of one kind on an axis, as (place, cents) pairs."""
    found = [line.get_xydata() for line in axis.lines if line.get_marker() == marker]
    return np.concatenate([xy for xy in found if len(xy)])


def test_reed_fit(readings):
    fit = fit_reed(bench(), readings)
    picture = plot_reed_fit(fit)
    above, below = picture.figure.axes
    first = [i for i, row in enumerate(fit.rows) if row < 12]
    read_cents = np.array([r.cents for r in readings.rows])
    np.testing.assert_allclose(drawn(above, "o")[:, 1], read_cents[first])
    np.testing.assert_allclose(drawn(below, "o")[:, 1], fit.residuals[first])
    bars = np.concatenate([line.get_ydata() for line in above.lines[:2]])
    np.testing.assert_allclose(np.sort(bars), np.sort(fit.cents), atol=1e-9)
    lines = picture.words.splitlines()
    assert len(lines) == 1 + len(readings.rows)
    assert lines[1].split()[-5:-3] == [f"{readings.rows[0].cents:+.1f}", "1.0"]
    assert lines[1].split()[-1] == f"{fit.allowed[0]:.1f}"
    assert picture.png()[:4] == b"\x89PNG"


def test_change(readings):
    plan = what_to_change(bench(), readings)
    picture = plot_change(plan, 1)
    (axis,) = picture.figure.axes
    registers = np.array([row.fingering.register for row in plan.diagnosis.setup.chart.rows])
    second = drawn(axis, "s")[:, 1]
    expected = np.concatenate([plan.before[registers == 2], plan.suggestions[0].after[registers == 2]])
    np.testing.assert_allclose(np.sort(second), np.sort(expected))
    assert picture.words.splitlines()[0] == plan.suggestions[0].said
    assert "Draw the staple out" in picture.words
    assert len(picture.words.splitlines()) == 2 + 26
    assert "-0.0" not in picture.words.replace("-0.0 mm", "")


def test_a_note_that_nobody_read_is_hollow(readings):
    """Two marks of each note, before and after: of fourteen notes filled, of twelve hollow, and the words say which."""
    plan = what_to_change(bench(), readings)
    picture = plot_change(plan)
    (axis,) = picture.figure.axes
    marks = [line for line in axis.lines if line.get_marker() in "os" and len(line.get_xydata())]
    assert sum(line.get_markerfacecolor() == "white" for line in marks) == 2 * (26 - len(readings.rows))
    assert len(marks) == 2 * 26
    said = picture.words.splitlines()[2:]
    titles = {reading.title for reading in readings.rows}
    assert [line.endswith("no clear reading") for line in said] == [line[:24].strip() not in titles for line in said]
    assert any("hollow" in text.get_text() for text in axis.get_legend().get_texts())


def test_a_note_that_does_not_sound_is_said_and_not_drawn(readings):
    plan = what_to_change(bench(), readings)
    silent = replace(plan.suggestions[0], after=np.where(np.arange(26) == 5, np.nan, plan.suggestions[0].after))
    picture = plot_change(replace(plan, suggestions=(silent,)))
    marks = [line for line in picture.figure.axes[0].lines if line.get_marker() in "os" and len(line.get_xdata())]
    assert len(marks) == 2 * 25
    assert picture.words.splitlines()[2 + 5].split()[-1] == "none"
