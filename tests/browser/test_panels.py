"""The panels in a real browser: every slider by keyboard, save, go back, sound, no console errors."""

import re

import pytest

from .lab import browser, lab, open_notebook, press

pytestmark = pytest.mark.browser

NAMES = {
    "02-why-does-the-staple-taper.ipynb": {
        "softness of the blades (0 stiff)": "down",
        "staple length, mm": "down",
        "rolled inside at the eye, mm": None,
        "eye pressed to, mm": None,
        "inside at the foot, mm": None,
        "depth in the wood, mm": "up",
    },
    "03-what-does-the-bore-do.ipynb": {
        "throat wider by, mm": None,
        "foot wider by (reamer), mm": "up",
        "patch, wider by, mm": "up",
        "patch, middle at, mm": None,
        "patch, length, mm": None,
        "rush, wire, mm": None,
        "rush, up from the foot, mm": "down 20",
    },
    "04-what-does-a-hole-do.ipynb": {
        "A: middle at, mm": "down",
        "A: size, mm": "up",
        "A: undercut wider by, mm": "up",
        "A: wall, mm": "down",
        "F natural: pad lifted by, mm": "down 15",
        "A: left open by the tape, %": None,
    },
    "05-what-does-a-cold-room-do.ipynb": {
        "temperature, °C": "up",
        "humidity, %": "up",
        "A of the tuning fork, Hz": "down",
    },
}

# Dials that do nothing until another has been turned: {dial: {other: steps}}.
NEEDS = {
    "patch, middle at, mm": {"patch, wider by, mm": 5},
    "patch, length, mm": {"patch, wider by, mm": 5},
    "rush, wire, mm": {"rush, up from the foot, mm": 10},
    "rush, up from the foot, mm": {"rush, wire, mm": 10},
}
LEFTWARD = {"F natural: pad lifted by, mm", "inside at the foot, mm", "A: left open by the tape, %"}


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    with lab(tmp_path_factory.mktemp("lab")) as served:
        yield served


@pytest.fixture(scope="module")
def chromium():
    with browser() as started:
        yield started


@pytest.fixture(params=list(NAMES))
def page(request, address, chromium):
    opened = chromium.new_page(viewport={"width": 1400, "height": 1000})
    wrong = []
    opened.on("pageerror", lambda error: wrong.append(str(error)))
    opened.on("console", lambda said: wrong.append(said.text) if said.type == "error" and ours(said.text) else None)
    open_notebook(opened, address, request.param)
    opened.notebook = request.param
    yield opened
    opened.close()
    assert not wrong


def ours(text: str) -> bool:
    """Whether a console error comes from the page: not the favicon or news the closed network refuses."""
    return not re.search(r"net::ERR|Failed to load resource|status of 404|news|extensions", text)


def panel_of(page, name):
    return page.locator(f".widget-hbox:has(.widget-label:text-is('{name}')):has(img.widget-image)").last


def test_every_slider_by_keyboard(page):
    """Each dial moves the picture; those whose way is known say so; going back undoes it."""
    for name, way in NAMES[page.notebook].items():
        panel = panel_of(page, name)
        picture, words = panel.locator("img.widget-image").first, panel.locator(".widget-html p").last
        for first, times in NEEDS.get(name, {}).items():
            press(page, first, "ArrowRight", times)
            page.wait_for_timeout(500)
        before = picture.get_attribute("src")
        way, _, times = (way or "").partition(" ")
        press(page, name, "ArrowLeft" if name in LEFTWARD else "ArrowRight", int(times or 4))
        page.wait_for_timeout(700)
        assert picture.get_attribute("src") != before, name
        if way:
            assert re.search(rf"most of all .*?, {way} ", words.inner_text()), (name, words.inner_text())
        panel.get_by_role("button", name="Back to reference").click()
        page.wait_for_timeout(500)
        assert "notes lie within" in words.inner_text()


def test_save_go_back_and_keep(page, tmp_path):
    name = next(iter(NAMES[page.notebook]))
    panel = panel_of(page, name)
    press(page, name, "ArrowRight", 3)
    page.wait_for_timeout(500)
    said = panel.locator(".widget-html p").last
    changed = said.inner_text()
    field = panel.locator("input[type=text]").first
    saved_as = f"saved-{page.notebook[:2]}.toml"
    field.fill(saved_as)
    field.press("Enter")
    panel.get_by_role("button", name="Save design").click()
    panel.get_by_text(f"Saved as {saved_as}.").wait_for(timeout=5000)
    panel.get_by_role("button", name="Save design").click()
    panel.get_by_text(re.compile("already")).wait_for(timeout=5000)
    panel.get_by_role("button", name="Keep as reference").click()
    page.wait_for_timeout(500)
    assert said.inner_text() != changed
    panel.get_by_role("button", name="Back to reference").click()
    panel.get_by_text("Back at the reference.").wait_for(timeout=5000)


def test_sound(page):
    hear = page.get_by_role("button", name="Hear it")
    assert hear.count() == 1
    player = page.locator("audio").first
    silent = player.get_attribute("src")
    hear.click()
    page.wait_for_timeout(1500)
    assert player.get_attribute("src") != silent


def test_questions_check_themselves(page):
    asked = page.locator(".jupyter-widgets.widget-vbox:has(> .widget-radio)")
    assert asked.count() == (4 if page.notebook.startswith("02") else 0)
    for i in range(asked.count()):
        asked.nth(i).locator("input[type=radio]").first.check()
        asked.nth(i).get_by_role("button", name="Check").click()
        asked.nth(i).get_by_text(re.compile(r"^(Right\.|Not so: )")).wait_for(timeout=5000)
