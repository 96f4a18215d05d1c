"""A recording of a pipe as samples: WAV or FLAC, one or two channels, read by the soundfile library."""

from __future__ import annotations

import os
from dataclasses import dataclass

import numpy as np
import soundfile
from scipy.signal import butter, resample_poly, sosfilt

from ..errors import Refusal, number, short
from ..pipes.files import check_ordinary, label

FORMS = ("WAV", "WAVEX", "RF64", "FLAC")
LOWEST_RATE, HIGHEST_RATE = 8000, 192000
SHORTEST_S, LONGEST_S = 1.0, 900.0
WORKING_RATE = 12000  # the top D's fourth overtone fits under half of it
_ALLOWED = "a WAV or FLAC file is allowed"
_BLOCK, _MARGIN = 20000, 20  # of thinned samples
_PIPE_HZ = (200.0, 3500.0)
_SILENT, _DEAF = 1e-4, 1e-3  # of full scale; of the other channel
_FULL_SCALE, _RUN, _CLIPPED_SHARE = 0.9995, 3, 2e-4


@dataclass(frozen=True, eq=False)
class Recording:
    """One channel of sound.

    Parameters
    ----------
    name : str
        Of the file without its folder, or what a sentence should call it.
    samples : array (n,)
        Full scale is 1.
    rate : float
        Samples per second, 8000 or more.
    """

    name: str
    samples: np.ndarray
    rate: float

    def __post_init__(self):
        if self.samples.ndim != 1 or not len(self.samples) or not np.isfinite(self.samples).all():
            raise Refusal("its samples are not one row of finite numbers", "a sound recording is needed", self.name)
        number("rate", self.rate, LOWEST_RATE, HIGHEST_RATE, "samples per second")

    @property
    def seconds(self) -> float:
        """How long it lasts [s]."""
        return len(self.samples) / self.rate


def _check_whole(path: object, where: str) -> None:
    """A `Refusal` when the file is empty, a telephone's m4a, or a WAV file that says that it is longer than it is."""
    size = os.path.getsize(path)
    if not size:
        raise Refusal("it is empty", _ALLOWED, where)
    with open(path, "rb") as file:
        head = file.read(12)
    if head[4:8] == b"ftyp":
        raise Refusal("inside it is MPEG-4 (m4a, as telephones save it), whatever its name says", _ALLOWED, where)
    told = int.from_bytes(head[4:8], "little")
    if head[:4] == b"RIFF" and told != 0xFFFFFFFF and told + 8 > size:
        raise Refusal(f"it breaks off after {size / (told + 8):.0%} of its length", "the whole file is needed", where)


def _check_form(sound: soundfile.SoundFile, where: str) -> None:
    """A `Refusal` when the kind, rate, channels or length will not do."""
    if sound.format not in FORMS:
        raise Refusal(f"inside it is {sound.format}, whatever its name says", _ALLOWED, where)
    if not LOWEST_RATE <= sound.samplerate <= HIGHEST_RATE:
        allowed = f"{LOWEST_RATE} to {HIGHEST_RATE} are allowed"
        raise Refusal(f"it has {sound.samplerate} samples per second", allowed, where)
    if sound.channels > 2:
        raise Refusal(f"it has {sound.channels} channels", "one or two are allowed", where)
    seconds = sound.frames / sound.samplerate
    if not SHORTEST_S <= seconds <= LONGEST_S:
        allowed = f"{SHORTEST_S:g} second to {LONGEST_S / 60:g} minutes are allowed"
        raise Refusal(f"it lasts {seconds:.1f} seconds", allowed, where)


def _runs(loud: np.ndarray) -> int:
    """How many of the samples that are at full scale stand in runs of at least `_RUN`."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], loud.astype(np.int8), [0]])))
    length = edges[1::2] - edges[::2]
    return int(length[length >= _RUN].sum())


def _thinned(sound: soundfile.SoundFile, factor: int, where: str) -> tuple[np.ndarray, np.ndarray]:
    """All channels at the working rate, array (n, channels), and per channel how many samples are clipped.

    Read block by block, so that memory is bounded by the working rate and not by the file.
    """
    pieces, clipped, read = [], np.zeros(sound.channels, int), 0
    overlap = 2 * _MARGIN * factor
    for block in sound.blocks(_BLOCK * factor + overlap, overlap, dtype="float32", always_2d=True):
        if not np.isfinite(block).all():
            raise Refusal("it holds samples that are not numbers", "a sound recording is needed", where)
        fresh = block[overlap if pieces else 0 :]
        clipped += [_runs(np.abs(channel) >= _FULL_SCALE) for channel in fresh.T]
        read += len(fresh)
        piece = resample_poly(block, 1, factor, axis=0).astype(np.float32) if factor > 1 else block
        if pieces:
            pieces[-1] = pieces[-1][:-_MARGIN]
            piece = piece[_MARGIN:]
        pieces.append(piece)
    if read != sound.frames:
        raise Refusal(f"it breaks off after {read / sound.samplerate:.1f} seconds", "the whole file is needed", where)
    return np.concatenate(pieces), clipped


def _choose(samples: np.ndarray, rate: float, channel: int | None, where: str) -> int:
    """Index of the channel that counts: the one asked for, or the one in which more sounds where a pipe does."""
    power = np.sqrt(np.mean(np.square(samples, dtype=float), axis=0))
    if channel is not None:
        if isinstance(channel, bool) or channel not in range(1, samples.shape[1] + 1):
            allowed = "1 is allowed" if samples.shape[1] == 1 else "1 or 2 is allowed"
            raise Refusal(f"there is no channel {short(channel)}", allowed, where)
        power = power[[channel - 1]]
    if power.max() < _SILENT:
        what = "it is silent" if channel is None else f"channel {channel} is silent"
        raise Refusal(what, "a recording of a pipe is needed", where)
    if power.min() < _DEAF * power.max():
        other = 2 - int(np.argmin(power))
        allowed = f"a recording that both microphones hear, or channel={other}, is allowed"
        raise Refusal(f"channel {3 - other} is silent", allowed, where)
    if channel is not None or samples.shape[1] == 1:
        return (channel or 1) - 1
    heard = sosfilt(butter(2, _PIPE_HZ, "bandpass", fs=rate, output="sos"), samples, axis=0)
    return int(np.argmax(np.std(heard, axis=0)))


def read_recording(path: str | os.PathLike, channel: int | None = None) -> Recording:
    """A recording from a file, thinned to the rate at which pitch is tracked.

    Parameters
    ----------
    path : str or path
        WAV or FLAC of 1 s to 15 minutes, one or two channels, 8000 to 192000 samples per second.
    channel : 1 or 2, optional
        None: of two channels the one louder from 200 to 3500 Hz, hum apart (their mean could cancel).

    Returns
    -------
    Recording
        At 12000 to 24000 samples per second, or the file's own rate where that is lower.

    Raises
    ------
    Refusal
        Missing, empty, cut short, not WAV or FLAC whatever its name, too long, silent, a silent channel, clipped.
    """
    where = label(path)
    check_ordinary(path, "sound file")
    try:
        _check_whole(path, where)
        with soundfile.SoundFile(path) as sound:
            _check_form(sound, where)
            factor = max(1, sound.samplerate // WORKING_RATE)
            samples, clipped = _thinned(sound, factor, where)
            rate, frames = sound.samplerate / factor, sound.frames
    except Refusal:
        raise
    except (soundfile.SoundFileError, OSError, TypeError, ValueError, MemoryError):
        raise Refusal("it cannot be read as a sound", _ALLOWED, where) from None
    chosen = _choose(samples, rate, channel, where)
    if clipped[chosen] > _CLIPPED_SHARE * frames:
        what = f"it is clipped ({clipped[chosen] / frames:.1%} of it is at full scale)"
        raise Refusal(what, "a recording made with less gain is needed", where)
    return Recording(os.path.basename(where), np.ascontiguousarray(samples[:, chosen]), rate)
