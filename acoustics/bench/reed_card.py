"""Reed cards: one file (TOML) for each reed.

A card gives the reed with its staple, if it is tied to one of its own, and how well the numbers are known::

    form = "reed card"
    version = 1
    name = "Sallow Ford reed 3"

    [reed]
    length_mm = 31.0
    area_mm2 = 8.5
    softness = 0.73
    resonance_hz = 1300.0
    quality = 20.0

    [known_to]
    length_mm = 0.9
    softness = 0.05
    resonance_hz = 17.0
    correlation = -0.97

``[staple]`` takes the lines of a design file; ``insertion_mm`` in it is where the staple sat last.  ``[known_to]``
gives standard errors and the correlation between those of length and softness; it may be left out.
"""

from __future__ import annotations

import os
from dataclasses import dataclass, field, replace
from math import floor, log10

import tomlkit

from ..errors import Refusal, number, short, text
from ..pipes.design_file import check_names, fill, part_of
from ..pipes.design_words import COMMENTS
from ..pipes.files import read_as, write_text
from ..pipes.reed import Reed
from ..pipes.staple import Staple
from ..pipes.toml import check_form, parsed
from .reed_fit import ReedFit

FORM, VERSION = "reed card", 1
_NAMES = ("form", "version", "name", "remark", "reed", "staple", "known_to")


@dataclass(frozen=True)
class KnownTo:
    """Standard errors of a reed's fitted numbers; None where nothing is said.

    Parameters
    ----------
    length_mm, softness, resonance_hz : float, optional
        Above 0 to 20, 5, 2000.
    correlation : float, optional
        Between the errors of length and softness, -1 to 1.
    """

    length_mm: float | None = None
    softness: float | None = None
    resonance_hz: float | None = None
    correlation: float | None = None

    def __post_init__(self):
        for name, most in (("length_mm", 20.0), ("softness", 5.0), ("resonance_hz", 2000.0)):
            if getattr(self, name) is not None:
                object.__setattr__(self, name, number(name, getattr(self, name), 1e-6, most, ""))
        if self.correlation is not None:
            object.__setattr__(self, "correlation", number("correlation", self.correlation, -1.0, 1.0, ""))


@dataclass(frozen=True)
class ReedCard:
    """One reed of the workshop.

    Parameters
    ----------
    name : str
        One line of at most 80 characters.
    reed : Reed
    staple : Staple, optional
        Its own; None for a reed that is tried on the chanter's staple.
    known_to : KnownTo
    remark : str
        One line of at most 200 characters, may be empty.

    Raises
    ------
    Refusal
        Longer names or remarks, or something else where a part is needed.
    """

    name: str
    reed: Reed
    staple: Staple | None = None
    known_to: KnownTo = field(default_factory=KnownTo)
    remark: str = ""

    def __post_init__(self):
        text("name", self.name)
        if self.remark != "":
            text("remark", self.remark, 200)
        for name, kind in (("reed", Reed), ("known_to", KnownTo)):
            if not isinstance(getattr(self, name), kind):
                raise Refusal(f"{short(getattr(self, name))} stands there", f"a {kind.__name__} is needed", name)
        if self.staple is not None and not isinstance(self.staple, Staple):
            raise Refusal(f"{short(self.staple)} stands there", "a Staple is needed", "staple")


def card_of(fit: ReedFit, name: str, remark: str = "") -> ReedCard:
    """The card of a fitted reed, on the staple that it was played on; numbers rounded as far as they are known.

    Parameters
    ----------
    fit : ReedFit
    name, remark : str
        As for `ReedCard`, and refused as there.
    """
    errors = {name: float(f"{error:.2g}") for name, error in zip(fit.names, fit.errors, strict=True)}
    fields = {"length_mm": "reed length", "softness": "softness", "resonance_hz": "blades"}
    known = {field: errors[name] for field, name in fields.items() if name in errors}
    rounded = {field: round(getattr(fit.reed, field), 2 - floor(log10(error))) for field, error in known.items()}
    if {"length_mm", "softness"} <= set(known):
        i, j = fit.names.index("reed length"), fit.names.index("softness")
        known["correlation"] = round(float(fit.correlations[i, j]), 3)
    return ReedCard(name, replace(fit.reed, **rounded), fit.setup.base.staple, KnownTo(**known), remark)


def card_text(card: ReedCard) -> str:
    """The text of a card's file."""
    if not isinstance(card, ReedCard):
        raise Refusal(f"{short(card)} is not a reed card", "a ReedCard is needed", "card")
    document = tomlkit.document()
    document.add(tomlkit.comment("Lengths and diameters in mm."))
    document["form"], document["version"], document["name"] = FORM, VERSION, card.name
    if card.remark:
        document["remark"] = card.remark
    said = {
        "reed": COMMENTS["reed"],
        "staple": COMMENTS["staple"],
        "known_to": "standard errors; correlation: of length with softness",
    }
    for name, comment in said.items():
        part = getattr(card, name)
        if part is None or part == KnownTo():
            continue
        table = tomlkit.table()
        table.comment(comment)
        fill(table, part, {} if name == "known_to" else COMMENTS)
        document[name] = table
    return tomlkit.dumps(document)


def write_reed_card(card: ReedCard, path: str | os.PathLike, overwrite: bool = False) -> None:
    """Save a card; `read_reed_card` gives back an equal one.

    Parameters
    ----------
    card : ReedCard
    path : str or path
        Usually ending in ``.toml``.
    overwrite : bool
        Whether a file of that name may be replaced.

    Raises
    ------
    Refusal
        Not a card, or the file cannot be saved; an old file stays as it is.
    """
    write_text(path, card_text(card), overwrite)


def read_reed_card(path: str | os.PathLike) -> ReedCard:
    """The reed that a card describes.

    Parameters
    ----------
    path : str or path

    Raises
    ------
    Refusal
        With file and field, or file and line, when anything in it cannot be used.
    """
    return read_as(lambda source: _card(parsed(source)), path)


def _card(given: dict) -> ReedCard:
    check_form(given, FORM, VERSION)
    tables = ("reed", "staple", "known_to")
    check_names(given, {name: f"[{name}]" if name in tables else name for name in _NAMES})
    for name in ("name", "reed"):
        if name not in given:
            raise Refusal("it is missing", f"{'name = ...' if name == 'name' else 'a table [reed]'} is needed", name)
    kinds = {"reed": Reed, "staple": Staple, "known_to": KnownTo}
    parts = {name: part_of(name, kind, given[name]) for name, kind in kinds.items() if name in given}
    return ReedCard(name=given["name"], remark=given.get("remark", ""), **parts)
