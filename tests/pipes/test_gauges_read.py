"""Gauge tables as they were read: every row kept, either end, round and oval, inches, gauges that go through."""

import pytest

from acoustics.errors import Refusal
from acoustics.pipes.bore_file import UnmeasuredBore, read_bore_measurement, read_gauges

from .broken_bores import BORES, GAUGE, HEAD, PLAIN
from .sample import assert_one_sentence

ROWS = "5.4,20,top,round\n5.2,326,foot,round\n5.3,320,foot,oval\n12,30,foot,round\n5.1,Through,foot,round\n"


@pytest.fixture(autouse=True)
def _here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)


def read(tmp_path, text):
    (tmp_path / "b.csv").write_text(text, encoding="utf-8")
    return read_gauges("b.csv")


def test_every_row_is_kept(tmp_path):
    found = read(tmp_path, HEAD + "gauge,depth,from,probe\n" + ROWS)
    assert found.length_mm == 356.0
    assert [(r.gauge_mm, r.distance_mm, r.end, r.probe, r.line) for r in found.readings] == [
        (5.4, 20.0, "top", "round", 6),
        (5.2, 30.0, "foot", "round", 7),
        (5.3, 36.0, "foot", "oval", 8),
        (12.0, 326.0, "foot", "round", 9),
    ]
    assert [(r.gauge_mm, r.said) for r in found.through] == [(5.1, ("5.1", "Through"))]


def test_inches(tmp_path):
    text = (HEAD + "gauge,depth,from\n0.25,1,top\n0.5,2,foot\n").replace("mm", "inch").replace("356", "14")
    found = read(tmp_path, text)
    assert [(r.gauge_mm, r.depth_mm, r.distance_mm) for r in found.readings] == [
        pytest.approx((6.35, 25.4, 25.4)),
        pytest.approx((12.7, 50.8, 12 * 25.4)),
    ]


def test_readings_that_disagree_a_little_are_left_to_the_fit(tmp_path):
    """The plain reader refuses a smaller gauge that goes in less; here both rows are kept."""
    rows = "12,30,foot,round\n11.9,29.5,foot,round\n"
    assert len(read(tmp_path, HEAD + "gauge,depth,from,probe\n" + rows).readings) == 2
    with pytest.raises(Refusal, match="farther"):
        read_bore_measurement("b.csv")


def test_a_gauge_that_goes_through_does_not_change_the_plain_bore(tmp_path):
    found = []
    for text in (GAUGE, GAUGE + "5.1,through,foot,round\n"):
        (tmp_path / "b.csv").write_text(text, encoding="utf-8")
        with pytest.warns(UnmeasuredBore):
            found.append(read_bore_measurement("b.csv"))
    assert found[0] == found[1]


REFUSED = {
    "through but bigger": (
        GAUGE + "5.3,through,foot,round\n",
        "b.csv, line 9, column gauge: the gauge 5.3 goes through",
    ),
    "only through": (HEAD + "gauge,depth,from\n5,through,foot\n", "b.csv, columns: no gauge stopped"),
    "no gauges at all": (PLAIN, "b.csv, columns: the columns are distance,diameter"),
    "nothing below": (HEAD + "gauge,depth,from\n", "b.csv, columns: no row stands in the table"),
}


@pytest.mark.parametrize(("text", "start"), REFUSED.values(), ids=REFUSED)
def test_refused(tmp_path, text, start):
    with pytest.raises(Refusal) as refused:
        read(tmp_path, text)
    assert_one_sentence(refused.value, start)


@pytest.mark.parametrize("name", ["right through", "depth a word", "decimal comma", "unknown unit", "no form"])
def test_broken_tables_are_refused_as_the_plain_reader_does(tmp_path, name):
    text, start, _ = BORES[name]
    with pytest.raises(Refusal) as refused:
        read(tmp_path, text)
    assert_one_sentence(refused.value, start)
