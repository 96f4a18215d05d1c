"""The panels in a real browser: every slider by keyboard, save, go back, sound, no console errors."""

import re

import pytest

from .lab import browser, lab, open_notebook, press

pytestmark = pytest.mark.browser

# What each dial does: {page: {dial: (steps of the keyboard, which part of the sentence, way)}}.
# More air or softer walls near the reed flatten the first octave (the missing tip of the cone, Benade 1976);
# wider near the open end sharpens, narrower flattens (Rayleigh); a longer way to a hole flattens its note,
# a bigger hole sharpens it; warm and damp air is faster.  The rest: the pitch named is measured from another A.
NAMES = {
    "02-why-does-the-staple-taper.ipynb": {
        "softness of the blades (0 stiff)": (4, "most", "down"),
        "staple length, mm": (4, "most", "down"),
        "rolled inside at the eye, mm": (4, "first octave", "down"),
        "eye pressed to, mm": (4, "first octave", "down"),
        "inside at the foot, mm": (-4, "first octave", "up"),
        "depth in the wood, mm": (4, "most", "up"),
    },
    "03-what-does-the-bore-do.ipynb": {
        "throat wider by, mm": (6, "first octave", "down"),
        "foot wider by (reamer), mm": (4, "most", "up"),
        "patch, wider by, mm": (4, "most", "up"),
        "patch, middle at, mm": (-30, "first octave", "down"),
        "patch, length, mm": (10, "first octave", "up"),
        "rush, wire, mm": (10, "first octave", "down"),
        "rush, up from the foot, mm": (20, "most", "down"),
    },
    "04-what-does-a-hole-do.ipynb": {
        "A: middle at, mm": (4, "most", "down"),
        "A: size, mm": (4, "most", "up"),
        "A: undercut wider by, mm": (4, "most", "up"),
        "A: wall, mm": (4, "most", "down"),
        "F natural: pad lifted by, mm": (-15, "most", "down"),
        "A: left open by the tape, %": (-4, "most", "down"),
    },
    "05-what-does-a-cold-room-do.ipynb": {
        "temperature, °C": (4, "most", "up"),
        "humidity, %": (4, "most", "up"),
        "A of the tuning fork, Hz": (4, "most", "down"),
    },
}
SAID = {"most": "most of all .*?, {} ", "first octave": "First octave {} "}

# Dials that do nothing until another has been turned: {dial: {other: steps}}.
NEEDS = {
    "patch, middle at, mm": {"patch, wider by, mm": 10},
    "patch, length, mm": {"patch, wider by, mm": 10},
    "rush, wire, mm": {"rush, up from the foot, mm": 40},
    "rush, up from the foot, mm": {"rush, wire, mm": 10},
}


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


def turn(page, name, steps):
    press(page, name, "ArrowRight" if steps > 0 else "ArrowLeft", abs(steps))


def turn_and_keep(page, panel, name, steps):
    turn(page, name, steps)
    page.wait_for_timeout(700)
    panel.get_by_role("button", name="Keep as reference").click()
    page.wait_for_timeout(500)


def test_every_slider_by_keyboard(page):
    """Each dial moves the picture, and the notes the way that physics says; going back undoes it."""
    for name, (steps, part, way) in NAMES[page.notebook].items():
        panel = panel_of(page, name)
        picture, words = panel.locator("img.widget-image").first, panel.locator(".widget-html p").last
        for first, times in NEEDS.get(name, {}).items():
            turn_and_keep(page, panel, first, times)
        before = picture.get_attribute("src")
        turn(page, name, steps)
        said = re.compile(SAID[part].format(way))
        panel.locator(".widget-html p").filter(has_text=said).last.wait_for(timeout=5000)
        page.wait_for_timeout(700)
        assert picture.get_attribute("src") != before, name
        assert said.search(words.inner_text()), (name, words.inner_text())
        panel.get_by_role("button", name="Back to reference").click()
        page.wait_for_timeout(500)
        assert "notes lie within" in words.inner_text()
        for first, times in NEEDS.get(name, {}).items():
            turn_and_keep(page, panel, first, -times)


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
