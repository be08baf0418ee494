"""Drafting: labels by their words and places; static, squats and sides by content."""

import shutil
from pathlib import Path

import numpy as np
import pytest

from condyle.command import main
from condyle.draft import draft
from condyle.draft.label_words import words_of
from condyle.draft.mapping import map_labels
from condyle.errors import ConfigurationErrors, UsageError
from condyle.files.marker_set import load_marker_set
from condyle.sample import Options, build_person, simulate_session, simulate_static
from condyle.sample.timing import Timing
from condyle.sample.writing import label_of, write_c3d
from condyle.session import plan
from tests.conftest import open_c3d
from tests.open_sessions import CLUSTERS

SAMPLE = Path(__file__).parents[1] / "sample_trials" / "MR01" / "2026-11-03"


@pytest.mark.parametrize(
    ("label", "landmark"),
    [
        *[("R_ASIS", "asis_r"), ("LPSIS", "psis_l"), ("sacrum", "sacrum"), ("Knee_lat_L", "lateral_epicondyle_l")],
        *[("right_medial_malleolus", "medial_malleolus_r"), ("l_heel", "calcaneus_l"), ("R_MT_5", "metatarsal_5_r")],
        *[("toe_r", "metatarsal_2_r"), ("C7", "c7"), ("Th10", "t10"), ("Patella.L", "patella_l"), ("thigh3", None)],
    ],
)
def test_words_of_a_label(label: str, landmark: str | None) -> None:
    assert words_of(label).landmark == landmark


def test_a_knee_that_does_not_say_which_side_of_the_joint_is_left_open() -> None:
    assert words_of("L_ANKLE").open_landmark == "malleolus"
    assert words_of("R_THIGH_2").segment == "thigh_r"


def test_the_sample_session_is_mapped_right(tmp_path: Path) -> None:
    for name in ("static", "squat_right", "squat_left"):
        shutil.copy(SAMPLE / f"{name}.c3d", tmp_path)
    done = draft(tmp_path)
    found = load_marker_set(tmp_path / "markers.yaml")
    wanted = load_marker_set(SAMPLE.parents[2] / "configs" / "markers" / "clusters_full_body.yaml")
    assert dict(found.landmarks) == dict(wanted.landmarks)
    for segment in ("thigh_r", "shank_l"):
        assert set(found.tracking_points(segment)) == set(wanted.tracking_points(segment))
    assert set(found.static_only) >= set(wanted.static_only)
    content = {f.path.stem: (f.content, f.side) for f in done.files}
    assert content["static"][0] == "static"
    assert content["squat_right"] == ("single_leg_squat", "right")
    assert content["squat_left"] == ("single_leg_squat", "left")


def folder_of(place: Path, trials: dict[str, list[tuple[str, str]]]) -> Path:
    """The C3D files of a simulated session, and nothing else."""
    options = Options.ideal(timing=Timing(repetitions=2), rate_hz=50.0)
    session = simulate_session(build_person("MR04"), trials, options)
    place.mkdir()
    for trial in (session.static, *session.trials):
        write_c3d(place / f"{trial.name}.c3d", trial)
    return place


def test_squats_on_both_legs_in_one_file_are_left_to_be_told_apart_bout_by_bout(tmp_path: Path) -> None:
    one_each = {"both_legs": [("right", "controlled"), ("left", "hip_in")], "one_leg": [("left", "controlled")]}
    done = draft(folder_of(tmp_path / "s1", one_each))
    found = {f.path.stem: (f.content, f.side, f.confidence) for f in done.files}
    assert found["both_legs"] == ("single_leg_squat", "auto", "high")
    assert found["one_leg"] == ("single_leg_squat", "left", "high")


def test_a_foot_on_a_step_is_not_taken_for_a_raised_one(tmp_path: Path) -> None:
    steps = {"steps": [("right", "step_down"), ("left", "step_down")]}
    (found,) = [f for f in draft(folder_of(tmp_path / "s1", steps)).files if f.path.stem == "steps"]
    assert (found.content, found.side, found.confidence) == ("step_down", "auto", "medium")


def test_trials_that_are_not_sure_are_among_the_lines_to_be_looked_at(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    place = folder_of(tmp_path / "s1", {"squat": [("right", "controlled")], "down": [("right", "step_down")]})
    assert main(["draft", str(place)]) == 0
    said = capsys.readouterr().out
    assert "34 landmarks mapped, 3 files told apart; 1 line is to be looked at first:" in said
    assert "down.c3d as step_down, side right: medium" in said
    assert "squat.c3d as" not in said
    (place / "down.c3d").unlink()
    assert main(["draft", str(place), "--overwrite"]) == 0
    assert "2 files told apart; all with high confidence." in capsys.readouterr().out


def test_a_draft_is_refused_until_its_blanks_are_filled_and_runs_then(tmp_path: Path) -> None:
    for name in ("static", "squat_right"):
        shutil.copy(SAMPLE / f"{name}.c3d", tmp_path)
    draft(tmp_path)
    with pytest.raises(ConfigurationErrors, match=r"line \d+"):
        plan(tmp_path)
    text = (tmp_path / "session.yaml").read_text()
    (tmp_path / "session.yaml").write_text(text.replace('id: "?"', "id: P01").replace('session: "?"', "session: first"))
    assert plan(tmp_path).session.trials[0].side == "right"


def test_public_clusters_are_mapped_right_and_each_trial_finds_its_own_static(tmp_path: Path) -> None:
    for path in sorted(open_c3d("cluster_walk").glob("*.c3d")):
        shutil.copy(path, tmp_path)
    done = draft(tmp_path)
    (tmp_path / "wanted.yaml").write_text(CLUSTERS)
    found, wanted = load_marker_set(tmp_path / "markers.yaml"), load_marker_set(tmp_path / "wanted.yaml")
    assert dict(found.landmarks) == dict(wanted.landmarks)
    assert {p.stem: s.stem for p, s in done.static_of.items()}["walking_2"] == "standing_2"
    assert {p.stem: s.stem for p, s in done.static_of.items()}["walking_1_3"] == "standing_1"


def test_without_words_places_alone_find_most_landmarks_and_say_low() -> None:
    static = simulate_static(build_person("MR00", height_mm=1800), Options.ideal(static_s=0.1))
    keep = [k for k, n in enumerate(static.markers) if not n.startswith(("thigh_", "shank_", "patella"))]
    turn = np.array([[0.6, 0, 0.8], [0, 1, 0], [-0.8, 0, 0.6]])  # facing anywhere
    points = {f"M{k}": turn @ static.marker_truth[0, k] for k in keep}
    mapping = map_labels(list(points), points)
    right = [n for n, g in mapping.landmarks.items() if static.markers[int(g.label[1:])] == n]
    assert len(right) >= 0.8 * len(keep)
    assert {g.confidence for g in mapping.landmarks.values()} == {"low"}


def test_exchanged_sides_are_noticed() -> None:
    static = simulate_static(build_person("MR00"), Options.ideal(static_s=0.1))
    points = {}
    for k, name in enumerate(static.markers):
        label = label_of(name)
        swapped = (
            label.replace("R_", "#_").replace("L_", "R_").replace("#_", "L_") if label[:2] in ("R_", "L_") else label
        )
        points[swapped] = static.marker_truth[0, k]
    mapping = map_labels(list(points), points)
    assert any("sides exchanged" in note for note in mapping.notes)


def test_nothing_to_draft_from_is_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="holds no C3D file"):
        draft(tmp_path)
    shutil.copy(SAMPLE / "static.c3d", tmp_path)
    (tmp_path / "session.yaml").write_text("mine: yes\n")
    with pytest.raises(UsageError, match=r"already holds session\.yaml"):
        draft(tmp_path)
