"""Across sessions: a landmark placed elsewhere is named with its direction; repeat sessions give SEM and MDC."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.spatial.transform import Rotation

from condyle.command import main
from condyle.mechanics.reliability import intraclass_intervals
from condyle.mechanics.replacement import axes_offset, placed_differently
from condyle.repeatability import Comparison, sentences_of
from condyle.repeatability.comparing import landmarks_table, repeatability_yaml
from condyle.repeatability.gathering import Gathered, gather
from condyle.repeatability.reliability_table import reliability_table
from condyle.sample import Options, build_person, simulate_session, write_session
from condyle.sample.timing import Timing
from condyle.vocabulary import JOINT_ANGLES, SIDES

# Shrout & Fleiss 1979, Psychol Bull 86:420, table 2: six targets by four judges
SHROUT_FLEISS = np.array(
    [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]], dtype=float
)
POINTS = np.array([[0, 0, 0], [100, 0, 0], [0, 200, 0], [0, 0, 80], [50, 60, 30.0]])


def test_a_moved_point_is_found_in_the_first_sessions_axes() -> None:
    turn = Rotation.from_euler("xyz", [20, -30, 50], degrees=True).as_matrix()
    second = POINTS.copy()
    second[4] += [3.0, -12.0, 5.0]
    moved = placed_differently(POINTS, second @ turn.T + [1, 2, 3])
    np.testing.assert_allclose(moved[4], [3, -12, 5], atol=1e-6)


def test_axes_offset_is_the_rotation_vector_vs_scipy() -> None:
    vector = np.deg2rad([4.0, -7.0, 2.0])
    turned = Rotation.from_rotvec(vector).as_matrix()
    # the second session's axes are turned by the vector, so the same points read the inverse turn there
    np.testing.assert_allclose(axes_offset(POINTS, POINTS @ turned), np.rad2deg(vector), atol=1e-6)


@pytest.fixture(scope="module")
def root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two sessions of two people; in the second of MR01 the right tuberosity marker sits 40 mm lower.

    In that of MR02 the right lateral epicondyle sits 1 mm further forward: far within palpation, but angles vary.
    """
    place = tmp_path_factory.mktemp("lab")
    options = Options.ideal(timing=Timing(repetitions=2), rate_hz=50.0)
    squat = {"squat_right": [("right", "controlled")]}
    names = {"marker_set": "clusters_full_body", "pipeline": "single_leg_squat"}
    for k, name in enumerate(("MR01", "MR02")):
        person = build_person(name, height_mm=1700 + 60 * k)
        moved, by = ("tibial_tuberosity_r", (0, -40.0, 0)) if name == "MR01" else ("lateral_epicondyle_r", (1.0, 0, 0))
        segment, where = person.points[moved]
        later = replace(person, points=dict(person.points) | {moved: (segment, where + np.array(by))})
        for date, who in (("2026-11-03", person), ("2026-11-10", later)):
            write_session(place / name / date, simulate_session(who, squat, options, date=date), **names)
    return place


def test_the_landmark_placed_elsewhere_is_named_with_its_direction(root: Path) -> None:
    sessions, refused = gather(root)
    assert refused == []
    table = landmarks_table(sessions)
    worst = table.iloc[0]
    assert (worst.participant, worst.landmark, worst.verdict) == ("MR01", "tibial_tuberosity_r", "review")
    assert worst.superior_mm == pytest.approx(-40, abs=0.5)
    assert set(table[table.verdict == "review"].landmark) == {"tibial_tuberosity_r"}


def test_sem_of_session_means_is_the_root_of_the_mean_square_within_people(root: Path) -> None:
    sessions, _ = gather(root)
    measures = sessions[1].measures.copy()
    at = measures.measure == "knee_flexion_at_bottom"
    measures.loc[at, "value"] += 2.0  # one session of four reads 2 degrees more
    sessions[1] = replace(sessions[1], measures=measures)
    row = reliability_table(sessions).set_index("measure").loc["knee_flexion_at_bottom"]
    # (2/2)^2 * 2 / 2 degrees of freedom (Weir 2005): mean square within 1.0
    assert row.sem_mean == pytest.approx(1.0, abs=0.02)
    assert row.mdc95_mean == pytest.approx(1.96 * np.sqrt(2) * row.sem_mean)


def repeats(scores: np.ndarray, sides: tuple[str, ...] = ("right", "left"), constant: float = 0.0) -> list[Gathered]:
    """Sessions of people (rows) at different times (columns), one squat a leg, all legs of a person alike."""
    out = []
    for i, person in enumerate(scores):
        for j, score in enumerate(person):
            rows = [("single_leg_squat", side, "fppa_change", score) for side in sides]
            rows += [("single_leg_squat", side, "depth", constant + 1e-14 * i * j) for side in sides]
            measures = pd.DataFrame(rows, columns=["task", "side", "measure", "value"])
            standing = np.full((len(SIDES), len(JOINT_ANGLES)), np.nan)
            out.append(Gathered(Path(f"{i}/{j}"), f"MR{i:02d}", str(j), "", {}, standing, measures))
    return out


@pytest.mark.parametrize("sides", [("right",), ("right", "left")])
def test_icc_of_people_vs_shrout_fleiss_1979(sides: tuple[str, ...], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("condyle.repeatability.reliability_table.FEWEST_PEOPLE", 6)
    row = reliability_table(repeats(SHROUT_FLEISS, sides)).iloc[0]
    # a second leg that repeats the first adds no person: the same value with one leg and with two
    assert (row.icc_2_1, row.icc_3_1) == (pytest.approx(0.29, abs=0.005), pytest.approx(0.71, abs=0.005))
    assert (row.participants, row.sessions) == (6, 24)
    assert row.sem_mean == pytest.approx(np.sqrt(6.26), abs=0.005)  # their mean square within targets


def test_two_legs_of_one_person_or_too_few_people_give_no_icc() -> None:
    draw = np.random.default_rng(1)
    for people in (1, 2, 9):
        table = reliability_table(repeats(draw.normal(size=(people, 1)) + draw.normal(size=(people, 3))))
        assert table[["icc_2_1", "icc_3_1"]].isna().all(axis=None)
    table = reliability_table(repeats(draw.normal(size=(10, 1)) + draw.normal(size=(10, 3))))
    assert table[["icc_2_1", "icc_3_1"]].notna().all(axis=None)


def test_ten_people_leave_an_icc_half_open_and_five_leave_nothing_vs_shrout_fleiss_1979() -> None:
    def interval(people: int) -> list[float]:  # of an ICC(3,1) of .8 from two sessions: between = 9 times error
        return intraclass_intervals(np.array([9.0, 1.0, 1.0, 1.0, people]), 2)[2].tolist()

    assert interval(10) == pytest.approx([0.38, 0.95], abs=0.005)
    assert interval(5) == pytest.approx([-0.03, 0.98], abs=0.005)


def test_what_does_not_vary_beyond_rounding_has_no_row_and_is_not_passed_on() -> None:
    table = reliability_table(repeats(SHROUT_FLEISS, constant=200.0))
    assert table.measure.tolist() == ["fppa_change"]
    assert "depth" not in repeatability_yaml(table)


def test_people_measured_once_do_not_count() -> None:
    once = repeats(SHROUT_FLEISS[:2, :3])
    row = reliability_table([*once, *repeats(np.array([[0.0], [0.0], [5.0]]))[2:]]).iloc[0]
    assert (row.participants, row.sessions) == (2, 6)


def test_printed_lines_say_how_many_people() -> None:
    def lines(people: int) -> list[str]:
        empty = pd.DataFrame({"verdict": []})
        return sentences_of(Comparison(empty, empty, reliability_table(repeats(SHROUT_FLEISS[:people])), ()))

    (one,), (six,) = lines(1), lines(6)
    assert one.endswith("(n = 1 participant, 4 sessions; too few to know the error well)")
    assert six.endswith("(n = 6 participants, 24 sessions)")


def test_a_standing_angle_that_is_0_by_definition_is_not_given(root: Path) -> None:
    sessions, _ = gather(root)
    assert "pelvis_rotation_standing" not in set(reliability_table(sessions).measure)


def test_check_of_a_root_writes_tables_picture_and_yaml(
    root: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["check", str(root), "--out", str(tmp_path)]) == 0
    said = capsys.readouterr().out
    assert "tibial_tuberosity_r placed" in said
    assert "40 mm down" in said
    landmarks = pd.read_csv(tmp_path / "landmarks.csv")
    assert landmarks.iloc[0].landmark == "tibial_tuberosity_r"
    assert (tmp_path / "landmarks.svg").read_text().startswith("<?xml")
    assert "single_leg_squat.knee_flexion_change" in (tmp_path / "repeatability.yaml").read_text()


def test_the_yaml_names_single_and_mean(root: Path) -> None:
    sessions, _ = gather(root)
    assert "sem_single" in repeatability_yaml(reliability_table(sessions))
