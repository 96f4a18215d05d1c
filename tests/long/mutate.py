"""Plant each mistake in a copy of the package and see whether the tests catch it: python tests/long/mutate.py.

The result of all of them is kept in tests/long/last.txt.  Words after the command choose mistakes by a part of their
name, and nothing is kept then.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))
from tests.long import last
from tests.long.mistakes import MISTAKES, Mistake

HOME = Path(__file__).parents[2]
COPIED = ("acoustics", "tests", "notebooks/designs", "notebooks/evidence.csv", "pyproject.toml")
LONGEST_S = 300


def copy(folder: Path, source: Path = HOME) -> None:
    """The package and its tests, without what was compiled."""
    for name in COPIED:
        here, there = source / name, folder / name
        there.parent.mkdir(parents=True, exist_ok=True)
        if here.is_dir():
            shutil.copytree(here, there, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(here, there)


def _environment(folder: Path) -> dict[str, str]:
    return {**os.environ, "PYTHONPATH": str(folder), "PYTHONDONTWRITEBYTECODE": "1", "OMP_NUM_THREADS": "1"}


def is_what_runs(folder: Path) -> bool:
    """Whether the copy, and not the package itself, is imported there."""
    command = [sys.executable, "-c", "import acoustics; print(acoustics.__file__)"]
    done = subprocess.run(command, cwd=folder, env=_environment(folder), capture_output=True, text=True, check=True)
    return Path(done.stdout.strip()).is_relative_to(folder.resolve())


def passes(folder: Path, tests: tuple[str, ...], longest_s: float = LONGEST_S) -> bool:
    """Whether the tests pass on the package in that folder."""
    paths = [f"tests/{test}" for test in tests]
    options = ["-x", "-q", "-n", "0", "-p", "no:cacheprovider", "--no-header"]
    command = [sys.executable, "-m", "pytest", *options, *paths]
    try:
        done = subprocess.run(
            command, cwd=folder, env=_environment(folder), capture_output=True, text=True, timeout=longest_s
        )
    except subprocess.TimeoutExpired:
        return False
    if done.returncode not in (0, 1):
        raise RuntimeError(f"pytest could not run {paths}:\n{done.stdout[-2000:]}{done.stderr[-2000:]}")
    return done.returncode == 0


def plant(folder: Path, mistake: Mistake) -> None:
    """Write the mistake into the copy."""
    room = folder / "acoustics" / f"{mistake.room}.py"
    text = room.read_text(encoding="utf-8")
    if text.count(mistake.old) != 1:
        raise ValueError(f"{mistake.name}: {mistake.old!r} stands {text.count(mistake.old)} times in {mistake.room}")
    changed = text.replace(mistake.old, mistake.new)
    compile(changed, mistake.room, "exec")
    room.write_text(changed, encoding="utf-8")


def caught(mistake: Mistake, whole: Path) -> bool:
    """Whether the tests fail on a copy of `whole` with this mistake."""
    with tempfile.TemporaryDirectory() as name:
        copy(Path(name), whole)
        plant(Path(name), mistake)
        return not passes(Path(name), mistake.tests)


def survey(chosen: list[Mistake]) -> Iterator[tuple[str, bool]]:
    """(line, whether it is good news) of each mistake, as they are done; one bad line when nothing can be said."""
    every = tuple(sorted({test for mistake in chosen for test in mistake.tests}))
    with tempfile.TemporaryDirectory() as name, ThreadPoolExecutor(os.cpu_count() or 1) as pool:
        whole = Path(name)
        copy(whole)
        if not is_what_runs(whole) or not passes(whole, every, 6 * LONGEST_S):
            yield "not the copy runs, or the tests fail without any mistake: nothing can be said", False
            return
        for mistake, found in zip(chosen, pool.map(lambda one: caught(one, whole), chosen), strict=True):
            yield f"{'caught' if found else 'MISSED'}  {mistake.room}: {mistake.name}", found


def main(words: list[str]) -> int:
    chosen = [m for m in MISTAKES if not words or any(word in m.name for word in words)]
    head, start, lines, good = last.heading(), time.perf_counter(), [], []
    for line, found in survey(chosen):
        lines.append(line)
        good.append(found)
        print(line, flush=True)
    lines.append(f"mistakes caught: {sum(good)} of {len(chosen)}")
    print(lines[-1])
    passed = all(good) and len(good) == len(chosen) > 0
    if not words:
        last.keep(last.MISTAKES, head, passed, time.perf_counter() - start, "\n".join(lines))
    return 0 if passed else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
