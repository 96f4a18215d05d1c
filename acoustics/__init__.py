"""Design of bellows-blown pipes: from dimensions to a tuning chart in both octaves.

The names that a notebook uses of what the maker holds, what the air does and what the ear hears;
pictures and panels are in `acoustics.view`.
"""

from .errors import Refusal
from .physics.air import Air
from .physics.network import input_impedance
from .physics.standing_wave import StandingWave, standing_wave
from .pipes.bore import Body, Bore
from .pipes.bore_file import read_bore_csv, read_bore_measurement, write_bore_csv
from .pipes.chanter import Chanter
from .pipes.design_file import read_design, write_design
from .pipes.fingering import OPEN, TIGHT, Fingering
from .pipes.holes import Key, ToneHole
from .pipes.reed import Reed
from .pipes.rush import Rush
from .pipes.staple import Staple
from .tuning.chart import TuningChart, tuning_chart
from .tuning.resonances import Mode, Modes, modes
from .tuning.scales import Scale, equal_scale, just_scale
from .units import cents
from .validity import OutsideRange

__all__ = [
    "OPEN",
    "TIGHT",
    "Air",
    "Body",
    "Bore",
    "Chanter",
    "Fingering",
    "Key",
    "Mode",
    "Modes",
    "OutsideRange",
    "Reed",
    "Refusal",
    "Rush",
    "Scale",
    "StandingWave",
    "Staple",
    "ToneHole",
    "TuningChart",
    "cents",
    "equal_scale",
    "input_impedance",
    "just_scale",
    "modes",
    "read_bore_csv",
    "read_bore_measurement",
    "read_design",
    "standing_wave",
    "tuning_chart",
    "write_bore_csv",
    "write_design",
]
