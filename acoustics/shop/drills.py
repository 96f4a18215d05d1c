"""Twist drills that can be bought: metric, fractional, number and letter sizes, and a maker's own."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from ..errors import Refusal, number, short
from ..units import INCH_MM

SMALLEST_MM, LARGEST_MM = 0.1, 60.0
SIDES = ("below", "above", "nearest")


@dataclass(frozen=True, order=True)
class Drill:
    """One drill: its diameter [mm] and the name it is sold under."""

    mm: float
    name: str

    def __str__(self) -> str:
        return self.name if self.name.endswith("mm") else f"{self.name} ({self.mm:.3f} mm)"


def _metric(first: float, last: float, step: float) -> list[Drill]:
    count = round((last - first) / step) + 1
    sizes = (round(first + i * step, 2) for i in range(count))
    return [Drill(mm, f"{mm:.2f}".removesuffix("0") + " mm") for mm in sizes]


def _fraction(sixty_fourths: int) -> Drill:
    above, below = sixty_fourths, 64
    while above % 2 == 0:
        above, below = above // 2, below // 2
    return Drill(INCH_MM * sixty_fourths / 64, f"{above}/{below} in")


# Preferred steps of ISO 235 (as in BS 328: 0.05 mm below 3, 0.1 mm from 3.0 to 13.9, 0.25 mm from 14).
METRIC = tuple(_metric(1.0, 2.95, 0.05) + _metric(3.0, 13.9, 0.1) + _metric(14.0, 20.0, 0.25))

# Steps of 1/64 inch, exactly; ANSI B94.11M.
FRACTIONAL = tuple(_fraction(n) for n in range(1, 49))

# ANSI B94.11M wire-gauge numbers 1 to 80 and letters A to Z [mm, to 0.001].  Compared with published lists:
# 1, 7, 41, 54 to 80, A and Z; the others are from memory.
_NUMBER_MM = """
    5.791 5.613 5.410 5.309 5.220 5.182 5.105 5.055 4.978 4.915 4.851 4.801 4.699 4.623 4.572 4.496 4.394 4.305 4.216
    4.089 4.039 3.988 3.912 3.861 3.797 3.734 3.658 3.569 3.454 3.264 3.048 2.946 2.870 2.819 2.794 2.705 2.642 2.578
    2.527 2.489 2.438 2.375 2.261 2.184 2.083 2.057 1.994 1.930 1.854 1.778 1.702 1.613 1.511 1.397 1.321 1.181 1.092
    1.067 1.041 1.016 0.991 0.965 0.940 0.914 0.889 0.838 0.813 0.787 0.742 0.711 0.660 0.635 0.610 0.572 0.533 0.508
    0.457 0.406 0.368 0.343"""
_LETTER_MM = """
    5.944 6.045 6.147 6.248 6.350 6.528 6.629 6.756 6.909 7.036 7.137 7.366 7.493 7.671 8.026 8.204 8.433 8.611 8.839
    9.093 9.347 9.576 9.804 10.084 10.262 10.490"""
NUMBER = tuple(sorted(Drill(float(mm), f"no. {n}") for n, mm in enumerate(_NUMBER_MM.split(), 1)))
LETTER = tuple(Drill(float(mm), f"letter {chr(ord('A') + i)}") for i, mm in enumerate(_LETTER_MM.split()))

LISTS = {"metric": METRIC, "fractional": FRACTIONAL, "number": NUMBER, "letter": LETTER}
_NAMED = {drill.name: drill for drills in LISTS.values() for drill in drills}
ALLOWED = 'millimetres like 5.2, a list ("metric", "fractional", "number", "letter") or names like "no. 7", "letter F" '
ALLOWED += 'and "13/64 in" are allowed'


def _named(name: str) -> tuple[Drill, ...]:
    if name in LISTS:
        return LISTS[name]
    if name not in _NAMED:
        raise Refusal(f"{short(name)} is not a drill", ALLOWED, "drills")
    return (_NAMED[name],)


def own_drills(drills: Iterable[float | str | Drill] | str) -> tuple[Drill, ...]:
    """The drills a shop has, from the smallest.

    Parameters
    ----------
    drills : one name, or numbers, names and Drills
        A number is a diameter [mm]; a name is a whole list ("metric", "fractional", "number",
        "letter") or one drill of it ("no. 7", "letter F", "13/64 in", "5.2 mm").

    Raises
    ------
    Refusal
        A name that is not known, a diameter out of bounds, or no drill at all.
    """
    if isinstance(drills, str):
        drills = (drills,)
    if isinstance(drills, (bytes, dict)) or not hasattr(drills, "__iter__"):
        raise Refusal(f"{short(drills)} is not a list of drills", ALLOWED, "drills")
    found: set[Drill] = set()
    for item in drills:
        if isinstance(item, Drill):
            number("drills, diameter", item.mm, SMALLEST_MM, LARGEST_MM)
            found.add(item)
        elif isinstance(item, str):
            found.update(_named(item))
        else:
            mm = number("drills", item, SMALLEST_MM, LARGEST_MM)
            found.add(Drill(mm, f"{mm:g} mm"))
    if not found:
        raise Refusal("there is no drill in the list", "at least one drill is needed", "drills")
    return tuple(sorted(found))


def nearest_drill(mm: float, drills: Iterable[float | str | Drill] | str = METRIC, side: str = "nearest") -> Drill:
    """The drill of a list closest to a diameter.

    Parameters
    ----------
    mm : float
        Diameter wanted [mm].
    drills
        As for `own_drills`.
    side : str
        "below" (at most `mm`: wood cannot be put back), "above" (at least `mm`) or "nearest" (of
        two equally near, the smaller).

    Raises
    ------
    Refusal
        No drill on that side, or an empty list.
    """
    mm = number("drill diameter", mm, SMALLEST_MM, LARGEST_MM)
    if side not in SIDES:
        raise Refusal(f"{short(side)} is not a side", f"one of {', '.join(SIDES)} is allowed", "side")
    have = own_drills(drills)
    within = 1e-9
    fit = [d for d in have if side == "nearest" or (d.mm <= mm + within if side == "below" else d.mm >= mm - within)]
    if not fit:
        what = f"no drill of the list is {mm:g} mm or {'smaller' if side == 'below' else 'larger'}"
        raise Refusal(what, f"the list goes from {have[0].mm:g} to {have[-1].mm:g} mm", "drills")
    return min(fit, key=lambda drill: (round(abs(drill.mm - mm), 9), drill.mm))
