"""The panel of the played page in a real browser: sliders by keyboard, another note, sound, no console errors."""

import re

import pytest

from .lab import browser, lab, open_notebook, press
from .test_panels import ours

pytestmark = pytest.mark.browser

NAME = "08-will-it-jump-and-will-it-stay.ipynb"


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    with lab(tmp_path_factory.mktemp("lab")) as address, browser() as chromium:
        opened = chromium.new_page(viewport={"width": 1400, "height": 1000})
        wrong = []
        opened.on("pageerror", lambda error: wrong.append(str(error)))
        opened.on("console", lambda said: wrong.append(said.text) if said.type == "error" and ours(said.text) else None)
        open_notebook(opened, address, NAME)
        yield opened
        opened.close()
        assert not wrong


@pytest.fixture
def panel(page):
    return page.locator(".widget-hbox:has(.widget-label:text-is('in the bag, kPa')):has(img.widget-image)").last


def said(panel):
    return panel.locator(".widget-html p").last


def changes(page, panel, does):
    """Whether words and picture are others within 20 s of what is done."""
    words, picture = said(panel).inner_text(), panel.locator("img.widget-image").first.get_attribute("src")
    does()
    for _ in range(80):
        page.wait_for_timeout(250)
        now = panel.locator("img.widget-image").first.get_attribute("src")
        if said(panel).inner_text() != words and now != picture:
            return True
    return False


def test_the_bag_by_keyboard(page, panel):
    assert "G, first octave at 3.6 kPa" in said(panel).inner_text()
    assert changes(page, panel, lambda: press(page, "in the bag, kPa", "ArrowRight", 1))
    assert re.search(r"at 3\.7 kPa: [+-]?\d+\.\d cents", said(panel).inner_text())


@pytest.mark.parametrize("name", ["lips open, mm²", "shut at, kPa"])
def test_the_reed_by_keyboard(page, panel, name):
    assert changes(page, panel, lambda: press(page, name, "ArrowLeft", 1))


def test_another_note(page, panel):
    assert changes(page, panel, lambda: panel.locator("select").first.select_option("A, first octave"))
    assert said(panel).inner_text().startswith("A, first octave at ")


@pytest.mark.parametrize("button", ["Hear it start", "Press and let go"])
def test_sound(page, button):
    player = page.locator("audio").first
    before = player.get_attribute("src")
    page.get_by_role("button", name=button).click()
    for _ in range(120):
        page.wait_for_timeout(250)
        if player.get_attribute("src") != before:
            return
    raise AssertionError("no sound came")
