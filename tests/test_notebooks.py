"""What every notebook must be, beside computing what it says."""

import ast
import pathlib
import re

import nbformat
import pytest

import acoustics

FOLDER = pathlib.Path(__file__).parent.parent / "notebooks"
PATHS = sorted(FOLDER.glob("*.ipynb"))


@pytest.fixture(params=PATHS, ids=lambda path: path.stem)
def notebook(request):
    return nbformat.read(request.param, as_version=4)


def code(notebook):
    return [cell for cell in notebook.cells if cell.cell_type == "code"]


def test_there_are_notebooks():
    assert [path.name[:2] for path in PATHS] == [f"{i + 1:02}" for i in range(len(PATHS))]


def test_every_cell_ran_in_order_and_kept_its_output(notebook):
    assert [cell.execution_count for cell in code(notebook)] == list(range(1, len(code(notebook)) + 1))
    silent = [cell.source for cell in code(notebook) if not cell.outputs and "parameters" not in cell.metadata.tags]
    assert not silent


def test_no_cell_failed(notebook):
    assert not [output for cell in code(notebook) for output in cell.outputs if output.output_type == "error"]


def test_title_is_a_question_and_one_cell_holds_the_parameters(notebook):
    title = notebook.cells[0].source.splitlines()[0]
    assert title.startswith("# ")
    assert "?" in title
    assert sum("parameters" in cell.metadata.get("tags", []) for cell in notebook.cells) == 1


def test_cells_are_short_and_few(notebook):
    assert 8 <= len(notebook.cells) <= 26
    for cell in code(notebook):
        ast.parse(cell.source)
        assert len(cell.source.splitlines()) <= 15


def test_each_page_ends_in_something_for_the_bench(notebook):
    text = "\n".join(cell.source for cell in notebook.cells if cell.cell_type == "markdown")
    assert re.search(r"at the bench", text, re.IGNORECASE)
    assert re.search(r"fool", text)


def test_outputs_hold_no_path_no_timing_no_negative_zero(notebook):
    for cell in code(notebook):
        for output in cell.outputs:
            said = output.get("text", "") + str(output.get("data", {}).get("text/plain", ""))
            said += str(output.get("data", {}).get("text/html", ""))
            assert not re.search(r"(?<![\w.])-0(\.0+)?(?![\d.])", said)
            assert not re.search(r"/(home|root|usr|work|Users)/|0x[0-9a-f]{6}|\d ms\b", said)


@pytest.mark.parametrize("path", PATHS, ids=lambda path: path.stem)
def test_size(path):
    assert path.stat().st_size <= 260 * 1024


def from_inner_rooms(path) -> set[str]:
    """Names that a page imports from rooms of pipes, physics, tuning and bench."""
    trees = [ast.parse(cell.source) for cell in code(nbformat.read(path, as_version=4))]
    imports = [node for tree in trees for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)]
    inner = re.compile(r"acoustics\.(pipes|physics|tuning|bench)\.")
    return {alias.name for node in imports if inner.match(node.module) for alias in node.names}


def test_what_two_pages_need_stands_at_the_front_door():
    names = [name for path in PATHS for name in from_inner_rooms(path)]
    assert {name for name in names if names.count(name) > 1} <= set(acoustics.__all__)
