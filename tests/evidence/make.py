"""Recompute the trust table and store it as notebooks/evidence.csv: python tests/evidence/make.py."""

import csv
import io
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))
from tests.evidence import HEADINGS, STORED, printed, rows


def text() -> str:
    """The whole file, the same for the same package."""
    out = io.StringIO()
    write = csv.writer(out, lineterminator="\n").writerow
    write(HEADINGS)
    for one in rows():
        found = printed(one.error())
        write((one.element, one.model, one.source, one.valid, one.against, found, one.unit, f"{one.bar:g}"))
    return out.getvalue()


if __name__ == "__main__":
    STORED.write_text(text(), encoding="utf-8")
    print(f"{STORED.name}: {len(rows())} rows")
