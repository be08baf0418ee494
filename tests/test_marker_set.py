"""Marker sets: what a lab's labels mean, and every way of getting it wrong."""

from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from condyle.body_names import JOINT_SEGMENTS, JOINTS, LANDMARK_SEGMENT, LANDMARKS, SEGMENTS
from condyle.errors import ConfigurationErrors
from condyle.files.marker_set import load_marker_set, marker_set_from
from condyle.files.shipped import shipped

SOUND = """\
landmarks:
  asis_r: R_ASIS
  asis_l: L_ASIS
  sacrum: SACRUM
  lateral_epicondyle_r: R_KNEE_LAT
  medial_epicondyle_r: R_KNEE_MED
  patella_r: R_PATELLA
  lateral_malleolus_r: R_ANKLE_LAT
tracking:
  pelvis: [R_ASIS, L_ASIS, SACRUM]
  thigh_r: [R_THIGH_1, R_THIGH_2, R_THIGH_3]
  shank_r: [knee_r, R_SHANK_1, R_ANKLE_LAT]
static_only: [R_KNEE_MED]
"""
RIGHT_LINE = {
    "unknown landmark": (
        "  sacrum: SACRUM",
        "  sacrm: SACRUM",
        4,
        "landmark `sacrm` is not known; nearest valid name: `sacrum`",
    ),
    "landmark without side": (
        "  asis_r: R",
        "  asis: R",
        2,
        "landmark `asis` is not known; nearest valid name: `asis_",
    ),
    "joint centre as landmark": (
        "  patella_r:",
        "  knee_r:",
        7,
        "`knee_r` is a joint centre, computed and never marked",
    ),
    "one label, two landmarks": (
        "asis_l: L_ASIS",
        "asis_l: R_ASIS",
        3,
        "label `R_ASIS` stands for two landmarks, `asis_r` and",
    ),
    "unknown segment": ("  thigh_r:", "  thig_r:", 11, "segment `thig_r` is not known; nearest valid name: `thigh_r`"),
    "two points": (
        "R_THIGH_2, R_THIGH_3",
        "R_THIGH_2",
        11,
        "segment `thigh_r` has 2 tracking points; at least three are",
    ),
    "three points, two the same": (
        "R_THIGH_3]",
        "R_THIGH_2]",
        11,
        "`R_THIGH_2` stands twice among the tracking points",
    ),
    "label listed nowhere": (
        "[R_KNEE_MED]",
        "[R_KNEE_MDE]",
        13,
        "label `R_KNEE_MDE` stands neither under `landmarks` nor",
    ),
    "patella tracks": ("R_THIGH_3]", "R_PATELLA]", 11, "`R_PATELLA` cannot track `thigh_r`: the patella slides"),
    "taken off, yet tracking": (
        "R_THIGH_3]",
        "R_KNEE_MED]",
        11,
        "`R_KNEE_MED` cannot track `thigh_r`: it is taken off",
    ),
    "landmark of another segment": ("R_THIGH_3]", "R_ANKLE_LAT]", 11, "belongs to `shank_r`, not to `thigh_r`"),
    "anatomical name without label": ("R_THIGH_3]", "psis_r]", 11, "`psis_r` is an anatomical name without a label"),
    "joint centre of itself": ("SACRUM]", "SACRUM, hip_r]", 10, "joint centre `hip_r` may track `thigh_r` only"),
    "joint centre carried by nobody": (
        "R_THIGH_3]",
        "R_THIGH_3, ankle_r]",
        11,
        "joint centre `ankle_r` may track `foot_r`",
    ),
    "joint centre not computable": (
        "  lateral_epicondyle_r: R_KNEE_LAT",
        "  acromion_r: A",
        12,
        "joint centre `knee_r` cannot be computed without `lateral_epicondyle_r` under `landmarks`",
    ),
    "joint centre in capitals": ("[knee_r,", "[KNEE_R,", 12, "`KNEE_R` is not known; nearest valid name: `knee_r`"),
    "cluster marker on two segments": ("R_SHANK_1", "R_THIGH_1", 12, "`R_THIGH_1` already tracks `thigh_r`"),
    "unknown key": (
        "static_only",
        "statik_only",
        13,
        "key `statik_only` is not known; nearest valid name: `static_only`",
    ),
    "no list": ("[R_KNEE_MED]", "R_KNEE_MED", 13, "key `static_only` is `R_KNEE_MED`; expected a list"),
    "empty label": ("SACRUM\n  lat", "\n  lat", 4, "key `sacrum` in `landmarks` has no value; expected text"),
    "blank at the end": ("  sacrum: SACRUM", "  sacrum: 'SACRUM '", 4, "key `sacrum` in `landmarks` is `SACRUM `"),
    "unknown kind": (
        "[R_THIGH_1, R_THIGH_2, R_THIGH_3]",
        "{points: [R_THIGH_1, R_THIGH_2, R_THIGH_3], kind: plat}",
        11,
        "key `kind` in `thigh_r` is `plat`; expected one of plate, skin; nearest valid name: `plate`",
    ),
}


def told(path: Path, text: str) -> list[str]:
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ConfigurationErrors) as caught:
        load_marker_set(path)
    return caught.value.sentences


@pytest.mark.parametrize("name", RIGHT_LINE)
def test_each_mistake_has_its_sentence_with_line(name: str, tmp_path: Path) -> None:
    before, after, line, expected = RIGHT_LINE[name]
    assert SOUND.count(before) == 1
    path = tmp_path / "markers.yaml"
    found = [s for s in told(path, SOUND.replace(before, after)) if expected in s]
    assert len(found) == 1, told(path, SOUND.replace(before, after))
    assert found[0].startswith(f"{path}, line {line}: ")


def test_mistakes_of_every_kind_are_told_at_once(tmp_path: Path) -> None:
    text = SOUND.replace("sacrum:", "sacrm:").replace("thigh_r:", "thig_r:").replace("[knee_r,", "[knee_r, {},")
    sentences = told(tmp_path / "m.yaml", text)
    for words in ("`sacrm`", "`thig_r`", "key `points[2]` in `shank_r`", "carried by `thigh_r`"):
        assert any(words in s for s in sentences), (words, sentences)


def test_a_thigh_hung_on_the_hip_needs_the_pelvis_landmarks(tmp_path: Path) -> None:
    text = SOUND.replace("R_THIGH_3]", "hip_r]").replace("  sacrum: SACRUM\n", "").replace("SACRUM]", "R_BACK]")
    (sentence,) = told(tmp_path / "m.yaml", text)
    assert "`hip_r` cannot be computed without `sacrum` or `psis_r` and `sacrum` or `psis_l`" in sentence
    (tmp_path / "m.yaml").write_text(SOUND.replace("R_THIGH_3]", "hip_r]"))
    assert load_marker_set(tmp_path / "m.yaml").tracking_points("thigh_r") == ("R_THIGH_1", "R_THIGH_2", "hip_r")


def test_points_are_landmark_names_where_mapped_and_labels_elsewhere(tmp_path: Path) -> None:
    (tmp_path / "m.yaml").write_text(SOUND)
    markers = load_marker_set(tmp_path / "m.yaml")
    assert markers.points == (
        *(
            "asis_r",
            "asis_l",
            "sacrum",
            "lateral_epicondyle_r",
            "medial_epicondyle_r",
            "patella_r",
            "lateral_malleolus_r",
        ),
        *("R_THIGH_1", "R_THIGH_2", "R_THIGH_3", "R_SHANK_1"),
    )
    assert markers.labels[:3] == ("R_ASIS", "L_ASIS", "SACRUM")
    assert "knee_r" not in markers.points, "a joint centre is no marker"
    assert markers.tracking_points("pelvis") == ("asis_r", "asis_l", "sacrum")
    assert markers.tracking_points("shank_r") == ("knee_r", "R_SHANK_1", "lateral_malleolus_r")
    assert markers.tracking_points("foot_l") == ()
    assert [markers.kind(s) for s in ("pelvis", "thigh_r", "shank_r")] == ["skin", "plate", "skin"]
    assert markers.segments == ("pelvis", "thigh_r", "shank_r")
    assert markers.static_points == ("medial_epicondyle_r",)
    assert (markers.label_of("sacrum"), markers.point_of("SACRUM"), markers.label_of("R_THIGH_1")) == (
        *("SACRUM", "sacrum", "R_THIGH_1"),
    )
    assert markers.prefix == "auto"


def test_a_declared_kind_outranks_the_guess() -> None:
    tree = yaml.safe_load(SOUND)
    tree["tracking"]["thigh_r"] = {"points": tree["tracking"]["thigh_r"], "kind": "skin"}
    assert marker_set_from(tree).kind("thigh_r") == "skin"


def test_labels_that_look_like_other_types_stay_labels(tmp_path: Path) -> None:
    text = SOUND.replace("R_THIGH_1, R_THIGH_2, R_THIGH_3", "010, no, 12:30")
    (tmp_path / "m.yaml").write_text(text)
    assert load_marker_set(tmp_path / "m.yaml").tracking_points("thigh_r") == ("010", "no", "12:30")


@pytest.mark.parametrize("name", sorted(shipped("marker_set")))
def test_shipped_marker_sets_load(name: str) -> None:
    markers = load_marker_set(shipped("marker_set")[name])
    assert set(markers.landmarks) <= set(LANDMARKS)
    for right, left in zip(*[[s for s in SEGMENTS if s.endswith(end)] for end in ("_r", "_l")], strict=True):
        mirrored = [p.replace("_l", "_r").replace("L_", "R_") for p in markers.tracking_points(left)]
        assert mirrored == list(markers.tracking_points(right)), "left and right alike"


def test_the_full_body_set_has_what_the_measures_need() -> None:
    markers = load_marker_set(shipped("marker_set")["clusters_full_body"])
    assert set(markers.segments) == set(SEGMENTS)
    assert set(LANDMARKS) - set(markers.landmarks) == {"sacrum"}, "both PSIS are there, so no sacrum"
    assert len(markers.tracking_points("pelvis")) >= 5, "three are left when both ASIS vanish at the bottom"
    assert len(markers.points) == 50
    assert len(markers.static_points) == 6
    assert not set(markers.static_points) & {p for s in SEGMENTS for p in markers.tracking_points(s)}


def test_the_landmark_set_uses_no_marker_that_is_no_landmark() -> None:
    markers = load_marker_set(shipped("marker_set")["landmarks_lower_body"])
    assert set(markers.points) == set(markers.landmarks)
    assert {p for s in SEGMENTS for p in markers.tracking_points(s)} & set(JOINTS) == {
        "hip_r",
        "hip_l",
        "knee_r",
        "knee_l",
    }


@settings(max_examples=40, deadline=None)
@given(st.data())
def test_any_sound_set_loads_and_maps_back_and_forth(data: st.DataObject) -> None:
    names = data.draw(st.lists(st.sampled_from(LANDMARKS), min_size=1, unique=True))
    labels = data.draw(
        st.lists(
            st.from_regex(r"[A-Z]{1,3}[0-9]{2,4}", fullmatch=True), min_size=len(names) + 3, max_size=40, unique=True
        )
    )
    tree: dict[str, Any] = {"landmarks": dict(zip(names, labels, strict=False)), "tracking": {"foot_l": labels[-3:]}}
    spare = labels[len(names) : -3]
    if len(spare) >= 3:
        tree["tracking"]["shank_r"] = {"points": spare, "kind": "plate"}
    markers = marker_set_from(tree)
    assert [markers.point_of(label) for label in markers.labels] == list(markers.points)
    assert [markers.label_of(point) for point in markers.points] == list(markers.labels)
    assert len(set(markers.points)) == len(markers.points)


def test_the_vocabulary_knows_a_segment_for_every_landmark_and_joint() -> None:
    assert set(LANDMARK_SEGMENT) == set(LANDMARKS)
    assert set(LANDMARK_SEGMENT.values()) <= set(SEGMENTS)
    assert set(JOINT_SEGMENTS) == set(JOINTS)


def test_a_label_with_blanks_around_it_is_refused_in_words(tmp_path: Path) -> None:
    text = shipped("marker_set")["landmarks_lower_body"].read_text().replace("asis_r: R_ASIS", 'asis_r: " R_ASIS"')
    (tmp_path / "markers.yaml").write_text(text)
    with pytest.raises(ConfigurationErrors, match="expected text without blanks before or behind it"):
        load_marker_set(tmp_path / "markers.yaml")
