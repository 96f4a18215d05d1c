"""What keys cost: the dead volume of a shut key, the length of its block, the lift of its pad."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..errors import Refusal, number, short
from ..physics.air import Air
from ..pipes.chanter import Chanter
from ..pipes.fingering import Fingering, own_fingerings
from ..pipes.holes import Key
from .chart import tuning_chart
from .scales import Scale


@dataclass(frozen=True)
class ShutKeys:
    """How far shut keys move the notes.

    Parameters
    ----------
    keys : tuple of str
    notes : tuple of str
        Titles of the chart's rows.
    moved : array (keys, notes) [cents]
        With the key against the same wood without it; nan where the note needs the key, or does not sound.
    together : array (notes,) [cents]
        With all keys against none; nan where the note needs one.
    """

    keys: tuple[str, ...]
    notes: tuple[str, ...]
    moved: np.ndarray
    together: np.ndarray


@dataclass(frozen=True)
class KeyCurve:
    """How far every note moves as one dimension of a key changes.

    Parameters
    ----------
    key, what : str
        The key, and what is changed of it, in words with its unit.
    values : array (n,)
    notes : tuple of str
    own : bool array (notes,)
        Which notes open the key.
    moved : array (n, notes) [cents]
        Against the pipe as it is.
    """

    key: str
    what: str
    values: np.ndarray
    notes: tuple[str, ...]
    own: np.ndarray
    moved: np.ndarray


def _keys(pipe: Chanter) -> list[Key]:
    found = [hole for hole in pipe.holes if isinstance(hole, Key)]
    if not found:
        raise Refusal("it has no key", "a pipe with keys is needed", pipe.name)
    return found


def _opens(fingering: Fingering, names) -> bool:
    return any(name in names for name, _ in fingering.open_holes)


def _without(pipe: Chanter, names) -> Chanter:
    return replace(pipe, holes=[hole for hole in pipe.holes if hole.name not in names])


def shut_keys(
    pipe: Chanter,
    air: Air | None = None,
    scale: Scale | None = None,
    fingerings: Sequence[Fingering] | None = None,
) -> ShutKeys:
    """What the dead volume under each shut key costs every note.

    Parameters
    ----------
    pipe : Chanter
        Or a regulator, with at least one key.
    air, scale, fingerings
        As for `tuning_chart`.

    Returns
    -------
    ShutKeys

    Notes
    -----
    A shut key is a small closed chamber on the bore: hole, block and all up to the pad.  The wood
    without it has no hole there.
    """
    keys = [key.name for key in _keys(pipe)]
    played = own_fingerings(pipe) if fingerings is None else tuple(fingerings)
    full = tuning_chart(pipe, played, scale, air)

    def cost(names) -> np.ndarray:
        kept = [i for i, fingering in enumerate(played) if not _opens(fingering, names)]
        out = np.full(len(played), np.nan)
        if kept:
            chart = tuning_chart(_without(pipe, names), [played[i] for i in kept], scale, air)
            out[kept] = full.cents[kept] - chart.cents
        return out

    titles = tuple(row.title for row in full.rows)
    return ShutKeys(tuple(keys), titles, np.array([cost((key,)) for key in keys]), cost(keys))


def _curve(pipe: Chanter, name: str, what: str, values, change: Callable[[Key, float], Key], **chart) -> KeyCurve:
    if name not in [key.name for key in _keys(pipe)]:
        allowed = f"one of {', '.join(key.name for key in _keys(pipe))} is allowed"
        raise Refusal(f"{short(name)} is not a key of this pipe", allowed, pipe.name)
    now = tuning_chart(pipe, **chart)
    moved = []
    for value in values:
        holes = [change(hole, value) if hole.name == name else hole for hole in pipe.holes]
        moved.append(tuning_chart(replace(pipe, holes=holes), **chart).cents - now.cents)
    own = np.array([_opens(row.fingering, (name,)) for row in now.rows])
    return KeyCurve(name, what, np.array(values, float), tuple(row.title for row in now.rows), own, np.array(moved))


def block_length(pipe: Chanter, name: str, lengths_mm, **chart) -> KeyCurve:
    """What the length of a key's block costs, open and shut.

    Parameters
    ----------
    pipe : Chanter
        Or a regulator.
    name : str
        Of the key.
    lengths_mm : sequence of float
        Of the passage from the wall to the pad, 0 for a pad on the wood, at its outlet's diameter [mm].
    chart
        Fingerings, scale and air as for `tuning_chart`.
    """
    lengths = [number("block length", length, 0.0, 100.0) for length in lengths_mm]

    def change(key: Key, length: float) -> Key:
        return replace(key, duct=((length, key.outlet_mm),) if length > 0.0 else ())

    return _curve(pipe, name, "block length, mm", lengths, change, **chart)


def pad_lift(pipe: Chanter, name: str, lifts_mm, **chart) -> KeyCurve:
    """What the lift of a key's pad does to its own notes; arguments as for `block_length`, lifts in mm."""
    lifts = [number("pad lift", lift, 0.1, 30.0) for lift in lifts_mm]
    return _curve(pipe, name, "pad lift, mm", lifts, lambda key, lift: replace(key, lift_mm=lift), **chart)
