"""Chanters and reeds with known truth, and a tuner's readings of them; for tests only."""

from functools import cache

import numpy as np

from acoustics.bench.actions import Plan
from acoustics.bench.faults import causes
from acoustics.bench.readings import Reading, Readings, place_of
from acoustics.bench.reed_fit import USUAL, ReedFit, fit_reed
from acoustics.physics.rivals import Rival
from acoustics.tuning.dials import DIALS
from acoustics.tuning.free import derivative, turned
from acoustics.tuning.pull import Played
from acoustics.tuning.setup import Setup
from acoustics.tuning.tangent import Tangent
from acoustics.tuning.uncertainty import model_spread
from tests.tuning.bench import bench

# Without keys, back D and back D's own second: D E F# G A B C# in two octaves.
FOURTEEN = (0, 2, 4, 5, 7, 9, 11, 12, 14, 16, 17, 19, 21, 23)

ONE_TONE = range(5, 18)  # G to F of the second octave: rows whose first tone lasts, with the demo's reed or one like it


def read(setup: Setup, error_cents: float, random, rows=None, rival: Rival | None = None) -> Readings:
    """Readings of a pipe's chart, its notes under another published model if wanted, with normal errors."""
    cents = setup.chart.cents if rival is None else model_spread(setup, (rival,)).cents[0]
    rows = range(len(cents)) if rows is None else rows
    noisy = [(setup.chart.rows[i], cents[i] + random.normal(0.0, error_cents)) for i in rows]
    made = tuple(Reading(*place_of(row.fingering), value, error_cents) for row, value in noisy)
    return Readings(made, setup.scale, setup.air.temperature_c)


def read_played(setup: Setup, pitch: Played, error_cents: float, random=None, rows=None) -> Readings:
    """Readings of those notes of a pipe that last, as they are played, with normal errors where there is a source."""
    rows = range(len(setup.chart.rows)) if rows is None else rows
    heard = [one for one in pitch.heard(setup, rows) if one.lasts]
    off = random.normal(0.0, error_cents, len(heard)) if random else np.zeros(len(heard))
    each = zip(heard, off, strict=True)
    made = tuple(Reading(*place_of(one.row.fingering), one.cents + by, error_cents) for one, by in each)
    return Readings(made, setup.scale, setup.air.temperature_c)


def drawn_reed(random) -> tuple[np.ndarray, Setup, Setup]:
    """(softness, blades' note, length) drawn, the chanter with that reed, and one to start a fit from.

    The fit starts from one and the same softness and blades' note, and from what a ruler within 1 mm says.
    """
    true = np.array([random.uniform(0.5, 0.95), random.uniform(1200.0, 1500.0), random.uniform(29.5, 32.5)])
    dials = [DIALS[name] for name in USUAL]
    start = (0.7, 1350.0, true[2] + random.normal(0.0, 1.0))
    first, second = (turned(bench(), dict(zip(dials, values, strict=True))) for values in (true, start))
    return true, first, second


def fitted_reeds(
    count: int, rival: Rival | None = None, models=None, seed: int = 0
) -> tuple[np.ndarray, list[ReedFit]]:
    """True numbers (count, 3) and the fits to 14 readings within 3 cents."""
    random, truth, fits = np.random.default_rng(seed), [], []
    for _ in range(count):
        true, setup, start = drawn_reed(random)
        truth.append(true)
        fits.append(fit_reed(start, read(setup, 3.0, random, FOURTEEN, rival), models=models))
    return np.array(truth), fits


def in_errors(truth: np.ndarray, fits: list[ReedFit]) -> np.ndarray:
    """(fit - truth) / standard error, (count, 3)."""
    return np.array([(fit.values - true) / fit.errors for true, fit in zip(truth, fits, strict=True)])


def covered(truth: np.ndarray, fits: list[ReedFit]) -> np.ndarray:
    """Share of the 95 % intervals that hold the truth, for each number, (3,)."""
    spans = np.array([[fit.interval(name) for name in fit.names] for fit in fits])
    return np.mean((spans[..., 0] <= truth) & (truth <= spans[..., 1]), axis=0)


@cache
def known_causes():
    """{name: Cause} of the demo chanter."""
    return {cause.name: cause for cause in causes(bench())}


# {kind of fault: how far}, in mm and units of softness
KINDS = {
    "size": 0.3, "position": 1.0, "throat": 0.15, "eye": 0.25, "softness": 0.12, "reed length": 1.5, "insertion": 2.0,
}  # fmt: skip


def planted(random, tolerance: float = 0.0) -> tuple[str, float, Setup]:
    """One fault, each kind as likely as the others: its name, by how much, and the chanter with it.

    A hole (keys too) 0.3 mm too large or too small, or 1 mm too high or too low; the throat 0.15 mm over size;
    the eye 0.25 mm too open or too closed; the reed softer or stiffer by 0.12, longer or shorter by 1.5 mm; the
    staple 2 mm too deep or too shallow.  All other dimensions are off by `tolerance` times what the workshop holds.
    """
    kind, sign = tuple(KINDS)[random.integers(len(KINDS))], random.choice([-1.0, 1.0])
    hole = random.choice([hole.name for hole in bench().base.holes])
    by = KINDS[kind] * (1.0 if kind == "throat" else sign)
    name = f"{hole}: {kind}" if kind in ("size", "position") else kind
    off = {}
    for other in known_causes().values():
        own = by if other.name == name else tolerance * random.normal(0.0, other.held)
        if own:
            off[other.dial] = other.dial.read(bench()) + own
    return name, by, turned(bench(), off)


@cache
def plantable() -> tuple[list[str], np.ndarray, np.ndarray]:
    """Every fault that `planted` may draw, way by way: its dimension, its chance, and what it does (faults, rows)."""
    names, chances, moved = [], [], []
    for kind, far in KINDS.items():
        of_kind = [f"{hole.name}: {kind}" for hole in bench().base.holes] if kind in ("size", "position") else [kind]
        ways = (far,) if kind == "throat" else (far, -far)
        for name in of_kind:
            dial = known_causes()[name].dial
            for by in ways:
                names.append(name)
                chances.append(1.0 / len(KINDS) / len(of_kind) / len(ways))
                moved.append(turned(bench(), {dial: dial.read(bench()) + by}).chart.cents - bench().chart.cents)
    return names, np.array(chances), np.array(moved)


def best_possible(error_cents: float, tolerance: float, count: int = 4000, seed: int = 3) -> float:
    """Share of planted faults among the two likeliest for one who knows how `planted` draws them, and how far each is.

    Bayes' rule with the true law of faults, tolerances (to first order) and readings: no list of two suggestions,
    whatever it is made by, can name more.
    """
    _, chances, moved = plantable()
    tangent, random = Tangent(bench()), np.random.default_rng(seed)
    loose = [
        tolerance * cause.held * np.nan_to_num(derivative(tangent, cause.dial)) for cause in known_causes().values()
    ]
    root = np.linalg.cholesky(np.transpose(loose) @ loose + error_cents**2 * np.eye(moved.shape[1]))
    truth = random.choice(len(chances), count, p=chances)
    read_as = moved[truth] + random.normal(size=(count, moved.shape[1])) @ root.T
    far = np.linalg.solve(root, (read_as[:, None] - moved).reshape(-1, len(root)).T).T.reshape(count, *moved.shape)
    likeliest = np.argsort(0.5 * np.sum(far**2, axis=2) - np.log(chances), axis=1)[:, :2]
    return float(np.mean(np.any(likeliest == truth[:, None], axis=1)))


def hit(name: str, by: float, plan: Plan) -> bool:
    """Whether one of the first two suggestions undoes the planted fault.

    The counting rule: a suggestion counts when it touches the planted dimension in the direction that undoes the
    fault.  Tape, wax, undercut and enlarging touch a hole's size; waxing one edge and filing the other its
    position; lining the throat the throat; pressing or opening the eye the eye; the bridle the softness; setting
    the blades on the staple the reed's length; pushing or drawing the staple its insertion.
    """
    return any(one.move.cause == name and one.move.against * by > 0.0 for one in plan.suggestions[:2])
