"""Everything a maker can turn, one dial per dimension, with the limits of a workshop."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from ..errors import Refusal, check_kind
from ..pipes.holes import Key
from .scales import Scale
from .setup import Setup

GROUPS = ("reed", "staple", "bore", "holes", "foot", "air")


@dataclass(frozen=True)
class Dial:
    """One dimension of a setup.

    Parameters
    ----------
    group : str
        One of `GROUPS`, in the order in which the air meets them.
    label, unit : str
        As a maker says it.
    low, high, step : float
        Limits of the workshop (common practice, no source) and the finest useful step.
    read : callable
        Setup -> value.
    turn : callable
        (Setup, value) -> Setup.
    where : (part, field), optional
        Of a dial that only sets one field of the setup (part ""), of its reed or staple, or of a hole
        (its name): several such dials are turned in one go.
    exact : callable, optional
        Setup -> value of the pipe with its changes, unrounded, where `read` gives that of the base, rounded.
    """

    group: str
    label: str
    unit: str
    low: float
    high: float
    step: float
    read: Callable[[Setup], float]
    turn: Callable[[Setup, float], Setup]
    where: tuple[str, str] | None = None
    exact: Callable[[Setup], float] | None = None

    @property
    def name(self) -> str:
        """Label with unit, for a slider."""
        return f"{self.label}, {self.unit}" if self.unit else self.label

    @property
    def decimals(self) -> int:
        """Digits after the point that the step needs."""
        return len(f"{self.step:.6f}".rstrip("0").split(".")[1])


def _part(group: str, part: str, field: str, label: str, unit: str, low: float, high: float, step: float) -> Dial:
    def read(setup):
        value = getattr(getattr(setup.base, part), field)
        if value is None:
            raise Refusal(f"the {part} has none", f"a {part} whose file gives {field} is needed", label)
        return value

    def turn(setup, value):
        changed = replace(getattr(setup.base, part), **{field: value})
        return replace(setup, base=replace(setup.base, **{part: changed}))

    return Dial(group, label, unit, low, high, step, read, turn, (part, field))


def _own(group: str, field: str, label: str, unit: str, low: float, high: float, step: float) -> Dial:
    def turn(setup, value):
        return replace(setup, **{field: value})

    return Dial(group, label, unit, low, high, step, lambda setup: getattr(setup, field), turn, ("", field))


def _air(field: str, label: str, unit: str, low: float, high: float, step: float, scale: float = 1.0) -> Dial:
    def turn(setup, value):
        return replace(setup, air=replace(setup.air, **{field: value / scale}))

    def read(setup):
        return round(getattr(setup.air, field) * scale, 9)

    return Dial("air", label, unit, low, high, step, read, turn)


def _a_hz() -> Dial:
    def turn(setup, value):
        old = setup.scale
        return replace(setup, scale=Scale(old.name, old.ratios, value, old.key))

    return Dial("air", "A of the tuning fork", "Hz", 425.0, 460.0, 0.5, lambda setup: setup.scale.a_hz, turn)


DIALS: dict[str, Dial] = {
    "reed length": _part("reed", "reed", "length_mm", "head, eye to lips", "mm", 22.0, 36.0, 0.5),
    "reed area": _part("reed", "reed", "area_mm2", "air between the blades", "mm²", 6.0, 16.0, 0.1),
    "softness": _part("reed", "reed", "softness", "softness of the blades (0 stiff)", "", 0.0, 1.5, 0.01),
    "blades": _part("reed", "reed", "resonance_hz", "the blades' own note", "Hz", 1000.0, 2200.0, 10.0),
    "staple length": _part("staple", "staple", "length_mm", "staple length", "mm", 44.0, 62.0, 0.5),
    "staple tip": _part("staple", "staple", "tip_mm", "rolled inside at the eye", "mm", 2.6, 5.0, 0.05),
    "eye": _part("staple", "staple", "eye_opening_mm", "eye pressed to", "mm", 1.2, 2.4, 0.05),
    "staple foot": _part("staple", "staple", "foot_mm", "inside at the foot", "mm", 3.6, 5.0, 0.05),
    "insertion": _part("staple", "staple", "insertion_mm", "depth in the wood", "mm", 8.0, 22.0, 0.5),
    "throat": _own("bore", "throat_wider_mm", "throat wider by", "mm", -0.5, 0.5, 0.02),
    "taper": _own("bore", "foot_wider_mm", "foot wider by (reamer)", "mm", -1.5, 1.5, 0.05),
    "patch at": _own("bore", "patch_at_mm", "patch, middle at", "mm", 30.0, 340.0, 5.0),
    "patch length": _own("bore", "patch_length_mm", "patch, length", "mm", 10.0, 120.0, 5.0),
    "patch depth": _own("bore", "patch_depth_mm", "patch, wider by", "mm", -0.6, 0.6, 0.02),
    "rush": _own("bore", "rush_mm", "rush, wire", "mm", 0.0, 3.0, 0.1),
    "rush length": _own("bore", "rush_length_mm", "rush, up from the foot", "mm", 0.0, 200.0, 5.0),
    "gap": _own("foot", "gap_mm", "foot off the knee by", "mm", 0.0, 12.0, 1.5),
    "temperature": _air("temperature_c", "temperature", "°C", 5.0, 30.0, 1.0),
    "humidity": _air("relative_humidity", "humidity", "%", 0.0, 100.0, 5.0, 100.0),
    "a": _a_hz(),
}


def _hole(setup: Setup, name: str, field: str, label: str, low: float, high: float, step: float) -> Dial:
    def read(setup):
        return getattr(setup.base.hole(name), field)

    def turn(setup, value):
        holes = tuple(replace(h, **{field: value}) if h.name == name else h for h in setup.base.holes)
        return replace(setup, base=replace(setup.base, holes=holes))

    read(setup)
    return Dial("holes", f"{name}: {label}", "mm", low, high, step, read, turn, (name, field))


def _wall(setup: Setup, name: str) -> Dial:
    at = {side.name: side.wall_mm for side in setup.base.side_holes}[name]

    def exact(setup):
        return {side.name: side.wall_mm for side in setup.pipe.side_holes}[name]

    def read(setup):
        return setup.base.hole(name).depth_mm or round({s.name: s.wall_mm for s in setup.base.side_holes}[name], 2)

    made = _hole(setup, name, "depth_mm", "wall", max(0.5, round(at - 3.0, 1)), round(at + 3.0, 1), 0.1)
    given = setup.base.hole(name).depth_mm

    def turn(setup, value):
        as_given = made.turn(setup, given)
        return as_given if read(as_given) == value else made.turn(setup, value)

    return replace(made, read=read, turn=turn, where=None, exact=exact)


def _undercut(setup: Setup, name: str) -> Dial:
    def read(setup):
        hole = setup.base.hole(name)
        return round((hole.undercut_diameter_mm or hole.round_mm) - hole.round_mm, 9)

    def turn(setup, value):
        hole = setup.base.hole(name)
        wall = {side.name: side.wall_mm for side in setup.base.side_holes}[name]
        wide = hole.round_mm + value if value > 0.0 else None
        deep = (given or round(wall / 2.0, 2)) if value > 0.0 else None
        cut = replace(hole, undercut_diameter_mm=wide, undercut_depth_mm=deep)
        return replace(
            setup, base=replace(setup.base, holes=tuple(cut if h.name == name else h for h in setup.base.holes))
        )

    hole = setup.base.hole(name)
    given = hole.undercut_depth_mm
    bore = float(setup.base.bore.diameter_mm(hole.position_mm))
    most = round(min(3.0, int(10.0 * (bore - hole.round_mm)) / 10.0 - 0.1), 1)
    return Dial("holes", f"{name}: undercut wider by", "mm", 0.0, max(most, 0.1), 0.1, read, turn)


def _tape(name: str) -> Dial:
    def turn(setup, value):
        others = tuple(pair for pair in setup.taped if pair[0] != name)
        return replace(setup, taped=others if value >= 100.0 else (*others, (name, value / 100.0)))

    def read(setup):
        return round(100.0 * dict(setup.taped).get(name, 1.0), 9)

    return Dial("holes", f"{name}: left open by the tape", "%", 10.0, 100.0, 5.0, read, turn)


def hole_dials(setup: Setup, name: str) -> dict[str, Dial]:
    """The dials of one hole or key; their limits keep it where it can be drilled.

    What lies outside of a key's hole, its passage and pad, is left as it is: a wider hole needs a wider passage.

    Parameters
    ----------
    setup : Setup
    name : str
        Of the hole.

    Returns
    -------
    {"position", "size", "undercut" or "lift", "wall", "tape": Dial}

    Raises
    ------
    Refusal
        No setup, no hole of that name, or an oval one.
    """
    check_kind("setup", setup, Setup, "a Setup")
    hole = setup.base.hole(name)
    bore = float(setup.base.bore.diameter_mm(hole.position_mm))
    low, high = round(hole.position_mm - 6.0, 1), round(hole.position_mm + 6.0, 1)
    dials = {"position": _hole(setup, name, "position_mm", "middle at", low, high, 0.5)}
    if isinstance(hole, Key):
        widest = min(int(20.0 * bore) / 20.0 - 0.1, hole.pad_diameter_mm - 0.5)
        dials["size"] = _hole(setup, name, "diameter_mm", "size", 3.0, widest, 0.05)
        dials["lift"] = _hole(setup, name, "lift_mm", "pad lifted by", 0.3, 5.0, 0.1)
    else:
        if isinstance(hole.diameter_mm, tuple):
            raise Refusal(f'"{name}" is oval', "a round hole is needed to be turned, name another", "hole")
        widest = int(20.0 * (bore - 0.1)) / 20.0
        dials["size"] = _hole(setup, name, "diameter_mm", "size", 3.0, widest, 0.05)
        dials["undercut"] = _undercut(setup, name)
    dials["wall"] = _wall(setup, name)
    dials["tape"] = _tape(name)
    return dials
