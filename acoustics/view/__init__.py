"""Pictures and panels for the notebooks."""

from .bellows import Bellows
from .bench_bore import plot_as_cut
from .bench_charts import plot_change, plot_reed_fit
from .charts import plot_chart, plot_impedance
from .design import plot_moves, plot_spread
from .drawing import draw_pipe, plot_bores
from .fold import draw_fold
from .panel import Panel
from .picture import Picture
from .plain import plain_warnings, say
from .played import plot_played, plot_tone, plot_windows
from .progress import Progress
from .question import Question
from .set_charts import (
    against_table,
    plot_key_curve,
    plot_regulators,
    plot_shut_keys,
    plot_stopper,
    plot_worst,
    slide_table,
)
from .studies import plot_predicted, plot_pressure, plot_sensitivity, plot_stretch
from .table import Table
from .trust import evidence_table, model_table, plot_models

__all__ = [
    "Bellows",
    "Panel",
    "Picture",
    "Progress",
    "Question",
    "Table",
    "against_table",
    "draw_fold",
    "draw_pipe",
    "evidence_table",
    "model_table",
    "plain_warnings",
    "plot_as_cut",
    "plot_bores",
    "plot_change",
    "plot_chart",
    "plot_impedance",
    "plot_key_curve",
    "plot_models",
    "plot_moves",
    "plot_played",
    "plot_predicted",
    "plot_pressure",
    "plot_reed_fit",
    "plot_regulators",
    "plot_sensitivity",
    "plot_shut_keys",
    "plot_spread",
    "plot_stopper",
    "plot_stretch",
    "plot_tone",
    "plot_windows",
    "plot_worst",
    "say",
    "slide_table",
]
