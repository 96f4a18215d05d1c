"""Taking a table of measurements (CSV) apart, so that every refusal knows its line and column."""

from __future__ import annotations

import csv
import difflib
import re
from dataclasses import dataclass, field

from ..errors import Refusal, number, short
from ..units import INCH_MM
from .bore import LONGEST_MM

FORM, VERSION = "bore measurement", "1"
UNITS_MM = {"mm": 1.0, "inch": INCH_MM}
HEADERS = ("form", "version", "unit", "length")
COLUMNS = (
    ("distance", "diameter"),
    ("distance", "narrow", "wide"),
    ("gauge", "depth", "from"),
    ("gauge", "depth", "from", "probe"),
)
NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]+)?")


def cell_number(cell: str, where: str, low: float, high: float, unit: str) -> float:
    """A cell as a number within bounds, or a `Refusal`."""
    cell = cell.replace("−", "-").strip()
    if not cell:
        raise Refusal("nothing stands there", f"a number from {low:g} to {high:g} {unit} is needed", where)
    if re.fullmatch(r"[+-]?\d+,\d+", cell):
        raise Refusal(f"a decimal comma stands in {short(cell)}", "decimals are written with a point", where)
    if not NUMBER.fullmatch(cell):
        allowed = f"a number like 5.2 in {unit}, without the unit, is allowed"
        raise Refusal(f"{short(cell)} is not a number", allowed, where)
    return number(where, float(cell), low, high, unit)


@dataclass
class Sheet:
    """A file taken apart: header values with their lines, column names, rows with their lines."""

    headers: dict[str, tuple[int, str]] = field(default_factory=dict)
    columns: tuple[str, ...] = ()
    rows: list[tuple[int, list[str]]] = field(default_factory=list)
    unit: str = "mm"
    length: float = 0.0

    def header(self, name: str, allowed: str) -> tuple[str, str]:
        """(place, value) of a header line that must be there."""
        if name not in self.headers:
            raise Refusal(f"the {name} is not declared", f"a line like {allowed} is needed above the table", name)
        line, value = self.headers[name]
        return f"line {line}, {name}", value

    def check_headers(self) -> None:
        """Form, version, unit and length, or a `Refusal`."""
        for name, known in (("form", (FORM,)), ("version", (VERSION,)), ("unit", tuple(UNITS_MM))):
            where, value = self.header(name, f'"# {name}: {known[0]}"')
            if value.lower() not in known:
                raise Refusal(f"{short(value)} is not a known {name}", f"{' or '.join(known)} is allowed", where)
        self.unit = self.headers["unit"][1].lower()
        where, value = self.header("length", '"# length: 356"')
        self.length = self.value(value, where, 1.0, LONGEST_MM)

    def value(self, cell: str, where: str, low_mm: float, high_mm: float) -> float:
        """A cell as a number in the file's unit, within bounds."""
        scale = UNITS_MM[self.unit]
        return cell_number(cell, where, low_mm / scale, high_mm / scale, self.unit)

    def cell(self, line: int, cells: list[str], column: str) -> tuple[str, str]:
        """(place, text) of one column of a row."""
        return f"line {line}, column {column}", cells[self.columns.index(column)].strip()


def put_header(headers: dict[str, tuple[int, str]], known: tuple[str, ...], line: int, text: str) -> None:
    """Take `# name: value` where the name is known; anything else after a # is a remark."""
    name, colon, value = text.lstrip("# \t").partition(":")
    name = name.strip().lower()
    if not colon:
        return
    if name not in known:
        near = difflib.get_close_matches(name, known, 1, 0.75)
        if near:
            what = f"there is no line {short(name)} (did you mean {near[0]}?)"
            raise Refusal(what, f"{', '.join(known)} are allowed", f"line {line}")
        return
    if name in headers:
        what = f"the {name} stands on line {headers[name][0]} already"
        raise Refusal(what, "it may be given once", f"line {line}, {name}")
    headers[name] = (line, value.strip().rstrip(", "))


def cells_of(line: int, text: str) -> list[str]:
    """What stands between the commas of one line."""
    for mark, name in ((";", "semicolons"), ("\t", "tabs")):
        if mark in text:
            raise Refusal(f"{name} stand between the columns", "only commas are allowed there", f"line {line}")
    try:
        return [cell.strip() for cell in next(csv.reader([text], strict=True, skipinitialspace=True))]
    except csv.Error:
        what = "the quotation marks do not match"
        allowed = "plain numbers and words with commas between them are allowed"
        raise Refusal(what, allowed, f"line {line}") from None


def read_sheet(text: str) -> Sheet:
    """The whole file taken apart, its header checked, its rows as long as its columns."""
    sheet = Sheet()
    for line, content in enumerate(text.split("\n"), 1):
        content = content.strip()
        if content.startswith("#"):
            put_header(sheet.headers, HEADERS, line, content)
            continue
        if not content.strip(", "):
            continue
        if not sheet.columns:
            sheet.check_headers()
        cells = cells_of(line, content)
        if not sheet.columns:
            names = tuple(cell.lower() for cell in cells)
            if names not in COLUMNS:
                allowed = " or ".join(",".join(columns) for columns in COLUMNS)
                raise Refusal(f"{short(content)} are no known columns", f"{allowed} is allowed", f"line {line}")
            sheet.columns = names
        elif len(cells) != len(sheet.columns):
            what = f"the number of values is {len(cells)}, that of columns {len(sheet.columns)}"
            allowed = f"{','.join(sheet.columns)} are needed, with a point for decimals"
            raise Refusal(what, allowed, f"line {line}")
        else:
            sheet.rows.append((line, cells))
    sheet.check_headers()
    if not sheet.columns:
        raise Refusal("there is no table", "a line like distance,diameter with numbers below it is needed", "columns")
    return sheet
