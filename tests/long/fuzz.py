"""Damage good files in thousands of ways and read them: python tests/long/fuzz.py [files] [seed].

A file either loads or is refused in one sentence, within two seconds, and nothing is written.
"""

from __future__ import annotations

import multiprocessing
import os
import random
import re
import resource
import shutil
import signal
import sys
import tempfile
import time
import warnings
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))
from acoustics import Refusal, read_bore_csv, read_bore_measurement, read_design, read_set
from acoustics.bench import log
from acoustics.bench.entries import Change, Measurement, Prediction, Result, entry_text
from acoustics.bench.history import history
from acoustics.bench.readings_file import read_readings_csv
from acoustics.bench.reed_card import KnownTo, ReedCard, card_text, read_reed_card
from acoustics.pipes.bore_file import UnmeasuredBore, read_gauges
from acoustics.validity import OutsideRange
from tests.pipes.broken_bores import GAUGE, OVAL, PLAIN
from tests.pipes.broken_designs import DESIGN
from tests.pipes.damage import BITS
from tests.pipes.sample import sample_chanter

DESIGNS = Path(__file__).parents[2] / "notebooks" / "designs"
LONGEST_S, LARGEST_MB = 2.0, 300.0


def read_log(path: Path) -> str:
    """A bench log read and shown."""
    return history(log.open_log(path))._repr_html_()


def read_resealed(path: Path) -> None:
    """The same with every record's seal made good, so that damage reaches what is read behind it."""
    source = path.read_bytes().decode("utf-8", "replace")
    for body in re.findall(r"^\[\[entry\]\]\n(.*?)\n# end ", source, re.DOTALL | re.MULTILINE):
        log._understood(f"{body}\n")


FORMS = {"set": [read_set], "reed card": [read_reed_card], "bench log": [read_log, read_resealed]}


def sample_log() -> str:
    """The text of a log with a record of every kind."""
    notes = [("E, first octave", -12.0, 2.0), ("back D, second octave", 3.5)]
    made = [form("3 May 2026", "1a2b3c4d", "undercut E", notes) for form in (Measurement, Prediction, Result)]
    made.append(Change("4 May 2026", "1a2b3c4d", "undercut E", "5e6f7081", remark='0.4 mm "at the bore"'))
    texts = map(entry_text, made)
    return log.HEAD + "".join(f"\n{log.START}\n{text}# end {log._seal(text)}\n" for text in texts)


def sample_readings() -> str:
    """The text of a tuner's readings."""
    lines = ["# form: tuning readings", "# version: 1", "# a: 440", "# scale: just", "# key: D", "# temperature: 18.5"]
    return "\n".join([*lines, "note,octave,cents,error", "D,1,+4,2", "back D,2,-6,3", "F#,2,0.5,", ""])


def sample_card() -> str:
    """The text of a reed card."""
    known = KnownTo(0.2, 0.03, 12.0, -0.8)
    return card_text(ReedCard("No. 7", sample_chanter().reed, sample_chanter().staple, known, "for damp weather"))


def seeds() -> list[tuple[str, list]]:
    """(good text, readers) of every kind of file."""
    tables = [GAUGE, OVAL, PLAIN, *(p.read_text(encoding="utf-8") for p in sorted(DESIGNS.glob("*.csv")))]
    kinds = [(text, [read_bore_csv, read_bore_measurement, read_gauges]) for text in tables]
    for text in [DESIGN, *(p.read_text(encoding="utf-8") for p in sorted(DESIGNS.glob("*.toml")))]:
        kinds.append((text, next((how for form, how in FORMS.items() if f'form = "{form}"' in text), [read_design])))
    kinds += [(sample_readings(), [read_readings_csv]), (sample_card(), [read_reed_card])]
    return [*kinds, (sample_log(), [read_log, read_resealed])]


def damaged(rng: random.Random, text: str) -> bytes:
    """One to four places cut, filled, doubled, moved or turned into noise."""
    for _ in range(rng.randint(1, 4)):
        start = rng.randint(0, len(text))
        end = min(len(text), start + rng.randint(0, 12))
        how = rng.randrange(5)
        if how == 0:
            text = text[:start] + rng.choice(BITS) + text[end:]
        elif how == 1:
            text = text[:start] + rng.choice(BITS) + text[start:]
        elif how == 2:
            text = text[:end] + text[start:end] * rng.choice((1, 2, 50)) + text[end:]
        elif how == 3:
            lines = text.split("\n")
            lines.insert(rng.randrange(len(lines)), lines.pop(rng.randrange(len(lines))))
            text = "\n".join(lines)
        else:
            digits = [i for i, letter in enumerate(text) if letter.isdigit()]
            if digits:
                at = rng.choice(digits)
                text = text[:at] + rng.choice(("", "-", "9", "0", "99999", ".", "1e3")) + text[at + 1 :]
    data = text.encode("utf-8", "replace")
    if rng.random() < 0.05:
        at = rng.randint(0, len(data))
        data = data[:at] + rng.randbytes(rng.randint(1, 40)) + data[at:]
    return data


def _too_long(*_):
    raise TimeoutError(f"not done in {LONGEST_S:g} s")


def fault(path: Path, read) -> str | None:
    """What is wrong with how one file was read; "" when it loaded, None when it was refused in a sentence."""
    signal.setitimer(signal.ITIMER_REAL, LONGEST_S)
    try:
        read(path)
    except Refusal as refusal:
        said = str(refusal)
        good = said.startswith(str(path)) and said.isprintable() and said.endswith(".") and "; " in said
        return None if good else f"refused in a bad sentence: {said!r}"
    except Exception as error:
        return f"{type(error).__name__}: {error}"
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
    return ""


def _megabytes() -> float:
    """The most memory that this process has had."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1024.0**2 if sys.platform == "darwin" else 1024.0)


def some(job: tuple[int, int]) -> tuple[int, int, float, list[str]]:
    """Fuzz so many files from one seed: (files, refusals, slowest, faults)."""
    seed, count = job
    rng, found, slowest, refused = random.Random(seed), [], 0.0, 0
    signal.signal(signal.SIGALRM, _too_long)
    good, before = seeds(), _megabytes()
    with tempfile.TemporaryDirectory() as name, warnings.catch_warnings():
        warnings.simplefilter("error")
        for kind in (UnmeasuredBore, OutsideRange):
            warnings.simplefilter("ignore", kind)
        path = Path(name) / "fuzz"
        for part in DESIGNS.glob("*.toml"):  # what a set names
            shutil.copy(part, name)
        there = sorted([*os.listdir(name), "fuzz"])
        for i in range(count):
            text, readers = good[(seed + i) % len(good)]
            path.write_bytes(data := damaged(rng, text))
            for read in readers:
                start = time.perf_counter()
                wrong = fault(path, read)
                refused += wrong is None
                if wrong:
                    found.append(f"seed {seed}, file {i}, {read.__name__}: {wrong}")
                slowest = max(slowest, time.perf_counter() - start)
            if sorted(os.listdir(name)) != there or path.read_bytes() != data:
                found.append(f"seed {seed}, file {i}: something was written")
    if (grown := _megabytes() - before) > LARGEST_MB:
        found.append(f"seed {seed}: {grown:.0f} MB of memory more than before")
    return count, refused, slowest, found


def main(files: int = 20_000, seed: int = 1, workers: int | None = None) -> int:
    start, step = time.perf_counter(), 500
    jobs = [(1000 * seed + i, min(step, files - i)) for i in range(0, files, step)]
    workers = workers or os.cpu_count() or 1
    if workers == 1:
        done = list(map(some, jobs))
    else:
        with multiprocessing.Pool(workers) as pool:
            done = pool.map(some, jobs, chunksize=1)
    faults = [fault for *_, found in done for fault in found]
    for line in faults[:20]:
        print(line)
    count, refused, slowest = sum(d[0] for d in done), sum(d[1] for d in done), max(d[2] for d in done)
    print(f"files fuzzed: {count}, refusals: {refused}, faults: {len(faults)}, slowest {slowest:.2f} s")
    print(f"seconds: {time.perf_counter() - start:.0f}")
    return 1 if faults or count != files else 0


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:])))
