"""A plan larger than the paper, cut into pages that overlap and say how they join."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from .drawing_1to1 import SMALL_MM, TEXT_MM, Box, Item, Line, Plan, Text, Window, cross, meets, moved
from .lettering import fitted

OVERLAP_MM = 30.0
TITLE_MM = 7.0  # line above the plan, for its title and the names of the joins
CLEAR_MM = 8.0  # joins are kept that far from holes where there is room


@dataclass
class Content:
    """What goes inside the frame of one page."""

    items: list[Item] = field(default_factory=list)
    windows: list[Window] = field(default_factory=list)


def _clear(place: float, avoid: list[tuple[float, float]]) -> float:
    """How far a place lies from the nearest of some stretches, at most CLEAR_MM."""
    return min((max(a - place, place - b) for a, b in avoid), default=CLEAR_MM)


def _starts(low: float, high: float, size: float, avoid: list[tuple[float, float]]) -> list[float]:
    """Where windows of that size start, to cover low to high with the overlap between neighbours.

    What the last window has to spare is used to keep the joins clear of the stretches to `avoid`.
    """
    if high - low <= size:
        return [low]
    count = math.ceil((high - low - OVERLAP_MM) / (size - OVERLAP_MM))
    spare = low + count * size - (count - 1) * OVERLAP_MM - high
    starts = [low]
    for _ in range(count - 1):
        latest = starts[-1] + size - OVERLAP_MM
        back = [float(n) for n in range(int(spare) + 1)]
        shift = max(back, key=lambda n: (min(_clear(latest - n + OVERLAP_MM / 2.0, avoid), CLEAR_MM), -n))
        starts.append(latest - shift)
        spare -= shift
    return starts


def _join_name(n: int) -> str:
    return chr(ord("A") + n) if n < 26 else f"A{n - 25}"


def _joins(starts: list[float], i: int, first: int = 0) -> list[tuple[float, str]]:
    """The joins of tile i: (place in the drawing, name)."""
    found = []
    for n in (i - 1, i):
        if 0 <= n < len(starts) - 1:
            found.append((starts[n + 1] + OVERLAP_MM / 2.0, _join_name(first + n)))
    return found


def _across(joins: list[tuple[float, str]], dx: float, foot: float, top: float) -> list[Item]:
    """Lines, crosses and names where a page joins those beside it."""
    items: list[Item] = []
    for at, name in joins:
        x = at + dx
        items += [Line(x, foot, x, top, "join")]
        items += [mark for y in (foot + 3.0, top - 3.0) for mark in cross(x, y, 3.0)]
        items += [Text(x - 1.0, top + 0.8, name, SMALL_MM, "end", bold=True)]
        items += [Text(x + 1.0, top + 0.8, name, SMALL_MM, bold=True)]
    return items


def _down(joins: list[tuple[float, str]], dy: float, edge: float, box: Box) -> list[Item]:
    """The same where it joins those above and below; places count downwards, names stand at the paper's edge."""
    items: list[Item] = []
    for at, name in joins:
        y = -at + dy
        items += [Line(box[0], y, box[2], y, "join")]
        items += [mark for x in (box[0] + 8.0, box[2] - 8.0) for mark in cross(x, y, 4.0)]
        items += [Text(edge, y + 1.0, name, SMALL_MM, bold=True), Text(edge, y - 2.8, name, SMALL_MM, bold=True)]
    return items


def _seen(plan: Plan, windows: list[Box]) -> list[list[Item]]:
    """What each window shows: of a text only all of it, unless no window shows it whole."""

    def whole(text: Item, window: Box) -> bool:
        a, b, c, d = text.box
        return a >= window[0] and b >= window[1] and c <= window[2] and d <= window[3]

    texts = {item for item in plan.items if isinstance(item, Text)}
    homeless = {text for text in texts if not any(whole(text, window) for window in windows)}
    return [
        [
            item
            for item in plan.items
            if meets(item, window) and (item not in texts or item in homeless or whole(item, window))
        ]
        for window in windows
    ]


def tiles(plan: Plan, area: Box) -> list[Content]:
    """A plan cut into pages at 1:1, from left to right, then down, with lines and crosses where they join.

    Neighbours overlap by 30 mm.  A text that would be cut through is left out of a page when another
    page shows it whole.
    """
    left, low, right, high = plan.box
    box = area[0] + 5.0, area[1], area[2], area[3] - TITLE_MM
    wide, tall = box[2] - box[0], box[3] - box[1]
    holes = [item.box for item in plan.items if getattr(item, "pen", "") == "cut"]
    columns = _starts(left, right, wide, [(hole[0], hole[2]) for hole in holes])
    rows = _starts(-high, -low, tall, [])  # counted downwards
    windows = [(x, -y - tall, x + wide, -y) for y in rows for x in columns]
    contents = []
    for n, (window, seen) in enumerate(zip(windows, _seen(plan, windows), strict=True)):
        dx, dy = box[0] - window[0], box[3] - window[3]
        across = _joins(columns, n % len(columns))
        down = _joins(rows, n // len(columns), len(columns) - 1)
        title = f"{plan.title}: part {n + 1} of {len(windows)}"
        said = ", ".join(f"{name}–{name}" for _, name in across + down)
        title += f" – cut or fold at {said}, lay line on line, cross on cross" if said else ""
        items = [Text(area[0], area[3] - 2.8, fitted(title, TEXT_MM, area[2] - area[0], True), bold=True)]
        items += _across(across, dx, max(box[1], low + dy - 4.0), box[3])
        items += _down(down, dy, area[0], box)
        contents.append(Content(items, [Window(box, moved(seen, dx, dy))]))
    return contents
