"""A full set: chanter, drones and regulators that sound together."""

from __future__ import annotations

from dataclasses import dataclass

from ..errors import Refusal, short, text
from .chanter import Chanter
from .drone import Drone
from .regulator import Regulator

MOST = 8


def is_chanter(pipe: object) -> bool:
    """Whether a pipe is a chanter and not a regulator, which is built like one."""
    return isinstance(pipe, Chanter) and not isinstance(pipe, Regulator)


@dataclass(frozen=True)
class PipeSet:
    """A set, checked as a whole when made.

    Parameters
    ----------
    name : str
    chanter : Chanter
    drones : sequence of Drone
        Up to eight; kept from the highest down.
    regulators : sequence of Regulator
        Up to eight.

    Raises
    ------
    Refusal
        A pipe of another kind, in another key than the chanter, or of a name that another has.
    """

    name: str
    chanter: Chanter
    drones: tuple[Drone, ...] = ()
    regulators: tuple[Regulator, ...] = ()

    def __post_init__(self):
        text("name", self.name)
        if not is_chanter(self.chanter):
            raise Refusal(f"{type(self.chanter).__name__} stands there", "a Chanter is needed", "chanter")
        for field, kind in (("drones", Drone), ("regulators", Regulator)):
            object.__setattr__(self, field, _listed(field, getattr(self, field), kind))
        seen = [self.chanter.name]
        for field in ("drones", "regulators"):
            for i, pipe in enumerate(getattr(self, field), 1):
                self._check(f"{field} {i}", pipe, seen)
                seen.append(pipe.name)
        object.__setattr__(self, "drones", tuple(sorted(self.drones, key=lambda drone: drone.octaves_below)))

    def _check(self, where: str, pipe: Drone | Regulator, seen: list[str]) -> None:
        if pipe.key != self.chanter.key:
            said = f'"{pipe.name}" is in {pipe.key}, the chanter in {self.chanter.key}'
            raise Refusal(said, "all pipes of a set must be in one key", where)
        if pipe.name in seen:
            raise Refusal(f'two pipes are called "{pipe.name}"', "each needs its own name", where)

    @property
    def pipes(self) -> tuple[Chanter | Drone | Regulator, ...]:
        """Chanter, drones, regulators."""
        return (self.chanter, *self.drones, *self.regulators)


def _listed(field: str, given: object, kind: type) -> tuple:
    allowed = f"a list of up to {MOST} of {kind.__name__} is allowed"
    if isinstance(given, (str, bytes, dict)) or not hasattr(given, "__iter__"):
        raise Refusal(f"{short(given)} is not a list", allowed, field)
    given = tuple(given)
    for i, pipe in enumerate(given, 1):
        if not isinstance(pipe, kind):
            raise Refusal(f"{type(pipe).__name__} stands there", allowed, f"{field} {i}")
    if len(given) > MOST:
        raise Refusal(f"the number of pipes is {len(given)}", allowed, field)
    return given
