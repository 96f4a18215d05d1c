"""Bore measurements: exact round trip, units, oval bores, gauges from either end."""

import os
import warnings
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acoustics.errors import Refusal
from acoustics.pipes.bore import Bore
from acoustics.pipes.bore_file import UnmeasuredBore, read_bore_csv, read_bore_measurement, write_bore_csv

from .sample import assert_one_sentence, sample_chanter
from .strategies import bores, floats

HEADER = "# form: bore measurement\n# version: 1\n# unit: {unit}\n# length: {length}\n"


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("bores")


def measured(folder, rows, unit="mm", length="356"):
    """What is read from these rows; says nothing about stretches without a reading."""
    path = folder / "bore.csv"
    path.write_text(HEADER.format(unit=unit, length=length) + rows, encoding="utf-8")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UnmeasuredBore)
        return read_bore_measurement(path)


@settings(max_examples=200, deadline=None)
@given(bore=bores())
def test_any_bore_comes_back_exactly(folder, bore):
    write_bore_csv(bore, folder / "any.csv", overwrite=True)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert read_bore_csv(folder / "any.csv") == bore


def test_a_step_is_kept(tmp_path):
    bore = measured(tmp_path, "distance,diameter\n0,6\n50,5.5\n50,5.2\n356,12.9\n").bore
    assert bore == Bore([(0, 6), (50, 5.5), (50, 5.2), (356, 12.9)])


def test_inches_are_25_4_mm(tmp_path):
    found = measured(tmp_path, "distance,diameter\n0,0.25\n10,0.375\n14,0.5\n", "inch", "14").bore
    assert found == Bore([(0.0, 0.25 * 25.4), (10 * 25.4, 0.375 * 25.4), (14 * 25.4, 0.5 * 25.4)])


@pytest.mark.parametrize(
    "change",
    [
        lambda text: text.replace("\n", "\r\n"),
        lambda text: text.replace("\n", "\r"),
        lambda text: "\ufeff" + text,
        lambda text: text.replace("distance,diameter", "Distance , Diameter"),
        lambda text: text.replace(",", " , "),
        lambda text: text.replace("\n", "\n\n"),
        lambda text: text + ",,\n,\n",
        lambda text: text.replace("mm\n", "mm,,\n"),
        lambda text: "# measured by: nobody, in an invented workshop\n# a remark\n" + text,
        lambda text: text.replace("5.2\n", '"5.2"\n'),
        lambda text: text.replace("# unit: mm", "#Unit:MM"),
        lambda text: text.rstrip("\n"),
        lambda text: text.replace("5.2", "0.52e1").replace("30", "+30."),
    ],
)
def test_ways_of_writing_the_same_table(tmp_path, change):
    text = HEADER.format(unit="mm", length=356) + "distance,diameter\n0,6\n30,5.2\n356,12.9\n"
    assert change(text) != text
    (tmp_path / "same.csv").write_bytes(change(text).encode())
    assert read_bore_csv(tmp_path / "same.csv") == Bore([(0, 6), (30, 5.2), (356, 12.9)])


def test_ends_are_carried_on_and_the_reader_is_told(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    rows = "distance,diameter\n12,5.5\n30,5.2\n350,12.8\n"
    (tmp_path / "short.csv").write_text(HEADER.format(unit="mm", length=356) + rows, encoding="utf-8")
    with pytest.warns(UnmeasuredBore) as caught:
        bore = read_bore_csv("short.csv")
    assert bore == Bore([(0, 5.5), (12, 5.5), (30, 5.2), (350, 12.8), (356, 12.8)])
    assert len(caught) == 1
    assert str(caught[0].message) == (
        "short.csv: there is no reading between 0 and 12 mm, between 350 and 356 mm; "
        "straight lines from the nearest readings stand there."
    )
    assert caught[0].filename == __file__


@given(
    rows=st.lists(st.tuples(floats(0.5, 100.0), floats(1.0, 1.2)), min_size=2, max_size=8),
)
@settings(max_examples=60, deadline=None)
def test_an_oval_bore_becomes_the_round_one_of_the_same_area(folder, rows):
    lines = [f"{i * 356 / (len(rows) - 1)!r},{narrow!r},{narrow * ratio!r}" for i, (narrow, ratio) in enumerate(rows)]
    found = measured(folder, "distance,narrow,wide\n" + "\n".join(lines) + "\n")
    for (_, round_mm), (narrow, ratio) in zip(found.bore.stations_mm, rows, strict=True):
        oval_area = np.pi / 4.0 * narrow * (narrow * ratio)
        assert np.pi / 4.0 * round_mm**2 == pytest.approx(oval_area, rel=1e-14)
        assert narrow * (1 - 1e-15) <= round_mm <= narrow * ratio * (1 + 1e-15)


def test_a_round_bore_measured_both_ways_is_exact(tmp_path):
    found = measured(tmp_path, "distance,narrow,wide\n0,5.3,5.3\n356,12.9,12.9\n")
    assert found.bore == Bore([(0, 5.3), (356, 12.9)])
    assert found.narrow_mm == found.wide_mm == found.bore.stations_mm


def stops_at(bore: Bore, gauge_mm: float, end: str) -> float | None:
    """How deep a gauge goes: walk in from the end to the first place narrower than it."""
    stations = bore.stations_mm if end == "top" else [(bore.length_mm - x, d) for x, d in bore.stations_mm[::-1]]
    for (x1, d1), (x2, d2) in pairwise(stations):
        if d1 < gauge_mm:
            return x1
        if d2 < gauge_mm:
            return x1 + (x2 - x1) * (d1 - gauge_mm) / (d1 - d2)
    return None


@given(
    top=floats(5.5, 8.0),
    throat=floats(3.0, 5.0),
    foot=floats(9.0, 14.0),
    at=floats(20.0, 200.0),
    gauges=st.lists(floats(5.05, 8.9), min_size=2, max_size=8, unique=True),
)
@settings(max_examples=150, deadline=None)
def test_gauges_find_the_bore_they_were_pushed_into(folder, top, throat, foot, at, gauges):
    true = Bore([(0.0, top), (at, throat), (356.0, foot)])
    rows, places = [], []
    for gauge in gauges:
        for end in ("top", "foot"):
            depth = stops_at(true, gauge, end)
            if depth > 0.0:
                rows.append(f"{gauge!r},{depth!r},{end}")
                places.append(depth if end == "top" else 356.0 - depth)
    found = measured(folder, "gauge,depth,from\n" + "\n".join(rows) + "\n")
    assert np.allclose(found.bore.diameter_mm(places), true.diameter_mm(places), rtol=0, atol=1e-6)
    assert found.bore.length_mm == 356.0
    assert any(start <= at <= end for start, end in found.unmeasured_mm), "the throat was not seen"


def test_gauges_at_a_step_from_either_end(tmp_path):
    true = Bore([(0.0, 8.0), (50.0, 7.0), (50.0, 5.0), (200.0, 6.0), (200.0, 9.0), (300.0, 12.0)])
    rows = ["gauge,depth,from"]
    for end, gauges in (("top", (7.5, 7.0, 6.5, 5.0 + 1e-9)), ("foot", (11.0, 9.0, 8.0, 7.0, 6.0, 5.5))):
        rows += [f"{gauge!r},{stops_at(true, gauge, end)!r},{end}" for gauge in gauges]
    found = measured(tmp_path, "\n".join(rows), length="300").bore.stations_mm
    assert found[:4] == ((0.0, 7.5), (25.0, 7.5), (50.0, 7.0), (50.0, 5.0 + 1e-9))
    assert found[4] == (125.0, 5.5)
    assert found[5:7] == ((200.0, 6.0), (200.0, 9.0))
    assert found[7] == pytest.approx((200.0 + 200.0 / 3.0, 11.0), abs=1e-9)


def test_the_same_gauge_from_both_ends_may_meet_at_the_throat(tmp_path):
    found = measured(tmp_path, "gauge,depth,from\n5.2,56,top\n5.2,300,foot\n9,150,foot\n")
    assert found.bore == Bore([(0, 5.2), (56, 5.2), (206, 9.0), (356, 9.0)])
    assert found.unmeasured_mm == ((0.0, 56.0), (206.0, 356.0))


def test_one_probe_alone_is_taken_as_round(tmp_path):
    rows = "5.2,326{0}\n8,200{0}\n12,30{0}\n"
    plain = measured(tmp_path, "gauge,depth,from\n" + rows.format(",foot"))
    for probe in ("round", "oval"):
        named = measured(tmp_path, "gauge,depth,from,probe\n" + rows.format(f",foot,{probe}"))
        assert named == plain
    assert plain.narrow_mm == plain.wide_mm == ((30.0, 5.2), (156.0, 8.0), (326.0, 12.0))


@pytest.mark.parametrize(
    ("rows", "nowhere", "one_way", "said"),
    [
        (  # the round gauges go deeper on both sides
            "6,0,top,round\n5.3,22,top,round\n5.3,327,foot,round\n13,0,foot,round\n"
            "6,0,top,oval\n5.6,19,top,oval\n5.7,312.5,foot,oval\n13,0,foot,oval\n",
            ((22.0, 29.0),),
            (("oval", 19.0, 43.5),),
            "no reading between 22 and 29 mm, no reading of the oval gauges between 19 and 43.5 mm;",
        ),
        (  # each has been where the other has not
            "6,0,top,round\n5.3,22,top,round\n5.3,327,foot,round\n13,0,foot,round\n"
            "6,0,top,oval\n5.4,31,top,oval\n5.7,312.5,foot,oval\n13,0,foot,oval\n",
            (),
            (("round", 22.0, 29.0), ("oval", 31.0, 43.5)),
            "no reading of the round gauges between 22 and 29 mm, no reading of the oval gauges between 31 and 43.5",
        ),
    ],
)
def test_what_one_kind_of_gauge_has_seen_is_not_called_unmeasured(tmp_path, rows, nowhere, one_way, said):
    (tmp_path / "two.csv").write_text(
        HEADER.format(unit="mm", length=356) + "gauge,depth,from,probe\n" + rows, encoding="utf-8"
    )
    with pytest.warns(UnmeasuredBore, match=f"there is {said}"):
        found = read_bore_measurement(tmp_path / "two.csv")
    assert (found.unmeasured_mm, found.one_way_mm) == (nowhere, one_way)
    assert found.guessed_mm == tuple(sorted([*nowhere, *(one[1:] for one in one_way)]))


def test_two_probes_in_an_oval_cone_give_the_round_one_of_the_same_area(tmp_path):
    narrow, wide = Bore([(0, 5.0), (356, 12.0)]), Bore([(0, 5.4), (356, 13.0)])
    rows = ["gauge,depth,from,probe"]
    rows += [f"{g!r},{stops_at(narrow, g, 'foot')!r},foot,round" for g in (6.0, 8.0, 10.0, 11.0)]
    rows += [f"{g!r},{stops_at(wide, g, 'foot')!r},foot,oval" for g in (6.0, 7.0, 9.0, 12.5)]
    found = measured(tmp_path, "\n".join(rows))
    places = np.array([x for x, _ in found.narrow_mm])
    both = (places > 356 / 7.0 - 1e-6) & (places < 356 * 6 / 7.0 + 1e-6)  # where both probes have been
    assert np.count_nonzero(both) == 6
    expected = np.sqrt(narrow.diameter_mm(places) * wide.diameter_mm(places))
    assert np.allclose(found.bore.diameter_mm(places)[both], expected[both], rtol=0, atol=1e-9)
    for (x, small), (_, large) in zip(found.narrow_mm, found.wide_mm, strict=True):
        assert large / small == pytest.approx(wide.diameter_mm(x) / narrow.diameter_mm(x), rel=0.02)


def test_an_existing_measurement_is_not_overwritten(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "old.csv").write_text("mine", encoding="utf-8")
    bore = sample_chanter().bore
    with pytest.raises(Refusal) as caught:
        write_bore_csv(bore, "old.csv")
    assert_one_sentence(caught.value, "old.csv: there is already a file")
    assert (tmp_path / "old.csv").read_text(encoding="utf-8") == "mine"
    write_bore_csv(bore, "old.csv", overwrite=True)
    assert read_bore_csv("old.csv") == bore


def test_only_bores_are_written(tmp_path):
    with pytest.raises(Refusal) as caught:
        write_bore_csv(sample_chanter(), tmp_path / "x.csv")
    assert_one_sentence(caught.value, "bore: ")
    assert os.listdir(tmp_path) == []
