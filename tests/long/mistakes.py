"""Planted mistakes: a room of the package, what stands there, what is put in its place, and the tests to run.

Each is a mistake that somebody could make: a sign, a factor, a missing correction, millimetres for metres, a radius
for a diameter.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Mistake:
    """`old` must stand exactly once in the room."""

    name: str
    room: str
    old: str
    new: str
    tests: tuple[str, ...]


DUCTS, AIR, STEPS = ("physics/test_ducts.py",), ("physics/test_air.py",), ("physics/test_steps.py",)
ENDS, HOLES, REEDS = ("physics/test_radiation.py",), ("physics/test_toneholes.py",), ("physics/test_reeds.py",)
NETWORK, SECTIONS = ("physics/test_network.py",), ("physics/test_cross_sections.py",)
MODES, SCALES, ADJOINT = ("tuning/test_resonances.py",), ("tuning/test_scales.py",), ("physics/test_adjoint.py",)
PATTERN, DRILLS, EVIDENCE = ("shop/test_staple_pattern.py",), ("shop/test_drills.py",), ("evidence",)
BENDS, VALVE, ONSET = ("physics/test_bends.py",), ("physics/test_valve.py",), ("tuning/test_onset.py",)
DRONES, LOG = ("tuning/test_drones.py",), ("bench/test_log.py",)
GAUGED, REED_FIT, HEARD = ("bench/test_bore_fit.py",), ("bench/test_reed_fit.py",), ("bench/test_heard.py",)
POWER, IN_TIME, ADVICE = ("physics/test_power.py",), ("physics/test_in_time.py",), ("bench/test_actions.py",)
EXPECTED = ("bench/test_expected.py",)
FOLDING, AGREEMENT, PULL = ("shop/test_folding.py",), ("tuning/test_agreement.py",), ("tuning/test_pull.py",)

MISTAKES = (
    Mistake("sign of the losses", "physics/ducts", "np.exp(-0.25j * np.pi)", "np.exp(0.25j * np.pi)", DUCTS),
    Mistake("half the hydraulic radius", "physics/ducts", "x = 2.0 * area / perimeter", "x = area / perimeter", DUCTS),
    Mistake(
        "gamma for gamma - 1", "physics/ducts", "(gas.heat_capacity_ratio - 1.0) *", "gas.heat_capacity_ratio *", DUCTS
    ),
    Mistake("Prandtl number without its root", "physics/ducts", "x * np.sqrt(gas.prandtl)", "x * gas.prandtl", DUCTS),
    Mistake("sign of the taper", "physics/ducts", "(z1 * y2 - z2 * y1)", "(z2 * y1 - z1 * y2)", DUCTS),
    Mistake("series factor of the taper", "physics/ducts", "np.sqrt(3.0) / 12.0", "np.sqrt(3.0) / 6.0", DUCTS),
    Mistake("no heat loss at walls", "physics/ducts", "* thermal)", "* 0.0 * thermal)", DUCTS),
    Mistake("sign of a coefficient of the step", "physics/steps", "0.0809", "-0.0809", STEPS),
    Mistake("step without pi", "physics/steps", "np.pi * fit * narrow_radius", "fit * narrow_radius", STEPS),
    Mistake("no step at all", "physics/steps", "np.where(jump,", "np.where(jump & False,", STEPS),
    Mistake("sign of the vapour", "physics/air", "51.471935", "-51.471935", AIR),
    Mistake("density without vapour", "physics/air", "(1.0 - xv * (1.0 - _MOLAR_WATER / dry))", "1.0", AIR),
    Mistake("Wilke's rule upside down", "physics/air", "ratio**-0.25", "ratio**0.25", AIR),
    Mistake("273 for 273.15", "units", "ZERO_CELSIUS = 273.15", "ZERO_CELSIUS = 273.0", AIR),
    Mistake("radiation into half a space", "physics/radiation", "(4.0 * np.pi * gas", "(2.0 * np.pi * gas", ENDS),
    Mistake("sign of the reflection", "physics/radiation", "reflection = -modulus", "reflection = modulus", ENDS),
    Mistake("sign in the wall of the end", "physics/radiation", "+ 0.057 * ratio", "- 0.057 * ratio", ENDS),
    Mistake("digits of the hole in a body", "physics/radiation", "0.822 - 0.47 *", "0.822 - 0.74 *", ENDS),
    Mistake("power in the pad", "physics/radiation", "/ radius) ** -0.4", "/ radius) ** 0.4", ENDS),
    Mistake(
        "foot without its wall",
        "physics/radiation",
        "thin * end_length_with_wall(bore_radius / outer_radius)",
        "thin * end_length_with_wall(1.0)",
        ENDS,
    ),
    Mistake("twice the matching length", "physics/toneholes", "ratio / 8.0", "ratio / 4.0", HOLES),
    Mistake("sign in the inner length", "physics/toneholes", "-1.566", "1.566", HOLES),
    Mistake(
        "sign of the open series length",
        "physics/toneholes",
        "return -hole_radius * (hole_radius / bore_radius) ** 4 * (0.35",
        "return hole_radius * (hole_radius / bore_radius) ** 4 * (0.35",
        HOLES,
    ),
    Mistake(
        "sign of the shut series length",
        "physics/toneholes",
        "return -hole_radius * (hole_radius / bore_radius) ** 4 * (0.12",
        "return hole_radius * (hole_radius / bore_radius) ** 4 * (0.12",
        HOLES,
    ),
    Mistake(
        "open and shut holes exchanged",
        "physics/toneholes",
        "np.where(shut[:, 0], series_length_shut",
        "np.where(~shut[:, 0], series_length_shut",
        HOLES,
    ),
    Mistake("no inner length", "physics/toneholes", "inner[:, None] * into", "0.0 * into", HOLES),
    Mistake(
        "no undercut at the bore",
        "physics/toneholes",
        "mouth = undercut or hole.round_mm",
        "mouth = hole.round_mm",
        HOLES,
    ),
    Mistake(
        "tilt the wrong way",
        "physics/toneholes",
        "hole.path_mm + hole.bore_mm / 2.0",
        "hole.path_mm - hole.bore_mm / 2.0",
        HOLES,
    ),
    Mistake(
        "diameter of the body for its radius",
        "physics/toneholes",
        "array(side.outer_mm / 2.0",
        "array(side.outer_mm",
        HOLES,
    ),
    Mistake("no duct under the pad", "physics/toneholes", 'getattr(hole, "duct", ())]', "()]", HOLES),
    Mistake("no pad", "physics/toneholes", "length[lifted] += pad_length", "length[lifted] += 0.0 * pad_length", HOLES),
    Mistake(
        "diameter of the foot for its radius",
        "physics/network",
        "pipe.foot.bore_mm / 2.0 * MM",
        "pipe.foot.bore_mm * MM",
        DUCTS,
    ),
    Mistake(
        "millimetres for metres of the foot",
        "physics/network",
        "pipe.foot.outer_mm / 2.0 * MM",
        "pipe.foot.outer_mm / 2.0",
        (*DUCTS, "evidence"),
    ),
    Mistake(
        "sign of the blades' damping",
        "physics/reeds",
        "+ 1j * ratio / reed.quality",
        "- 1j * ratio / reed.quality",
        REEDS,
    ),
    Mistake("blades that do not yield", "physics/reeds", "admittance + yielding", "admittance", REEDS),
    Mistake(
        "square head for a round one", "physics/reeds", "2.0 * np.sqrt(np.pi * area)", "4.0 * np.sqrt(area)", REEDS
    ),
    Mistake(
        "staple on the wrong side of the wood",
        "pipes/chanter",
        "offset = staple.length_mm - staple.insertion_mm",
        "offset = staple.length_mm + staple.insertion_mm",
        NETWORK,
    ),
    Mistake(
        "rush four times as thick",
        "pipes/chanter",
        "np.where(inside, np.pi / 4.0 * rush",
        "np.where(inside, np.pi * rush",
        SECTIONS,
    ),
    Mistake(
        "pressed eye taken as round",
        "pipes/staple",
        "np.pi / 4.0 * short * long",
        "np.pi / 4.0 * short * short",
        SECTIONS,
    ),
    Mistake("A taken for the note above", "tuning/scales", "- 7) / 12.0", "- 9) / 12.0", SCALES),
    Mistake("another tritone", "tuning/scales", '"45/32"', '"64/45"', SCALES),
    Mistake(
        "minima for maxima",
        "tuning/resonances",
        "(imag[:, :-1] < 0.0) & (imag[:, 1:] >= 0.0)",
        "(imag[:, :-1] > 0.0) & (imag[:, 1:] <= 0.0)",
        MODES,
    ),
    Mistake(
        "twelfth for octave", "tuning/resonances", "_nearest_strong(found, 2.0 *", "_nearest_strong(found, 3.0 *", MODES
    ),
    Mistake("half the quality", "tuning/resonances", "quality = 0.5 * slope", "quality = slope", MODES),
    Mistake(
        "sign of the form",
        "physics/adjoint",
        "above[0] * moved[1] - above[1]",
        "above[0] * moved[1] + above[1]",
        ADJOINT,
    ),
    Mistake(
        "cut-off an octave too high",
        "physics/lattice",
        "return sound_speed / (2.0 * np.pi)",
        "return sound_speed / np.pi",
        ("physics/test_lattice.py",),
    ),
    Mistake("holes one place too low", "physics/standing_wave", "sides.get(i - 1, [])", "sides.get(i, [])", NETWORK),
    Mistake(
        "cascade turned round",
        "physics/twoport",
        "return first[:, :1] * second[None, 0] + first[:, 1:] * second[None, 1]",
        "return second[:, :1] * first[None, 0] + second[:, 1:] * first[None, 1]",
        DUCTS,
    ),
    Mistake(
        "wider bore counted half",
        "tuning/perturbation",
        "0.5 * np.pi * (round_mm",
        "0.25 * np.pi * (round_mm",
        ("tuning/test_perturbation.py",),
    ),
    Mistake("pattern opened twice as far", "shop/staple_pattern", "else 180.0 * (self", "else 360.0 * (self", PATTERN),
    Mistake(
        "thickness of the sheet taken off",
        "shop/staple_pattern",
        "(inside_mm + sheet_mm)",
        "(inside_mm - sheet_mm)",
        PATTERN,
    ),
    Mistake("a rounded inch", "units", "INCH_MM = 25.4", "INCH_MM = 25.0", DRILLS),
    Mistake(
        "flat wall for a round body", "physics/radiation", "body_radius) ** 0.8)", "body_radius) ** 8.0)", EVIDENCE
    ),
    Mistake("coefficient of Dubos", "physics/rivals", "-0.193", "0.193", ("physics/test_rivals.py",)),
    Mistake("sign in Keefe's length", "physics/rivals", "1.40 - 0.58", "1.40 + 0.58", ("physics/test_rivals.py",)),
    Mistake("half of the bend's inertance", "physics/bends", "0.5 * (1.0 + np.sqrt(1.0", "(np.sqrt(1.0", BENDS),
    Mistake("sign of the slit's slope", "physics/valve", "lift_slope = -lift", "lift_slope = lift", VALVE),
    Mistake(
        "jet without its 2",
        "physics/valve",
        "np.sqrt(2.0 * self.closing_pressure / gas.density)",
        "np.sqrt(self.closing_pressure / gas.density)",
        VALVE,
    ),
    Mistake(
        "impedance for admittance", "tuning/onset", "threshold(1.0 / mode.strength", "threshold(mode.strength", ONSET
    ),
    Mistake("octaves above", "tuning/drones", "keynote_hz / 2.0**drone", "keynote_hz * 2.0**drone", DRONES),
    Mistake("predicted less came", "bench/history", "self.came - self.predicted", "self.predicted - self.came", LOG),
    Mistake("log written from its start", "bench/log", "os.O_CREAT | os.O_APPEND", "os.O_CREAT", LOG),
    Mistake(
        "depth's error without the slope",
        "bench/bore_fit",
        "(gauging.depth_mm * slope) ** 2",
        "gauging.depth_mm**2",
        GAUGED,
    ),
    Mistake(
        "gauges that went through forgotten", "bench/bore_draws", "0.0 if throat is None else throat[0]", "0.0", GAUGED
    ),
    Mistake(
        "scatter without its freedom",
        "bench/reed_fit",
        "np.count_nonzero(problem.held) - len(free)",
        "np.count_nonzero(problem.held)",
        REED_FIT,
    ),
    Mistake("covariance not widened", "bench/reed_fit", "* max(1.0, scatter) ** 2", "", REED_FIT),
    Mistake(
        "a fit to one formula alone",
        "bench/reed_fit",
        "model_spread(at) if models is None",
        "model_spread(at, ()) if models is None",
        REED_FIT,
    ),
    Mistake("a note held against itself", "bench/misfit", "weighed / precision,", "weighed,", REED_FIT),
    Mistake(
        "a reed swayed by nothing", "bench/misfit", "whitened.T @ self._whiten @ moved", "whitened.T @ moved", REED_FIT
    ),
    Mistake(
        "a move the wrong way",
        "bench/actions",
        "wanted = -float(slope @ cents)",
        "wanted = float(slope @ cents)",
        ADVICE,
    ),
    Mistake(
        "a move below the noise", "bench/actions", "taken < CLEAR**2 * self.noise(per_unit)", "taken < 0.0", ADVICE
    ),
    Mistake(
        "a cut before what can be undone",
        "bench/moves",
        "(BY_KINDNESS.index(option.move.kind), option.bare, -option.good)",
        "(0, option.bare, -option.good)",
        ADVICE,
    ),
    Mistake("a cut without a reason", "bench/actions", "chance >= REASON if by_chance", "True if by_chance", ADVICE),
    Mistake(
        "a suspicion the wrong way",
        "bench/suspects",
        "off * move.against > cause.held",
        "abs(off) > cause.held",
        ADVICE,
    ),
    Mistake(
        "mean of repeats not by length",
        "bench/heard",
        "share = seconds / seconds.sum()",
        "share = seconds / len(seconds) / seconds",
        HEARD,
    ),
    Mistake(
        "overtones as if all were the first",
        "bench/pitch",
        "np.unwrap(np.angle(wave), axis=0) / number",
        "np.unwrap(np.angle(wave), axis=0)",
        HEARD,
    ),
    Mistake("vibrato averaged in hertz", "bench/pitch", "0.25 * (wide / mean) ** 2", "0.0 * wide", HEARD),
    Mistake(
        "nothing looked for below a note",
        "bench/pitch",
        "max(found) / max(np.sum(power), 1e-30)",
        "0.0 * max(found)",
        HEARD,
    ),
    Mistake("too soft for not played", "bench/unheard", "return TOO_SOFT", "return NOT_PLAYED", HEARD),
    Mistake("another chanter's record", "bench/log", "entry.chanter not in names and", "not names and", LOG),
    Mistake(
        "whose log it is asked too early", "bench/log", "open_log(path).entries, entry)", "before.entries, entry)", LOG
    ),
    Mistake("no loss in the lean of a tapered slice", "physics/power", " - lean.imag * across", "", POWER),
    Mistake(
        "power of peaks for that of means",
        "physics/power",
        "return 0.5 * (state[0] * state[1].conj()).real",
        "return (state[0] * state[1].conj()).real",
        POWER,
    ),
    Mistake(
        "reflection turned round",
        "physics/in_time",
        "(impedance - 1.0 / endless) /",
        "(1.0 / endless - impedance) /",
        IN_TIME,
    ),
    Mistake("past counted once", "physics/in_time", "mouth[:, n] - 2.0 * past", "mouth[:, n] - past", IN_TIME),
    Mistake(
        "one standard deviation for two",
        "tuning/identify",
        "2.0 * deviation * span",
        "deviation * span",
        ("tuning/test_identify.py",),
    ),
    Mistake(
        "the farther drill first",
        "tuning/snap",
        "key=lambda size: abs(size - value)",
        "key=lambda size: -abs(size - value)",
        ("tuning/test_snap.py",),
    ),
    Mistake(
        "half of the fingers' reach",
        "tuning/rules",
        "_STRETCH * self.span_mm",
        "0.5 * _STRETCH * self.span_mm",
        ("tuning/test_search.py",),
    ),
    Mistake(
        "bore may narrow, not widen",
        "tuning/rules",
        "-100.0 * self._taper",
        "100.0 * self._taper",
        ("tuning/test_search.py",),
    ),
    Mistake(
        "wood between middles",
        "pipes/spacing",
        "return apart - size - size.T",
        "return apart",
        ("pipes/test_spacing.py",),
    ),
    Mistake(
        "holes all on one face",
        "pipes/spacing",
        "bearing[:, None] - bearing + np.pi",
        "0.0 * bearing[:, None] + np.pi",
        ("pipes/test_spacing.py",),
    ),
    Mistake(
        "stopper drawn the wrong way",
        "tuning/regulators",
        "regulator.stopped(length + by)",
        "regulator.stopped(length - by)",
        ("tuning/test_regulators.py",),
    ),
    Mistake(
        "slides for the octave above",
        "tuning/agreement",
        "keynote / 2.0**d.octaves_below",
        "2.0 * keynote / 2.0**d.octaves_below",
        AGREEMENT,
    ),
    Mistake(
        "sharp and flat of a slide exchanged",
        "tuning/agreement",
        "curve.reserve_cents[0] - moved, curve.reserve_cents[1] + moved",
        "curve.reserve_cents[0] + moved, curve.reserve_cents[1] - moved",
        AGREEMENT,
    ),
    Mistake(
        "one wall of the fold's bend",
        "shop/folding",
        "depth = tubes.folded.inside_mm + tubes.folded.wall_mm if wish.bridge else wish.radius_mm + half",
        "depth = tubes.folded.inside_mm + tubes.folded.wall_mm if wish.bridge else wish.radius_mm",
        FOLDING,
    ),
    Mistake(
        "trim on one end",
        "shop/cut_list",
        "self.finished_mm + 2.0 * self.trim_mm",
        "self.finished_mm + self.trim_mm",
        FOLDING,
    ),
    Mistake(
        "a bridge along its passage alone",
        "tuning/unfolded",
        "stretch.spacing_mm + stretch.diameter_mm if",
        "stretch.spacing_mm if",
        ("tuning/test_unfolded.py",),
    ),
    Mistake(
        "pull the wrong way",
        "tuning/pull",
        "row.lasting_cents - row.resonance_cents",
        "row.resonance_cents - row.lasting_cents",
        PULL,
    ),
    Mistake(
        "a pull that stands still",
        "bench/misfit",
        "slopes = slopes + self.pull.slopes",
        "slopes = slopes + 0.0 * self.pull.slopes",
        ("bench/test_played_fit.py",),
    ),
    Mistake(
        "played readings without their pull",
        "bench/misfit",
        "setup.chart.cents + self.pull.of(setup)",
        "setup.chart.cents + 0.0 * self.pull.of(setup)",
        ("bench/test_played_fit.py",),
    ),
    Mistake(
        "a diagnosis deaf to the pull",
        "bench/expected",
        "self.setup.chart.cents + self.pull",
        "self.setup.chart.cents + 0.0 * self.pull",
        EXPECTED,
    ),
    Mistake(
        "the pull's slope the wrong way",
        "bench/expected",
        "+ pull.slopes[:, 0]",
        "- pull.slopes[:, 0]",
        EXPECTED,
    ),
    Mistake(
        "soft and loud mixed",
        "bench/fitted_reed",
        "(self.played is None) != (pitch is None)",
        "False",
        ("bench/test_played_faults.py",),
    ),
    Mistake(
        "a culprit on a straight line",
        "bench/faults",
        "straight + along[:, None] * bends",
        "straight + 0.0 * along[:, None] * bends",
        ("bench/test_played_faults.py",),
    ),
    Mistake("every move that makes up for the rest", "bench/moves", "(option.bare and other.bare)", "False", ADVICE),
    Mistake("a cut for a note in tune", "bench/actions", "> IN_TUNE", "> 0.0", ADVICE),
    Mistake(
        "width of the evidence", "bench/faults", "0.5 * np.log(prior * variance)", "np.log(prior * variance)", ADVICE
    ),
    Mistake("spread between causes", "bench/faults", " + (apart.T * chances) @ apart", "", ADVICE),
    Mistake(
        "amounts without their prior", "bench/faults", "seen, inverse, seen) + prior", "seen, inverse, seen)", ADVICE
    ),
    Mistake("a half record taken for whole", "bench/log", "if _seal(body) == end[1] else", "if body else", LOG),
)
