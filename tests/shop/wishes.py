"""Folded drones that can be built, drawn at random, and the wishes that they answer; for tests only."""

from dataclasses import dataclass, replace
from math import pi

import numpy as np

from acoustics.pipes.drone import Drone
from acoustics.pipes.reed import Reed
from acoustics.pipes.stretches import Bend, Bridge, Resonator, Slide, Straight
from acoustics.shop.fold_wish import Wish
from acoustics.shop.tube_bending import TEMPERS, Bending, Tube
from acoustics.tuning.drones import drone_pitch
from acoustics.units import cents

KEYNOTE_HZ = 440.0 * 2.0 ** (-7.0 / 12.0)  # D, as on a piano
REEDS = {0: (51.0, 14.0, 520.0), 1: (76.0, 17.0, 420.0), 2: (102.0, 19.6, 330.0)}


def walk(legs, start: float, reach: float):
    """Where turns and the end of the tube come to, walking along: (least u, greatest u, u of the end, way)."""
    u, way, seen = start, 1.0, [start]
    for leg in legs[:-1]:
        u += way * leg
        seen.append(u + way * reach)
        way = -way
    u += way * legs[-1]
    return min([*seen[1:], u]), max([*seen, u]), u, way


@dataclass(frozen=True)
class Built:
    """A drone that was put together by the test, and the wish that it answers."""

    drone: Drone
    wish: Wish


def _drawn(rng, turns: int) -> Built | None:
    """One draw; None where it is no drone, or sounds too far from a keynote."""
    octaves = int(rng.integers(0, 3)) if turns else int(rng.integers(0, 2))
    long, area, resonance = REEDS[octaves]
    reed = Reed(long, area, rng.uniform(0.0, 0.4), resonance, rng.uniform(8.0, 30.0))
    bore, wall = rng.uniform(5.0, 8.5), rng.uniform(0.35, 0.7)
    pin_bore = bore - rng.uniform(0.3, 1.0)
    tube = Tube(bore + 2 * wall, bore)
    pin = Tube(pin_bore + 0.8, pin_bore)
    socket = Tube(pin_bore + 2.2, pin_bore + 0.95)
    bridge, bending = bool(turns and rng.random() < 0.3), Bending()
    chamber = None
    if octaves == 2 and rng.random() < 0.5:
        chamber = Resonator(rng.uniform(25.0, 40.0), rng.uniform(14.0, 20.0), rng.uniform(5.5, 8.0), 12.0, 4.1)
    side = tube.outside_mm / 2 if chamber is None else max(tube.outside_mm / 2, chamber.diameter_mm / 2 + 4.1)
    apart = tube.outside_mm / 2 + side + bending.clear_mm
    radius = apart / 2 + rng.uniform(0.0, 0.2) if bridge else max(apart / 2, 1.3 * tube.outside_mm) + rng.uniform(0, 15)
    if bridge and 2 * radius > 4.69 * bore / 2:
        return None
    share = 2.0**octaves
    head, longest = rng.uniform(20.0, 35.0) * share, rng.uniform(8.0, 13.0) * share
    pin_mm, wood = longest + bending.hold_mm + rng.uniform(0.0, 20.0), rng.uniform(14.0, 24.0)
    reach = bore + wall if bridge else radius + tube.outside_mm / 2
    beside = 2 * radius > wood / 2 + (side if turns == 1 else tube.outside_mm / 2) + bending.clear_mm
    near = 0.0 if beside else head + longest + bending.hold_mm + bending.clear_mm
    end = 0.0 if chamber is None else chamber.length_mm + chamber.wall_mm
    legs, u, way = [], head + pin_mm, 1.0
    for i in range(turns + 1):
        last = i == turns
        beyond = end if last else reach
        room = 700.0 if way > 0 else u - near - beyond
        if room < bending.grip_mm:
            return None
        legs.append(rng.uniform(bending.grip_mm, min(room, 320.0 * share / (turns + 1) + 20.0)))
        u, way = u + way * legs[-1], -way
    turn = Bridge(2 * radius, bore) if bridge else Bend(radius, bore)
    folded = [Straight(legs[0], bore)]
    for leg in legs[1:]:
        folded += [turn, Straight(leg, bore)]
    head_bore = pin_bore + rng.uniform(-0.5, 0.0)
    before = [Straight(head, head_bore), Slide(longest / 2, socket.inside_mm, longest), Straight(pin_mm, pin_bore)]
    if sum(s.length_mm for s in (*before, *folded)) > 1850.0:
        return None
    drone = Drone("drawn", reed, (*before, *folded), octaves, chamber, wall)
    keynote = KEYNOTE_HZ / 2.0**octaves
    try:
        sounds = [drone_pitch(drone.drawn(gap)).frequency for gap in (0.0, longest / 2, longest)]
    except ValueError:
        return None
    if abs(cents(sounds[1], keynote)) > 350.0:
        return None
    _, high, at, direction = walk(legs, head + pin_mm, reach)
    long_mm = max(high, at + end if direction > 0 else at) + longest
    wide = wood / 2 + max(wood / 2, 2 * radius * turns + side)
    rack = [tube, pin, socket, Tube(4.0, 3.2), Tube(22.0, 20.0), replace(tube, inside_mm=bore - 0.2)]
    wish = Wish(
        "drawn",
        reed,
        [rack[i] for i in rng.permutation(len(rack))],
        long_mm + 3.0,
        wide + 0.01,
        radius,
        bore,
        pin_bore,
        head,
        head_bore,
        wood,
        pin_mm,
        longest,
        chamber,
        bridge=bridge,
        octaves_below=octaves,
        target_hz=sounds[1],
        reserve_cents=0.9 * min(cents(sounds[0], sounds[1]), cents(sounds[1], sounds[2])),
    )
    return Built(drone, wish)


def built(seed: int) -> Built:
    """The drone of that number: one that can be built, since here it is."""
    rng = np.random.default_rng(seed)
    while True:
        one = _drawn(rng, int(rng.integers(0, 5)))
        if one is not None:
            return one


ANY = {
    "lap_length_mm": (50.0, 1500.0),
    "lap_width_mm": (5.0, 300.0),
    "radius_mm": (2.0, 60.0),
    "bore_mm": (3.0, 12.0),
    "pin_bore_mm": (3.0, 12.0),
    "head_mm": (10.0, 900.0),
    "head_bore_mm": (2.0, 9.0),
    "head_outside_mm": (12.0, 50.0),
    "pin_mm": (10.0, 600.0),
    "longest_mm": (2.0, 200.0),
    "reserve_cents": (0.0, 200.0),
    "target_hz": (40.0, 500.0),
}


def changes(seed: int) -> dict:
    """What makes a wish another one, perhaps one that cannot be met."""
    rng = np.random.default_rng([seed, 1])
    out: dict = {name: float(rng.uniform(*ends)) for name, ends in ANY.items() if rng.random() < 0.1}
    if rng.random() < 0.2:
        out["turns"] = int(rng.integers(0, 5))
    if rng.random() < 0.2:
        out["bridge"] = bool(rng.random() < 0.5)
    if rng.random() < 0.2:
        out |= {"octaves_below": int(rng.integers(0, 4)), "target_hz": None}
    if rng.random() < 0.2:
        temper, long = str(rng.choice(list(TEMPERS))), float(rng.uniform(50.0, 1500.0))
        out["rack"] = [replace(tube, temper=temper, length_mm=long) for tube in built(seed).wish.rack]
    if rng.random() < 0.2:
        out["bending"] = Bending(*rng.uniform(1.0, 40.0, 5).tolist())
    return out


def straight_and_bent(legs, turns: int, radius: float) -> float:
    """Length of legs and half circles along the middle of the tube [mm]."""
    return float(sum(legs)) + turns * pi * radius
