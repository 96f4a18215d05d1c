"""What the maker asks of a folded drone: its note, its parts, the tubes on the rack, the room on the lap."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from ..errors import Refusal, check_kind, number, set_checked, short, text
from ..physics.air import as_gas
from ..pipes.drone import Drone
from ..pipes.reed import Reed
from ..pipes.stretches import WIDTH_MM, Resonator
from ..tuning.drones import drone_target
from ..units import MM
from .tube_bending import Bending, Tube

FIT_MM = 0.15  # how far a tube's inside may lie from the one asked for
SLIDES_MM = (0.05, 0.3)  # looser than its pin that a socket may be: common practice, no source
MOST_TURNS = 4


@dataclass(frozen=True)
class Wish:
    """A drone to be folded.

    Parameters
    ----------
    name : str
    reed : Reed
    rack : sequence of Tube
        Pin, socket and folded tube are taken from it.
    lap_length_mm, lap_width_mm : float
        The room for the drone from the reed's end on, slide drawn right out [mm].
    radius_mm : float
        Of the bends' centre line; of bridges half the distance between the axes [mm].
    bore_mm, pin_bore_mm : float
        Wanted inside of the folded tube and of the slide's pin; the rack decides, within 0.15 mm [mm].
    head_mm, head_bore_mm, head_outside_mm : float
        The wooden part: bore from the reed's end to where the pin stands when the slide is shut [mm].
    pin_mm, longest_mm : float
        Length of the pin, and how far it may be drawn [mm].
    resonator : Resonator, optional
        Chamber at the end.
    turns : int, optional
        0 to 4; None takes the fewest that fit.
    bridge : bool
        Bridges instead of bends.
    octaves_below, key
        As for `Drone`: they fix the target.
    target_hz, sounding_mm : float, optional
        Another target within 400 cents of it: a frequency [Hz], or the length of the ideal tube that
        sounds it, closed at the reed and open at the end, c/(4 f) [mm].
    reserve_cents : float
        What the slide must have left both ways [cents].
    bending : Bending
    """

    name: str
    reed: Reed
    rack: Sequence[Tube]
    lap_length_mm: float
    lap_width_mm: float
    radius_mm: float
    bore_mm: float = 7.0
    pin_bore_mm: float = 6.4
    head_mm: float = 140.0
    head_bore_mm: float = 6.4
    head_outside_mm: float = 20.0
    pin_mm: float = 100.0
    longest_mm: float = 54.0
    resonator: Resonator | None = None
    turns: int | None = None
    bridge: bool = False
    octaves_below: int = 2
    key: str = "D"
    target_hz: float | None = None
    sounding_mm: float | None = None
    reserve_cents: float = 40.0
    bending: Bending = field(default_factory=Bending)

    def __post_init__(self):
        text("name", self.name)
        rack = tuple(self.rack) if hasattr(self.rack, "__iter__") else ()
        if not rack or not all(isinstance(tube, Tube) for tube in rack):
            raise Refusal(f"{short(self.rack)} is no rack", "a list of at least one Tube is needed", "rack")
        object.__setattr__(self, "rack", rack)
        set_checked(self, {"lap_length_mm": (50.0, 3000.0), "lap_width_mm": (5.0, 1000.0), "radius_mm": (2.0, 200.0)})
        set_checked(self, dict.fromkeys(("bore_mm", "pin_bore_mm", "head_bore_mm"), WIDTH_MM))
        set_checked(self, {"head_mm": (10.0, 1000.0), "head_outside_mm": (self.head_bore_mm + 2.0, 100.0)})
        set_checked(self, {"pin_mm": (10.0, 1000.0), "longest_mm": (2.0, 300.0)})
        set_checked(self, {"target_hz": (20.0, 1000.0)}, "Hz")
        set_checked(self, {"sounding_mm": (80.0, 4000.0)})
        set_checked(self, {"reserve_cents": (0.0, 300.0)}, "cents")
        if self.target_hz is not None and self.sounding_mm is not None:
            allowed = "one of target_hz and sounding_mm is allowed"
            raise Refusal("both a frequency and a length are asked for", allowed, "target_hz")
        if self.turns is not None and self.turns not in range(MOST_TURNS + 1):
            raise Refusal(f"{short(self.turns)} turns are asked for", f"0 to {MOST_TURNS} are allowed", "turns")
        if not isinstance(self.bending, Bending):
            raise Refusal(f"{type(self.bending).__name__} stands there", "a Bending is needed", "bending")
        hold = self.longest_mm + self.bending.hold_mm
        if self.pin_mm < hold:
            raise Refusal(
                f"{self.pin_mm:g} mm is {hold - self.pin_mm:.1f} mm too short to be drawn {self.longest_mm:g} mm "
                f"and still hold by {self.bending.hold_mm:g} mm",
                f"a pin of at least {hold:g} mm is needed",
                "pin_mm",
            )

    def target(self, drone: Drone, air=None, scale=None) -> float:
        """The frequency asked for [Hz]."""
        if self.target_hz is not None:
            return self.target_hz
        if self.sounding_mm is not None:
            return as_gas(air).sound_speed / (4.0 * self.sounding_mm * MM)
        return drone_target(drone, scale)


def wish_for(
    design: Drone, rack: Sequence[Tube], lap_length_mm: float, lap_width_mm: float, radius_mm: float, **more
) -> Wish:
    """The `Wish` to fold a drone of that design: its reed, chamber, octave and key; `more` as for `Wish`.

    Raises
    ------
    Refusal
        A design of another pipe, or as for `Wish`.
    """
    check_kind("design", design, Drone, "a Drone, as read_design gives it,")
    taken = {"resonator": design.resonator, "octaves_below": design.octaves_below, "key": design.key}
    room = (lap_length_mm, lap_width_mm, radius_mm)
    return Wish(f"{design.name}, folded", design.reed, rack, *room, **(taken | more))


def _nearest(rack: Sequence[Tube], inside_mm: float, what: str) -> Tube:
    """The tube whose inside lies nearest, the thicker one of equals."""
    tube = min(rack, key=lambda one: (abs(one.inside_mm - inside_mm), -one.wall_mm))
    off = abs(tube.inside_mm - inside_mm)
    if off > FIT_MM:
        raise Refusal(
            f"no tube of {inside_mm:g} mm inside for the {what}, the nearest, {tube}, is {off:.2f} mm off",
            f"one within {FIT_MM:g} mm is needed",
            "rack",
        )
    return tube


@dataclass(frozen=True)
class Chosen:
    """Tubes from the rack: the folded one, the slide's pin, the socket that it slides in."""

    folded: Tube
    pin: Tube
    socket: Tube


def chosen(wish: Wish) -> Chosen:
    """Tubes for a wish, or a `Refusal` that names the one that is missing."""
    folded = _nearest(wish.rack, wish.bore_mm, "fold")
    pin = _nearest(wish.rack, wish.pin_bore_mm, "pin")
    low, high = (pin.outside_mm + loose for loose in SLIDES_MM)
    socket = min(wish.rack, key=lambda one: abs(one.inside_mm - (low + high) / 2.0))
    if not low - 1e-9 <= socket.inside_mm <= high + 1e-9:
        off = max(low - socket.inside_mm, socket.inside_mm - high)
        raise Refusal(
            f"no tube slides over the pin of {pin}, the nearest, {socket}, is {off:.2f} mm off",
            f"one of {low:.2f} to {high:.2f} mm inside is needed",
            "rack",
        )
    number("head_bore_mm", wish.head_bore_mm, WIDTH_MM[0], socket.inside_mm)
    number("head_outside_mm", wish.head_outside_mm, socket.outside_mm + 1.0, 100.0)
    return Chosen(folded, pin, socket)


def quarter_wave_mm(target_hz: float, air=None) -> float:
    """Length of the ideal tube, closed at one end and open at the other, c/(4 f) [mm].

    Rayleigh, *The Theory of Sound*, vol. 2, 1878, stopped pipe without end correction.
    """
    return as_gas(air).sound_speed / (4.0 * target_hz * MM)
