"""The panel of the played page: a note, the pressure in the bag, the reed's opening and strength; seen and heard."""

from __future__ import annotations

import base64

import ipywidgets as w
import numpy as np

from ..physics.in_time import RATE
from ..physics.valve import Valve
from ..tuning.chart import signed
from ..tuning.played import DEMO_VALVE, PRESSURE_FIRST, PlayedRow, played_rows
from ..tuning.setup import Setup
from ..tuning.speaks import sound_of, swell
from ..tuning.window import Window, followed, windows
from .controls import button, in_a_row, named_slider, panel_box, sentence
from .picture import Picture
from .played import plot_tone
from .sound import silence, wav

LOWEST_KPA, HIGHEST_KPA = 1.5, 7.0
DPI = 84
ABOUT = (
    "The sound is the pressure behind the lips of the computed reed, from the moment the bag is full. "
    "What leaves the holes is thinner in the bass and brighter. No room, no wood, no bag leather."
)


class Bellows:
    """Sliders over one note of a setup and its reed; shows itself in a notebook.

    Parameters
    ----------
    setup : Setup
    valve : Valve
        Where opening and strength stand at first.
    note : str
        Title of a row, "A, second octave".

    Notes
    -----
    The panel holds no physics: it asks for the note as played and for its window.  It can be driven from a
    program by setting `.pressure.value`, `.opening.value`, `.strength.value` and `.note.value`.
    """

    def __init__(self, setup: Setup, valve: Valve = DEMO_VALVE, note: str | None = None):
        self.setup = setup
        titles = [row.title for row in setup.chart.rows]
        self.note = w.Dropdown(options=titles, value=note or titles[0], description="note")
        self.pressure = _slider("in the bag, kPa", PRESSURE_FIRST / 1e3, LOWEST_KPA, HIGHEST_KPA, 0.1)
        self.opening = _slider("lips open, mm²", valve.opening_mm2, 0.2, 1.0, 0.01)
        self.strength = _slider("shut at, kPa", valve.closing_pressure / 1e3, 4.0, 9.0, 0.1)
        self.picture, self.words = w.Image(format="png"), w.HTML()
        self.audio = w.Audio(value=silence(), format="wav", autoplay=False, loop=False, controls=True)
        hear = button("Hear it start", "From rest, with the bag full at once", self.hear)
        up = button("Press and let go", "The pressure rises to 7 kPa and falls again", self.press)
        bag = [w.HTML("<b>Bag</b>"), self.note, self.pressure]
        reed = [w.HTML("<b>Reed</b>"), self.opening, self.strength]
        self.box = panel_box([*bag, *reed], self.picture, self.words, [in_a_row(hear, up, self.audio)], ABOUT)
        for one in (self.note, self.pressure, self.opening, self.strength):
            one.observe(lambda _: self._show(), "value")
        self._window: tuple[object, Window | None] = (None, None)
        self._show()

    @property
    def valve(self) -> Valve:
        """The reed's lips as the sliders stand."""
        return Valve(self.opening.value, self.strength.value * 1e3)

    @property
    def row(self):
        """The row of the chart that is chosen."""
        return next(row for row in self.setup.chart.rows if row.title == self.note.value)

    def _played(self) -> tuple[PlayedRow, Window | None]:
        """The tone that is on as long as it lasts while only the pressure is moved, else a new one; and its window."""
        key, pressure = (self.note.value, self.valve), self.pressure.value * 1e3
        known = self._window[1] if self._window[0] == key else None
        stays = known and followed(self.setup, self.valve, known, pressure)
        if stays:
            return stays, known
        played = played_rows(self.setup, self.valve, [self.row], [pressure])[0]
        found = windows(self.setup, self.valve, [played])
        self._window = (key, found[0] if found else known)
        return played, self._window[1]

    def _show(self) -> None:
        played, window = self._played()
        self.shown: Picture = plot_tone(played, self.valve, window)
        self.picture.value = self.shown.png(DPI)
        self.words.value = sentence(_said(played, window))

    def hear(self) -> None:
        """Play the note from rest at the pressure that is set."""
        steady = np.full(int(1.3 * RATE), self.pressure.value * 1e3)
        steady[-RATE // 10 :] *= np.linspace(1.0, 0.0, RATE // 10)
        self._play(steady)

    def press(self) -> None:
        """Play the note while the pressure rises and falls."""
        self._play(swell(LOWEST_KPA * 1e3, HIGHEST_KPA * 1e3, 4.0))

    def _play(self, mouth) -> None:
        sound = sound_of(self.setup, self.valve, self.row, mouth)
        self.audio.autoplay = True
        self.audio.value = wav(0.8 * sound / max(float(np.max(np.abs(sound))), 1.0), RATE)

    def __repr__(self) -> str:
        sliders = (self.pressure, self.opening, self.strength)
        stands = [f"  {one.description}: {one.value:.2f}" for one in sliders]
        return "\n".join(["A panel with the dials", f"  note: {self.note.value}", *stands, repr(self.shown)])

    def _repr_mimebundle_(self, **kwargs):
        picture = base64.b64encode(self.picture.value).decode()
        return {**self.box._repr_mimebundle_(**kwargs), "text/plain": repr(self), "image/png": picture}


def _slider(name: str, value: float, low: float, high: float, step: float) -> w.FloatSlider:
    return named_slider(name, value, low, high, step, 2, 9.0, continuous_update=False)


def _said(played: PlayedRow, window: Window | None) -> str:
    where = f"{played.row.title} at {played.mouth_pressure / 1e3:.1f} kPa: "
    if played.tone is None:
        return f"{where}{played.status}."
    if not played.lasts:
        return f"{where}{played.status}. The picture shows the tone that does not last."
    said = f"{where}{signed(played.cents)} cents, and {signed(played.cents_per_kpa)} for each kPa more."
    return f"{said} It {window.said}." if window else said
