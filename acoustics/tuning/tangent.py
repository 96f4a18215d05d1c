"""The straight-line behaviour of a chart: from one sweep, what any small change does to every note."""

from __future__ import annotations

import numpy as np

from ..errors import check_kind
from ..physics.adjoint import (
    bore_gradient,
    foot_change,
    gas_change,
    hole_change,
    hole_shift,
    step_change,
    sweep,
    variants_change,
)
from ..physics.air import Gas
from ..physics.ducts import SLICE_MM, Slices
from ..physics.network import Column, column, states
from ..physics.reeds import head
from ..physics.toneholes import Holes
from ..physics.twoport import apply
from ..pipes.reed import Reed
from ..units import MM
from .setup import Setup

CENTS = 1200.0 / np.log(2.0)


class Tangent:
    """First-order behaviour of every sounding row of a setup's chart.

    Parameters
    ----------
    setup : Setup
    slice_mm : float
        Longest slice of the bore.

    Notes
    -----
    A change dY of the admittance at the lips moves a mode by -Im dY / (d Im Y / d ln f).  Every method
    gives cents, array (rows, ...); rows that do not sound are nan.
    """

    def __init__(self, setup: Setup, slice_mm: float = SLICE_MM):
        check_kind("setup", setup, Setup, "a Setup")
        self.setup, self.pipe, self.gas = setup, setup.pipe, setup.air.gas
        rows = setup.chart.rows
        patterns = tuple(dict.fromkeys(row.fingering.pattern for row in rows))
        self.column = column(self.pipe, slice_mm)
        self.states = states(self.column, patterns)
        self.sounding = np.array([i for i, row in enumerate(rows) if row.mode is not None], int)
        self.frequency = np.array([rows[i].sounding_hz for i in self.sounding])
        self.pattern = np.array([patterns.index(rows[i].fingering.pattern) for i in self.sounding], int)
        self.swept = sweep(self.column, self.states, self.pattern, self.frequency, self.gas)
        modes = [rows[i].mode for i in self.sounding]
        self.slope = np.array([2.0 * mode.quality / mode.strength for mode in modes])
        pressure, flow = self._at_lips(self.pipe.head, self.gas)
        self.lips2, self.admittance = pressure**2, flow / pressure
        self.gradient = bore_gradient(self.column, self.swept, self.frequency, self.gas)
        self._where = (self.states, self.pattern, self.swept, self.frequency, self.gas)

    def _at_lips(self, reed: Reed, gas: Gas):
        """(p, U) at the lips above the air at the eye, (2, f)."""
        return apply(head(reed, self.frequency, gas), self.swept.eye)

    def _rows(self, values):
        out = np.full((len(self.setup.chart.rows), *values.shape[:-1]), np.nan)
        out[self.sounding] = np.moveaxis(values, -1, 0)
        return out

    def cents(self, change):
        """Cents of a change of Y p_lips^2, complex array (..., f) -> (rows, ...)."""
        return self._rows(-CENTS * (change / self.lips2).imag / self.slope)

    def slices(self, area, perimeter, length):
        """Change of Y p_lips^2 of changes of the slices: relative (2, n), relative (2, n), in metres (n,)."""
        parts = (("area", area), ("perimeter", perimeter), ("length", np.atleast_2d(length)))
        return sum(np.einsum("gn,gnf->f", by, self.gradient[name]) for name, by in parts)

    def toward(self, other: Column):
        """Cents when the column becomes a little different `other`, made with `like` this one, (rows,)."""
        moved = self.bore_toward(other.bore)
        change = np.zeros(len(self.frequency), complex)
        if self.column.holes and not _same(self.column.holes, other.holes):
            change = change + hole_change(other.holes, *self._where).sum(axis=0)
        if other.foot_radii != self.column.foot_radii:
            change = change + foot_change(self.column, other, *self._where)
        return moved + self.cents(change)

    def bore_toward(self, bore: Slices):
        """Cents when the slices of the bore, steps included, become a little different, (rows,)."""
        mine = self.column.bore
        wider = (getattr(bore, n) / getattr(mine, n) - 1.0 for n in ("area", "perimeter"))
        steps = step_change(mine, bore, self.swept, self.frequency, self.gas).sum(axis=0)
        return self.cents(self.slices(*wider, bore.length - mine.length) + steps)

    def steps_toward(self, other: Column):
        """Cents when each step of the bore alone becomes that of `other`, (rows, steps)."""
        return self.cents(step_change(self.column.bore, other.bore, self.swept, self.frequency, self.gas))

    def foot_toward(self, other: Column):
        """Cents when the open foot becomes as wide as that of `other`, (rows,)."""
        return self.cents(foot_change(self.column, other, *self._where))

    def holes_toward(self, other: Holes):
        """Cents when each hole alone becomes a little different, its place too, (rows, holes)."""
        return self.variants_toward(other)[:, 0]

    def variants_toward(self, variants: Holes):
        """The same of several variants of the holes, one after the other, (rows, variants, holes)."""
        mine = self.column.holes
        change = variants_change(variants, *self._where)
        way = variants.place.reshape(len(change), -1) - mine.place
        if np.any(way):
            area, perimeter = self.pipe.path.cross_section(mine.place / MM)
            bore = (area * MM**2, perimeter * MM)
            change = change + way[..., None] * hole_shift(bore, self.swept, self.frequency, self.gas)
        return self.cents(change)

    def reed_toward(self, reed: Reed):
        """Cents when the head becomes a little different, (rows,)."""
        return self.cents(self._reed_change(reed, self.gas))

    def _reed_change(self, reed: Reed, gas: Gas):
        pressure, flow = self._at_lips(reed, gas)
        return (flow / pressure - self.admittance) * self.lips2

    def gas_toward(self, gas: Gas):
        """Cents when the air becomes a little different, (rows,)."""
        below = gas_change(gas, self.column, self.gradient, *self._where)
        return self.cents(below + self._reed_change(self.pipe.head, gas))


def _same(one: Holes, two: Holes) -> bool:
    """Whether holes are the same in all but their place along the path."""
    fields = ("mouth", "bore", "wall", "outlet", "outer", "pad", "lift")
    slices = ("length", "area", "perimeter", "step")
    return all(np.array_equal(getattr(one, f), getattr(two, f)) for f in fields) and all(
        np.array_equal(getattr(one.chimneys, f), getattr(two.chimneys, f)) for f in slices
    )
