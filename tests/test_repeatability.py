"""Across sessions: a landmark placed elsewhere is named with its direction; repeat sessions give SEM and MDC."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.spatial.transform import Rotation

from condyle.command import main
from condyle.mechanics.replacement import axes_offset, placed_differently
from condyle.repeatability.comparing import landmarks_table, repeatability_yaml
from condyle.repeatability.gathering import gather
from condyle.repeatability.reliability_table import reliability_table
from condyle.sample import Options, build_person, simulate_session, write_session
from condyle.sample.timing import Timing

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
    """Two sessions of two people; in the second of MR01 the right tuberosity marker sits 40 mm lower."""
    place = tmp_path_factory.mktemp("lab")
    options = Options.ideal(timing=Timing(repetitions=2), rate_hz=50.0)
    squat = {"squat_right": [("right", "controlled")]}
    names = {"marker_set": "clusters_full_body", "pipeline": "single_leg_squat"}
    for k, name in enumerate(("MR01", "MR02")):
        person = build_person(name, height_mm=1700 + 60 * k)
        segment, where = person.points["tibial_tuberosity_r"]
        lower = dict(person.points) | {"tibial_tuberosity_r": (segment, where - np.array([0, 40.0, 0]))}
        later = replace(person, points=lower) if name == "MR01" else person
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
