"""Every row of the trust table is recomputed, keeps its bar, and is what the stored table says."""

import csv
import math

import pytest

from acoustics.view import evidence_table

from . import HEADINGS, STORED, Row, printed, rows

ROWS = rows()
TINY = 1e-10
with STORED.open(encoding="utf-8", newline="") as file:
    HEAD, *LINES = csv.reader(file)


def test_there_is_a_row_for_every_line_of_the_stored_table():
    assert tuple(HEAD) == HEADINGS
    assert [line[:5] for line in LINES] == [[r.element, r.model, r.source, r.valid, r.against] for r in ROWS]
    assert [line[6:] for line in LINES] == [[r.unit, f"{r.bar:g}"] for r in ROWS]
    assert len(ROWS) >= 40
    assert len({(r.element, r.against) for r in ROWS}) == len(ROWS)


def same(found: float, stored: float) -> bool:
    """Equal as printed.

    Below 1e-10 an error is rounding and nothing else, which another processor's arithmetic makes anew; there
    the two may differ by a factor of 2.
    """
    if max(found, stored) < TINY:
        return found <= 2.0 * stored + 1e-15 and stored <= 2.0 * found + 1e-15
    unit = 10.0 ** (math.floor(math.log10(stored)) - 1)
    return abs(found - stored) <= 0.51 * unit


@pytest.mark.parametrize("i", range(len(ROWS)), ids=lambda i: f"{ROWS[i].element}, {ROWS[i].against}")
def test_row(i):
    one, stored = ROWS[i], float(LINES[i][5])
    found = one.error()
    assert 0.0 <= found <= one.bar
    assert stored <= one.bar
    assert same(found, stored), f"{printed(found)} {one.unit} found, {stored:g} stored: run tests/evidence/make.py"


def test_a_row_that_is_off_is_noticed():
    assert same(0.0123, 0.012)
    assert same(0.01249, 0.012)
    assert not same(0.0127, 0.012)
    assert not same(2e-3, 2e-12)
    assert not same(9e-11, 4e-11)
    assert isinstance(ROWS[0], Row)


def test_the_page_shows_the_stored_table_whole():
    shown = evidence_table(STORED)
    assert len(shown.rows) == len(LINES)
    for row, line in zip(shown.rows, LINES, strict=True):
        assert list(row) == [*line[:5], f"{line[5]} {line[6]}", line[7]]
