"""Slips of the reading, which no part of a chanter explains: another A or air, another scale, one note misread."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..tuning.scales import SEMITONES_FROM_D, Scale, equal_scale, just_scale
from ..units import cents, from_cents
from .readings import Reading, Readings

SLIPPED = 0.02  # chance, before reading, that somebody slipped, each of the three kinds alike; a choice, no source
ALIKE_CENTS, MISREAD_CENTS = 60.0, 30.0  # standard deviations when it happened; a choice, no source
LIKELY = 0.5
CENTS_PER_DEGREE, WRONG_DEGREES = 3.0, 20.0  # half of 1/T at 20 °C as an interval; a choice, no source
ALIKE, SCALE = "all alike", "another scale"


@dataclass(frozen=True)
class Slip:
    """One way in which readings go wrong.

    Parameters
    ----------
    name : str
        `ALIKE`, `SCALE`, or the title of a note.
    pattern : array (readings,)
        What it adds to each reading, for each unit of the amount [cents].
    usual : float
        Standard deviation of the amount when it happened.
    chance : float
        Before reading.
    """

    name: str
    pattern: np.ndarray
    usual: float
    chance: float

    @property
    def of_all(self) -> bool:
        """Whether it spoils every reading."""
        return self.name in (ALIKE, SCALE)

    def said(self, amount: float, readings: Readings) -> str:
        """What to look at, in plain words."""
        how = f"{abs(amount):.0f} cents {'flat' if amount < 0.0 else 'sharp'}"
        if self.name == ALIKE:
            return _alike(how, amount, readings)
        if self.name == SCALE:
            return (
                f"The readings look as if they counted from {_named(_other(readings))}, not from "
                f"{_named(readings.scale)}: say which of the two the tuner shows. Nothing is suggested before."
            )
        return (
            f"{self.name}, was read {how} beside what all other notes tell, and no one dimension explains it: read it "
            "again; here it counts little."
        )


def _alike(how: str, amount: float, readings: Readings) -> str:
    scale, cold = readings.scale, "colder" if amount < 0.0 else "warmer"
    keys = {key: 100.0 * (steps - SEMITONES_FROM_D[scale.key]) for key, steps in SEMITONES_FROM_D.items()}
    key = min(keys, key=lambda one: abs(keys[one] - amount))
    causes = [f"a chanter for {key}"] if key != scale.key and abs(keys[key] - amount) < 25.0 else []
    causes += [f"an A of the tuner of {scale.a_hz * from_cents(-amount):.0f} Hz, not {scale.a_hz:.4g} Hz"]
    degrees = abs(amount) / CENTS_PER_DEGREE
    causes += [f"air {degrees:.0f} °C {cold} than said"] if degrees < WRONG_DEGREES else []
    return (
        f"All readings lie some {how} alike, as no reed, bore or hole makes them. Any of these would: "
        f"{'; '.join([*causes, 'a chanter of another design'])}. Nothing is suggested before that is put right; if it "
        "is none of these, take so much off every reading and ask again."
    )


def _named(scale: Scale) -> str:
    return f"the {scale.name}" if scale.name.endswith("scale") else scale.name


def _other(readings: Readings) -> Scale:
    """The scale that a tuner may have shown instead."""
    given = readings.scale
    return (just_scale if given.name == equal_scale().name else equal_scale)(given.a_hz, given.key)


def _apart(reading: Reading, readings: Readings) -> float:
    note = "D" if reading.note == "back D" else reading.note
    return float(cents(readings.scale.frequency(note, 1), _other(readings).frequency(note, 1)))


def slips(readings: Readings, used: tuple[Reading, ...]) -> tuple[Slip, ...]:
    """Every slip that may have been made with the readings that are used; of one misread note, each in turn."""
    each = SLIPPED / 3.0
    apart = np.array([_apart(reading, readings) for reading in used])
    alone = zip(used, np.eye(len(used)), strict=True)
    misread = (Slip(reading.title, row, MISREAD_CENTS, each / len(used)) for reading, row in alone)
    return Slip(ALIKE, np.ones(len(used)), ALIKE_CENTS, each), Slip(SCALE, apart, 1.0, each), *misread
