"""A notebook that does nothing but add records to a log: python -m tests.bench.writer LOG NAME COUNT [LARGEST].

It prints each record's number as soon as the record is safe.  LARGEST is where files must end [bytes].
"""

import resource
import sys

from acoustics.bench import log
from acoustics.bench.entries import Measurement
from acoustics.errors import Refusal

NOTES = [(f"note {i}, first octave", 0.5 * i - 6.0, 1.0) for i in range(26)]


def entry(name: str, number: int) -> Measurement:
    return Measurement("6 May 2026", "1a2b3c4d", f"{name} {number}", NOTES, remark="long " * 20)


def main(path: str, name: str, count: str, largest: str = "") -> None:
    if largest:
        resource.setrlimit(resource.RLIMIT_FSIZE, (int(largest), int(largest)))
    print("ready", flush=True)
    for number in range(int(count)):
        try:
            log.append(path, entry(name, number))
        except Refusal as refusal:
            print(refusal, flush=True)
            return
        print(number, flush=True)


if __name__ == "__main__":
    main(*sys.argv[1:])
