"""Drafting: which of several standing trials is a trial's own, and a folder in which nobody moves."""

import shutil
from pathlib import Path

import numpy as np
import pytest

from condyle.command import main
from condyle.draft import Draft, draft
from condyle.files.yaml_text import read_yaml_text
from condyle.sample import write_sample

SAMPLE = Path(__file__).parents[1] / "sample_trials" / "MR01" / "2026-11-03"


@pytest.fixture(scope="module")
def team(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """The sessions of three people who wear the same plates."""
    return write_sample(tmp_path_factory.mktemp("team"), participants=3, seed=4)


def with_second_static(place: Path, static: Path, name: str) -> Draft:
    """The draft of the sample session with another standing trial beside its own."""
    place.mkdir()
    for file in SAMPLE.glob("*.c3d"):
        shutil.copy(file, place)
    shutil.copy(static, place / name)
    return draft(place)


@pytest.mark.parametrize("name", ["a_first.c3d", "z_last.c3d"])
def test_another_body_in_the_same_plates_is_no_trials_own_standing_trial(
    tmp_path: Path, team: list[Path], name: str
) -> None:
    for k, session in enumerate(team):
        done = with_second_static(tmp_path / f"s{k}", session / "static.c3d", name)
        squats = [f for f in done.files if f.content != "static"]
        assert {done.static_of[f.path].name for f in squats} == {"static.c3d"}
        assert {f.confidence for f in squats} == {"high"}
        assert all("its own standing trial by distances on its segments" in f.why for f in squats)
        (line,) = [line for line in done.lines if line.yaml.startswith("static:")]
        assert (line.confidence, f"no movement trial's own: {name}" in line.why) == ("medium", True)


def test_people_in_one_folder_each_get_their_own_standing_trial(tmp_path: Path, team: list[Path]) -> None:
    for session in team:
        for file in session.glob("*.c3d"):
            shutil.copy(file, tmp_path / f"{session.parent.name}_{file.name}")
    done = draft(tmp_path)
    assert len(done.static_of) == 6
    assert all(trial.name[:4] == static.name[:4] for trial, static in done.static_of.items())


def test_of_two_that_fit_alike_the_first_is_taken_for_all_and_it_is_said(tmp_path: Path) -> None:
    done = with_second_static(tmp_path / "s1", SAMPLE / "static.c3d", "again.c3d")
    squats = [f for f in done.files if f.content != "static"]
    assert {s.name for s in done.static_of.values()} == {"again.c3d"}
    assert {f.confidence for f in squats} == {"medium"}
    written = (tmp_path / "s1" / "session.yaml").read_text().splitlines()
    assert sum("standing trials that fit alike, again.c3d" in line for line in written) == len(squats)


def test_where_no_standing_trial_fits_the_line_is_low(tmp_path: Path, team: list[Path]) -> None:
    for name in ("squat_right", "squat_left"):
        shutil.copy(team[1] / f"{name}.c3d", tmp_path)
    shutil.copy(team[0] / "static.c3d", tmp_path / "one.c3d")
    shutil.copy(team[2] / "static.c3d", tmp_path / "two.c3d")
    squats = [f for f in draft(tmp_path).files if f.content != "static"]
    assert {f.confidence for f in squats} == {"low"}
    assert all("no standing trial fits" in f.why for f in squats)


def test_a_folder_in_which_nobody_moves_says_so_and_what_to_do(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shutil.copy(SAMPLE / "static.c3d", tmp_path)
    assert main(["draft", str(tmp_path)]) == 0
    said = capsys.readouterr().out
    words = "no movement trial was found: put the squats' C3D files into this folder and draft again with --overwrite"
    assert f"  trials: {words}" in said
    assert said.splitlines()[-1] == f"Then: condyle draft {tmp_path} --overwrite"
    assert "condyle check" not in said
    text = (tmp_path / "session.yaml").read_text()
    assert f"trials: []  # {words}" in text
    assert read_yaml_text(tmp_path / "session.yaml").tree["pipeline"] == "?"
    for name in ("squat_right", "squat_left"):
        shutil.copy(SAMPLE / f"{name}.c3d", tmp_path)
    assert main(["draft", str(tmp_path), "--overwrite"]) == 0
    assert capsys.readouterr().out.splitlines()[-1].endswith("then: condyle check FOLDER")
    assert np.size(read_yaml_text(tmp_path / "session.yaml").tree["trials"]) == 2
