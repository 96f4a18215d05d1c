"""A question to the apprentice that checks itself."""

from __future__ import annotations

from html import escape

import ipywidgets as w


class Question:
    """Choices, of which one is right, and why; shows itself in a notebook.

    Parameters
    ----------
    prompt : str
    choices : sequence of str
    right : int
        Index of the right choice, computed where the question is asked.
    why : str
        Shown after an answer, right or wrong.
    """

    def __init__(self, prompt: str, choices, right: int, why: str):
        self.prompt, self.options, self.right, self.why = prompt, tuple(choices), right, why
        self.choice = w.RadioButtons(
            options=[(text, i) for i, text in enumerate(self.options)], index=None, layout=w.Layout(width="max-content")
        )
        self.check = w.Button(description="Check", tooltip="See whether your answer is right")
        self.answer = w.HTML()
        self.check.on_click(lambda _: self.look())
        title = w.HTML(f"<p style='max-width:46em'><b>{escape(prompt)}</b></p>")
        self.box = w.VBox([title, self.choice, self.check, self.answer])

    def look(self) -> None:
        """Say whether the chosen answer is right, and why."""
        if self.choice.index is None:
            self.answer.value = "Choose an answer first."
            return
        said = "Right." if self.choice.index == self.right else f"Not so: {self.options[self.right]}."
        self.answer.value = f"<p style='max-width:46em'>{escape(said)} {escape(self.why)}</p>"

    def __repr__(self) -> str:
        return "\n".join([self.prompt, *(f"  ( ) {text}" for text in self.options)])

    def _repr_mimebundle_(self, **kwargs):
        return {**self.box._repr_mimebundle_(**kwargs), "text/plain": repr(self)}
