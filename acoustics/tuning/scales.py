"""Scales: what a chanter's notes are meant to be, against the drones or in equal temperament."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction

from ..errors import Refusal, check_kind, number, set_checked, short, text
from ..pipes.chanter import KEYS
from ..pipes.fingering import NOTES
from ..units import cents, from_cents

SEMITONES_FROM_D = {key: i - KEYS.index("D") for i, key in enumerate(KEYS)}
_JUST = ("1", "16/15", "9/8", "6/5", "5/4", "4/3", "45/32", "3/2", "8/5", "5/3", "9/5", "15/8")
SEVENTHS = ("9/5", "16/9")


@dataclass(frozen=True)
class Scale:
    """Twelve notes to the octave on a keynote.

    Parameters
    ----------
    name : str
        Said on every chart.
    ratios : sequence of 12 numbers
        From the keynote up, 1 first, 0.5 to 4 each.
    a_hz : float
        The A of the tuning fork; it sets the keynote by equal temperament, a fifth (7 semitones)
        below for D.  300 to 600 Hz.
    key : str
        Sounding name of the chanter's lowest note, as in `Chanter`.

    Raises
    ------
    Refusal
        No name, another key, not twelve ratios, a ratio outside 0.5 to 4, or an A outside 300 to 600 Hz.
    """

    name: str
    ratios: tuple[float, ...]
    a_hz: float = 440.0
    key: str = "D"
    keynote_hz: float = field(init=False)

    def __post_init__(self):
        text("name", self.name)
        set_checked(self, {"a_hz": (300.0, 600.0)}, "Hz")
        if self.key not in KEYS:
            raise Refusal(f"{short(self.key)} is not a key", f"one of {', '.join(SEMITONES_FROM_D)} is allowed", "key")
        check_kind("ratios", self.ratios, Iterable, "a list of 12 numbers")
        ratios = tuple(self.ratios)
        if len(ratios) != len(NOTES):
            raise Refusal(f"the number of ratios is {len(ratios)}", f"{len(NOTES)} are needed", "ratios")
        ratios = tuple(number(f"ratio of {note}", r, 0.5, 4.0, "") for note, r in zip(NOTES, ratios, strict=True))
        object.__setattr__(self, "ratios", ratios)
        object.__setattr__(self, "keynote_hz", self.a_hz * 2.0 ** ((SEMITONES_FROM_D[self.key] - 7) / 12.0))

    def frequency(self, note: str, octave: int) -> float:
        """Target of a note, named as the piper fingers it [Hz]."""
        if note not in NOTES:
            raise Refusal(f"{note!r} is not a note", f"one of {', '.join(NOTES)} is allowed", "note")
        return self.keynote_hz * self.ratios[NOTES.index(note)] * 2.0 ** (octave - 1)

    def __str__(self) -> str:
        fifth = self.frequency("A", 1)
        offset = cents(fifth, self.keynote_hz * 2.0 ** (7 / 12.0))
        said = f"{self.name} on {self.key} = {self.keynote_hz:.2f} Hz"
        way = f"{abs(offset):.1f} cents {'above' if offset > 0 else 'below'}" if abs(offset) >= 0.05 else "like"
        tuned = (float(cents(self.keynote_hz, 440.0)) + 50.0) % 100.0 - 50.0  # of the piano that has this keynote
        piano = f" tuned to A = {440.0 * from_cents(tuned):.2f} Hz" if abs(tuned) >= 0.05 else ""
        return f"{said}; fingered A is {fifth:.2f} Hz, {way} a piano's{piano}"


def just_scale(a_hz: float = 440.0, key: str = "D", seventh: str = "9/5") -> Scale:
    """The just scale against the drones, anchored on the keynote.

    Ratios 1, 16/15, 9/8, 6/5, 5/4, 4/3, 45/32, 3/2, 8/5, 5/3, 9/5 or 16/9, 15/8: common practice;
    the ratios are those of A. J. Ellis's appendix to Helmholtz, *On the Sensations of Tone*, 1885.

    Parameters
    ----------
    a_hz : float
        The A of the fork, 300 to 600 [Hz].
    key : str
        "D" or a flat set's "C#", "C", "B", "B-flat".
    seventh : "9/5" or "16/9"
        The C natural.

    Raises
    ------
    Refusal
        Another key or seventh, or an A outside these limits.
    """
    if seventh not in SEVENTHS:
        raise Refusal(f"{seventh!r} is not a seventh", f"one of {', '.join(SEVENTHS)} is allowed", "seventh")
    ratios = tuple(float(Fraction(seventh if ratio == "9/5" else ratio)) for ratio in _JUST)
    return Scale("just scale", ratios, a_hz, key)


def equal_scale(a_hz: float = 440.0, key: str = "D") -> Scale:
    """Equal temperament: every semitone the twelfth root of two.

    Parameters
    ----------
    a_hz : float
        The A of the fork, 300 to 600 [Hz].
    key : str
        "D" or a flat set's "C#", "C", "B", "B-flat".

    Raises
    ------
    Refusal
        Another key, or an A outside these limits.
    """
    return Scale("equal temperament", tuple(2.0 ** (i / 12.0) for i in range(12)), a_hz, key)


def scale_for(key: str, scale: Scale | None) -> Scale:
    """`scale` itself; the just scale at A = 440 Hz in a key when None; a `Refusal` of anything else."""
    if scale is None:
        return just_scale(key=key)
    check_kind("scale", scale, Scale, "a Scale")
    return scale
