"""Whether a move undoes what is suspected of being off, by the diagnosis or, of the reed, by the fit."""

from __future__ import annotations

from scipy.stats import norm

from ..tuning.setup import Setup
from .faults import REED, Cause, Diagnosis, causes
from .moves import Move
from .reed_fit import ReedFit


class Suspects:
    """What is suspected of being off, and which way: by the diagnosis, or, of the reed, by the fit."""

    def __init__(self, diagnosis: Diagnosis, setup: Setup, fit: ReedFit | None):
        self.found = {cause.name: (cause, chance, off) for cause, chance, off, _ in diagnosis.ranking}
        self.whole = 1.0 - diagnosis.all_well
        self.guess = 1.0 / len(self.found)
        self.fitted = _of_fit(setup, fit)

    def of(self, move: Move) -> tuple[float, float, str]:
        """Chance of what a move undoes, its share among all suspects, and in words; zeros where not suspected.

        Nothing is said of a share below that of a mere guess among all causes.
        A fitted reed is no suspect, and has no share: it may have taken on what is off elsewhere.
        """
        cause, chance, off = self.found.get(move.cause, (None, 0.0, 0.0))
        if _undoes(move, cause, off):
            share = chance / self.whole
            if share < self.guess:
                return chance, share, ""
            return chance, share, f"suspected, {100.0 * share:.0f} chances in 100: {cause.said(off)}"
        cause, off, error = self.fitted.get(move.cause, (None, 0.0, 0.0))
        if _undoes(move, cause, off):
            chance = float(norm.sf(cause.held, off * move.against, error))
            return chance, 0.0, f"by the fit {cause.said(off)}"
        return 0.0, 0.0, ""


def _undoes(move: Move, cause: Cause | None, off: float) -> bool:
    """Whether a dimension is off by more than the workshop holds, and the move takes it back."""
    return cause is not None and off * move.against > cause.held


def _of_fit(setup: Setup, fit: ReedFit | None) -> dict[str, tuple[Cause, float, float]]:
    """How far each of a fitted reed's numbers lies from the setup's own, with its standard error."""
    if fit is None:
        return {}
    known = {cause.name: cause for cause in causes(setup) if cause.name in REED}
    each = zip(fit.names, fit.dials, fit.values, fit.errors, strict=True)
    return {n: (known[n], float(v - dial.read(setup)), float(e)) for n, dial, v, e in each if n in known}
