"""Which single change moves a note: by hand from a matrix of derivatives."""

import numpy as np
import pytest

from acoustics.errors import Refusal
from acoustics.tuning.advice import advice
from acoustics.tuning.sensitivity import Sensitivity
from tests.pipes.sample import assert_one_sentence

NOTES = ("A, first octave", "A, second octave", "B, first octave")
TIP, HOLE, DULL = [10.0, 20.0, -6.0], [4.0, 3.0, 0.5], [1e-9, 5.0, 5.0]
MANY = Sensitivity(NOTES, ("staple tip", "A size", "B size"), ("mm",) * 3, np.array([TIP, HOLE, DULL]).T)


def test_by_hand():
    """5 cents on A: the hole disturbs least, the staple more; what does not move it is left out."""
    hole, tip = advice(MANY, NOTES[0], 5.0)
    assert (hole.dimension, hole.amount, hole.said) == ("A size", 1.25, "+1.25 mm")
    assert (hole.partner, hole.worst, hole.worst_cents) == (3.75, NOTES[1], 3.75)
    assert hole.others == pytest.approx(np.hypot(3.75, 0.625) / np.sqrt(2.0))
    assert (tip.dimension, tip.amount, tip.worst, tip.worst_cents) == ("staple tip", 0.5, NOTES[1], 10.0)


def test_the_note_kept_counts_ten_times():
    """The other octave kept: its square counts ten times among eleven."""
    hole, _ = advice(MANY, NOTES[0], 5.0, keep=NOTES[1])
    assert hole.others == pytest.approx(np.sqrt((10.0 * 3.75**2 + 0.625**2) / 11.0))


def test_no_larger_than_a_workshop_would():
    assert [one.dimension for one in advice(MANY, NOTES[0], 10.0)] == ["staple tip"]
    assert advice(MANY, NOTES[0], 100.0) == ()


@pytest.mark.parametrize("others", [(), (np.nan,)])
def test_no_other_note(others):
    """A chart of one note, or of one that sounds: nothing is disturbed."""
    one = Sensitivity(NOTES[: 1 + len(others)], ("staple tip",), ("mm",), np.array([[10.0, *others]]).T)
    (found,) = advice(one, NOTES[0], 5.0)
    assert (found.amount, found.others, found.worst, found.worst_cents) == (0.5, 0.0, "", 0.0)
    assert np.isnan(found.partner)


def test_no_such_note():
    with pytest.raises(Refusal) as refused:
        advice(MANY, "H, first octave", 5.0)
    assert_one_sentence(refused.value, 'note: there is no note "H, first octave"')
