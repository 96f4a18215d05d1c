"""Pictures: what is drawn is what was computed, to scale, and the words say the same numbers."""

import io
import re
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from matplotlib.colors import to_hex, to_rgb
from matplotlib.patches import Ellipse, Polygon, Rectangle
from PIL import Image

from acoustics.errors import Refusal
from acoustics.physics.network import input_impedance
from acoustics.physics.standing_wave import standing_wave
from acoustics.pipes.bore import Body, Bore
from acoustics.pipes.fingering import TIGHT
from acoustics.pipes.reshape import bell
from acoustics.tuning.chart import TuningChart, label
from acoustics.tuning.dials import DIALS, hole_dials
from acoustics.tuning.perturbation import bore_sensitivity
from acoustics.tuning.resonances import modes
from acoustics.view import (
    draw_pipe,
    plot_bores,
    plot_chart,
    plot_impedance,
    plot_predicted,
    plot_pressure,
    plot_sensitivity,
    plot_stretch,
)
from acoustics.view.board import CHANGED, Board
from acoustics.view.picture import FIRST, GREY, SECOND
from tests.pipes.sample import sample_chanter
from tests.tuning.bench import bench, demo

BENCH = bench()
CHART = BENCH.chart
PATCHED = replace(BENCH, patch_depth_mm=0.1)
STRAIGHT = DIALS["staple tip"].turn(BENCH, demo().staple.foot_mm)


def rows_of(chart: TuningChart, register: int):
    """Cents of a register in the order of the chart's lines, by name."""
    return {label(row.fingering): row.cents for row in chart.rows if row.fingering.register == register}


def numbers(line: str) -> list[float]:
    return [float(word) for word in re.findall(r"[+-]?\d+\.\d+", line)]


def drawn(axis, marker: str, colour: str):
    """The one line with that marker and that colour of marker edge, legend entries left out."""
    found = [
        line
        for line in axis.lines
        if line.get_marker() == marker and to_hex(line.get_markeredgecolor()) == colour and len(line.get_xdata())
    ]
    assert len(found) == 1
    return found[0]


# The chart


def test_dots_and_squares_are_the_chart():
    (axis,) = plot_chart(CHART).figure.axes
    names = [tick.get_text() for tick in axis.get_xticklabels()]
    assert names == list(rows_of(CHART, 1))
    for register, marker, colour in ((1, "o", FIRST), (2, "s", SECOND)):
        line = drawn(axis, marker, colour)
        np.testing.assert_array_equal(line.get_xdata(), np.arange(len(names)))
        np.testing.assert_array_equal(line.get_ydata(), list(rows_of(CHART, register).values()))
        assert line.get_label() == ("first octave" if register == 1 else "second octave")
    low, high = axis.get_ylim()
    assert low < CHART.cents.min()
    assert high > CHART.cents.max()


def test_links_join_the_two_octaves():
    (axis,) = plot_chart(CHART).figure.axes
    (links,) = axis.collections
    ends = np.array([segment[:, 1] for segment in links.get_segments()])
    np.testing.assert_array_equal(ends[:, 0], list(rows_of(CHART, 1).values()))
    np.testing.assert_array_equal(ends[:, 1], list(rows_of(CHART, 2).values()))


def test_ghost_is_the_other_chart():
    (axis,) = plot_chart(CHART, STRAIGHT.chart).figure.axes
    for register, marker, colour in ((1, "o", FIRST), (2, "s", SECOND)):
        np.testing.assert_array_equal(drawn(axis, marker, colour).get_ydata(), list(rows_of(CHART, register).values()))
        ghost = drawn(axis, marker, GREY)
        np.testing.assert_array_equal(ghost.get_ydata(), list(rows_of(STRAIGHT.chart, register).values()))
        assert ghost.get_alpha() < 1.0
        assert "before" in ghost.get_label()
    assert axis.get_ylim()[1] > STRAIGHT.chart.cents.max()
    assert axis.lines.index(drawn(axis, "o", GREY)) < axis.lines.index(drawn(axis, "o", FIRST)), "ghost lies below"


def test_a_silent_note_has_no_dot():
    """Blades at 1000 Hz silence two notes: nan is drawn, that is, nothing."""
    silent = DIALS["blades"].turn(BENCH, 1000.0).chart
    (axis,) = plot_chart(silent).figure.axes
    shown = np.concatenate([drawn(axis, "o", FIRST).get_ydata(), drawn(axis, "s", SECOND).get_ydata()])
    assert np.isnan(shown).sum() == np.isnan(silent.cents).sum() == 2
    assert plot_chart(silent).words.count("none") == 2


def test_words_of_the_chart_are_its_numbers():
    words = plot_chart(CHART).words
    assert words == repr(plot_chart(CHART)) == str(CHART)
    lines = words.splitlines()[-13:]
    for line, (first, second) in zip(lines, CHART.lines, strict=True):
        want = [first.target_hz, first.sounding_hz, first.cents, second.target_hz, second.sounding_hz, second.cents]
        np.testing.assert_allclose(numbers(line), [*want, second.cents - first.cents], atol=0.0501)


# The air


def test_impedance_and_its_modes():
    fingerings = [TIGHT[0], TIGHT[5], TIGHT[24]]
    picture = plot_impedance(demo(), fingerings, low=200.0, high=1300.0)
    air, words = BENCH.air, picture.words.splitlines()
    area = np.pi / 4 * demo().staple.axes_mm(0.0)[0] * demo().staple.axes_mm(0.0)[1] * 1e-6
    for axis, fingering, said in zip(picture.figure.axes, fingerings, words, strict=True):
        curve, *marks = axis.lines
        frequency = np.asarray(curve.get_xdata())
        pick = np.arange(0, 900, 100)
        z = input_impedance(demo(), frequency[pick], fingering.open_holes, fingering.foot, air)
        want = 20 * np.log10(np.abs(z) * area / (air.density * air.sound_speed))
        np.testing.assert_allclose(np.asarray(curve.get_ydata())[pick], want, atol=1e-3)
        found = modes(demo(), fingering, air)
        named = [found.first.frequency, found.second.frequency, *(mode.frequency for mode in found.stray)]
        assert [mark.get_xdata()[0] for mark in marks] == pytest.approx(named)
        assert [mark.get_linestyle() for mark in marks[:2]] == ["-", "--"]
        assert said.startswith(label(fingering))
        assert numbers(said) == pytest.approx(named, abs=0.0501)


def test_pressure_along_the_pipe():
    rows = [row for row in CHART.rows if row.note == "G"]
    picture = plot_pressure(BENCH, rows)
    (axis,) = picture.figure.axes
    table = [numbers(line) for line in picture.words.splitlines()[1:]]
    curves = axis.lines[: len(rows)]
    for i, (line, row) in enumerate(zip(curves, rows, strict=True)):
        wave = standing_wave(demo(), row.sounding_hz, row.fingering.open_holes, row.fingering.foot, BENCH.air)
        size = np.abs(wave.pressure[:, 0])
        np.testing.assert_allclose(line.get_xdata(), wave.from_top_mm)
        np.testing.assert_allclose(line.get_ydata(), size / size.max(), rtol=1e-9)
        want = np.interp(np.arange(-40, 361, 40), line.get_xdata(), line.get_ydata())
        np.testing.assert_allclose([row[i] for row in table], want, atol=0.00501)
        assert to_hex(line.get_color()) == (FIRST if row.fingering.register == 1 else SECOND)
    assert [line.get_linestyle() for line in curves] == ["-", "--"]
    assert [text.get_text() for text in axis.texts][1:] == [hole.name for hole in demo().holes]
    assert [text.xy[0] for text in axis.texts][1:] == [hole.position_mm for hole in demo().holes]


# The studies


def test_sensitivity_curves():
    rule, notes = bore_sensitivity(BENCH), ["D", "back D"]
    picture = plot_sensitivity(BENCH, rule, notes)
    patch, order = rule.per_patch(), np.argsort(rule.from_top_mm)
    said = picture.words.splitlines()
    marks = [float(word) for word in said[0].split()[2:]]
    place = 1
    for axis, note in zip(picture.figure.axes, notes, strict=True):
        mine = [i for i, row in enumerate(CHART.rows) if label(row.fingering) == note]
        curves = [line for line in axis.lines if len(line.get_xdata()) > 2]
        assert len(curves) == len(mine) == 2
        for i, line in zip(mine, curves, strict=True):
            np.testing.assert_array_equal(line.get_xdata(), rule.from_top_mm[order])
            np.testing.assert_array_equal(line.get_ydata(), patch[i][order])
            want = np.interp(marks, line.get_xdata(), line.get_ydata())
            np.testing.assert_allclose(numbers(said[place])[-len(marks) :], want, atol=0.00501)
            place += 1
    assert place == len(said)


def test_tables_reach_to_the_foot_of_a_longer_chanter():
    base = BENCH.base
    longer = replace(
        base,
        bore=Bore([*base.bore.stations_mm, (455.0, 15.6)]),
        body=Body([*base.body.outer_stations_mm, (455.0, 24.0)]),
    )
    setup = replace(BENCH, base=longer)
    rows = [row for row in setup.chart.rows if row.note == "G"]
    table = plot_pressure(setup, rows).words.splitlines()[1:]
    assert [int(line.split()[0]) for line in table] == list(range(-40, 441, 40))
    head = plot_sensitivity(setup, bore_sensitivity(setup), ["D"]).words.splitlines()[0]
    assert head.split()[-1] == "440"


def test_predicted_beside_computed():
    predicted = bore_sensitivity(BENCH).shift(lambda x: 0.1 * bell(x, BENCH.patch_at_mm, BENCH.patch_length_mm))
    picture = plot_predicted(BENCH, PATCHED, predicted)
    (axis,) = picture.figure.axes
    computed = PATCHED.chart.cents - CHART.cents
    bars = [bar for bar in axis.patches if isinstance(bar, Rectangle)][: len(computed)]
    np.testing.assert_allclose([bar.get_height() for bar in bars], computed)
    strokes = [line for line in axis.lines if len(line.get_xdata()) == 2 and line.get_linewidth() == 2.0]
    np.testing.assert_allclose([line.get_ydata() for line in strokes], np.column_stack([predicted, predicted]))
    names = [tick.get_text() for tick in axis.get_xticklabels()]
    for bar, stroke, row in zip(bars, strokes, CHART.rows, strict=True):
        middle = bar.get_x() + bar.get_width() / 2
        assert names[round(middle)] == label(row.fingering)
        assert np.mean(stroke.get_xdata()) == pytest.approx(middle)
        assert to_hex(bar.get_facecolor()) == (FIRST if row.fingering.register == 1 else SECOND)
    said = [numbers(line)[-2:] for line in picture.words.splitlines()[1:]]
    np.testing.assert_allclose(said, np.column_stack([computed, predicted]), atol=0.0501)


def test_stretch_over_a_dial():
    dial, notes, values = DIALS["staple tip"], ["D", "B"], np.array([2.9, 3.4, 3.9])
    picture = plot_stretch(BENCH, dial, values, notes, mark=3.3)
    (axis,) = picture.figure.axes
    curves = [line for line in axis.lines if len(line.get_xdata()) == 3]
    said = [numbers(line) for line in picture.words.splitlines()]
    assert said[0] == values.tolist()
    for note, line, words in zip(notes, curves, said[1:], strict=True):
        want = [dial.turn(BENCH, float(value)).chart.stretch[note] for value in values]
        np.testing.assert_allclose(line.get_ydata(), want)
        np.testing.assert_array_equal(line.get_xdata(), values)
        np.testing.assert_allclose(words, want, atol=0.0501)
    shapes = {(line.get_marker(), line.get_linestyle()) for line in curves}
    assert len(shapes) == len(notes), "told apart without colour"
    assert 3.3 in [line.get_xdata()[0] for line in axis.lines]
    assert axis.get_xlabel() == dial.name


def test_bores_against_the_straight_cone():
    other = PATCHED.pipe.bore
    picture = plot_bores({"as designed": demo().bore, "patched": other})
    above, below = picture.figure.axes
    curves = [line for line in above.lines if len(line.get_xdata()) > 2]
    for bore, line in zip((demo().bore, other), curves, strict=True):
        x = np.asarray(line.get_xdata())
        cone = 5.27 + (13.4 - 5.27) * (x - 22.0) / (361.0 - 22.0)
        assert x.min() == 22.0
        np.testing.assert_allclose(line.get_ydata(), bore.diameter_mm(x) - cone, atol=1e-12)
    line, dots = (line for line in below.lines if len(line.get_xdata()) > 2)
    for drawn in (line, dots):
        x = np.asarray(drawn.get_xdata())
        np.testing.assert_allclose(drawn.get_ydata(), other.diameter_mm(x) - demo().bore.diameter_mm(x), atol=1e-12)
    assert line.get_xdata()[[0, -1]] == pytest.approx([22.0, 361.0])
    assert set(dots.get_xdata()) <= set(other.table_mm[0])
    assert "as designed" in below.get_ylabel()
    for line in picture.words.splitlines()[1:]:
        at = float(line.split()[0])
        assert numbers(line) == pytest.approx([demo().bore.diameter_mm(at), other.diameter_mm(at)], abs=0.00501)
    with pytest.raises(Refusal, match="bore: the bore is narrowest at its foot"):
        plot_bores({"upside down": Bore([(0.0, 9.0), (300.0, 5.0)])})


# The drawing


@pytest.mark.parametrize("pipe", [demo(), sample_chanter()], ids=lambda pipe: pipe.name)
def test_drawing_is_to_scale(pipe):
    """One mm is as many pixels along as across, in both views; every hole stands where it is and as large as it is."""
    picture = draw_pipe(pipe)
    picture.png()
    cut, front = picture.figure.axes
    for axis in (cut, front):
        assert axis.get_aspect() == 1.0
        along, across = np.diff(axis.transData.transform([(0.0, 0.0), (10.0, 10.0)]), axis=0)[0]
        assert along == pytest.approx(across, rel=1e-9)
    low, high = cut.get_xlim()
    assert low < pipe.staple.insertion_mm - pipe.staple.length_mm - pipe.reed.length_mm
    assert high > pipe.bore.length_mm
    ovals = [patch for patch in front.patches if isinstance(patch, Ellipse)]
    for oval, side in zip(ovals, pipe.side_holes, strict=True):
        at, across = oval.get_center()
        assert at == side.hole.position_mm
        if side.hole.face == "side":
            assert oval.get_width() == getattr(side.hole, "pad_diameter_mm", side.hole.along_mm)
            assert across == pytest.approx(-side.outer_mm / 2)
        else:
            assert (oval.get_width(), oval.get_height()) == (side.hole.along_mm, side.hole.across_mm)
            assert across == 0.0


def test_section_is_to_scale():
    """Wood, bore and straight holes as polygons of the pipe's own mm; the rush as thick and long as it is."""
    pipe = replace(BENCH, rush_mm=1.5, rush_length_mm=100.0).pipe
    cut, _ = draw_pipe(pipe).figure.axes
    wood, bore, *others = [patch for patch in cut.patches if isinstance(patch, Polygon)]
    for outline, table in ((wood, pipe.body.table_mm), (bore, pipe.bore.table_mm)):
        upper = outline.get_xy()[: table.shape[1]]
        np.testing.assert_allclose(upper, np.column_stack([table[0], table[1] / 2]))
    standing = [side for side in pipe.side_holes if side.hole.face != "side"]
    for side, polygon in zip(standing, others, strict=False):
        x, y = polygon.get_xy().T
        assert (x.min() + x.max()) / 2 == pytest.approx(side.hole.position_mm)
        assert x.max() - x.min() == pytest.approx(side.hole.along_mm)
        assert np.sign(y.mean()) == (-1 if side.hole.face == "back" else 1)
        assert np.abs(y).max() == pytest.approx(side.bore_mm / 2 + side.wall_mm, rel=0.011)
    (rush,) = [patch for patch in cut.patches if isinstance(patch, Rectangle)]
    assert (rush.get_x(), rush.get_width(), rush.get_height()) == (261.0, 100.0, 1.5)


def test_words_of_the_drawing():
    words = draw_pipe(demo()).words
    for side in demo().side_holes:
        (line,) = [line for line in words.splitlines() if re.match(rf"(hole|key) +{re.escape(side.name)} +at", line)]
        assert numbers(line) == pytest.approx([side.hole.position_mm, side.hole.across_mm, side.wall_mm], abs=0.00501)
        assert line.startswith("key") == (side.hole.face == "side")
    assert "wood 361.0 mm, throat 5.27 mm at 22 mm, foot 13.40 mm" in words


# The same numbers, the same bytes


MAKERS = {
    "chart": lambda: plot_chart(CHART, STRAIGHT.chart),
    "pipe": lambda: draw_pipe(demo()),
    "impedance": lambda: plot_impedance(demo(), [TIGHT[0]]),
    "pressure": lambda: plot_pressure(BENCH, list(CHART.rows[:2])),
    "bores": lambda: plot_bores({"one": demo().bore}),
}


@pytest.mark.parametrize("name", MAKERS)
def test_png_is_the_same_bytes(name):
    """Drawn anew and written again, byte for byte; another size is another file."""
    picture = MAKERS[name]()
    first = picture.png()
    assert first == picture.png() == picture._repr_png_() == MAKERS[name]().png()
    assert first.startswith(b"\x89PNG")
    assert np.asarray(Image.open(io.BytesIO(picture.png(dpi=50)))).shape[0] * 2 == pytest.approx(
        np.asarray(Image.open(io.BytesIO(first))).shape[0], abs=1
    )


# The board of the panel


@cache
def board() -> Board:
    return Board(BENCH)


def pixels(png: bytes):
    return np.asarray(Image.open(io.BytesIO(png)).convert("RGB")).astype(int)


def pixel(board: Board, image, axis, at) -> np.ndarray:
    """Colour in the picture at a point of an axis."""
    x, y = axis.transData.transform(at)
    return image[int(image.shape[0] - y), int(x)]


def near(colour, wanted, within: int = 12) -> np.ndarray:
    return np.all(np.abs(np.asarray(colour) - np.round(255 * np.array(to_rgb(wanted)))) <= within, axis=-1)


def test_board_returns_to_the_same_picture():
    """A, B, A: nothing of B is left, also where the axis changed its reach; a new board draws the same."""
    first = board().png(BENCH, BENCH)
    far = board().png(STRAIGHT, BENCH)
    patched = board().png(PATCHED, BENCH)
    assert len({first, far, patched}) == 3
    assert board().png(BENCH, BENCH) == first == Board(BENCH).png(BENCH, BENCH)
    assert board().png(PATCHED, BENCH) == patched == Board(BENCH).png(PATCHED, BENCH)


def test_dots_of_the_board_lie_on_their_numbers():
    """Straight staple over the first chart: each dot blue in its middle, each square red at its edge, grey ghosts."""
    one = board()
    image = pixels(one.png(STRAIGHT, BENCH))
    first, second = (list(rows_of(STRAIGHT.chart, register).values()) for register in (1, 2))
    half = 4.0 * one.figure.dpi / 72.0
    for i, (a, b) in enumerate(zip(first, second, strict=True)):
        assert near(pixel(one, image, one.chart_axis, (i, a)), FIRST)
        x, y = one.chart_axis.transData.transform((i, b))
        edge = image[int(image.shape[0] - y), int(x - half) - 2 : int(x - half) + 3]
        assert near(edge, SECOND, 60).any()
        assert near(pixel(one, image, one.chart_axis, (i, b)), "white")
    before = list(rows_of(CHART, 1).values())
    apart = [i for i, cents in enumerate(before) if min(abs(cents - c[i]) for c in (first, second)) > 14.0]
    assert len(apart) >= 3
    for i in apart:
        ghost = pixel(one, image, one.chart_axis, (i, before[i]))
        assert np.ptp(ghost) < 30, "grey"
        assert 90 < ghost.mean() < 235, "see-through: darker where it lies on the line at 0"


def test_board_is_to_scale():
    along, across = np.diff(board().pipe_axis.transData.transform([(0.0, 0.0), (10.0, 10.0)]), axis=0)[0]
    assert along == pytest.approx(across, rel=1e-9)


def purple(png: bytes) -> np.ndarray:
    """x in mm of the pixels in which the drawing is painted in the colour of change."""
    image = pixels(png)
    top = image[: int(0.21 * image.shape[0])]
    red, green, blue = np.moveaxis(top, -1, 0)
    found = np.argwhere((blue - green > 50) & (red - green > 30))
    inverse = board().pipe_axis.transData.inverted()
    return np.array([inverse.transform((column + 0.5, 0.0))[0] for _, column in found])


CHANGES = {
    "patch": (replace(BENCH, patch_depth_mm=0.3), 120.0, 180.0),
    "taper": (replace(BENCH, foot_wider_mm=0.5), 30.0, 361.0),
    "throat": (replace(BENCH, throat_wider_mm=0.2), 0.0, 82.0),
    "staple": (STRAIGHT, -41.0, 15.0),
    "reed": (DIALS["softness"].turn(BENCH, 0.9), -72.0, -41.0),
    "rush": (replace(BENCH, rush_mm=1.5, rush_length_mm=100.0), 261.0, 361.0),
    "hole E": (hole_dials(BENCH, "E")["size"].turn(BENCH, 6.0), 266.0, 280.0),
    "key G#": (hole_dials(BENCH, "G#")["lift"].turn(BENCH, 1.0), 183.0, 197.0),
}


def test_nothing_is_picked_out_where_nothing_changed():
    assert purple(board().png(BENCH, BENCH)).size == 0
    assert purple(board().png(PATCHED, PATCHED)).size == 0
    warm = DIALS["temperature"].turn(BENCH, 25.0)
    assert purple(board().png(warm, BENCH)).size == 0


@pytest.mark.parametrize("name", CHANGES)
def test_what_changed_is_picked_out(name):
    """In its own stretch of the drawing, and there alone (2 mm for the width of a line)."""
    changed, low, high = CHANGES[name]
    found = purple(board().png(changed, BENCH))
    assert found.size > 20
    assert low - 3.0 < found.min()
    assert found.max() < high + 3.0
    assert found.max() - found.min() > 0.6 * (high - low)


# Colours for every eye


# Machado, Oliveira and Fernandes 2009, IEEE Trans. Vis. Comput. Graph. 15, 1291: severity 1, on linear RGB; from memory
EYES = {
    "usual": np.eye(3),
    "protanopia": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "deuteranopia": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
}


def lab(colour: str, eye) -> np.ndarray:
    """CIE L*a*b* of an sRGB colour (IEC 61966-2-1, white D65) as such an eye sees it."""
    coded = np.array(to_rgb(colour))
    linear = np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)
    to_xyz = [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]]
    xyz = to_xyz @ np.clip(eye @ linear, 0.0, 1.0) / np.array([0.95047, 1.0, 1.08883])
    f = np.where(xyz > 216 / 24389, np.cbrt(xyz), (24389 / 27 * xyz + 16) / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@pytest.mark.parametrize("eye", EYES)
def test_octaves_are_told_apart_by_every_eye(eye):
    """CIE 1976 difference above 40 between the octaves, the ghost and the paper (2.3 is just noticed)."""
    np.testing.assert_allclose(EYES[eye].sum(axis=1), 1.0, atol=2e-6)
    seen = {colour: lab(colour, EYES[eye]) for colour in (FIRST, SECOND, GREY, "white")}
    assert np.linalg.norm(lab("white", np.eye(3)) - [100.0, 0.0, 0.0]) < 0.02
    for one, other in ((FIRST, SECOND), (FIRST, GREY), (SECOND, GREY), (FIRST, "white"), (SECOND, "white")):
        assert np.linalg.norm(seen[one] - seen[other]) > 40.0
    assert np.linalg.norm(lab(CHANGED, EYES[eye]) - seen["white"]) > 40.0


def test_octaves_are_told_apart_without_colour():
    """A filled dot and an open square; a full and a broken line; a grey copy of the board still shows both."""
    (axis,) = plot_chart(CHART).figure.axes
    dot, square = drawn(axis, "o", FIRST), drawn(axis, "s", SECOND)
    assert to_hex(dot.get_markerfacecolor()) == FIRST
    assert to_hex(square.get_markerfacecolor()) == "#ffffff"
    curves = plot_pressure(BENCH, [CHART.rows[5], CHART.rows[17]]).figure.axes[0].lines[:2]
    assert [line.get_linestyle() for line in curves] == ["-", "--"]
