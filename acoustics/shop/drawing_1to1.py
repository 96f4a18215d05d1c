"""A drawing at 1:1, before anyone chose a file format: lines, circles, arcs and text in mm, y upwards."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from .lettering import width_mm

Box = tuple[float, float, float, float]  # left, bottom, right, top
TEXT_MM = 3.0
SMALL_MM = 2.5


@dataclass(frozen=True)
class Pen:
    """Width of a line [mm], and its dashes (on, off, ...) [mm]; none for a full line."""

    width_mm: float
    dashes_mm: tuple[float, ...] = ()


PENS = {
    "cut": Pen(0.35),
    "outline": Pen(0.35),
    "frame": Pen(0.25),
    "thin": Pen(0.13),
    "hidden": Pen(0.18, (2.0, 1.2)),
    "axis": Pen(0.13, (6.0, 1.2, 1.2, 1.2)),
    "join": Pen(0.25, (4.0, 2.0)),
    "rule": Pen(0.15),
}


@dataclass(frozen=True)
class Line:
    """From one point to another."""

    x1: float
    y1: float
    x2: float
    y2: float
    pen: str = "outline"

    def moved(self, dx: float, dy: float) -> Line:
        return replace(self, x1=self.x1 + dx, y1=self.y1 + dy, x2=self.x2 + dx, y2=self.y2 + dy)

    @property
    def box(self) -> Box:
        return min(self.x1, self.x2), min(self.y1, self.y2), max(self.x1, self.x2), max(self.y1, self.y2)


@dataclass(frozen=True)
class Circle:
    """Middle and radius."""

    x: float
    y: float
    radius: float
    pen: str = "outline"

    def moved(self, dx: float, dy: float) -> Circle:
        return replace(self, x=self.x + dx, y=self.y + dy)

    @property
    def box(self) -> Box:
        return self.x - self.radius, self.y - self.radius, self.x + self.radius, self.y + self.radius


@dataclass(frozen=True)
class Arc:
    """Part of a circle, counter-clockwise from one angle to the other [degrees]."""

    x: float
    y: float
    radius: float
    start_deg: float
    end_deg: float
    pen: str = "outline"

    def moved(self, dx: float, dy: float) -> Arc:
        return replace(self, x=self.x + dx, y=self.y + dy)

    def point(self, angle_deg: float) -> tuple[float, float]:
        """The point of the circle at an angle."""
        angle = math.radians(angle_deg)
        return self.x + self.radius * math.cos(angle), self.y + self.radius * math.sin(angle)

    @property
    def box(self) -> Box:
        quarters = range(math.ceil(self.start_deg / 90.0), math.floor(self.end_deg / 90.0) + 1)
        points = [self.point(a) for a in (self.start_deg, self.end_deg, *(90.0 * q for q in quarters))]
        xs, ys = zip(*points, strict=True)
        return min(xs), min(ys), max(xs), max(ys)


@dataclass(frozen=True)
class Polyline:
    """Straight stretches through points ((x, y), ...), closed or open."""

    points: tuple[tuple[float, float], ...]
    closed: bool = False
    pen: str = "outline"

    def moved(self, dx: float, dy: float) -> Polyline:
        return replace(self, points=tuple((x + dx, y + dy) for x, y in self.points))

    @property
    def box(self) -> Box:
        xs, ys = zip(*self.points, strict=True)
        return min(xs), min(ys), max(xs), max(ys)


@dataclass(frozen=True)
class Text:
    """One line of text: (x, y) lies on its base line at its start, middle or end; upright or turned by 90 degrees."""

    x: float
    y: float
    text: str
    size: float = TEXT_MM
    anchor: str = "start"
    turned: bool = False
    bold: bool = False

    def moved(self, dx: float, dy: float) -> Text:
        return replace(self, x=self.x + dx, y=self.y + dy)

    @property
    def width(self) -> float:
        return width_mm(self.text, self.size, self.bold)

    @property
    def box(self) -> Box:
        start = -self.width * {"start": 0.0, "middle": 0.5, "end": 1.0}[self.anchor]
        low, high = -0.22 * self.size, 0.76 * self.size
        if self.turned:
            return self.x - high, self.y + start, self.x - low, self.y + start + self.width
        return self.x + start, self.y + low, self.x + start + self.width, self.y + high


Item = Line | Circle | Arc | Polyline | Text


@dataclass(frozen=True)
class Plan:
    """A drawing at 1:1 with its title, as large as it needs to be."""

    title: str
    items: tuple[Item, ...]

    @property
    def box(self) -> Box:
        """The least box round everything."""
        return box_of(self.items)


@dataclass(frozen=True)
class Window:
    """A part of a larger drawing on a page: only what lies inside the box is shown."""

    box: Box
    items: tuple[Item, ...]


@dataclass(frozen=True)
class Page:
    """One sheet of paper [mm]: what is drawn on it, and windows onto larger drawings, already in their place."""

    width: float
    height: float
    items: tuple[Item, ...]
    windows: tuple[Window, ...] = ()


def box_of(items: Iterable[Item]) -> Box:
    """The least box round some items."""
    left, low, right, high = zip(*(item.box for item in items), strict=True)
    return min(left), min(low), max(right), max(high)


def moved(items: Iterable[Item], dx: float, dy: float) -> tuple[Item, ...]:
    """Items shifted."""
    return tuple(item.moved(dx, dy) for item in items)


def meets(item: Item, box: Box) -> bool:
    """Whether any of an item's own box lies in a box."""
    left, low, right, high = item.box
    return left <= box[2] and right >= box[0] and low <= box[3] and high >= box[1]


def rectangle(left: float, low: float, right: float, high: float, pen: str = "outline") -> Polyline:
    """A closed box."""
    return Polyline(((left, low), (right, low), (right, high), (left, high)), True, pen)


def oval(x: float, y: float, along: float, across: float, pen: str = "outline") -> Item:
    """An ellipse, `along` in x; a true circle when both are equal."""
    if along == across:
        return Circle(x, y, along / 2.0, pen)
    angles = [2.0 * math.pi * i / 72 for i in range(72)]
    return Polyline(tuple((x + along / 2.0 * math.cos(a), y + across / 2.0 * math.sin(a)) for a in angles), True, pen)


def cross(x: float, y: float, arm: float) -> tuple[Line, Line]:
    """A centre mark."""
    return Line(x - arm, y, x + arm, y, "thin"), Line(x, y - arm, x, y + arm, "thin")


def dimension(x1: float, y1: float, x2: float, y2: float, away: float, said: str) -> tuple[Item, ...]:
    """A dimension between two points that lie level or upright of each other, drawn `away` from them [mm].

    Positive `away` is above a level dimension, to the left of an upright one.  `said` is written as it
    is: the drawing does not work out numbers by itself.
    """
    if abs(x2 - x1) >= abs(y2 - y1):
        edge = max(y1, y2) if away > 0 else min(y1, y2)
        level, sign = edge + away, math.copysign(1.0, away)
        ends = [Line(x, y + sign * 0.6, x, level + sign * 1.0, "thin") for x, y in ((x1, y1), (x2, y2))]
        ticks = [Line(x - 0.7, level - 0.7, x + 0.7, level + 0.7, "thin") for x in (x1, x2)]
        words = Text((x1 + x2) / 2.0, level + 0.8, said, SMALL_MM, "middle")
        if abs(x2 - x1) < words.width + 1.0:
            words = Text(max(x1, x2) + 1.6, level - 0.9, said, SMALL_MM)
        return (*ends, *ticks, Line(x1, level, x2, level, "thin"), words)
    edge = min(x1, x2) if away > 0 else max(x1, x2)
    level, sign = edge - away, -math.copysign(1.0, away)
    ends = [Line(x + sign * 0.6, y, level + sign * 1.0, y, "thin") for x, y in ((x1, y1), (x2, y2))]
    ticks = [Line(level - 0.7, y - 0.7, level + 0.7, y + 0.7, "thin") for y in (y1, y2)]
    words = Text(level - 0.8, (y1 + y2) / 2.0, said, SMALL_MM, "middle", turned=True)
    if abs(y2 - y1) < words.width:
        side = "end" if away > 0 else "start"
        words = Text(level + sign * 1.4, (y1 + y2) / 2.0 - 0.9, said, SMALL_MM, side)
    return (*ends, *ticks, Line(level, y1, level, y2, "thin"), words)


def scale_bar(length: float, x: float, y: float, every: float = 10.0) -> tuple[Item, ...]:
    """A scale of distances from the top: a tick every 10 mm, a number every 20 mm, from 0 to `length`."""
    items: list[Item] = [Line(x, y, x + length, y, "thin")]
    for n in range(int(length / every) + 1):
        long = n % 2 == 0
        items.append(Line(x + n * every, y, x + n * every, y - (2.4 if long else 1.4), "thin"))
        if long:
            items.append(Text(x + n * every, y - 5.0, f"{n * every:.0f}", SMALL_MM, "middle"))
    return tuple(items)
