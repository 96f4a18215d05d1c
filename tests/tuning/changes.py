"""Any dimension of a setup a little larger, by its plain field; and random setups.  For tests only."""

import warnings
from contextlib import contextmanager
from dataclasses import replace

import numpy as np
from hypothesis import strategies as st

from acoustics.pipes.bore import Body, Bore
from acoustics.pipes.holes import Key, ToneHole
from acoustics.pipes.rush import Rush
from acoustics.tuning.setup import Setup
from acoustics.validity import OutsideRange
from tests.pipes.strategies import floats
from tests.tuning.bench import demo


@contextmanager
def outside_allowed():
    """Where random dimensions may leave the range of a formula; every other warning stays an error."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", OutsideRange)
        yield


def cents(setup: Setup) -> np.ndarray:
    """The full chart, calculated anew."""
    with outside_allowed():
        return replace(setup).chart.cents


def central(setup_at, by: float) -> np.ndarray:
    """Slope of full charts: `setup_at(amount)` at `by` on either side."""
    return (cents(setup_at(by)) - cents(setup_at(-by))) / (2.0 * by)


def with_part(setup: Setup, part: str, **more) -> Setup:
    """Fields of the reed, staple or rush, or of the air, larger by so much."""
    if part == "air":
        return replace(setup, air=grown(setup.air, more))
    return replace(setup, base=replace(setup.base, **{part: grown(getattr(setup.base, part), more)}))


def with_hole(setup: Setup, name: str, **more) -> Setup:
    """Fields of one hole larger by so much; a wall that no file gives is the one it has."""
    holes = []
    for hole in setup.base.holes:
        if hole.name == name:
            if hole.depth_mm is None and "depth_mm" in more:
                hole = replace(hole, depth_mm=setup.base.placed(hole).wall_mm)
            hole = grown(hole, more)
        holes.append(hole)
    return replace(setup, base=replace(setup.base, holes=tuple(holes)))


def with_bore(setup: Setup, at_mm: float, more: float) -> Setup:
    """The station at a place wider by so much; of a step both its sides."""
    bore = Bore([(place, size + (more if place == at_mm else 0.0)) for place, size in setup.base.bore.stations_mm])
    return replace(setup, base=replace(setup.base, bore=bore))


def grown(part, more):
    """A dataclass with some of its numbers larger; of a pair both."""
    changed = {}
    for field, by in more.items():
        value = getattr(part, field)
        changed[field] = tuple(v + by for v in value) if isinstance(value, tuple) else value + by
    return replace(part, **changed)


@st.composite
def setups(draw):
    """The demo chanter with every dimension off by up to 3 %: round, oval, undercut and tilted holes, half-open
    ones, a step in the bore, a rush, a gap under the foot, another air."""
    base = demo()

    def near(value, share=0.03):
        return value * draw(floats(1.0 - share, 1.0 + share))

    holes = []
    for hole in base.holes:
        place, size = hole.position_mm + draw(floats(-1.0, 1.0)), near(0.88 * hole.diameter_mm)
        if isinstance(hole, Key):
            lift, duct = near(2.5, 0.2), [(near(2.5), near(hole.diameter_mm))]
            holes.append(replace(hole, position_mm=place, diameter_mm=size, lift_mm=lift, duct=duct))
            continue
        kind = draw(st.sampled_from(["round", "oval", "undercut", "deep"]))
        more = {
            "round": {},
            "oval": {"diameter_mm": (size, 1.1 * size)},
            "undercut": {"undercut_diameter_mm": 1.1 * size, "undercut_depth_mm": draw(floats(1.0, 2.5))},
            "deep": {"depth_mm": draw(floats(3.5, 6.0))},
        }[kind]
        made = ToneHole(hole.name, place, size, tilt_deg=draw(floats(-10.0, 10.0)), face=hole.face)
        holes.append(replace(made, **more))
    stations = [
        (at + (draw(floats(-1.0, 1.0)) if 0.0 < at < 361.0 else 0.0), near(d)) for at, d in base.bore.stations_mm
    ]
    if draw(st.booleans()):
        stations.insert(8, (195.3, 8.4))
        stations.insert(9, (195.3, 8.6))
    staple = base.staple
    staple = replace(
        staple,
        length_mm=near(staple.length_mm),
        foot_mm=near(staple.foot_mm),
        tip_mm=near(staple.tip_mm),
        insertion_mm=near(staple.insertion_mm),
        eye_opening_mm=near(staple.eye_opening_mm),
    )
    reed = replace(base.reed, length_mm=near(base.reed.length_mm), area_mm2=near(base.reed.area_mm2), perimeter_mm=18.0)
    rush = Rush(draw(floats(0.8, 1.6)), draw(floats(200.3, 260.0)), 361.0) if draw(st.booleans()) else None
    body = Body([*base.body.outer_stations_mm[:-1], (360.0, 23.0), (361.0, 23.0)])
    pipe = replace(base, reed=reed, staple=staple, bore=Bore(stations), holes=holes, rush=rush, body=body)
    taped = (("A", draw(floats(0.4, 0.9))),) if draw(st.booleans()) else ()
    gap = draw(st.sampled_from([0.0, 2.0]))
    air = replace(Setup(pipe).air, temperature_c=draw(floats(10.0, 28.0)))
    return Setup(pipe, air=air, taped=taped, gap_mm=gap)
