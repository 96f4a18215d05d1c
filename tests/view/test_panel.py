"""The panel driven without a browser, and the small things beside it: sound, question, table, sentences."""

import html
import io
import re
import warnings
import wave
from dataclasses import replace
from html.parser import HTMLParser

import ipywidgets
import numpy as np
import pytest
from PIL import Image

from acoustics.pipes.design_file import read_design
from acoustics.tuning.dials import DIALS, hole_dials
from acoustics.tuning.setup import Setup
from acoustics.tuning.summary import compare, summary
from acoustics.tuning.tone import RATE, drone, overtones, tone
from acoustics.validity import OutsideRange
from acoustics.view import Panel, Question, Table, plain_warnings, say
from acoustics.view.board import Board
from acoustics.view.sound import WHAT_IT_IS, before_and_after, note_sound, silence, wav
from tests.tuning.bench import bench, demo

BENCH = bench()
EVERY = {
    **DIALS,
    **{f"{hole.name} {name}": dial for hole in demo().holes for name, dial in hole_dials(BENCH, hole.name).items()},
}


def text(widget) -> str:
    """What a reader reads of a widget with HTML in it."""
    return html.unescape(re.sub(r"<[^>]*>", " ", widget.value))


def panel(*names, setup: Setup = BENCH, sound: bool = False) -> Panel:
    return Panel(setup, {name: EVERY[name] for name in names}, sound)


def widgets(widget):
    """A widget and all it holds."""
    yield widget
    for child in getattr(widget, "children", ()):
        yield from widgets(child)


def test_every_slider_starts_at_its_dials_value():
    """Nothing snaps to a step; every step from there is a step of the dial, and none lies outside its limits."""
    made = panel(*EVERY)
    for name, dial in EVERY.items():
        slider, value = made.slider[name], dial.read(BENCH)
        assert slider.value == value
        assert dial.low - 1e-9 <= slider.min <= value <= slider.max <= dial.high + 1e-9
        assert slider.step == dial.step
        steps = np.array([value - slider.min, slider.max - value]) / dial.step
        np.testing.assert_allclose(steps, np.round(steps), atol=1e-6)
        assert slider.min - dial.low < dial.step
        assert dial.high - slider.max < dial.step
        assert float(format(value, slider.readout_format)) == value
    assert made.setup is made.reference is BENCH


def test_labels_carry_their_unit():
    made = panel(*EVERY)
    for name, dial in EVERY.items():
        assert made.slider[name].description == dial.name
        assert made.slider[name].description.endswith(f", {dial.unit}" if dial.unit else dial.label)


def test_every_label_has_room():
    """Half an em for each letter and one to spare: no name is cut off in a wide letter face."""
    made = panel(*EVERY)
    room = {float(slider.style.description_width.removesuffix("em")) for slider in made.slider.values()}
    assert room == {0.5 * max(len(dial.name) for dial in EVERY.values()) + 1.0}


def test_the_sound_stands_below_sliders_and_picture():
    """On a narrow page picture follows sliders at once; the controls of the sound come after both."""
    made = panel("insertion", sound=True)
    beside, *below = made.box.children
    assert {made.slider["insertion"], made.picture, made.words} <= set(widgets(beside))
    assert made.audio in [one for part in below for one in widgets(part)]
    assert made.audio not in set(widgets(beside))


def test_groups_stand_in_the_order_of_the_air():
    """Reed, staple, bore, holes, foot, air, each heading above its own sliders, whatever the order asked for."""
    made = panel("temperature", "E size", "gap", "patch depth", "insertion", "softness")
    shown = list(widgets(made.box))
    headings = [text(one).strip() for one in shown if isinstance(one, ipywidgets.HTML) and "<b>" in one.value]
    assert headings[:6] == ["Reed", "Staple", "Bore", "Holes", "Foot", "Air"]
    sliders = [one for one in shown if isinstance(one, ipywidgets.FloatSlider)]
    order = ["softness", "insertion", "patch depth", "E size", "gap", "temperature"]
    assert sliders == [made.slider[name] for name in order]


def test_a_turned_dial_changes_words_and_picture():
    made = panel("insertion")
    before = made.picture.value
    assert before == Board(BENCH).png(BENCH, BENCH)
    assert summary(BENCH.chart) in text(made.words)
    made.slider["insertion"].value = 17.0
    turned = DIALS["insertion"].turn(BENCH, 17.0)
    assert made.setup == turned
    assert compare(BENCH.chart, turned.chart) in text(made.words)
    assert made.picture.value == Board(BENCH).png(turned, BENCH) != before
    assert Image.open(io.BytesIO(made.picture.value)).format == "PNG"
    made.slider["insertion"].value = 15.0
    assert made.setup == BENCH
    assert made.picture.value == before


@pytest.fixture(scope="module")
def whole():
    """One panel with every dial there is."""
    return panel(*EVERY)


@pytest.mark.parametrize("name", EVERY)
def test_every_slider_turns_its_dial(whole, name):
    """One step up or down from where it stands: the setup is the dial's, nothing is refused; and back again."""
    dial, slider = EVERY[name], whole.slider[name]
    value = slider.value + (dial.step if slider.value + dial.step <= slider.max else -dial.step)
    slider.value = value
    assert whole.setup == dial.turn(BENCH, round(value, 6)) != BENCH
    assert dial.read(whole.setup) == pytest.approx(value, abs=1e-9)
    assert "Not possible" not in text(whole.words)
    whole.back.click()
    assert whole.setup is BENCH
    assert {n: s.value for n, s in whole.slider.items()} == {n: d.read(BENCH) for n, d in EVERY.items()}


def test_dials_turned_together():
    made = panel("softness", "E size", "temperature")
    for name, value in {"softness": 0.8, "E size": 5.0, "temperature": 25.0}.items():
        made.slider[name].value = value
    by_hand = BENCH
    for name, value in {"softness": 0.8, "E size": 5.0, "temperature": 25.0}.items():
        by_hand = EVERY[name].turn(by_hand, value)
    assert made.setup == by_hand


def test_a_refused_value_springs_back():
    """A foot 1.5 mm narrower leaves the bore narrower than the hole of F#: one sentence, and all stays as it was."""
    made = panel("taper", "insertion")
    made.slider["insertion"].value = 16.0
    before, picture = made.setup, made.picture.value
    made.slider["taper"].value = -1.5
    assert made.slider["taper"].value == 0.0
    assert made.setup is before
    assert made.picture.value == picture
    assert text(made.words).strip().startswith('Not possible: hole "F#": 8.7 mm is wider than the bore there')
    made.slider["taper"].value = 0.5
    assert DIALS["taper"].read(made.setup) == 0.5
    assert "Not possible" not in text(made.words)


def test_warnings_are_said_once_below_the_sentence():
    """A wall of 2 mm leaves the range of a formula: no warning escapes, the sentence says so, the next is clean."""
    made = panel("Eb wall")
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        made.slider["Eb wall"].value = made.slider["Eb wall"].min
    assert text(made.words).count('Mind: hole "Eb": wall over the hole\'s radius') >= 1
    minds = re.findall(r"Mind: [^<]*", made.words.value)
    assert len(minds) == len(set(minds))
    made.slider["Eb wall"].value = EVERY["Eb wall"].read(BENCH)
    assert "Mind" not in text(made.words)


def test_keep_and_back():
    """Kept, the ghost is what was seen; back, everything since is undone, also on the sliders."""
    made = panel("insertion", "softness")
    made.slider["insertion"].value = 17.0
    made.keep.click()
    kept = made.setup
    assert made.reference is kept
    assert made.picture.value == Board(BENCH).png(kept, kept)
    assert summary(kept.chart) in text(made.words)
    made.slider["softness"].value = 0.9
    assert compare(kept.chart, made.setup.chart) in text(made.words)
    made.back.click()
    assert made.setup is kept
    assert (made.slider["insertion"].value, made.slider["softness"].value) == (17.0, 0.73)
    assert made.picture.value == Board(BENCH).png(kept, kept)


def test_back_is_where_it_started():
    made = panel("insertion", "patch depth")
    made.slider["insertion"].value = 12.0
    made.slider["patch depth"].value = 0.2
    made.back.click()
    assert made.setup is BENCH
    assert summary(BENCH.chart) in text(made.words)


def test_save_writes_the_pipe_with_its_changes(tmp_path):
    """Read again, the same pipe and the same chart; a second save of the same name is refused and changes nothing."""
    made = panel("patch depth", "insertion", "E tape")
    made.slider["patch depth"].value = 0.1
    made.slider["insertion"].value = 16.5
    path = tmp_path / "my-chanter.toml"
    made.file.value = str(path)
    made.save.click()
    assert "Saved as" in text(made.said)
    assert f'design_file = "{path}"' in text(made.said)
    assert "Tape" not in text(made.said)
    assert read_design(path) == made.setup.pipe
    np.testing.assert_array_equal(Setup(read_design(path)).chart.cents, made.setup.chart.cents)
    written = path.read_bytes()
    made.slider["insertion"].value = 18.0
    made.save.click()
    assert path.read_bytes() == written
    assert "Saved" not in text(made.said)
    assert text(made.said).strip().endswith(".")
    assert "my-chanter.toml" in text(made.said)


def test_what_a_design_file_cannot_hold_is_said(tmp_path):
    made = panel("E tape", "gap")
    made.slider["E tape"].value = 50.0
    made.file.value = str(tmp_path / "taped.toml")
    made.save.click()
    assert "Saved as" in text(made.said)
    assert "Tape and the lift of the foot are not part of a design file." in text(made.said)


@pytest.mark.parametrize("name", ["", "no/such/folder/x.toml", "x\0y.toml"])
def test_a_name_that_cannot_be_written_is_a_sentence(name, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    made = panel("insertion")
    made.file.value = name
    made.save.click()
    assert text(made.said).strip().endswith(".")
    assert "Saved" not in text(made.said)
    assert list(tmp_path.iterdir()) == []


def test_what_it_shows_of_itself():
    """Words for a page without widgets, the picture for one without a kernel, the widgets for a live one."""
    made = panel("insertion", "softness", "Bb lift")
    assert repr(made).splitlines() == [
        "A panel with the dials",
        *(
            f"  {EVERY[n].name}: {made.slider[n].value:.{EVERY[n].decimals}f}"
            for n in ("insertion", "softness", "Bb lift")
        ),
    ]
    bundle = made._repr_mimebundle_()
    assert bundle["text/plain"] == repr(made)
    assert {"image/png", "application/vnd.jupyter.widget-view+json"} <= set(bundle)


# Sound


def heard(data: bytes):
    """Samples of a WAV file, -1 to 1; one channel, 16 bit."""
    with wave.open(io.BytesIO(data)) as file:
        assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (1, 2, RATE)
        return np.frombuffer(file.readframes(file.getnframes()), "<i2") / 32000.0


def test_hear_plays_the_chosen_note():
    made = panel("insertion", sound=True)
    assert made.audio.autoplay is False
    assert heard(made.audio.value).any() == np.False_
    made.slider["insertion"].value = 17.0
    made.note.value = 7
    made.hear(both=False)
    want = 0.8 * tone(*overtones(made.setup, made.setup.chart.rows[7]))
    np.testing.assert_allclose(heard(made.audio.value), want, atol=1 / 32000)
    assert made.audio.autoplay is True
    assert made.audio.format == "wav"
    assert [label for label, _ in made.note.options] == [row.title for row in BENCH.chart.rows]
    assert WHAT_IT_IS in " ".join(text(one) for one in widgets(made.box) if isinstance(one, ipywidgets.HTML))


def test_before_then_now():
    """The reference's note, a pause, the note as it is now."""
    made = panel("insertion", sound=True)
    made.slider["insertion"].value = 18.0
    made.hear(both=True)
    samples = heard(made.audio.value)
    one = [0.8 * tone(*overtones(setup, setup.chart.rows[0])) for setup in (BENCH, made.setup)]
    pause = np.zeros(RATE // 5)
    np.testing.assert_allclose(samples, np.concatenate([one[0], pause, one[1], pause]), atol=1 / 32000)
    assert made.audio.value == before_and_after(BENCH, made.setup, 0)


def test_against_a_drone():
    made = panel("insertion", sound=True)
    made.with_drone.value = True
    made.note.value = 3
    made.hear(both=False)
    own, other = tone(*overtones(BENCH, BENCH.chart.rows[3])), tone(*drone(BENCH.scale.keynote_hz))
    np.testing.assert_allclose(heard(made.audio.value), 0.4 * own + 0.4 * other, atol=1 / 32000)
    assert made.audio.value == note_sound(BENCH, 3, against_drone=True)
    assert np.abs(heard(before_and_after(BENCH, BENCH, 3, True))).max() <= 1.0


def test_a_silent_note_is_said_and_not_played():
    silent = DIALS["blades"].turn(BENCH, 1000.0)
    index = int(np.flatnonzero(np.isnan(silent.chart.cents))[0])
    made = panel("blades", setup=silent, sound=True)
    made.note.value = index
    for both in (False, True):
        made.hear(both=both)
        assert heard(made.audio.value).any() == np.False_
        assert "nothing sounds near" in text(made.said)


def test_wav():
    """Silence is silent; what is louder than 1 is cut, not wrapped round."""
    assert not heard(silence()).any()
    np.testing.assert_allclose(heard(wav([0.0, 0.5, -0.5, 3.0, -3.0])), [0.0, 0.5, -0.5, 1.0, -1.0], atol=1e-4)


# Question


@pytest.fixture
def question():
    return Question("Which way & why?", ["sharp", "flat <b>"], right=1, why="By 3 < 4 cents.")


def test_question_without_an_answer(question):
    question.check.click()
    assert text(question.answer) == "Choose an answer first."
    assert question.choice.index is None, "nothing is chosen beforehand"


@pytest.mark.parametrize(("chosen", "said"), [(1, "Right."), (0, "Not so: flat <b>.")])
def test_question_answered(question, chosen, said):
    question.choice.index = chosen
    assert question.answer.value == "", "said when asked, not before"
    question.check.click()
    assert text(question.answer).strip() == f"{said} By 3 < 4 cents."
    assert "&lt; 4" in question.answer.value


def test_question_in_words(question):
    assert repr(question) == "Which way & why?\n  ( ) sharp\n  ( ) flat <b>"
    assert question._repr_mimebundle_()["text/plain"] == repr(question)
    assert "Which way &amp; why?" in question.box.children[0].value


# Table


class _Cells(HTMLParser):
    """Rows of an HTML table as text."""

    def __init__(self):
        super().__init__()
        self.rows, self.inside = [], False

    def handle_starttag(self, tag, attrs):
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th"):
            self.rows[-1].append("")
            self.inside = True

    def handle_endtag(self, tag):
        self.inside = self.inside and tag not in ("td", "th")

    def handle_data(self, data):
        if self.inside:
            self.rows[-1][-1] += data


SHIFTS = Table(
    ("note", "first & last", "more"), (("D", 1.25, -0.04), ("back D", None, float("nan")), ("G", -12.36, 0.0)), 1, True
)


def test_table_in_words():
    assert repr(SHIFTS).splitlines() == [
        "note    first & last  more",
        "D               +1.2   0.0",
        "back D                    ",
        "G              -12.4   0.0",
    ]


def test_table_in_html():
    cells = _Cells()
    cells.feed(SHIFTS._repr_html_())
    assert cells.rows == [
        ["note", "first & last", "more"],
        ["D", "+1.2", "0.0"],
        ["back D", "", ""],
        ["G", "-12.4", "0.0"],
    ]
    assert "&amp;" in SHIFTS._repr_html_()


@pytest.mark.parametrize("value", [-0.0, -0.004, 0.0, 0.0049])
@pytest.mark.parametrize("signed", [True, False])
def test_no_negative_zero(value, signed):
    made = Table(("a", "b"), (("x", value),), decimals=2, signed=signed)
    assert repr(made).splitlines()[1] == "x  0.00"
    assert ">0.00<" in made._repr_html_()


def test_unsigned_whole_numbers():
    assert repr(Table(("holes", "Hz"), (("A and G", 1834.4),), decimals=0)).splitlines()[1] == "A and G  1834"


def test_words_stand_at_the_left_and_numbers_at_the_right():
    """A column is one of words when all that stands in it begins with a letter, the first one always."""
    rows = (("", "3 ± 1", "none"), ("bridle", "-2", ""), ("7", "none", "falls back"))
    made = Table(("piece", "size, mm", "why"), rows)
    assert repr(made).splitlines() == [
        "piece   size, mm  why       ",
        "           3 ± 1  none      ",
        "bridle        -2            ",
        "7           none  falls back",
    ]
    assert made._repr_html_().count("<td style='text-align:left'>") == 2 * len(rows)
    assert repr(Table(("a", "b"), ())) == "a  b"


# Sentences


def test_say():
    words = say("One.", "", "Two & three.", "\nA new line.")
    assert words.text == "One. Two & three. \nA new line."
    assert [line.strip() for line in repr(words).splitlines()] == ["One. Two & three.", "A new line."]
    assert words._repr_html_().count("<p") == 2
    assert "Two &amp; three." in words._repr_html_()
    assert max(map(len, repr(say("word " * 60)).splitlines())) <= 100


def test_plain_warnings(capsys):
    """One plain line each, each sentence once, and no file or line number; the filters are put back afterwards."""
    with warnings.catch_warnings():
        plain_warnings()
        for _ in range(3):
            warnings.warn("a hole is too large", OutsideRange, stacklevel=1)
        warnings.warn("another thing " + "goes on " * 20, UserWarning, stacklevel=1)
    out, err = capsys.readouterr()
    assert err == ""
    lines = out.splitlines()
    assert lines[0] == "Mind: a hole is too large"
    assert out.count("a hole is too large") == 1
    assert lines[1].startswith("Mind: another thing goes on")
    assert max(map(len, lines)) <= 100
    assert ".py" not in out


def test_panel_over_a_setup_that_is_already_changed():
    """What it stands at is its reference: a rush in place, a tape on a hole."""
    setup = hole_dials(BENCH, "E")["tape"].turn(replace(BENCH, rush_mm=1.5, rush_length_mm=100.0), 70.0)
    made = panel("rush", "rush length", "E tape", setup=setup)
    assert [made.slider[name].value for name in ("rush", "rush length", "E tape")] == [1.5, 100.0, 70.0]
    made.slider["rush length"].value = 0.0
    assert made.setup.pipe.rush is None
    made.back.click()
    assert made.setup is setup
