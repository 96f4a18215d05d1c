"""Pictures and panels for the notebooks."""

from .charts import plot_chart, plot_impedance
from .design import plot_moves, plot_spread
from .drawing import draw_pipe, plot_bores
from .fold import draw_fold
from .panel import Panel
from .picture import Picture
from .plain import plain_warnings, say
from .question import Question
from .studies import plot_predicted, plot_pressure, plot_sensitivity, plot_stretch
from .table import Table
from .trust import evidence_table, model_table, plot_models

__all__ = [
    "Panel",
    "Picture",
    "Question",
    "Table",
    "draw_fold",
    "draw_pipe",
    "evidence_table",
    "model_table",
    "plain_warnings",
    "plot_bores",
    "plot_chart",
    "plot_impedance",
    "plot_models",
    "plot_moves",
    "plot_predicted",
    "plot_pressure",
    "plot_sensitivity",
    "plot_spread",
    "plot_stretch",
    "say",
]
