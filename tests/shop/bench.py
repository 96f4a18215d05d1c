"""Pages of the sample chanters, for the tests of the shop."""

from functools import cache

from acoustics.pipes.chanter import Chanter
from acoustics.shop.drawing_1to1 import Page
from acoustics.shop.frame import framed
from acoustics.shop.sheets import Paper, papers
from acoustics.shop.workshop import Workshop
from tests.pipes.sample import sample_chanter
from tests.tuning.bench import demo

DATE = "1 May 2031"
PIPES = {"sample": sample_chanter, "demo": demo}


@cache
def sheets_of(name: str, left_handed: bool = False) -> tuple[Paper, ...]:
    """The six sheets of one of the two chanters."""
    return papers(PIPES[name](), DATE, Workshop(), left_handed)


def pages_of(sheet: Paper, paper: str) -> tuple[Page, ...]:
    """The sheet on that paper."""
    return framed(sheet.blocks, sheet.stamp, paper)


def every_page(pipe: Chanter, paper: str, shop: Workshop | None = None, **how):
    """(sheet, page) for all pages of all sheets."""
    for sheet in papers(pipe, DATE, shop or Workshop(), **how):
        for page in pages_of(sheet, paper):
            yield sheet, page
