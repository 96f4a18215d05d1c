"""Pages before they are written: nothing overlaps, nothing leaves the border, tiles join, every page is stamped."""

from dataclasses import replace
from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import assume, given, settings

from acoustics.errors import Refusal
from acoustics.pipes.bore import Body, Bore
from acoustics.pipes.design_file import revision
from acoustics.shop.drawing_1to1 import Arc, Circle, Line, Plan, Polyline, Text, box_of, dimension, oval
from acoustics.shop.frame import MARGIN_MM, PAPERS_MM, paper_mm
from acoustics.shop.layout import Paragraph
from acoustics.shop.lettering import drawable, fitted, width_mm, wrapped
from acoustics.shop.paper_holes import EDGES, holes_plan, label_rows
from acoustics.shop.sheets import papers
from acoustics.shop.tiles import OVERLAP_MM, tiles
from acoustics.shop.workshop import Workshop
from tests.pipes.sample import assert_one_sentence, sample_chanter
from tests.pipes.strategies import chanters
from tests.shop.bench import DATE, PIPES, every_page, pages_of, sheets_of
from tests.tuning.bench import demo

CASES = [(name, paper) for name in PIPES for paper in PAPERS_MM]


def texts(page):
    """All texts of a page, those in windows too."""
    return [i for i in (*page.items, *(i for w in page.windows for i in w.items)) if isinstance(i, Text)]


def overlap(a, b) -> float:
    """How deep two boxes lie in each other [mm], 0 or less when apart."""
    return min(a[2], b[2]) - max(a[0], b[0]) if min(a[3], b[3]) - max(a[1], b[1]) > 0.15 else 0.0


def assert_tidy(page):
    """Every text inside the border and clear of every other; every line of the page inside the border."""
    inner = (MARGIN_MM, MARGIN_MM, page.width - MARGIN_MM, page.height - MARGIN_MM)
    drawn = (*page.items, *texts(page))
    left, low, right, high = np.array([item.box for item in drawn]).T
    out = np.flatnonzero(
        (left < inner[0] - 1e-6) | (low < inner[1] - 1e-6) | (right > inner[2] + 1e-6) | (high > inner[3] + 1e-6)
    )
    assert not out.size, [drawn[i] for i in out]
    for window in page.windows:
        assert window.box[0] >= inner[0]
        assert window.box[2] <= inner[2]
    words = texts(page)
    left, low, right, high = np.array([text.box for text in words]).T
    across = np.minimum(right[:, None], right) - np.maximum(left[:, None], left)
    down = np.minimum(high[:, None], high) - np.maximum(low[:, None], low)
    meet = np.argwhere(np.triu((across > 0.05) & (down > 0.15), 1))
    assert not meet.size, [(words[i], words[j]) for i, j in meet]


@pytest.mark.parametrize(("name", "paper"), CASES)
@pytest.mark.parametrize("left_handed", [False, True])
def test_no_text_meets_another_or_the_border(name, paper, left_handed):
    for sheet in sheets_of(name, left_handed):
        for page in pages_of(sheet, paper):
            assert (page.width, page.height) == PAPERS_MM[paper]
            assert_tidy(page)


@pytest.mark.parametrize(("name", "paper"), CASES)
def test_no_line_crosses_a_text_of_a_table_or_a_note(name, paper):
    """Lines of the page itself (tables, strip, joins) against its own texts; drawings have leaders and axes."""
    for sheet in sheets_of(name):
        if any(isinstance(block, Plan) for block in sheet.blocks):
            continue
        for page in pages_of(sheet, paper):
            lines = [item for item in page.items if isinstance(item, Line)]
            for text in texts(page):
                for line in lines:
                    left, low, right, high = line.box
                    inside = left < text.box[2] and right > text.box[0] and low < text.box[3] and high > text.box[1]
                    assert not inside or overlap(text.box, line.box) <= 0.1, (text, line)


@settings(deadline=None, max_examples=25)
@given(chanters())
def test_random_chanters_make_tidy_pages_or_one_sentence(pipe):
    try:
        found = list(every_page(pipe, "A4"))
    except Refusal as refusal:
        assert_one_sentence(refusal, "")
        return
    assume(found)
    for _, page in found:
        assert_tidy(page)


@pytest.mark.parametrize("length_mm", range(300, 540, 12))
def test_pipes_of_any_length_have_whole_titles_at_both_ends_of_the_holes(length_mm):
    """A title at the foot is shorter than tiles overlap, so that one of them has it whole."""
    bore, body = Bore([(0.0, 5.5), (length_mm, 13.0)]), Body([(0.0, 26.0), (length_mm, 30.0)])
    plan = holes_plan(replace(demo(), bore=bore, body=body, holes=()), ())
    first, *_, last = tiles(plan, (10.0, 10.0, 285.0, 190.0))
    for content in (first, last):
        (window,) = content.windows
        titles = [item for item in window.items if isinstance(item, Text) and "from the" in item.text.lower()]
        assert titles
        for title in titles:
            assert window.box[0] <= title.box[0]
            assert title.box[2] <= window.box[2]


@pytest.mark.parametrize(("name", "paper"), CASES)
def test_every_page_says_whose_and_which_it_is(name, paper):
    pipe = PIPES[name]()
    for sheet in sheets_of(name):
        found = pages_of(sheet, paper)
        for n, page in enumerate(found, 1):
            said = " ".join(text.text for text in texts(page))
            assert pipe.name in said
            assert f"date {DATE}, revision {revision(pipe)}" in said
            assert f"page {n} of {len(found)}" in said
            assert "Tolerances:" in said
            assert "±" in said
            assert "The law of your country and the makers' safety sheets come first." in said
            assert {"50 mm", "2 in"} <= {text.text for text in texts(page)}


def test_cautions_that_matter_stand_on_their_sheets():
    said = {sheet.name: sheet.stamp.cautions.lower() for sheet in sheets_of("demo")}
    for name in ("2-bore", "3-holes", "4-outside", "6-wood"):
        assert "dust" in said[name]
    assert "reamer" in said["2-bore"]
    assert "lathe" in said["4-outside"]
    assert "torch" in said["1-staple"]
    assert "cadmium-free solder" in said["1-staple"]
    (wood,) = [sheet for sheet in sheets_of("demo") if sheet.name == "6-wood"]
    words = " ".join(block.words for block in wood.blocks if isinstance(block, Paragraph))
    assert "only the authority of your country can tell" in words.replace("\n", " ")
    assert "oval" in words
    for said_there in ("lathe", "reamer", "rags"):
        assert said_there in said["6-wood"], "it is turned, bored and oiled"


@pytest.mark.parametrize(("wide", "minded"), [(4.6, False), (4.7, True)])
def test_a_key_wider_in_the_wall_than_in_its_block_is_minded(wide, minded):
    """The block of the sample's C natural is bored 4.6 and then 5.0 mm: a wider drill does not pass."""
    pipe = sample_chanter()
    holes = [replace(h, diameter_mm=wide) if h.name == "C natural" else h for h in pipe.holes]
    (sheet,) = [s for s in papers(replace(pipe, holes=holes), DATE, Workshop()) if s.name == "3-holes"]
    said = [block.words for block in sheet.blocks if isinstance(block, Paragraph)]
    assert any(words.startswith("Mind: C natural: ") for words in said) == minded
    for page in pages_of(sheet, "A4"):
        assert_tidy(page)


def test_revision_is_the_hash_of_the_design_file(tmp_path):
    import hashlib

    from acoustics.pipes.design_file import write_design

    write_design(sample_chanter(), tmp_path / "a.toml")
    digest = hashlib.sha256((tmp_path / "a.toml").read_bytes()).hexdigest()
    assert revision(sample_chanter()) == digest[:8]


# Tiles


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_tiles_overlap_and_join_on_the_same_place_of_the_drawing(paper):
    (sheet,) = [s for s in sheets_of("demo") if s.name == "3-holes"]
    (plan,) = [block for block in sheet.blocks if isinstance(block, Plan)]
    width, height = PAPERS_MM[paper]
    area = (13.0, 45.0, width - 13.0, height - 13.0)
    first, second = tiles(plan, area)

    def joins(content):
        return [i.x1 for i in content.items if isinstance(i, Line) and i.pen == "join"]

    def marks(content, join):
        """Ticks of the scales within 15 mm of the join, seen from the join."""
        found = [i for w in content.windows for i in w.items if isinstance(i, Line) and i.x1 == i.x2]
        near = [i for i in found if abs(i.x1 - join) < OVERLAP_MM / 2.0]
        return sorted((round(i.x1 - join, 6), round(i.y1, 6), round(i.y2, 6)) for i in near)

    (left,), (right,) = joins(first), joins(second)
    assert marks(first, left) == marks(second, right) != []
    for content, join in ((first, left), (second, right)):
        box = content.windows[0].box
        assert box[0] + OVERLAP_MM / 2.0 - 1e-9 <= join <= box[2] - OVERLAP_MM / 2.0 + 1e-9
    for content, join in ((first, left), (second, right)):
        for circle in (i for w in content.windows for i in w.items if isinstance(i, Circle) and i.pen == "cut"):
            assert abs(circle.x - join) - circle.radius >= 3.0, "no hole is cut through"


def test_a_plan_larger_both_ways_is_covered_whole():
    marks = tuple(Circle(x, y, 1.0, "thin") for x in range(0, 701, 50) for y in range(0, 401, 50))
    area = (13.0, 45.0, 284.0, 197.0)
    found = tiles(Plan("large", (*marks, Text(350.0, 200.0, "middle"))), area)
    wide, tall = found[0].windows[0].box[2] - found[0].windows[0].box[0], 152.0 - 7.0
    assert len(found) == 3 * 4
    seen = set()
    for content in found:
        (window,) = content.windows
        assert window.box[2] - window.box[0] == wide
        assert window.box[3] - window.box[1] == pytest.approx(tall)
        names = [i.text for i in content.items if isinstance(i, Text) and len(i.text) == 1]
        assert len(names) % 2 == 0
        seen |= {i for i in window.items if isinstance(i, Circle) and window.box[0] <= i.x <= window.box[2]}
    assert len(seen) >= len(marks)
    assert any(isinstance(i, Text) and i.text == "middle" for c in found for w in c.windows for i in w.items)


def test_a3_holds_a_chanter_in_one_piece():
    (sheet,) = [s for s in sheets_of("demo") if s.name == "3-holes"]
    assert not any(page.windows for page in pages_of(sheet, "A3"))
    assert len([page for page in pages_of(sheet, "A4") if page.windows]) == 2


def test_no_such_paper():
    with pytest.raises(Refusal) as caught:
        paper_mm("A5")
    assert_one_sentence(caught.value, "paper: 'A5' is not a paper")


# Left-handed


def test_a_left_handed_set_is_the_mirror():
    """Faces swap; the side's holes are marked on the other edge of the view from the front."""
    from acoustics.shop.hole_list import drilling_list

    pipe = sample_chanter()
    marks = {}
    for hand in (False, True):
        plan = holes_plan(pipe, drilling_list(pipe, Workshop(), hand))
        axis = next(i.y1 for i in plan.items if isinstance(i, Line) and i.pen == "axis")
        rims = [i for i in plan.items if isinstance(i, Line) and i.pen == "outline" and abs(i.y1 - axis) < 15.0]
        marks[hand] = sorted((i.x1, round(i.y1 - axis, 9)) for i in rims)
        titles = [i.text for i in plan.items if isinstance(i, Text) and i.text.startswith("Seen")]
        assert any("its left" in t for t in titles) == hand
    assert len(marks[False]) == 4
    assert marks[True] == [(x, -y) for x, y in marks[False]]
    assert EDGES["front"]["right"] == -EDGES["back"]["right"] == 1.0
    assert "left-handed" in sheets_of("sample", True)[2].stamp.title


# Small things


def test_labels_never_cover_each_other():
    labels = [(float(x), f"a long name {x}") for x in range(0, 60, 4)]
    rows = label_rows(labels)
    for (i, (x1, w1)), (j, (x2, w2)) in combinations(enumerate(labels), 2):
        assert x1 < x2
        if rows[i] <= rows[j]:
            assert x1 + width_mm(w1, 2.5) < x2, (w1, w2)


def test_lettering():
    assert width_mm("mm", 6.0) == pytest.approx(2.0 * width_mm("mm", 3.0))
    assert width_mm("", 3.0) == 0.0
    assert fitted("a long line of words", 3.0, 12.0).endswith("…")
    lines = wrapped("many words that need more than one line to stand in", 3.0, 25.0)
    assert len(lines) > 2
    assert all(width_mm(line, 3.0) <= 25.0 for line in lines)
    assert drawable("a\U000e0001b") == "a?b"


def test_boxes():
    assert Arc(0.0, 0.0, 2.0, -30.0, 100.0).box == pytest.approx((2.0 * -0.17364818, -1.0, 2.0, 2.0))
    assert oval(0.0, 0.0, 4.0, 4.0) == Circle(0.0, 0.0, 2.0)
    assert oval(0.0, 0.0, 6.0, 4.0).box == pytest.approx((-3.0, -2.0, 3.0, 2.0))
    level = dimension(0.0, 0.0, 40.0, 0.0, 5.0, "40")
    assert any(isinstance(i, Line) and (i.x1, i.y1, i.x2, i.y2) == (0.0, 5.0, 40.0, 5.0) for i in level)
    assert box_of([Polyline(((0.0, 1.0), (2.0, -1.0)))]) == (0.0, -1.0, 2.0, 1.0)
    assert all(a <= b for a, b in pairwise((level[-1].box[0], level[-1].box[2])))
