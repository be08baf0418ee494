"""The notebooks of the docs: ``python -m tests.notebooks`` runs them and keeps their outputs in them."""

from itertools import groupby
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


def kinds_of_cells(notebook: NotebookNode) -> list[list[tuple[str, ...]]]:
    """What each code cell shows, by kind, shape ``[cell][output]``; text in one stretch however often it was flushed.

    A kernel sends what a cell prints in as many messages as its clock makes of it, so their number says nothing.
    """
    cells = (cell for cell in notebook.cells if cell.cell_type == "code")
    return [
        [
            kind
            for kind, _ in groupby(
                (out.output_type, out.get("name", ""), *sorted(out.get("data", {}))) for out in cell.outputs
            )
        ]
        for cell in cells
    ]


def main() -> None:
    for path in NOTEBOOKS:
        path.write_text(nbformat.writes(executed(path), indent=1) + "\n", encoding="utf-8")
        print(path.name)


if __name__ == "__main__":
    main()
