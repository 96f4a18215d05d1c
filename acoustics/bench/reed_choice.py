"""Which reed suits a chanter: reed cards ranked by the model, the staple as deep as suits each."""

from __future__ import annotations

import warnings
from dataclasses import dataclass, replace
from html import escape

import numpy as np

from ..errors import Refusal, check_kind
from ..tuning.dials import DIALS
from ..tuning.free import derivative
from ..tuning.setup import Setup
from ..tuning.tangent import Tangent
from ..validity import OutsideRange
from .faults import causes
from .reed_card import KnownTo, ReedCard


@dataclass(frozen=True)
class Suited:
    """How well one reed suits a chanter.

    Parameters
    ----------
    card : ReedCard
    setup : Setup
        The chanter with this reed, its staple as deep as suits best.
    rms_cents, error_cents : float
        Over both octaves, and how far the card's own errors leave that open; nan where it gives none.
    worst, worst_cents : str, float
        The note farthest off.
    """

    card: ReedCard
    setup: Setup
    rms_cents: float
    error_cents: float
    worst: str
    worst_cents: float


@dataclass(frozen=True, repr=False)
class Suiting:
    """Reeds in order, the best first.  Shows itself as a table in a notebook.

    Parameters
    ----------
    reeds : tuple of Suited
    refused : tuple of (name, reason)
        Cards that fit the chanter at no depth.
    """

    reeds: tuple[Suited, ...]
    refused: tuple[tuple[str, str], ...] = ()

    @property
    def said(self) -> str:
        """In plain sentences, one line each."""
        out = []
        for i, one in enumerate(self.reeds, 1):
            deep, rms = one.setup.base.staple.insertion_mm, f"{one.rms_cents:.1f}"
            rms += f" ± {one.error_cents:.1f}" if np.isfinite(one.error_cents) else ""
            worst = f"farthest off {one.worst}, {one.worst_cents:+.0f}"
            out.append(f"{i}. {one.card.name}, staple {deep:.1f} mm deep: {rms} cents rms; {worst}.")
        out += [f"{name} does not fit: {reason}" for name, reason in self.refused]
        if len(self.reeds) > 1:
            out += _told_apart(*self.reeds[:2])
        return "\n".join(out)

    def __repr__(self) -> str:
        return self.said

    def _repr_html_(self) -> str:
        return "".join(f"<p style='max-width:48em'>{escape(line)}</p>" for line in self.said.splitlines())


def _told_apart(first: Suited, second: Suited) -> list[str]:
    """What to say of the two best, where they may as well stand the other way round."""
    loose = [one.card.name for one in (first, second) if not np.isfinite(one.error_cents)]
    if loose:
        lead = "Neither the card of {} nor that of {} says" if len(loose) == 2 else "The card of {} does not say"
        return [f"{lead.format(*loose)} how well its reed is known: the first two are not told apart, play both."]
    if second.rms_cents - first.rms_cents < np.hypot(first.error_cents, second.error_cents):
        return ["The first two are not told apart by what their cards know: play both."]
    return []


def which_reed_suits(setup: Setup, cards) -> Suiting:
    """Reeds ranked by their distance from the scale in both octaves, each with its staple as deep as suits it.

    Parameters
    ----------
    setup : Setup
        The chanter; air and scale are its own.
    cards : sequence of ReedCard

    Raises
    ------
    Refusal
        No setup, or something that is no reed card.

    Notes
    -----
    Depths are those of the workshop's dial, in its steps.  Errors follow from the card's, to first order; a
    number whose error the card leaves out counts as off by what is usual (`faults.causes`), and a correlation that it
    leaves out as 0.  A card holds none of the blades' own note with the others; they count as free of each other.
    """
    check_kind("setup", setup, Setup, "a Setup")
    found, refused = [], []
    for i, card in enumerate(cards := tuple(cards), 1):
        check_kind(f"cards {i}", card, ReedCard, "a ReedCard, as read_reed_card gives it,")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", OutsideRange)
        for card in cards:
            try:
                found.append(_suited(setup, card))
            except Refusal as refusal:
                refused.append((card.name, str(refusal)))
    return Suiting(tuple(sorted(found, key=lambda one: one.rms_cents)), tuple(refused))


def _suited(setup: Setup, card: ReedCard) -> Suited:
    dial = DIALS["insertion"]
    base = replace(setup.base, reed=card.reed, staple=card.staple or setup.base.staple)
    tried, said = [], None
    for depth in np.arange(dial.low, dial.high + 0.5 * dial.step, dial.step):
        try:
            other = dial.turn(replace(setup, base=base), float(depth))
            tried.append((_rms(other.chart.cents), other))
        except Refusal as refusal:
            said = refusal
    if not tried:
        raise said
    rms, best = min(tried, key=lambda pair: pair[0])
    cents, titles = best.chart.cents, [row.title for row in best.chart.rows]
    if np.all(np.isnan(cents)):
        raise Refusal("no note sounds with it", "a reed that sounds in this chanter is needed", card.name)
    worst = int(np.nanargmax(np.abs(cents)))
    error, afresh = _error(best, card.known_to, rms), replace(best)  # whose chart is still to be made, so that it warns
    return Suited(card, afresh, rms, error, titles[worst], float(cents[worst]))


def _rms(cents) -> float:
    """A note that does not sound counts as a fourth off."""
    return float(np.sqrt(np.mean(np.nan_to_num(cents, nan=500.0) ** 2)))


def _error(setup: Setup, known_to: KnownTo, rms: float) -> float:
    """First-order standard deviation of the rms [cents]."""
    if known_to == KnownTo():
        return float("nan")
    named = {"reed length": known_to.length_mm, "softness": known_to.softness, "blades": known_to.resonance_hz}
    usual = {cause.name: cause.usual for cause in causes(setup)}
    cents, tangent = np.nan_to_num(setup.chart.cents), Tangent(setup)
    slopes = [float(np.mean(cents * np.nan_to_num(derivative(tangent, DIALS[name])))) for name in named]
    errors = np.array([usual[name] if error is None else error for name, error in named.items()])
    long, soft, blades = errors * slopes / max(rms, 1e-9)
    together = 2.0 * (known_to.correlation or 0.0) * long * soft
    return float(np.sqrt(max(long**2 + soft**2 + together + blades**2, 0.0)))
