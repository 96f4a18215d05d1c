"""What the README and DEVELOPERS promise is there: commands, pages, pictures, rooms."""

import importlib.util
import re
import subprocess
from pathlib import Path

import nbformat
import pytest

HERE = Path(__file__).parent.parent
README = (HERE / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (HERE / "DEVELOPERS.md").read_text(encoding="utf-8")
RUN = (HERE / ".ci" / "run").read_text(encoding="utf-8")
PAGES = sorted((HERE / "notebooks").glob("*.ipynb"))


def command(mark: str) -> str:
    """The one command in the block below the mark."""
    (block,) = re.findall(rf"<!-- {mark} -->\n```sh\n(.*?)\n```\n", README, re.DOTALL)
    assert "\n" not in block
    return block


@pytest.fixture(scope="module")
def make():
    """figures/make.py as a module."""
    spec = importlib.util.spec_from_file_location("figures_make", HERE / "figures" / "make.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


# The two commands


def test_there_are_two_commands():
    assert re.findall(r"<!-- (\w+) -->", README) == ["open", "tests"]
    assert README.count("```sh") == 2


def test_the_command_that_ci_extracts_is_the_readmes():
    """The sed expression of .ci/run, run as it stands there."""
    (extract,) = re.findall(r"^command=\$\((sed .*README\.md)\)$", RUN, re.MULTILINE)
    done = subprocess.run(["bash", "-euc", extract], cwd=HERE, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == command("tests")
    assert 'bash -euc "$command"' in RUN


@pytest.mark.parametrize("mark", ["open", "tests"])
def test_commands_install_with_the_pins_and_name_what_exists(mark):
    """A fresh environment, the pinned packages, and no path that is not there."""
    said = command(mark)
    steps = said.split(" && ")
    assert len(steps) == 3
    assert steps[0] == "python3 -m venv .venv"
    assert "-c .ci/pins.txt -e " in steps[1]
    for word in re.findall(r"[\w./-]+\.(?:txt|ipynb)", said):
        assert (HERE / word).is_file(), word
    last = {"open": "notebooks/01-how-will-this-chanter-play.ipynb", "tests": "-m pytest"}
    assert steps[2].endswith(last[mark])


def test_developers_say_all_that_ci_runs():
    (said,) = re.findall(r"`\.ci/run`, for a fresh clone, runs the README's second command, then (.+?);", DEVELOPERS)
    steps = re.findall(r"^\.venv/bin/(.+)$", RUN, re.MULTILINE)
    assert re.findall(r"`(.+?)`", said) == [step.removeprefix("python -m ") for step in steps]


# Pages


def title(path: Path) -> str:
    first = nbformat.read(path, as_version=4).cells[0].source.splitlines()[0]
    return first.removeprefix("# ")


def test_every_page_is_in_the_table_with_its_question():
    rows = re.findall(r"^\| \[(\d\d)\]\((notebooks/[^)]+)\) \| (.+) \|$", README, re.MULTILINE)
    assert rows == [(path.name[:2], f"notebooks/{path.name}", title(path)) for path in PAGES]
    assert len(rows) >= 5
    assert all("?" in question for *_, question in rows)


@pytest.mark.parametrize("text", [README, DEVELOPERS], ids=["README", "DEVELOPERS"])
def test_every_link_leads_somewhere(text):
    links = [link for link in re.findall(r"\]\(([^)]+)\)", text) if not link.startswith("http")]
    missing = [link for link in links if not (HERE / link).exists()]
    assert not missing
    paths = re.findall(r"`((?:notebooks|figures|tests|\.ci)/[\w./-]*)`", text)
    assert not [path for path in paths if not (HERE / path).exists()]
    assert links or paths


# Pictures


def test_every_picture_of_the_readme_is_made_and_stored(make):
    shown = re.findall(r"!\[[^\]]+\]\(figures/([^)]+)\)", README)
    made = make.pictures()
    assert shown
    assert set(shown) <= set(made)
    stored = {path.name for path in (HERE / "figures").glob("*.png")}
    assert stored == set(made)


def test_pictures_say_the_stored_words(make):
    """Made again, every picture's words are those of its text file, and its size that of its stored picture."""
    for name, picture in make.pictures().items():
        stored = (HERE / "figures" / name).with_suffix(".txt").read_text(encoding="utf-8")
        assert picture.words + "\n" == stored
        head = (HERE / "figures" / name).read_bytes()[:24]
        assert picture.png()[:24] == head, f"{name}: python figures/make.py"


# Rooms


def test_developers_name_every_room_on_its_floor():
    rows = re.findall(r"^\| (ground|`\w+/`) \| (.+?) \|", DEVELOPERS, re.MULTILINE)
    assert [floor.strip("`/") for floor, _ in rows] == ["ground", "pipes", "physics", "tuning", "bench", "shop", "view"]
    for floor, rooms in rows:
        folder = HERE / "acoustics" / ("" if floor == "ground" else floor.strip("`/"))
        there = sorted(path.stem for path in folder.glob("*.py") if path.stem != "__init__")
        assert sorted(re.findall(r"`(\w+)`", rooms)) == there, floor
