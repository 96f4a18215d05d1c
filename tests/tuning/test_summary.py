"""Charts and changes in sentences, of charts made by hand."""

import numpy as np
import pytest

from acoustics.errors import Refusal
from acoustics.physics.air import Air
from acoustics.pipes.fingering import TIGHT, Fingering
from acoustics.tuning.chart import Row, TuningChart
from acoustics.tuning.resonances import Mode
from acoustics.tuning.scales import just_scale
from acoustics.tuning.summary import compare, summary
from acoustics.units import from_cents
from tests.pipes.sample import assert_one_sentence

D1, G1, D2, G2 = TIGHT[0], TIGHT[5], TIGHT[12], TIGHT[17]
BACK = TIGHT[24]


def chart(**notes) -> TuningChart:
    """A chart of low D and G and their octaves, cents by name; None is silent."""
    fingered = {"d": D1, "g": G1, "d2": D2, "g2": G2, "back": BACK}
    return of([(fingered[name], cents) for name, cents in notes.items()])


def of(pairs) -> TuningChart:
    scale = just_scale()
    rows = []
    for fingering, cents in pairs:
        target = scale.frequency(fingering.note, fingering.octave)
        mode = None if cents is None else Mode(target * from_cents(cents), 1.0, 20.0, 0.0)
        rows.append(Row(fingering, target, mode, (), ()))
    return TuningChart("by hand", scale, Air(), tuple(rows))


FLAT = {"d": 0.0, "g": 0.0, "d2": 0.0, "g2": 0.0}


@pytest.mark.parametrize(
    ("notes", "sentence"),
    [
        (
            {"d": 2.0, "g": -4.0, "d2": 7.4, "g2": 12.0},
            "2 of 4 notes lie within 5 cents of the scale; the worst is G in the second octave, 12 cents sharp."
            " The octaves are 11 cents too wide on average; the worst is that of G, 16 cents too wide.",
        ),
        (
            {"d": 2.0, "g": -21.6, "d2": -5.0, "g2": -19.0},
            "2 of 4 notes lie within 5 cents of the scale; the worst is G in the first octave, 22 cents flat."
            " The octaves are 2 cents too narrow on average; the worst is that of D, 7 cents too narrow.",
        ),
        (
            {"d": 1.0, "g": 0.0, "d2": 0.0, "g2": 0.0},
            "4 of 4 notes lie within 5 cents of the scale; the worst is D in the first octave, 1 cent sharp."
            " The octaves are true on average; the worst is that of D, 1 cent too narrow.",
        ),
        (
            FLAT,
            "4 of 4 notes lie within 5 cents of the scale; the worst is D in the first octave, in tune."
            " The octaves are true on average; the worst is that of D, true.",
        ),
        (
            {"d": -6.0, "g": None, "back": 8.0},
            "0 of 3 notes lie within 5 cents of the scale; the worst is back D in the first octave, 8 cents sharp."
            " Nothing sounds near G.",
        ),
        (
            {"d": -6.0, "d2": None, "g": None, "g2": None},
            "0 of 4 notes lie within 5 cents of the scale; the worst is D in the first octave, 6 cents flat."
            " Nothing sounds near D, G.",
        ),
        ({"d": None, "g": None}, "No note sounds near its target."),
    ],
)
def test_summary(notes, sentence):
    assert summary(chart(**notes)) == sentence


def test_edge_of_in_tune_counts():
    assert summary(chart(d=5.0 - 1e-9, g=-5.0 + 1e-9)).startswith("2 of 2 notes")
    assert summary(chart(d=5.0 + 1e-6, g=-5.0 - 1e-6)).startswith("0 of 2 notes")


@pytest.mark.parametrize(
    ("before", "after", "sentence"),
    [
        (
            FLAT,
            {"d": 2.0, "g": 6.0, "d2": -3.0, "g2": -12.4},
            "First octave up 4 cents, second octave down 8 cents on average;"
            " most of all G in the second, down 12 cents."
            " The octaves are 12 cents too narrow on average; the worst is that of G, 18 cents too narrow.",
        ),
        (
            {"d": 10.0, "g": 10.0, "d2": 10.0, "g2": 10.0},
            {"d": 9.0, "g": 9.0, "d2": 10.0, "g2": 10.0},
            "First octave down 1 cent, second octave unmoved on average; most of all D in the first, down 1 cent."
            " The octaves are 1 cent too wide on average; the worst is that of D, 1 cent too wide.",
        ),
        (
            FLAT,
            {"d": 0.4, "g": -0.4, "d2": 0.0, "g2": 0.49},
            "Nothing moved by as much as half a cent."
            " The octaves are true on average; the worst is that of G, 1 cent too wide.",
        ),
        (
            FLAT,
            {"d": 3.0, "g": None, "d2": 3.0, "g2": 1.0},
            "First octave up 3 cents, second octave up 2 cents on average; most of all D in the first, up 3 cents."
            " Nothing sounds near G. The octaves are true on average; the worst is that of D, true.",
        ),
        (
            FLAT,
            {"d": 0.0, "g": 0.0, "d2": 0.0, "g2": None},
            "Nothing moved by as much as half a cent. Nothing sounds near G."
            " The octaves are true on average; the worst is that of D, true.",
        ),
    ],
)
def test_compare(before, after, sentence):
    assert compare(chart(**before), chart(**after)) == sentence


def test_back_d_is_named_so():
    before, after = chart(**FLAT, back=0.0), chart(**FLAT, back=-30.0)
    assert "most of all back D in the first, down 30 cents" in compare(before, after)


def test_one_octave_alone_is_summed_up():
    """No second octave, or none that sounds both times: what the chart says stands for what moved."""
    for before, after in (
        (chart(d=0.0, g=0.0), chart(d=3.0, g=9.0)),
        (chart(d=0.0, g=0.0, d2=None), chart(d=3.0, g=9.0, d2=0.0)),
    ):
        assert compare(before, after) == summary(after)
    silent = chart(d=None, g=None, d2=None, g2=None)
    assert compare(chart(**FLAT), silent) == "No note sounds near its target."


def test_other_fingerings_of_the_same_notes_are_compared():
    """A half-covered hole is another pattern, not another note."""
    taped = Fingering("G", 1, {"G": 0.5, "F#": 1.0})
    before = of([(D1, 0.0), (G1, 0.0), (D2, 0.0)])
    after = of([(D1, 0.0), (taped, -8.0), (D2, 0.0)])
    assert compare(before, after).startswith("First octave down 4 cents, second octave unmoved on average; most of all")


@pytest.mark.parametrize("other", [chart(d=0.0, g=0.0, d2=0.0), chart(g=0.0, d=0.0, d2=0.0, g2=0.0), chart(d=0.0)])
def test_unlike_charts_are_not_compared(other):
    with pytest.raises(Refusal) as refused:
        compare(chart(**FLAT), other)
    assert_one_sentence(refused.value, "chart: the two charts are not of the same notes")


def test_second_d_and_back_d_are_unlike():
    """The same note and octave, but one is overblown."""
    with pytest.raises(Refusal, match="not of the same notes"):
        compare(of([(D1, 0.0), (D2, 0.0)]), of([(D1, 0.0), (BACK, 0.0)]))


def test_sentences_agree_with_their_charts():
    """Random charts: the counts and the extremes of the sentence are those of the numbers."""
    draw = np.random.default_rng(7)
    for _ in range(50):
        cents = draw.normal(0.0, 8.0, len(TIGHT))
        made = of(zip(TIGHT, cents, strict=True))
        said = summary(made)
        assert said.startswith(f"{np.sum(np.abs(cents) <= 5.0)} of {len(TIGHT)} notes")
        worst = cents[np.argmax(np.abs(cents))]
        assert (
            f"{abs(worst):.0f} cent{'' if round(abs(worst)) == 1 else 's'} {'sharp' if worst > 0 else 'flat'}." in said
        )
        shift = draw.normal(0.0, 6.0)
        if abs(shift) > 0.5:
            way = f"{'up' if shift > 0 else 'down'} {abs(shift):.0f} cent{'' if round(abs(shift)) == 1 else 's'}"
            moved = compare(made, of(zip(TIGHT, cents + shift, strict=True)))
            assert moved.startswith(f"First octave {way}, second octave {way} on average")
