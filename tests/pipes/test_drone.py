"""The drone: its path from the reed to the end, its file, and what it refuses."""

import dataclasses
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings

from acoustics.errors import Refusal
from acoustics.pipes.bore import Bore
from acoustics.pipes.design_file import design_text, read_design, write_design
from acoustics.pipes.design_words import DRONE_COMMENTS
from acoustics.pipes.drone import EYE_MM, OUTLET, Drone
from acoustics.pipes.reed import Reed
from acoustics.pipes.stretches import Bend, Bridge, Resonator, Slide, Straight

from .broken_drones import sample_drone
from .sample import assert_one_sentence
from .strategies import drones

DESIGNS = Path(__file__).parents[2] / "notebooks" / "designs"
PARTS = (Straight, Slide, Bend, Bridge, Resonator, Reed)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("drones")


@settings(max_examples=150, deadline=None)
@given(pipe=drones())
def test_any_drone_comes_back_exactly(folder, pipe):
    path = folder / "drone.toml"
    write_design(pipe, path, overwrite=True)
    assert read_design(path) == pipe


@pytest.mark.parametrize("name", ["tenor", "baritone", "bass"])
def test_the_demo_files_are_as_the_package_writes_them(name):
    path = DESIGNS / f"sallow-ford-{name}.toml"
    assert design_text(read_design(path)) == path.read_text(encoding="utf-8")
    assert read_design(path).name == f"Sallow Ford {name} drone"


def test_every_field_of_every_part_stands_in_the_file():
    full = dataclasses.replace(sample_drone(), reed=Reed(100.0, 19.0, 0.25, 350.0, 20.0, 16.0))
    written = tomllib.loads(design_text(full))
    tables = {table["kind"]: table for table in written["stretch"]} | {r: written[r] for r in ("resonator", "reed")}
    for part in PARTS:
        fields = {field.name for field in dataclasses.fields(part)}
        assert set(tables[part.__name__.lower()]) - {"kind"} == fields
    assert set(written) == {"form", "version", "stretch"} | {f.name for f in dataclasses.fields(Drone)} - {"stretches"}


def test_comments_belong_to_fields_that_exist_and_are_said_once():
    fields = {field.name for part in (Drone, *PARTS) for field in dataclasses.fields(part)}
    assert set(DRONE_COMMENTS) <= fields
    assert design_text(sample_drone()).count(DRONE_COMMENTS["material"]) == 1


def test_the_path_is_the_stretches_one_after_the_other():
    pipe = sample_drone()
    ducts = [*pipe.stretches, pipe.resonator]
    lengths = np.diff(pipe.path.edges_mm)
    np.testing.assert_allclose(lengths, [EYE_MM, *(duct.length_mm for duct in ducts)], atol=1e-9)
    middles = np.array(pipe.path.edges_mm[:-1]) + lengths / 2
    area, perimeter = pipe.path.cross_section(middles)
    diameters = np.array([np.sqrt(4 * 19.0 / np.pi), *(duct.diameter_mm for duct in ducts)])
    np.testing.assert_allclose(area, np.pi / 4 * diameters**2)
    np.testing.assert_allclose(perimeter, np.pi * diameters)


def test_turns_and_gap_lie_where_their_stretches_lie():
    pipe = sample_drone()
    edges = pipe.path.edges_mm
    bend, bridge = pipe.path.turns
    assert (bend.start_mm, bend.end_mm, bend.radius_mm, bend.bridge) == (edges[4], edges[5], 16.0, False)
    assert (bridge.start_mm, bridge.end_mm, bridge.radius_mm, bridge.bridge) == (edges[6], edges[7], 4.75, True)
    assert pipe.path.gaps_mm == ((edges[2], edges[3]),)
    assert bend.end_mm - bend.start_mm == pytest.approx(16.0 * np.radians(178.0))
    shut = pipe.drawn(0.0)
    assert shut.path.gaps_mm == ()
    assert len(shut.path.edges_mm) == len(edges) - 1
    assert edges[-1] - shut.path.edges_mm[-1] == pytest.approx(26.0)


def test_the_end():
    pipe = sample_drone()
    (outlet,) = pipe.side_holes
    assert pipe.pattern == (((OUTLET, 1.0),), "shut")
    assert outlet.name == OUTLET
    assert outlet.path_mm == pytest.approx(pipe.path.edges_mm[-1] - 13.0)
    assert (outlet.wall_mm, outlet.bore_mm, outlet.outer_mm) == (4.0, 18.0, 26.0)
    assert (pipe.foot.bore_mm, pipe.foot.outer_mm) == (18.0, 26.0)
    plain = dataclasses.replace(pipe, resonator=None)
    assert plain.pattern == ((), "open")
    assert plain.side_holes == ()
    assert (plain.foot.bore_mm, plain.foot.outer_mm) == (7.0, 13.0)
    assert plain.head is pipe.reed


def test_drawing_the_slide_changes_nothing_else():
    pipe = sample_drone()
    assert pipe.drawn(26.0) == pipe
    assert pipe.drawn(10.0).slide == Slide(10.0, 8.2, 55.0)
    assert dataclasses.replace(pipe.drawn(10.0), stretches=pipe.stretches) == pipe
    with pytest.raises(Refusal) as caught:
        pipe.drawn(60.0)
    assert_one_sentence(caught.value, "gap_mm: 60 is out of bounds")


def long_drone(chamber: Resonator) -> Drone:
    return Drone("long", Reed(100.0, 19.0), [Straight(950, 8), Slide(10, 8.2, 55), Straight(930, 8)], 2, chamber)


def test_an_outlet_that_no_hole_can_be_is_refused_when_made():
    """Too wide, or farther from the reed than any hole may lie, by the maker's own fields; up to there it is a hole."""
    with pytest.raises(Refusal) as caught:
        Resonator(100.0, 60.0, 50.0, 40.0)
    assert_one_sentence(caught.value, "outlet_mm: 50 is out of bounds")
    assert "from 1 to 40 mm" in caught.value.allowed
    with pytest.raises(Refusal) as caught:
        long_drone(Resonator(300.0, 60.0, 20.0, 150.0))
    assert_one_sentence(caught.value, "resonator, outlet_at_mm: the outlet lies 2040 mm from the reed")
    (outlet,) = long_drone(Resonator(300.0, 60.0, 40.0, 109.9)).side_holes
    assert outlet.path_mm == pytest.approx(1999.9, abs=0.01)


@pytest.mark.parametrize(
    ("change", "start"),
    [
        ({"reed": None}, "reed: NoneType stands there"),
        ({"resonator": Reed(50.0, 9.0)}, "resonator: Reed stands there"),
        ({"stretches": 5}, "stretches: 5 is not a list"),
        ({"stretches": [Bore([(0, 5), (9, 5)])]}, "stretch 1: Bore stands there"),
        ({"name": ""}, "name: '' is empty"),
    ],
)
def test_what_a_drone_is_not_made_of(change, start):
    with pytest.raises(Refusal) as caught:
        dataclasses.replace(sample_drone(), **change)
    assert_one_sentence(caught.value, start)
