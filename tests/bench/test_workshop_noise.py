"""Recordings as a workshop makes them: no note silently wrong, and the stated error covers the truth."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pytest

from acoustics.bench.heard import listen
from acoustics.bench.naming import BESIDE, common_offset, doubt
from acoustics.bench.recording import read_recording
from acoustics.pipes.fingering import NOTES
from acoustics.tuning.scales import just_scale
from acoustics.units import cents, from_cents
from tests.bench.synthetic import KEYNOTE_HZ
from tests.bench.workshop_noise import CONDITIONS, OFFSETS, Tape

QUICK = (
    "room 1.2 s, 0 dB",
    "8 bit, 16 kHz",
    "formant 2.5 kHz",
    "no fundamental",
    "drones +6 dB",
    "drones drifting 3 cents",
    "a voice between",
    "barks",
    "slides",
    "swells of 5 cents",
    "chanter 40 cents flat",
    "all at once",
)

# Where a bar is missed, as last measured on the seeds below; every other condition must reach it.
SHORT = {"room 1.2 s, 0 dB": "88.9 % of 36 clear notes covered; 94.1 % of 135 on seeds 410 to 417"}


@dataclass
class Score:
    """What became of the held notes: errors and stated errors of the clear ones [cents], and counts."""

    notes: int = 0
    error: list = field(default_factory=list)
    said: list = field(default_factory=list)
    octaves: int = 0
    wrong: int = 0
    misnamed: int = 0
    missed: int = 0
    invented: int = 0
    flagged: int = 0

    @property
    def rms(self) -> float:
        return float(np.sqrt(np.mean(np.square(self.error)))) if self.error else 0.0

    @property
    def covered(self) -> float:
        """Share of the clear notes whose 95 % interval holds the truth."""
        return float(np.mean(np.abs(self.error) < 1.96 * np.array(self.said))) if self.error else 1.0


def named(hz: float, off: float) -> tuple[str, int]:
    """Name and octave of a pitch that was meant to lie `off` cents from the tempered scale."""
    step = round(12.0 * np.log2(hz / KEYNOTE_HZ) - off / 100.0)
    return ("back D" if step in (12, 24) else NOTES[step % 12]), 1 + step // 12


def judge(score: Score, tape: Tape, notes, off: float = 0.0) -> None:
    """Add a tape's held notes to a score; a note counts as heard where most of what is heard lies inside it.

    What is heard and was not held is invented, unless it is flagged or is a note of the last second, ringing on.
    """
    take = tape.take
    score.notes += len(take.steady)
    known = set()
    for note, start, stop in take.steady:
        inside = [h for h in notes if min(h.start_s + h.seconds, stop) - max(h.start_s, start) > 0.5 * h.seconds]
        known |= {id(h) for h in inside}
        if not inside:
            score.missed += 1
            continue
        longest = max(inside, key=lambda h: h.seconds)
        away = float(cents(longest.hz, note.mean_hz))
        if longest.flag:
            score.flagged += 1
        elif abs(away) > 50.0:
            score.wrong += 1
            score.octaves += abs(away - 1200.0 * round(away / 1200.0)) < 60.0
        else:
            score.misnamed += (longest.note, longest.octave) != named(note.hz, off)
            score.error.append(away)
            score.said.append(longest.error_cents)
    for h in notes:
        last = [n.hz for n, (a, b) in zip(take.notes, take.spans, strict=True) if n.hz and a < h.start_s + h.seconds]
        rings = [hz for hz in last[-12:] if abs(cents(h.hz, hz)) < 30.0]
        score.invented += not (id(h) in known or h.flag or rings)


def heard(name: str, seeds, seconds: float, folder) -> Score:
    score = Score()
    for seed in seeds:
        tape = CONDITIONS[name](seed, seconds)
        tape.write(folder / "tape.wav")
        found = listen(read_recording(folder / "tape.wav"), just_scale(), 20.0)
        judge(score, tape, found.notes, OFFSETS.get(name, 0.0))
    return score


@pytest.mark.parametrize("name", QUICK)
def test_nothing_is_wrong_in_silence(name, tmp_path):
    """Twelve seconds each: what is not flagged is within a cent, and right in octave and name."""
    score = heard(name, [301], 12.0, tmp_path)
    assert (score.octaves, score.wrong, score.misnamed, score.invented) == (0, 0, 0, 0)
    assert score.missed <= 0.15 * score.notes
    assert score.rms < 0.5
    assert score.covered >= 0.8


@pytest.mark.long
def test_workshop_table(tmp_path):
    """Every condition on a minute: the table."""
    print(f"\n{'condition':34}notes clear   rms   max octave wrong name missed invented flagged covered")
    everything, bad = Score(), []
    for name in CONDITIONS:
        s = heard(name, range(400, 402), 30.0, tmp_path)
        print(
            f"{name:34}{s.notes:5}{len(s.error):6}{s.rms:6.3f}{np.abs(s.error).max():6.2f}{s.octaves:7}{s.wrong:6}"
            f"{s.misnamed:5}{s.missed:7}{s.invented:9}{s.flagged:8}{s.covered:8.1%}",
            flush=True,
        )
        everything.error += s.error
        everything.said += s.said
        if s.octaves or s.wrong or s.misnamed or s.rms >= 1.0 or s.covered < 0.9:
            bad.append(name)
    print(f"all: {len(everything.error)} clear notes, {everything.rms:.3f} cents RMS, {everything.covered:.1%} covered")
    assert set(bad) <= set(SHORT)
    assert 0.9 <= everything.covered <= 0.99


@pytest.mark.parametrize("off", [-40.0, -30.0, 0.0, 30.0, 40.0])
def test_a_chanter_off_as_a_whole_keeps_its_names(off):
    """By hand: the just scale itself, shifted."""
    scale = just_scale()
    played = [scale.frequency(note, octave) * from_cents(off) for octave in (1, 2) for note in NOTES]
    found, sure = common_offset(played, scale)
    assert sure
    assert found == pytest.approx(off, abs=4.0)


def test_notes_midway_are_named_as_doubtful():
    """D and F# of the just scale 56 cents sharp lie in the middle of their semitones of 16/15."""
    scale = just_scale()
    played = [scale.frequency(note, 1) * from_cents(56.0) for note in ("D", "F#")]
    assert not common_offset(played, scale)[1]
    assert doubt(0.0, 99.0, "", False) == BESIDE
