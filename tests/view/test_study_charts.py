"""Pictures of the design study and of trust: what is drawn is what was given, and the words say the same numbers."""

import csv

import numpy as np
import pytest
from matplotlib.colors import to_hex

from acoustics.physics.rivals import Rival
from acoustics.tuning.sensitivity import Sensitivity
from acoustics.tuning.tolerance import Spread
from acoustics.tuning.uncertainty import ModelSpread
from acoustics.view import evidence_table, model_table, plot_models, plot_moves, plot_spread
from acoustics.view.picture import ASIDE, FIRST, SECOND, notes_along
from tests.tuning.bench import bench

TITLES = ("D, first octave", "A, first octave", "D, second octave", "A, second octave", "back D, first octave")


def test_notes_along_an_axis():
    """Each note once in the order met; octaves left and right of it."""
    names, places = notes_along(TITLES)
    assert names == ["D", "A", "back D"]
    np.testing.assert_allclose(places, np.array([0, 1, 0, 1, 2]) + ASIDE * np.array([-1, -1, 1, 1, -1]))


def test_moves():
    """Cents for a tenth of a millimetre and for 10 Hz; the first octave left of the line, no sign on a zero."""
    matrix = np.array([[10.0, -0.2], [20.0, 0.1], [-30.0, 4.0], [np.nan, np.nan], [1.0, -7.0]])
    sensitivity = Sensitivity(TITLES, ("A size", "blades' own note"), ("mm", "10 Hz"), matrix)
    picture = plot_moves(sensitivity, ["A size", "blades' own note"])
    (axis,) = picture.figure.axes
    order = [0, 1, 4, 2, 3]
    shown = np.array([matrix[order, 0] * 0.1, matrix[order, 1]])
    np.testing.assert_allclose(axis.images[0].get_array().filled(np.nan), shown)
    written = {tuple(text.get_position()): text.get_text() for text in axis.texts}
    assert written[(0, 0)] == "1.0"
    assert written[(4, 0)] == ""
    assert axis.lines[0].get_xdata()[0] == 2.5
    assert [text.get_text() for text in axis.get_yticklabels()] == ["A size  +0.1 mm", "blades' own note  +10 Hz"]
    assert picture.words.splitlines()[1].split()[-5:] == ["1.0", "2.0", "0.1", "-3.0", "nan"]
    faint = plot_moves(Sensitivity(TITLES, ("A size",), ("mm",), matrix[:, :1] * 1e-3), ["A size"])
    assert "-0.0" not in {text.get_text() for text in faint.figure.axes[0].texts}
    assert "-0.0" not in faint.words


def test_spread():
    """Bars over nine in ten of the draws, of which numpy's percentiles are the ends."""
    drawn = np.random.default_rng(0).normal(0.0, 3.0, (200, len(TITLES)))
    none = np.zeros(len(TITLES))
    picture = plot_spread(Spread(TITLES, drawn, drawn.std(axis=0), none, none[None], ("bore",), 0))
    (axis,) = picture.figure.axes
    bars = [line for line in axis.lines if line.get_linewidth() == 3.0 and len(line.get_xdata())]
    low, middle, high = np.percentile(drawn, (5, 50, 95), axis=0)
    np.testing.assert_allclose([bar.get_ydata() for bar in bars], np.stack([low, high], axis=1))
    assert [to_hex(bar.get_color()) for bar in bars] == [FIRST, FIRST, SECOND, SECOND, FIRST]
    for i, line in enumerate(picture.words.splitlines()[1:]):
        said = line.removeprefix(TITLES[i]).replace(" to ", " ").split()
        assert [float(number) for number in said] == pytest.approx(
            [middle[i], low[i], high[i], drawn[:, i].std()], abs=0.0501
        )


@pytest.fixture(scope="module")
def spread():
    chart = bench().chart
    rivals = [Rival(f"rival {i}", "invented", lambda column: column, credible=i < 8) for i in range(9)]
    cents = chart.cents + np.arange(-4.0, 5.0)[:, None]
    cents[:, -1] = np.nan
    return ModelSpread(chart, tuple(rivals), cents)


def test_models(spread):
    """A bar from the lowest to the highest credible rival, 0 inside it; every credible rival has its own mark."""
    picture = plot_models(spread)
    (axis,) = picture.figure.axes
    ends = [path for bars in axis.collections for path in bars.get_segments()]
    heights = np.array([segment[:, 1] for segment in ends])
    assert len(heights) == len(spread.notes)
    np.testing.assert_allclose(heights[:-1], np.tile([-4.0, 3.0], (len(heights) - 1, 1)))
    named = [text.get_text() for text in axis.get_legend().get_texts()]
    assert named[:8] == [f"rival {i}" for i in range(8)]
    marks = [line.get_marker() for line in axis.lines if line.get_label().startswith("rival")]
    assert len(set(marks)) == 8


def test_table_of_models(spread):
    table = model_table(spread)
    assert table.headings[1:] == (*(f"rival {i}" for i in range(9)), "model uncertainty")
    assert table.rows[0][-1] == "4.0"
    assert table.rows[-1][-1] == "not known"
    assert table.rows[0][1:10] == pytest.approx(tuple(np.arange(-4.0, 5.0)))


def test_evidence(tmp_path):
    path = tmp_path / "evidence.csv"
    row = {
        "element": "a bend",
        "model": "two, joined",
        "source": "Somebody 1950",
        "valid range": "0 to 1",
        "compared with": "a field",
        "error found": "0.1",
        "unit": "%",
        "bar": "0.2",
    }
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, row)
        writer.writeheader()
        writer.writerow(row)
    said = ("a bend", "two, joined", "Somebody 1950", "0 to 1", "a field", "0.1 %", "0.2")
    assert evidence_table(path).rows == (said,)
