"""The long run: python tests/long/run.py.  Its last result is kept in tests/long/last.txt, part by part.

Laws on 5000 random pipes, 20 000 damaged files, every planted mistake, the slowest tests, the pages in chromium.
Words after the command choose parts by their names; the others keep the result that they had, with its own date
and commit.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))
from tests.long.last import BROWSER, FILES, HOME, LAWS, MISTAKES, SLOW, heading, keep, kept

PYTEST = ["-m", "pytest", "-q"]
PARTS = {
    LAWS: ([*PYTEST, "-n", "2", "--dist", "load", "tests/laws"], {"LAWS": "5000"}),
    FILES: (["tests/long/fuzz.py", "20000"], {}),
    MISTAKES: (["tests/long/mutate.py"], {}),  # which keeps its result itself
    SLOW: ([*PYTEST, "-m", "long", "tests"], {}),
    BROWSER: ([*PYTEST, "-n", "0", "-m", "browser", "tests/browser"], {}),
}


def run(name: str) -> bool:
    """Run one part, keep and print its section, and say whether it passed."""
    command, more = PARTS[name]
    head, start = heading(), time.perf_counter()
    env = {**os.environ, "OMP_NUM_THREADS": "1", "HYPOTHESIS_PROFILE": "fresh", **more}
    done = subprocess.run([sys.executable, *command], cwd=HOME, env=env, capture_output=True, text=True)
    passed = done.returncode == 0
    if name != MISTAKES:
        keep(name, head, passed, time.perf_counter() - start, done.stdout + done.stderr)
    print(kept().get(name, done.stdout + done.stderr), end="", flush=True)
    return passed


def main(words: list[str]) -> int:
    chosen = [name for name in PARTS if not words or any(word in name for word in words)]
    if not chosen:
        print(f"no such part; there are: {', '.join(PARTS)}")
        return 2
    return 0 if all([run(name) for name in chosen]) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
