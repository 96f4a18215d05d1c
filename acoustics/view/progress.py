"""How far a search has come, one line that changes in a notebook."""

from __future__ import annotations

import time

import ipywidgets as w

_EVERY_S = 0.2


class Progress:
    """A line for `search(..., progress=...)`: charts made, and how near the best so far comes.

    Notes
    -----
    The page can be stopped with the black square above it (*Interrupt the kernel*): the search then keeps the
    best so far.  What is stored with the page are the words alone, which do not change from run to run.
    """

    def __init__(self, what: str = "Searching"):
        self.what, self._shown = what, 0.0
        self.line = w.HTML(f"{what} ...")

    def __call__(self, charts: int, best_rms: float) -> bool:
        """Show where the search stands; never stops it."""
        if time.monotonic() - self._shown > _EVERY_S or charts == 1:
            self._shown = time.monotonic()
            self.line.value = f"{self.what}: {charts} charts made, the best so far {best_rms:.1f} cents rms"
        return False

    def done(self, stopped: bool = False) -> None:
        """Say that it is over."""
        self.line.value = f"{self.what}: stopped; the best so far is kept." if stopped else f"{self.what}: done."

    def __repr__(self) -> str:
        return f"{self.what}: the line here counts the charts; the black square above stops it and keeps the best."

    def _repr_mimebundle_(self, **kwargs):
        return {**self.line._repr_mimebundle_(**kwargs), "text/plain": repr(self)}
