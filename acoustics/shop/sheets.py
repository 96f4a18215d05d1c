"""All sheets of a chanter, written into a folder: everything or nothing."""

from __future__ import annotations

import os
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from ..errors import Refusal, short, text
from ..pipes.chanter import Chanter
from ..pipes.design_file import revision
from ..pipes.files import label, reason, save_all
from . import paper_boring, paper_holes, paper_outside, paper_reed, paper_staple, paper_wood
from .drawing_1to1 import Item, Plan, moved
from .dxf import dxf_bytes
from .frame import Stamp, framed, paper_mm, uncut
from .hole_list import drilling_list
from .layout import Block
from .pdf import pdf_bytes
from .svg import svg_bytes
from .workshop import Workshop

FORMATS = ("pdf", "svg", "dxf")
BETWEEN_MM = 15.0  # between drawings of one DXF file


@dataclass(frozen=True)
class Paper:
    """One sheet before it is put on pages: file name's end, stamp, blocks."""

    name: str
    stamp: Stamp
    blocks: tuple[Block, ...]


def papers(
    pipe: Chanter, date: str, shop: Workshop, left_handed: bool = False, on_the_left: Iterable[str] = ()
) -> tuple[Paper, ...]:
    """The six sheets of a chanter; a `Refusal` when one of them asks for what cannot be made."""
    lines = drilling_list(pipe, shop, left_handed, on_the_left)
    made = (
        ("1-staple", paper_staple, paper_staple.blocks(pipe, shop)),
        ("2-bore", paper_boring, paper_boring.blocks(pipe, shop)),
        ("3-holes", paper_holes, paper_holes.blocks(pipe, shop, lines, left_handed)),
        ("4-outside", paper_outside, paper_outside.blocks(pipe, shop)),
        ("5-reed", paper_reed, paper_reed.blocks(pipe, shop)),
        ("6-wood", paper_wood, paper_wood.blocks(pipe, shop)),
    )
    digits, found = revision(pipe), []
    for name, room, blocks in made:
        title = room.TITLE + (", left-handed" if left_handed and name == "3-holes" else "")
        caution = "Care: " + " ".join(room.CAUTIONS)
        found.append(Paper(name, Stamp(pipe.name, title, date, digits, room.tolerances(shop), caution), blocks))
    return tuple(found)


def _in_one_piece(blocks: tuple[Block, ...]) -> tuple[Item, ...]:
    """All drawings of a sheet at 1:1, one below the other; the first keeps its own coordinates."""
    items: tuple[Item, ...] = ()
    below = None
    for plan in (block for block in blocks if isinstance(block, Plan)):
        _, low, _, high = plan.box
        shift = 0.0 if below is None else below - BETWEEN_MM - high
        items += moved(plan.items, 0.0, shift)
        below = low + shift
    return items


def _files(stem: str, paper: Paper, size: str, formats: tuple[str, ...]) -> dict[str, bytes]:
    title = f"{paper.stamp.design}: {paper.stamp.title}"
    files: dict[str, bytes] = {}
    pages = framed(paper.blocks, paper.stamp, size) if {"pdf", "svg"} & set(formats) else ()
    if "pdf" in formats:
        files[f"{stem}-{paper.name}.pdf"] = pdf_bytes(pages, title)
    if "svg" in formats:
        for n, page in enumerate(pages, 1):
            part = f"-{n}of{len(pages)}" if len(pages) > 1 else ""
            files[f"{stem}-{paper.name}{part}.svg"] = svg_bytes(page, title)
    drawing = _in_one_piece(paper.blocks)
    if "dxf" in formats and drawing:
        files[f"{stem}-{paper.name}.dxf"] = dxf_bytes(uncut(drawing, paper.stamp), title)
    return files


def stem_of(name: str) -> str:
    """A design's name as the start of a file name: plain letters, digits and hyphens."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return "-".join("".join(c if c.isalnum() else " " for c in plain).split())[:40].rstrip("-") or "chanter"


def _checked_formats(formats: object) -> tuple[str, ...]:
    given = (formats,) if isinstance(formats, str) else formats
    allowed = f"one or more of {', '.join(FORMATS)} are allowed"
    if isinstance(given, (bytes, dict)) or not hasattr(given, "__iter__"):
        raise Refusal(f"{short(formats)} is not a list of formats", allowed, "formats")
    given = tuple(given)
    for name in given:
        if name not in FORMATS:
            raise Refusal(f"{short(name)} is not a format", allowed, "formats")
    if not given:
        raise Refusal("there is no format in the list", allowed, "formats")
    return given


def _save(folder: Path, files: dict[str, bytes], overwrite: bool) -> list[Path]:
    """Write all files, or none of them."""
    paths = [folder / name for name in files]
    try:
        save_all(dict(zip(paths, files.values(), strict=True)), overwrite)
    except OSError as error:
        allowed = "a folder where you may save files is needed"
        raise Refusal(f"the sheets cannot be saved ({reason(error)})", allowed, label(str(folder))) from None
    return paths


def checked_order(folder: str | os.PathLike, date: str, paper: str, formats: Iterable[str]) -> tuple[str, ...]:
    """The formats, when folder, date and paper are as `write_sheets` needs them, or a `Refusal`."""
    where = label(folder)
    if not os.path.isdir(folder):
        raise Refusal("there is no such folder", "the name of an existing folder is needed", where)
    text("date", date, 40)
    paper_mm(paper)
    return _checked_formats(formats)


def save_papers(
    found: Iterable[Paper],
    name: str,
    folder: str | os.PathLike,
    paper: str,
    formats: tuple[str, ...],
    overwrite: bool,
) -> list[Path]:
    """Put sheets of the design `name` on pages and save them, all or none; arguments as `checked_order` left them."""
    files: dict[str, bytes] = {}
    for sheet in found:
        files |= _files(stem_of(name), sheet, paper, formats)
    return _save(Path(folder), files, overwrite)


def write_sheets(
    pipe: Chanter,
    folder: str | os.PathLike,
    date: str,
    paper: str = "A4",
    formats: Iterable[str] = ("pdf", "svg"),
    drills: object = None,
    left_handed: bool = False,
    overwrite: bool = False,
    shop: Workshop | None = None,
    on_the_left: Iterable[str] = (),
) -> list[Path]:
    """Write the sheets for the bench: staple, bore, holes, outside, reed, wood.

    Parameters
    ----------
    pipe : Chanter
    folder : str or path
        An existing folder.
    date : str
        Printed on every page as it is given; no clock is read.
    paper : str
        "A4", "Letter" or "A3".  A drawing at 1:1 that is longer is tiled with overlap.
    formats : names
        "pdf" (one file a sheet), "svg" (one file a page), "dxf" (each drawing in one piece).
    drills : sequence, optional
        The shop's own drills, as for `own_drills`; None takes those of `shop`.
    left_handed : bool
        Left and right change places.
    overwrite : bool
        Whether files of the same names may be replaced.
    shop : Workshop, optional
        Sheet thickness, allowances and tolerances.
    on_the_left : names
        Side holes that lie on the left of a right-handed set; the others lie on its right.

    Returns
    -------
    list of Path
        The files written, in the order of the sheets.

    Raises
    ------
    Refusal
        Anything that cannot be made or saved; nothing is written then.
    """
    if not isinstance(pipe, Chanter):
        raise Refusal(f"{short(pipe)} is not a chanter", "a Chanter is needed", "pipe")
    chosen = checked_order(folder, date, paper, formats)
    shop = Workshop() if shop is None else shop
    if not isinstance(shop, Workshop):
        raise Refusal(f"{short(shop)} is not a workshop", "a Workshop is needed", "shop")
    if drills is not None:
        shop = replace(shop, drills=drills)
    found = papers(pipe, date, shop, left_handed, on_the_left)
    return save_papers(found, pipe.name, folder, paper, chosen, overwrite)
