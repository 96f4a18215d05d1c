"""What one round at the bench adds to the log: readings, what was done before them, and what is foretold."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..errors import Refusal, short
from ..pipes.chanter import Chanter
from ..pipes.design_file import revision
from .actions import Plan
from .entries import Change, Entry, Measurement, Prediction, Result
from .log import Log
from .readings import Readings

AS_IT_IS = "as it is"


def new_records(
    log: Log, design: Chanter, date: str, readings: Readings, plan: Plan, which: int = 1, after: str = ""
) -> tuple[Entry, ...]:
    """Records of a round that the log does not have yet, in the order in which they are to be added.

    Parameters
    ----------
    log : Log
    design : Chanter
        The design file as it is now; records have its name and its revision.
    date : str
        As you write it.
    readings : Readings
        Those with a flag are left out.
    plan : Plan
        Made from these readings.
    which : int
        The suggestion that will be followed, counted from 1; 0 for none.
    after : str
        The action that these readings come after, as its prediction in the log is called; "" for a chanter as it is.

    Returns
    -------
    tuple of Entry
        A measurement, or the change and its result; then the prediction.

    Raises
    ------
    Refusal
        An action that the log has no prediction of, or a suggestion that the plan does not have.
    """
    now, name = revision(design), design.name
    cents = [(r.title, r.cents, r.error_cents) for r in readings.sound]
    made: list[Entry] = [Measurement(date, now, AS_IT_IS, cents, chanter=name)]
    if after:
        change = Change(date, _before(log, after, now), after, now, chanter=name)
        made = [change, Result(date, now, after, cents, chanter=name)]
    if which:
        made.append(replace(_prediction(plan, which, now, date), chanter=name))
    return tuple(entry for entry in made if entry not in log.entries)


def _before(log: Log, action: str, now: str) -> str:
    """The design's revision at the last prediction of an action: one before `now`, where there is any."""
    made = [entry for entry in log.entries if isinstance(entry, Prediction)]
    designs = [entry.design for entry in made if entry.action == action]
    if not designs:
        names = dict.fromkeys(repr(entry.action) for entry in made)
        allowed = f"{' or '.join(names)} is allowed" if made else "a prediction must be written first"
        raise Refusal(f"the log has no prediction called {short(action)}", allowed, "after")
    return ([design for design in designs if design != now] or designs)[-1]


def _prediction(plan: Plan, which: int, design: str, date: str) -> Prediction:
    if type(which) is not int or which not in range(1, len(plan.suggestions) + 1):
        what = f"there is no suggestion {short(which)}"
        raise Refusal(what, f"0 to {len(plan.suggestions)} is allowed", "which")
    chosen = plan.suggestions[which - 1]
    rows = zip(plan.notes, chosen.after, chosen.errors, strict=True)
    rows = [row for row in rows if np.isfinite(row[1])]
    noted = [(note, float(cents), float(error) if np.isfinite(error) else None) for note, cents, error in rows]
    return Prediction(date, design, chosen.move.said(chosen.amount), noted, remark=plan.diagnosis.expected.blown)
