"""The played chart: the pitch of loud tones at a pressure in the bag, beside that of the resonances."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import log2

import numpy as np

from ..errors import check_kind, number, whole_number
from ..physics.balance import HARMONICS, Balance, Lost, Steady
from ..physics.stability import growing
from ..physics.valve import Valve
from ..units import cents
from .chart import Row, signed
from .load import loads
from .onset import Onset, onset
from .outcome import Heard, settled
from .setup import Setup

# Common practice, no source: 3 to 5 kPa in the bag, more in the second octave than in the first; lips 12
# to 13 mm wide and open well under a millimetre.  Within that, area and closing pressure were chosen so
# that most notes of the demo chanter speak and last: a mean gap of 0.04 mm, far less than the eye sees.
DEMO_VALVE = Valve(0.53, 6400.0)
PRESSURE_FIRST, PRESSURE_SECOND = 3600.0, 5000.0
SAME_NOTE = 60.0  # cents


@dataclass(frozen=True)
class PlayedRow:
    """One note as it is played.

    Parameters
    ----------
    row : Row
        The same note of the chart of resonances.
    mouth_pressure : float
        In the bag [Pa].
    onset : Onset or None
        Where the still reed starts to sound it; None where it shuts first.
    tone : Steady or None
        None where no tone was found at this pressure.
    lasts : bool or None
        Whether small disturbances of the tone die away; None where there is no tone.
    status : str
        In a sentence how it sounds, or why not and at which pressure it starts or the search ended.
    becomes : Heard or None
        What is heard in the end where the tone does not last.
    """

    row: Row
    mouth_pressure: float
    onset: Onset | None
    tone: Steady | None
    lasts: bool | None
    status: str
    becomes: Heard | None = None

    @property
    def cents(self) -> float:
        """Played pitch against the target [cents]; nan where nothing sounds."""
        return float(cents(self.tone.frequency, self.row.target_hz)) if self.tone else float("nan")

    @property
    def lasting_cents(self) -> float:
        """Played pitch against the target [cents]; nan where no tone lasts."""
        return self.cents if self.lasts else float("nan")

    @property
    def resonance_cents(self) -> float:
        """The resonance against the target [cents]; nan where there is none."""
        return self.row.cents

    @property
    def centroid_hz(self) -> float:
        """Brightness: mean frequency of the sound behind the lips, by amplitude [Hz]."""
        return self.tone.centroid if self.tone else float("nan")

    @property
    def cents_per_kpa(self) -> float:
        """How far the pitch moves with the pressure in the bag [cents/kPa]."""
        return self.tone.cents_per_kpa if self.tone else float("nan")

    @property
    def register(self) -> int | None:
        """1 or 2 after the frequency reached: nearer to the fingering's first octave or to twice it."""
        if self.tone is None:
            return None
        first = self.row.target_hz / self.row.fingering.register
        return 1 if log2(self.tone.frequency / first) < 0.5 else 2


@dataclass(frozen=True, repr=False)
class PlayedChart:
    """Notes of a pipe as they are played, at one pressure for each octave.

    Parameters
    ----------
    pipe_name : str
    valve : Valve
    rows : tuple of PlayedRow
        In the order of the chart of resonances.
    """

    pipe_name: str
    valve: Valve
    rows: tuple[PlayedRow, ...]

    @property
    def cents(self) -> np.ndarray:
        """Every row's played error, array (rows,) [cents]; nan where nothing sounds."""
        return np.array([row.cents for row in self.rows])

    def __str__(self) -> str:
        head = f"{'note':22}{'bag kPa':>8}{'starts':>8}{'played':>8}{'reson.':>8}{'per kPa':>8}{'bright Hz':>10}"
        slit = f"lips open {self.valve.opening_mm2:g} mm2, shut at {self.valve.closing_pressure / 1e3:g} kPa"
        return "\n".join([f"{self.pipe_name}: played; {slit}", head, *map(_line, self.rows)])

    def __repr__(self) -> str:
        return str(self)


def _line(row: PlayedRow) -> str:
    starts = f"{row.onset.pressure / 1e3:8.2f}" if row.onset else f"{'never':>8}"
    out = f"{row.row.title:22}{row.mouth_pressure / 1e3:8.2f}{starts}"
    if row.tone is None:
        return f"{out}  {row.status}"
    out += f"{row.cents:+8.1f}{row.resonance_cents:+8.1f}{row.cents_per_kpa:+8.1f}{row.centroid_hz:10.0f}"
    return out.replace("-0.0", "+0.0") + ("" if row.lasts else f"  {row.status}")


def played_chart(
    setup: Setup,
    valve: Valve = DEMO_VALVE,
    pressure_first: float = PRESSURE_FIRST,
    pressure_second: float = PRESSURE_SECOND,
    harmonics: int = HARMONICS,
) -> PlayedChart:
    """Every note of a setup as it is played.

    Parameters
    ----------
    setup : Setup
    valve : Valve
        The lips of the reed.
    pressure_first, pressure_second : float
        In the bag, for notes of the first and of the second octave, 100 to 20000 [Pa].
    harmonics : int
        Overtones that are balanced, counted with the fundamental, 2 to 64.

    Returns
    -------
    PlayedChart

    Notes
    -----
    A note is followed from where its resonance makes the still reed unstable to the pressure asked for;
    see `balance.Balance.play`.  Where that tone does not last (`stability.growing`) another that does is looked
    for further along the branch; where there is none, the tone is set going in the time domain.  What it becomes
    there, if it is a tone of the same note that lasts, takes its place; if it is anything else, the row keeps the
    numbers of the tone that does not last and says what becomes of it.
    Above `load.FADE_HZ` overtones find a pipe that gives nothing back.
    """
    check_kind("setup", setup, Setup, "a Setup")
    check_kind("valve", valve, Valve, "a Valve")
    pressures = {
        1: number("pressure_first", pressure_first, 100.0, 20000.0, "Pa"),
        2: number("pressure_second", pressure_second, 100.0, 20000.0, "Pa"),
    }
    harmonics = whole_number("harmonics", harmonics, 2, 64)
    rows = setup.chart.rows
    bags = [pressures[row.fingering.register] for row in rows]
    return PlayedChart(setup.pipe.name, valve, played_rows(setup, valve, rows, bags, harmonics))


def played_rows(setup: Setup, valve: Valve, rows, mouth_pressures, harmonics: int = HARMONICS):
    """Some rows of a setup's chart as they are played, each at its own pressure [Pa]: a tuple of PlayedRow."""
    if not rows:
        return ()
    patterns = tuple(dict.fromkeys(row.fingering.pattern for row in rows))
    gas = setup.air.gas
    seen = dict(zip(patterns, loads(setup.pipe, patterns, gas), strict=True))
    played, balances = [], []
    for row, pressure in zip(rows, mouth_pressures, strict=True):
        balance = Balance(seen[row.fingering.pattern], valve, gas, harmonics)
        start = onset(row.mode, valve, gas)
        tone, status = _play(balance, row, start, pressure)
        lasts = growing(tone, balance.admittance, valve, gas) == 0 if tone else None
        other = _along(balance, start, pressure) if lasts is False else None
        if other is not None:
            tone, lasts, status = other, True, sounds(other, start)
        played.append(PlayedRow(row, pressure, start, tone, lasts, status))
        balances.append(balance)
    return tuple(_in_the_end(played, balances))


def _along(balance: Balance, start: Onset, pressure: float) -> Steady | None:
    """The first tone that lasts, where the branch from an onset comes through a pressure."""
    found = (lasting(balance, tone) for tone in balance.crossings(start.frequency, start.pressure, pressure))
    return next((tone for tone in found if tone is not None), None)


def lasting(balance: Balance, guess: Steady) -> Steady | None:
    """The tone near a guess, if there is one and it lasts."""
    try:
        tone = balance.again(guess)
    except Lost:
        return None
    return tone if growing(tone, balance.admittance, balance.valve, balance.gas) == 0 else None


def _in_the_end(rows: list[PlayedRow], balances: list[Balance]) -> list[PlayedRow]:
    """The rows, those whose tone does not last with what becomes of it."""
    left = [i for i, row in enumerate(rows) if row.lasts is False]
    if not left:
        return rows
    valve, gas = balances[0].valve, balances[0].gas
    seen, tones = [balances[i].admittance for i in left], [rows[i].tone for i in left]
    ends = settled(seen, valve, gas, [tone.mouth_pressure for tone in tones], tones, balances[0].harmonics)
    for i, (end, guess) in zip(left, ends, strict=True):
        rows[i] = _ended(rows[i], balances[i], end, guess)
    return rows


def _ended(row: PlayedRow, balance: Balance, end: Heard, guess: Steady | None) -> PlayedRow:
    away = float(cents(end.frequency, row.tone.frequency))
    tone = lasting(balance, guess) if guess is not None and abs(away) < SAME_NOTE else None
    if tone is not None:
        return replace(row, tone=tone, lasts=True, status=sounds(tone, row.onset))
    return replace(row, status=f"does not last: {became(end, away)}", becomes=end)


def became(end: Heard, away: float) -> str:
    """What is heard in the end, `away` cents from the tone that was meant."""
    if end.kind == "silent":
        return "it dies away"
    if end.kind == "warble":
        return "it warbles"
    if abs(away) < SAME_NOTE:
        return "it goes on as another tone of the same note"
    if abs(away + 1200.0) < SAME_NOTE:
        return "it drops to the octave below"
    if abs(away - 1200.0) < SAME_NOTE:
        return "it jumps to its octave"
    return f"it goes to another tone, {away:+.0f} cents away"


def sounds(tone: Steady, onset: Onset) -> str:
    return f"sounds {signed(cents(tone.frequency, onset.frequency))} cents from its resonance"


def _play(balance: Balance, row: Row, onset: Onset | None, pressure: float) -> tuple[Steady | None, str]:
    if row.mode is None:
        return None, "no resonance within a fourth of the target"
    if onset is None:
        return None, f"no tone: the lips shut at {balance.valve.closing_pressure / 1e3:.2f} kPa before it starts"
    try:
        tone = balance.play(onset.frequency, onset.pressure, pressure)
    except Lost as lost:
        ended = f" ({lost.reached / 1e3:.2f} kPa was reached)" if lost.reached != onset.pressure else ""
        return None, f"no tone at {pressure / 1e3:.2f} kPa: {lost.why}{ended}"
    return tone, sounds(tone, onset)
