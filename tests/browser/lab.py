"""JupyterLab on a copy of the notebooks, and a page in chromium that shows one of them."""

from __future__ import annotations

import contextlib
import os
import pathlib
import re
import shutil
import socket
import subprocess
import sys
import time

from playwright.sync_api import Locator, Page, sync_playwright

ROOT = pathlib.Path(__file__).parents[2]
FLAGS = (
    "--no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync --autoplay-policy=no-user-gesture-required"
)
INDICATOR = ".jp-Notebook-ExecutionIndicator"
SETTINGS = {
    "notebook-extension/tracker": '{"windowingMode": "none"}',
    "apputils-extension/notification": '{"fetchNews": "false"}',
}
TOKEN = "only-for-this-test"
LOADS_MS, STARTS_MS = 240_000, 30_000  # what a machine busy with other work may take; nothing is measured by it


def _free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return one.getsockname()[1]


@contextlib.contextmanager
def lab(folder: pathlib.Path):
    """Serve a copy of the notebooks from `folder`; gives the address of the server."""
    shutil.copytree(ROOT / "notebooks", folder / "notebooks", dirs_exist_ok=True)
    for name, text in SETTINGS.items():
        path = folder / "set" / "@jupyterlab" / f"{name}.jupyterlab-settings"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
    port = _free_port()
    options = [f"--port={port}", "--no-browser", "--allow-root", f"--IdentityProvider.token={TOKEN}"]
    options += ["--ServerApp.root_dir=" + str(folder), "--LabApp.news_url=None"]
    environment = os.environ | {
        "JUPYTER_CONFIG_DIR": str(folder / "config"),
        "JUPYTERLAB_SETTINGS_DIR": str(folder / "set"),
    }
    log = open(folder / "lab.log", "w")  # noqa: SIM115  (closed below, after the server)
    server = subprocess.Popen([sys.executable, "-m", "jupyterlab", *options], env=environment, stdout=log, stderr=log)
    try:
        for _ in range(120):
            with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), 0.5):
                break
            time.sleep(0.25)
        yield f"http://127.0.0.1:{port}"
    finally:
        server.terminate()
        server.wait(20)
        log.close()


@contextlib.contextmanager
def browser():
    """Debian's chromium, headless."""
    path = shutil.which("chromium")
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=path, args=FLAGS.split())
        try:
            yield chromium
        finally:
            chromium.close()


def open_notebook(page: Page, address: str, name: str) -> None:
    """Open a notebook and run it from top to bottom."""
    page.goto(f"{address}/lab/tree/notebooks/{name}?token={TOKEN}&reset")
    page.wait_for_selector(".jp-Notebook .jp-Cell", timeout=LOADS_MS)
    page.wait_for_selector(f"{INDICATOR}[data-status='idle']", state="attached", timeout=LOADS_MS)
    page.wait_for_timeout(2_000)
    page.locator(".lm-MenuBar-itemLabel", has_text=re.compile("^Run$")).click()
    page.locator("[data-command='runmenu:run-all']").first.click()
    page.wait_for_selector(f"{INDICATOR}:not([data-status='idle'])", state="attached", timeout=STARTS_MS)
    page.wait_for_selector(".jp-OutputArea .jupyter-widgets", state="attached", timeout=LOADS_MS)
    quiet = 0
    while quiet < 4:
        page.wait_for_timeout(250)
        quiet = quiet + 1 if page.locator(f"{INDICATOR}[data-status='idle']").count() else 0


def slider(page: Page, name: str) -> Locator:
    """The handle of the first slider with that label."""
    return page.locator(f".widget-hslider:has(.widget-label:text-is('{name}')) .noUi-handle").first


def press(page: Page, name: str, key: str, times: int = 1) -> None:
    """Move a slider by keyboard."""
    slider(page, name).focus()
    for _ in range(times):
        page.keyboard.press(key)
