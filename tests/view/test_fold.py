"""The fold's picture: to scale, every part as long and as wide as it is, its words its numbers."""

import re
from functools import cache

import numpy as np
import pytest
from matplotlib.patches import PathPatch, Rectangle, Wedge

from acoustics.view.fold import draw_fold
from tests.shop.test_folding import fold

FOLDS = {
    "bends": {},
    "bridges": {"bridge": True, "radius_mm": 7.2, "resonator": None, "lap_width_mm": 60.0, "lap_length_mm": 480.0},
}


@cache
def drawn(name: str):
    return draw_fold(fold(**FOLDS[name]))


@pytest.mark.parametrize("name", FOLDS)
def test_it_is_to_scale(name):
    picture = drawn(name)
    picture.png()
    (axis,) = picture.figure.axes
    along, across = np.diff(axis.transData.transform([(0.0, 0.0), (10.0, 10.0)]), axis=0)[0]
    assert along == pytest.approx(across, rel=1e-9)
    plan = fold(**FOLDS[name])
    lap, *boxes = [patch for patch in axis.patches if isinstance(patch, Rectangle)]
    assert (lap.get_width(), lap.get_height()) == (plan.wish.lap_length_mm, plan.wish.lap_width_mm)
    lengths = [box.get_width() for box in boxes]
    for leg in plan.legs_mm:
        assert min(abs(length - leg) for length in lengths) < 1e-9
    assert [line.get_xdata()[0] for line in axis.lines] == [plan.length_mm]
    for patch in axis.patches[1:]:
        low, high = patch.get_path().transformed(patch.get_patch_transform()).get_extents().get_points()
        assert low[0] >= -1e-6
        assert high[0] <= plan.length_mm + 1e-6
        assert low[1] >= lap.get_y() - 1e-6
        assert high[1] <= lap.get_y() + plan.width_mm + 1e-6


def test_the_centre_line_is_as_long_as_the_drone():
    """Chords of the flattened curve, chamber included."""
    (axis,) = drawn("bends").figure.axes
    (line,) = [patch for patch in axis.patches if isinstance(patch, PathPatch)]
    (points,) = line.get_path().to_polygons(closed_only=False)
    length = np.sum(np.hypot(*np.diff(points, axis=0).T))
    assert length == pytest.approx(fold().centreline_mm + 33.0, abs=0.5)
    rings = [patch for patch in axis.patches if isinstance(patch, Wedge)]
    assert [(ring.r, ring.width) for ring in rings] == [(28.0, 8.0)] * 2


@pytest.mark.parametrize("name", FOLDS)
def test_words(name):
    plan = fold(**FOLDS[name])
    lines = drawn(name).words.splitlines()
    assert len(lines) == len(plan.course) + 3
    for line, one in zip(lines[1:], plan.course, strict=False):
        numbers = [float(n) for n in re.findall(r"(?<![\w])-?\d+\.\d+", line)]
        assert numbers == pytest.approx([one.start_mm, one.end_mm, one.u1, one.v1], abs=0.0501)
        assert line.startswith(one.name)
    assert f"drawn out {plan.length_mm:.1f} long" in lines[-2]
