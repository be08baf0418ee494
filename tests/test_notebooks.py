"""The notebooks in docs run from the first cell to the last, and carry the outputs of a run."""

from pathlib import Path

import nbformat
import pytest

from tests.notebooks import NOTEBOOKS, executed, kinds_of_cells, outputs_of


def test_there_are_notebooks() -> None:
    assert {p.stem for p in NOTEBOOKS} >= {"angles_of_a_session", "contributions_to_a_figure"}


def test_text_flushed_in_two_messages_is_one_output() -> None:
    stream, picture = (
        nbformat.v4.new_output("stream", text="a"),
        nbformat.v4.new_output("display_data", {"image/png": ""}),
    )
    once, twice = ([stream, picture], [stream, stream, picture])
    kinds = [
        kinds_of_cells(nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(outputs=outs)]))
        for outs in (once, twice)
    ]
    assert kinds[0] == kinds[1] == [[("stream", "stdout"), ("display_data", "", "image/png")]]


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
@pytest.mark.filterwarnings("ignore")  # of the notebook machinery, not of the notebooks
def test_notebook_runs_as_committed(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    monkeypatch.setenv("OMP_NUM_THREADS", "1")
    fresh, committed = executed(path), nbformat.read(path, as_version=4)
    assert any("image/png" in out.get("data", {}) for out in outputs_of(fresh)), "the notebook draws something"
    assert not [out for out in outputs_of(fresh) if out.get("name") == "stderr"], "nothing is complained about"
    assert kinds_of_cells(fresh) == kinds_of_cells(committed), "run python -m tests.notebooks"
