"""Tables that the tests compare against; each file says where its numbers come from.

A file begins with comment lines ``# source: ...`` (who published the model or the value), ``# obtained: ...``
(how the number came here) and ``# units:`` or ``# note:``. Titles, volumes and pages of the works cited are
from memory unless a file says otherwise. Then follow one line of column names and the rows. None of the numbers
was made with the package under test.
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np

FOLDER = Path(__file__).parent


def names() -> list[str]:
    """Names of all tables."""
    return sorted(path.stem for path in FOLDER.glob("*.csv"))


def header(name: str) -> list[str]:
    """The comment lines of a table, without the comment mark."""
    lines = (FOLDER / f"{name}.csv").read_text(encoding="utf-8").splitlines()
    return [line.lstrip("# ") for line in lines if line.startswith("#")]


def table(name: str) -> dict[str, np.ndarray]:
    """A table as {column name: array}; a column of numbers is float, any other is text."""
    lines = (FOLDER / f"{name}.csv").read_text(encoding="utf-8").splitlines()
    columns, *rows = csv.reader(line for line in lines if not line.startswith("#"))
    if not rows or any(len(row) != len(columns) for row in rows):
        raise ValueError(f"{name}.csv: every row needs {len(columns)} entries")
    return {column: _array(entries) for column, entries in zip(columns, zip(*rows, strict=True), strict=True)}


def _array(entries: tuple[str, ...]) -> np.ndarray:
    try:
        return np.array([float(entry) for entry in entries])
    except ValueError:
        return np.array(entries)
