"""Pictures of a set: what is drawn is what was computed, and the words say the same numbers."""

from functools import cache

import numpy as np
from matplotlib.colors import to_hex
from matplotlib.patches import Rectangle

from acoustics.pipes.set_file import read_set
from acoustics.tuning.agreement import agreement
from acoustics.tuning.keys import block_length, shut_keys
from acoustics.tuning.regulators import regulator_chart, stopper_curve
from acoustics.view import (
    against_table,
    draw_pipe,
    plot_key_curve,
    plot_regulators,
    plot_shut_keys,
    plot_stopper,
    plot_worst,
    slide_table,
)
from acoustics.view.picture import BRASS, CANE
from tests.tuning.bench import DESIGNS, demo


@cache
def found():
    return agreement(read_set(DESIGNS / "sallow-ford-set.toml"))


def test_the_bars_are_the_worst_beats_from_the_top_down():
    picture = plot_worst(found(), 30)
    (axis,) = picture.figure.axes
    bars = sorted((bar for bar in axis.patches if isinstance(bar, Rectangle)), key=lambda bar: -bar.get_y())
    worst = found().worst_first[:30]
    np.testing.assert_allclose([bar.get_width() for bar in bars], [one.beats for one in worst])
    named = {text.get_position()[1]: text.get_text() for text in axis.get_yticklabels()}
    for bar, one in zip(bars, worst, strict=True):
        assert named[round(bar.get_y() + bar.get_height() / 2)].endswith(one.note)
    lines = picture.words.splitlines()[1:]
    assert len(lines) == 30
    for line, one in zip(lines, worst, strict=True):
        assert line.startswith(one.pipe)
        assert f"{one.overtone} against {one.drone_overtone}" in line
        assert f"{one.beats:.1f}" in line.split()[-2]
    assert "-0.0" not in picture.words


def test_every_d_stands_in_the_table_of_the_tonic():
    said = repr(against_table(found().at_the_tonic)).splitlines()[1:]
    assert len(said) == 18
    assert sum("Sallow Ford baritone regulator" in line for line in said) == 3


def test_the_slides():
    lines = repr(slide_table(found())).splitlines()[1:]
    for line, place in zip(lines, found().slides, strict=True):
        numbers = line.split(" drone")[1].split()
        assert numbers[:4] == [
            f"{place.sounds_hz:.2f}",
            f"{place.target_hz:.2f}",
            f"{place.drone.slide.gap_mm:.1f}",
            f"{place.needs_mm:.1f}",
        ]
        assert numbers[4:6] == [f"{place.sharp_cents:.0f}", f"{place.flat_cents:.0f}"]


def test_a_slide_out_of_reach_is_said_so():
    far = agreement(found().pipes, keynote_hz=310.0)
    assert repr(slide_table(far)).count("out of reach") == 3


def test_every_key_is_a_dot_at_its_cents():
    (axis,) = plot_regulators(found().regulators).figure.axes
    lines = [line for line in axis.lines if line.get_marker() not in ("None", None, "")]
    for line, chart in zip(lines, found().regulators, strict=True):
        np.testing.assert_array_equal(line.get_ydata(), chart.cents)
        assert line.get_label() == chart.regulator.name


def test_the_stoppers_lines_are_charts_of_moved_stoppers():
    chart, moves = found().regulators[2], [-10.0, 0.0, 10.0]
    picture = plot_stopper(chart, moves)
    curve = stopper_curve(chart.regulator, moves)
    np.testing.assert_array_equal(curve[1], chart.cents)
    np.testing.assert_array_equal(curve[2], regulator_chart(chart.regulator.stopped(770.0)).cents)
    lines = [line for line in picture.figure.axes[0].lines if line.get_label() in ("G", "A", "B", "C")]
    np.testing.assert_array_equal(np.transpose([line.get_ydata() for line in lines]), curve)
    assert picture.words.splitlines()[1].split()[:2] == ["-10", f"{curve[0, 0]:+.1f}"]


def test_what_keys_cost_is_drawn_octave_by_octave():
    costs = shut_keys(demo())
    picture = plot_shut_keys(costs)
    first, second = picture.figure.axes
    for axis, octave in ((first, "first octave"), (second, "second octave")):
        at = [i for i, note in enumerate(costs.notes) if note.endswith(octave)]
        np.testing.assert_array_equal([bar.get_height() for bar in axis.patches], np.nan_to_num(costs.together[at]))
        marks = [line for line in axis.lines if line.get_label() in costs.keys]
        np.testing.assert_array_equal([line.get_ydata() for line in marks], costs.moved[:, at])
    assert len(picture.words.splitlines()) == 1 + len(costs.notes)


def test_a_keys_own_notes_and_those_it_moves_most_are_drawn():
    curve = block_length(demo(), "G#", [0.0, 2.5, 6.0])
    lines = [line for line in plot_key_curve(curve).figure.axes[0].lines if len(line.get_xdata()) == 3]
    names = [line.get_label().split(" (")[0] for line in lines]
    assert names[:2] == ["G#, first octave", "G#, second octave"]
    rest = [np.max(np.abs(curve.moved[:, i])) for i in range(26) if not curve.own[i]]
    for line, name in zip(lines, names, strict=True):
        values = curve.moved[:, curve.notes.index(name)]
        np.testing.assert_array_equal(line.get_ydata(), values)
        if "shut" in line.get_label():
            assert np.max(np.abs(values)) in sorted(rest)[-2:]


def test_a_regulator_is_drawn_with_pads_and_stopper():
    pipe = found().regulators[0].regulator
    cut, front = draw_pipe(pipe).figure.axes
    pads = [patch for patch in front.patches if to_hex(patch.get_facecolor()) == BRASS]
    assert [patch.width for patch in pads] == [key.pad_diameter_mm for key in pipe.holes]
    (stopper,) = (p for p in cut.patches if isinstance(p, Rectangle) and to_hex(p.get_facecolor()) == CANE)
    end, wide = pipe.bore.stations_mm[-1]
    assert (stopper.get_x(), stopper.get_height()) == (end, wide)
