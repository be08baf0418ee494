"""The notebooks in docs run from the first cell to the last, and carry the outputs of a run."""

from pathlib import Path

import nbformat
import pytest

from tests.notebooks import NOTEBOOKS, executed, outputs_of


def test_there_are_notebooks() -> None:
    assert {p.stem for p in NOTEBOOKS} >= {"angles_of_a_session", "contributions_to_a_figure"}


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
@pytest.mark.filterwarnings("ignore")  # of the notebook machinery, not of the notebooks
def test_notebook_runs_as_committed(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    monkeypatch.setenv("OMP_NUM_THREADS", "1")
    fresh, committed = outputs_of(executed(path)), outputs_of(nbformat.read(path, as_version=4))
    assert any("image/png" in out.get("data", {}) for out in fresh), "the notebook draws something"
    assert not [out for out in fresh if out.get("name") == "stderr"], "nothing is complained about"
    kinds = [[(out.output_type, *sorted(out.get("data", {}))) for out in outs] for outs in (fresh, committed)]
    assert kinds[0] == kinds[1], "run python -m tests.notebooks"
