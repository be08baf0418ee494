"""Findings about a repetition, from measures alone: each by itself, with its limit."""

import numpy as np
import pytest

from condyle.stages.beside_the_verdict import direction_of
from tests.observations.shared import LIMITS, STILL, words

OFF_FOOT = {"com_outside_foot_bottom": 40.0}
DROPPED = {"hip_adduction_change": 8.0, "hip_adduction_by_pelvis": 5.0, "pelvis_obliquity_change": 6.0}
NO_TRUNK = {
    **{f"trunk_{n}_change": np.nan for n in ("lean", "rotation")},
    **{"trunk_line_lean_change": 0.0, "shoulder_line_rotation_change": 0.0},
}


def test_nothing_to_say_about_a_plain_squat() -> None:
    assert words() == []


SEEN: list[tuple[dict[str, float], str]] = [
    ({"pelvis_obliquity_at_bottom": 6.0, "pelvis_obliquity_change": 4.0}, "free side of the pelvis dropped"),
    ({"pelvis_obliquity_at_bottom": -6.0, "pelvis_obliquity_change": -4.0}, "free side of the pelvis hiked"),
    ({"hip_centre_shift": -31.0}, "hip centre shifted laterally"),
    ({"trunk_lean_change": 11.0}, "trunk leaned towards the stance side"),
    ({"trunk_lean_change": -11.0}, "trunk leaned away from the stance side"),
    ({"trunk_rotation_change": 9.0, "pelvis_rotation_change": 12.0}, "trunk and pelvis turned together"),
    ({"knee_reversals": 5.0, "knee_path_ratio": 6.0}, "knee wavered"),
    ({"knee_sparc": -5.0}, "knee moved unsteadily"),
    ({"knee_path_angle_descent": 30.0, "knee_path_angle_ascent": 10.0}, "knee came back another way"),
    ({"knee_end_offset": -25.0}, "knee ended elsewhere than it started"),
    ({**OFF_FOOT, "com_medial_of_foot": 38.0}, "centre of mass off the foot medially"),
    ({**OFF_FOOT, "com_medial_of_foot": -38.0}, "centre of mass off the foot laterally"),
    ({**OFF_FOOT, "com_ahead_of_foot": 38.0}, "centre of mass off the foot forwards"),
    ({**OFF_FOOT, "com_ahead_of_foot": -38.0, "com_medial_of_foot": 12.0}, "centre of mass off the foot backwards"),
    ({**OFF_FOOT, "com_ahead_of_foot": np.nan, "com_medial_of_foot": np.nan}, "centre of mass off the foot"),
    (DROPPED, "the pelvis dropped over the thigh"),
    ({**DROPPED, "pelvis_obliquity_change": 0.0}, "the pelvis moved over the thigh"),
    ({"heel_lift": 16.0}, "heel lifted"),
    ({"knee_flexion_at_bottom": 40.0}, "too shallow to judge"),
    ({"leg_shown_at_bottom": 45.0}, "thigh or shank foreshortened, FPPA is unreliable"),
    ({"leg_shown_at_bottom": 25.0}, "thigh or shank foreshortened, FPPA is not given"),
    ({"descent_time": 3.0}, "slower than the protocol"),
    ({"descent_time": 0.4, "ascent_time": 0.4}, "faster than the protocol"),
    ({"hip_centre_shift": 31.0}, "hip centre shifted medially"),
    ({**NO_TRUNK, "trunk_line_lean_change": 11.0}, "trunk line leaned towards the stance side"),
    ({**NO_TRUNK, "trunk_line_lean_change": -11.0}, "trunk line leaned away from the stance side"),
    (
        {**NO_TRUNK, "shoulder_line_rotation_change": -9.0, "pelvis_rotation_change": -12.0},
        "shoulder line and pelvis turned together",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("changes", "said"), SEEN)
def test_each_finding_by_itself(changes: dict[str, float], said: str) -> None:
    assert words(**changes) == [said]


def test_opposite_turns_and_missing_measures_say_nothing() -> None:
    assert words(trunk_rotation_change=-9.0, pelvis_rotation_change=12.0) == []
    assert words(pelvis_obliquity_at_bottom=6.0, pelvis_obliquity_change=1.0) == []  # so they stood before
    assert words(com_outside_foot_bottom=np.nan, heel_lift=np.nan, hip_centre_shift=np.nan) == []


def test_a_trunk_line_is_never_called_trunk() -> None:
    changes = {"trunk_lean_change": np.nan, "trunk_line_lean_change": 12.0, "shoulder_line_rotation_change": 0.0}
    assert words(**changes) == ["trunk line leaned towards the stance side"]


def test_direction_of_the_knee() -> None:
    assert direction_of(STILL | {"knee_travel": 25.0, "knee_path_angle_descent": 25.0}, LIMITS) == "medial"
    assert direction_of(STILL | {"knee_travel": -25.0}, LIMITS) == "lateral"
    assert direction_of(STILL, LIMITS) == "none"
    wavering = {"knee_travel": 30.0, "knee_reversals": 4.0, "knee_path_angle_descent": 14.0}  # net travel deceives
    assert direction_of(STILL | wavering, LIMITS) == "wavering"
    assert direction_of(STILL | {"knee_travel": np.nan, "lateral_epicondyle_travel": np.nan}, LIMITS) == ""
