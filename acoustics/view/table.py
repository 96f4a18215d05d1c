"""A small table that shows itself in a notebook and as text."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape


@dataclass(frozen=True, repr=False)
class Table:
    """Rows of words and numbers under headings.

    Parameters
    ----------
    headings : sequence of str
    rows : sequence of sequences
        Numbers are shown with one decimal and a sign where `signed`, words as they are.
    decimals : int
    signed : bool
    """

    headings: tuple[str, ...]
    rows: tuple[tuple, ...]
    decimals: int = 1
    signed: bool = False

    def _cell(self, value) -> str:
        if isinstance(value, str):
            return value
        if value is None or value != value:
            return ""
        said = f"{value:{'+' if self.signed else ''}.{self.decimals}f}"
        return said.lstrip("+-") if float(said) == 0.0 else said

    def __repr__(self) -> str:
        cells = [[str(heading) for heading in self.headings], *([self._cell(v) for v in row] for row in self.rows)]
        width = [max(len(row[i]) for row in cells) for i in range(len(self.headings))]
        lines = []
        for first, *others in cells:
            right = [cell.rjust(n) for cell, n in zip(others, width[1:], strict=True)]
            lines.append("  ".join([first.ljust(width[0]), *right]))
        return "\n".join(lines)

    def _repr_html_(self) -> str:
        head = "".join(f"<th>{escape(str(heading))}</th>" for heading in self.headings)
        body = "".join(
            "<tr>" + "".join(f"<td>{escape(self._cell(value))}</td>" for value in row) + "</tr>" for row in self.rows
        )
        return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"
