"""What every page carries: a check rule, whose design it is, its date and revision, tolerances and cautions."""

from __future__ import annotations

from dataclasses import dataclass

from ..errors import Refusal, short
from ..units import INCH_MM
from .drawing_1to1 import SMALL_MM, TEXT_MM, Box, Item, Line, Page, Text, box_of, rectangle
from .layout import Block, Content, flow
from .lettering import fitted, wrapped

PAPERS_MM = {"A4": (297.0, 210.0), "Letter": (11.0 * INCH_MM, 8.5 * INCH_MM), "A3": (420.0, 297.0)}
MARGIN_MM, PADDING_MM = 9.0, 4.0
RULE_MM, RULE_IN = 50.0, 2.0
RULE_COLUMN_MM, NAME_COLUMN_MM, LEAST_STRIP_MM = 66.0, 78.0, 27.0
NOTE_MM = 3.2  # from line to line of the notes


@dataclass(frozen=True)
class Stamp:
    """What is said at the foot of every page of one sheet.

    Parameters
    ----------
    design, title, date, revision : str
        Name of the design, of the sheet; the maker's date; the first 8 digits of the design's hash.
    tolerances, cautions : str
    """

    design: str
    title: str
    date: str
    revision: str
    tolerances: str
    cautions: str


def paper_mm(paper: str) -> tuple[float, float]:
    """Width and height of a paper lying on its long side [mm]: ISO 216 A4 and A3, ANSI Letter."""
    if not isinstance(paper, str) or paper not in PAPERS_MM:
        raise Refusal(f"{short(paper)} is not a paper", f"one of {', '.join(PAPERS_MM)} is allowed", "paper")
    return PAPERS_MM[paper]


def _rule(x: float, y: float, length: float, part: float, count: int, said: str) -> list[Item]:
    """A rule of `length` mm with long ticks at its ends and short ones every `part`."""
    items: list[Item] = [Line(x, y, x + length, y, "rule")]
    for n in range(count + 1):
        at = x + n * part
        items.append(Line(at, y, at, y + (4.0 if n in (0, count) else 2.0), "rule"))
    return [*items, Text(x + length + 1.5, y + 0.5, said, SMALL_MM)]


def check_rules(x: float, y: float) -> list[Item]:
    """The two check rules, 50 mm above and 2 inches below, from a lower left corner."""
    items = _rule(x, y + 9.0, RULE_MM, 10.0, 5, "50 mm")
    items += _rule(x, y, RULE_IN * INCH_MM, INCH_MM / 2.0, 4, "2 in")
    return items


def _notes(stamp: Stamp, width: float) -> list[str]:
    return [line for words in (stamp.tolerances, stamp.cautions) for line in wrapped(words, SMALL_MM, width)]


def _notes_width(width: float) -> float:
    return width - RULE_COLUMN_MM - NAME_COLUMN_MM - 2.0 * PADDING_MM


def strip_height(stamp: Stamp, width: float) -> float:
    """Height that the strip needs over a given width [mm]."""
    return max(LEAST_STRIP_MM, 3.0 + NOTE_MM * len(_notes(stamp, _notes_width(width))))


def strip(stamp: Stamp, box: Box, page: str) -> list[Item]:
    """The strip at the foot of a page, inside `box`."""
    left, low, right, high = box
    items: list[Item] = [rectangle(*box, "frame")]
    items += check_rules(left + 3.0, low + 3.0)
    items.append(Text(left + 3.0, high - 4.0, "Print at 100 %, then measure:", SMALL_MM, bold=True))
    x = left + RULE_COLUMN_MM + PADDING_MM
    items.append(Line(x - 2.0, low, x - 2.0, high, "frame"))
    most = NAME_COLUMN_MM - PADDING_MM
    y = high - 4.4
    size = 3.4 if len(wrapped(stamp.design, 3.4, most, True)) <= 2 else 2.4
    for line in wrapped(stamp.design, size, most, True)[:2]:
        items.append(Text(x, y, line, size, bold=True))
        y -= 4.6
    for line in (stamp.title, f"date {stamp.date}, revision {stamp.revision}", page):
        items.append(Text(x, y, fitted(line, TEXT_MM, most)))
        y -= 4.4
    x += NAME_COLUMN_MM
    items.append(Line(x - 2.0, low, x - 2.0, high, "frame"))
    for i, line in enumerate(_notes(stamp, _notes_width(right - left))):
        items.append(Text(x, high - 3.6 - i * NOTE_MM, line, SMALL_MM))
    return items


def _inside(size: tuple[float, float]) -> Box:
    return MARGIN_MM, MARGIN_MM, size[0] - MARGIN_MM, size[1] - MARGIN_MM


def framed(blocks: tuple[Block, ...], stamp: Stamp, paper: str) -> tuple[Page, ...]:
    """A sheet's blocks on pages of that paper, each with border and strip."""
    size = paper_mm(paper)
    left, low, right, high = _inside(size)
    above = low + strip_height(stamp, right - left)
    area = left + PADDING_MM, above + PADDING_MM, right - PADDING_MM, high - PADDING_MM
    contents: list[Content] = flow(blocks, area)
    pages = []
    for n, content in enumerate(contents, 1):
        page = f"page {n} of {len(contents)}, drawings 1:1, lengths in mm"
        items = [rectangle(left, low, right, high, "frame"), *strip(stamp, (left, low, right, above), page)]
        pages.append(Page(*size, (*items, *content.items), tuple(content.windows)))
    return tuple(pages)


def uncut(items: tuple[Item, ...], stamp: Stamp) -> tuple[Item, ...]:
    """A drawing in one piece, for a cutter, with the strip below it."""
    left, low, right, _ = box_of(items)
    width = max(right - left, 260.0)
    top = low - 10.0
    box = left, top - strip_height(stamp, width), left + width, top
    return (*items, *strip(stamp, box, "in one piece, 1:1, lengths in mm"))
