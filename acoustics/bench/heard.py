"""What a recording says: which notes were held, and how sharp or flat each played."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape

import numpy as np

from ..errors import Refusal, check_kind, number
from ..pipes.fingering import NOTES
from ..tuning.chart import TuningChart
from ..tuning.scales import Scale, just_scale
from ..units import cents, from_cents
from .drone_lines import WINDOW_S, DroneLines, find_drones, without_drones
from .naming import NEAR_DRONE, common_offset, doubt, name_note, scale_of_drones, unclear
from .pitch import Pitch, held, refine, track
from .readings import Reading, Readings
from .recording import Recording
from .unheard import by_octave, unheard

# Thresholds are chosen here.
_LEAST_SHARE = 0.05
_RUMBLE = 0.1
_LOW_CENTS = 60.0
_FAINT = 0.1  # of the loud notes, or of the drones
ASK_A = "the scale with its A, as just_scale(a_hz=440), is needed, or a recording with the drones on"


@dataclass(frozen=True)
class Held:
    """One held note of a recording.

    Parameters
    ----------
    note, octave : str, int
        As in `Reading`.
    start_s, seconds : float
        Its steady part.
    hz : float
        Mean pitch, vibrato averaged.
    cents, error_cents : float
        Against the scale, and one standard deviation from this note alone.
    vibrato_cents : float
        To each side; 0 where none stands out.
    drone_cents : float
        From the nearest overtone of the drones; nan without drones.
    flag : str
        Why this note is doubtful; "" when it is not.
    """

    note: str
    octave: int
    start_s: float
    seconds: float
    hz: float
    cents: float
    error_cents: float
    vibrato_cents: float
    drone_cents: float
    flag: str = ""

    @property
    def title(self) -> str:
        """As a chart says it: "A, second octave"."""
        return Reading(self.note, self.octave, 0.0, 1.0).title


@dataclass(frozen=True, repr=False)
class Heard:
    """All held notes of a recording.  Shows itself as a table in a notebook.

    Parameters
    ----------
    name : str
    scale : Scale
    temperature_c : float
    drones : DroneLines or None
    notes : tuple of Held
        In the order in which they were played.
    minds : tuple of str
        What would fool the reader, one plain sentence each.
    """

    name: str
    scale: Scale
    temperature_c: float
    drones: DroneLines | None
    notes: tuple[Held, ...]
    minds: tuple[str, ...]

    @property
    def spread_cents(self) -> float:
        """How far repeats of one clear note lie apart, one standard deviation over all; nan when none is repeated."""
        clear = [[note.cents for note in group if not note.flag] for group in self._groups().values()]
        groups = [group for group in clear if len(group) > 1]
        free = sum(len(group) - 1 for group in groups)
        return float(np.sqrt(sum(np.var(group) * len(group) for group in groups) / free)) if free else float("nan")

    def seconds(self, note: str, octave: int) -> float:
        """How long a note was heard in all [s]."""
        return sum(h.seconds for h in self._groups().get((note, octave), ()))

    def _groups(self) -> dict[tuple[str, int], list[Held]]:
        steps = (("D", 1), *((n, 1) for n in NOTES[1:]), ("D", 2), ("back D", 2), *((n, 2) for n in NOTES[1:]))
        order = (*steps, ("back D", 3))
        return {place: found for place in order if (found := [h for h in self.notes if (h.note, h.octave) == place])}

    @property
    def readings(self) -> Readings:
        """Each note once in each octave: the mean of its repeats by length, with what they lie apart as its error."""
        spread = np.nan_to_num(self.spread_cents)
        rows = []
        for (note, octave), group in self._groups().items():
            clear = [h for h in group if not h.flag] or group
            seconds = np.array([h.seconds for h in clear])
            share = seconds / seconds.sum()
            mean = float(share @ [h.cents for h in clear])
            variance = np.square([h.error_cents for h in clear]) + spread**2
            error = float(np.sqrt(share**2 @ variance))
            rows.append(Reading(note, octave, mean, max(error, 0.1), clear[0].flag))
        return Readings(tuple(rows), self.scale, self.temperature_c)

    def _cells(self) -> list[tuple[str, str, str, str, str]]:
        out = []
        for row in self.readings.rows:
            said = f"{row.cents:+.1f}".replace("-0.0", "0.0").replace("+0.0", "0.0")
            out.append(
                (row.title, said, f"{row.error_cents:.1f}", f"{self.seconds(row.note, row.octave):.1f}", row.flag)
            )
        return out

    def __str__(self) -> str:
        lines = [f"{self.name}, {self.temperature_c:g} °C: {self.scale}"]
        lines += [f"{'note':24}{'cents':>8}{'±':>6}{'seconds':>9}"]
        lines += [f"{a:24}{b:>8}{c:>6}{d:>9}  {e}".rstrip() for a, b, c, d, e in self._cells()]
        return "\n".join([*lines, *(f"Mind: {mind}" for mind in self.minds)])

    def __repr__(self) -> str:
        return str(self)

    def _repr_html_(self) -> str:
        body = "".join(
            f"<tr><th style='text-align:left'>{escape(title)}</th><td>{cents}</td><td>{error}</td><td>{seconds}</td>"
            f"<td style='text-align:left'>{escape(flag)}</td></tr>"
            for title, cents, error, seconds, flag in self._cells()
        )
        minds = "".join(f"<p style='max-width:48em'>{escape(f'Mind: {mind}')}</p>" for mind in self.minds)
        return (
            f"<table><caption>{escape(self.name)}, {self.temperature_c:g} °C: {escape(str(self.scale))}.</caption>"
            "<thead><tr><th style='text-align:left'>note</th><th>cents</th><th>±</th><th>seconds</th>"
            f"<th style='text-align:left'>mind</th></tr></thead><tbody>{body}</tbody></table>{minds}"
        )


def _pitches(tracked, samples, recording: Recording) -> tuple[list[tuple[float, float, Pitch]], list[float]]:
    """Start, length [s] and pitch of what is held; pitches of what is held and faint [Hz]."""
    rate = recording.rate
    parts = [(samples[int(start * rate) : int(stop * rate)], start, near) for start, stop, near in held(tracked)]
    loud = [float(np.std(part)) for part, _, _ in parts]
    least = _FAINT * max(np.quantile(loud, 0.9) if loud else 0.0, float(np.std(recording.samples - samples)))
    clear = [part for part, level in zip(parts, loud, strict=True) if level >= least]
    faint = [near for (_, _, near), level in zip(parts, loud, strict=True) if level < least]
    return [(start, len(part) / rate, refine(part, rate, near)) for part, start, near in clear], faint


def _held_notes(pitches, drones: DroneLines | None, scale: Scale, thumb: bool) -> tuple[list[Held], float]:
    """Held notes that the scale can name, and how many seconds it cannot."""
    notes, nameless = [], 0.0
    shift, sure = common_offset([pitch.hz for _, _, pitch in pitches], scale) if pitches else (0.0, True)
    for start, seconds, pitch in pitches:
        named = name_note(pitch.hz * from_cents(-shift), scale, thumb)
        if named is None:
            nameless += seconds
            continue
        note, octave, off = named
        away = drones.nearest_cents(pitch.hz) if drones else float("nan")
        flag = doubt(off, away, unclear(pitch, seconds), sure)
        found = (pitch.hz, off + shift, pitch.error_cents, pitch.vibrato_cents, away, flag)
        notes.append(Held(note, octave, start, seconds, *found))
    return notes, nameless


def _below(samples: np.ndarray, rate: float, keynote_hz: float) -> float:
    """Root mean square of what sounds from 50 Hz up to a fourth below the keynote."""
    low, high = (int(hz * len(samples) / rate) for hz in (50.0, 0.75 * keynote_hz))
    return float(np.sqrt(2.0 * np.sum(np.abs(np.fft.rfft(samples)[low:high]) ** 2)) / len(samples))


def _sound_minds(recording: Recording, samples: np.ndarray, drones: DroneLines | None, scale: Scale) -> list[str]:
    """What is wrong with the recording itself."""
    out = []
    if drones is None and recording.seconds < 2.0 * WINDOW_S:
        out.append(f"drones cannot be told from notes in less than {2.0 * WINDOW_S:g} seconds; were there any?")
    if _below(samples, recording.rate, scale.keynote_hz) > _RUMBLE * float(np.std(samples)):
        out.append(
            "something sounds below the chanter that is no steady drone (a drone that stops or wavers, a regulator, "
            "a hum); notes near its overtones may be off."
        )
    return out


def _minds(notes: list[Held], nameless: float, drones: DroneLines | None, scale: Scale) -> list[str]:
    """What is doubtful about the notes."""
    out = []
    if drones:
        near = dict.fromkeys(h.title for h in notes if h.flag == NEAR_DRONE)
        if near:
            out.append(
                f"{by_octave(near)} sound {NEAR_DRONE} and are flagged; record these once more with the drones off."
            )
        off = float(cents(drones.keynote_hz, scale.keynote_hz))
        if abs(off) >= 5.0:
            way = "above" if off > 0 else "below"
            out.append(f"the drones stand {abs(off):.0f} cents {way} the scale's keynote; is its A right?")
    middle = float(np.median([h.cents for h in notes]))
    if abs(middle) > 25.0:
        way = "above" if middle > 0 else "below"
        out.append(f"most notes lie about {abs(middle):.0f} cents {way} the scale; is its A right?")
    if len({(h.note, h.octave) for h in notes}) == len(notes):
        out.append("no note was held twice, so ± does not know how steadily the piper holds a note.")
    if nameless:
        out.append(f"{nameless:.1f} seconds sound outside the chanter's two octaves and are left out.")
    return out


def listen(
    recording: Recording,
    scale: Scale | None = None,
    temperature_c: float | None = None,
    key: str = "D",
    drones: bool = True,
    thumb: bool = True,
    expected: TuningChart | None = None,
) -> Heard:
    """Held notes of a chanter in a recording, with drones or without.

    Parameters
    ----------
    recording : Recording
    scale : Scale, optional
        None: the just scale on the keynote of the drones, in `key`.
    temperature_c : float
        Of the air in the pipe; must be given.
    key : str
        Sounding name of the lowest note, when `scale` is None.
    drones : bool
        False says that none sounds, so that a note which is held throughout is not taken for one.
    thumb : bool
        Whether the D in the middle is the thumb's.
    expected : TuningChart, optional
        Notes that should be there: those that are not are named, with the likely reason.

    Raises
    ------
    Refusal
        No recording, no temperature; neither a scale nor drones; hardly a held note.

    Notes
    -----
    Notes shorter than a third of a second (cuts, taps, rolls) are left out.  A pitch is the mean over a held note;
    a tuner's needle shows the same.  It is the pitch as played, with the bag's pressure of that moment.  A regulator's
    note that sounds on while the chanter rests is taken for the chanter's: one pitch cannot tell who plays it.
    """
    check_kind("recording", recording, Recording, "a Recording, as read_recording gives it,")
    where = recording.name
    if temperature_c is None:
        raise Refusal("the temperature is not given", "temperature_c in °C is needed", where)
    temperature_c = number("temperature_c", temperature_c, -10.0, 45.0, "°C")
    if scale is not None:
        check_kind("scale", scale, Scale, "a scale, as just_scale(a_hz=440) gives it,")
    if expected is not None:
        check_kind("expected", expected, TuningChart, "a chart, as tuning_chart(pipe) gives it,")
    found = None
    if drones:
        keynote = just_scale(key=key).keynote_hz if scale is None else scale.keynote_hz
        found = find_drones(recording.samples, recording.rate, keynote)
    if scale is None:
        if found is None:
            brief = f"{recording.seconds:.1f} seconds are too short to tell drones from notes"
            what = brief if recording.seconds < 2.0 * WINDOW_S else "no drone sounds throughout"
            raise Refusal(f"{what}, so the A is not known", ASK_A, where)
        scale = scale_of_drones(found, key)
    samples = without_drones(recording.samples, recording.rate, found) if found else recording.samples
    tracked = track(samples, recording.rate)
    pitches, faint = _pitches(tracked, samples, recording)
    notes, nameless = _held_notes(pitches, found, scale, thumb)
    if sum(h.seconds for h in notes) < _LEAST_SHARE * recording.seconds:
        allowed = "a recording of a chanter whose notes are held for half a second or more is needed"
        raise Refusal(f"hardly a held note of a chanter in {scale.key} is in it", allowed, where)
    minds = _sound_minds(recording, samples, found, scale) + _minds(notes, nameless, found, scale)
    low = float(cents(min(pitch.hz for _, _, pitch in pitches), scale.keynote_hz))
    if low < -_LOW_CENTS:
        minds.append(f"the lowest note lies {-low:.0f} cents below the scale's; is it a chanter in another key?")
    if expected is not None and (missing := unheard(expected, notes, scale, found, faint, tracked)):
        minds.append(missing)
    return Heard(where, scale, temperature_c, found, tuple(notes), tuple(minds))
