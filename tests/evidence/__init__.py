"""The trust table: every row compares one part of the package with something made without it.

A row is a function that recomputes its error; `rows()` runs nothing, `Row.error()` does.  The sources of published
numbers stand in tests/published, the independent calculations in tests/references.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from acoustics.validity import Range

STORED = Path(__file__).parents[2] / "notebooks" / "evidence.csv"
HEADINGS = ("element", "model", "source", "valid range", "compared with", "error found", "unit", "bar")
ROOMS = ("air_and_ducts", "openings", "turns", "whole", "sounding", "measured", "bench")
_ROWS: list[Row] = []


@dataclass(frozen=True)
class Row:
    """One line of the table; `bar` is the most that `error` may be, both in `unit`."""

    element: str
    model: str
    source: str
    valid: str
    against: str
    unit: str
    bar: float
    error: Callable[[], float]


def row(element: str, model: str, source: str, valid: str | Range, against: str, unit: str, bar: float):
    """Register the function below as the error of a row."""
    said = valid if isinstance(valid, str) else f"{valid.quantity} {valid.low:g} to {valid.high:g}"

    def keep(function: Callable[[], float]) -> Callable[[], float]:
        _ROWS.append(Row(element, model, source, said, against, unit, bar, function))
        return function

    return keep


def rows() -> tuple[Row, ...]:
    """All rows, in the order of the rooms."""
    for room in ROOMS:
        importlib.import_module(f"tests.evidence.{room}")
    order = [f"tests.evidence.{room}" for room in ROOMS]
    return tuple(sorted(_ROWS, key=lambda one: order.index(one.error.__module__)))


def printed(error: float) -> str:
    """Two significant digits."""
    return f"{error:.2g}"
