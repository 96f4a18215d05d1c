"""What the long run found last, part by part, in tests/long/last.txt."""

from __future__ import annotations

import datetime
import os
import platform
import subprocess
from pathlib import Path

HOME = Path(__file__).parents[2]
LAST, MARK = Path(__file__).parent / "last.txt", "== "
LAWS, FILES, MISTAKES = "laws on 5000 random pipes", "20 000 damaged files", "planted mistakes"
SLOW, BROWSER = "slowest tests", "pages in the browser"
ORDER = (LAWS, FILES, MISTAKES, SLOW, BROWSER)
KEPT = 100


def git(*words: str) -> str:
    return subprocess.run(["git", *words], cwd=HOME, capture_output=True, text=True, check=True).stdout.strip()


def heading() -> str:
    """When, what, on what; unfinished work in the tree is said too."""
    changed = git("status", "--porcelain", "--", "acoustics").splitlines()
    state = f", with {len(changed)} rooms of acoustics changed since" if changed else ""
    now = datetime.datetime.now(datetime.UTC).strftime("%Y-%m-%d %H:%M UTC")
    return (
        f"{now}, commit {git('rev-parse', 'HEAD')}{state}; Python {platform.python_version()}, {os.cpu_count()} cores"
    )


def kept() -> dict[str, str]:
    """The sections of the last result by their parts' names."""
    text = LAST.read_text(encoding="utf-8") if LAST.exists() else ""
    sections = (section.split("\n", 1) for section in text.split(MARK)[1:])
    return {name: said for name, said in sections}


def keep(name: str, head: str, passed: bool, seconds: float, said: str) -> str:
    """Put one part's result in place of its last one, and return the section."""
    words = f"{'passed' if passed else 'FAILED'} in {seconds:.0f} s"
    section = "\n".join([head, words, *said.strip().splitlines()[-KEPT:]]) + "\n\n"
    sections = {**kept(), name: section}
    LAST.write_text("".join(f"{MARK}{n}\n{sections[n]}" for n in ORDER if n in sections), encoding="utf-8")
    return f"{MARK}{name}\n{section}"
