"""Reading TOML, so that every mistake in it is said as one says it at the bench."""

from __future__ import annotations

import re
import tomllib

from ..errors import Refusal, short

# What the TOML parser says, and how to say it at the bench.
_BROKEN = (
    (r"Unclosed array", "a comma or a closing ] is missing before this place", "lists look like [[0, 5.2], [30, 6]]"),
    (r"string|Illegal", "text is not closed on its line", 'text looks like "back D", in quotation marks on one line'),
    (r"Cannot declare|redefine", "this table is started a second time", "each may be started once, except [[hole]]"),
    (r"overwrite|mutate|Duplicate", "this name is given a second time", "each may stand once in its table"),
    (r"'='", "there is no = after the name", "lines look like name = value"),
    (r"table declaration|array declaration", "a closing bracket is missing", "tables look like [bore] or [[hole]]"),
)


def _unreadable(source: str, message: str) -> Refusal:
    """The `Refusal` for text that is not TOML, with the line."""
    lines = source.rstrip("\n").split("\n")
    place = re.search(r"at line (\d+), column (\d+)\)$", message)
    line = min(int(place[1]), len(lines)) if place else len(lines)
    if not place:
        allowed = "every list needs its closing ] and every text its closing quotation mark"
        return Refusal("the file ends too early", allowed, f"line {line}")
    where = f"line {line}, column {place[2]}"
    if re.search(r"^[^#\"']*=[^#\"',]*\d,\d+\s*(#.*)?$", lines[line - 1]):
        return Refusal("a decimal comma stands there", "decimals are written with a point", where)
    if "Invalid value" in message and re.match(r"\s*\[", lines[line - 1]):
        message = "Unclosed array"
    for pattern, what, allowed in _BROKEN:
        if re.search(pattern, message):
            return Refusal(what, allowed, where)
    allowed = 'lines like foot_mm = 4.5, name = "back D", [bore] or [[hole]] are allowed'
    return Refusal(f"{short(lines[line - 1].strip())} cannot be understood", allowed, where)


def check_form(given: dict, form: str, version: int) -> None:
    """Refuse tables of another form or version."""
    found = given.get("form")
    if found != form:
        what = "it is missing" if found is None else f"{short(found)} is not a {form}"
        raise Refusal(what, f'form = "{form}" is needed', "form")
    found = given.get("version")
    if type(found) is not int or found != version:
        what = "it is missing" if found is None else f"{short(found)} is not a known version"
        raise Refusal(what, f"version = {version}, a whole number, is needed", "version")


def parsed(source: str) -> dict:
    """The tables of a TOML text, or a `Refusal` with the line."""
    try:
        return tomllib.loads(source)
    except tomllib.TOMLDecodeError as error:
        raise _unreadable(source, str(error)) from None
    except RecursionError:
        raise Refusal("there are brackets within brackets without end", "two deep is enough", "lists") from None
    except ValueError:
        raise Refusal("a number there has thousands of digits", "numbers of up to 17 digits are enough") from None
