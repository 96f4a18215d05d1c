"""The tuning chart as a whole: its rows, what it says, how it is shown."""

import re
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest

from acoustics.errors import Refusal
from acoustics.physics.air import Air
from acoustics.pipes.fingering import NOTES, OPEN, TIGHT, Fingering
from acoustics.pipes.holes import ToneHole
from acoustics.tuning.chart import Row, TuningChart, label, signed, tuning_chart
from acoustics.tuning.resonances import Mode, modes
from acoustics.tuning.scales import equal_scale, just_scale
from acoustics.tuning.summary import compare
from acoustics.units import cents, from_cents
from tests.pipes.sample import sample_chanter

SHARP = 440.0 * from_cents(200.0)  # where the untuned sample chanter plays


@pytest.fixture(scope="module")
def chart() -> TuningChart:
    return tuning_chart(sample_chanter(), scale=just_scale(SHARP))


def test_rows_are_two_chromatic_octaves_and_the_back_d(chart):
    """The house chart: D to the third D is 25 notes, and the back D beside the overblown one."""
    assert len(chart.rows) == 26
    notes = [(row.note, row.octave) for row in chart.rows]
    assert notes[:24] == [(note, octave) for octave in (1, 2) for note in NOTES]
    assert notes[24:] == [("D", 2), ("D", 3)]
    assert len(set(notes)) == 25
    assert [row.fingering.register for row in chart.rows] == [1] * 12 + [2] * 12 + [1, 2]
    assert tuple(row.fingering for row in chart.rows) == TIGHT


def test_targets_and_cents(chart):
    for row in chart.rows:
        assert row.target_hz == pytest.approx(just_scale(SHARP).frequency(row.note, row.octave), rel=1e-13)
        if row.mode:
            assert row.sounding_hz == row.mode.frequency
            assert row.cents == pytest.approx(1200 * np.log2(row.sounding_hz / row.target_hz), abs=1e-9)
    np.testing.assert_array_equal(chart.cents, [row.cents for row in chart.rows])


@pytest.mark.parametrize("i", [0, 4, 9, 16, 24])
def test_each_row_is_the_mode_of_its_fingering(chart, i):
    """One band for all patterns or one fingering alone: the same mode within 1e-4 cents."""
    row = chart.rows[i]
    alone = modes(sample_chanter(), row.fingering, scale=just_scale(SHARP))
    own = alone.first if row.fingering.register == 1 else alone.second
    assert abs(cents(row.sounding_hz, own.frequency)) < 1e-4
    assert row.mode.strength == pytest.approx(own.strength, rel=1e-6)
    assert {round(m.frequency, 3) for m in row.stray} <= {round(m.frequency, 3) for m in alone.stray}


def test_lines_pair_the_octaves(chart):
    assert len(chart.lines) == 13
    for first, second in chart.lines:
        assert first.fingering.pattern == second.fingering.pattern
        assert (first.fingering.register, second.fingering.register) == (1, 2)
        assert second.octave == first.octave + 1
        assert second.target_hz == pytest.approx(2 * first.target_hz)
    assert [label(first.fingering) for first, _ in chart.lines] == [*NOTES, "back D"]


def test_stretch_is_second_minus_first(chart):
    for first, second in chart.lines:
        name = label(first.fingering)
        if first.mode and second.mode:
            direct = cents(second.sounding_hz, 2 * first.sounding_hz)
            assert chart.stretch[name] == pytest.approx(direct, abs=1e-9)
        else:
            assert name not in chart.stretch
    assert len(chart.stretch) >= 12


def test_two_fingerings_of_one_note_keep_their_own_octaves():
    """Two ways to finger F#: each line shows its own octave; the note's is that of the first."""
    ways = [Fingering("F#", octave, holes) for holes in (["F#", "E"], ["F#"]) for octave in (1, 2)]
    chart = tuning_chart(sample_chanter(), ways, just_scale(SHARP))
    own = [second.cents - first.cents for first, second in chart.lines]
    assert abs(own[0] - own[1]) > 1
    assert [float(line.split()[-1]) for line in str(chart).splitlines()[3:]] == pytest.approx(own, abs=0.051)
    cells = _Cells()
    cells.feed(chart._repr_html_())
    assert [float(row[7]) for row in cells.rows[2:]] == pytest.approx(own, abs=0.051)
    assert chart.stretch == {"F#": pytest.approx(own[0])}


def test_charts_of_other_notes_are_not_compared(chart):
    with pytest.raises(Refusal, match="chart: the two charts are not of the same notes; charts of the same"):
        compare(chart, tuning_chart(sample_chanter(), TIGHT[:3], just_scale(SHARP)))
    assert compare(chart, chart).startswith("Nothing moved by as much as half a cent.")


def test_row_by_name(chart):
    assert chart.row("F#", 2) is chart.rows[16]
    assert chart.row("D", 2) is chart.rows[12]
    assert chart.row("D", 2, register=1) is chart.rows[24]
    with pytest.raises(Refusal, match="chart: there is no D in octave 4"):
        chart.row("D", 4)


def test_half_a_list_has_half_lines():
    chart = tuning_chart(sample_chanter(), TIGHT[:2], just_scale(SHARP))
    assert [second for _, second in chart.lines] == [None, None]
    assert chart.stretch == {}
    assert chart._repr_html_().count("<td></td>") >= 6
    with pytest.raises(Refusal, match="fingerings: the list of fingerings is empty; at least one"):
        tuning_chart(sample_chanter(), ())


def test_keyless_chanter_is_told_which_note_has_no_hole():
    """The notes of keys are named; without them the chart is made."""
    keyless = replace(sample_chanter(), holes=[h for h in sample_chanter().holes if isinstance(h, ToneHole)])
    with pytest.raises(
        Refusal, match=r'fingerings: that of F opens "F natural", which is not there; .*own holes \(back D'
    ):
        tuning_chart(keyless, TIGHT)
    names = {hole.name for hole in keyless.holes}
    without_keys = [f for f in TIGHT if {name for name, _ in f.open_holes} <= names]
    assert len(tuning_chart(keyless, without_keys, just_scale(SHARP)).rows) == 26 - 8
    with pytest.raises(Refusal, match=r"fingerings: that of Eb opens .*; this pipe has no holes"):
        tuning_chart(replace(keyless, holes=()), TIGHT)


def test_chart_of_what_the_pipe_can_play():
    """Without being told, a chart has the fingerings for which the pipe has the holes."""
    keyless = replace(sample_chanter(), holes=[h for h in sample_chanter().holes if isinstance(h, ToneHole)])
    assert {row.note for row in tuning_chart(keyless).rows} == {"D", "Eb", "E", "F#", "G", "A", "B", "C#"}
    assert [row.note for row in tuning_chart(replace(keyless, holes=())).rows] == ["D", "D"]


def test_open_fingering():
    chart = tuning_chart(sample_chanter(), OPEN, just_scale(SHARP))
    assert len(chart.rows) == 26
    assert sum(row.mode is None for row in chart.rows) <= 2
    assert all(row.fingering.foot == "open" for row in chart.rows)
    tight = tuning_chart(sample_chanter(), TIGHT, just_scale(SHARP))
    assert chart.row("D", 1).sounding_hz == pytest.approx(tight.row("D", 1).sounding_hz, rel=1e-9)
    assert abs(cents(chart.row("A", 1).sounding_hz, tight.row("A", 1).sounding_hz)) > 1


def test_nothing_near_is_nan_and_said():
    """Asked two octaves off, no mode lies within a fourth."""
    chart = tuning_chart(sample_chanter(), (Fingering("D", 1, ["back D"], "shut"),), just_scale())
    row = chart.rows[0]
    assert row.mode is None
    assert np.isnan(row.sounding_hz)
    assert np.isnan(row.cents)
    assert np.isnan(chart.cents).all()
    assert row.remarks == ("no resonance within a fourth of the target",)
    assert "none" in str(chart)
    assert "<td>none</td>" in chart._repr_html_()
    assert not re.search(r"\bnan\b", str(chart) + chart._repr_html_())


def test_remarks(chart):
    """Blades from 2 cents, blocked sound, strays from a tenth as strong; nothing else."""
    low, high = 1400.0, 1400.0 * np.sqrt(1.6)
    blades = stops = strays = 0
    for row in chart.rows:
        said = " ".join(row.remarks)
        if row.mode is None:
            continue
        assert ("own note 1 %" in said) == (abs(row.mode.blade_cents) >= 2.0)
        assert ("blades block" in said) == (low <= row.sounding_hz <= high)
        near = [m for m in row.stray if m.strength >= 0.1 * row.mode.strength]
        assert said.count("another resonance at") == len(near)
        assert all(f"at {m.frequency:.0f} Hz" in said for m in near)
        blades, stops, strays = blades + ("blades" in said), stops + ("blades block" in said), strays + len(near)
    assert blades >= 3
    assert strays >= 1


class _Cells(HTMLParser):
    def __init__(self):
        super().__init__()
        self.rows, self.text, self.open = [], [], []

    def handle_starttag(self, tag, attrs):
        self.open.append(tag)
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th"):
            self.text = []

    def handle_data(self, data):
        self.text.append(data)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag
        if tag in ("td", "th"):
            self.rows[-1].append("".join(self.text))


def test_html_is_well_formed_and_escaped():
    nasty = replace(sample_chanter(), name="<b>Ann & 'Bob'</b>")
    html = tuning_chart(nasty, scale=just_scale(SHARP))._repr_html_()
    assert "&lt;b&gt;Ann &amp; &#x27;Bob&#x27;&lt;/b&gt;" in html
    assert "<b>Ann" not in html
    cells = _Cells()
    cells.feed(html)
    assert cells.open == []
    body = cells.rows[2:]
    assert [row[0] for row in body] == [*NOTES, "back D"]
    assert {len(row) for row in body} == {9}


def test_shown_numbers_are_the_charts(chart):
    cells = _Cells()
    cells.feed(chart._repr_html_())
    for shown, (first, second) in zip(cells.rows[2:], chart.lines, strict=True):
        for row, part in ((first, shown[1:4]), (second, shown[4:7])):
            assert part[0] == f"{row.target_hz:.1f}"
            if row.mode:
                assert float(part[1]) == pytest.approx(row.sounding_hz, abs=0.051)
                assert float(part[2]) == pytest.approx(row.cents, abs=0.051)
    for first, _ in chart.lines:
        assert re.search(
            rf"^{re.escape(label(first.fingering))} +{first.target_hz:.1f} +{first.sounding_hz:.1f}", str(chart), re.M
        )


def _one_row(off: float) -> TuningChart:
    note = Fingering("A", 1, ["A"])
    return TuningChart(
        "p", just_scale(), Air(), (Row(note, 440.0, Mode(440.0 * from_cents(off), 1.0, 1.0, 0.0), (), ()),)
    )


@pytest.mark.parametrize(
    ("off", "shown"), [(-0.04, "0.0"), (0.04, "0.0"), (-0.06, "-0.1"), (-10.04, "-10.0"), (19.9, "+19.9")]
)
def test_no_negative_zero(off, shown):
    chart = _one_row(off)
    assert f"<td>{shown}</td>" in chart._repr_html_()
    assert "-0.0" not in str(chart) + chart._repr_html_()
    assert str(chart).endswith(shown if shown != "0.0" else "+0.0")


def test_plainly_heard_is_bold():
    assert "<b>+20.1</b>" in _one_row(20.1)._repr_html_()
    assert "<b>-20.1</b>" in _one_row(-20.1)._repr_html_()
    assert "<b>" not in _one_row(19.8)._repr_html_()


def test_the_scale_and_the_air_are_said(chart):
    for shown in (str(chart), chart._repr_html_()):
        assert "just scale on D = " in shown
        assert "Air at 20 °C, 50 % humid" in shown
    equal = tuning_chart(sample_chanter(), TIGHT[:1], equal_scale(SHARP), Air(15.0, 0.25))
    assert "equal temperament on D" in str(equal)
    assert "Air at 15 °C, 25 % humid" in str(equal)


def test_warm_air_is_sharp_by_nearly_three_cents_a_degree():
    """Sound speed alone: 2.95 cents per degree in dry air at 20 C (CoolProp); losses and end add under 0.05."""
    pipe, notes = sample_chanter(), (TIGHT[0], TIGHT[2], TIGHT[14])
    cold, warm = (tuning_chart(pipe, notes, just_scale(SHARP), Air(t, 0.0)) for t in (19.0, 21.0))
    per_degree = (warm.cents - cold.cents) / 2
    # the blades do not warm with the air: their share of the high note's pitch stays
    assert per_degree[:2] == pytest.approx([2.95, 2.95], abs=0.25)
    assert np.all(per_degree < 2.98)


def test_default_scale_is_just_in_the_pipes_key():
    flat = replace(sample_chanter(), key="C")
    chart = tuning_chart(flat, TIGHT[:1])
    assert chart.scale == just_scale(key="C")
    assert chart.air == Air()
    assert chart.rows[0].target_hz == pytest.approx(440 * 2 ** (-9 / 12))


@pytest.mark.parametrize(
    ("value", "decimals", "said"),
    [
        (3.04, 1, "+3.0"),
        (-3.06, 1, "-3.1"),
        (0.04, 1, "0.0"),
        (-0.04, 1, "0.0"),
        (-0.04, 2, "-0.04"),
        (-0.004, 2, "0.00"),
        (0.0, 2, "0.00"),
    ],
)
def test_a_zero_has_no_sign(value, decimals, said):
    assert signed(value, decimals) == said
