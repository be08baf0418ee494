"""Monte Carlo limits: what is drawn, what cancels, and that the intervals hold the truth (small version of tests.coverage)."""

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest
import xarray as xr

from condyle.body_names import JOINT_ANGLES, LANDMARKS
from condyle.files.limits import load_limits
from condyle.mechanics.body_angles import all_angles
from condyle.mechanics.contributions import account_from_above
from condyle.mechanics.joint_angles import joint_matrix, segment_matrix
from condyle.mechanics.landmark_error import (
    NORMAL_AXIS,
    fit_response,
    kind_of,
    left_over,
    misplaced,
    normals,
    residual_turn,
    turn_of,
)
from condyle.mechanics.posture import measured_of, posture_of
from condyle.mechanics.rigid_fit import rigid_fit
from condyle.mechanics.rotations import rotation_y
from condyle.sample.movements import MOVEMENTS
from condyle.sample.options import Options
from condyle.sample.person import Posture, build_person
from condyle.sample.simulate import simulate
from condyle.sample.timing import Timing
from condyle.stages.accounts import (
    ACCOUNTS,
    SOURCES,
    account_courses,
    account_values,
    leg_through,
    repetition_rows,
)
from condyle.stages.calibration_choices import calibration_choices
from condyle.stages.causes import bottom_tables, headings_to_try
from condyle.stages.contributions import ContributionsSettings, below_table, contributions_trial
from condyle.stages.drawn_accounts import drawn_accounts
from condyle.stages.drawn_peaks import _peaks
from condyle.stages.drawn_points import drawn_points
from condyle.stages.drawn_views import PlanarView, adduction_parts, foot_values, planar_values
from condyle.stages.draws import draws_through
from condyle.stages.uncertainty import UncertaintySettings, moments_of, uncertainty_trial

from .coverage import coverage, has_width
from .simulated import processed

SDS = load_limits("uncertainty")
POINTS = np.array([[0.0, 0, 120], [0, 0, -120], [-180, 10, 40], [-180, 0, -45], [-75, 75, 138], [-70, 75, -138]])


@lru_cache(maxsize=1)
def squat() -> xr.Dataset:
    person = build_person()
    options = replace(
        Options.ideal(), rate_hz=60.0, static_s=0.6, timing=Timing(repetitions=2, squat_s=1.2, before_s=0.7)
    )
    trial, _ = processed(person, simulate(person, "hip_in", options, "left"), {"filter": {"cutoff_hz": 20.0}})
    return contributions_trial(trial, ContributionsSettings())[0]


def width(done: xr.Dataset, measure: str) -> np.ndarray:
    k = [str(n) for n in done["measure"].values].index(measure)
    return done["measure_upper"].values[:, k] - done["measure_lower"].values[:, k]


def drawn(**settings) -> xr.Dataset:
    return uncertainty_trial(squat(), UncertaintySettings(**{"draws": 80, **settings}))[0]


def test_every_landmark_has_a_standard_deviation_and_a_normal() -> None:
    for name in LANDMARKS:
        assert SDS[f"{kind_of(name)}_mm"].unit == "mm"
        assert NORMAL_AXIS[kind_of(name)] in (0, 1, 2)


def test_misplacement_stays_in_the_tangent_plane_with_its_rms_distance() -> None:
    axes = rotation_y(0.4)
    away = misplaced("asis_l", np.array([1.0, 2.0, 3.0]), axes, 10.0, 1, 20000) - [1.0, 2.0, 3.0]
    np.testing.assert_allclose(away @ axes[:, 0], 0.0, atol=1e-12)
    assert np.sqrt((away**2).sum(axis=1).mean()) == pytest.approx(10.0 * np.sqrt(2.0), rel=0.02)


def test_numbers_depend_on_seed_and_purpose_alone() -> None:
    np.testing.assert_array_equal(normals(3, "asis_r", (5, 3)), normals(3, "asis_r", (5, 3)))
    assert not np.allclose(normals(3, "asis_r", (5, 3)), normals(3, "asis_l", (5, 3)))
    assert not np.allclose(normals(3, "asis_r", (5, 3)), normals(4, "asis_r", (5, 3)))


def test_first_order_response_vs_rigid_fit() -> None:
    moved = np.zeros_like(POINTS)
    moved[0] = [3.0, -2.0, 1.0]  # one ASIS slides
    fit = rigid_fit(POINTS, POINTS + moved)
    turn, shift = fit_response(POINTS, moved)
    np.testing.assert_allclose(turn_of(turn), fit.rotation, atol=3e-4)
    centre = POINTS.mean(axis=0)
    np.testing.assert_allclose(shift, fit.rotation @ centre + fit.translation - centre, atol=1e-9)
    assert left_over(POINTS, moved, turn, shift) == pytest.approx(float(fit.rms), rel=0.01)


def test_hidden_points_do_not_pull() -> None:
    seen, moved = POINTS.copy(), np.zeros_like(POINTS)
    seen[0], moved[0] = np.nan, 15.0
    np.testing.assert_allclose(fit_response(seen, moved)[0], 0.0, atol=1e-15)
    assert np.isnan(fit_response(np.array([[0.0, 0, k] for k in range(3)]), np.zeros((3, 3)))[0]).all()


def test_residual_turn_vs_the_scatter_of_noisy_fits() -> None:
    rng = np.random.default_rng(0)
    fits = rigid_fit(POINTS, POINTS + 2.0 * rng.standard_normal((4000, *POINTS.shape)))
    scatter = (fits.rotation[:, 2, 1], fits.rotation[:, 0, 2], fits.rotation[:, 1, 0])
    drawn_turns = residual_turn(POINTS, fits.rms, rng.standard_normal((4000, 3)))
    np.testing.assert_allclose(drawn_turns.std(axis=0), np.std(scatter, axis=1), rtol=0.1)


def test_twist_of_the_thigh_moves_hip_and_knee_against_each_other_and_leaves_fppa() -> None:
    # thigh 420, shank 410 mm, tilt 18, hip 70, knee 78 of flexion: a twist of 8 degrees contributes +8.7 at the hip and
    # -8.7 at the knee; the residual of the fit is 0, so nothing but a model of it can show it
    pelvis = segment_matrix(0.0, 0.0, np.deg2rad(18.0), "right")
    hip = joint_matrix(np.deg2rad(70.0), 0.0, 0.0, "hip", "right")
    knee = joint_matrix(np.deg2rad(78.0), 0.0, 0.0, "knee", "right")
    thigh, shank, twist = pelvis @ hip, pelvis @ hip @ knee, rotation_y(np.deg2rad(8.0))
    down, below = np.array([0.0, -420.0, 0.0]), np.array([0.0, -410.0, 0.0])
    centres = np.zeros(3), thigh @ down, thigh @ down + shank @ below
    plain, twisted = (posture_of(pelvis, t, shank, *centres) for t in (thigh, thigh @ twist))
    assert measured_of(plain)[0] == pytest.approx(measured_of(twisted)[0], abs=1e-12)
    parts = np.rad2deg(account_from_above(twisted.angles, plain.angles[:6], down, below).parts[0])
    np.testing.assert_allclose(parts, [0, 0, 0, 8.7, -8.7, 0], atol=0.05)


def test_same_seed_same_limits_another_seed_others() -> None:
    one, again, other = drawn(seed=5), drawn(seed=5), drawn(seed=6)
    assert one.identical(again)
    assert not np.allclose(width(one, "fppa_at_bottom"), width(other, "fppa_at_bottom"))


def test_no_errors_no_width_and_the_value_lies_inside() -> None:
    still = drawn(sd_scale=0.0)
    assert np.nanmax(np.abs(width(still, "fppa_change"))) < 1e-9
    done = drawn()
    value, low, high = (done[f"measure_{n}"].values for n in ("value", "lower", "upper"))
    known = np.isfinite(low)
    assert known.sum() > 200
    assert (low[known] <= high[known]).all()
    inside = (low[known] <= value[known]) & (value[known] <= high[known])
    assert inside.mean() > 0.97


def test_ranges_paths_counts_and_times_get_no_limits() -> None:
    done = drawn()
    names = [str(n) for n in done["measure"].values]
    ends = ("_range", "_path_length", "_reversals", "_percent", "_time", "_sparc", "_path_ratio")
    none = [k for k, n in enumerate(names) if n.endswith(ends)]
    assert np.isnan(done["measure_lower"].values[:, none]).all()
    lengths = {"heel_lift", "thigh_twist_range", "pelvis_over_foot_at_start"}
    lengths |= {n for n in names if n.startswith("leg_shown")}
    given = np.isfinite(done["measure_value"].values).all(axis=0)
    for k, name in enumerate(names):
        if given[k] and name not in lengths and not name.endswith(ends):
            assert np.isfinite(done["measure_lower"].values[:, k]).all(), name
            # a peak at the very start is 0 by definition, whatever the errors, and a knee at 60 degrees is at 60 degrees
            given_by_name = ("peak_medial", "peak_lateral", "knee_flexion_at_60_knee_flexion")
            assert (width(done, name) > 0).all() or name.endswith(given_by_name), name
    for name in ("hip_adduction_max", "knee_travel", "depth", "com_offset_bottom", "knee_peak_medial", "shank_tilt"):
        assert (width(done, name) > 0).all(), name


def test_errors_common_to_repetitions_are_larger_than_what_differs_between_them() -> None:
    done = drawn()
    one = done["contribution_upper"].values - done["contribution"].values
    adduction = one[:, ACCOUNTS.index("fppa"), SOURCES.index("hip_adduction")]
    assert abs(adduction[0] - adduction[1]) < 0.2 * adduction.mean()


def test_larger_errors_wider_limits() -> None:
    ratio = width(drawn(sd_scale=0.5), "hip_adduction_at_bottom") / width(drawn(), "hip_adduction_at_bottom")
    np.testing.assert_allclose(ratio, 0.5, atol=0.1)
    wide = drawn(sds={"heading_deg": 12.0})
    assert (width(wide, "pelvis_rotation_at_bottom") > 2 * width(drawn(), "pelvis_rotation_at_bottom")).all()


@pytest.mark.parametrize("side", ["left", "right"])
def test_the_draw_without_errors_is_the_trial_as_processed(side: str) -> None:
    person = build_person()
    turned = replace(MOVEMENTS["shared"], start={"pelvis_rotation": 14.0})  # two headings to try
    options = replace(
        Options.ideal(), rate_hz=60.0, static_s=0.6, timing=Timing(repetitions=2, squat_s=1.2, before_s=0.7)
    )
    trial, _ = processed(person, simulate(person, turned, options, side))
    rows, limits = repetition_rows(trial), load_limits("findings")
    leg, turns = leg_through(trial, side), headings_to_try(trial, limits)
    assert len(turns) == 2
    frames, moments = moments_of(trial)
    draws = draws_through(trial, frames, SDS, 1.0, 1, 3)
    accounts = drawn_accounts(trial, leg, rows, moments, draws, turns)
    np.testing.assert_allclose(accounts.bottom[:, 0], bottom_tables(trial, {side: leg}, turns, 0.3), atol=1e-6)
    angle = all_angles(draws.rotation, draws.joint)[0, :, :, :17]
    given = trial["angle"].values[frames][:, :, :17]
    readable = ~np.isnan(given)  # no FPPA of the free leg, whose shank points backwards
    np.testing.assert_allclose(angle[readable], given[readable], atol=1e-7)
    assert readable[..., :16].all()
    static = all_angles(draws.static_rotation, draws.static_joint)[0, :, :17]
    np.testing.assert_allclose(static, trial["static_angle"].values[:, :17], atol=1e-7)
    value = account_values(trial, account_courses(trial, {side: leg}, 0.3))
    np.testing.assert_allclose(accounts.below[0], below_table(value), atol=1e-6)


def test_the_flat_views_balance_and_split_of_the_draw_without_errors_are_those_of_the_trial() -> None:
    trial, chosen = squat(), ContributionsSettings()
    rows, (frames, moments) = repetition_rows(trial), moments_of(trial)
    draws = draws_through(trial, frames, SDS, 1.0, 1, 3)
    mass = drawn_points(trial, "left", draws, frames)["centre_of_mass"]
    found = planar_values(trial, rows, moments, draws, frames, PlanarView(chosen.planar_limits(), 0.3))
    found |= foot_values(trial, rows, moments, draws, frames, mass) | adduction_parts("left", moments, draws)
    assert len(found) == 8
    names = trial["measure"].values.tolist()
    for name, values in found.items():
        measured = trial["measure_value"].values[:, names.index(name)]
        np.testing.assert_allclose(values[0], measured, atol=1e-9, err_msg=name)


def without_markers(names: list[str], frames: slice) -> xr.Dataset:
    """The squat with markers hidden in some frames, after its poses were found."""
    trial = squat().copy(deep=True)
    trial["point"].values[frames, [trial["marker"].values.tolist().index(n) for n in names]] = np.nan
    return trial


def test_a_stance_foot_that_is_not_seen_takes_its_own_limits_and_no_others() -> None:
    foot = [f"{n}_l" for n in ("calcaneus", "metatarsal_1", "metatarsal_2", "metatarsal_5")]
    bottom = repetition_rows(squat())[0].bottom
    whole = width(drawn(), "com_outside_foot_bottom")
    for hidden in (foot, foot[1:3]):
        trial = without_markers(hidden, slice(bottom - 5, bottom + 6))
        done = uncertainty_trial(trial, UncertaintySettings(draws=80))[0]
        found = width(done, "com_outside_foot_bottom")
        assert np.isnan(found[0])
        assert found[1] == pytest.approx(whole[1])
        assert np.isfinite(width(done, "fppa_at_bottom")).all()


def test_acromia_seven_mm_off_tilt_the_line_between_them() -> None:
    only = dict.fromkeys(SDS, 0.0) | {"acromion_mm": 7.0, "soft_tissue_at_deg": 75.0, "examiner_factor": 1.0}
    done = drawn(draws=400, sds=only)
    across = 2 * 1.96 * np.rad2deg(np.sqrt(2) * 7.0 / 360.0)  # nearly: they lie some 360 mm apart
    assert width(done, "shoulder_line_rotation_at_start") == pytest.approx(across, rel=0.25)
    assert width(done, "shoulder_line_rotation_change").max() < 0.3 * across, "carried by the trunk, it cancels"
    assert width(done, "hip_adduction_at_bottom").max() < 1e-4


@pytest.mark.parametrize(
    "calibrate", [{"hip_centre": "bell_1990"}, {"hip_centre": "hara_2016", "shank": "isb"}, {"shank": "epicondyles"}]
)
def test_how_the_standing_trial_was_calibrated_is_read_back(calibrate: dict[str, str]) -> None:
    person = build_person(posture=Posture(knee_internal_rotation=-12.0))  # torsion tells the kinds of shank apart
    options = replace(
        Options.ideal(), rate_hz=60.0, static_s=0.6, timing=Timing(repetitions=1, squat_s=1.2, before_s=0.7)
    )
    trial, _ = processed(person, simulate(person, "controlled", options, "right"), {"calibrate": calibrate})
    choices = calibration_choices(trial)
    assert choices.hip_method == calibrate.get("hip_centre", "harrington_2007")
    if "shank" in calibrate:
        assert choices.shank_kind == calibrate["shank"]
    assert choices.fixed == {}


def test_intervals_hold_the_truth_of_six_new_people() -> None:
    table = coverage(6, draws=60)
    usual = [one.share for name, one in table.items() if one.n >= 5 and has_width(name, one)]
    assert len(usual) > 150
    assert np.mean(usual) > 0.88  # 2,000 people: tests.coverage


def test_a_peak_of_a_draw_may_lie_at_another_moment() -> None:
    # known at the start and not at the bottom: what is largest at the start may be larger at the bottom of a draw
    course, bent = np.array([[2.0], [1.5], [1.0], [np.nan], [1.9]]), np.array([0.0, 0.5, 1.0, 0.7, 0.2])
    start, bottom = np.zeros((4, 1)), np.array([[4.0], [-4.0], [0.0], [0.5]])
    most, least = _peaks(course, bent, start, bottom)
    np.testing.assert_allclose(most[:, 0], [3.0, 0.0, 0.0, 0.0])  # 1 + 4 at the bottom against 2 at the start
    np.testing.assert_allclose(least[:, 0], [4.0, -4.0, 0.0, 0.5])  # at the bottom itself, where the trial has it
    gone = _peaks(np.full((5, 1), np.nan), bent, start, bottom)
    assert np.isnan(gone).all()


def test_a_draw_reaches_sixty_degrees_at_a_moment_of_its_own() -> None:
    done, row = drawn(), repetition_rows(squat())[0]
    assert width(done, "knee_flexion_at_60_knee_flexion").max() < 1e-9  # it is 60 by definition
    # only the knee's flexion is drawn wrong, by the thigh's tilt: what is left of the trunk's angle is another moment
    only = dict.fromkeys(SDS, 0.0) | {"thigh_tilt_deg": 3.0, "soft_tissue_at_deg": 75.0, "examiner_factor": 1.0}
    done = drawn(draws=400, sds=only)
    angle = squat()["angle"].values[:, 0]
    knee, trunk = (angle[:, JOINT_ANGLES.index(n)] for n in ("knee_flexion", "trunk_flexion"))
    at = int(row.at_60)
    per_degree = abs((trunk[at + 1] - trunk[at]) / (knee[at + 1] - knee[at]))
    expected = 2 * 1.96 * per_degree * 3.0 * 60.0 / 75.0
    assert per_degree > 0.05
    assert width(done, "trunk_flexion_at_60_knee_flexion")[0] == pytest.approx(expected, rel=0.2)
    assert width(done, "trunk_flexion_at_bottom").max() < 1e-6
