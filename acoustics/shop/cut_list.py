"""The cut list of a folded drone: pieces of tube with their trim, and where each bend begins and ends on them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

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


def _checked(piece: Piece) -> Piece:
    over = piece.cut_mm - piece.tube.length_mm
    if over > 0.0:
        raise Refusal(
            f"the tube of {piece.tube} is {over:.1f} mm too short for the piece {piece.name}",
            f"a length of at least {piece.cut_mm:.1f} mm is needed",
            "rack",
        )
    return piece


def slide_pieces(pin: Tube, socket: Tube, pin_mm: float, longest_mm: float, bending: Bending) -> tuple[Piece, Piece]:
    """The slide: its socket, and its pin, which goes into it by all that it may be drawn and what must hold."""
    deep = longest_mm + bending.hold_mm
    return (
        _checked(Piece("socket", socket, deep, bending.trim_mm)),
        _checked(Piece("pin", pin, pin_mm, bending.trim_mm)),
    )


def _blocks(legs: Sequence[float], bend_mm: float) -> list[tuple[float, float, float]]:
    """(leg, bend, leg) round each bend; legs between two bends are halved."""
    last = len(legs) - 2
    return [
        (legs[i] if i == 0 else legs[i] / 2.0, bend_mm, legs[i + 1] if i == last else legs[i + 1] / 2.0)
        for i in range(len(legs) - 1)
    ]


def bent_pieces(legs: Sequence[float], radius_mm: float, tube: Tube, bending: Bending) -> tuple[Piece, ...]:
    """The folded tube in as few pieces as the rack allows, joined end to end in the middle of legs.

    Raises
    ------
    Refusal
        The tube on the rack is shorter than one bend with its legs.
    """
    trim = bending.trim_mm
    if len(legs) == 1:
        return (_checked(Piece("fold", tube, legs[0], trim)),)
    groups: list[list[tuple[float, float, float]]] = []
    for block in _blocks(legs, bend_length_mm(radius_mm, 180.0)):
        long = sum(map(sum, groups[-1])) + sum(block) + 2.0 * trim if groups else 0.0
        if groups and (long <= tube.length_mm or block[0] < bending.grip_mm):
            groups[-1].append(block)
        else:
            groups.append([block])
    pieces, number = [], 0
    for n, group in enumerate(groups, 1):
        at, marks = trim, []
        for before, bend, after in group:
            number += 1
            marks.append((f"bend {number} begins", at + before))
            marks.append((f"bend {number} ends", at + before + bend))
            at += before + bend + after
        name = "fold" if len(groups) == 1 else f"fold {n}"
        pieces.append(_checked(Piece(name, tube, at - trim, trim, tuple(marks))))
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
