"""Hole sizes that the shop can drill: a design found freely, moved to sizes of a list at the least cost."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from html import escape

import numpy as np

from ..errors import Refusal, number
from .dials import Dial
from .free import turned
from .rules import Rules
from .search import SILENT_CENTS, Found, search, slope, whole_cost
from .setup import Setup
from .tangent import Tangent


@dataclass(frozen=True)
class Snapped:
    """A design whose holes are drilled with what there is.  Shows itself in plain words.

    Parameters
    ----------
    found : Found
        The search for all the rest with the sizes held.
    sizes_mm : {name of the dial: size}
    before_rms, before_worst : float
        Of the design with free sizes [cents].
    """

    found: Found
    sizes_mm: Mapping[str, float]
    before_rms: float
    before_worst: float

    @property
    def cost_cents(self) -> float:
        """What the sizes of the list cost, root mean square [cents]."""
        return self.found.rms_cents - self.before_rms

    def __repr__(self) -> str:
        return (
            f"With sizes of the drill list the design comes to {self.found.rms_cents:.1f} cents rms, its worst note "
            f"{self.found.worst_cents:.1f} off; with free sizes it was {self.before_rms:.1f} and "
            f"{self.before_worst:.1f}."
        )

    def _repr_html_(self) -> str:
        return f"<p style='max-width:48em'>{escape(repr(self))}</p>"


def is_size(dial: Dial) -> bool:
    """Whether a dial turns the diameter of a hole."""
    return dial.group == "holes" and dial.where is not None and dial.where[1] == "diameter_mm"


def snap(
    setup: Setup,
    dials: Mapping[str, Dial],
    sizes_mm: Iterable[float],
    target_cents=None,
    weights=None,
    rules: Rules | None = None,
    progress: Callable[[int, float], bool | None] | None = None,
) -> Snapped:
    """Give every hole whose size is a dial a size of a list, and search for all other dials again.

    Parameters
    ----------
    setup : Setup
        A design as found by `search` with the same dials.
    dials : {name: Dial}
        The sizes among them are held; places, undercuts, staple and the rest stay free.
    sizes_mm : numbers
        Diameters that the shop can drill [mm].
    target_cents, weights, rules, progress
        As for `search`.

    Returns
    -------
    Snapped

    Raises
    ------
    Refusal
        An empty list, no hole size among the dials, or a hole for which the list has no size between its limits.

    Notes
    -----
    Every hole first takes the size nearest to its own, and the rest is searched.  Then the hole that promises
    most, to first order, tries the size on the other side of what it had, the rest searched anew, and keeps it
    where the design gets better; until no hole promises a hundredth of the sum of squares.
    """
    sizes = sorted({number("drill sizes", size, 0.1, 60.0) for size in sizes_mm})
    if not sizes:
        raise Refusal("there is no drill in the list", "at least one size is needed", "drill sizes")
    held = {name: dial for name, dial in dials.items() if is_size(dial)}
    if not held:
        raise Refusal("no hole's size is free", "at least one dial of a hole's size is needed", "snap")
    rest = {name: dial for name, dial in dials.items() if name not in held}
    near = {name: _near(dial, dial.read(setup), sizes) for name, dial in held.items()}
    rules = rules or Rules()

    def reached(start: Setup, chosen) -> tuple[float, Found]:
        start = turned(start, {held[name]: size for name, size in chosen.items()})
        found = _as_is(start, target_cents)
        if rest:
            found = search(start, rest, target_cents, weights, rules=rules, progress=progress)
        return whole_cost(found.setup, dials, target_cents, weights, rules), found

    chosen = {name: two[0] for name, two in near.items()}
    cost, best = reached(setup, chosen)
    tried = set()
    while not best.stopped:
        others = {name: near[name][chosen[name] == near[name][0]] for name in near if len(near[name]) == 2}
        hoped = _promising(
            best.setup, held, rest, {n: s for n, s in others.items() if n not in tried}, target_cents, weights
        )
        if hoped is None:
            break
        tried.add(hoped)
        try:
            cost_there, there = reached(best.setup, chosen | {hoped: others[hoped]})
        except Refusal:  # no room for the larger size
            continue
        if cost_there < cost - 1e-6:
            chosen, cost, best, tried = chosen | {hoped: others[hoped]}, cost_there, there, {hoped}
        if there.stopped:
            break
    return _snapped(setup, dials, chosen, best, target_cents)


def _promising(setup: Setup, held, rest, others, target, weights) -> str | None:
    """The hole whose other size would leave least, the rest making up for it to first order; None where none helps."""
    if not others:
        return None
    tangent, weigh = Tangent(setup), 1.0 if weights is None else np.asarray(weights, float)[:, None]

    def slopes(dials) -> np.ndarray:
        columns = [slope(tangent, dial) * (dial.high - dial.low) for dial in dials]
        return weigh * np.reshape(columns, (len(columns), -1)).T

    miss = weigh * (_cents_off(setup, target)[:, None])
    moves = [(size - held[name].read(setup)) / (held[name].high - held[name].low) for name, size in others.items()]
    then = miss + slopes([held[name] for name in others]) * moves
    if rest:
        way, size, _ = np.linalg.svd(slopes(rest.values()), full_matrices=False)
        way = way[:, size > 0.05 * size[0]]
        miss, then = miss - way @ (way.T @ miss), then - way @ (way.T @ then)
    left = np.sum(then**2, axis=0)
    best = int(np.argmin(left))
    return list(others)[best] if left[best] < 0.99 * np.sum(miss**2) else None


def _snapped(setup: Setup, dials, chosen, found: Found, target) -> Snapped:
    before = _as_is(setup, target)
    return Snapped(
        found, {dials[name].label: size for name, size in chosen.items()}, before.rms_cents, before.worst_cents
    )


def _near(dial: Dial, value: float, sizes) -> list[float]:
    """The sizes next to a value on either side, between the dial's limits, the nearer first."""
    fit = [size for size in sizes if dial.low - 1e-9 <= size <= dial.high + 1e-9]
    if not fit:
        what = f"no drill of the list lies between {dial.low:g} and {dial.high:g} mm"
        raise Refusal(what, f"the list goes from {sizes[0]:g} to {sizes[-1]:g} mm", dial.label)
    below, above = [size for size in fit if size <= value], [size for size in fit if size > value]
    return sorted(below[-1:] + above[:1], key=lambda size: abs(size - value))


def _as_is(setup: Setup, target) -> Found:
    """A design as the outcome of no search."""
    miss = _cents_off(setup, target)
    return Found(setup, float(np.sqrt(np.mean(miss**2))), float(np.max(np.abs(miss))), (), (), False)


def _cents_off(setup: Setup, target) -> np.ndarray:
    return np.nan_to_num(setup.chart.cents - (0.0 if target is None else target), nan=SILENT_CENTS)
