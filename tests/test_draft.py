"""Drafting: labels by their words and places; static, squats and sides by content."""

import shutil
import zlib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import ezc3d
import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from condyle.body_names import JOINTS, LANDMARKS
from condyle.command import main
from condyle.draft import draft
from condyle.draft.file_content import Recorded
from condyle.draft.label_words import words_of
from condyle.draft.mapping import Guess, LabelMap, map_labels
from condyle.draft.writing import marker_lines, refused_label, session_lines, text_of
from condyle.errors import ConfigurationErrors, UsageError
from condyle.files.marker_set import load_marker_set
from condyle.files.yaml_text import read_yaml_text
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
    assert "34 landmarks mapped, 3 files told apart; 5 lines are to be looked at first:" in said
    assert "down.c3d as step_down, side right: medium" in said
    assert "squat.c3d as" not in said
    (place / "down.c3d").unlink()
    assert main(["draft", str(place), "--overwrite"]) == 0
    assert "2 files told apart; 4 lines are to be looked at first:" in capsys.readouterr().out


def test_every_line_that_is_not_high_is_in_the_closing_list_and_no_other(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    place = folder_of(tmp_path / "s1", {"squat": [("right", "controlled")], "down": [("right", "step_down")]})
    done = draft(place)
    written = [line for name in ("markers.yaml", "session.yaml") for line in (place / name).read_text().splitlines()]
    unsure = [line for line in written if "# confidence: " in line and "# confidence: high" not in line]
    assert main(["draft", str(place), "--overwrite"]) == 0
    listed = [line for line in capsys.readouterr().out.splitlines() if line.startswith("  ")]
    assert len(listed) == len(unsure) == len(done.unsure)
    assert [line.split(":")[0] for line in listed[:2]] == ["  tracking of trunk", "  tracking of pelvis"]
    for line in done.unsure:
        assert any(f"# confidence: {line.confidence} ({line.why})" in text for text in unsure)


def test_lines_are_said_to_be_all_high_where_they_are(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    place = folder_of(tmp_path / "s1", {"squat": [("right", "controlled")]})
    done = draft(place)
    sure = tuple(line for line in done.lines if line.confidence in (None, "high"))
    monkeypatch.setattr("condyle.draft.draft", lambda *_, **__: replace(done, lines=sure))
    assert main(["draft", str(place)]) == 0
    assert "2 files told apart; all with high confidence." in capsys.readouterr().out


def read(text: str, place: Path) -> Any:
    path = place / "drafted.yaml"
    path.write_text(text, encoding="utf-8")
    return read_yaml_text(path).tree


LABELS = st.text(min_size=1, max_size=60) | st.text("äöüßé:#\"'\\ -_,[]{}&*!|>%@`?=~\t\n", min_size=1, max_size=60)


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(st.lists(LABELS | st.sampled_from(["Re_KNOECHEL_AUSSEN", "NO", "null", "1e3", "😀"]), min_size=8, unique=True))
@example([" ASIS #1", "L_KNEE", "two\nlines", "C7", "a", "b", "c ", "P:"])
@example([*"1234", "hip_r", "asis_l", "Knee_L", "P:"])
@example(["Re_KNOECHEL_AUSSEN", *(f"Re_OBERSCHENKEL_AUSSEN_VORNE_{k}" for k in range(7))])
def test_any_label_comes_back_from_the_written_yaml_as_it_was(tmp_path: Path, labels: list[str]) -> None:
    names = ("lateral_malleolus_r", "lateral_epicondyle_l", "asis_r", "c7")
    landmarks = {name: Guess(label, name, "low", "its place") for name, label in zip(names, labels, strict=False)}
    cluster = [Guess(label, "thigh_r", "low", "its place only") for label in labels[4:7]]
    mapping = LabelMap(landmarks, {"thigh_r": cluster}, labels[7:], [f"two labels say c7: {labels[0]} and {labels[1]}"])
    text = text_of(marker_lines(mapping, labels[:2], labels[7]))
    found = read(text, tmp_path)
    sound = {name: label for name, label in zip(names, labels, strict=False) if not refused_label(label)}
    assert (found["landmarks"] or {}) == sound
    known = {*LANDMARKS, *JOINTS}  # a label that is another point's name would be taken for that
    tracks = not any(refused_label(label) or label.casefold() in known for label in labels[4:7])
    assert (found["tracking"] or {}) == ({"thigh_r": labels[4:7]} if tracks else {})
    assert found.get("static_only", []) == [label for label in labels[:2] if label in sound.values()]
    assert found["prefix"] == labels[7]
    for name in {*names, "thigh_r"} - {*sound, *(found["tracking"] or {})}:
        assert f'# {name}: "?"  # ' in text
    if sound and tracks:
        assert dict(load_marker_set(tmp_path / "drafted.yaml").landmarks) == sound


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(st.lists(st.text(min_size=1, max_size=60).filter(lambda t: "/" not in t), min_size=3, max_size=3, unique=True))
def test_any_file_name_comes_back_from_the_written_yaml_as_it_was(tmp_path: Path, stems: list[str]) -> None:
    static, second, squat = (Path(f"x{stem}.c3d") for stem in stems)
    files = [Recorded(path, {}, {}, "static", "both", 0.9, 0.1, 100.0) for path in (static, second)]
    files.append(Recorded(squat, {}, {}, "single_leg_squat", "left", 0.5, 9.0, 100.0))
    found = read(text_of(session_lines(files, {squat: second}, "+Z", [])), tmp_path)
    assert found["static"] == [static.name, second.name]
    assert found["trials"] == [{"file": squat.name, "task": "single_leg_squat", "side": "left", "static": second.name}]


def test_a_folder_without_a_standing_trial_says_so_and_keeps_its_squats(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    place = folder_of(tmp_path / "s1", {"one": [("right", "controlled")], "two": [("left", "controlled")]})
    (place / "static.c3d").unlink()
    assert main(["draft", str(place)]) == 0
    assert "  static: not known: record a standing trial" in capsys.readouterr().out
    text = (place / "session.yaml").read_text()
    assert 'static: "?"  # not known: record a standing trial' in text
    found = read_yaml_text(place / "session.yaml").tree
    assert [trial["file"] for trial in found["trials"]] == ["one.c3d", "two.c3d"]
    assert [trial["side"] for trial in found["trials"]] == ["right", "left"]
    (place / "session.yaml").write_text(text.replace('id: "?"', "id: P01").replace('session: "?"', "session: first"))
    with pytest.raises(ConfigurationErrors, match=r"static trial `\?` is not there"):
        plan(place)


def test_a_person_who_steps_into_the_standing_trial_still_stands_in_it(tmp_path: Path) -> None:
    shutil.copytree(open_c3d("skin_walk"), tmp_path / "s1")
    done = draft(tmp_path / "s1")
    found = {f.path.name: (f.content, f.confidence) for f in done.files}
    assert found["standing.c3d"] == ("static", "medium")
    assert {found[f"walk_{k}.c3d"][0] for k in (1, 2, 3)} == {"other"}
    session = read_yaml_text(tmp_path / "s1" / "session.yaml").tree
    assert session["static"] == "standing.c3d"
    assert "standing.c3d" not in [trial["file"] for trial in session["trials"]]
    tracking = load_marker_set(tmp_path / "s1" / "markers.yaml").tracking_points("thigh_r")
    assert "r_suppat" in tracking  # in front of the knee, but the thigh has nothing else


def relabelled(place: Path, rename: Callable[[str], str]) -> Path:
    """The files of the sample session under other labels."""
    place.mkdir()
    for name in ("static", "squat_right", "squat_left"):
        content = ezc3d.c3d(str(SAMPLE / f"{name}.c3d"))
        labels = content["parameters"]["POINT"]["LABELS"]["value"]
        content["parameters"]["POINT"]["LABELS"]["value"] = [rename(label) for label in labels]
        content.write(str(place / f"{name}.c3d"))
    return place


def code(label: str) -> str:
    """A label that says nothing."""
    return f"Q{zlib.crc32(label.encode()) % 1_000_000}"


def test_without_words_the_patella_tracks_nothing_and_the_sides_are_told_by_the_feet(tmp_path: Path) -> None:
    done = draft(relabelled(tmp_path / "s1", code))
    found = load_marker_set(tmp_path / "s1" / "markers.yaml")
    wanted = load_marker_set(SAMPLE.parents[2] / "configs" / "markers" / "clusters_full_body.yaml")
    assert dict(found.landmarks) == {name: code(label) for name, label in wanted.landmarks.items()}
    for segment in ("thigh_r", "thigh_l", "shank_r", "shank_l"):
        assert set(found.tracking_points(segment)) == {code(label) for label in wanted.tracking_points(segment)}
    content = {f.path.stem: (f.content, f.side, f.confidence) for f in done.files}
    assert content["squat_right"] == ("single_leg_squat", "right", "low")
    assert content["squat_left"] == ("single_leg_squat", "left", "low")
    (why,) = (f.why for f in done.files if f.path.stem == "squat_left")
    assert "; of the feet, Q" in why
    patella = done.mapping.landmarks["patella_r"]
    assert patella.confidence == "medium"  # seen to slide
    assert "mm against the thigh's other markers as the knee bends" in patella.why
    assert done.mapping.landmarks["patella_l"].confidence == "low"  # hardly slides in this session: by its place alone


def test_exchanged_labels_make_the_sides_of_the_squats_unsure(tmp_path: Path) -> None:
    def other(label: str) -> str:
        return {"R_": "L_", "L_": "R_"}.get(label[:2], label[:2]) + label[2:]

    done = draft(relabelled(tmp_path / "s1", other))
    squats = [f for f in done.files if f.content != "static"]
    assert [f.confidence for f in squats] == ["low", "low"]
    assert all("its words say" in f.why and "its place says" in f.why for f in squats)
    sure = [line.says for line in done.lines if line.confidence == "high"]
    assert sure == [
        *("C7 as c7", "T10 as t10", "NOTCH as jugular_notch", "XIPHOID as xiphoid"),
        "static.c3d as standing trial",
    ]


def test_one_exchanged_pair_is_told_apart_from_all() -> None:
    static = simulate_static(build_person("MR00"), Options.ideal(static_s=0.1))
    points = {label_of(n): static.marker_truth[0, k] for k, n in enumerate(static.markers)}
    points["R_KNEE_LAT"], points["L_KNEE_LAT"] = points["L_KNEE_LAT"], points["R_KNEE_LAT"]
    points["R_THIGH_2"], points["L_THIGH_2"] = points["L_THIGH_2"], points["R_THIGH_2"]
    mapping = map_labels(list(points), points)
    doubtful = [g.label for g in mapping.landmarks.values() if g.confidence != "high"]
    doubtful += [g.label for group in mapping.clusters.values() for g in group if g.confidence != "high"]
    assert sorted(doubtful) == ["L_KNEE_LAT", "L_THIGH_2", "R_KNEE_LAT", "R_THIGH_2"]
    assert not mapping.notes


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
    mapping = exchanged()
    assert any("sides exchanged" in note for note in mapping.notes)
    sided = [
        *(g for n, g in mapping.landmarks.items() if n[-2:] in ("_r", "_l")),
        *(g for group in mapping.clusters.values() for g in group),
    ]
    assert len(sided) == 46
    for guess in sided:
        own, other = ("right", "left") if guess.name.endswith("_r") else ("left", "right")
        assert (guess.confidence, guess.why) == ("low", f"its words say {own}, its place says {other}")
    assert mapping.landmarks["c7"].confidence == "high"


def exchanged() -> LabelMap:
    """The labels of a standing person with left and right exchanged, mapped."""
    static = simulate_static(build_person("MR00"), Options.ideal(static_s=0.1))
    points = {}
    for k, name in enumerate(static.markers):
        label = label_of(name)
        swapped = (
            label.replace("R_", "#_").replace("L_", "R_").replace("#_", "L_") if label[:2] in ("R_", "L_") else label
        )
        points[swapped] = static.marker_truth[0, k]
    return map_labels(list(points), points)


def test_nothing_to_draft_from_is_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="holds no C3D file"):
        draft(tmp_path)
    shutil.copy(SAMPLE / "static.c3d", tmp_path)
    (tmp_path / "session.yaml").write_text("mine: yes\n")
    with pytest.raises(UsageError, match=r"already holds session\.yaml"):
        draft(tmp_path)
