"""Warnings as one plain line in a notebook."""

from __future__ import annotations

import sys
import warnings


def plain_warnings() -> None:
    """From now on print a warning's sentence alone, each sentence once, without file and line."""
    said: set[str] = set()

    def show(message, category, filename, lineno, file=None, line=None):
        sentence = f"Mind: {message}"
        if sentence not in said:
            said.add(sentence)
            print(sentence, file=file or sys.stdout)

    warnings.simplefilter("always")
    warnings.showwarning = show
