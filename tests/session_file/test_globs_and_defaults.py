"""Globs, defaults and shipped names in session.yaml."""

from pathlib import Path

import pytest

from condyle.errors import ConfigurationErrors
from condyle.files.session_plan import load_session
from condyle.files.shipped import shipped
from tests.session_file.shared import SOUND, load, names, told, trials


def test_a_glob_leaves_out_static_calibration_results_and_what_is_named(folder: Path) -> None:
    (folder / "results").mkdir()
    (folder / "results" / "export.c3d").touch()
    (folder / "notes.txt").touch()
    (folder / "SQUAT_3.C3D").touch()
    text = SOUND.replace("static: static.c3d", "static: [static.c3d, static_2.c3d]")
    everything = text.partition("trials:")[0] + 'trials: "*.c3d"\n'
    assert names(load(folder, everything)) == ["SQUAT_3", "squat_left", "squat_right", "walk"]
    assert names(load(folder, everything.replace('"*.c3d"', '"**/*.c3d"'))) == [
        "SQUAT_3",
        "squat_left",
        "squat_right",
        "walk",
    ]
    mixed = trials('{file: "squat_[rl]*.c3d", side: auto}', "{file: walk.c3d, task: other}", '"*.c3d"')
    session = load(folder, mixed.replace("static: static.c3d", "static: [static.c3d, static_2.c3d]"))
    assert names(session) == ["squat_left", "squat_right", "walk", "SQUAT_3"]
    assert [t.task for t in session.trials].count("other") == 1


def test_a_glob_that_matches_nothing_is_a_mistake(folder: Path) -> None:
    assert "`jump_*.c3d` matches no file in" in told(folder, trials('"jump_*.c3d"'))[0]
    (sentence,) = told(folder, trials('"hip_*.c3d"'))
    assert "besides static, calibration and trials named by themselves" in sentence
    assert "no such" not in sentence


def test_a_file_whose_name_looks_like_a_glob_is_a_file(folder: Path) -> None:
    (folder / "squat[1].c3d").touch()
    assert names(load(folder, trials('"squat[1].c3d"'))) == ["squat[1]"]


@pytest.mark.parametrize(
    "entries",
    [
        ("squat_left.c3d", "{file: walk.c3d, name: squat_left}"),
        ("squat_left.c3d", "{file: walk.c3d, name: SQUAT_LEFT}"),
        ("squat_left.c3d", "squat_left.c3d"),
    ],
)
def test_two_trials_of_one_name_are_a_mistake(entries: tuple[str, ...], folder: Path) -> None:
    (sentence,) = told(folder, trials(*entries))
    assert "stands twice" in sentence
    assert "give one of them another `name:`" in sentence


def test_one_file_may_be_two_trials_of_two_names(folder: Path) -> None:
    first = "{file: walk.c3d, name: early, use_s: [0, 5], why: two bouts}"
    assert names(load(folder, trials(first, first.replace("early", "late")))) == ["early", "late"]


def test_defaults_lie_under_the_session_and_keep_their_own_folder_and_lines(folder: Path) -> None:
    lab = folder / "lab"
    lab.mkdir()
    (lab / "markers.yaml").touch()
    (lab / "lab.yaml").write_text(
        "participant: {sex: male, measured: {knee_width_r_mm: 105, leg_length_r_mm: 900}}\n"
        "tester: T9\nmarker_set: markers.yaml\naffected_side: left\n"
    )
    text = "defaults: lab/lab.yaml\n" + SOUND.replace("sex: female, ", "measured: {leg_length_r_mm: 880}, ")
    session = load(folder, text)
    assert session.marker_set == lab / "markers.yaml", "relative to the file it stands in"
    assert session.participant.sex == "male"
    assert session.participant.measured.knee_width_r_mm == 105.0
    assert session.participant.measured.leg_length_r_mm == 880.0
    assert (session.tester, session.affected_side) == ("T2", "right"), "the session's own word holds"
    (lab / "lab.yaml").write_text("tester: T9\nparticipant:\n  hight_mm: 1700\n")
    (sentence,) = told(folder, text)
    assert sentence.startswith(f"{lab / 'lab.yaml'}, line 3: key `hight_mm` in `participant` is not known")


def test_defaults_that_are_not_there_or_go_round_in_circles(folder: Path) -> None:
    assert "line 1: key `defaults`: no such file: lab.yaml" in told(folder, "defaults: lab.yaml\n" + SOUND)[0]
    assert "leads back to this file" in told(folder, "defaults: session.yaml\n" + SOUND)[0]
    assert "expected the path of one YAML file" in told(folder, "defaults:\n" + SOUND)[0]


def test_marker_set_and_pipeline_by_path_or_by_name(folder: Path) -> None:
    (folder / "mine.yaml").touch()
    session = load(folder, SOUND + "marker_set: mine.yaml\npipeline: walking\n")
    assert session.marker_set == folder / "mine.yaml"
    assert session.pipeline == shipped("pipeline")["walking"]
    sentences = told(folder, SOUND + "marker_set: min.yaml\npipeline: wlking\n")
    assert "line 14: marker set `min.yaml` is not there; nearest name there: `mine.yaml`" in sentences[0]
    assert "line 15: pipeline `wlking` is neither a file nor shipped; nearest valid name: `walking`" in sentences[1]


def test_a_folder_without_session_file(tmp_path: Path) -> None:
    (tmp_path / "sesion.yaml").touch()
    with pytest.raises(ConfigurationErrors, match=r"no session.yaml in this folder; nearest name there: `sesion.yaml`"):
        load_session(tmp_path)
    (tmp_path / "sesion.yaml").unlink()
    with pytest.raises(
        ConfigurationErrors, match=r"no session.yaml in this folder; `condyle draft .*` writes a first one"
    ):
        load_session(tmp_path)
    with pytest.raises(ConfigurationErrors, match=r"no such file or folder; name a session folder"):
        load_session(tmp_path / "nowhere")


def test_mistakes_come_together_in_order_of_lines(folder: Path) -> None:
    text = (
        SOUND.replace("static: static.c3d", "static: no.c3d")
        .replace("earlier", "never")
        .replace("trial: walking", "trial: x")
    )
    assert [int(s.split("line ")[1].split(":")[0]) for s in told(folder, text)] == [5, 12, 13]
