"""Sentences in a notebook: warnings as one plain line each, and results as paragraphs."""

from __future__ import annotations

import sys
import textwrap
import warnings
from dataclasses import dataclass
from html import escape

WIDTH = 100


def plain_warnings() -> None:
    """From now on print a warning's sentence alone, each sentence once, without file and line."""
    said: set[str] = set()

    def show(message, category, filename, lineno, file=None, line=None):
        sentence = textwrap.fill(f"Mind: {message}", WIDTH)
        if sentence not in said:
            said.add(sentence)
            print(sentence, file=file or sys.stdout)

    warnings.simplefilter("always")
    warnings.showwarning = show


@dataclass(frozen=True)
class Words:
    """Sentences that a notebook shows as paragraphs, one per line of the text."""

    text: str

    def __repr__(self) -> str:
        return "\n".join(textwrap.fill(line, WIDTH) for line in self.text.splitlines())

    def _repr_html_(self) -> str:
        return "".join(f"<p style='max-width:48em'>{escape(line)}</p>" for line in self.text.splitlines())


def say(*sentences: str) -> Words:
    """Sentences as one paragraph; empty ones are left out, and a line break begins a new one."""
    return Words(" ".join(sentence for sentence in sentences if sentence))
