"""Sheet 6: notes on the wood, and a log for the maker's own measurements."""

from __future__ import annotations

from ..pipes.chanter import Chanter
from . import cautions
from .layout import Block, Column, Paragraph, Table
from .workshop import Workshop

TITLE = "6  Wood: seasoning, ovality, papers"
CAUTIONS = (cautions.DUST, cautions.LATHE, cautions.REAMER, cautions.OIL, cautions.LAW)


def tolerances(shop: Workshop) -> str:
    return f"Tolerances: bore ±{shop.bore_tolerance_mm:g} mm in both directions across, after the wood has rested."


def _notes(pipe: Chanter, shop: Workshop) -> tuple[tuple[str, str], ...]:
    at, throat = pipe.bore.throat_mm
    return (
        (
            "Seasoning",
            "Rough-turn, drill a pilot well inside the throat's size, seal the ends, and store in the air of the "
            "workshop. Weigh every week: the wood is ready when its weight has stopped falling for two months "
            "(common practice, no source). Rough bore, rest for weeks, and ream in stages with rests between.",
        ),
        (
            "Ovality",
            "Wood shrinks about twice as much along the growth rings as across them (Wood Handbook, USDA Forest "
            "Products Laboratory, chapter on moisture; ratio from memory), so a round bore turns oval as it dries. "
            "Gauge with a round and with a flat (oval) gauge, at the foot, the middle and the throat "
            f"({throat:.2f} mm at {at:.0f} mm), after each rest; old bores differ by up to 0.1 mm. Ream again only "
            f"when the narrow way has closed by more than {shop.bore_tolerance_mm:g} mm.",
        ),
        (
            "Oil and play",
            "Oil the bore thinly before first play and let it dry; play in shortly, and gauge again. Bellows blow "
            "dry air: the wood goes on drying where the piper lives.",
        ),
        (
            "Protected species",
            "Several turning woods, and ivory of any kind, are protected by the CITES convention and by national "
            "laws that change. Whether you may buy, work, sell or carry a piece over a border, and with which papers, "
            "only the authority of your country can tell: ask it first, keep the invoice with the wood. This "
            "sheet decides nothing.",
        ),
    )


def blocks(pipe: Chanter, shop: Workshop) -> tuple[Block, ...]:
    """The whole sheet."""
    out: list[Block] = []
    for title, words in _notes(pipe, shop):
        out += [Paragraph(title, 118.0, bold=True), Paragraph(words, 118.0)]
    columns = (
        Column("date", "", 26.0, True),
        Column("weight", "g", 18.0),
        Column("foot, along / across", "mm", 32.0),
        Column("middle", "mm", 24.0),
        Column("throat", "mm", 24.0),
    )
    out.append(Table("Log of this piece (along / across the rings)", columns, (("",) * 5,) * 24))
    return tuple(out)
