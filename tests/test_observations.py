"""Findings, validity and planar reading: each made to happen, and each absent where it did not."""

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest
import xarray as xr

from condyle.body_names import JOINT_ANGLES, JOINTS, SEGMENTS
from condyle.files.limits import load_limits
from condyle.findings import Finding
from condyle.mechanics.rotations import rotation_y
from condyle.sample.movements import MOVEMENTS
from condyle.sample.options import Options
from condyle.sample.person import build_person
from condyle.sample.simulate import simulate
from condyle.sample.timing import Timing
from condyle.stages.accounts import leg_through, repetition_rows
from condyle.stages.beside_the_verdict import direction_of, seen_in
from condyle.stages.causes import BY_HEADING, REBUILT, bottom_tables, headings_to_try, named_causes
from condyle.stages.contributions import ContributionsSettings, below_table, contributions_trial
from condyle.stages.uncertainty import UncertaintySettings, uncertainty_trial
from condyle.stages.validity import faults_of, looked_at, not_looked_for

from .simulated import processed

LIMITS = load_limits("findings")
OPTIONS = replace(Options.ideal(), rate_hz=60.0, static_s=0.6, timing=Timing(repetitions=2, squat_s=1.6, before_s=0.7))
STILL = {
    **{f"{n}_change": 0.0 for n in ("pelvis_obliquity", "trunk_lean", "trunk_rotation", "pelvis_rotation")},
    **{f"knee_{n}": 0.0 for n in ("travel", "end_offset", "path_angle_descent", "path_angle_ascent")},
    **{"knee_reversals": 1.0, "knee_path_ratio": 2.0, "knee_sparc": -2.0, "pelvis_obliquity_at_bottom": 0.0},
    **{"hip_centre_shift": 0.0, "com_outside_foot_bottom": -5.0, "heel_lift": 0.0},
    **{
        "com_ahead_of_foot": 3.0,
        "com_medial_of_foot": 2.0,
        "hip_adduction_change": 0.0,
        "hip_adduction_by_pelvis": 0.0,
    },
    **{"knee_flexion_at_bottom": 78.0, "leg_shown_at_bottom": 60.0, "descent_time": 1.0, "ascent_time": 1.0},
}
OFF_FOOT = {"com_outside_foot_bottom": 40.0}
DROPPED = {"hip_adduction_change": 8.0, "hip_adduction_by_pelvis": 5.0, "pelvis_obliquity_change": 6.0}
NO_TRUNK = {
    **{f"trunk_{n}_change": np.nan for n in ("lean", "rotation")},
    **{"trunk_line_lean_change": 0.0, "shoulder_line_rotation_change": 0.0},
}


def words(**changes: float) -> list[str]:
    return [s.words for s in seen_in(STILL | changes, LIMITS)]


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


@lru_cache(maxsize=4)
def measured(movement: str = "controlled", turned: float = 0.0, foot_turn: float = 0.0) -> xr.Dataset:
    chosen = MOVEMENTS[movement]
    chosen = replace(
        chosen, start={**chosen.start, "pelvis_rotation": chosen.start.get("pelvis_rotation", 0.0) + turned}
    )
    return processed(
        build_person(), simulate(build_person(), chosen, replace(OPTIONS, foot_turn_deg=foot_turn), "right")
    )[0]


def faults(trial: xr.Dataset) -> list[list[str]]:
    return [[f.words for f in found] for found in faults_of(looked_at(trial, repetition_rows(trial), LIMITS), LIMITS)]


def unseen(trial: xr.Dataset) -> list[Finding]:
    rows = repetition_rows(trial)
    return not_looked_for(trial, rows, looked_at(trial, rows, LIMITS))


def moved(name: str, by: tuple[float, float, float], frames: slice | None = None) -> xr.Dataset:
    """The trial with one foot's markers elsewhere in the middle of the first repetition."""
    trial = measured().copy(deep=True)
    row = repetition_rows(trial)[0]
    chosen = frames or slice(row.bottom - 6, row.bottom + 6)
    columns = [
        k
        for k, n in enumerate(trial["marker"].values)
        if str(n).startswith(("calcaneus", "metatarsal")) and str(n).endswith(name)
    ]
    for k in columns:
        trial["point"].values[chosen, k] += by
    return trial


def test_a_plain_squat_is_valid() -> None:
    assert faults(measured()) == [[], []]


def test_stance_foot_that_slides_or_hops() -> None:
    assert faults(moved("_r", (0.0, 0.0, 25.0))) == [["the stance foot slid"], []]
    assert faults(moved("_r", (0.0, 25.0, 0.0))) == [["the stance foot hopped"], []]


def test_stance_foot_that_pivots() -> None:
    trial = measured().copy(deep=True)
    row = repetition_rows(trial)[0]
    heel = [str(n) for n in trial["marker"].values].index("calcaneus_r")
    trial["point"].values[row.bottom, heel, 2] += 40.0  # some 170 mm behind the metatarsals: 13 degrees
    assert faults(trial) == [["the stance foot pivoted"], []]


def test_free_foot_on_the_floor() -> None:
    trial = measured()
    row = repetition_rows(trial)[0]
    names = [str(n) for n in trial["marker"].values]
    lowest = min(
        float(trial["point"].values[row.bottom, names.index(n), 1] - trial["static_point"].values[names.index(n), 1])
        for n in ("calcaneus_l", "metatarsal_1_l", "metatarsal_2_l", "metatarsal_5_l")
    )
    assert lowest > 30.0
    landed = faults(moved("_l", (0.0, 5.0 - lowest, 0.0)))
    assert "the free foot touched the floor" in landed[0]
    assert landed[1] == []


def test_invalid_repetition_is_measured_and_marked() -> None:
    done, findings = contributions_trial(moved("_r", (0.0, 0.0, 25.0)), ContributionsSettings())
    assert done["repetition_valid"].values.tolist() == [False, True]
    assert "invalid: the stance foot slid" in str(done["repetition_findings"].values[0])
    row = next(f for f in findings if f.check == "repetition valid")
    assert (row.limit, row.unit, row.verdict) == (20.0, "mm", "review")
    assert row.value == pytest.approx(25.0, abs=2.0)
    assert np.isfinite(done["measure_value"].values[0]).sum() > 200


def test_cause_must_stand_under_both_headings() -> None:
    trial = measured("hip_in", turned=16.0)  # the pelvis is turned by 16 degrees before the first squat
    assert abs(float(trial["pelvis_over_foot"].values[0])) > 8.0
    legs = {"right": leg_through(trial, "right")}
    turns = headings_to_try(trial, LIMITS)
    assert list(turns) == ["chosen", "by_foot"]
    tables = bottom_tables(trial, legs, turns, 0.3)
    done, _ = contributions_trial(trial, ContributionsSettings())
    # the other heading must give what a pipeline with that heading gives
    chosen = replace(MOVEMENTS["hip_in"], start={**MOVEMENTS["hip_in"].start, "pelvis_rotation": 16.0})
    simulated = simulate(build_person(), chosen, OPTIONS, "right")
    by_foot, _ = processed(build_person(), simulated, anterior="static_pelvis_by_foot")
    own = bottom_tables(by_foot, {"right": leg_through(by_foot, "right")}, {"chosen": np.zeros(1)}, 0.3)
    np.testing.assert_allclose(tables[1], own[0], atol=0.05)
    assert np.abs(tables[0] - tables[1])[0, 0].max() > 5.0
    each = [
        named_causes(tables[[h]], below_table(done["contribution"].values), "fppa", LIMITS).cause[0] for h in (0, 1)
    ]
    both = named_causes(tables, below_table(done["contribution"].values), "fppa", LIMITS)
    if each[0] == each[1]:
        assert both.cause[0] == each[0]
    else:
        assert both.cause[0] == "not_separable"
        assert BY_HEADING in both.remarks[0]


def test_two_headings_that_disagree_leave_the_cause_open() -> None:
    pelvis, hip = np.zeros((2, 1, 6, 8))
    pelvis[0, 0, 1], hip[0, 0, 3] = 30.0, 30.0
    both = named_causes(np.stack([pelvis, hip]), np.zeros((1, 2, 4)), "fppa", LIMITS)
    assert both.cause == ["not_separable"]
    assert BY_HEADING in both.remarks[0]
    assert named_causes(np.stack([pelvis, pelvis]), np.zeros((1, 2, 4)), "fppa", LIMITS).cause == ["with_the_pelvis"]


def test_rebuilt_pelvis_needs_a_lead_that_clears_its_error() -> None:
    trial = measured("hip_in").copy(deep=True)
    trial["pelvis_rung"].values[:] = 2
    small = contributions_trial(trial.assign_attrs(pelvis_repair_error_deg_2=1.0), ContributionsSettings())[0]
    large = contributions_trial(trial.assign_attrs(pelvis_repair_error_deg_2=9.0), ContributionsSettings())[0]
    assert set(small["repetition_cause"].values) == {"at_the_hip"}
    assert set(large["repetition_cause"].values) == {"not_separable"}
    assert REBUILT in str(large["repetition_findings"].values[0])


def test_a_squat_too_shallow_to_judge_is_not_judged() -> None:
    trial = measured("hip_in").copy(deep=True)
    row = repetition_rows(trial)[0]
    trial["angle"].values[row.bottom, 1, JOINT_ANGLES.index("knee_flexion")] = 40.0
    done, _ = contributions_trial(trial, ContributionsSettings())
    assert done["repetition_cause"].values.tolist() == ["not_separable", "at_the_hip"]
    assert done["repetition_misread"].values[0] == ""
    drawn = uncertainty_trial(done, UncertaintySettings(draws=60))[0]
    assert drawn["repetition_cause"].values[0] == "not_separable"
    assert np.isnan(drawn["repetition_confidence"].values[0])


def test_a_hop_inside_a_squat_makes_it_invalid_and_hides_none() -> None:
    person = build_person()
    simulated = simulate(person, "controlled", replace(OPTIONS, timing=Timing(repetitions=3)), "right")
    whole, _ = processed(person, simulated)
    bottom = simulated.bouts[0].repetitions[1].bottom
    away = (np.arange(len(simulated.time)) - bottom) / simulated.options.rate_hz - 0.3
    points = simulated.points.copy()
    lifted = 60.0 * np.exp(-((away / 0.08) ** 2))
    points[..., "XYZ".index(simulated.options.lab.vertical[-1])] += lifted[:, None]
    hopped, _ = processed(person, replace(simulated, points=points))
    assert hopped["repetition_bottom"].values.tolist() == whole["repetition_bottom"].values.tolist()
    assert len(hopped["bout"]) == 1
    done, _ = contributions_trial(hopped, ContributionsSettings())
    assert done["repetition_valid"].values.tolist() == [True, False, True]
    assert "the stance foot hopped" in str(done["repetition_findings"].values[1])


def test_without_foot_markers_it_is_said_what_is_not_looked_for() -> None:
    trial = measured("hip_in").copy(deep=True)
    columns = [k for k, n in enumerate(trial["marker"].values) if str(n).startswith(("calcaneus", "metatarsal"))]
    trial["point"].values[:, columns] = np.nan
    trial["calibrated_point"].values[[SEGMENTS.index("foot_l"), SEGMENTS.index("foot_r")]] = np.nan
    found = {f.subject: f.advice for f in unseen(trial)}
    assert "hopping" in found["foot_r"]
    assert "touching" in found["foot_l"]
    assert unseen(measured("hip_in")) == []


def test_no_pelvis_at_the_bottom_no_cause() -> None:
    trial = measured("hip_in").copy(deep=True)
    row = repetition_rows(trial)[0]
    for name in (
        "hip_adduction",
        "hip_internal_rotation",
        "hip_flexion",
        "pelvis_tilt",
        "pelvis_rotation",
        "pelvis_obliquity",
    ):
        trial["angle"].values[row.bottom, 1, JOINT_ANGLES.index(name)] = np.nan
    done, _ = contributions_trial(trial, ContributionsSettings())
    assert done["repetition_cause"].values.tolist() == ["not_separable", "at_the_hip"]
    assert "contributions not given" in str(done["repetition_findings"].values[0])
    assert np.isnan(done["contribution"].values[0, 0]).all()


def test_twist_that_a_gap_may_hold_has_no_range() -> None:
    twisted = measured("hip_in").copy(deep=True)
    row, thigh = repetition_rows(twisted)[0], SEGMENTS.index("thigh_r")
    frame = np.arange(twisted.sizes["time"])
    bump = rotation_y(np.deg2rad(10.0) * np.exp(-(((frame - row.bottom + 8) / 5.0) ** 2)))
    twisted["pose"].values[:, thigh] = twisted["pose"].values[:, thigh] @ bump

    def spans(trial: xr.Dataset) -> list[float]:
        done = contributions_trial(trial, ContributionsSettings())[0]
        return done["measure_value"].values[:, done["measure"].values.tolist().index("thigh_twist_range")].tolist()

    whole = spans(twisted)
    hidden = slice(row.bottom - 12, row.bottom - 4)
    twisted["pose"].values[hidden, thigh] = np.nan
    twisted["angle"].values[hidden, :, JOINT_ANGLES.index("knee_flexion")] = np.nan
    assert whole[0] > 8.0
    assert np.isnan(spans(twisted)[0]), "beside the gap it would be too small"
    assert spans(twisted)[1] == whole[1]


def test_planar_reading_follows_the_knee_where_there_is_no_patella() -> None:
    trial = measured("hip_in").copy(deep=True)
    with_patella = contributions_trial(trial, ContributionsSettings())[0]
    assert set(with_patella["repetition_planar_reading"].values) == {"knee_in"}
    names = [str(n) for n in trial["marker"].values]
    trial["point"].values[:, [names.index("patella_r"), names.index("patella_l")]] = np.nan
    without, findings = contributions_trial(trial, ContributionsSettings())
    assert set(without["repetition_planar_reading"].values) == {"knee_in"}
    assert any(f.check == "planar reading" and f.subject == "patella" for f in findings)


def test_planar_measures_lie_near_the_frontal_ones() -> None:
    done, _ = contributions_trial(measured("hip_in"), ContributionsSettings())
    names = [str(n) for n in done["measure"].values]
    value = dict(zip(names, done["measure_value"].values[0], strict=True))
    assert value["fppa_camera_at_bottom"] == pytest.approx(value["fppa_at_bottom"], abs=6.0)
    assert value["kneecap_camera_travel"] == pytest.approx(value["patella_travel"], abs=40.0)
    assert value["fppa_pelvis_plane_at_bottom"] > value["fppa_at_bottom"]
    assert 30.0 < value["leg_shown_at_bottom"] < 100.0
    both = value["hip_adduction_by_pelvis"] + value["hip_adduction_by_thigh"]
    assert both == pytest.approx(value["hip_adduction_change"], abs=1e-9)


def test_changed_limits_change_what_is_said() -> None:
    trial = measured("hip_in")
    strict = contributions_trial(trial, ContributionsSettings(limits={"little_deg": 60.0}))[0]
    assert set(strict["repetition_cause"].values) == {"none"}
    other = contributions_trial(trial, ContributionsSettings(explain="thigh_axial_rotation"))[0]
    assert set(other["repetition_explains"].values) <= {"thigh_axial_rotation", "thigh_axial_rotation_from_standing"}
    blind = contributions_trial(
        trial, ContributionsSettings(planar={"travel_mm": 500, "path_angle_deg": 89, "fppa_deg": 90})
    )[0]
    assert set(blind["repetition_planar_reading"].values) == {"straight"}
    with pytest.raises(ValueError, match="not known"):
        ContributionsSettings(limits={"litle_deg": 4.0})


def free_leg_moved(repetitions: int, *moves: tuple[int, tuple[float, float], tuple[float, float]]) -> xr.Dataset:
    """Repetitions whose free ankle is elsewhere: number, forward and rightward shift in mm, from and to which percent."""
    timing = Timing(repetitions=repetitions, squat_s=1.6, before_s=0.7)
    trial, _ = processed(
        build_person(), simulate(build_person(), MOVEMENTS["hip_in"], replace(OPTIONS, timing=timing), "right")
    )
    trial = trial.copy(deep=True)
    ankle = trial["joint_centre"].values[:, JOINTS.index("ankle_l")]
    for number, (forward, right), part in moves:
        row = repetition_rows(trial)[number - 1]
        first, last = np.interp(part, [0.0, 50.0, 100.0], [row.start, row.bottom, row.end]).astype(int)
        ankle[first:last, [0, 2]] += forward, right
    return trial


MOVED = "the free leg's position changed"


@pytest.mark.parametrize(
    ("shift", "part"),
    [((0.0, -250.0), (0.0, 100.0)), ((300.0, 0.0), (5.0, 20.0)), ((-300.0, 0.0), (70.0, 85.0))],
    ids=["to the side", "forward early", "back late"],
)
def test_free_leg_elsewhere_at_any_time_and_in_any_direction(
    shift: tuple[float, float], part: tuple[float, float]
) -> None:
    assert faults(free_leg_moved(5, (4, shift, part))) == [[], [], [], [MOVED], []]
    assert faults(free_leg_moved(5, (4, (0.5 * shift[0], 0.5 * shift[1]), part))) == [[]] * 5


def test_free_legs_that_are_odd_at_different_moments_leave_the_others_valid() -> None:
    moves = [
        (3, (0.0, -250.0), (0.0, 100.0)),
        (4, (300.0, 0.0), (40.0, 60.0)),
        (5, (300.0, 0.0), (5.0, 20.0)),
    ]
    trial = free_leg_moved(5, *moves)
    assert faults(trial) == [[], [], [MOVED], [MOVED], [MOVED]]
    found = faults_of(looked_at(trial, repetition_rows(trial), LIMITS), LIMITS)
    assert [f.beside for row in found for f in row] == ["", "", ""], "three of five, each at another moment"


def test_free_leg_of_two_repetitions_that_differ_makes_both_invalid_and_says_why() -> None:
    trial = free_leg_moved(2, (2, (350.0, 0.0), (0.0, 100.0)))
    assert faults(trial) == [[MOVED], [MOVED]]
    _, findings = contributions_trial(trial, ContributionsSettings())
    said = [f.advice for f in findings if f.check == "repetition valid"]
    assert len(said) == 2
    assert all("which repetition is the odd one cannot be told" in words for words in said)
    halves = free_leg_moved(4, (3, (350.0, 0.0), (0.0, 100.0)), (4, (350.0, 0.0), (0.0, 100.0)))
    assert faults(halves) == [[MOVED]] * 4
    odd = contributions_trial(free_leg_moved(3, (3, (350.0, 0.0), (0.0, 100.0))), ContributionsSettings())[1]
    (row,) = [f for f in odd if f.check == "repetition valid"]
    assert row.value == pytest.approx(350.0, abs=15.0)
    assert "cannot be told" not in row.advice


def test_one_repetition_alone_has_no_other_to_be_held_against() -> None:
    trial = free_leg_moved(1)
    assert faults(trial) == [[]]
    (row,) = unseen(trial)
    assert "free leg's position changed" in row.advice


def hidden(trial: xr.Dataset, names: tuple[str, ...], frames: slice = slice(None)) -> xr.Dataset:
    """Without these markers, and without the frames' pose of the foot they are on."""
    trial = trial.copy(deep=True)
    columns = [k for k, n in enumerate(trial["marker"].values.tolist()) if n in names]
    trial["point"].values[frames, columns] = np.nan
    return trial


FREE_FOOT = ("calcaneus_l", "metatarsal_1_l", "metatarsal_2_l", "metatarsal_5_l")


def test_free_foot_hidden_in_one_repetition_is_said_of_that_one() -> None:
    row = repetition_rows(measured("hip_in"))[1]
    trial = hidden(measured("hip_in"), FREE_FOOT, slice(row.bottom - 15, row.bottom + 15))
    (said,) = unseen(trial)
    assert said.subject == "repetition 2, right"
    assert said.value == pytest.approx(30 / 60.0)
    assert "too little of the left foot is seen to look for its touching the floor" in said.advice
    assert "stance leg" not in said.advice, "the ankle is seen"
    assert faults(trial) == [[], []]


def test_stance_foot_with_one_marker_says_that_pivoting_is_not_looked_for() -> None:
    trial = hidden(measured("hip_in"), ("calcaneus_r", "metatarsal_1_r", "metatarsal_5_r"))
    trial["calibrated_point"].values[SEGMENTS.index("foot_r")] = np.nan
    (said,) = unseen(trial)
    assert said.subject == "foot_r"
    assert "pivoting" in said.advice
    assert "sliding" not in said.advice


def test_free_foot_that_the_standing_trial_did_not_show_has_no_floor() -> None:
    trial = measured("hip_in").copy(deep=True)
    names = trial["marker"].values.tolist()
    trial["static_point"].values[[names.index(n) for n in FREE_FOOT]] = np.nan
    (said,) = unseen(trial)
    assert "touching the floor" in said.advice
