"""Design of bellows-blown pipes: from dimensions to a tuning chart in both octaves.

The names that a notebook uses of what the maker holds, what the air does, what the ear hears and what
comes back from the bench; pictures and panels are in `acoustics.view`.
"""

from .bench.actions import what_to_change
from .bench.as_cut import as_cut
from .bench.bore_chart import gauged_chart
from .bench.bore_fit import fit_bore
from .bench.entries import Change, Measurement, Prediction, Result
from .bench.heard import Heard, listen
from .bench.history import history
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
from .pipes.rush import Rush
from .pipes.set_file import read_set, write_set
from .pipes.staple import Staple
from .pipes.stretches import Bend, Bridge, Resonator, Slide, Straight
from .tuning.chart import TuningChart, tuning_chart
from .tuning.drones import cents_per_mm, drone_beats, drone_pitch, slide_curve, temperature_drift, tuned
from .tuning.pull import Played
from .tuning.regulators import RegulatorChart, regulator_chart, stopper_curve, tune_keys
from .tuning.resonances import Mode, Modes, modes
from .tuning.scales import Scale, equal_scale, just_scale
from .units import cents
from .validity import OutsideRange

__all__ = [
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
    "Rush",
    "Scale",
    "Slide",
    "StandingWave",
    "Staple",
    "Straight",
    "ToneHole",
    "TuningChart",
    "as_cut",
    "card_of",
    "cents",
    "cents_per_mm",
    "drone_beats",
    "drone_pitch",
    "empty_folder",
    "equal_scale",
    "fit_bore",
    "fit_reed",
    "gauged_chart",
    "history",
    "input_impedance",
    "just_scale",
    "listen",
    "modes",
    "new_records",
    "open_log",
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
    "slide_curve",
    "standing_wave",
    "stopper_curve",
    "temperature_drift",
    "tune_keys",
    "tuned",
    "tuning_chart",
    "typed_readings",
    "what_to_change",
    "which_reed_suits",
    "write_bore_csv",
    "write_design",
    "write_readings_csv",
    "write_reed_card",
    "write_set",
]
