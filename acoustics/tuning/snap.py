"""Hole sizes that the shop can drill: a design found freely, moved to sizes of a list at the least cost."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from html import escape

import numpy as np

from ..errors import Refusal, check_kind, number
from .dials import Dial
from .found import Found, rms_and_worst, silent
from .free import turned
from .rules import Rules
from .search import SILENT_CENTS, search, slope, whole_cost
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
        Of the design with free sizes, over the rows that sound [cents].
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
        said = (
            f"With sizes of the drill list the design comes to {self.found.rms_cents:.1f} cents rms, its worst note "
            f"{self.found.worst_cents:.1f} off; with free sizes it was {self.before_rms:.1f} and "
            f"{self.before_worst:.1f}."
        )
        return f"{said} Silent: {'; '.join(self.found.silent)}." if self.found.silent else said

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
    check_kind("setup", setup, Setup, "a Setup")
    check_kind("drill sizes", sizes_mm, Iterable, "a list of sizes in mm")
    sizes = sorted({number("drill sizes", size, 0.1, 60.0) for size in sizes_mm})
    if not sizes:
        raise Refusal("there is no drill in the list", "at least one size is needed", "drill sizes")
    near = {name: _near(dial, dial.read(setup), sizes) for name, dial in dials.items() if is_size(dial)}
    if not near:
        raise Refusal("no hole's size is free", "at least one dial of a hole's size is needed", "snap")
    task = _Task(dials, near, target_cents, weights, rules or Rules(), progress)
    best, before = _best(task, setup), _as_is(setup, target_cents)
    named = {dials[name].label: size for name, size in best.sizes.items()}
    return Snapped(best.found, named, before.rms_cents, before.worst_cents)


@dataclass(frozen=True)
class _Choice:
    """A size for every hole, and the design that the search for the rest came to with them."""

    sizes: Mapping[str, float]
    found: Found
    cost: float


@dataclass(frozen=True)
class _Task:
    """What `snap` was asked; `near` has the sizes of the list on either side of each hole's own, the nearer first."""

    dials: Mapping[str, Dial]
    near: Mapping[str, list[float]]
    target: object
    weights: object
    rules: Rules
    progress: Callable[[int, float], bool | None] | None

    @property
    def rest(self) -> dict[str, Dial]:
        """The dials that stay free."""
        return {name: dial for name, dial in self.dials.items() if name not in self.near}

    def reached(self, start: Setup, sizes: Mapping[str, float]) -> _Choice:
        """What the search for the rest comes to with these sizes; no room for one is a `Refusal`."""
        start = turned(start, {self.dials[name]: size for name, size in sizes.items()})
        found = _as_is(start, self.target)
        if self.rest:
            found = search(start, self.rest, self.target, self.weights, rules=self.rules, progress=self.progress)
        return _Choice(sizes, found, whole_cost(found.setup, self.dials, self.target, self.weights, self.rules))

    def others(self, sizes: Mapping[str, float]) -> dict[str, float]:
        """The size on the other side of each hole's own, where the list has one."""
        return {name: two[sizes[name] == two[0]] for name, two in self.near.items() if len(two) == 2}


def _best(task: _Task, setup: Setup) -> _Choice:
    """From the nearest sizes, one hole after the other to its other size, while that makes the design better."""
    best, tried = task.reached(setup, {name: two[0] for name, two in task.near.items()}), set()
    while not best.found.stopped:
        others = {name: size for name, size in task.others(best.sizes).items() if name not in tried}
        hoped = _promising(task, best.found.setup, others)
        if hoped is None:
            break
        tried.add(hoped)
        try:
            there = task.reached(best.found.setup, best.sizes | {hoped: others[hoped]})
        except Refusal:  # no room for the larger size
            continue
        if there.cost < best.cost - 1e-6:
            best, tried = there, {hoped}
        if there.found.stopped:
            break
    return best


def _promising(task: _Task, setup: Setup, others: Mapping[str, float]) -> str | None:
    """The hole whose other size would leave least, the rest making up for it to first order; None where none helps."""
    if not others:
        return None
    tangent, weigh = Tangent(setup), 1.0 if task.weights is None else np.asarray(task.weights, float)[:, None]
    held = {task.dials[name]: size for name, size in others.items()}

    def slopes(dials) -> np.ndarray:
        columns = [slope(tangent, dial) * (dial.high - dial.low) for dial in dials]
        return weigh * np.reshape(columns, (len(columns), -1)).T

    miss = weigh * np.nan_to_num(_off(setup, task.target), nan=SILENT_CENTS)[:, None]
    moves = [(size - dial.read(setup)) / (dial.high - dial.low) for dial, size in held.items()]
    then = miss + slopes(held) * moves
    if task.rest:
        way, size, _ = np.linalg.svd(slopes(task.rest.values()), full_matrices=False)
        way = way[:, size > 0.05 * size[0]]
        miss, then = miss - way @ (way.T @ miss), then - way @ (way.T @ then)
    left = np.sum(then**2, axis=0)
    best = int(np.argmin(left))
    return list(others)[best] if left[best] < 0.99 * np.sum(miss**2) else None


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
    rms, worst = rms_and_worst(_off(setup, target))
    return Found(setup, rms, worst, (), (), False, silent=silent(setup.chart))


def _off(setup: Setup, target) -> np.ndarray:
    return setup.chart.cents - (0.0 if target is None else target)
