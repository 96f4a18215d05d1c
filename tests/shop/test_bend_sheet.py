"""The bend sheet: true to scale in the PDF's pixels, its numbers and cautions read back; cautions where they belong."""

import re
from functools import cache
from pathlib import Path

import ezdxf
import nbformat
import numpy as np
import pypdfium2
import pytest

from acoustics.errors import Refusal
from acoustics.shop import cautions
from acoustics.shop.drawing_1to1 import Arc, Line
from acoustics.shop.frame import PAPERS_MM
from acoustics.shop.paper_bends import bend_paper, fold_plan, write_bend_sheet
from acoustics.shop.paper_staple import CAUTIONS as STAPLE
from tests.pipes.sample import assert_one_sentence
from tests.shop.bench import DATE, pages_of
from tests.shop.test_folding import assert_adds_up, fold
from tests.shop.test_pages import assert_tidy
from tests.shop.test_written import ink, read_dxf, rules_mm, strokes

NOTEBOOKS = Path(__file__).parents[2] / "notebooks"
FOLDS = {
    "demo": {},
    "tight": {"radius_mm": 16.5},
    "open": {"resonator": None, "radius_mm": 10.4, "lap_length_mm": 340.0},
    "once": {"turns": 1, "lap_length_mm": 800.0},
    "straight": {"turns": 0, "lap_length_mm": 1200.0},
    "bridged": {"bridge": True, "radius_mm": 7.2, "resonator": None, "lap_width_mm": 60.0, "lap_length_mm": 480.0},
}


@cache
def sheet(name: str):
    return bend_paper(fold(**FOLDS[name]), DATE)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    path = tmp_path_factory.mktemp("bends")
    write_bend_sheet(fold(), path, DATE, formats=("pdf", "svg", "dxf"))
    return path


@pytest.mark.parametrize("paper", PAPERS_MM)
@pytest.mark.parametrize("name", FOLDS)
def test_pages_are_tidy(name, paper):
    assert_adds_up(fold(**FOLDS[name]))
    for page in pages_of(sheet(name), paper):
        assert_tidy(page)


@pytest.mark.parametrize("paper", PAPERS_MM)
def test_check_rules_measure_50_mm_on_every_page(paper, tmp_path):
    """In pixels at 1200 dpi; the page has the paper's size."""
    (path,) = write_bend_sheet(fold(), tmp_path, DATE, paper, ("pdf",))
    pages = pypdfium2.PdfDocument(str(path))
    assert len(pages) >= 2
    for page in pages:
        assert [length / 72.0 * 25.4 for length in page.get_size()] == pytest.approx(PAPERS_MM[paper], abs=0.01)
        fifty = [length for length in rules_mm(page) if length < 50.4]
        assert len(fifty) >= 3
        assert max(abs(length - 50.0) for length in fifty) <= 0.1


def test_bend_and_walls_are_1_to_1_in_the_pdf(folder):
    """Down the paper just beside bend 2's tangent line: the walls of both legs, 2 R = 48 mm from axis to axis."""
    page = pypdfium2.PdfDocument(str(next(folder.glob("*.pdf"))))[0]
    dark, mm = ink(page, 600), 600 / 25.4
    (window,) = pages_of(sheet("demo"), "A4")[0].windows
    bend = next(i for i in window.items if isinstance(i, Arc) and i.pen == "outline" and i.start_deg == 90.0)
    column = dark[:, round((bend.x + 60.0) * mm)]
    found = dark.shape[0] / mm - np.array(strokes(column)) / mm
    for wall in (20.0, 28.0):  # radius of the centre line 24 mm, tube of 8 mm
        for side in (-1.0, 1.0):
            assert np.min(np.abs(found - (bend.y + side * wall))) <= 0.1
    row = dark[round(dark.shape[0] - bend.y * mm)]
    across = np.array(strokes(row)) / mm
    for wall in (20.0, 28.0):
        assert np.min(np.abs(across - (bend.x - wall))) <= 0.1


def test_the_drawing_has_the_folds_own_lengths():
    """Legs between tangent lines and the half circles' radii, taken from the drawing's items."""
    plan = fold()
    items = fold_plan(plan).items
    axes = [i for i in items if isinstance(i, Line) and i.pen == "axis" and i.y1 == i.y2]
    lengths = sorted(round(abs(i.x2 - i.x1), 6) for i in axes)
    wanted = sorted(round(length, 6) for length in (140.0, 100.0, *plan.legs_mm))
    assert lengths == pytest.approx(wanted)
    arcs = [i for i in items if isinstance(i, Arc)]
    assert sorted({round(i.radius, 6) for i in arcs}) == [20.0, 20.5, 24.0, 27.5, 28.0]
    assert all(i.end_deg - i.start_deg == 180.0 for i in arcs)


def test_numbers_are_read_back_from_the_pdf(folder):
    """The column of lengths along the air, as printed, adds up to its last line; cut is finished and twice the trim."""
    pages = pypdfium2.PdfDocument(str(next(folder.glob("*.pdf"))))
    said = "\n".join(page.get_textpage().get_text_bounded() for page in pages)
    words = said.split()
    parts = ["head", "gap", "pin", "leg 1", "bend 1", "leg 2", "bend 2", "leg 3"]
    tail = " ".join(words[words.index("Along") :])
    total = 0.0
    for part in parts:
        inside, length, ends = (float(n) for n in re.search(rf"{part} (\S+) (\d+\.\d\d) (\d+\.\d\d)", tail).groups())
        total += length
        assert abs(total - ends) < 0.1
        assert 6.0 < inside < 8.0
    assert abs(total - sum(s.length_mm for s in fold().drone.stretches)) < 0.1
    finished, trim, cut = (float(n) for n in re.search(r"fold 8 x 7 mm (\S+) (\S+) (\S+)", " ".join(words)).groups())
    assert cut == pytest.approx(finished + 2 * trim, abs=0.1)
    assert finished == pytest.approx(sum(fold().legs_mm) + 2 * np.pi * 24.0, abs=0.01)
    assert "184°" in said


def test_dxf_and_svg_are_written_too(folder):
    names = sorted(path.name for path in folder.iterdir())
    assert names[0] == "sallow-ford-folded-bass-bends-1of3.svg"
    assert names[-2:] == ["sallow-ford-folded-bass-bends.dxf", "sallow-ford-folded-bass-bends.pdf"]
    space = read_dxf((folder / names[-2]).read_bytes())
    arcs = {round(arc.dxf.radius, 7) for arc in space.query("ARC")}
    assert arcs == {20.0, 20.5, 24.0, 27.5, 28.0}
    assert isinstance(space, ezdxf.layouts.Modelspace)


def test_nothing_is_overwritten_and_only_folds_are_drawn(folder):
    for thing, start in ((fold(), str(folder)), (fold().drone, "fold: ")):
        with pytest.raises(Refusal) as caught:
            write_bend_sheet(thing, folder, DATE, formats="svg")
        assert_one_sentence(caught.value, start)


# Cautions


MUST = {
    "lead": "lead",
    "cadmium": "cadmium",
    "an alloy without": "bismuth, indium and tin",
    "no overheating": "do not overheat",
    "hot water, not flame": "hot water, never with a flame",
    "gloves": "gloves",
    "ventilation": "ventilation",
    "no food": "no food",
    "residue": "collect every residue",
    "mouth": "never in a part that is blown by mouth",
    "silver solder": "silver solder: cadmium-free",
    "pickle": "pickling acid",
    "oil and water": "oil or water in a tube that is annealed",
    "dust": "wood dust",
    "codes": "local codes and licensed practice",
    "law": "law of your country",
}


def plain(text: str) -> str:
    return " ".join(text.split()).lower()


@pytest.mark.parametrize("what", MUST)
def test_cautions_are_read_back_from_the_pdf(folder, what):
    pages = pypdfium2.PdfDocument(str(next(folder.glob("*.pdf"))))
    assert MUST[what] in plain(" ".join(page.get_textpage().get_text_bounded() for page in pages))


def test_every_page_of_the_bend_sheet_warns_of_filler_and_solder(folder):
    for page in pypdfium2.PdfDocument(str(next(folder.glob("*.pdf")))):
        said = plain(page.get_textpage().get_text_bounded())
        for words in ("contain lead and often cadmium", "never with a flame", "cadmium-free only", "pickling acid"):
            assert words in said


def test_every_hazard_has_a_source():
    said = " ".join(source for _, source in cautions.SOURCES)
    for body in ("OSHA 29 CFR 1910.1027", "OSHA 29 CFR 1910.1025", "HSE", "IARC"):
        assert body in said
    assert {cautions.SILVER, cautions.PICKLE, cautions.LICENSED, cautions.LAW} <= set(STAPLE), "it is soldered"


@pytest.mark.parametrize("path", sorted(NOTEBOOKS.glob("*.ipynb")), ids=lambda path: path.stem[:2])
def test_pages_about_bending_and_soldering_carry_their_cautions(path):
    """A page that tells the maker to solder or to bend shows what can do harm, in its words or in an output."""
    notebook = nbformat.read(path, as_version=4)
    told = plain(" ".join(cell.source for cell in notebook.cells if cell.cell_type == "markdown"))
    shown = told + " " + plain(str([cell.get("outputs", []) for cell in notebook.cells]))
    if re.search(r"silver solder|you solder|soldered", told):
        assert "cadmium-free" in shown
        assert re.search(r"(law|rules) of your country", shown)
    if re.search(r"\b(filler|anneal\w*|bend it|bend the tube)\b", told):
        assert not [words for words in MUST.values() if words not in shown]
