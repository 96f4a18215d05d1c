"""Files read back by others: PDF as pixels, SVG as XML, DXF by another library; written all or not at all."""

import io
import math
import os
from functools import cache
from xml.dom import minidom

import ezdxf
import numpy as np
import pypdfium2
import pytest

from acoustics.errors import Refusal
from acoustics.shop.drawing_1to1 import Arc, Circle, Line, Page, Polyline, Text
from acoustics.shop.dxf import dxf_bytes
from acoustics.shop.frame import PAPERS_MM
from acoustics.shop.hole_list import drilling_list
from acoustics.shop.pdf import pdf_bytes
from acoustics.shop.sheets import FORMATS, stem_of, write_sheets
from acoustics.shop.staple_pattern import staple_pattern
from acoustics.shop.svg import svg_bytes
from acoustics.shop.workshop import Workshop
from tests.pipes.sample import assert_one_sentence, sample_chanter
from tests.shop.bench import DATE, PIPES, pages_of, sheets_of
from tests.tuning.bench import demo

DPI = 1200
CORNER_MM = (66.0, 40.0)  # the lower left corner of a page, where the check rules are


@cache
def written(folder: str, paper: str = "A4") -> tuple:
    return tuple(write_sheets(demo(), folder, DATE, paper, FORMATS))


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A folder with all sheets of the demo chanter on A4."""
    path = tmp_path_factory.mktemp("sheets")
    written(str(path))
    return path


# PDF, as pixels


def ink(page, dpi: int, crop=(0.0, 0.0, 0.0, 0.0)) -> np.ndarray:
    """Darkness 0 to 1 of a PDF page, row by row from the top."""
    return 1.0 - np.asarray(page.render(scale=dpi / 72.0, grayscale=True, crop=crop).to_pil(), float) / 255.0


def strokes(row: np.ndarray) -> list[float]:
    """Middles of the dark runs of one row of pixels."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0.0], row > 0.3, [0.0]]).astype(int)))
    runs = edges.reshape(-1, 2)
    return [float(np.average(np.arange(a, b), weights=row[a:b])) for a, b in runs]


def rules_mm(page) -> list[float]:
    """Distances between the long end ticks of rules in the lower left corner [mm]: found in the pixels alone.

    A row of pixels that meets just two thin strokes between 10 and 66 mm from the left, 40 to 60 mm
    apart, crosses the end ticks above the short ones.
    """
    mm, (width, height) = DPI / 25.4, page.get_size()
    crop = (0.0, 0.0, width - CORNER_MM[0] / 25.4 * 72.0, height - CORNER_MM[1] / 25.4 * 72.0)
    dark = ink(page, DPI, crop)
    found = []
    for level in np.arange(11.0, 39.0, 0.25):  # from the lower edge of the paper
        row = dark[int(dark.shape[0] - level * mm), int(10 * mm) :]
        middles = strokes(row)
        if len(middles) == 2 and 40.0 < (middles[1] - middles[0]) / mm < 60.0:
            found.append((middles[1] - middles[0]) / mm)
    return found


@pytest.mark.parametrize("paper", PAPERS_MM)
def test_check_rules_measure_50_mm_and_2_inches_on_every_page(paper, tmp_path):
    seen = 0
    for path in written(str(tmp_path), paper):
        if path.suffix != ".pdf":
            continue
        for page in pypdfium2.PdfDocument(str(path)):
            size = [length / 72.0 * 25.4 for length in page.get_size()]
            assert size == pytest.approx(PAPERS_MM[paper], abs=0.01)
            found = rules_mm(page)
            fifty = [length for length in found if length < 50.4]
            inches = [length for length in found if length >= 50.4]
            assert len(fifty) >= 3
            assert len(inches) >= 3
            assert max(abs(length - 50.0) for length in fifty) <= 0.1
            assert max(abs(length - 50.8) for length in inches) <= 0.1
            seen += 1
    assert seen >= 6


def test_holes_lie_in_the_pdf_where_they_should(folder):
    """From the end of the wood to the holes' middles, measured on the axis of the first view in pixels."""
    page = pypdfium2.PdfDocument(str(next(folder.glob("*3-holes.pdf"))))[0]
    dark, mm = ink(page, 600), 600 / 25.4
    sheet = next(s for s in sheets_of("demo") if s.name == "3-holes")
    (window,) = pages_of(sheet, "A4")[0].windows
    circles = [i for i in window.items if isinstance(i, Circle) and i.pen == "cut"]
    top = next(i for i in window.items if isinstance(i, Polyline))
    axis_y, start = circles[0].y, top.points[0][0]
    row = dark[round(dark.shape[0] - (axis_y + 1.0) * mm)]
    middles = np.array(strokes(row)) / mm
    wood = middles[np.argmin(abs(middles - start))]
    for line in drilling_list(demo(), Workshop()):
        if line.face != "front" or line.mark_top_mm > 240.0:
            continue
        chord = math.sqrt((line.across_mm / 2.0) ** 2 - 1.0)  # one millimetre above the axis
        for side in (-1.0, 1.0):
            wanted = wood + line.mark_top_mm + side * chord
            assert np.min(abs(middles - wanted)) <= 0.1, line.name


def test_the_text_of_the_pdf_can_be_read(folder):
    pages = pypdfium2.PdfDocument(str(next(folder.glob("*1-staple.pdf"))))
    said = pages[0].get_textpage().get_text_bounded()
    assert "cadmium-free solder" in said
    assert DATE in said
    told = pages.get_metadata_dict()
    assert told["Title"] == "Sallow Ford 1: 1  Staple: flat pattern and mandrels"
    assert not told["CreationDate"]
    assert not told["ModDate"]
    assert not told["Producer"]


def test_nothing_is_drawn_outside_the_border(folder):
    for path in sorted(folder.glob("*.pdf")):
        for page in pypdfium2.PdfDocument(str(path)):
            dark = ink(page, 100)
            edge = int(8.5 / 25.4 * 100)
            dark[edge:-edge, edge:-edge] = 0.0
            assert dark.max() == 0.0, path.name


# SVG, read as XML


def svg_lines(document):
    names = ("x1", "y1", "x2", "y2")
    return [[float(e.getAttribute(n)) for n in names] for e in document.getElementsByTagName("line")]


def test_svg_is_in_millimetres_with_exact_rules_and_holes(folder):
    for path in sorted(folder.glob("*.svg")):
        document = minidom.parse(str(path))
        root = document.documentElement
        assert (root.getAttribute("width"), root.getAttribute("height")) == ("297mm", "210mm")
        assert root.getAttribute("viewBox") == "0 0 297 210"
        lengths = [x2 - x1 for x1, y1, x2, y2 in svg_lines(document) if y1 == y2]
        assert sum(abs(length - 50.0) < 1e-5 for length in lengths) == 1, path.name
        assert sum(abs(length - 50.8) < 1e-5 for length in lengths) == 1, path.name


def test_svg_holes_are_where_the_list_says(folder):
    """Middles of the circles against the left end of the wood, on both pages together every hole."""
    wanted = {line.name: line for line in drilling_list(demo(), Workshop())}
    found = set()
    for path in sorted(folder.glob("*3-holes-*.svg"))[:2]:
        document = minidom.parse(str(path))
        outline = next(e for e in document.getElementsByTagName("polygon") if e.getAttribute("class") == "outline")
        start = float(outline.getAttribute("points").split(",")[0])
        for circle in document.getElementsByTagName("circle"):
            if circle.getAttribute("class") != "cut":
                continue
            at = float(circle.getAttribute("cx")) - start
            radius = float(circle.getAttribute("r"))
            (line,) = [li for li in wanted.values() if abs(li.mark_top_mm - at) < 1e-4]
            assert radius == pytest.approx(line.across_mm / 2.0, abs=1e-5)
            found.add(line.name)
    assert found == set(wanted)


def test_svg_clips_its_windows(folder):
    document = minidom.parse(str(next(folder.glob("*3-holes-1of3.svg"))))
    (rect,) = [r for c in document.getElementsByTagName("clipPath") for r in c.getElementsByTagName("rect")]
    assert float(rect.getAttribute("width")) < 297.0 - 18.0
    (group,) = document.getElementsByTagName("g")
    assert group.getAttribute("clip-path") == "url(#window-1)"


def test_svg_and_pdf_of_odd_shapes():
    page = Page(
        100.0, 80.0, (Arc(50.0, 40.0, 20.0, 10.0, 300.0), Text(5.0, 5.0, "x^2 & <b> $a$ 'é' \u6f22", turned=True))
    )
    text = svg_bytes(page, "a & b").decode()
    assert "A 20 20 0 1 0" in text
    assert "&amp; &lt;b&gt;" in text
    assert pdf_bytes((page,), "a").startswith(b"%PDF")


# DXF, read by another library


def read_dxf(data: bytes):
    document = ezdxf.read(io.StringIO(data.decode("cp1252")))
    auditor = document.audit()
    assert not auditor.errors
    return document.modelspace()


def test_dxf_has_exact_rules_and_holes(folder):
    for path in sorted(folder.glob("*.dxf")):
        space = read_dxf(path.read_bytes())
        level = [e for e in space.query('LINE[layer=="rule"]') if e.dxf.start.y == e.dxf.end.y]
        lengths = sorted(e.dxf.end.x - e.dxf.start.x for e in level)
        assert lengths == pytest.approx([50.0, 50.8], abs=1e-8)
        said = " ".join(e.dxf.text for e in space.query("TEXT"))
        assert "Sallow Ford 1" in said
        assert DATE in said
        assert "\\U+" not in said
        assert "?" not in said
    space = read_dxf(next(folder.glob("*3-holes.dxf")).read_bytes())
    circles = {(round(c.dxf.center.x, 7), round(c.dxf.radius, 7)) for c in space.query('CIRCLE[layer=="cut"]')}
    lines = drilling_list(demo(), Workshop())
    assert circles == {(round(line.mark_top_mm, 7), round(line.across_mm / 2.0, 7)) for line in lines}


def test_dxf_pattern_is_the_developed_cone(folder):
    space = read_dxf(next(folder.glob("*1-staple.dxf")).read_bytes())
    pattern = staple_pattern(demo().staple, Workshop())
    arcs = sorted(space.query('ARC[layer=="cut"]'), key=lambda a: a.dxf.radius)
    assert [a.dxf.radius for a in arcs] == pytest.approx(pattern.cut_radii_mm, abs=1e-8)
    finished = sorted(space.query('ARC[layer=="hidden"]'), key=lambda a: a.dxf.radius)
    assert [a.dxf.radius for a in finished] == pytest.approx(pattern.frustum.radii_mm, abs=1e-8)
    for arc, length in zip(finished, pattern.frustum.arcs_mm, strict=True):
        opening = (arc.dxf.end_angle - arc.dxf.start_angle) % 360.0
        assert math.radians(opening) * arc.dxf.radius == pytest.approx(length, abs=1e-6)
    edges = [e for e in space.query('LINE[layer=="cut"]')]
    corners = {(round(p.x, 6), round(p.y, 6)) for e in edges for p in (e.dxf.start, e.dxf.end)}
    ends = {(round(p.x, 6), round(p.y, 6)) for a in arcs for p in (a.start_point, a.end_point)}
    assert corners == ends, "the cut outline is closed"


def test_dxf_of_every_kind_of_item():
    items = (
        Line(0.0, 0.0, 1.0, 2.0),
        Circle(1.0, 1.0, 3.0, "thin"),
        Arc(0.0, 0.0, 2.0, -30.0, 60.0),
        Polyline(((0.0, 0.0), (4.0, 0.0), (4.0, 3.0)), True),
        Text(1.0, 2.0, "⌀5 50%% ^ é", anchor="end", turned=True),
    )
    space = read_dxf(dxf_bytes(items, "naïve"))
    assert [e.dxftype() for e in space] == ["LINE", "CIRCLE", "ARC", "POLYLINE", "TEXT"]
    arc = next(iter(space.query("ARC")))
    assert (arc.dxf.start_angle, arc.dxf.end_angle) == (330.0, 60.0)
    line = next(iter(space.query("POLYLINE")))
    assert line.is_closed
    assert [tuple(p)[:2] for p in line.points()] == [(0.0, 0.0), (4.0, 0.0), (4.0, 3.0)]
    text = next(iter(space.query("TEXT")))
    assert text.dxf.rotation == 90.0
    assert text.dxf.align_point.x == 1.0
    assert text.plain_text() == "Ø5 50% % ^ é"


# Written all or not at all


def test_names_and_order_of_the_files(folder):
    names = [path.name for path in written(str(folder))]
    assert sorted(names) == sorted(os.listdir(folder))
    for number, what in enumerate(("staple", "bore", "holes", "outside", "reed", "wood"), 1):
        assert f"sallow-ford-1-{number}-{what}.pdf" in names
    assert [n for n in names if n.endswith(".dxf")] == [
        f"sallow-ford-1-{end}.dxf" for end in ("1-staple", "3-holes", "4-outside", "5-reed")
    ]


def test_the_same_bytes_at_every_run(folder, tmp_path):
    import matplotlib

    with matplotlib.rc_context({"font.size": 30.0, "pdf.fonttype": 3, "lines.linewidth": 9.0, "font.family": "serif"}):
        again = write_sheets(demo(), tmp_path, DATE, formats=FORMATS)
    for path in again:
        assert path.read_bytes() == (folder / path.name).read_bytes(), path.name


def test_nothing_is_overwritten_unless_said(tmp_path):
    paths = write_sheets(sample_chanter(), tmp_path, DATE, formats="svg")
    before = {path: path.read_bytes() for path in paths}
    with pytest.raises(Refusal) as caught:
        write_sheets(sample_chanter(), tmp_path, "2 May 2031", formats=("dxf", "svg"))
    assert_one_sentence(caught.value, str(paths[0]))
    assert {path: path.read_bytes() for path in tmp_path.iterdir()} == before
    assert write_sheets(sample_chanter(), tmp_path, "2 May 2031", formats="svg", overwrite=True) == paths
    assert all(path.read_bytes() != before[path] for path in paths)


REFUSED = {
    "pipe": ({"pipe": "a pipe"}, "pipe: 'a pipe' is not a chanter"),
    "date": ({"date": ""}, "date: '' is empty"),
    "no date": ({"date": None}, "date: None is not text"),
    "paper": ({"paper": "A5"}, "paper: 'A5' is not a paper"),
    "format": ({"formats": ("png",)}, "formats: 'png' is not a format"),
    "no format": ({"formats": ()}, "formats: there is no format in the list"),
    "format of a number": ({"formats": 5}, "formats: 5 is not a list of formats"),
    "no drills": ({"drills": ()}, "drills: there is no drill in the list"),
    "drills too large": ({"drills": (8.0,)}, 'hole "back D", drills: no drill of the list is 5 mm or smaller'),
    "shop": ({"shop": 5}, "shop: 5 is not a workshop"),
    "side": ({"on_the_left": ["A"]}, "on_the_left: 'A' is not a hole at the side"),
    "folder": ({"folder": "missing/here"}, "missing/here: there is no such folder"),
    "folder of a number": ({"folder": 5}, "file: 5 is not a file name"),
}


@pytest.mark.parametrize(("change", "start"), REFUSED.values(), ids=REFUSED)
def test_impossible_demands_write_nothing(change, start, tmp_path):
    given = {"pipe": sample_chanter(), "folder": tmp_path, "date": DATE} | change
    with pytest.raises(Refusal) as caught:
        write_sheets(**given)
    assert_one_sentence(caught.value, start)
    assert list(tmp_path.iterdir()) == []


def failing_third(monkeypatch, step: str) -> None:
    """A disk on which a step of the machine goes wrong at the third file."""
    real, count = getattr(os, step), iter(range(99))

    def failing(*arguments):
        if next(count) == 2:
            raise OSError(28, "No space left on device")
        return real(*arguments)

    monkeypatch.setattr(os, step, failing)


@pytest.mark.parametrize(("step", "overwrite"), [("fsync", False), ("replace", True)])
def test_a_disk_that_fails_halfway_leaves_nothing(tmp_path, monkeypatch, step, overwrite):
    """The third file cannot be written, or not be moved to its place: the first two are taken away again."""
    failing_third(monkeypatch, step)
    with pytest.raises(Refusal) as caught:
        write_sheets(sample_chanter(), tmp_path, DATE, formats="svg", overwrite=overwrite)
    assert_one_sentence(caught.value, f"{tmp_path}: the sheets cannot be saved (no space left on device)")
    assert list(tmp_path.iterdir()) == []


def test_old_sheets_stay_when_new_ones_cannot_replace_them(tmp_path, monkeypatch):
    paths = write_sheets(sample_chanter(), tmp_path, DATE, formats="svg")
    before = {path: path.read_bytes() for path in paths}
    failing_third(monkeypatch, "replace")
    with pytest.raises(Refusal, match="the sheets cannot be saved"):
        write_sheets(sample_chanter(), tmp_path, "2 May 2031", formats="svg", overwrite=True)
    assert {path: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_stems():
    assert stem_of("Sliabh Bán, invented") == "sliabh-ban-invented"
    assert stem_of("../../etc") == "etc"
    assert stem_of("漢") == "chanter"
    assert len(stem_of("x" * 80)) <= 40


@pytest.mark.parametrize("name", PIPES)
def test_own_drills_reach_the_sheets(name, tmp_path):
    paths = write_sheets(PIPES[name](), tmp_path, DATE, formats="svg", drills=("letter", "number"), left_handed=True)
    said = "".join(path.read_text(encoding="utf-8") for path in paths)
    assert "letter " in said
    assert "LEFT-HANDED" in said
