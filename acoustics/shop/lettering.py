"""How wide a line of text is: every sheet is set in DejaVu Sans, which comes with the plotting library."""

from __future__ import annotations

from functools import lru_cache

from matplotlib.font_manager import FontProperties, findfont, get_font
from matplotlib.textpath import text_to_path

FAMILY = "DejaVu Sans"
SCALE_MM = 100.0
CAP = 0.73  # height of a capital over the size of the font


def _properties(bold: bool) -> FontProperties:
    return FontProperties(family=FAMILY, weight="bold" if bold else "normal", size=SCALE_MM)


@lru_cache(maxsize=2)
def _known(bold: bool) -> frozenset[int]:
    return frozenset(get_font(findfont(_properties(bold))).get_charmap())


def drawable(text: str, bold: bool = False) -> str:
    """The text with a question mark for every character that the font does not have."""
    known = _known(bold)
    return "".join(c if ord(c) in known else "?" for c in text)


@lru_cache(maxsize=4096)
def _at_scale(text: str, bold: bool) -> float:
    return text_to_path.get_text_width_height_descent(drawable(text, bold), _properties(bold), ismath=False)[0]


def width_mm(text: str, size_mm: float, bold: bool = False) -> float:
    """Width of one line in a font of that size (its em, not its capitals) [mm]."""
    return _at_scale(text, bold) * size_mm / SCALE_MM if text else 0.0


def fitted(text: str, size_mm: float, most_mm: float, bold: bool = False) -> str:
    """The text, cut short with dots where it is wider than `most_mm`."""
    if width_mm(text, size_mm, bold) <= most_mm:
        return text
    while text and width_mm(text + "…", size_mm, bold) > most_mm:
        text = text[:-1]
    return text.rstrip() + "…"


def wrapped(text: str, size_mm: float, most_mm: float, bold: bool = False) -> tuple[str, ...]:
    """The text in lines no wider than `most_mm`, broken between words; a longer word is cut short."""
    lines, line = [], ""
    for word in text.split():
        longer = f"{line} {word}" if line else word
        if line and width_mm(longer, size_mm, bold) > most_mm:
            lines.append(line)
            line = word
        else:
            line = longer
    return tuple(fitted(one, size_mm, most_mm, bold) for one in [*lines, line])
