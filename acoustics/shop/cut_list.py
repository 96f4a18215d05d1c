"""The cut list of a folded drone: pieces of tube with their trim, and where each bend begins and ends on them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil

from ..errors import Refusal
from .bends import bend_length_mm
from .tube_bending import Bending, Tube


@dataclass(frozen=True)
class Piece:
    """One piece of tube.

    Parameters
    ----------
    name : str
    tube : Tube
    finished_mm, trim_mm : float
        Straight length when finished, and what is left on each end [mm].
    marks : tuple of (words, mm)
        From the first end of the cut piece, trim included.
    """

    name: str
    tube: Tube
    finished_mm: float
    trim_mm: float
    marks: tuple[tuple[str, float], ...] = ()

    @property
    def cut_mm(self) -> float:
        """Straight length to cut [mm]."""
        return self.finished_mm + 2.0 * self.trim_mm


def _too_short(tube: Tube, what: str, need: float) -> Refusal:
    return Refusal(
        f"the tube of {tube} is {need - tube.length_mm:.1f} mm too short for the piece {what}",
        f"a length of at least {need:.1f} mm is needed",
        "rack",
    )


def _checked(piece: Piece) -> Piece:
    if piece.cut_mm > piece.tube.length_mm:
        raise _too_short(piece.tube, piece.name, piece.cut_mm)
    return piece


def slide_pieces(pin: Tube, socket: Tube, pin_mm: float, longest_mm: float, bending: Bending) -> tuple[Piece, Piece]:
    """The slide: its socket, and its pin, which goes into it by all that it may be drawn and what must hold."""
    deep = longest_mm + bending.hold_mm
    return (
        _checked(Piece("socket", socket, deep, bending.trim_mm)),
        _checked(Piece("pin", pin, pin_mm, bending.trim_mm)),
    )


def _bends(legs: Sequence[float], bend_mm: float) -> list[tuple[float, float]]:
    """Where each bend begins and ends along legs and bends."""
    found, at = [], 0.0
    for leg in legs[:-1]:
        found.append((at + leg, at + leg + bend_mm))
        at = found[-1][1]
    return found


def _cuts(total: float, bends: Sequence[tuple[float, float]], tube: Tube, bending: Bending) -> list[float]:
    """Ends of the pieces, as even as may be, none nearer to a bend than former and clamp need."""
    most, grip = tube.length_mm - 2.0 * bending.trim_mm, bending.grip_mm

    def clear(place: float) -> float:
        for begins, stops in reversed(bends):
            place = begins - grip if begins - grip < place < stops + grip else place
        return place

    ends = [0.0]
    while total - ends[-1] > most:
        at, left = ends[-1], total - ends[-1]
        places = (clear(at + left / ceil(left / most)), clear(at + most))
        place = next((place for place in places if place > at), None)
        if place is None:
            need = at + most
            for begins, stops in bends:
                need = stops + grip if begins - grip < need < stops + grip else need
            raise _too_short(tube, "with a bend", min(need, total) - at + 2.0 * bending.trim_mm)
        ends.append(place)
    return [*ends, total]


def bent_pieces(legs: Sequence[float], radius_mm: float, tube: Tube, bending: Bending) -> tuple[Piece, ...]:
    """The folded tube in as few pieces as the rack allows, joined end to end in its legs.

    Raises
    ------
    Refusal
        The tube on the rack is shorter than a bend with what must be straight beside it.
    """
    bend_mm, trim = bend_length_mm(radius_mm, 180.0), bending.trim_mm
    bends = _bends(legs, bend_mm)
    ends = _cuts(sum(legs) + bend_mm * len(bends), bends, tube, bending)
    pieces = []
    for n, (start, end) in enumerate(pairwise(ends), 1):
        marks = []
        for i, (begins, stops) in enumerate(bends, 1):
            if start <= begins < end:
                marks += [(f"bend {i} begins", begins - start + trim), (f"bend {i} ends", stops - start + trim)]
        name = "fold" if len(ends) == 2 else f"fold {n}"
        pieces.append(Piece(name, tube, end - start, trim, tuple(marks)))
    return tuple(pieces)


def bridged_pieces(legs: Sequence[float], spacing_mm: float, tube: Tube, bending: Bending) -> tuple[Piece, ...]:
    """One piece for each leg, ended flush with the far side of its passages, and the passages between them."""
    trim, bore, last = bending.trim_mm, tube.inside_mm, len(legs) - 1
    pieces = []
    for i, leg in enumerate(legs):
        before, after = (bore if i > 0 else 0.0), (bore if i < last else 0.0)
        marks = [(f"axis of bridge {i}", trim + bore / 2.0)] if before else []
        marks += [(f"axis of bridge {i + 1}", trim + before + leg + bore / 2.0)] if after else []
        pieces.append(_checked(Piece(f"leg {i + 1}", tube, before + leg + after, trim, tuple(marks))))
    passages = (Piece(f"bridge {i + 1}", tube, spacing_mm - bore, trim) for i in range(last))
    return (*pieces, *(_checked(piece) for piece in passages))
