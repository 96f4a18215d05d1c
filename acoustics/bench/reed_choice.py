"""Which reed suits a chanter: reed cards ranked by the model, the staple as deep as suits each."""

from __future__ import annotations

import warnings
from collections.abc import Iterable
from dataclasses import dataclass, replace
from html import escape

import numpy as np

from ..errors import Refusal, check_kind, short
from ..tuning.dials import DIALS
from ..tuning.free import derivative
from ..tuning.pull import Played
from ..tuning.setup import Setup
from ..tuning.tangent import Tangent
from ..validity import OutsideRange
from .expected import Expected
from .faults import causes
from .reed_card import KnownTo, ReedCard

FAR_OFF = 100.0  # cents rms, beyond which no reed is meant for a chanter; a choice, no source


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
    silent : tuple of str
        Notes as played of which no tone lasts: they count with the pull of their octave.
    """

    card: ReedCard
    setup: Setup
    rms_cents: float
    error_cents: float
    worst: str
    worst_cents: float
    silent: tuple[str, ...] = ()


@dataclass(frozen=True, repr=False)
class Suiting:
    """Reeds in order, the best first.  Shows itself as a table in a notebook.

    Parameters
    ----------
    reeds : tuple of Suited
    refused : tuple of (name, reason)
        Cards that suit the chanter at no depth.
    blown : str
        In words, how the notes are blown; "" for resonances.
    """

    reeds: tuple[Suited, ...]
    refused: tuple[tuple[str, str], ...] = ()
    blown: str = ""

    @property
    def said(self) -> str:
        """In plain sentences, one line each."""
        out = []
        for i, one in enumerate(self.reeds, 1):
            deep, rms = one.setup.base.staple.insertion_mm, f"{one.rms_cents:.1f}"
            rms += f" ± {one.error_cents:.1f}" if np.isfinite(one.error_cents) else ""
            worst = f"farthest off {one.worst}, {one.worst_cents:+.0f}"
            worst += f"; notes that do not last: {len(one.silent)}" if one.silent else ""
            out.append(f"{i}. {one.card.name}, staple {deep:.1f} mm deep: {rms} cents rms; {worst}.")
        out += [f"{name} does not suit: {reason}" for name, reason in self.refused]
        if len(self.reeds) > 1:
            out += _told_apart(*self.reeds[:2])
        if self.blown:
            out.append(f"Taken {self.blown}, every reed with the same slit and strength.")
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


def which_reed_suits(setup: Setup, cards, pitch: Played | None = None) -> Suiting:
    """Reeds ranked by their distance from the scale in both octaves, each with its staple as deep as suits it.

    Parameters
    ----------
    setup : Setup
        The chanter; air and scale are its own.
    cards : sequence of ReedCard
    pitch : Played, optional
        How the notes are blown (see `Expected`), and the lips, the same for every reed; None takes the notes as
        resonances.

    Raises
    ------
    Refusal
        No setup, no cards, something that is no reed card, two cards of one name, or a pitch of another kind.

    Notes
    -----
    Depths are those of the workshop's dial, in its steps.  Errors follow from the card's, to first order; a
    number whose error the card leaves out counts as off by what is usual (`faults.causes`), and a correlation that it
    leaves out as 0.  A card holds none of the blades' own note with the others; they count as free of each other.
    Notes as played are heard with the staple as deep as suits the resonances; from there the pull follows the depth
    along a straight line, and each tone to the depth chosen.
    """
    check_kind("setup", setup, Setup, "a Setup")
    found, refused, blown = [], [], Expected(setup, pitch).blown
    cards = _checked(cards)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", OutsideRange)
        for card in cards:
            try:
                found.append(_suited(setup, card, pitch))
            except Refusal as refusal:
                refused.append((card.name, str(refusal)))
    ranked = tuple(sorted(found, key=lambda one: one.rms_cents))
    return Suiting(ranked, tuple(refused), blown)


def _checked(cards) -> tuple[ReedCard, ...]:
    if isinstance(cards, ReedCard | str) or not isinstance(cards, Iterable) or not (cards := tuple(cards)):
        needed = "a list of at least one ReedCard, as read_reed_card gives it, is needed"
        raise Refusal(f"{short(cards)} stands there", needed, "cards")
    names = []
    for i, card in enumerate(cards, 1):
        check_kind(f"cards {i}", card, ReedCard, "a ReedCard, as read_reed_card gives it,")
        if card.name in names:
            said = f"it has the name of card {names.index(card.name) + 1}, {short(card.name)}"
            raise Refusal(said, "each reed needs a name of its own", f"cards {i}")
        names.append(card.name)
    return cards


def _suited(setup: Setup, card: ReedCard, pitch: Played | None) -> Suited:
    dial = DIALS["insertion"]
    base = replace(setup.base, reed=card.reed, staple=card.staple or setup.base.staple)
    tried, said = [], None
    for depth in np.arange(dial.low, dial.high + 0.5 * dial.step, dial.step):
        try:
            other = dial.turn(replace(setup, base=base), float(depth))
            tried.append((other, other.chart.cents))
        except Refusal as refusal:
            said = refusal
    if not tried:
        raise said
    soft, heard = min(tried, key=lambda pair: _rms(pair[1]))
    if np.all(np.isnan(heard)):
        raise Refusal("no note sounds with it", "a reed that sounds in this chanter is needed")
    if (rms := _rms(heard)) > FAR_OFF:
        said = f"at the best depth, {dial.read(soft):g} mm, its notes lie {rms:.0f} cents (rms) off"
        raise Refusal(said, "a reed for such a chanter, its length in mm, is needed")
    expected, titles = Expected(soft, pitch), [row.title for row in soft.chart.rows]
    pull = np.nan_to_num(expected.slope(dial) - derivative(Tangent(soft), dial))  # for each mm, beside the resonance

    def reckoned(pair) -> float:
        other, cents = pair
        return _rms(cents + expected.pull + pull * (dial.read(other) - dial.read(soft)))

    best, _ = min(tried, key=reckoned)
    cents = expected.cents + expected.moved(best)
    rms, worst = _rms(cents), int(np.nanargmax(np.abs(cents)))
    silent = tuple(title for title, unsure in zip(titles, expected.unsure, strict=True) if unsure > 0.0)
    afresh = replace(best)  # whose chart is still to be made, so that it warns
    return Suited(card, afresh, rms, _error(expected, cents, card.known_to), titles[worst], float(cents[worst]), silent)


def _rms(cents) -> float:
    """A note that does not sound counts as a fourth off."""
    return float(np.sqrt(np.mean(np.nan_to_num(cents, nan=500.0) ** 2)))


def _error(expected: Expected, cents, known_to: KnownTo) -> float:
    """First-order standard deviation of the rms [cents]."""
    if known_to == KnownTo():
        return float("nan")
    named = {"reed length": known_to.length_mm, "softness": known_to.softness, "blades": known_to.resonance_hz}
    usual = {cause.name: cause.usual for cause in causes(expected.setup)}
    share = np.nan_to_num(cents) / len(cents) / max(_rms(cents), 1e-9)
    slopes = np.array([share @ np.nan_to_num(expected.slope(DIALS[name])) for name in named])
    errors = np.array([usual[name] if error is None else error for name, error in named.items()])
    long, soft, blades = errors * slopes
    together = 2.0 * (known_to.correlation or 0.0) * long * soft
    pulled = np.sum((share * expected.unsure) ** 2)
    return float(np.sqrt(max(long**2 + soft**2 + together + blades**2, 0.0) + pulled))
