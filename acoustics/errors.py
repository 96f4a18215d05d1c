"""One way to say no: a sentence with what is wrong, where, and what is allowed."""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import fields
from numbers import Real


class Refusal(ValueError):
    """Input that cannot be used.

    The message is one sentence: ``where: what; allowed``.  In a notebook the sentence
    is shown alone, without a traceback.

    Parameters
    ----------
    what : str
        What is wrong, quoting the offending value.
    allowed : str
        What would be accepted instead.
    where : str, optional
        File, line or field.
    """

    def __init__(self, what: str, allowed: str, where: str = ""):
        self.what, self.allowed, self.where = what, allowed, where
        super().__init__(what, allowed, where)

    def __str__(self) -> str:
        lead = f"{self.where}: " if self.where else ""
        return f"{lead}{self.what}; {self.allowed}."

    def inside(self, where: str) -> Refusal:
        """The same refusal, named from one level further out."""
        return Refusal(self.what, self.allowed, f"{where}, {self.where}" if self.where else where)

    def _render_traceback_(self) -> list[str]:
        """IPython's hook: the sentence instead of a traceback."""
        return [str(self)]


@contextmanager
def within(where: str) -> Iterator[None]:
    """Whatever is refused inside is named from one level further out."""
    try:
        yield
    except Refusal as refusal:
        raise refusal.inside(where) from None


def short(value: object) -> str:
    """A value as it may be quoted in a sentence: at most 40 characters."""
    try:
        text = f"{value:g}" if isinstance(value, float) else repr(value)
    except (RecursionError, ValueError):  # endless nesting, or thousands of digits
        text = f"a {type(value).__name__}"
    return text if len(text) <= 40 else text[:37] + "..."


def number(field: str, value: object, low: float, high: float, unit: str = "mm") -> float:
    """`value` as a float inside [low, high], or a `Refusal` that names the field."""
    low_said, high_said = (f"{end:.10g}" if float(end).is_integer() else f"{end:g}" for end in (low, high))
    allowed = f"a number from {low_said} to {high_said} {unit}".rstrip() + " is allowed"
    if isinstance(value, bool) or not isinstance(value, Real):
        raise Refusal(f"{short(value)} is not a number", allowed, field)
    if isinstance(value, int) and abs(value) >= 10**300:  # too big for a float
        raise Refusal(f"{short(value)} is out of bounds", allowed, field)
    if not math.isfinite(value):
        raise Refusal(f"{value} is not a finite number", allowed, field)
    if not low <= value <= high:
        raise Refusal(f"{float(value):.10g} is out of bounds", allowed, field)
    return float(value)


def whole_number(field: str, value: object, low: int, high: int, unit: str = "") -> int:
    """`value` as an int inside [low, high], or a `Refusal` that names the field."""
    found = number(field, value, low, high, unit)
    if not found.is_integer():
        allowed = f"a whole number from {low} to {high} {unit}".rstrip() + " is allowed"
        raise Refusal(f"{found:.10g} is not a whole number", allowed, field)
    return int(found)


def text(field: str, value: object, longest: int = 80) -> str:
    """`value` as one line of text, or a `Refusal`."""
    allowed = f"one line of 1 to {longest} characters is allowed"
    if not isinstance(value, str):
        raise Refusal(f"{short(value)} is not text", allowed, field)
    if not value.strip() or len(value) > longest or not value.isprintable():
        raise Refusal(f"{short(value)} is empty, too long or not printable", allowed, field)
    return value


def one_of(field: str, value: object, choices: dict):
    """What `choices` has under the word `value`, or a `Refusal`."""
    if not isinstance(value, str) or value not in choices:
        allowed = " or ".join(f'"{word}"' for word in choices) + " is allowed"
        raise Refusal(f"{short(value)} is not known", allowed, field)
    return choices[value]


def check_kind(field: str, value: object, kind: type, needed: str) -> None:
    """A `Refusal` unless `value` is of a kind; `needed` says what to give, as "a Recording"."""
    if not isinstance(value, kind):
        raise Refusal(f"{short(value)} stands there", f"{needed} is needed", field)


def set_checked(part: object, limits: dict[str, tuple[float, float]], unit: str = "mm") -> None:
    """Check numeric fields of a frozen dataclass against `limits` and store them as floats.

    None is let through only where it is the field's default.
    """
    left_out = {field.name for field in fields(part) if field.default is None}
    for field, (low, high) in limits.items():
        value = getattr(part, field)
        if value is not None or field not in left_out:
            object.__setattr__(part, field, number(field, value, low, high, unit))
