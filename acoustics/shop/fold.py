"""A folded drone as it is to be built: its parts in their places, its cut list, its story in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from ..pipes.drone import Drone
from ..pipes.stretches import Bridge, Straight
from ..units import cents
from .cut_list import Piece, bent_pieces, bridged_pieces, slide_pieces
from .fold_layout import Segment, placed
from .fold_wish import Chosen, Wish
from .tube_bending import bending_advice


def turns_words(turns: int, bridge: bool) -> str:
    """So many bends or bridges, in words."""
    return f"{turns or 'no'} {'bridge' if bridge else 'bend'}{'' if turns == 1 else 's'}"


@dataclass(frozen=True)
class Fold:
    """A folded drone as it is to be built.

    Parameters
    ----------
    wish : Wish
    tubes : Chosen
    drone : Drone
        Slide drawn to where it sounds the target.
    legs_mm : tuple of float
        Straight folded tube before, between and after the turns; at a bridge up to where the passage begins [mm].
    target_hz, sounding_hz : float
    reserve_cents : (sharp, flat)
        What the slide has left when shut and when drawn right out.
    length_mm, width_mm : float
        Of the folded drone, slide drawn right out [mm].
    """

    wish: Wish
    tubes: Chosen
    drone: Drone
    legs_mm: tuple[float, ...]
    target_hz: float
    sounding_hz: float
    reserve_cents: tuple[float, float]
    length_mm: float
    width_mm: float

    @property
    def turns(self) -> int:
        """How many bends or bridges."""
        return len(self.legs_mm) - 1

    @property
    def gap_mm(self) -> float:
        """How far the slide is drawn [mm]."""
        return self.drone.slide.gap_mm

    @property
    def off_cents(self) -> float:
        """Against the target."""
        return float(cents(self.sounding_hz, self.target_hz))

    @property
    def course(self) -> tuple[Segment, ...]:
        """Every part in its place, from the reed's end to the open or closed end: the stations of the centre line."""
        return course(self.wish, self.tubes, self.drone)

    @property
    def pieces(self) -> tuple[Piece, ...]:
        """The cut list: socket, pin, folded tube."""
        return pieces(self.wish, self.tubes, self.legs_mm)

    @property
    def centreline_mm(self) -> float:
        """Developed length from the reed's end, gap included, chamber not [mm]."""
        return sum(stretch.length_mm for stretch in self.drone.stretches)

    @property
    def advice(self) -> str:
        """How hard the bends are; empty without bends."""
        return bending_advice(self.tubes.folded, self.wish.radius_mm) if self.turns and not self.wish.bridge else ""

    def __str__(self) -> str:
        folds = turns_words(self.turns, self.wish.bridge)
        sharp, flat = self.reserve_cents
        return "\n".join(
            (
                f"{self.wish.name}: {folds}, legs {', '.join(f'{leg:.1f}' for leg in self.legs_mm)} mm",
                f"Sounds {self.sounding_hz:.2f} Hz with the slide drawn {self.gap_mm:.2f} of "
                f"{self.wish.longest_mm:g} mm; the slide has {sharp:.0f} cents left sharp and {flat:.0f} flat.",
                f"Drawn right out it is {self.length_mm:.0f} mm long and {self.width_mm:.0f} mm wide; the lap has "
                f"{self.wish.lap_length_mm:g} by {self.wish.lap_width_mm:g} mm.",
                f"Tubes: fold {self.tubes.folded}, pin {self.tubes.pin}, socket {self.tubes.socket}.",
                *([self.advice] if self.advice else []),
            )
        )

    __repr__ = __str__

    def _repr_html_(self) -> str:
        return "".join(f"<p style='max-width:48em'>{escape(line)}</p>" for line in str(self).splitlines())


def pieces(wish: Wish, tubes: Chosen, legs: Sequence[float]) -> tuple[Piece, ...]:
    """The cut list of a fold with these legs; a `Refusal` when a tube on the rack is too short."""
    slide = slide_pieces(tubes.pin, tubes.socket, wish.pin_mm, wish.longest_mm, wish.bending)
    if wish.bridge and len(legs) > 1:
        return (*slide, *bridged_pieces(legs, 2.0 * wish.radius_mm, tubes.folded, wish.bending))
    return (*slide, *bent_pieces(legs, wish.radius_mm, tubes.folded, wish.bending))


def course(wish: Wish, tubes: Chosen, drone: Drone) -> tuple[Segment, ...]:
    """The parts of a planned drone in their places; the wood stands out over the pin as far as its socket is deep."""
    socket = wish.head_outside_mm
    parts = [("head", "wood", drone.stretches[0], socket), ("gap", "gap", drone.slide, socket)]
    parts.append(("pin", "pin", drone.stretches[2], tubes.pin.outside_mm))
    legs = turns = 0
    for stretch in drone.stretches[3:]:
        if isinstance(stretch, Straight):
            legs += 1
            parts.append((f"leg {legs}", "leg", stretch, tubes.folded.outside_mm))
        else:
            turns += 1
            kind = "bridge" if isinstance(stretch, Bridge) else "bend"
            parts.append((f"{kind} {turns}", kind, stretch, tubes.folded.outside_mm))
    if drone.resonator is not None:
        wide = drone.resonator.diameter_mm + 2.0 * drone.resonator.wall_mm
        parts.append(("chamber", "chamber", drone.resonator, wide))
    return placed(parts)
