"""What session.yaml says is resolved: paths, defaults, globs, names."""

from pathlib import Path

import pytest

from condyle.files.session_plan import load_session
from condyle.files.shipped import shipped
from tests.session_file.shared import load, names


def test_everything_is_resolved(folder: Path) -> None:
    session = load(folder)
    assert session.participant.id == "010"
    assert session.participant.height_mm == 1720.0
    assert (session.name, session.tester, session.affected_side) == ("2026-11-03", "T2", "right")
    assert names(session) == ["squat_right", "squat_left", "walking"]
    assert [t.file for t in session.trials] == [folder / f for f in ("squat_right.c3d", "squat_left.c3d", "walk.c3d")]
    assert [t.static.name for t in session.trials] == ["static.c3d", "static_2.c3d", "static.c3d"]
    assert session.static == folder / "static.c3d"
    assert session.statics == (folder / "static.c3d", folder / "static_2.c3d")
    assert session.calibrations == {"hip_r": folder / "hip_r.c3d"}
    assert session.trials[1].condition == {"shoes": "no", "arms": "crossed"}
    assert [(t.task, t.side) for t in session.trials] == [
        *(("single_leg_squat", "right"), ("single_leg_squat", "auto"), ("other", "auto"))
    ]
    assert session.marker_set == shipped("marker_set")["clusters_full_body"]
    assert session.pipeline == shipped("pipeline")["single_leg_squat"]
    assert session.previous == folder / "earlier"
    assert session.corrections == ()


def test_folder_and_file_are_the_same(folder: Path) -> None:
    assert load(folder) == load_session(folder / "session.yaml")


def test_paths_are_relative_to_the_file_not_to_the_caller(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    load(folder)
    monkeypatch.chdir(folder.parent)
    assert load_session(folder.name).trials[0].file == folder / "squat_right.c3d"


def test_a_missing_trial_is_kept_for_a_row_of_its_own(folder: Path) -> None:
    (folder / "walk.c3d").unlink()
    assert [t.exists for t in load(folder).trials] == [True, True, False]
