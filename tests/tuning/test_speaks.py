"""From rest: which notes of the demo speak, what comes instead, and the resonance to blame."""

from functools import cache

import numpy as np

from acoustics.physics.in_time import RATE
from acoustics.tuning.played import DEMO_VALVE, played_chart
from acoustics.tuning.speaks import attacks, sound_of, swell
from acoustics.units import cents
from tests.tuning.bench import bench


@cache
def chart():
    return played_chart(bench())


def test_who_speaks_and_who_is_to_blame():
    made = attacks(bench(), DEMO_VALVE, chart().rows)
    assert [one.row for one in made] == list(chart().rows)
    for one in made:
        if one.row.row.fingering.register == 1:
            assert one.speaks, one.row.row.title
        assert (one.said == "speaks") == one.speaks
        if one.speaks:
            assert one.blame is None
            assert abs(cents(one.end.frequency, one.row.tone.frequency)) < 3.0
        elif one.end.kind == "steady":
            assert abs(cents(one.blame.frequency, one.end.frequency)) < 120.0
            assert one.said.endswith(f"; nearest resonance {one.blame.frequency:.0f} Hz")
    fallen = [one for one in made if not one.speaks]
    assert fallen
    # What a B that drops plays is the B of the first octave, whose resonance is its own row's.
    low, high = (next(o for o in made if o.row.row.title == f"B, {which} octave") for which in ("first", "second"))
    assert abs(cents(high.blame.frequency, low.row.row.sounding_hz)) < 0.01


def test_a_tone_that_does_not_last_has_no_lasting_pitch():
    rows = chart().rows
    assert len(rows) == len(bench().chart.rows)
    assert not all(row.lasts for row in rows)
    for row in rows:
        assert row.lasting_cents == row.cents if row.lasts else np.isnan(row.lasting_cents)


def test_a_swell_goes_up_and_down_and_is_silent_at_its_ends():
    course = swell(1500.0, 4000.0, 1.0)
    assert course[0] == course[-1] == 1500.0
    assert course.max() == 4000.0
    assert len(course) == RATE
    row = next(row for row in bench().chart.rows if row.title == "A, first octave")
    sound = sound_of(bench(), DEMO_VALVE, row, course)
    assert sound.shape == course.shape
    assert np.std(sound[6000:9000]) < 30.0
    assert np.std(sound[-4000:]) < 30.0
    assert np.std(sound[24000:28000]) > 1000.0
