"""Blocks of text, tables and plans flowed onto pages; a plan larger than the paper is tiled."""

from __future__ import annotations

from dataclasses import dataclass

from .drawing_1to1 import SMALL_MM, TEXT_MM, Box, Item, Line, Plan, Text, moved
from .lettering import fitted, wrapped
from .tiles import Content, tiles

ROW_MM, LINE_MM, GAP_MM, GUTTER_MM = 4.5, 4.0, 4.0, 8.0
FEWEST_ROWS = 4  # a table is not broken for less


@dataclass(frozen=True)
class Paragraph:
    """Words in lines of at most `width` mm; a heading when bold."""

    words: str
    width: float = 128.0
    bold: bool = False


@dataclass(frozen=True)
class Column:
    """Heading and unit over a column, its width [mm], and on which side its words stand."""

    name: str
    unit: str = ""
    width: float = 18.0
    left: bool = False


@dataclass(frozen=True)
class Table:
    """Rows of words under a title; longer than a page, it goes on beside it or on the next."""

    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]

    @property
    def width(self) -> float:
        return sum(column.width for column in self.columns)

    def start(self, n: int) -> float:
        """Where column n starts, from the table's left edge."""
        return sum(column.width for column in self.columns[:n])


Block = Paragraph | Table | Plan


def _cell(table: Table, n: int, words: str, x: float, y: float, size: float) -> list[Item]:
    """Words in column n of a table that starts at x; words at the left keep away from the column before."""
    column, left = table.columns[n], x + table.start(n)
    inset = 3.0 if column.left and n else 0.8
    at, anchor = (left + inset, "start") if column.left else (left + column.width - 0.8, "end")
    words = fitted(words, size, column.width - inset - 0.4)
    return [Text(at, y, words, size, anchor)] if words else []


def _head(table: Table, x: float, y: float, more: bool) -> tuple[list[Item], float]:
    """Title and column heads with their lower edge; `more` when the table is continued."""
    title = table.title + (" (continued)" if more else "")
    items: list[Item] = [Text(x, y - 3.4, fitted(title, TEXT_MM, table.width, True), bold=True)]
    y -= 5.2
    for n, column in enumerate(table.columns):
        items += _cell(table, n, column.name, x, y - 3.0, SMALL_MM) + _cell(table, n, column.unit, x, y - 6.0, SMALL_MM)
    return [*items, Line(x, y - 7.2, x + table.width, y - 7.2, "frame")], y - 7.2


def _row(table: Table, cells: tuple[str, ...], x: float, y: float) -> list[Item]:
    if len(cells) != len(table.columns):
        raise ValueError(cells)
    items = [item for n, cell in enumerate(cells) for item in _cell(table, n, cell, x, y - 3.3, TEXT_MM)]
    return [*items, Line(x, y - ROW_MM, x + table.width, y - ROW_MM, "thin")]


HEAD_MM = 12.4


class _Flow:
    """Puts blocks below each other, then beside each other, then on the next page."""

    def __init__(self, area: Box):
        self.area = area
        self.pages = [Content()]
        self._home()

    def _home(self) -> None:
        self.x, self.y, self.widest = self.area[0], self.area[3], 0.0

    def new_page(self) -> None:
        if self.pages[-1].items or self.pages[-1].windows:
            self.pages.append(Content())
        self._home()

    def _beside(self, width: float) -> None:
        """The next column, on this page or the next."""
        x = self.x + self.widest + GUTTER_MM
        if self.widest == 0.0 or x + width > self.area[2] + 1e-6:
            self.new_page()
        else:
            self.x, self.y, self.widest = x, self.area[3], 0.0

    def room(self, width: float, height: float) -> None:
        """Go where a block of that size fits."""
        while self.y - height < self.area[1] - 1e-6 or self.x + width > self.area[2] + 1e-6:
            if (self.x, self.y) == (self.area[0], self.area[3]):
                break  # an empty page: there is no better place
            self._beside(width)

    def put(self, items: list[Item] | tuple[Item, ...], width: float, height: float) -> None:
        self.pages[-1].items += items
        self.y -= height
        self.widest = max(self.widest, width)

    def paragraph(self, block: Paragraph) -> None:
        lines = wrapped(block.words, TEXT_MM, block.width, block.bold)
        height = LINE_MM * len(lines) + (1.0 if block.bold else 2.0)
        # a heading keeps some of what follows beside it
        self.room(block.width, height + (5 * LINE_MM if block.bold else 0.0))
        texts = [Text(self.x, self.y - 3.2 - i * LINE_MM, line, bold=block.bold) for i, line in enumerate(lines)]
        self.put(texts, block.width, height)

    def table(self, block: Table) -> None:
        rows, more = list(block.rows), False
        while rows or not more:
            whole = HEAD_MM + ROW_MM * len(rows)
            breaks = whole > self.area[3] - self.area[1]
            self.room(block.width, HEAD_MM + ROW_MM * min(len(rows), FEWEST_ROWS) if breaks else whole)
            fit = max(1, int((self.y - self.area[1] - HEAD_MM + 1e-6) / ROW_MM))
            items, y = _head(block, self.x, self.y, more)
            for i, cells in enumerate(rows[:fit]):
                items += _row(block, cells, self.x, y - i * ROW_MM)
            self.put(items, block.width, HEAD_MM + ROW_MM * len(rows[:fit]) + GAP_MM)
            rows, more = rows[fit:], True

    def plan(self, block: Plan) -> None:
        left, low, right, high = block.box
        width, height = right - left, high - low + LINE_MM + 2.0
        if width <= self.area[2] - self.area[0] and height <= self.area[3] - self.area[1]:
            self.room(width, height + GAP_MM if self.y < self.area[3] else height)
            title = Text(self.x, self.y - 3.2, fitted(block.title, TEXT_MM, self.area[2] - self.x, True), bold=True)
            items = moved(block.items, self.x - left, self.y - LINE_MM - 2.0 - high)
            self.put([title, *items], max(width, title.width), height + GAP_MM)
            return
        self.new_page()
        for content in tiles(block, self.area):
            self.pages[-1] = content
            self.pages.append(Content())
        self._home()


def flow(blocks: tuple[Block, ...], area: Box) -> list[Content]:
    """Blocks on as many pages as they need, each inside `area`."""
    put = _Flow(area)
    for block in blocks:
        match block:
            case Paragraph():
                put.paragraph(block)
            case Table():
                put.table(block)
            case Plan():
                put.plan(block)
    if len(put.pages) > 1 and not (put.pages[-1].items or put.pages[-1].windows):
        put.pages.pop()
    return put.pages
