"""The long run: python tests/long/run.py.  Its last result is kept in tests/long/last.txt, part by part.

Laws on 5000 random pipes, 20 000 damaged files, every planted mistake.  Words after the command choose parts by
their names; the others keep the result that they had, with its own date and commit.
"""

from __future__ import annotations

import datetime
import os
import platform
import subprocess
import sys
import time
from pathlib import Path

HERE = Path(__file__).parent
HOME = HERE.parents[1]
LAST, MARK = HERE / "last.txt", "== "
PARTS = (
    ("laws on 5000 random pipes", ["-m", "pytest", "-q", "-n", "2", "--dist", "load", "tests/laws"], {"LAWS": "5000"}),
    ("20 000 damaged files", ["tests/long/fuzz.py", "20000"], {}),
    ("planted mistakes", ["tests/long/mutate.py"], {}),
)
KEPT = 80


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


def run(command: list[str], more: dict[str, str]) -> tuple[bool, str]:
    """Whether a part passed, and its section."""
    head, start = heading(), time.perf_counter()
    env = {**os.environ, "OMP_NUM_THREADS": "1", "HYPOTHESIS_PROFILE": "fresh", **more}
    done = subprocess.run([sys.executable, *command], cwd=HOME, env=env, capture_output=True, text=True)
    words = f"{'passed' if done.returncode == 0 else 'FAILED'} in {time.perf_counter() - start:.0f} s"
    lines = (done.stdout + done.stderr).strip().splitlines()[-KEPT:]
    return done.returncode == 0, "\n".join([head, words, *lines]) + "\n\n"


def main(words: list[str]) -> int:
    passed = True
    for name, command, more in PARTS:
        if words and not any(word in name for word in words):
            continue
        good, said = run(command, more)
        passed &= good
        sections = {**kept(), name: said}
        LAST.write_text("".join(f"{MARK}{n}\n{sections[n]}" for n, *_ in PARTS if n in sections), encoding="utf-8")
        print(f"{MARK}{name}\n{said}", end="")
    return 0 if passed else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
