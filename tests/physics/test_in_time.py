"""Pipe and valve in the time domain: its reflection function, closed forms, and tones of the harmonic balance."""

from functools import cache

import numpy as np
import pytest

from acoustics.errors import Refusal
from acoustics.physics.balance import Balance
from acoustics.physics.in_time import RATE, Echoes, echoes, sounding
from acoustics.physics.valve import Valve
from acoustics.tuning.load import loads
from acoustics.tuning.onset import speaking
from acoustics.tuning.outcome import as_tone
from acoustics.tuning.played import DEMO_VALVE, PRESSURE_FIRST, PRESSURE_SECOND
from acoustics.units import cents
from tests.physics.simple import DRY
from tests.pipes.sample import assert_one_sentence
from tests.tuning.bench import bench

GAS = bench().air.gas
ENDLESS = 2e-8


def delayed(samples: int, back: float) -> Echoes:
    """A tube without losses, whose open end sends everything back upside down after so many samples."""
    response = np.zeros(samples + 40)
    response[samples] = -back
    return Echoes(response, ENDLESS)


def zeta(valve):
    return valve.unit(DRY) / valve.closing_pressure / ENDLESS


@pytest.mark.parametrize("gamma", [0.38, 0.42, 0.46])
def test_the_two_step_tone(gamma):
    """Raman's square wave on the lossless cylinder: p^2 = (1 - gamma)(3 gamma - 1) pM^2, period twice the delay there
    and back: plateau within 0.5 %, period exact."""
    valve = Valve(0.42, 6000.0, 1e-3)
    assert zeta(valve) == pytest.approx(0.35, rel=6e-3)
    mouth = 6000.0 * np.minimum(np.linspace(0.34, 0.6, RATE), gamma)[None]
    sound = sounding([delayed(60, 1.0)], valve, DRY, mouth)[0]
    closed = np.sqrt((1.0 - gamma) * (3.0 * gamma - 1.0)) * 6000.0
    last = sound[-1200:]
    assert np.median(np.abs(last)) == pytest.approx(closed, rel=6e-4)
    assert np.allclose(last[:1080], last[120:], atol=1e-3 * closed)
    assert np.allclose(last[:1140], -last[60:], atol=1e-3 * closed)


@pytest.mark.parametrize(("share", "grows"), [(0.98, False), (1.02, True)])
def test_a_small_sound_grows_above_the_textbook_pressure(share, grows):
    """zeta (3 gamma - 1) / (2 sqrt(gamma)) = (1 - r) / (1 + r) for an echo that comes back r times as strong."""
    valve, back = Valve(0.6, 6000.0, 1e-3), 0.9
    loss = (1.0 - back) / (1.0 + back)
    gamma = share * np.max(np.roots([3.0, -2.0 * loss / zeta(valve), -1.0])) ** 2
    still = loss * zeta(valve) * float(valve.law(gamma)[0])  # such an echo hinders the steady flow too
    sound = sounding([delayed(60, back)], valve, DRY, np.full((1, RATE), (gamma + still) * 6000.0))[0]
    assert (np.ptp(sound[-1200:]) > 600.0) == grows
    assert (np.ptp(sound[-1200:]) < 60.0) == (not grows)


def test_a_head_without_end_answers_nothing():
    """The pressure is then that of the steady flow alone: p = U(pm - p) / endless."""
    valve, mouth = Valve(0.6, 6000.0), np.linspace(0.0, 7000.0, 200)[None]
    sound = sounding([Echoes(np.zeros(50), ENDLESS)], valve, DRY, mouth)
    assert np.allclose(sound, valve.flow(mouth - sound, DRY) / ENDLESS, atol=0.5)


def test_a_slit_too_wide_for_its_head():
    """Said in one sentence with what is allowed, and that is just allowed."""
    head, still = [Echoes(np.zeros(50), ENDLESS)], np.zeros((1, 10))
    with pytest.raises(Refusal, match="more than once") as refused:
        sounding(head, Valve(6.0, 6000.0), DRY, still)
    assert_one_sentence(refused.value, "valve: a slit of 6 mm2 is too wide")
    allowed = float(refused.value.allowed.split()[2])
    sounding(head, Valve(allowed - 0.01, 6000.0), DRY, still)
    with pytest.raises(Refusal):
        sounding(head, Valve(allowed + 0.01, 6000.0), DRY, still)


def test_far_beyond_the_closing_pressure():
    """The steady flow alone, p endless = U(pm - p), from 30 times shut to 30 times blown back; farther is refused."""
    valve, head = Valve(0.6, 6000.0), [Echoes(np.zeros(50), ENDLESS)]
    mouth = 6000.0 * np.linspace(-30.0, 30.0, 61)[None]
    sound = sounding(head, valve, DRY, mouth)
    assert np.allclose(sound * ENDLESS, valve.flow(mouth - sound, DRY), rtol=1e-5, atol=1e-4 * valve.unit(DRY))
    assert np.max(np.abs(mouth - sound)) > 25.0 * 6000.0
    with pytest.raises(Refusal) as refused:
        sounding(head, valve, DRY, np.full((1, 10), 1.1e3 * 6000.0))
    assert_one_sentence(refused.value, "mouth: the pressure across the lips comes to 1000 times the 6000 Pa")


def test_no_number_makes_no_sound():
    """A pressure that is none, and a tone of which only the pressure is known, as a sound listened to gives it."""
    valve, head = Valve(0.6, 6000.0), [Echoes(np.zeros(50), ENDLESS)]
    with pytest.raises(Refusal) as refused:
        sounding(head, valve, DRY, np.full((1, 10), np.nan))
    assert_one_sentence(refused.value, "mouth: the pressure across the lips comes to no number")
    heard = as_tone(np.sin(np.arange(2400.0)), RATE / (2.0 * np.pi), 3000.0, 4)
    with pytest.raises(Refusal) as refused:
        sounding(head, valve, DRY, np.full((1, 10), 3000.0), [heard])
    assert_one_sentence(refused.value, "tones: the flow of the tone to start on is not known")


@cache
def seen():
    patterns = tuple(dict.fromkeys(row.fingering.pattern for row in bench().chart.rows))
    return dict(zip(patterns, loads(bench().pipe, patterns, GAS), strict=True))


def test_the_reflection_function_is_that_of_the_pipe():
    """Back in frequency, at 2 to 30 times the lowest note: within 0.002, most of it within 0.0005."""
    frequency = np.geomspace(290.0, 8500.0, 60)
    for load in seen().values():
        response = echoes(load, load.endless).response
        made = np.exp(-2j * np.pi * np.outer(frequency / RATE, np.arange(len(response)))) @ response
        admittance = load(frequency)[0]
        error = np.abs(made - (load.endless - admittance) / (load.endless + admittance))
        assert error.max() < 2e-3
        assert np.median(error) < 5e-4


@cache
def tones():
    """Every demo tone that harmonic balance finds, with 24 harmonics, and a third of a second of each in time."""
    found = []
    for one in speaking(bench(), DEMO_VALVE):
        if one.own and one.row.note not in ("B", "C", "G#"):
            load = seen()[one.row.fingering.pattern]
            pressure = PRESSURE_FIRST if one.row.fingering.register == 1 else PRESSURE_SECOND
            tone = Balance(load, DEMO_VALVE, GAS, 24).play(one.own.frequency, one.own.pressure, pressure)
            found.append((one.row, load, tone))
    found = [one for one in found if one[0].title.split(",")[0] not in ("D", "Eb", "E", "F") or one[0].octave == 2]
    mouth = np.array([np.full(RATE // 3, tone.mouth_pressure) for *_, tone in found])
    pipes = [echoes(load, load.endless) for _, load, _ in found]
    return found, sounding(pipes, DEMO_VALVE, GAS, mouth, [tone for *_, tone in found])


def test_lasting_tones_are_those_of_the_harmonic_balance():
    """Pitch within 0.5 cents, amplitude of the fundamental and root mean square within 0.5 %, 14 tones or more."""
    found, sounds = tones()
    assert len(found) >= 14
    for (row, _, tone), sound in zip(found, sounds, strict=True):
        half = 2400
        comb = sound[-2 * half :] * np.exp(-2j * np.pi * tone.frequency / RATE * np.arange(2 * half))
        window = np.hanning(half)
        early, late = np.sum(window * comb[:half]), np.sum(window * comb[half:])
        away = cents(tone.frequency + np.angle(late / early) / (2.0 * np.pi * half / RATE), tone.frequency)
        assert abs(away) < 0.5, row.title
        assert 2.0 * abs(late) / window.sum() == pytest.approx(abs(tone.pressure[0]), rel=5e-3), row.title
        size = np.sqrt(0.5 * np.sum(np.abs(tone.pressure) ** 2))
        assert np.std(sound[-2 * half :]) == pytest.approx(size, rel=5e-3), row.title
