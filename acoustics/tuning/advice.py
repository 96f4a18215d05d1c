"""From derivatives to advice: which change moves one note by so much, and what it takes along."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import Refusal, check_kind, number
from .sensitivity import Sensitivity

LARGEST = {"mm": 1.5, "mm²": 2.0, "0.1": 3.0, "10 Hz": 15.0, "°C": 10.0, "10 %": 5.0}


@dataclass(frozen=True)
class Advice:
    """One change that moves a note by what was asked, to first order.

    Parameters
    ----------
    dimension, unit : str
    amount : float
        Of the dimension, in its unit.
    partner : float
        What happens to the same fingering's other octave [cents].
    others : float
        Root mean square over all other notes [cents]; 0 where there is no other.
    worst, worst_cents : str, float
        The other note that moves most; "" and 0 where there is none.
    """

    dimension: str
    unit: str
    amount: float
    partner: float
    others: float
    worst: str
    worst_cents: float

    @property
    def said(self) -> str:
        """The amount with its unit: "+0.46 mm", "-0.02", "+24 Hz"."""
        number, _, unit = self.unit.partition(" ")
        try:
            amount = self.amount * float(number)
        except ValueError:
            amount, unit = self.amount, self.unit
        digits = f"{amount:+.2f}" if unit.startswith("mm") else f"{amount:+.3g}"
        return f"{digits} {unit}".rstrip()


def advice(sensitivity: Sensitivity, note: str, cents: float, keep: str | None = None) -> tuple[Advice, ...]:
    """Single changes that move one note by so many cents, those that disturb least first.

    Parameters
    ----------
    sensitivity : Sensitivity
    note : str
        Title of a row, "A, second octave".
    cents : float
        Wanted; positive sharpens.
    keep : str, optional
        Title of a row that should stay, usually the other octave; it then counts ten times.

    Returns
    -------
    tuple of Advice

    Raises
    ------
    Refusal
        No sensitivity, a title that is not among its notes, or cents beyond an octave.

    Notes
    -----
    First order only: right for a few cents.  Changes larger than a workshop would make are left out.
    """
    check_kind("sensitivity", sensitivity, Sensitivity, "a Sensitivity, as sensitivities gives it,")
    cents = number("cents", cents, -1200.0, 1200.0, "cents")
    for title in (note, *((keep,) if keep else ())):
        if title not in sensitivity.notes:
            raise Refusal(
                f'there is no note "{title}"', f"one of {', '.join(sensitivity.notes[:3])}, … is allowed", "note"
            )
    row = sensitivity.notes.index(note)
    name, octave = note.rsplit(", ", 1)
    other = f"{name}, {'first' if octave.startswith('second') else 'second'} octave"
    found = []
    for i, dimension in enumerate(sensitivity.dimensions):
        slope = sensitivity.matrix[row, i]
        if not np.isfinite(slope) or abs(slope) < 1e-6:
            continue
        amount = cents / slope
        unit = sensitivity.units[i]
        if abs(amount) > LARGEST.get(unit, np.inf):
            continue
        moved = amount * sensitivity.matrix[:, i]
        rest = np.delete(np.arange(len(moved)), row)
        rest = rest[np.isfinite(moved[rest])]
        weight = np.where(np.array(sensitivity.notes)[rest] == keep, 10.0, 1.0)
        partner = float(moved[sensitivity.notes.index(other)]) if other in sensitivity.notes else float("nan")
        others, worst = 0.0, ("", 0.0)
        if len(rest):
            others = float(np.sqrt(np.average(moved[rest] ** 2, weights=weight)))
            most = rest[int(np.argmax(np.abs(moved[rest])))]
            worst = (sensitivity.notes[most], float(moved[most]))
        found.append(Advice(dimension, unit, float(amount), partner, others, *worst))
    return tuple(sorted(found, key=lambda one: one.others))
