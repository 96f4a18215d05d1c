"""Execute every notebook in place and store its outputs without anything that changes by itself."""

import pathlib
import sys

import nbformat
from nbclient import NotebookClient

FOLDER = pathlib.Path(__file__).parent.parent / "notebooks"
KERNEL = {
    "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
    "language_info": {"name": "python"},
}

for path in sorted(FOLDER.glob("*.ipynb")):
    if sys.argv[1:] and not any(part in path.name for part in sys.argv[1:]):
        continue
    notebook = nbformat.read(path, as_version=4)
    NotebookClient(
        notebook, timeout=600, store_widget_state=False, resources={"metadata": {"path": str(FOLDER)}}
    ).execute()
    for cell in notebook.cells:
        cell.metadata.pop("execution", None)
        for output in cell.get("outputs", []):
            output.get("data", {}).pop("application/vnd.jupyter.widget-view+json", None)

    notebook.metadata = nbformat.from_dict(KERNEL)
    nbformat.write(notebook, path)
    print(f"{path.name}: {path.stat().st_size // 1024} KB")
