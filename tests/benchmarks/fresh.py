"""A fresh clone to the chart on screen by the README's first command, printed.

Run: python tests/benchmarks/fresh.py   (git, the network and chromium are needed)
"""

import os
import pathlib
import re
import signal
import subprocess
import sys
import tempfile
import time

ROOT = pathlib.Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from tests.browser.lab import browser  # noqa: E402


def readme_command(name: str) -> str:
    """The command of the README under the mark `name`."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    return re.search(rf"<!-- {name} -->\n```sh\n(.*?)\n```", text, re.DOTALL).group(1)


def stop(server: subprocess.Popen) -> None:
    """End the shell with all that it started, and wait until they are gone."""
    os.killpg(server.pid, signal.SIGTERM)
    server.wait(20)
    end = time.monotonic() + 20
    while time.monotonic() < end:
        try:
            os.killpg(server.pid, 0)
        except ProcessLookupError:
            return
        time.sleep(0.2)
    os.killpg(server.pid, signal.SIGKILL)


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        clone = pathlib.Path(folder) / "clone"
        start = time.perf_counter()
        subprocess.run(["git", "clone", "-q", str(ROOT), str(clone)], check=True)
        environment = os.environ | {"PIP_NO_CACHE_DIR": "1", "BROWSER": "true"}
        command = readme_command("open") + " --allow-root --IdentityProvider.token=only-for-this"
        log = clone / "lab.log"
        with open(log, "w") as out:
            server = subprocess.Popen(
                command, shell=True, cwd=clone, env=environment, stdout=out, stderr=out, start_new_session=True
            )
            try:
                while time.perf_counter() < start + 300 and not (
                    found := re.search(r"http://localhost:\d+", log.read_text())
                ):
                    time.sleep(0.5)
                print(f"server up after {time.perf_counter() - start:.0f} s")
                with browser() as chromium:
                    page = chromium.new_page(viewport={"width": 1400, "height": 1000})
                    page.goto(f"{found.group(0)}/lab/tree/01-how-will-this-chanter-play.ipynb?token=only-for-this")
                    page.wait_for_selector(".jp-Notebook-ExecutionIndicator[data-status='idle']", timeout=60_000)
                    page.wait_for_timeout(2000)
                    page.locator(".lm-MenuBar-itemLabel", has_text=re.compile("^Run$")).click()
                    page.locator("[data-command='runmenu:run-all']").first.click()
                    page.wait_for_selector(".jp-Notebook-ExecutionIndicator:not([data-status='idle'])", timeout=20_000)
                    page.wait_for_selector(".jp-Notebook-ExecutionIndicator[data-status='idle']", timeout=60_000)
                    page.locator("table caption").first.scroll_into_view_if_needed(timeout=20_000)
                print(f"chart on screen after {time.perf_counter() - start:.0f} s")
            finally:
                stop(server)


if __name__ == "__main__":
    main()
