"""The demo chanter as it is played: onset, power, harmonics, refusals, and the same tones in the time domain."""

import itertools
from functools import cache

import numpy as np
import pytest

from acoustics.errors import Refusal
from acoustics.physics.balance import Balance, Lost
from acoustics.physics.stability import growing
from acoustics.physics.valve import Valve
from acoustics.tuning.chart import label
from acoustics.tuning.load import loads
from acoustics.tuning.onset import speaking
from acoustics.tuning.played import DEMO_VALVE, PRESSURE_FIRST, PRESSURE_SECOND, played_chart
from acoustics.units import cents
from tests.pipes.sample import assert_one_sentence
from tests.references.reed_time import fitted, settle
from tests.tuning.bench import bench

GAS = bench().air.gas
CLOSING = DEMO_VALVE.closing_pressure


@cache
def chart(harmonics: int = 12):
    return played_chart(bench(), harmonics=harmonics)


@cache
def load(pattern):
    return loads(bench().pipe, [pattern], GAS)[0]


def name(row):
    return f"{label(row.row.fingering)} {row.row.fingering.register}"


SOUNDING = [i for i, row in enumerate(chart().rows) if row.tone]


def test_nearly_all_notes_sound():
    assert len(chart().rows) == 26
    assert len(SOUNDING) >= 23
    assert sum(row.lasts is True for row in chart().rows) >= 20
    assert all(row.lasts for row in chart().rows if row.row.fingering.register == 1)
    assert {row.lasts for row in chart().rows} == {True, False, None}


def test_the_smallest_tone_is_the_onset():
    """Frequency within 0.1 cents, pressure within 1e-4, for every note that has an onset."""
    spoken = [one for one in speaking(bench(), DEMO_VALVE) if one.own]
    assert len(spoken) >= 24
    for one in spoken:
        balance = Balance(load(one.row.fingering.pattern), DEMO_VALVE, GAS)
        x, _ = balance.start(1.0005 * one.own.frequency, 1.01 * one.own.pressure)
        assert abs(cents(np.exp(x[1]), one.own.frequency)) < 0.1
        assert x[-1] * CLOSING == pytest.approx(one.own.pressure, rel=1e-4)


@pytest.mark.parametrize("i", SOUNDING)
def test_power_and_reactive_power(i):
    """Valve against pipe within 1e-6, the valve asked at 20001 points that the balance never saw.

    And sum n |P_n|^2 Im Y(n f) = 0 (X. Boutillon and V. Gibiat, J. Acoust. Soc. Am. 100, 1178 (1996), from memory).
    """
    row = chart().rows[i]
    tone, number = row.tone, np.arange(1, 13)
    admittance = load(row.row.fingering.pattern)(number * tone.frequency)[0]
    pressure = tone.waveform(20001)
    given = np.mean(pressure * DEMO_VALVE.flow(tone.mouth_pressure - pressure, GAS))
    taken = 0.5 * np.sum(admittance.real * np.abs(tone.pressure) ** 2)
    assert taken > 0.0
    assert given == pytest.approx(taken, rel=1e-6)
    reactive = number * np.abs(tone.pressure) ** 2 * admittance.imag
    assert abs(reactive.sum()) < 1e-6 * np.abs(reactive).max()


def test_harmonics_doubled():
    """No note of the demo moves by as much as 1 cent."""
    twice = chart(24)
    assert [row.tone is None for row in twice.rows] == [row.tone is None for row in chart().rows]
    moved = {name(one): abs(one.cents - two.cents) for one, two in zip(chart().rows, twice.rows, strict=True)}
    assert {note for note, by in moved.items() if by >= 1.0} == set()
    assert max(by for by in moved.values() if np.isfinite(by)) > 1e-6


def test_what_a_row_says():
    for row, plain in zip(chart().rows, bench().chart.rows, strict=True):
        assert row.row is plain
        assert row.resonance_cents == plain.cents
        assert row.mouth_pressure == (PRESSURE_FIRST if plain.fingering.register == 1 else PRESSURE_SECOND)
        if row.tone is None:
            continue
        assert row.tone.mouth_pressure == pytest.approx(row.mouth_pressure, rel=1e-12)
        assert row.register == plain.fingering.register
        assert row.tone.frequency <= row.centroid_hz < 12.0 * row.tone.frequency
        assert abs(row.cents - row.resonance_cents) < 40.0
        assert (row.becomes is None) == row.lasts
        if not row.lasts:
            assert row.status == "does not last: it drops to the octave below"
            assert row.becomes.kind == "steady"
            continue
        assert f"{cents(row.tone.frequency, plain.sounding_hz):+.1f} cents".replace("-0.0", "+0.0") in row.status


def test_pitch_per_kpa_is_a_difference():
    low, high = (played_chart(bench(), pressure_first=p, pressure_second=p + 1400.0) for p in (3590.0, 3610.0))
    compared = [
        (row.cents_per_kpa, (two.cents - one.cents) / 0.02)
        for row, one, two in zip(chart().rows, low.rows, high.rows, strict=True)
        if row.tone and one.tone and two.tone
    ]
    assert len(compared) >= 20
    for slope, difference in compared:
        assert slope == pytest.approx(difference, rel=0.02, abs=0.05)


def test_no_pitch_is_made_up():
    """Below every onset nothing sounds, and each row says at which pressure it would start."""
    soft = played_chart(bench(), pressure_first=2000.0, pressure_second=2000.0)
    assert all(row.tone is None for row in soft.rows)
    assert np.all(np.isnan(soft.cents))
    for row in soft.rows:
        assert np.isnan(row.cents_per_kpa)
        assert np.isnan(row.centroid_hz)
        assert row.register is None
        if row.onset:
            assert row.status == f"no tone at 2.00 kPa: it starts only at {row.onset.pressure / 1e3:.2f} kPa"


def test_a_reed_that_shuts_first():
    closed = played_chart(bench(), Valve(0.05, 6800.0))
    assert all(row.onset is None and "shut at 6.80 kPa before" in row.status for row in closed.rows)


def test_the_table():
    lines = str(chart()).splitlines()
    assert len(lines) == 28
    for line, row in zip(lines[2:], chart().rows, strict=True):
        assert line.startswith(row.row.title)
        assert (f"{row.cents:+.1f}".replace("-0.0", "+0.0") in line) if row.tone else line.endswith(row.status)
        assert ("does not last" in line) == (row.lasts is False)


@pytest.mark.parametrize(("field", "value"), [("pressure_first", 4.0), ("pressure_second", 1e6), ("harmonics", 1)])
def test_refusals(field, value):
    with pytest.raises(Refusal) as caught:
        played_chart(bench(), **{field: value})
    assert_one_sentence(caught.value, field)


@cache
def spoken(note, register):
    """The onset of a note, its balance with 24 harmonics, and its pattern; "D" 1 is the back D."""
    found = [s for s in speaking(bench(), DEMO_VALVE) if (s.row.note, s.row.fingering.register) == (note, register)]
    one = found[-1] if register == 1 else found[0]
    pattern = one.row.fingering.pattern
    return one.own, Balance(load(pattern), DEMO_VALVE, GAS, 24), pattern


LOW_G = 0.9 * spoken("G", 1)[0].pressure
FIRST = ("F#", "G", "G#", "A", "Bb", "B", "C", "C#", "D")
SECOND = ("D", "Eb", "E", "F", "F#", "G", "A", "Bb")
LASTING = [
    *((note, 1, PRESSURE_FIRST, 0.9) for note in FIRST),
    *((note, 2, PRESSURE_SECOND, 0.9) for note in SECOND),
    *((note, 1, 4200.0, 0.9) for note in ("G", "Bb", "C#")),
    ("G", 1, LOW_G, 0.9),
]
SOFT, LEFT = ("G", 1, LOW_G, 0.02), ("Eb", 1, 3600.0, 0.9)


@cache
def modes_of(pattern):
    """The impedance at the lips as a sum of modes, in units of the valve."""
    frequency = np.concatenate([np.arange(40, 1000, 5.0), np.arange(1000, 3000, 10.0), np.arange(3000, 14000, 25.0)])
    return fitted(frequency, DEMO_VALVE.unit(GAS) / CLOSING / load(pattern)(frequency)[0])


@cache
def in_time():
    """What pipe and valve play in the time domain, each set going with a share of the balanced flow.

    Returns, for each note, the distance from the balanced tone in cents, and the ratios of fundamental and of
    root mean square to those balanced.
    """
    unit = DEMO_VALVE.unit(GAS)
    cases = [*LASTING, SOFT, LEFT]
    tones, modals = [], []
    for note, register, pressure, _ in cases:
        start, balance, pattern = spoken(note, register)
        tones.append(balance.play(start.frequency, start.pressure, pressure))
        modals.append(modes_of(pattern))
    heard = settle(
        modals,
        lambda x: DEMO_VALVE.law(x)[0],
        [tone.mouth_pressure / CLOSING for tone in tones],
        [tone.frequency for tone in tones],
        [case[3] * tone.flow / unit for case, tone in zip(cases, tones, strict=True)],
        0.05,
        0.05,
    )
    found = {}
    for case, tone, (pitch, first, rms) in zip(cases, tones, heard, strict=True):
        size = np.abs(tone.pressure) / CLOSING
        found[case] = cents(pitch, tone.frequency), first / size[0], rms / np.sqrt(0.5 * np.sum(size**2))
    return found


@pytest.mark.parametrize("case", LASTING)
def test_the_same_tone_in_the_time_domain(case):
    """Pitch within 2 cents, amplitude within 3 %, of 21 tones."""
    assert len(LASTING) == 21
    away, first, rms = in_time()[case]
    assert abs(away) < 2.0
    assert first == pytest.approx(1.0, abs=0.03)
    assert rms == pytest.approx(1.0, abs=0.03)


def test_a_tone_that_does_not_last_is_left_in_the_time_domain():
    """The first tone of Eb; the chart has another one, which lasts, in its place."""
    start, balance, _ = spoken("Eb", 1)
    left = balance.play(start.frequency, start.pressure, PRESSURE_FIRST)
    assert growing(left, balance.admittance, DEMO_VALVE, GAS) > 0
    row = next(r for r in chart().rows if name(r) == "Eb 1")
    assert row.lasts
    assert 3.0 < row.cents - cents(left.frequency, row.row.target_hz) < 15.0
    _, first, rms = in_time()[LEFT]
    assert max(abs(first - 1.0), abs(rms - 1.0)) > 0.1


def test_a_tone_below_its_onset():
    """G starts backwards: at 0.9 of its onset a loud start stays loud and a soft one dies, at 0.8 there is no tone."""
    start, balance, _ = spoken("G", 1)
    pressures = np.array([x[-1] for x, _ in itertools.islice(balance.along(start.frequency, start.pressure), 12)])
    turning = pressures.min() * CLOSING
    assert 0.8 * start.pressure < turning < 0.88 * start.pressure
    tone = balance.play(start.frequency, start.pressure, LOW_G)
    assert growing(tone, balance.admittance, DEMO_VALVE, GAS) == 0
    assert in_time()[SOFT][2] < 0.02
    with pytest.raises(Lost, match=f"starts only at {start.pressure / 1e3:.2f} kPa"):
        balance.play(start.frequency, start.pressure, 0.8 * start.pressure)


def test_a_note_that_breaks_says_so():
    """A reed opened to 0.7 mm2: A of the second octave ends in its own octave before 5 kPa."""
    opened = played_chart(bench(), Valve(0.7, 6800.0), 3600.0, 5000.0)
    row = next(row for row in opened.rows if name(row) == "A 2")
    assert row.tone is None
    assert row.status.startswith("no tone at 5.00 kPa: it breaks into its octave (")
    reached = float(row.status.split("(")[1].split()[0])
    assert row.onset.pressure / 1e3 < reached < 5.0
