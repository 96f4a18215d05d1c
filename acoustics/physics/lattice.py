"""The open-hole lattice: above its cut-off a row of open holes no longer ends the air column."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..pipes.path import Pipe
from .toneholes import arrange, inner_length, matching_length, outer_length


def cutoff_frequency(bore_radius, hole_radius, effective_length, spacing, sound_speed):
    """Cut-off of an endless row of equal open holes in a cylinder [Hz].

    Parameters
    ----------
    bore_radius, hole_radius, effective_length, spacing : array
        Same unit as `sound_speed` per second; the effective length is that of the open hole with both
        its end corrections, the spacing runs from hole to hole.
    sound_speed : float

    References
    ----------
    A. H. Benade, *Fundamentals of Musical Acoustics*, 1976: 0.11 c (b/a)/sqrt(s t), s half the spacing
    (from memory); the number here is 1/(2 pi sqrt 2) = 0.1125, its exact low-frequency value.
    """
    ratio = np.asarray(hole_radius, float) / bore_radius
    return sound_speed / (2.0 * np.pi) * ratio / np.sqrt(np.asarray(spacing, float) * effective_length)


@dataclass(frozen=True)
class Cutoff:
    """Cut-off between two neighbouring finger holes, taken as if the row went on so [Hz]."""

    upper: str
    lower: str
    frequency: float


def cutoffs(pipe: Pipe, sound_speed: float) -> tuple[Cutoff, ...]:
    """Cut-off of each pair of neighbouring holes on the front, from the top down.

    The row's is the root mean square of those of two endless rows, one of either hole of the pair; keys and the
    thumb hole are left out.
    """
    front = tuple(side for side in pipe.side_holes if side.hole.face == "front")
    if len(front) < 2:
        return ()
    holes = arrange(front)
    index = np.arange(len(holes.names))
    outer, _ = outer_length(holes, index, np.ones(len(index)))
    length = holes.wall + outer + inner_length(holes.mouth, holes.bore) + matching_length(holes.mouth, holes.bore)
    spacing = np.diff(holes.place)
    upper, lower = (
        cutoff_frequency(holes.bore[own], holes.mouth[own], length[own], spacing, sound_speed)
        for own in (slice(None, -1), slice(1, None))
    )
    frequency = np.sqrt((upper**2 + lower**2) / 2.0)
    return tuple(Cutoff(*pair) for pair in zip(holes.names, holes.names[1:], frequency.tolist(), strict=False))
