"""A small table that shows itself in a notebook and as text: words stand at the left, numbers at the right."""

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

    @property
    def _cells(self) -> list[list[str]]:
        return [[self._cell(value) for value in row] for row in self.rows]

    @property
    def _of_words(self) -> list[bool]:
        """Whether a column is one of words: every cell with something in it begins with a letter, or the first."""
        columns = zip(*self._cells, strict=True) if self.rows else ([],) * len(self.headings)
        words = [any(column) and all(cell[0].isalpha() for cell in column if cell) for column in columns]
        return [True, *words[1:]]

    def __repr__(self) -> str:
        cells = [[str(heading) for heading in self.headings], *self._cells]
        width = [max(len(row[i]) for row in cells) for i in range(len(self.headings))]
        set_in = [str.ljust if words else str.rjust for words in self._of_words]
        lines = []
        for row in cells:
            lines.append("  ".join(put(cell, n) for put, cell, n in zip(set_in, row, width, strict=True)))
        return "\n".join(lines)

    def _repr_html_(self) -> str:
        side = [" style='text-align:left'" if words else "" for words in self._of_words]

        def line(kind, cells):
            said = (f"<{kind}{at}>{escape(str(cell))}</{kind}>" for at, cell in zip(side, cells, strict=True))
            return f"<tr>{''.join(said)}</tr>"

        body = "".join(line("td", row) for row in self._cells)
        return f"<table><thead>{line('th', self.headings)}</thead><tbody>{body}</tbody></table>"
