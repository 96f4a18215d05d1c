"""Which note of a chanter a pitch is, and when that is doubtful."""

from __future__ import annotations

import numpy as np

from ..pipes.fingering import NOTES
from ..tuning.scales import Scale, just_scale
from ..units import cents, from_cents
from .drone_lines import DroneLines
from .pitch import Pitch

# Thresholds are chosen here.
NEAR_DRONE_CENTS = 20.0
_BLUR_CENTS = 2.5  # two drones nearer together than 0.4 Hz look like one
MIDWAY_CENTS = 42.0
_OUTSIDE_CENTS = 150.0
_RATHER_NONE, _SURE, _WORTH_CENTS = 0.15, 0.7, 25.0
_AGREEING = 1.5
_SHARE, _BRIEF_S = 0.45, 0.45  # of its overtones must agree, where a note is brief
_PARTED, _BELOW = 6.0, 0.15
NEAR_DRONE = "within 20 cents of an overtone of the drones"
UNCLEAR = "its overtones do not agree: another sound lies over it, or it wavers in a room that rings; hold it longer"
TWO_SOUNDS = "its odd and even overtones are not in tune: two sounds about an octave apart"
LOWER = "strong sound between its overtones: it may be the note an octave or a twelfth below, or two sounds"
BESIDE = "this or the note beside it: nearly all lie midway between two notes of the scale"


def scale_of_drones(drones: DroneLines, key: str = "D") -> Scale:
    """The just scale whose keynote the drones sound."""
    usual = just_scale(key=key)
    return just_scale(a_hz=usual.a_hz * drones.keynote_hz / usual.keynote_hz, key=key)


def name_note(hz: float, scale: Scale, thumb: bool = True) -> tuple[str, int, float] | None:
    """(note, octave, cents) of the nearest note of a scale; None far outside the two octaves and a note.

    `thumb` says whether the D in the middle is the thumb's, or the lowest fingering overblown: both sound alike.
    """
    places = [(note, octave) for octave in (1, 2) for note in NOTES] + [("D", 3)]
    off = np.array([cents(hz, scale.frequency(note, octave)) for note, octave in places])
    best = int(np.argmin(np.abs(off)))
    if abs(off[best]) > _OUTSIDE_CENTS:
        return None
    note, octave = places[best]
    return ("back D" if note == "D" and octave > 1 and (thumb or octave == 3) else note), octave, float(off[best])


def common_offset(pitches_hz, scale: Scale) -> tuple[float, bool]:
    """How far all notes together lie from a scale [cents], 0 or 26 to 44 to either side, and whether that is sure.

    The offset from which they stray least, small ones preferred: a chanter that is sharp of its drones as a whole
    keeps the names of its notes.  Not sure: with the names of the notes beside they would stray hardly more.
    """
    trial = np.arange(-44.0, 45.0, 2.0)
    off = [[(name_note(hz * from_cents(-t), scale) or (0, 0, _OUTSIDE_CENTS))[2] for hz in pitches_hz] for t in trial]
    stray = np.abs(off).mean(axis=1)
    best = int(np.argmin(stray + _RATHER_NONE * np.abs(trial)))
    if abs(trial[best]) < _WORTH_CENTS:
        return 0.0, True
    beside = stray[np.abs(trial - trial[best]) > 50.0].min()
    return float(trial[best]), bool(stray[best] < _SURE * beside)


def unclear(pitch: Pitch, seconds: float) -> str:
    """Why a held note may be more than one sound, or another than it is taken for, or ""."""
    if pitch.agreeing < max(_AGREEING, _SHARE * pitch.overtones if seconds < _BRIEF_S else 0.0):
        return UNCLEAR
    if pitch.below > _BELOW:
        return LOWER
    return TWO_SOUNDS if pitch.parted > _PARTED else ""


def doubt(off: float, away: float, unclear: str, sure: bool) -> str:
    """Why a note is doubtful that lies `off` cents from its place and `away` from the drones, or ""."""
    if abs(away) <= NEAR_DRONE_CENTS + _BLUR_CENTS:
        return NEAR_DRONE
    if unclear:
        return unclear
    if not sure:
        return BESIDE
    return f"midway between two notes of the scale ({off:+.0f})" if abs(off) > MIDWAY_CENTS else ""
