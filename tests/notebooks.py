"""The notebooks of the docs: ``python -m tests.notebooks`` runs them and keeps their outputs in them."""

from pathlib import Path

import nbformat
from nbclient import NotebookClient
from nbformat import NotebookNode

FOLDER = Path(__file__).parents[1] / "docs" / "notebooks"
NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))


def executed(path: Path) -> NotebookNode:
    """The notebook after all its cells, without the traces of when and where."""
    notebook = nbformat.read(path, as_version=4)
    NotebookClient(notebook, timeout=240, resources={"metadata": {"path": str(path.parent)}}).execute()
    notebook.metadata["language_info"] = {"name": "python"}
    for cell in notebook.cells:
        cell.metadata.pop("execution", None)
    return notebook


def outputs_of(notebook: NotebookNode) -> list[NotebookNode]:
    return [out for cell in notebook.cells if cell.cell_type == "code" for out in cell.outputs]


def main() -> None:
    for path in NOTEBOOKS:
        path.write_text(nbformat.writes(executed(path), indent=1) + "\n", encoding="utf-8")
        print(path.name)


if __name__ == "__main__":
    main()
