"""Design of bellows-blown pipes: from dimensions to a tuning chart in both octaves.

The names that a notebook uses of what the maker holds, what the air does, what the ear hears and what
comes back from the bench; pictures and panels are in `acoustics.view`, sheets in `acoustics.shop.sheets`.
"""

from .bench.actions import what_to_change
from .bench.as_cut import as_cut
from .bench.bore_chart import gauged_chart
from .bench.bore_fit import fit_bore
from .bench.entries import Change, Measurement, Prediction, Result
from .bench.heard import Heard, listen
from .bench.history import history
from .bench.known_chanter import learn_from
from .bench.learned import Learned
from .bench.log import open_log
from .bench.probing import Gauging
from .bench.readings import Reading, Readings
from .bench.readings_file import read_readings_csv, typed_readings, write_readings_csv
from .bench.recording import Recording, read_recording
from .bench.records import new_records
from .bench.reed_card import ReedCard, card_of, read_reed_card, write_reed_card
from .bench.reed_choice import which_reed_suits
from .bench.reed_fit import fit_reed
from .errors import Refusal
from .physics.air import Air
from .physics.network import input_impedance
from .physics.standing_wave import StandingWave, standing_wave
from .physics.valve import Valve
from .pipes.bore import Body, Bore
from .pipes.bore_file import read_bore_csv, read_bore_measurement, read_gauges, write_bore_csv
from .pipes.chanter import Chanter
from .pipes.design_file import read_design, revision, write_design
from .pipes.drone import Drone
from .pipes.files import empty_folder
from .pipes.fingering import OPEN, TIGHT, Fingering
from .pipes.holes import Key, ToneHole
from .pipes.pipe_set import PipeSet
from .pipes.reed import Reed
from .pipes.regulator import Regulator
from .pipes.reshape import bell
from .pipes.rush import Rush
from .pipes.set_file import read_set, write_set
from .pipes.staple import Staple
from .pipes.stretches import Bend, Bridge, Resonator, Slide, Straight
from .tuning.advice import advice
from .tuning.agreement import agreement
from .tuning.chart import TuningChart, tuning_chart
from .tuning.dials import DIALS, hole_dials
from .tuning.drones import cents_per_mm, drone_beats, drone_pitch, slide_curve, temperature_drift, tuned
from .tuning.free import station_dials
from .tuning.perturbation import bore_sensitivity
from .tuning.played import played_chart
from .tuning.pull import Played
from .tuning.regulators import RegulatorChart, regulator_chart, stopper_curve, tune_keys
from .tuning.resonances import Mode, Modes, modes
from .tuning.rules import Rules
from .tuning.scales import Scale, equal_scale, just_scale
from .tuning.search import search
from .tuning.sensitivity import sensitivities
from .tuning.setup import Setup
from .tuning.snap import snap
from .tuning.speaks import attacks
from .tuning.summary import compare, summary
from .tuning.tolerance import tolerance_spread
from .tuning.two_voices import voices
from .tuning.uncertainty import model_spread
from .tuning.window import windows
from .units import cents
from .validity import OutsideRange

__all__ = [
    "DIALS",
    "OPEN",
    "TIGHT",
    "Air",
    "Bend",
    "Body",
    "Bore",
    "Bridge",
    "Change",
    "Chanter",
    "Drone",
    "Fingering",
    "Gauging",
    "Heard",
    "Key",
    "Learned",
    "Measurement",
    "Mode",
    "Modes",
    "OutsideRange",
    "PipeSet",
    "Played",
    "Prediction",
    "Reading",
    "Readings",
    "Recording",
    "Reed",
    "ReedCard",
    "Refusal",
    "Regulator",
    "RegulatorChart",
    "Resonator",
    "Result",
    "Rules",
    "Rush",
    "Scale",
    "Setup",
    "Slide",
    "StandingWave",
    "Staple",
    "Straight",
    "ToneHole",
    "TuningChart",
    "Valve",
    "advice",
    "agreement",
    "as_cut",
    "attacks",
    "bell",
    "bore_sensitivity",
    "card_of",
    "cents",
    "cents_per_mm",
    "compare",
    "drone_beats",
    "drone_pitch",
    "empty_folder",
    "equal_scale",
    "fit_bore",
    "fit_reed",
    "gauged_chart",
    "history",
    "hole_dials",
    "input_impedance",
    "just_scale",
    "learn_from",
    "listen",
    "model_spread",
    "modes",
    "new_records",
    "open_log",
    "played_chart",
    "read_bore_csv",
    "read_bore_measurement",
    "read_design",
    "read_gauges",
    "read_readings_csv",
    "read_recording",
    "read_reed_card",
    "read_set",
    "regulator_chart",
    "revision",
    "search",
    "sensitivities",
    "slide_curve",
    "snap",
    "standing_wave",
    "station_dials",
    "stopper_curve",
    "summary",
    "temperature_drift",
    "tolerance_spread",
    "tune_keys",
    "tuned",
    "tuning_chart",
    "typed_readings",
    "voices",
    "what_to_change",
    "which_reed_suits",
    "windows",
    "write_bore_csv",
    "write_design",
    "write_readings_csv",
    "write_reed_card",
    "write_set",
]
