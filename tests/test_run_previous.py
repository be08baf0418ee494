"""`condyle run` says on the terminal, too, when the session named as `previous` cannot be compared with."""

import shutil
from pathlib import Path

import pytest

from condyle.command import main
from tests.small_sessions import PIPELINE, base_recordings

SESSION = """\
participant: {id: MR01}
session: NAME
pipeline: squat.yaml
static: static.c3d
trials: [{file: squat.c3d, side: right}]
"""


@pytest.mark.usefixtures("without_pictures")
def test_a_previous_session_without_results_is_said_until_it_has_some(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (recorded,) = base_recordings(tmp_path / "recorded", ("controlled",))
    for name, more in (("s1", ""), ("s2", "previous: ../s1\n")):
        shutil.copytree(recorded, tmp_path / name)
        (tmp_path / name / "squat.yaml").write_text(PIPELINE.replace("]", ", report]"))
        (tmp_path / name / "session.yaml").write_text(SESSION.replace("NAME", name) + more)
    assert main(["run", str(tmp_path / "s2")]) == 0
    said = capsys.readouterr()
    words = "the session named as previous has no results yet; process it, then this one again, to compare them."
    assert said.err == f"../s1: {words}\n"
    assert words in (tmp_path / "s2" / "results" / "report.html").read_text().replace("The session", "the session")
    assert main(["run", str(tmp_path / "s1")]) == 0
    assert main(["run", str(tmp_path / "s2")]) == 0
    assert capsys.readouterr().err == ""
