"""The fold planner: legs, turns and slide of a drone that sounds its note and fits the player's lap."""

from __future__ import annotations

from math import ceil, log

from scipy.optimize import brentq

from ..errors import Refusal
from ..pipes.drone import LONGEST_MM, Drone
from ..pipes.stretches import Bend, Bridge, Slide, Straight
from ..tuning.drones import drone_pitch, drone_target, tuned
from ..units import cents
from .fold import Fold, pieces, turns_words
from .fold_layout import Space, least_straight_mm, legs_mm, reach_mm
from .fold_wish import MOST_TURNS, Chosen, Wish, chosen, quarter_wave_mm
from .tube_bending import check_radius

ROUND_MM = 0.1  # legs are cut to this; the slide takes up the rest
REACH_CENTS = 400.0  # of the drone's own octave
_BEYOND = 0.6  # of a quarter wave: where the search for the length ends
_FAR_CENTS = 2000.0  # stands for "no resonance within a fourth"


def _turn(wish: Wish, tubes: Chosen) -> Bend | Bridge:
    bore = tubes.folded.inside_mm
    return Bridge(2.0 * wish.radius_mm, bore) if wish.bridge else Bend(wish.radius_mm, bore)


def _drone(wish: Wish, tubes: Chosen, legs, gap: float) -> Drone:
    """The drone with these legs."""
    folded = [Straight(legs[0], tubes.folded.inside_mm, "brass")]
    for leg in legs[1:]:
        folded += [_turn(wish, tubes), Straight(leg, tubes.folded.inside_mm, "brass")]
    slide = Slide(gap, tubes.socket.inside_mm, wish.longest_mm)
    before = [Straight(wish.head_mm, wish.head_bore_mm), slide, Straight(wish.pin_mm, tubes.pin.inside_mm, "brass")]
    resonator, wall = wish.resonator, tubes.folded.wall_mm
    return Drone(wish.name, wish.reed, (*before, *folded), wish.octaves_below, resonator, max(wall, 0.3), wish.key)


def _space(wish: Wish, tubes: Chosen, turns: int) -> Space:
    """What the fold has to keep to; it stays beyond the wood where it cannot lie beside it."""
    chamber, half = wish.resonator, tubes.folded.outside_mm / 2.0
    wide = max(half, chamber.diameter_mm / 2.0 + chamber.wall_mm) if chamber is not None else half
    clear = wish.bending.clear_mm
    if turns and 2.0 * wish.radius_mm < half + wide + clear:
        raise Refusal(
            f"{wish.radius_mm:g} mm leaves the legs {_up(half + wide + clear - 2.0 * wish.radius_mm)} too close to "
            f"{'the chamber' if wide > half else 'each other'}",
            f"at least {_up((half + wide + clear) / 2.0)} is needed",
            "radius_mm",
        )
    beside = wish.head_outside_mm / 2.0 + clear + (wide if turns == 1 else half)
    near = 0.0 if 2.0 * wish.radius_mm >= beside else wish.head_mm + wish.longest_mm + wish.bending.hold_mm + clear
    depth = tubes.folded.inside_mm + tubes.folded.wall_mm if wish.bridge else wish.radius_mm + half
    end = 0.0 if chamber is None else chamber.length_mm + chamber.wall_mm
    return Space(wish.head_mm + wish.pin_mm, near, depth, end, wish.bending.grip_mm)


def _width_mm(wish: Wish, tubes: Chosen, turns: int) -> float:
    """Across the whole fold, wood and chamber included."""
    head, half = wish.head_outside_mm / 2.0, tubes.folded.outside_mm / 2.0
    chamber = 0.0 if wish.resonator is None else wish.resonator.diameter_mm / 2.0 + wish.resonator.wall_mm
    return head + max(head, 2.0 * wish.radius_mm * turns + max(half, chamber))


def _straight_mm(wish: Wish, tubes: Chosen, turns: int, space: Space, target: float, air, scale) -> float:
    """Length of all legs together with which the drone sounds the target, its slide half drawn."""
    gap, least = wish.longest_mm / 2.0, least_straight_mm(space, turns)
    fixed = wish.head_mm + gap + wish.pin_mm + (turns * _turn(wish, tubes).length_mm if turns else 0.0)
    wave = quarter_wave_mm(target, air)
    likely = wave - wish.reed.length_mm - fixed

    def off(straight: float) -> float:
        try:
            mode = drone_pitch(_drone(wish, tubes, legs_mm(space, turns, straight), gap), air, scale)
        except Refusal:
            return _FAR_CENTS if straight < likely else -_FAR_CENTS
        return float(cents(mode.frequency, target))

    def length(off_cents: float) -> float:
        return off_cents * log(2.0) / 1200.0 * wave

    last = likely + _BEYOND * wave  # much longer, a tube sounds the note as its next resonance
    shortest = off(least) if least < last else -_FAR_CENTS
    if shortest < 0.0:
        over = least - likely if shortest == -_FAR_CENTS else length(-shortest)
        raise Refusal(
            f"head, pin, {turns_words(turns, wish.bridge)} and the shortest legs are about {over:.0f} mm too long for "
            f"{target:.2f} Hz",
            "fewer turns, a smaller radius or a shorter head or pin is needed",
            f"{wish.name}, length",
        )
    most = min(last, LONGEST_MM - fixed - 0.1)
    longest = off(most) if most > least else _FAR_CENTS
    if longest > 0.0:
        more = likely - most if longest == _FAR_CENTS else length(longest)
        raise Refusal(
            f"{target:.2f} Hz takes about {more:.0f} mm more than the {LONGEST_MM:g} mm that a drone may have",
            "a higher note or a larger chamber is needed",
            f"{wish.name}, length",
        )
    return brentq(off, least, most, xtol=1e-3)


def _up(length: float) -> str:
    """A length that is needed, to 0.1 mm and never too short."""
    return f"{ceil(10.0 * length - 1e-6) / 10.0:.1f} mm"


def _lap_refusal(wish: Wish, tubes: Chosen, lengths: dict[int, float]) -> Refusal:
    """Which side of the lap binds, and by how much."""
    if not lengths:
        least = 0 if wish.turns is None else wish.turns
        wide = _width_mm(wish, tubes, least)
        return Refusal(
            f"the lap's width of {wish.lap_width_mm:g} mm is {_up(wide - wish.lap_width_mm)} too little for "
            f"the drone with {turns_words(least, wish.bridge)}",
            f"at least {_up(wide)} is needed",
            "lap_width_mm",
        )
    turns, long = min(lengths.items(), key=lambda one: one[1])
    more = _width_mm(wish, tubes, turns + 1)
    helps = wish.turns is None and turns < MOST_TURNS and more > wish.lap_width_mm
    wider = f", or {_up(more)} of width for another turn," if helps else ""
    return Refusal(
        f"the lap is {_up(long - wish.lap_length_mm)} too short for the drone with {turns_words(turns, wish.bridge)}, "
        f"slide drawn out",
        f"at least {_up(long)} of length{wider} is needed",
        "lap_length_mm",
    )


def _finished(wish: Wish, tubes: Chosen, legs, target: float, length: float, width: float, air, scale) -> Fold:
    """The plan with its slide tuned, or a `Refusal` when that has too little left."""
    pieces(wish, tubes, legs)  # a rack whose tubes are too short says so
    drone = _drone(wish, tubes, legs, wish.longest_mm / 2.0)

    def off(gap: float) -> float:
        return float(cents(drone_pitch(drone.drawn(gap), air, scale).frequency, target))

    try:
        sharp, flat = off(0.0), -off(wish.longest_mm)
    except Refusal:
        allowed = "a shorter slide is needed"
        far = f"the slide of {wish.longest_mm:g} mm leads more than a fourth away from {target:.2f} Hz"
        raise Refusal(far, allowed, "longest_mm") from None
    less = min(sharp, flat)
    if less < wish.reserve_cents:
        # the reserve goes with the length: a little more than in proportion is asked for
        need = wish.longest_mm * wish.reserve_cents / max(less, 1e-3) * 1.02
        raise Refusal(
            f"the slide of {wish.longest_mm:g} mm reaches only {sharp:.1f} cents sharp and {flat:.1f} flat of "
            f"{target:.2f} Hz, {wish.reserve_cents - less:.1f} short of the {wish.reserve_cents:g} asked for",
            f"about {need:.0f} mm is needed",
            "longest_mm",
        )
    drone = tuned(drone, air, scale, target)
    drone = drone.drawn(round(drone.slide.gap_mm, 2))
    sounding = drone_pitch(drone, air, scale).frequency
    return Fold(wish, tubes, drone, tuple(legs), target, sounding, (sharp, flat), length, width)


def plan_fold(wish: Wish, air=None, scale=None) -> Fold:
    """The drone folded with the fewest turns that fit, its legs found so that it sounds the target.

    Parameters
    ----------
    wish : Wish
    air, scale
        As for `drone_pitch`.

    Returns
    -------
    Fold
        Legs to 0.1 mm, slide near half drawn, to 0.01 mm; in tune within 0.5 cents there.

    Raises
    ------
    Refusal
        One sentence with the limit that binds and by how much: a tube that is missing, a radius too tight
        for the temper or for the chamber, a lap too narrow or too short, parts too long for the note, a
        slide that does not reach.
    """
    tubes = chosen(wish)
    plain = _drone(wish, tubes, (wish.bending.grip_mm,), wish.longest_mm / 2.0)
    target = wish.target(plain, scale=scale, air=air)
    if abs(cents(target, drone_target(plain, scale))) > REACH_CENTS:
        allowed = f"a note within {REACH_CENTS:g} cents of {drone_target(plain, scale):.2f} Hz is allowed"
        raise Refusal(f"{target:.2f} Hz is not {wish.octaves_below} octaves below the chanter", allowed, "target_hz")
    lengths: dict[int, float] = {}
    for turns in range(MOST_TURNS + 1) if wish.turns is None else (wish.turns,):
        width = _width_mm(wish, tubes, turns)
        if width > wish.lap_width_mm:
            break
        if turns and not wish.bridge:
            check_radius(tubes.folded, wish.radius_mm)
        space = _space(wish, tubes, turns)
        try:
            straight = _straight_mm(wish, tubes, turns, space, target, air, scale)
        except Refusal:
            if lengths:  # it could be folded with fewer turns, were the lap longer
                break
            raise
        legs = [round(leg / ROUND_MM) * ROUND_MM for leg in legs_mm(space, turns, straight)]
        lengths[turns] = reach_mm(space, legs) + wish.longest_mm
        if lengths[turns] <= wish.lap_length_mm:
            return _finished(wish, tubes, legs, target, lengths[turns], width, air, scale)
    raise _lap_refusal(wish, tubes, lengths)
