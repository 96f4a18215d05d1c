"""A pipe and its fingerings become an impedance: slices, holes and ends put together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import Refusal
from ..pipes.fingering import foot_state, open_shares
from ..pipes.path import Path, Pipe, check_pipe
from ..units import MM
from ..validity import Range
from .air import Air, Gas, as_gas
from .bends import TURN_KA, along
from .ducts import GAUSS, SLICE_MM, Slices
from .profile import check_profile
from .radiation import MOUTH_KA, foot_impedance
from .spectral import Direct, Spectrum, sampled
from .steps import gap_relief, step_inertance
from .toneholes import Holes, arrange, hole_twoports
from .twoport import apply, cascade, fold

PLANE_WAVES = Range("a column of plane waves", "k times the bore's radius", 0.0, 1.84, "cross mode, Rayleigh 1896")
FEWEST, WAVE_NODES = 22, 5.0
_HAIR_MM = 1e-9


def slice_path(path: Path, cuts_mm, slice_mm: float = SLICE_MM, pieces=None) -> Slices:
    """Cut a path into short ducts, one run between each two cuts.

    Parameters
    ----------
    path : Path
    cuts_mm : sequence of float
        Increasing distances along the path at which the runs part, inside its ends.
    slice_mm : float
        No slice is longer.
    pieces : int array, optional
        How many slices each stretch between two edges or cuts gets, instead of by `slice_mm`.

    Returns
    -------
    Slices
        len(cuts_mm) + 1 runs; two cuts in one place have an empty duct between them.
    """
    edges = np.sort(np.concatenate([path.edges_mm, cuts_mm]))
    span = np.diff(edges)
    if pieces is None:
        pieces = pieces_of(edges, cuts_mm, slice_mm)
    length = np.repeat(span / np.maximum(pieces, 1), pieces)
    number = np.arange(pieces.sum()) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    start = np.repeat(edges[:-1], pieces) + number * length
    points = start + length * GAUSS
    inner = np.array(path.edges_mm[1:-1])
    inner = inner[(inner > 2.0 * _HAIR_MM) & (inner < path.edges_mm[-1] - 2.0 * _HAIR_MM)]
    area, perimeter = path.cross_section(np.concatenate([points.ravel(), inner - _HAIR_MM, inner + _HAIR_MM]))
    n, m = points.size, len(inner)
    jump = step_inertance(area[n : n + m] * MM**2, area[n + m :] * MM**2)
    step = np.zeros(len(length))
    for at, inertance in zip(inner[jump > 0.0], jump[jump > 0.0], strict=True):
        step[np.searchsorted(start, at - _HAIR_MM)] = inertance
    cuts = np.asarray(cuts_mm, float)
    twin = np.arange(len(cuts)) - np.searchsorted(cuts, cuts)
    before = np.concatenate([[0], np.cumsum(pieces)])
    counts = np.diff(np.concatenate([[0], before[np.searchsorted(edges, cuts) + twin], [len(start)]]))
    area, perimeter, turned = area[:n].reshape(2, -1) * MM**2, perimeter[:n].reshape(2, -1) * MM, None
    if path.turns:
        turned, joints = along(path.turns, start + 0.5 * length, area[0])
        step += joints
    if path.gaps_mm:
        step += gap_relief(path.gaps_mm, start + 0.5 * length, length * MM, area[0])
    return Slices(length * MM, area, perimeter, step, counts, turned)


def pieces_of(edges, cuts_mm, slice_mm: float):
    """How many slices no longer than `slice_mm` each stretch between sorted edges gets, int array."""
    span = np.diff(edges)
    pieces = np.maximum(np.ceil(span / slice_mm - 1e-9), 1).astype(int)
    pieces[(span < 1e-9) & ~np.isin(edges[:-1], cuts_mm)] = 0
    return pieces


class Unlike(ValueError):
    """Two pipes that cannot be compared slice by slice."""


@dataclass(frozen=True)
class Column:
    """The air column of a pipe, ready for any air, frequency and fingering."""

    bore: Slices
    holes: Holes | None
    slices: Slices
    foot_radii: tuple[float, float]
    pieces: np.ndarray


def column(pipe: Pipe, slice_mm: float = SLICE_MM, like: Column | None = None) -> Column:
    """Slices and holes of a pipe; warns where a cone or a hole lies outside its formulas' range.

    With `like` the stretches are cut into as many slices as there, so that the two can be compared
    slice by slice; `Unlike` when the pipes do not have the same stretches and holes between them.
    """
    holes = arrange(pipe.side_holes) if pipe.side_holes else None
    if like is None:
        check_profile(pipe.path, holes)
    cuts = holes.place / MM if holes else np.empty(0)
    edges = np.sort(np.concatenate([pipe.path.edges_mm, cuts]))
    pieces = pieces_of(edges, cuts, slice_mm) if like is None else like.pieces
    bore = slice_path(pipe.path, cuts, slice_mm, pieces) if like is None else recut(pipe.path, cuts, like)
    radii = (pipe.foot.bore_mm / 2.0 * MM, pipe.foot.outer_mm / 2.0 * MM)
    return Column(bore, holes, bore.joined(holes.chimneys) if holes else bore, radii, pieces)


def recut(path: Path, cuts_mm, like: Column) -> Slices:
    """A path cut into as many slices as the bore of `like`, or `Unlike` (see `column`)."""
    if len(like.pieces) != len(path.edges_mm) + len(cuts_mm) - 1:
        raise Unlike("the pipes do not have the same stretches")
    bore = slice_path(path, cuts_mm, pieces=like.pieces)
    if not np.array_equal(bore.counts, like.bore.counts):
        raise Unlike("a hole has passed a station")
    return bore


@dataclass(frozen=True)
class States:
    """Every state of hole and foot that a list of patterns needs, and which pattern takes which.

    Parameters
    ----------
    hole, share : arrays (states,)
    feet : tuple of "open", "shut" or gap in mm
    hole_of : int array (patterns, holes)
        Index into the states.
    foot_of : int array (patterns,)
    """

    hole: np.ndarray
    share: np.ndarray
    feet: tuple[str | float, ...]
    hole_of: np.ndarray
    foot_of: np.ndarray


def states(column: Column, patterns) -> States:
    """Collect the states of (open_holes, foot) patterns, or a `Refusal` for an unknown hole."""
    names = column.holes.names if column.holes else ()
    shares = np.zeros((len(patterns), len(names)))
    for row, (open_holes, _) in enumerate(patterns):
        for name, share in open_holes:
            if name not in names:
                allowed = f"one of {', '.join(names)} is allowed" if names else "this pipe has no holes"
                raise Refusal(f'there is no hole called "{name}"', allowed, "open holes")
            shares[row, names.index(name)] = share
    index = np.broadcast_to(np.arange(len(names)), shares.shape)
    pairs, inverse = np.unique(np.stack([index.ravel(), shares.ravel()]), axis=1, return_inverse=True)
    feet = tuple(dict.fromkeys(foot for _, foot in patterns))
    foot_of = np.array([feet.index(foot) for _, foot in patterns])
    return States(pairs[0].astype(int), pairs[1], feet, inverse.reshape(shares.shape), foot_of)


def foot_state_vector(column: Column, foot, omega, gas: Gas):
    """(p, U) at the foot, up to a factor: array (2, f)."""
    if foot == "shut":
        return np.array([np.ones_like(omega, complex), np.zeros_like(omega, complex)])
    gap = None if foot == "open" else foot * MM
    return np.array([foot_impedance(*column.foot_radii, omega, gas, gap), np.ones_like(omega, complex)])


def at_eye(column: Column, states: States, frequency, gas: Gas):
    """(p, U) at the eye under every pattern, up to a factor each, from the foot up.

    Parameters
    ----------
    frequency : array (f,) [Hz]

    Returns
    -------
    complex array (2, patterns, f)
    """
    omega = 2.0 * np.pi * frequency
    runs = fold(column.slices.each(omega, gas), column.slices.counts)
    feet = np.stack([foot_state_vector(column, foot, omega, gas) for foot in states.feet], axis=1)
    air = feet[:, states.foot_of]
    if column.holes:
        chimneys = runs[:, :, len(column.holes.names) + 1 :]
        side = hole_twoports(column.holes, states.hole, states.share, chimneys, omega, gas)
        links = cascade(side, runs[:, :, 1 + states.hole])
        for hole in reversed(range(len(column.holes.names))):
            air = apply(links[:, :, states.hole_of[:, hole]], air)
    return apply(runs[:, :, :1], air)


def eye_spectrum(column: Column, states: States, low: float, high: float, gas: Gas) -> Spectrum | Direct:
    """`at_eye` between two frequencies [Hz], as a polynomial: rows are p, then U, of every pattern."""
    points = points_needed(column, high - low, gas)
    return sampled(lambda f: at_eye(column, states, f, gas).reshape(-1, len(f)), low, high, points)


def points_needed(column: Column, width: float, gas: Gas) -> int:
    """How many points a polynomial over a band of this width [Hz] is tried with first."""
    return int(FEWEST + WAVE_NODES * width * column.bore.length.sum() / gas.sound_speed)


def input_impedance(pipe: Pipe, frequency, open_holes=(), foot="open", air: Air | Gas | None = None):
    """Input impedance of a pipe at the eye of the reed's staple, looking down.

    Parameters
    ----------
    pipe : Pipe
        A chanter, or anything that meets the protocol `acoustics.pipes.path.Pipe`.
    frequency : array, above 0 [Hz]
    open_holes : names, or {name: share open}
    foot : "open" (off the knee), "shut" (on it), or a gap in mm
    air : Air or Gas, optional
        20 degrees C and half humid when None.

    Returns
    -------
    complex array, shape of `frequency` [Pa s m-3]

    Raises
    ------
    Refusal
        No pipe, a frequency that is not above 0, a hole that it does not have, or a foot that is none of these.

    Warns
    -----
    OutsideRange
        Where a hole or an end lies outside the range of its published formula, or the highest frequency outside
        that of plane waves, bends or open holes.

    Notes
    -----
    Plane waves only: valid well below the first cross mode (about 15 kHz for a 13 mm bore).  Open
    holes do not hear each other outside the pipe.
    """
    frequency = checked_frequency(frequency)
    check_pipe(pipe)
    built = column(pipe)
    chosen = states(built, [(open_shares(open_holes), foot_state(foot))])
    asked, gas = frequency.ravel(), as_gas(air)
    check_waves(pipe, built, chosen, asked, gas)
    if len(asked) <= 2 * points_needed(built, np.ptp(asked), gas) or asked.max() < 1.001 * asked.min():
        pressure, flow = at_eye(built, chosen, asked, gas)[:, 0]
    else:
        pressure, flow = eye_spectrum(built, chosen, asked.min(), asked.max(), gas).at(asked)
    return (pressure / flow).reshape(frequency.shape)


def check_waves(pipe: Pipe, built: Column, chosen: States, frequency, gas: Gas) -> None:
    """Warn where the highest frequency's waves are too short for bore, bends or open holes."""
    k = 2.0 * np.pi * np.max(frequency) / gas.sound_speed
    PLANE_WAVES.check(k * np.sqrt(built.bore.area.max() / np.pi), "bore")
    TURN_KA.check([k * turn.bore_mm / 2.0 * MM for turn in pipe.path.turns], "turn")
    if built.holes:
        opened = np.unique(chosen.hole[chosen.share > 0.0])
        MOUTH_KA.check(k * built.holes.outlet[opened], [f'hole "{built.holes.names[i]}"' for i in opened])


def checked_frequency(frequency):
    """`frequency` [Hz] as an array of floats, or a `Refusal`."""
    try:
        frequency = np.asarray(frequency, float)
    except (TypeError, ValueError):
        frequency = np.array([])
    if frequency.size == 0 or not np.all(np.isfinite(frequency) & (frequency > 0.0)):
        raise Refusal(
            "a frequency is missing, not finite or not above 0", "numbers above 0 Hz are allowed", "frequency"
        )
    return frequency
