"""What can be done at the bench: every move, how far it goes, whether it can be undone, and what comes first."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..errors import Refusal
from ..pipes.holes import Key
from ..tuning.chart import signed
from ..tuning.dials import DIALS, Dial, hole_dials
from ..tuning.setup import Setup

GENTLE = "can be undone"
BY_KINDNESS = (GENTLE, "undercut", "enlarge", "ream")  # in the order in which a careful maker tries them
WORTH = 0.5  # what is listed must do at least this share of the best one's good; a choice, no source
_RUSH_MM = 1.5


@dataclass(frozen=True)
class Move:
    """One thing to do.

    Parameters
    ----------
    words : str
        "push the staple deeper".
    kind : str
        One of `BY_KINDNESS`.
    dial : Dial
    farthest : float
        How far, from where the dial stands, in its unit; negative turns it down (common practice, no source).
    step : float
        Finest amount worth setting.
    cause : str
        Name of the dimension that it touches, as in `faults.causes`.
    """

    words: str
    kind: str
    dial: Dial
    farthest: float
    step: float
    cause: str

    @property
    def finite(self) -> bool:
        """Whether its effect is far from a straight line (tape, rush)."""
        return self.dial is _RUSH or self.dial.unit == "%"

    @property
    def against(self) -> float:
        """Sign of the dimension's error that it undoes: 1 where that is too large."""
        return 1.0 if self.dial is _RUSH or self.farthest < 0.0 else -1.0

    def said(self, amount: float) -> str:
        """ "push the staple deeper by 1.5 mm"."""
        if self.dial.unit == "%":
            return f"{self.words}, so that {100.0 + amount:.0f} % of it is left open"
        digits = len(f"{self.step:g}".partition(".")[2])
        how = "for" if self.dial is _RUSH else "by"
        return f"{self.words} {how} {abs(amount):.{digits}f} {self.dial.unit}".rstrip()


@dataclass(frozen=True)
class Option:
    """A move at its best amount, and the good that it does [cents]: 0 where it is not to be thought of.

    `bare` where it undoes nothing suspected and would only make up for what is off elsewhere.
    """

    move: Move
    amount: float
    good: float
    bare: bool = False


def unmatched(options: list[Option]) -> list[Option]:
    """Without the cuts that do no more good than something that can be undone."""
    gentle = max((option.good for option in options if option.move.kind == GENTLE), default=0.0)
    return [option for option in options if option.move.kind == GENTLE or option.good > gentle]


def listed(options: list[Option]) -> list[Option]:
    """Those that do at least `WORTH` of the best one's good: the kindest first, before others of its kind what undoes
    a suspicion; one for each dimension, and of the bare ones one, for they mostly do the same to the notes."""
    least = WORTH * max((option.good for option in options), default=0.0)
    worth = [option for option in options if option.good > 0.0 and option.good >= least]
    worth.sort(key=lambda option: (BY_KINDNESS.index(option.move.kind), option.bare, -option.good))
    found: list[Option] = []
    for option in worth:
        if not any(option.move.cause == other.move.cause or (option.bare and other.bare) for other in found):
            found.append(option)
    return found


# dial, up, how far, down, how far, step; all can be undone
_GENTLE = (
    ("insertion", "push the staple deeper", 3.0, "draw the staple out", 3.0, 0.5),
    ("reed length", "set the blades farther out on the staple", 2.0, "set the blades deeper on the staple", 2.0, 0.5),
    ("softness", "make the reed softer (bridle, by trial)", 0.2, "make the reed stiffer (bridle, by trial)", 0.2, 0.02),
    ("eye", "open the eye", 0.35, "press the eye", 0.35, 0.05),
    ("staple tip", "roll another staple, wider at the eye", 0.3, "roll another staple, narrower at the eye", 0.3, 0.05),
    ("staple foot", "roll another staple, wider at its foot", 0.3, "roll another staple, narrower at its foot", 0.3,
     0.05),
)  # fmt: skip


def far_enough(move: Move, titles, before, after) -> str:
    """How far to go where no rule measures it: in each octave the note that it moves most, now and then.

    All (notes,): "A, first octave" and so on, and cents; "" for a move that is measured.
    """
    if move.dial is not DIALS["softness"]:
        return ""
    said = []
    for octave in ("first", "second"):
        inside = [i for i, title in enumerate(titles) if f"{octave} octave" in title and np.isfinite(after[i])]
        if inside:
            i = max(inside, key=lambda i: abs(after[i] - before[i]))
            said.append(f"{titles[i]}, stands at {signed(after[i], 0)} cents (now {signed(before[i], 0)})")
    return f" Far enough when {' and '.join(said)}." if said else ""


def moves(setup: Setup) -> tuple[Move, ...]:
    """Every move that this pipe allows, each in one direction, its limits those of its dial."""
    found = []
    for name, up, far, down, near, step in _GENTLE:
        found += [Move(up, GENTLE, DIALS[name], far, step, name)]
        found += [Move(down, GENTLE, DIALS[name], -near, step, name)]
    if setup.base.rush is None and not setup.rush_mm:
        found.append(Move(f"lay a rush of {_RUSH_MM} mm wire, from the foot up", GENTLE, _RUSH, 200.0, 10.0, "taper"))
    found.append(Move("line the throat with varnish or wax, narrower", GENTLE, DIALS["throat"], -0.3, 0.02, "throat"))
    found.append(Move("ream the throat wider", "ream", DIALS["throat"], 0.3, 0.02, "throat"))
    found.append(Move("ream the bore wider towards the foot", "ream", DIALS["taper"], 0.5, 0.05, "taper"))
    for hole in setup.base.holes:
        if isinstance(hole, Key) or not isinstance(hole.diameter_mm, tuple):
            found += _hole_moves(setup, hole)
    return tuple(cut for cut in (_inside(move, setup) for move in found) if cut is not None)


def _hole_moves(setup: Setup, hole) -> list[Move]:
    dials, size, place = hole_dials(setup, hole.name), f"{hole.name}: size", f"{hole.name}: position"
    it = f"the {hole.name} hole"
    made = [Move(f"tape or wax over {it}", GENTLE, dials["tape"], -60.0, 5.0, size)]
    if "undercut" in dials:
        made.append(Move(f"undercut {it}, wider inside", "undercut", dials["undercut"], 1.5, 0.1, size))
    made.append(Move(f"enlarge {it}", "enlarge", dials["size"], 0.6, 0.05, size))
    made.append(
        Move(f"shift {it} up (wax its lower edge, file the upper)", "enlarge", dials["position"], -1.5, 0.25, place)
    )
    made.append(
        Move(f"shift {it} down (wax its upper edge, file the lower)", "enlarge", dials["position"], 1.5, 0.25, place)
    )
    return made


def _inside(move: Move, setup: Setup) -> Move | None:
    """The move no farther than its dial allows; None where it cannot go one step."""
    try:
        stands = move.dial.read(setup)
    except Refusal:
        return None
    room = (move.dial.high if move.farthest > 0 else move.dial.low) - stands
    farthest = min(move.farthest, room) if move.farthest > 0 else max(move.farthest, room)
    far_enough = farthest * move.farthest > 0 and abs(farthest) >= move.step - 1e-9
    return replace(move, farthest=farthest) if far_enough else None


def _turn_rush(setup: Setup, value: float) -> Setup:
    return replace(setup, rush_mm=_RUSH_MM if value > 0.0 else 0.0, rush_length_mm=float(value))


_RUSH = Dial("bore", "rush, up from the foot", "mm", 0.0, 200.0, 10.0, lambda setup: setup.rush_length_mm, _turn_rush)
