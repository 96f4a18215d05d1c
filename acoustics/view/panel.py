"""The panel of the study pages: dials in the order the air meets them, the pipe, both octaves, one sentence."""

from __future__ import annotations

import base64
import math
import warnings
from html import escape

import ipywidgets as w

from ..errors import Refusal
from ..pipes.design_file import write_design
from ..tuning.dials import DIALS, GROUPS, Dial
from ..tuning.setup import Setup
from ..tuning.summary import compare, summary
from .board import Board
from .controls import button, in_a_row, label_em, named_slider, panel_box, sentence
from .sound import WHAT_IT_IS, before_and_after, note_sound, silence


class Panel:
    """Sliders over a setup; shows itself in a notebook.

    Parameters
    ----------
    setup : Setup
        Where the dials stand at first, and the first reference.
    dials : names of `DIALS`, or {name: Dial}
        Which dials to show.
    sound : bool
        Whether to offer the sound of a note.

    Notes
    -----
    The panel holds no physics: it turns dials and asks the setup for its chart.  It can be driven
    from a program by setting `panel.slider[name].value`.
    """

    def __init__(self, setup: Setup, dials, sound: bool = False):
        self.dials: dict[str, Dial] = dict(dials) if isinstance(dials, dict) else {name: DIALS[name] for name in dials}
        self.reference = self.setup = setup
        self._resting = False
        self.board = Board(setup)
        self.slider = {name: self._slider(dial) for name, dial in self.dials.items()}
        self.picture, self.words = w.Image(format="png"), w.HTML()
        heard, about = (self._sound_controls(), WHAT_IT_IS) if sound else ((), "")
        self.box = panel_box(self._controls(), self.picture, self.words, heard, about)
        for name, slider in self.slider.items():
            slider.observe(lambda change, name=name: self._turned(name, change["new"]), "value")
        self._show()

    def _slider(self, dial: Dial) -> w.FloatSlider:
        """A slider whose steps meet the value that the dial has, between the workshop's limits."""
        value = float(dial.read(self.setup))
        down, up = (max(0, math.floor(room / dial.step + 1e-6)) for room in (value - dial.low, dial.high - value))
        low, high = round(value - down * dial.step, 6), round(value + up * dial.step, 6)
        digits = max(dial.decimals, len(f"{value:.3f}".rstrip("0").split(".")[1]))
        room = label_em(one.name for one in self.dials.values())
        return named_slider(dial.name, value, low, high, dial.step, digits, room)

    def _controls(self) -> list[w.Widget]:
        parts = []
        for group in GROUPS:
            sliders = [self.slider[name] for name, dial in self.dials.items() if dial.group == group]
            if sliders:
                parts += [w.HTML(f"<b>{group.capitalize()}</b>"), *sliders]
        self.keep = button("Keep as reference", "The grey ghost becomes what you see now", self.keep_reference)
        self.back = button("Back to reference", "Undo everything since the reference", self.back_to_reference)
        self.file = w.Text(
            value="my-chanter.toml",
            description="file",
            layout=w.Layout(width="auto"),
            style={"description_width": "2em"},
        )
        self.save = button("Save design", "Write the chanter, changes included, to a new file", self.save_design)
        self.said = w.HTML()
        return [*parts, w.HBox([self.keep, self.back]), w.HBox([self.file, self.save]), self.said]

    def _sound_controls(self) -> list[w.Widget]:
        names = [row.title for row in self.setup.chart.rows]
        self.note = w.Dropdown(options=[(name, i) for i, name in enumerate(names)], value=0, description="note")
        self.note.style.description_width = "3em"
        self.with_drone = w.Checkbox(value=False, description="against a drone on the keynote", indent=False)
        self.with_drone.layout.width = "auto"
        self.audio = w.Audio(value=silence(), format="wav", autoplay=False, loop=False, controls=True)
        hear = button("Hear it", "The note as it is now", lambda: self.hear(both=False))
        both = button("Before, then now", "The reference first, then as it is now", lambda: self.hear(both=True))
        return [w.HTML("<b>Sound</b>"), in_a_row(self.note, self.with_drone, hear, both, self.audio)]

    def _turned(self, name: str, value: float) -> None:
        if self._resting or abs(value - self.dials[name].read(self.setup)) < 1e-6:
            return
        try:
            with warnings.catch_warnings(record=True) as caught:
                warnings.simplefilter("always")
                setup = self.dials[name].turn(self.setup, round(value, 6))
                setup.chart  # noqa: B018  (what cannot be built is refused here)
        except Refusal as refusal:
            self._resting = True
            self.slider[name].value = self.dials[name].read(self.setup)
            self._resting = False
            self.words.value = sentence(f"Not possible: {refusal}")
            return
        self.setup = setup
        self._show([str(one.message) for one in caught])

    def _show(self, mind=()) -> None:
        self.picture.value = self.board.png(self.setup, self.reference)
        same = self.setup is self.reference
        said = summary(self.setup.chart) if same else compare(self.reference.chart, self.setup.chart)
        self.words.value = sentence(said, mind)

    def keep_reference(self) -> None:
        """What is seen becomes the grey ghost."""
        self.reference = self.setup
        self.said.value = "The reference is now what you see."
        self._show()

    def back_to_reference(self) -> None:
        """Undo every change since the reference."""
        self._resting = True
        for name, slider in self.slider.items():
            slider.value = self.dials[name].read(self.reference)
        self._resting = False
        self.setup = self.reference
        self.said.value = "Back at the reference."
        self._show()

    def save_design(self) -> None:
        """Write the chanter with its changes to the named file, never over an old one."""
        try:
            write_design(self.setup.pipe, self.file.value)
        except Refusal as refusal:
            self.said.value = escape(str(refusal))
        else:
            use = f'To open it, write design_file = "{self.file.value}" into the first grey box of a page.'
            left_out = " Tape and the lift of the foot are not part of a design file."
            loose = self.setup.taped or self.setup.gap_mm
            self.said.value = escape(f"Saved as {self.file.value}. {use}{left_out if loose else ''}")

    def hear(self, both: bool) -> None:
        """Play the chosen note, alone or after that of the reference."""
        index, drone = self.note.value, self.with_drone.value
        try:
            if both:
                sound = before_and_after(self.reference, self.setup, index, drone)
            else:
                sound = note_sound(self.setup, index, drone)
        except Refusal as refusal:
            self.said.value = escape(str(refusal))
            return
        self.audio.autoplay = True
        self.audio.value = sound

    def __repr__(self) -> str:
        stands = [(dial.name, self.slider[name].value, dial.decimals) for name, dial in self.dials.items()]
        return "\n".join(["A panel with the dials", *(f"  {name}: {value:.{n}f}" for name, value, n in stands)])

    def _repr_mimebundle_(self, **kwargs):
        picture = base64.b64encode(self.picture.value).decode()
        return {**self.box._repr_mimebundle_(**kwargs), "text/plain": repr(self), "image/png": picture}
