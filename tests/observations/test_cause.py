"""When the cause stays open: two headings, a rebuilt pelvis, shallow squats, gaps."""

from dataclasses import replace

import numpy as np
import pytest
import xarray as xr

from condyle.body_names import JOINT_ANGLES, SEGMENTS
from condyle.mechanics.rotations import rotation_y
from condyle.sample.movements import MOVEMENTS
from condyle.sample.person import build_person
from condyle.sample.simulate import simulate
from condyle.sample.timing import Timing
from condyle.stages.accounts import leg_through, repetition_rows
from condyle.stages.causes import BY_HEADING, REBUILT, bottom_tables, headings_to_try, named_causes
from condyle.stages.contributions import ContributionsSettings, below_table, contributions_trial
from condyle.stages.uncertainty import UncertaintySettings, uncertainty_trial
from tests.observations.shared import LIMITS, OPTIONS, measured, unseen
from tests.simulated import processed


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


def test_the_lead_on_a_rebuilt_pelvis_in_millimetres_has_a_limit_of_its_own() -> None:
    trial = measured("hip_in").copy(deep=True)
    trial["pelvis_rung"].values[:] = 2
    trial = trial.assign_attrs(pelvis_repair_error_deg_2=1.0)

    def causes(**limits: float) -> set[str]:
        settings = ContributionsSettings(explain="knee_relative_to_hip", limits=limits)
        return set(contributions_trial(trial, settings)[0]["repetition_cause"].values.tolist())

    assert causes() == {"at_the_hip"}
    assert causes(least_part_deg=0.1) == {"at_the_hip"}
    assert causes(rebuilt_pelvis_mm_per_deg=600.0) == {"not_separable"}


@pytest.mark.parametrize("end", [0, 1], ids=["least", "most"])
@pytest.mark.parametrize("name", LIMITS)
def test_every_limit_may_stand_at_its_least_and_its_most(name: str, end: int) -> None:
    trial = measured("hip_in").copy(deep=True)
    trial["pelvis_rung"].values[-1] = 2  # a rebuilt pelvis beyond the squats: looked at, and nothing of it is used
    settings = ContributionsSettings(limits={name: LIMITS[name].bounds[end]})
    done, findings = contributions_trial(trial, settings)
    drawn, more = uncertainty_trial(done, UncertaintySettings(draws=40))
    for made in (done, drawn):
        assert "" not in made["repetition_cause"].values.tolist()
    assert all(f.advice for f in [*findings, *more])


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
