"""Where each model may be trusted, as data, and the one warning that says when it is not."""

from __future__ import annotations

import warnings
from dataclasses import dataclass

import numpy as np


class OutsideRange(UserWarning):
    """A model was used outside the range in which it is trusted; the message quotes the number."""


@dataclass(frozen=True)
class Range:
    """The interval of one quantity in which one model is trusted.

    Parameters
    ----------
    model : str
        What is being used, in words.
    quantity : str
        Which number is looked at, in words, with its unit.
    low, high : float
        The interval, ends included.
    source : str
        Author and year, and how it was checked here if it was; or that there is no source.
    """

    model: str
    quantity: str
    low: float
    high: float
    source: str

    def excess(self, value) -> float:
        """How far outside the farthest entry of `value` lies (0 when all are inside)."""
        value = np.asarray(value, float)
        return float(np.max(np.maximum(self.low - value, value - self.high), initial=0.0))

    def check(self, value, where: str | list[str] = "") -> None:
        """Warn with `OutsideRange` when any entry of `value` lies outside.

        `where` names the place: one name, or one for each entry.
        """
        value = np.atleast_1d(np.asarray(value, float))
        over = np.maximum(self.low - value, value - self.high)
        if not value.size or over.max() <= 1e-12 * max(1.0, abs(self.high)):
            return
        at = int(np.argmax(over))
        lead = f"{where if isinstance(where, str) else where[at]}: " if where else ""
        message = (
            f"{lead}{self.quantity} is {value[at]:.3g}, outside {self.low:g} to {self.high:g} "
            f"(by {self.excess(value):.2g}), where {self.model} is trusted ({self.source})."
        )
        warnings.warn(message, OutsideRange, stacklevel=3)
