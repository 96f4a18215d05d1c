"""From a key press on a slider to the new picture on screen, in JupyterLab and chromium, printed.

Run: python tests/benchmarks/latency.py
"""

import pathlib
import statistics
import sys
import tempfile
import time
from dataclasses import replace

sys.path.insert(0, str(pathlib.Path(__file__).parents[2]))

import acoustics as ac
from acoustics.tuning.setup import Setup
from acoustics.view.board import Board
from tests.browser.lab import browser, lab, open_notebook, slider

STEPS = 60
PAGE, DIAL = "02-why-does-the-staple-taper.ipynb", "depth in the wood, mm"
WATCH = """
() => {
    const picture = [...document.querySelectorAll('img.widget-image')][0];
    window.spent = [];
    window.pressed = null;
    picture.addEventListener('load', () => requestAnimationFrame(() => {
        if (window.pressed !== null) { window.spent.push(performance.now() - window.pressed); window.pressed = null; }
    }));
    document.addEventListener('keydown', () => { window.pressed = performance.now(); }, true);
}
"""


def in_browser() -> list[float]:
    """Milliseconds of each step on screen."""
    with tempfile.TemporaryDirectory() as folder, lab(pathlib.Path(folder)) as address, browser() as chromium:
        page = chromium.new_page(viewport={"width": 1400, "height": 1000})
        open_notebook(page, address, PAGE)
        slider(page, DIAL).focus()
        page.evaluate(WATCH)
        for i in range(STEPS):
            page.keyboard.press("ArrowRight" if i // 6 % 2 == 0 else "ArrowLeft")
            page.wait_for_function("() => window.pressed === null", timeout=5000)
            page.wait_for_timeout(150)
        return page.evaluate("() => window.spent")


def without_browser() -> tuple[float, float]:
    """Median milliseconds of the physics and of the drawing of one step."""
    design = pathlib.Path(__file__).parents[2] / "notebooks" / "designs" / "sallow-ford-1.toml"
    setup = Setup(ac.read_design(design))
    board = Board(setup)
    physics, drawing = [], []
    for i in range(STEPS):
        deeper = replace(setup.base, staple=replace(setup.base.staple, insertion_mm=15.0 + 0.1 * (i % 7)))
        start = time.perf_counter()
        moved = Setup(deeper)
        rows = moved.chart.rows
        middle = time.perf_counter()
        board.png(moved, setup)
        physics.append(middle - start)
        drawing.append(time.perf_counter() - middle)
        assert len(rows) == 26
    return 1e3 * statistics.median(physics), 1e3 * statistics.median(drawing)


if __name__ == "__main__":
    spent = sorted(in_browser())
    physics, drawing = without_browser()
    median = statistics.median(spent)
    print(f"{len(spent)} slider steps on screen: median {median:.0f} ms, p95 {spent[int(0.95 * len(spent))]:.0f} ms")
    print(
        f"of the median: physics {physics:.0f} ms, drawing {drawing:.0f} ms, transport and browser the other ", end=""
    )
    print(f"{median - physics - drawing:.0f} ms")
