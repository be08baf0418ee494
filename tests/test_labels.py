"""Labels: with prefix and without, doubled, nearly right."""

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from condyle.files.labels import collapse_duplicates, extra_labels, match_labels
from condyle.files.marker_set import MarkerSet
from condyle.files.near_labels import nearest_label
from condyle.files.trial import trial_from

WANTED = ("R_ASIS", "L_ASIS", "R_THIGH_1", "R_THIGH_2", "R_KNEE_LAT")


@pytest.mark.parametrize("prefix", ["MR01:", "MR01_", "Anna Example:", "MR-01.", "MR01 ", "a:b:", "R_"])
@pytest.mark.parametrize("say", ["auto", "with", "without"])
def test_a_prefix_is_found_whatever_its_separator(prefix: str, say: str) -> None:
    labels = [prefix + label for label in WANTED]
    asked = {"auto": "auto", "with": prefix, "without": prefix[:-1]}[say]
    match = match_labels(labels, WANTED, asked)
    assert match.columns == {label: k for k, label in enumerate(WANTED)}
    assert match.prefix == prefix
    assert match.missing == ()
    assert not match.findings


def test_a_file_without_the_prefix_matches_all_the_same() -> None:
    for asked in ("auto", "MR01", "MR01:", "none"):
        assert match_labels(WANTED, WANTED, asked).columns == {label: k for k, label in enumerate(WANTED)}
    mixed = ["MR01:R_ASIS", "MR01:L_ASIS", "R_THIGH_1", "MR01:R_THIGH_2", "MR01:R_KNEE_LAT"]
    assert match_labels(mixed, WANTED).missing == ()
    assert match_labels(["MR01:R_ASIS"], WANTED, "none").columns == {}


def test_two_participants_are_told_by_prefix_or_refused() -> None:
    labels = [f"{who}:{label}" for who in ("MR01", "MR02") for label in WANTED]
    match = match_labels(labels, WANTED)
    assert [(f.check, f.verdict, f.value) for f in match.findings] == [("participants in one file", "reject", 2.0)]
    assert match_labels(labels, WANTED, participant="mr02").columns["R_ASIS"] == 5
    assert match_labels(labels, WANTED, "MR02").columns["R_KNEE_LAT"] == 9
    assert not match_labels(labels, WANTED, "MR02").findings


def test_a_participant_carried_by_a_few_stray_labels_is_no_rival() -> None:
    labels = [f"MR01:{label}" for label in WANTED] + ["MR02:R_ASIS"]
    match = match_labels(labels, WANTED)
    assert match.prefix == "MR01:"
    assert match.findings == ()
    assert match.extra == ("MR02:R_ASIS",)


@pytest.mark.parametrize(
    ("label", "given", "near"),
    [
        ("R_KNEE_LAT", "R_KNEE_LTA", True),
        ("R_KNEE_LAT", "r_knee_lat", True),
        ("R_KNEE_LAT", "R KNEE LAT", True),
        ("R_KNEE_LAT", "R_KNEELAT", True),
        ("R_KNEE_LAT", "L_KNEE_LAT", False),
        ("R_THIGH_1", "R_THIGH_2", False),
        ("R_THIGH_1", "R_TIGH_1", True),
        ("R_ASIS", "R_PSIS", True),
        ("R_ASIS", "SACRUM", False),
    ],
)
def test_near_misses_are_suggested_and_other_markers_are_not(label: str, given: str, near: bool) -> None:
    assert (nearest_label(label, [given]) == given) == near


def test_a_missing_label_names_its_near_miss_without_a_persons_name() -> None:
    labels = [f"Anna Example:{label}" for label in (*WANTED[:4], "R_KNEE_LTA")]
    match = match_labels(labels, WANTED)
    assert match.missing == ("R_KNEE_LAT",)
    (finding,) = match.findings
    assert finding.subject == "R_KNEE_LAT"
    assert "R_KNEE_LTA" in finding.advice
    assert "Anna" not in finding.advice


def test_an_unprefixed_person_beside_a_prefixed_one_is_a_second_participant() -> None:
    labels = [*WANTED, *(f"B:{label}" for label in WANTED)]
    match = match_labels(labels, WANTED)
    assert [(f.check, f.verdict, f.value) for f in match.findings] == [("participants in one file", "reject", 2.0)]
    for prefix, participant, first in (("none", None, 0), ("B:", None, 5), ("auto", "B", 5)):
        told = match_labels(labels, WANTED, prefix, participant)
        assert list(told.columns.values()) == list(range(first, first + 5))
        assert not told.findings
    half = match_labels([*WANTED, *(f"B:{label}" for label in WANTED[:4])], WANTED, "B:")
    assert half.missing == ("R_KNEE_LAT",)  # the other participant's is not taken in its place


def test_labels_that_only_begin_alike_are_no_second_participant() -> None:
    one_sided = [*WANTED, "ASIS", "KNEE_LAT"]  # L_ASIS is a marker of its own, not ASIS of participant L_
    assert not match_labels(one_sided, one_sided).findings
    mixed = [*(f"B:{label}" for label in WANTED[:3]), *WANTED[3:], f"B:{WANTED[3]}"]
    assert not match_labels(mixed, WANTED).findings


def test_a_file_in_lower_case_is_one_row_and_matches_nothing() -> None:
    for prefix in ("", "MR01:"):
        match = match_labels([prefix + label.lower() for label in WANTED], WANTED)
        assert not match.columns
        (finding,) = match.findings
        assert (finding.check, finding.subject, finding.value) == ("label nearly right", "file", 5.0)
        assert "but for their case: r_asis for R_ASIS" in finding.advice.replace(prefix, "")
    many = [f"R_MARKER_{k}" for k in range(44)]
    (finding,) = match_labels([label.replace("_", " ") for label in many], many).findings
    assert "case, blanks or separators" in finding.advice
    assert "and 38 more" in finding.advice
    one_and_one = match_labels(["r_asis", "L_AIS", "R_THIGH_1"], WANTED)
    assert [f.subject for f in one_and_one.findings] == ["R_ASIS", "L_ASIS"]


def test_markers_beside_the_set_are_one_row_without_a_persons_name() -> None:
    labels = [*(f"Anna Example:{label}" for label in (*WANTED, "EXTRA_A", "EXTRA_B")), "*7", "KneeAngle"]
    markers = [label for label in labels if label != "KneeAngle"]
    match = match_labels(labels, WANTED)
    (finding,) = extra_labels(match, markers, ("Anna Example:",))
    assert (finding.check, finding.verdict, finding.value) == ("markers beside the set", "pass", 2.0)
    assert finding.advice.startswith("EXTRA_A, EXTRA_B: in the file, not in the marker set")
    assert extra_labels(match_labels(WANTED, WANTED), WANTED, ()) == []


def test_a_trial_carries_the_row_of_the_markers_beside_its_set() -> None:
    markers = MarkerSet.model_validate({"landmarks": {"asis_r": "R_ASIS"}, "tracking": {"pelvis": WANTED[:3]}})
    labels = (*WANTED[:3], "EXTRA", "R_KNEE_ANGLE", "*4")
    kinds = (*("marker",) * 4, "angle", "unlabelled")
    recording: Any = SimpleNamespace(
        **{"labels": labels, "kinds": kinds, "points": np.zeros((2, 6, 3)), "rate_hz": 100.0, "first_frame": 1},
        **{"findings": (), "forces": (), "prefixes": ()},
    )
    _, findings = trial_from(recording, markers, {"participant": "MR01"})
    assert [(f.check, f.value) for f in findings] == [("unlabelled points", 1.0), ("markers beside the set", 1.0)]


def test_unlabelled_points_are_counted_and_ignored() -> None:
    match = match_labels([*WANTED, "*7", "*12", "EXTRA"], WANTED)
    assert match.unlabelled == 2
    assert match.extra == ("EXTRA",)
    assert [(f.check, f.value) for f in match.findings] == [("unlabelled points", 2.0)]


def doubled(second: np.ndarray, first: np.ndarray) -> tuple[np.ndarray, list[str]]:
    return np.stack([first, second, first + 500], axis=1), ["R_ASIS", "R_ASIS", "L_ASIS"]


def test_doubled_labels_collapse_join_or_are_refused() -> None:
    path = np.cumsum(np.random.default_rng(0).normal(0, 2, (50, 3)), axis=0)
    points, labels = doubled(path, path)
    match = match_labels(labels, WANTED)
    same, findings = collapse_duplicates(points, match, WANTED)
    np.testing.assert_array_equal(same[:, 0], path)
    assert np.isnan(same[:, 2:]).all()
    assert [f.verdict for f in findings] == ["pass"]

    early, late = path.copy(), path.copy()
    early[30:] = late[:25] = np.nan
    joined, findings = collapse_duplicates(doubled(late, early)[0], match, WANTED)
    np.testing.assert_array_equal(joined[:, 0], path)
    assert [(f.subject, f.verdict, f.value) for f in findings] == [("R_ASIS", "review", 20.0)]

    wrong = path.copy()
    wrong[40] += 3.0
    emptied, findings = collapse_duplicates(doubled(wrong, path)[0], match, WANTED)
    assert np.isnan(emptied[:, 0]).all()
    np.testing.assert_array_equal(emptied[:, 1], path + 500)
    assert [(f.subject, f.verdict) for f in findings] == [("R_ASIS", "reject")]
    assert findings[0].value == pytest.approx(3.0 * 3**0.5)
