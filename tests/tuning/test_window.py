"""Between which pressures a tone lasts, and the voices of one note, against the time domain."""

from functools import cache

import numpy as np
import pytest

from acoustics.tuning.dials import DIALS
from acoustics.tuning.load import loads
from acoustics.tuning.outcome import settled
from acoustics.tuning.played import DEMO_VALVE, PRESSURE_FIRST, PRESSURE_SECOND, played_chart
from acoustics.tuning.two_voices import octave_share, voices
from acoustics.tuning.window import HIGHEST_PA, followed, windows
from acoustics.units import cents
from tests.tuning.bench import bench

GAS = bench().air.gas
NOTES = ("D, second octave", "G, first octave", "A, second octave", "back D, first octave")


@cache
def chosen():
    rows = [row for row in played_chart(bench()).rows if row.row.title in NOTES]
    return {one.row.row.title: one for one in windows(bench(), DEMO_VALVE, rows)}


def seen(row):
    return loads(bench().pipe, [row.fingering.pattern], GAS)[0]


def test_the_chart_lies_inside_its_windows():
    assert set(chosen()) == set(NOTES)
    for one in chosen().values():
        assert one.low < one.row.mouth_pressure < one.high <= HIGHEST_PA
        assert np.all(np.diff(one.pressure) > 0.0)
        at = np.interp(one.row.mouth_pressure, one.pressure, one.cents)
        assert at == pytest.approx(one.row.cents, abs=0.3)
        assert one.row.mouth_pressure == (PRESSURE_FIRST if "first" in one.row.row.title else PRESSURE_SECOND)


def test_a_tone_that_still_lasts_is_followed_to_where_the_search_ends():
    open_above = [one for one in chosen().values() if one.open_above]
    assert open_above
    for one in open_above:
        assert one.tones[-1].mouth_pressure == pytest.approx(HIGHEST_PA)


def test_pitch_per_kpa_is_the_slope_along_the_window():
    for one in chosen().values():
        middle = np.argmin(np.abs(one.pressure - one.row.mouth_pressure))
        assert one.tones[middle].cents_per_kpa == pytest.approx(one.row.cents_per_kpa, rel=0.05, abs=0.2)


@pytest.mark.parametrize("title", ["A, second octave", "D, second octave"])
def test_the_lower_edge_in_the_time_domain(title):
    """4 % above the edge the tone stays within a cent; 4 % below it the reed goes on to something else."""
    one, load = chosen()[title], seen(chosen()[title].row.row)
    edge = one.tones[0]
    mouth = [1.04 * one.low, 0.96 * one.low]
    inside, outside = settled([load] * 2, DEMO_VALVE, GAS, mouth, [edge, edge], seconds=1.0)
    pitch = np.interp(mouth[0], one.pressure, one.cents)
    assert inside[0].kind == "steady"
    assert cents(inside[0].frequency, one.row.row.target_hz) == pytest.approx(pitch, abs=1.0)
    change = abs(cents(outside[0].frequency, edge.frequency))
    assert outside[0].kind != "steady" or change > 1000.0


def test_what_a_window_says():
    said = chosen()["A, second octave"].said
    assert said.startswith("lasts from 4.")
    assert "it drops to the octave below" in said
    assert "it dies away" in chosen()["G, first octave"].said


def test_two_voices_of_the_lowest_note():
    """At 3.9 kPa D has a voice with a weak octave and one with a strong, both last, a few cents apart."""
    low = bench().chart.rows[0]
    weak, strong = voices(bench(), DEMO_VALVE, low, 3900.0)
    assert octave_share(weak.tone) < 1.0 < 2.0 < octave_share(strong.tone)
    assert 0.5 < abs(weak.cents - strong.cents) < 10.0
    kept = settled([seen(low)] * 2, DEMO_VALVE, GAS, [3900.0] * 2, [weak.tone, strong.tone])
    for voice, (_, end) in zip((weak, strong), kept, strict=True):
        assert abs(cents(end.frequency, voice.tone.frequency)) < 1.0
        assert octave_share(end) == pytest.approx(octave_share(voice.tone), rel=0.05)


def test_a_wider_throat_takes_the_fuller_voice():
    """0.2 mm wider, the second mode is sharper against the first, and the voice with the weak octave is gone."""
    low, wide = bench().chart.rows[0], DIALS["throat"].turn(bench(), 0.2)
    known = [voice.tone for voice in voices(bench(), DEMO_VALVE, low, 3900.0)]
    left = voices(wide, DEMO_VALVE, wide.chart.rows[0], 3900.0, known)
    assert len(left) == 1
    assert octave_share(left[0].tone) > 2.0


def test_the_charts_own_tone_is_one_of_the_voices():
    """Below the pressure at which G starts from rest its tone still lasts: neither branch nor silence leads there."""
    one = chosen()["G, first octave"]
    pressure = 0.5 * (one.low + one.row.onset.pressure)
    (voice,) = voices(bench(), DEMO_VALVE, one.row.row, pressure)
    assert voice.cents == pytest.approx(followed(bench(), DEMO_VALVE, one, pressure).cents, abs=1e-6)
