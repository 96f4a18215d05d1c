"""Fingering charts as data: which holes are open for which note."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ..errors import Refusal, number, short

NOTES = ("D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B", "C", "C#")
NAMES_ALLOWED = "names, or {name: share} are allowed"


@dataclass(frozen=True)
class Fingering:
    """One note of the chart and how it is fingered.

    Parameters
    ----------
    note : str
        Name on a chanter in D: one of D, Eb, E, F, F#, G, G#, A, Bb, B, C, C#.
    octave : int
        1 from the lowest D up, 2 from the back D up, 3 the D above that; 0, below all of them, on a regulator.
    open_holes : names, or {name: share open}
        Holes that are open; a share below 1 is a half-covered or taped hole.  Kept as a tuple of
        (name, share).
    foot : "open", "shut" or float
        Off the knee, on the knee, or lifted by a gap in mm.
    register : int, optional
        1 when the note is the fingering's own first octave, 2 when it is overblown.  None: 1 in
        octaves 0 and 1, 2 above them.

    Raises
    ------
    Refusal
        Another note or octave, a share that is not from 0 to 1, a foot that is none of these, or an overblown
        note of the first octave.
    """

    note: str
    octave: int
    open_holes: tuple[tuple[str, float], ...] = ()
    foot: str | float = "shut"
    register: int | None = None

    def __post_init__(self):
        if self.note not in NOTES:
            raise Refusal(f"{short(self.note)} is not a note", f"one of {', '.join(NOTES)} is allowed", "note")
        where = f"fingering of {self.note}"
        if self.octave not in (0, 1, 2, 3):
            raise Refusal(f"octave {short(self.octave)}", "0, 1, 2 or 3 is allowed", where)
        if self.register is None:
            object.__setattr__(self, "register", 1 if self.octave <= 1 else 2)
        if self.register not in (1, 2):
            raise Refusal(f"register {short(self.register)}", "1 or 2 is allowed", where)
        if self.register == 2 and self.octave <= 1:
            raise Refusal(f"register 2 in octave {self.octave}", "a note of the first octave is not overblown", where)
        object.__setattr__(self, "open_holes", open_shares(self.open_holes, where))
        object.__setattr__(self, "foot", foot_state(self.foot, where))

    @property
    def pattern(self) -> tuple:
        """Open holes and foot: what the air sees, whatever the octave."""
        return self.open_holes, self.foot

    @property
    def semitone(self) -> int:
        """Semitones above the lowest note at which the fingering's *first* octave is meant."""
        return NOTES.index(self.note) + 12 * (self.octave - self.register)


def open_shares(open_holes: object, where: str = "open_holes") -> tuple[tuple[str, float], ...]:
    """Names, or {name: share}, as a sorted tuple of (name, share), or a `Refusal`."""
    if isinstance(open_holes, str):
        open_holes = (open_holes,)
    if not isinstance(open_holes, Mapping):
        if not hasattr(open_holes, "__iter__"):
            raise Refusal(f"{short(open_holes)} is not a list of hole names", NAMES_ALLOWED, where)
        pairs = [(item, 1.0) if isinstance(item, str) else item for item in open_holes]
        if any(not isinstance(item, tuple) or len(item) != 2 or not isinstance(item[0], str) for item in pairs):
            raise Refusal(f"{short(open_holes)} is not a list of hole names", NAMES_ALLOWED, where)
        open_holes = dict(pairs)
    if not all(isinstance(name, str) for name in open_holes):
        raise Refusal("a hole's name is not text", NAMES_ALLOWED, where)
    return tuple(sorted((name, number(f"{where}, {name}", share, 0.0, 1.0, "")) for name, share in open_holes.items()))


def playable(fingerings, hole_names) -> tuple[Fingering, ...]:
    """Those fingerings whose open holes are all among `hole_names`: a pipe without keys has gaps in its chart."""
    return tuple(f for f in fingerings if all(name in hole_names for name, _ in f.open_holes))


def never_opened(fingerings, hole_names) -> tuple[str, ...]:
    """Those of `hole_names` that no fingering opens: holes without a note, perhaps because a name is misspelt."""
    opened = {name for f in fingerings for name, _ in f.open_holes}
    return tuple(name for name in hole_names if name not in opened)


def own_fingerings(pipe) -> tuple[Fingering, ...]:
    """A pipe's own `fingerings` where it has them, else those of `TIGHT` for which it has the holes and keys."""
    own = getattr(pipe, "fingerings", None)
    return playable(TIGHT, [side.name for side in pipe.side_holes]) if own is None else own


def foot_state(foot: object, where: str = "foot") -> str | float:
    """ "open", "shut", or a gap in mm as a float, or a `Refusal`."""
    if isinstance(foot, str) and foot in ("open", "shut"):
        return foot
    if isinstance(foot, str):
        raise Refusal(f"foot {short(foot)}", '"open", "shut" or a gap in mm is allowed', where)
    return number(f"{where}, foot", foot, 0.1, 200.0)


# Patterns from the lowest note up: (note, open holes, foot).  Tight fingering on the knee, keys where
# a key exists; the last is the back D.  Common practice, no source; many pipers use others.
_TIGHT = (
    ("D", (), "open"),
    ("Eb", ("Eb",), "shut"),
    ("E", ("E", "Eb"), "shut"),
    ("F", ("F natural", "E", "Eb"), "shut"),
    ("F#", ("F#", "E"), "shut"),
    ("G", ("G", "F#"), "shut"),
    ("G#", ("G#", "G", "F#"), "shut"),
    ("A", ("A", "G"), "shut"),
    ("Bb", ("Bb", "A", "G"), "shut"),
    ("B", ("B", "A"), "shut"),
    ("C", ("C natural", "B", "A"), "shut"),
    ("C#", ("C#",), "shut"),
    ("D", ("back D",), "shut"),
)
_LOWER = ("G", "F#", "E", "Eb")
_OPEN = (
    ("D", (), "open"),
    ("Eb", ("Eb",), "open"),
    ("E", ("E", "Eb"), "open"),
    ("F", ("F natural", "E", "Eb"), "open"),
    ("F#", ("F#", "E", "Eb"), "open"),
    ("G", _LOWER, "open"),
    ("G#", ("G#", *_LOWER), "open"),
    ("A", ("A", *_LOWER), "open"),
    ("Bb", ("Bb", "A", *_LOWER), "open"),
    ("B", ("B", "A", *_LOWER), "open"),
    ("C", ("C natural", "B", "A", *_LOWER), "open"),
    ("C#", ("C#", "B", "A", *_LOWER), "open"),
    ("D", ("back D", "C#", "B", "A", *_LOWER), "open"),
)


def _both_octaves(patterns) -> tuple[Fingering, ...]:
    """Twelve patterns in two octaves, then the back D in both of its own."""
    first = [Fingering(note, 1, holes, foot) for note, holes, foot in patterns[:-1]]
    second = [Fingering(note, 2, holes, foot) for note, holes, foot in patterns[:-1]]
    note, holes, foot = patterns[-1]
    return (*first, *second, Fingering(note, 2, holes, foot, register=1), Fingering(note, 3, holes, foot))


TIGHT = _both_octaves(_TIGHT)
OPEN = _both_octaves(_OPEN)
