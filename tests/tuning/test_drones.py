"""Drones against closed forms and finite elements; slides, the demo set, beats and temperature."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.optimize import brentq

from acoustics.errors import Refusal
from acoustics.physics.air import Air
from acoustics.physics.network import slice_path
from acoustics.physics.radiation import foot_impedance
from acoustics.physics.reeds import head
from acoustics.physics.twoport import apply, fold
from acoustics.pipes.design_file import read_design
from acoustics.pipes.drone import Drone
from acoustics.pipes.reed import Reed
from acoustics.pipes.stretches import Bend, Bridge, Resonator, Slide, Straight
from acoustics.tuning.chart import tuning_chart
from acoustics.tuning.drones import (
    cents_per_mm,
    drone_beats,
    drone_pitch,
    drone_target,
    slide_curve,
    temperature_drift,
    tuned,
)
from acoustics.tuning.scales import equal_scale, just_scale
from acoustics.units import cents
from tests.physics.simple import LOSSLESS
from tests.pipes.sample import assert_one_sentence
from tests.references import axisymmetric, edge_modes
from tests.tuning.bench import DESIGNS, demo

NAMES = ("tenor", "baritone", "bass")
RHO, C = LOSSLESS.density, LOSSLESS.sound_speed


@cache
def drone(name: str) -> Drone:
    return read_design(DESIGNS / f"sallow-ford-{name}.toml")


@cache
def chart(scale: str):
    return tuning_chart(demo(), scale={"just": just_scale, "equal": equal_scale}[scale]())


def rigid(pipe: Drone, softness: float = 0.0) -> Drone:
    return replace(pipe, reed=replace(pipe.reed, softness=softness, quality=1000.0))


def area(diameter):
    return np.pi * (diameter * 0.5e-3) ** 2


def closed_form(pipe: Drone, frequency: float) -> float:
    """Reactance of the lips' admittance of a lossless drone with an open end, by tangents and edge modes."""
    k, omega = 2 * np.pi * frequency / C, 2 * np.pi * frequency
    ducts = [(s.length_mm * 1e-3, area(s.diameter_mm), s) for s in pipe.stretches if s.length_mm > 0]
    soft = pipe.reed.softness / (1 - (frequency / pipe.reed.resonance_hz) ** 2)
    ducts.insert(0, (pipe.reed.length_mm * 1e-3, pipe.reed.area_mm2 * 1e-6, None))
    outer = (pipe.foot.bore_mm * 0.5e-3, pipe.foot.outer_mm * 0.5e-3)
    x = foot_impedance(*outer, np.array([omega]), LOSSLESS)[0].imag
    below = None
    for length, section, stretch in reversed(ducts):
        if below is not None and abs(below / section - 1) > 1e-9:
            narrow, wide = sorted(np.sqrt(np.array([section, below]) / np.pi))
            x += omega * RHO * edge_modes.step_inertance(narrow, wide) * narrow / (np.pi * narrow**2)
        inertance, joint = 1.0, 0.0
        if isinstance(stretch, Bend):
            b = stretch.diameter_mm / 2 / stretch.radius_mm
            inertance = b**2 / (2 * (1 - np.sqrt(1 - b**2)))
            joint = omega * RHO * (0.0674 + 0.0367 * b**2 + 0.0426 * b**4) * b**2 * np.sqrt(section / np.pi) / section
        compliance = 1.0 + (soft if stretch is None else 0.0)
        impedance = RHO * C / section * np.sqrt(inertance / compliance)
        tangent = np.tan(k * length * np.sqrt(inertance * compliance))
        x += joint
        x = impedance * (x + impedance * tangent) / (impedance - x * tangent) + joint
        below = section
    return -1.0 / x


OPEN = {
    "tenor": lambda: rigid(drone("tenor")),
    "tenor, slide out": lambda: rigid(drone("tenor").drawn(15.0)),
    "tenor, slide shut": lambda: rigid(drone("tenor").drawn(0.0)),
    "tenor, soft": lambda: rigid(drone("tenor"), 0.3),
    "baritone": lambda: rigid(drone("baritone")),
    "bass without its chamber": lambda: rigid(replace(drone("bass"), resonator=None), 0.3),
}


@pytest.mark.parametrize("case", OPEN)
def test_lossless_pitch_is_the_root_of_the_closed_form(case):
    """Within 0.05 cents of the exact stepped cylinders, mode-matched steps, bends and a yielding tongue included."""
    pipe = OPEN[case]()
    here = drone_pitch(pipe, LOSSLESS).frequency
    near = np.linspace(0.97 * here, 1.03 * here, 60)
    values = np.array([closed_form(pipe, f) for f in near])
    at = np.flatnonzero((values[:-1] < 0) & (values[1:] >= 0) & (np.abs(np.diff(values)) < 1e-6))
    assert len(at) == 1
    there = brentq(lambda f: closed_form(pipe, f), near[at[0]], near[at[0] + 1], xtol=1e-10)
    assert abs(cents(here, there)) < 0.05


def pressure_node_modes(pipe: Drone, low: float, high: float) -> float:
    """The lowest mode in a band with p = 0 at the open end and no flow at the lips, lossless."""
    slices = slice_path(pipe.path, [])

    def flow(f):
        below = fold(slices.each(np.array([2 * np.pi * f]), LOSSLESS), slices.counts)[:, :, 0]
        state = apply(below, np.array([[0.0], [1.0]]))
        return apply(head(pipe.head, np.array([f]), LOSSLESS), state)[1, 0].real

    return brentq(flow, low, high, xtol=1e-9)


CASES = [("tenor", gap) for gap in (0.0, 0.5, 1.0, 2.0, 4.0, 15.0)] + [("baritone", 29.0)]


@pytest.mark.parametrize(("name", "gap"), CASES)
def test_stepped_cylinders_against_axisymmetric_finite_elements(name, gap):
    """The whole field in the stepped tubes, with scikit-fem, slide shut, hardly open and drawn out: 0.05 cents."""
    pipe = rigid(drone(name).drawn(gap))
    pieces = [(pipe.reed.length_mm * 1e-3, np.sqrt(pipe.reed.area_mm2 / np.pi) * 1e-3)]
    pieces += [(s.length_mm * 1e-3, s.diameter_mm * 0.5e-3) for s in pipe.stretches if s.length_mm > 0]
    field = axisymmetric.stepped_modes(pieces, C, 1, 0.06)[0]
    assert abs(cents(pressure_node_modes(pipe, 0.95 * field, 1.05 * field), field)) < 0.05


def test_a_bend_sharpens_by_what_its_inertance_says():
    """The bass sounds sharper than its centre line says, less than if all the bends' shortening counted in full."""
    bass = rigid(drone("bass"))
    straightened = [Straight(s.length_mm, s.diameter_mm) if isinstance(s, Bend) else s for s in bass.stretches]
    gain = cents(
        drone_pitch(bass, LOSSLESS).frequency, drone_pitch(replace(bass, stretches=straightened), LOSSLESS).frequency
    )
    bends = [s for s in bass.stretches if isinstance(s, Bend)]
    shortened = sum((s.diameter_mm / 2 / s.radius_mm) ** 2 / 4 * s.length_mm for s in bends)
    most = 1200 / np.log(2) * shortened / sum(s.length_mm for s in bass.stretches)
    assert 0.1 * most < gain < most


def test_a_tight_bridge_sounds_shorter_than_a_wide_bend():
    def folded(turn):
        return replace(
            drone("baritone"),
            stretches=[Straight(200.0, 6.0), Slide(5.0, 7.5, 20.0), Straight(40.0, 6.0), turn, Straight(230.0, 6.0)],
        )

    bend, bridge = Bend(15.0, 6.0), Bridge(8.0, 6.0)
    longer = Straight(1.0 + bend.length_mm - bridge.length_mm, 6.0)
    as_long = replace(
        folded(bridge), stretches=[*folded(bridge).stretches[:-1], Straight(229.0 + longer.length_mm, 6.0)]
    )
    assert sum(s.length_mm for s in as_long.stretches) == pytest.approx(
        sum(s.length_mm for s in folded(bend).stretches)
    )
    assert drone_pitch(as_long).frequency > drone_pitch(folded(bend)).frequency


# -- the slide


@pytest.mark.parametrize("name", NAMES)
def test_the_slide_flattens_all_the_way_and_never_jumps(name):
    curve = slide_curve(drone(name), points=28)
    steps = np.diff(curve.cents)
    assert np.all(steps < 0)
    assert np.max(steps) < 0.5 * np.min(steps), "no flat place, no jump"
    assert curve.gap_mm[0] == 0.0
    assert curve.gap_mm[-1] == drone(name).slide.longest_mm
    assert curve.range_cents == pytest.approx(sum(curve.reserve_cents))


@pytest.mark.parametrize("name", NAMES)
def test_the_slope_is_that_of_the_curve(name):
    pipe, step = drone(name), 0.5
    ends = [drone_pitch(pipe.drawn(pipe.slide.gap_mm + d)).frequency for d in (-step, step)]
    slope = cents_per_mm(pipe)
    assert slope == pytest.approx(cents(ends[1], ends[0]) / (2 * step), rel=2e-5)
    assert cents_per_mm(pipe.drawn(0.0)) < 0.0
    assert cents_per_mm(pipe.drawn(pipe.slide.longest_mm)) < 0.0


def test_a_short_tube_moves_faster():
    slopes = [cents_per_mm(drone(name)) for name in NAMES]
    assert slopes == sorted(slopes)


@pytest.mark.parametrize("name", NAMES)
def test_demo_drones_are_in_tune_with_forty_cents_to_spare(name):
    """D4, D3 and D2 within 0.1 cents as the files stand; the slide reaches 40 cents both ways."""
    target = 440.0 * 2.0 ** (-7 / 12 - NAMES.index(name))
    assert drone_target(drone(name)) == pytest.approx(target, rel=1e-12)
    assert abs(cents(drone_pitch(drone(name)).frequency, target)) < 0.1
    assert min(slide_curve(drone(name), points=2).reserve_cents) >= 40.0


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("off", [-35.0, 0.0, 35.0])
def test_tuning_by_the_slide(name, off):
    target = drone_target(drone(name)) * 2 ** (off / 1200)
    found = tuned(drone(name), target_hz=target)
    assert abs(cents(drone_pitch(found).frequency, target)) < 0.002
    assert replace(found, stretches=drone(name).stretches) == drone(name)


def test_out_of_the_slides_reach():
    target = drone_target(drone("tenor"))
    with pytest.raises(Refusal) as caught:
        tuned(drone("tenor"), target_hz=target * 2 ** (100 / 1200))
    assert_one_sentence(caught.value, "Sallow Ford tenor drone, slide: it is 37 cents flat when shut")
    with pytest.raises(Refusal) as caught:
        tuned(drone("tenor"), target_hz=target * 2 ** (-100 / 1200))
    assert_one_sentence(caught.value, "Sallow Ford tenor drone, slide: it is 36 cents sharp when drawn out")


def test_nothing_sounds_near():
    far = replace(drone("tenor"), octaves_below=2)
    with pytest.raises(Refusal) as caught:
        drone_pitch(far)
    assert_one_sentence(caught.value, "Sallow Ford tenor drone: no resonance lies near 73.4 Hz")


def test_a_softer_tongue_and_a_longer_tube_are_flatter():
    tenor = drone("tenor")
    softer = replace(tenor, reed=replace(tenor.reed, softness=0.6))
    longer = replace(tenor, reed=replace(tenor.reed, length_mm=55.0))
    for other in (softer, longer):
        assert drone_pitch(other).frequency < drone_pitch(tenor).frequency


def test_the_chamber_flattens_and_a_wider_outlet_sharpens():
    bass = drone("bass")
    assert drone_pitch(bass).frequency < drone_pitch(replace(bass, resonator=None)).frequency
    wider = replace(bass, resonator=replace(bass.resonator, outlet_mm=8.0))
    assert drone_pitch(wider).frequency > drone_pitch(bass).frequency


# -- against the chanter


@pytest.mark.parametrize("name", NAMES)
def test_just_notes_stand_still_against_a_drone_in_tune(name):
    """Were every note exactly just and the drone exact, nothing would beat; a drone off by 1 Hz beats in proportion."""
    exact = drone_target(drone(name))
    still = drone_beats(chart("just"), drone(name), exact)
    assert len(still) >= 20
    assert max(beat.meant for beat in still) < 1e-9
    for beat in drone_beats(chart("just"), drone(name), exact + 1.0):
        assert beat.meant == pytest.approx(beat.drone_overtone)
        ratio = beat.overtone * beat.row.target_hz / (beat.drone_overtone * exact)
        assert ratio == pytest.approx(1.0, abs=1e-9)


def test_beats_by_hand():
    """A of the chanter against the tenor: its second overtone meets the drone's third; F sharp: fourth and fifth."""
    beats = {(b.row.note, b.row.octave): b for b in drone_beats(chart("just"), drone("tenor"), 293.0)}
    for note, ours, theirs in (("A", 2, 3), ("F#", 4, 5), ("G", 3, 4), ("B", 3, 5)):
        beat = beats[note, 1]
        assert (beat.overtone, beat.drone_overtone) == (ours, theirs)
        assert beat.sounding == pytest.approx(abs(ours * beat.row.sounding_hz - theirs * 293.0))
    bass = {(b.row.note, b.row.octave): b for b in drone_beats(chart("just"), drone("bass"), 73.0)}
    assert (bass["A", 1].overtone, bass["A", 1].drone_overtone) == (1, 6)


def test_equal_temperament_beats_where_the_just_scale_does_not():
    """A piano's F sharp against the tenor D: 4 x 369.994 less 5 x 293.665 Hz, 11.65 beats per second."""
    beats = {(b.row.note, b.row.octave): b for b in drone_beats(chart("equal"), drone("tenor"), 293.6648)}
    assert beats["F#", 1].meant == pytest.approx(11.65, abs=0.01)
    assert beats["D", 1].meant == pytest.approx(0.0, abs=1e-4)
    assert beats["A", 1].meant == pytest.approx(0.994, abs=1.2e-3)


def test_the_drone_of_the_charts_air_is_taken_when_none_is_given():
    given = drone_beats(chart("just"), drone("tenor"), drone_pitch(drone("tenor"), chart("just").air).frequency)
    assert drone_beats(chart("just"), drone("tenor")) == given


@pytest.mark.parametrize("name", NAMES)
def test_a_warm_room_takes_chanter_and_drone_up_together(name):
    """About 3 cents per degree both; what parts them is small, and nothing moves from an air to itself."""
    cool, warm = Air(12.0), Air(22.0)
    drift = temperature_drift(demo(), drone(name), cool, warm)
    assert len(drift) >= 24
    alone = cents(drone_pitch(drone(name), warm).frequency, drone_pitch(drone(name), cool).frequency)
    for one in drift:
        assert one.drone == pytest.approx(alone)
        assert 25.0 < one.drone < 35.0
        assert one.apart == pytest.approx(one.note - alone)
        assert abs(one.apart) < 8.0
    assert {one.apart for one in temperature_drift(demo(), drone(name), cool, cool)} == {0.0}


def test_parts_without_a_reed_step():
    """A reed as wide as the tube has no step at its end."""
    plain = Drone(
        "plain", Reed(50.0, np.pi * 9.0, 0.0), [Straight(100.0, 6.0), Slide(0.0, 7.0, 10.0), Straight(130.0, 6.0)]
    )
    assert not np.any(slice_path(plain.path, []).step)
    narrower = replace(plain, reed=Reed(50.0, 9.0, 0.0), resonator=Resonator(30.0, 15.0, 6.0, 15.0))
    assert np.count_nonzero(slice_path(narrower.path, []).step) == 2
