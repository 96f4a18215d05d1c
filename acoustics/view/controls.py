"""What the panels share: sliders, buttons, sentences, and controls beside a picture."""

from __future__ import annotations

from html import escape

import ipywidgets as w


def named_slider(name: str, value: float, low: float, high: float, step: float, digits: int, room_em: float, **how):
    """A slider with its name at the left, `room_em` wide, and its value with `digits` decimals at the right."""
    return w.FloatSlider(
        value=value,
        min=low,
        max=high,
        step=step,
        description=name,
        readout_format=f".{digits}f",
        style={"description_width": f"{room_em:g}em"},
        layout=w.Layout(width="100%"),
        **how,
    )


def label_em(names) -> float:
    """Room for the longest of some names, as wide as a wide letter face needs it [em]."""
    return 0.5 * max(len(name) for name in names) + 1.0


def button(text: str, tip: str, does) -> w.Button:
    """A button as wide as its text."""
    made = w.Button(description=text, tooltip=tip, layout=w.Layout(width="auto"))
    made.on_click(lambda _: does())
    return made


def in_a_row(*parts) -> w.HBox:
    """Widgets beside each other, on another line where the page is too narrow."""
    return w.HBox(parts, layout=w.Layout(flex_flow="row wrap", align_items="center"))


def sentence(said: str, mind=()) -> str:
    """HTML of what a panel says, with warnings in small letters below."""
    notes = "".join(f"<br><small>Mind: {escape(note)}</small>" for note in dict.fromkeys(mind))
    return f"<p style='max-width:46em;font-size:110%;line-height:1.4'>{escape(said)}{notes}</p>"


def panel_box(controls, picture: w.Image, words: w.HTML, sound=(), about: str = "") -> w.VBox:
    """Controls, the picture with its sentence beside them (below, where the page is narrow), and the sound below both.

    Parameters
    ----------
    controls, sound : sequences of widgets
    about : str
        What the sound is, in small letters.
    """
    picture.layout = w.Layout(width="100%", max_width="760px")
    words.layout.min_height = "5em"
    left = w.VBox(controls, layout=w.Layout(flex="1 1 400px", min_width="340px"))
    beside = w.HBox([left, w.VBox([picture, words], layout=w.Layout(flex="2 1 480px"))])
    beside.layout.flex_flow = "row wrap"
    small = [w.HTML(f"<p style='line-height:1.3;font-size:85%'>{escape(about)}</p>")] if about else []
    return w.VBox([beside, *sound, *small])
