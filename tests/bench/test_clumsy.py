"""A clumsy maker: what is typed or recorded wrongly is refused in one sentence, and nothing is lost."""

import numpy as np
import pytest
import soundfile

import acoustics as ac
from acoustics.bench.records import new_records
from tests.pipes.sample import assert_one_sentence
from tests.tuning.bench import DESIGNS, bench, demo

TYPED = {
    "German B": ("H 1 4", "reading 1, column note: 'H'"),
    "sharp in words": ("c sharp 1 4", "reading 1, column note: 'c sharp'"),
    "A sharp for B flat": ("A# 1 4", "reading 1, column note: 'A#'"),
    "octaves of a piano": ("D 4 4; D 5 3", "reading 1, column octave: '4'"),
    "decimal comma": ("A 1 -8,5", "reading 1, column cents: a decimal comma"),
    "twice": ("A 1 4; A 1 5", "reading 2: A, first octave stands"),
    "Hz": ("A 1 440", "reading 1, column cents: 440 cents"),
    "certain": ("A 1 0 ±0", "reading 1, column error: 0"),
    "nothing": ("  ", "readings: there is no reading"),
}
GAUGES = {
    "lines swapped with columns": (lambda size, depth: (depth, size), "line 6, column gauge"),
    "deeper than the bore": (lambda size, depth: (size, depth + 400.0), "line 6, column depth"),
    "gauges in inches, as mm": (lambda size, depth: (round(size / 25.4, 3), depth), "line 11, column gauge"),
}


@pytest.mark.parametrize(("text", "start"), TYPED.values(), ids=TYPED)
def test_typed(text, start):
    with pytest.raises(ac.Refusal) as refused:
        ac.typed_readings(text)
    assert_one_sentence(refused.value, start)


@pytest.mark.parametrize(("change", "where"), GAUGES.values(), ids=GAUGES)
def test_gauges(tmp_path, change, where):
    path = tmp_path / "gauges für Töne.csv"
    rows = ac.read_gauges(DESIGNS / "sallow-ford-1-as-cut.csv").readings
    lines = ["# form: bore measurement", "# version: 1", "# unit: mm", "# length: 361", "gauge,depth,from"]
    made = (change(r.gauge_mm, r.depth_mm) for r in rows)
    lines += [f"{size:g},{depth:g},{r.end}" for (size, depth), r in zip(made, rows, strict=True)]
    path.write_text("\r\n".join(lines), encoding="utf-8")
    with pytest.raises(ac.Refusal) as refused:
        ac.read_gauges(path)
    assert_one_sentence(refused.value, f"{path}, {where}")


@pytest.mark.parametrize(
    ("samples", "rate", "word"),
    [
        (np.zeros(40000), 8000, "it is silent"),
        (np.full((16000, 4), 0.1), 8000, "it has 4 channels"),
        (np.sin(np.arange(8000.0)), 4000, "4000 samples per second"),
        (np.sin(np.arange(4000.0)), 8000, "it lasts 0.5 seconds"),
        (np.sin(np.arange(8.0e6)), 8000, "it lasts 1000.0 seconds"),
        (np.clip(9.0 * np.sin(np.arange(80000.0)), -1.0, 1.0), 8000, "it is clipped"),
    ],
)
def test_recordings(tmp_path, samples, rate, word):
    path = tmp_path / "take 1.wav"
    soundfile.write(path, samples, rate)
    with pytest.raises(ac.Refusal, match=word) as refused:
        ac.read_recording(path)
    assert_one_sentence(refused.value, "")


def test_logs(tmp_path):
    """The same round twice is one; an action that the log does not know, or a folder that is not there, is refused."""
    readings = ac.typed_readings("; ".join(f"{n} {o} 12" for n in ("D", "E", "G", "A", "B") for o in (1, 2)))
    plan = ac.what_to_change(bench(), readings)
    log = ac.open_log(tmp_path / "log.toml")
    for _ in range(2):
        for entry in new_records(log, demo(), "1 May", readings, plan, 0):
            log = log.append(entry)
    assert len(log.entries) == 1
    for asked in ({"which": 7}, {"which": 0, "after": "frobnicate"}):
        with pytest.raises(ac.Refusal):
            new_records(log, demo(), "1 May", readings, plan, **asked)
    with pytest.raises(ac.Refusal, match="all earlier ones are still there"):
        ac.open_log(tmp_path / "none" / "log.toml").append(log.entries[0])
    assert ac.open_log(tmp_path / "log.toml").entries == log.entries
