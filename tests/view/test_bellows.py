"""The panel of the played page driven without a browser, and the pictures beside it."""

import io
import wave
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from acoustics.physics.in_time import RATE
from acoustics.tuning.played import DEMO_VALVE, played_chart, played_rows
from acoustics.tuning.window import LOWEST_PA, windows
from acoustics.view import Bellows, plot_played, plot_tone, plot_windows
from acoustics.view.bellows import _said
from tests.tuning.bench import bench


@pytest.fixture(scope="module")
def panel():
    return Bellows(bench(), DEMO_VALVE, "G, first octave")


@pytest.fixture(autouse=True)
def rested(panel):
    panel.opening.value, panel.strength.value = DEMO_VALVE.opening_mm2, DEMO_VALVE.closing_pressure / 1e3
    panel.note.value, panel.pressure.value = "G, first octave", 3.6


def test_it_says_what_the_played_row_is(panel):
    row = played_rows(bench(), DEMO_VALVE, [panel.row], [3600.0])[0]
    assert f"G, first octave at 3.6 kPa: {row.cents:+.1f} cents" in panel.words.value
    assert "It lasts from 2." in panel.words.value
    assert Image.open(io.BytesIO(panel.picture.value)).format == "PNG"


def test_a_zero_has_no_sign_in_or_out_of_a_window(panel):
    row = played_rows(bench(), DEMO_VALVE, [panel.row], [3600.0])[0]
    barely_flat = replace(row, tone=replace(row.tone, frequency=row.row.target_hz * (1.0 - 1e-5)))
    for window in (None, windows(bench(), DEMO_VALVE, [row])[0]):
        assert _said(barely_flat, window).startswith("G, first octave at 3.6 kPa: 0.0 cents, and ")


def test_the_bag_moves_it(panel):
    before, said = panel.picture.value, panel.words.value
    panel.pressure.value = 4.4
    row = played_rows(bench(), DEMO_VALVE, [panel.row], [4400.0])[0]
    assert f"at 4.4 kPa: {row.cents:+.1f} cents" in panel.words.value
    assert panel.picture.value != before
    panel.pressure.value = 3.6
    assert panel.words.value == said
    assert panel.picture.value == before


def test_too_soft_a_bag(panel):
    panel.pressure.value = 1.6
    assert "no tone at 1.60 kPa" in panel.words.value
    assert "G, first octave: no tone" not in repr(panel)
    assert "cents" not in panel.words.value


def test_a_note_that_drops(panel):
    panel.note.value, panel.pressure.value = "B, second octave", 5.0
    assert "does not last: it drops to the octave below" in panel.words.value


def test_another_reed(panel):
    said = panel.words.value
    panel.opening.value = 0.42
    assert panel.valve.opening_mm2 == 0.42
    assert panel.words.value != said
    panel.opening.value, panel.strength.value = DEMO_VALVE.opening_mm2, 7.4
    assert panel.valve.closing_pressure == 7400.0
    assert panel.words.value != said


def test_hear_it_start(panel):
    """A second at 48 kHz; its strongest overtone is a multiple of G, within a bin of 1 Hz."""
    panel.hear()
    with wave.open(io.BytesIO(panel.audio.value)) as file:
        assert file.getframerate() == RATE
        samples = np.frombuffer(file.readframes(file.getnframes()), "<i2")
    assert len(samples) > RATE
    spectrum = np.abs(np.fft.rfft(samples[-RATE - RATE // 10 : -RATE // 10].astype(float)))
    ratio = np.argmax(spectrum) / panel.row.target_hz
    assert abs(ratio - round(ratio)) < 0.02 * round(ratio)


def test_pictures_carry_their_numbers():
    chart = played_chart(bench())
    few = [row for row in chart.rows if row.row.note == "A"]
    found = windows(bench(), DEMO_VALVE, few)
    assert plot_played(chart).words == str(chart)
    drawn = plot_windows(found, chart)
    assert drawn.figure.axes[0].get_ylim()[0] < LOWEST_PA / 1e3
    words = drawn.words.splitlines()
    assert len(words) == 1 + len(chart.rows)
    for window in found:
        line = next(line for line in words if line.startswith(window.row.row.title))
        assert f"{window.low / 1e3:.1f}" in line
    assert "and below" not in "".join(words)
    low = plot_windows((replace(found[0], open_below=True),), chart).words
    assert next(line for line in low.splitlines() if line.startswith(few[0].row.title)).endswith(", and below 1.0")
    silent = next(row for row in chart.rows if row.tone is None)
    assert "shut" in plot_tone(silent, DEMO_VALVE, None).words
    drawn = plot_tone(few[0], DEMO_VALVE, found[0])
    assert f"{few[0].centroid_hz:.0f} Hz" in drawn.words
    curve = drawn.figure.axes[2].lines[1].get_ydata()
    np.testing.assert_allclose(curve, found[0].cents)
