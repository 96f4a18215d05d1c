"""Readings: what is accepted, the table's round trip, every mistake in one sentence."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acoustics.bench.readings import NAMES, Reading, Readings, as_read, chart_rows, place_of
from acoustics.bench.readings_file import read_readings_csv, typed_readings, write_readings_csv
from acoustics.errors import Refusal
from acoustics.tuning.scales import SEMITONES_FROM_D, equal_scale, just_scale
from tests.pipes.sample import assert_one_sentence
from tests.pipes.strategies import floats
from tests.tuning.bench import bench

HEAD = "# form: tuning readings\n# version: 1\n# a: 440\n# scale: just\n# temperature: 18.5\n"
GOOD = HEAD + "note,octave,cents,error\nD,1,+4,2\nback D,2,-6,\nc#,2,0.5,1\n"

places = st.sampled_from([(n, o) for n in NAMES for o in (1, 2) if (n, o) != ("back D", 1)] + [("D", 3)])


@st.composite
def readings(draw):
    where = draw(st.lists(places, min_size=1, max_size=25, unique=True))
    rows = [Reading(note, octave, draw(floats(-99.0, 99.0)), draw(floats(0.01, 100.0))) for note, octave in where]
    scale = draw(st.sampled_from([just_scale, equal_scale]))
    return Readings(
        rows, scale(draw(floats(400, 470)), draw(st.sampled_from(list(SEMITONES_FROM_D)))), draw(floats(-10, 45))
    )


@settings(max_examples=100)
@given(readings())
def test_any_readings_come_back_exactly(tmp_path_factory, made):
    path = tmp_path_factory.mktemp("readings") / "any.csv"
    write_readings_csv(made, path)
    assert read_readings_csv(path) == made


def test_a_table(tmp_path):
    path = tmp_path / "day.csv"
    path.write_text("\ufeff" + GOOD.replace("\n", "\r\n"), encoding="utf-8")
    made = read_readings_csv(path)
    assert made == Readings(
        (Reading("D", 1, 4, 2), Reading("back D", 2, -6, 3), Reading("C#", 2, 0.5, 1)), just_scale(), 18.5
    )
    assert "back D, first octave" in str(made)
    assert made._repr_html_().count("<tr>") == 4


WRONG = {
    "columns swapped in the head": (GOOD.replace("note,octave,cents", "octave,note,cents"), "line 6"),
    "values swapped": (GOOD.replace("D,1,+4,2", "1,D,+4,2"), "line 7, column note"),
    "cents in the octave's place": (GOOD.replace("D,1,+4,2", "D,4,1,2"), "line 7, column octave"),
    "decimal comma": (GOOD.replace("0.5,1", "0,5,1"), "line 9"),
    "decimal comma in quotes": (GOOD.replace("0.5,1", '"0,5",1'), "line 9, column cents"),
    "Hz for cents": (GOOD.replace("D,1,+4,2", "A,1,440.5,2"), "line 7, column cents"),
    "unit typed": (GOOD.replace("+4,", "+4 c,"), "line 7, column cents"),
    "unknown note": (GOOD.replace("back D", "H"), "line 8, column note"),
    "no such octave": (GOOD.replace("back D,2", "back D,1"), "line 8, column octave"),
    "twice": (GOOD + "D,1,5,2\n", "line 10"),
    "the D above twice": (GOOD + "D,3,5,2\nback D,3,4,2\n", "line 11"),
    "nothing there": (GOOD.replace("+4", ""), "line 7, column cents"),
    "error of nothing": (GOOD.replace("+4,2", "+4,0"), "line 7, column error"),
    "not a number": (GOOD.replace("+4", "nan"), "line 7, column cents"),
    "semicolons": (GOOD.replace("D,1,+4,2", "D;1;+4;2"), "line 7"),
    "a value too few": (GOOD.replace("D,1,+4,2", "D,1,+4"), "line 7"),
    "no temperature": (GOOD.replace("# temperature: 18.5\n", ""), "temperature"),
    "temperature misspelt": (GOOD.replace("# temperature", "# temprature"), "line 5"),
    "a twice": (GOOD.replace("# scale", "# a: 441\n# scale"), "line 4"),
    "fahrenheit": (GOOD.replace("18.5", "65"), "line 5, temperature"),
    "unknown scale": (GOOD.replace("just", "meantone"), "line 4"),
    "another form": (GOOD.replace("tuning readings", "bore measurement"), "line 1"),
    "no table": (HEAD, "columns"),
    "no rows": (HEAD + "note,octave,cents\n", "readings"),
    "quotation marks": (GOOD.replace("back D", '"back D'), "line 8"),
}


@pytest.mark.parametrize("mistake", WRONG)
def test_wrong_files(tmp_path, mistake):
    text, where = WRONG[mistake]
    path = tmp_path / "day.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(Refusal) as refused:
        read_readings_csv(path)
    assert_one_sentence(refused.value, f"{path}, {where}")


def test_all_in_hertz(tmp_path):
    """Low notes in Hz lie below the largest cents; all of them together do not pass."""
    path = tmp_path / "day.csv"
    path.write_text(HEAD + "note,octave,cents\nD,1,293.7\nEb,1,299.2\n", encoding="utf-8")
    with pytest.raises(Refusal, match="Hz"):
        read_readings_csv(path)


def test_never_overwritten_silently(tmp_path):
    made = typed_readings("A 1 +4")
    write_readings_csv(made, tmp_path / "day.csv")
    with pytest.raises(Refusal, match="already"):
        write_readings_csv(typed_readings("A 1 +5"), tmp_path / "day.csv")
    assert read_readings_csv(tmp_path / "day.csv") == made


def test_what_the_form_has_no_place_for(tmp_path):
    scale = just_scale(seventh="16/9")
    flagged = Readings((Reading("A", 1, 0, 1, "near the drone"),), just_scale(), 20)
    for made in (Readings((Reading("A", 1, 0, 1),), scale, 20), flagged, "A 1 +4"):
        with pytest.raises(Refusal):
            write_readings_csv(made, tmp_path / "day.csv")
    assert not list(tmp_path.iterdir())


def test_typed():
    made = typed_readings(" A 1 +4 \n\nback D 2 −6 ±2; c# 2 0.5±1", equal_scale(), 15.0, error_cents=4.0)
    assert made == Readings(
        (Reading("A", 1, 4, 4), Reading("back D", 2, -6, 2), Reading("C#", 2, 0.5, 1)), equal_scale(), 15.0
    )


@pytest.mark.parametrize("row", bench().chart.rows, ids=lambda row: row.title)
def test_a_note_may_be_typed_as_a_chart_prints_it(tmp_path, row):
    """With and without capitals, by every separator, in a table too."""
    place = place_of(row.fingering)
    for said in (f"{row.title} +4", f"{row.title.upper()}: +4", f"{row.title.replace(',', '')} +4 ±2"):
        (read,) = typed_readings(said).rows
        assert (read.place, read.title, read.cents) == (place, row.title, 4.0)
    path = tmp_path / "day.csv"
    note, octave = row.title.split(", ")
    path.write_text(f"{HEAD}note,octave,cents\n{note},{octave},4\n", encoding="utf-8")
    assert read_readings_csv(path).rows[0].place == place


@pytest.mark.parametrize(
    ("text", "octave"),
    [
        ("backd 2 -6", 2),
        ("Back-D 2 -6", 2),
        ("thumb D 2, -6", 2),
        ("back D -6", 2),
        ("back d −6 ±1", 2),
        ("back D, first octave -6", 2),
        ("back D 3 -6", 3),
        ("back D second -6", 3),
    ],
)
def test_the_back_d_by_its_usual_spellings(text, octave):
    (read,) = typed_readings(text).rows
    assert (read.place, read.cents) == (("back D", octave), -6.0)


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("d' 1 3", 'reading 1, column note: "d\'" may be more than one note'),
        ("back D 1 3", "reading 1, column octave: a back D has no octave 1"),
        ("back D 2", "reading 1: 'back D 2' cannot be understood"),
        ("A, third octave 3", "reading 1, column note"),
        ("A 1 +4; B one 3", "reading 2, column octave"),
        ("A 1 4,5", "reading 1, column cents"),
        ("A 1 440", "reading 1, column cents"),
        ("A 4", "reading 1"),
        ("A 1 4; A 1 5", "reading 2"),
        ("", "readings"),
        (None, "readings"),
    ],
)
def test_typed_wrongly(text, where):
    with pytest.raises(Refusal) as refused:
        typed_readings(text)
    assert_one_sentence(refused.value, where)


def test_rows_of_a_chart():
    """Every note finds its own row, the back D beside the D; a flagged one is left out."""
    made = typed_readings("D 2 1; back D 2 2; D 3 3; A 1 4")
    titles = [bench().chart.rows[i].title for i in chart_rows(made, bench().chart)]
    assert titles == [row.title for row in made.rows]
    flagged = Readings((*made.rows, Reading("B", 1, 0, 1, "a drone's partial")), made.scale, 20)
    assert chart_rows(flagged, bench().chart) == chart_rows(made, bench().chart)
    assert flagged.sound == made.rows


def test_a_pipe_without_keys():
    from dataclasses import replace

    from acoustics.tuning.setup import Setup

    plain = replace(bench().base, holes=tuple(h for h in bench().base.holes if h.name != "F natural"))
    with pytest.raises(Refusal, match="F, first octave"):
        chart_rows(typed_readings("F 1 0"), Setup(plain).chart)


def test_air_and_scale_of_the_readings():
    made = typed_readings("A 1 0", equal_scale(438.0), 11.0)
    setup = as_read(bench(), made)
    assert (setup.air.temperature_c, setup.scale, setup.base) == (11.0, equal_scale(438.0), bench().base)


def test_against_another_scale():
    """The same pitches: what a piano tuner shows, counted from the just scale, and back."""
    just, equal = just_scale(), equal_scale()
    shown = typed_readings("F# 1 -14; back D 2 -2; back D 3 3; G 2 0", equal)
    counted = shown.against(just)
    for one, other in zip(shown.rows, counted.rows, strict=True):
        note = "D" if one.note == "back D" else one.note
        pitches = (s.frequency(note, one.octave) * 2.0 ** (r.cents / 1200.0) for s, r in ((equal, one), (just, other)))
        assert next(pitches) == pytest.approx(next(pitches), rel=1e-12)
    assert counted.rows[0].cents == pytest.approx(-14.0 + 400.0 - 386.314, abs=0.01)  # a just third, the D alike
    assert [r.cents for r in counted.against(equal).rows] == pytest.approx([r.cents for r in shown.rows])


def test_readings_of_another_key():
    with pytest.raises(Refusal) as refused:
        as_read(bench(), typed_readings("A 1 0", just_scale(440.0, "C")))
    assert_one_sentence(refused.value, "readings: they count from the scale on C")


@pytest.mark.parametrize(
    "bad", [("H", 1, 0, 1), ("A", 3, 0, 1), ("back D", 1, 0, 1), ("A", 1, 301, 1), ("A", 1, 0, 0), ("A", True, 0, 1)]
)
def test_readings_refused(bad):
    with pytest.raises(Refusal):
        Reading(*bad)
