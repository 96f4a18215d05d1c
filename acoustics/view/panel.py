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
        self.picture = w.Image(format="png", layout=w.Layout(width="100%", max_width="760px"))
        self.words = w.HTML()
        self.words.layout.min_height = "5em"
        self.box = w.HBox(
            [self._controls(sound), w.VBox([self.picture, self.words], layout=w.Layout(flex="1 1 480px"))]
        )
        self.box.layout.flex_flow = "row wrap"
        for name, slider in self.slider.items():
            slider.observe(lambda change, name=name: self._turned(name, change["new"]), "value")
        self._show()

    def _slider(self, dial: Dial) -> w.FloatSlider:
        """A slider whose steps meet the value that the dial has, between the workshop's limits."""
        value = float(dial.read(self.setup))
        down, up = (max(0, math.floor(room / dial.step + 1e-6)) for room in (value - dial.low, dial.high - value))
        return w.FloatSlider(
            value=value,
            min=round(value - down * dial.step, 6),
            max=round(value + up * dial.step, 6),
            step=dial.step,
            description=dial.name,
            readout_format=f".{max(dial.decimals, len(f'{value:.3f}'.rstrip('0').split('.')[1]))}f",
            style={"description_width": "18em"},
            layout=w.Layout(width="100%"),
        )

    def _button(self, text: str, tip: str, does) -> w.Button:
        button = w.Button(description=text, tooltip=tip, layout=w.Layout(width="auto"))
        button.on_click(lambda _: does())
        return button

    def _controls(self, sound: bool) -> w.VBox:
        parts = []
        for group in GROUPS:
            sliders = [self.slider[name] for name, dial in self.dials.items() if dial.group == group]
            if sliders:
                parts += [w.HTML(f"<b>{group.capitalize()}</b>"), *sliders]
        self.keep = self._button("Keep as reference", "The grey ghost becomes what you see now", self.keep_reference)
        self.back = self._button("Back to reference", "Undo everything since the reference", self.back_to_reference)
        self.file = w.Text(
            value="my-chanter.toml",
            description="file",
            layout=w.Layout(width="auto"),
            style={"description_width": "2em"},
        )
        self.save = self._button("Save design", "Write the chanter, changes included, to a new file", self.save_design)
        self.said = w.HTML()
        parts += [w.HBox([self.keep, self.back]), w.HBox([self.file, self.save]), self.said]
        if sound:
            parts += self._sound_controls()
        return w.VBox(parts, layout=w.Layout(flex="0 1 400px", min_width="340px"))

    def _sound_controls(self) -> list:
        names = [row.title for row in self.setup.chart.rows]
        self.note = w.Dropdown(options=[(name, i) for i, name in enumerate(names)], value=0, description="note")
        self.with_drone = w.Checkbox(value=False, description="against a drone on the keynote", indent=False)
        self.audio = w.Audio(value=silence(), format="wav", autoplay=False, loop=False, controls=True)
        hear = self._button("Hear it", "The note as it is now", lambda: self.hear(both=False))
        both = self._button("Before, then now", "The reference first, then as it is now", lambda: self.hear(both=True))
        about = w.HTML(f"<p style='line-height:1.3;font-size:85%'>{escape(WHAT_IT_IS)}</p>")
        return [w.HTML("<b>Sound</b>"), self.note, self.with_drone, w.HBox([hear, both]), self.audio, about]

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
            self.words.value = f"<p style='max-width:46em'>Not possible: {escape(str(refusal))}</p>"
            return
        self.setup = setup
        self._show([str(one.message) for one in caught])

    def _show(self, mind=()) -> None:
        self.picture.value = self.board.png(self.setup, self.reference)
        same = self.setup is self.reference
        said = summary(self.setup.chart) if same else compare(self.reference.chart, self.setup.chart)
        notes = "".join(f"<br><small>Mind: {escape(note)}</small>" for note in dict.fromkeys(mind))
        self.words.value = f"<p style='max-width:46em;font-size:110%;line-height:1.4'>{escape(said)}{notes}</p>"

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
            left_out = " Tape and the lift of the foot are not part of a design file."
            loose = self.setup.taped or self.setup.gap_mm
            self.said.value = f"Saved as {escape(self.file.value)}.{left_out if loose else ''}"

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
