"""Pictures and panels for the notebooks."""

from .charts import plot_chart, plot_impedance
from .drawing import draw_pipe, plot_bores
from .picture import Picture
from .plain import plain_warnings, say

__all__ = ["Picture", "draw_pipe", "plain_warnings", "plot_bores", "plot_chart", "plot_impedance", "say"]
