"""Pages as PDF, at their exact size, the same bytes for the same pages."""

from __future__ import annotations

import io

from matplotlib import rc_context
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Arc as ArcPatch
from matplotlib.patches import Circle as CirclePatch
from matplotlib.patches import Polygon, Rectangle

from ..units import INCH_MM
from .drawing_1to1 import PENS, Arc, Circle, Item, Line, Page, Polyline, Text
from .lettering import FAMILY, drawable

POINT_MM = INCH_MM / 72.0
SETTINGS = {"pdf.fonttype": 42, "pdf.compression": 6, "path.simplify": False, "text.usetex": False}
SETTINGS |= {"text.parse_math": False, "font.family": FAMILY, "lines.scale_dashes": False, "path.snap": False}
SETTINGS |= {"pdf.use14corefonts": False, "path.sketch": None, "path.effects": [], "axes.unicode_minus": True}


def _ink(pen: str) -> dict:
    style = PENS[pen]
    dashes = tuple(length / POINT_MM for length in style.dashes_mm)
    return {"lw": style.width_mm / POINT_MM, "ls": (0, dashes) if dashes else "-", "color": "black"}


def _draw(axes, item: Item, clip) -> None:
    ink = {} if isinstance(item, Text) else _ink(item.pen)
    match item:
        case Line():
            artist = axes.add_line(Line2D([item.x1, item.x2], [item.y1, item.y2], solid_capstyle="butt", **ink))
        case Circle():
            artist = axes.add_patch(CirclePatch((item.x, item.y), item.radius, fill=False, **ink))
        case Arc():
            size = 2.0 * item.radius
            shape = ArcPatch((item.x, item.y), size, size, theta1=item.start_deg, theta2=item.end_deg, **ink)
            artist = axes.add_patch(shape)
        case Polyline():
            artist = axes.add_patch(Polygon(item.points, closed=item.closed, fill=False, **ink))
        case Text():
            align = {"start": "left", "middle": "center", "end": "right"}[item.anchor]
            how = {"ha": align, "va": "baseline", "rotation": 90 if item.turned else 0, "rotation_mode": "anchor"}
            how |= {"fontsize": item.size / POINT_MM, "weight": "bold" if item.bold else "normal", "color": "black"}
            artist = axes.text(item.x, item.y, drawable(item.text, item.bold), parse_math=False, **how)
    artist.set_clip_on(clip is not None)
    if clip is not None:
        artist.set_clip_path(clip)


def _figure(page: Page) -> Figure:
    figure = Figure(figsize=(page.width / INCH_MM, page.height / INCH_MM))
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_xlim(0.0, page.width)
    axes.set_ylim(0.0, page.height)
    axes.axis("off")
    for item in page.items:
        _draw(axes, item, None)
    for window in page.windows:
        left, low, right, high = window.box
        clip = Rectangle((left, low), right - left, high - low, transform=axes.transData)
        for item in window.items:
            _draw(axes, item, clip)
    return figure


def pdf_bytes(pages: tuple[Page, ...], title: str) -> bytes:
    """All pages as one PDF file.

    Parameters
    ----------
    pages : tuple of Page
    title : str
        Of the document; no date and no name of a program is stored beside it.
    """
    out = io.BytesIO()
    with rc_context(SETTINGS):
        told = {"Title": title, "CreationDate": None, "Creator": None, "Producer": None}
        with PdfPages(out, metadata=told) as file:
            for page in pages:
                file.savefig(_figure(page))
    return out.getvalue()
