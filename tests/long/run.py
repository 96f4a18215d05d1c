"""The long run, all of it: python tests/long/run.py.  The result is kept in tests/long/last.txt.

Laws on 5000 random pipes, 20 000 damaged files, every planted mistake.
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
PARTS = (
    ("laws on 5000 random pipes", ["-m", "pytest", "-q", "-n", "2", "--dist", "load", "tests/laws"], {"LAWS": "5000"}),
    ("20 000 damaged files", ["tests/long/fuzz.py", "20000"], {}),
    ("planted mistakes", ["tests/long/mutate.py"], {}),
)
KEPT = 80


def git(*words: str) -> str:
    return subprocess.run(["git", *words], cwd=HOME, capture_output=True, text=True, check=True).stdout.strip()


def heading() -> str:
    """When, what, on what; other people's unfinished work in the tree is said too."""
    changed = git("status", "--porcelain", "--untracked-files=no", "--", "acoustics").splitlines()
    state = f", with {len(changed)} rooms of acoustics changed since" if changed else ""
    now = datetime.datetime.now(datetime.UTC).strftime("%Y-%m-%d %H:%M UTC")
    return (
        f"{now}\ncommit {git('rev-parse', 'HEAD')}{state}\nPython {platform.python_version()}, {os.cpu_count()} cores\n"
    )


def main() -> int:
    said, failed = [heading()], []
    for name, command, more in PARTS:
        start = time.perf_counter()
        env = {**os.environ, "OMP_NUM_THREADS": "1", **more}
        done = subprocess.run([sys.executable, *command], cwd=HOME, env=env, capture_output=True, text=True)
        spent = time.perf_counter() - start
        failed += [name] if done.returncode else []
        words = f"{'passed' if done.returncode == 0 else 'FAILED'}: {name}, {spent:.0f} s"
        said.append("\n".join([words, *(done.stdout + done.stderr).strip().splitlines()[-KEPT:]]) + "\n")
        print(said[-1])
    (HERE / "last.txt").write_text("\n".join(said), encoding="utf-8")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
