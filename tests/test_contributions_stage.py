"""The contributions stage on simulated recordings, against the forward model's own brute-force accounts."""

import io
from functools import lru_cache

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from condyle.body_names import JOINT_ANGLES, JOINTS, SEGMENTS, SIDES
from condyle.files.tables import csv_text
from condyle.result_tables import SUMMED, contributions_table, measures_table
from condyle.sample.accounts import contributions, contributions_below
from condyle.sample.options import Options
from condyle.sample.person import build_person
from condyle.sample.simulate import SimulatedTrial, simulate, simulate_static
from condyle.stages.accounts import ACCOUNT_UNITS, ACCOUNTS, SOURCES, SOURCES_ABOVE, SOURCES_BELOW
from condyle.stages.contributions import ContributionsSettings, contributions_trial
from condyle.stages.uncertainty import UncertaintySettings, uncertainty_trial

from .simulated import processed

PERSON = build_person()
ABOVE = ("fppa", "knee_relative_to_hip", "thigh_axial_rotation")


@lru_cache(maxsize=8)
def done(movement: str, side: str) -> tuple[SimulatedTrial, xr.Dataset]:
    simulated = simulate(PERSON, movement, Options.ideal(), side)
    trial, _ = processed(PERSON, simulated)
    return simulated, contributions_trial(trial, ContributionsSettings())[0]


def of(trial: xr.Dataset, account: str, source: str) -> np.ndarray:
    return trial["contribution"].values[:, ACCOUNTS.index(account), SOURCES.index(source)]


@pytest.mark.parametrize(("movement", "side"), [("shared", "right"), ("against_each_other", "left")])
def test_parts_vs_brute_force_on_the_bones(movement: str, side: str) -> None:
    simulated, trial = done(movement, side)
    true = contributions(simulated, simulate_static(PERSON, Options.ideal()))
    for end, kind in (("", "from_start"), ("_from_standing", "from_standing"), ("_at_60_knee_flexion", "at_60")):
        for m, measure in enumerate(ABOVE):
            for source in SOURCES_ABOVE[:-1]:
                tolerance = 0.15 if measure != "knee_relative_to_hip" else 0.5  # degrees, mm; the filter is in between
                np.testing.assert_allclose(
                    of(trial, measure + end, source), true[kind][source][m, :, 1], atol=tolerance
                )


@pytest.mark.parametrize(("movement", "side"), [("foot_rolling", "right"), ("knee_giving", "left")])
def test_account_from_below_vs_brute_force(movement: str, side: str) -> None:
    simulated, trial = done(movement, side)
    true = contributions_below(simulated)
    for m, measure in enumerate(("shank_tilt_from_below", "thigh_axial_rotation_from_below")):
        for source in SOURCES_BELOW[:-1]:
            np.testing.assert_allclose(of(trial, measure, source), true[source][m], atol=0.2)


@pytest.mark.parametrize(("movement", "side"), [("shared", "right"), ("posture_kept", "left")])
def test_sources_sum_to_the_measured_change(movement: str, side: str) -> None:
    _, trial = done(movement, side)
    table = np.nansum(trial["contribution"].values, axis=-1)
    angle, s = trial["angle"].values[:, SIDES.index(side)], SIDES.index(side)
    start, bottom = trial["repetition_start"].values, trial["repetition_bottom"].values
    for measure in ("fppa", "thigh_axial_rotation"):
        k = JOINT_ANGLES.index(measure)
        np.testing.assert_allclose(
            table[:, ACCOUNTS.index(measure)], angle[bottom, k] - angle[start, k], atol=1e-9, rtol=0
        )
        from_standing = angle[bottom, k] - trial["static_angle"].values[s, k]
        np.testing.assert_allclose(
            table[:, ACCOUNTS.index(f"{measure}_from_standing")], from_standing, atol=1e-9, rtol=0
        )
    names = [str(n) for n in trial["measure"].values]
    relative = trial["measure_value"].values[:, names.index("knee_relative_to_hip_travel")]
    np.testing.assert_allclose(table[:, ACCOUNTS.index("knee_relative_to_hip")], relative, atol=1e-9, rtol=0)
    sixty = trial["measure_value"].values[:, names.index("fppa_at_60_knee_flexion")]
    fppa_start = angle[start, JOINT_ANGLES.index("fppa")]
    np.testing.assert_allclose(table[:, ACCOUNTS.index("fppa_at_60_knee_flexion")], sixty - fppa_start, atol=1e-9)


def test_each_account_has_its_own_sources_and_unit() -> None:
    _, trial = done("shared", "right")
    seen = ~np.isnan(trial["contribution"].values).all(axis=0)
    for k, account in enumerate(ACCOUNTS):
        expected = SOURCES_BELOW if account.endswith("_from_below") else SOURCES_ABOVE
        assert tuple(s for s, there in zip(SOURCES, seen[k], strict=True) if there) == expected
        assert ACCOUNT_UNITS[k] == ("mm" if account.startswith("knee_relative") else "deg")


@pytest.mark.parametrize(
    ("movement", "cause", "from_below"),
    [
        ("controlled", "none", "little"),
        ("hip_in", "at_the_hip", "ankle"),
        ("pelvis_turn", "with_the_pelvis", "ankle"),
        ("knee_giving", "in_the_leg", "ankle"),
        ("shared", "mixed", "ankle"),
        ("foot_rolling", None, "foot_on_floor"),
    ],
)
def test_cause_named_without_draws(movement: str, cause: str | None, from_below: str) -> None:
    _, trial = done(movement, "right")
    if cause is not None:
        assert set(trial["repetition_cause"].values.tolist()) == {cause}
    assert set(trial["repetition_from_below"].values.tolist()) == {from_below}
    assert set(trial["repetition_explains"].values.tolist()) == {"fppa"}
    assert np.isnan(trial["repetition_confidence"].values).all()


def test_posture_already_there_is_explained_from_standing() -> None:
    _, trial = done("posture_kept", "left")
    assert set(trial["repetition_explains"].values.tolist()) == {"fppa_from_standing"}
    np.testing.assert_allclose(of(trial, "fppa", "pelvis_rotation"), 0.0, atol=0.05)
    assert (of(trial, "fppa_from_standing", "pelvis_rotation") > 10.0).all()


def test_a_moved_joint_centre_shows_as_remainder_only() -> None:
    simulated, before = done("hip_in", "right")
    trial, _ = processed(PERSON, simulated)
    moved = trial.copy(deep=True)
    bottom = int(moved["repetition_bottom"].values[0])
    # as soft tissue on the pelvis would move the hip centre and no angle of the model
    moved["joint_centre"].values[bottom, JOINTS.index("hip_r"), 2] += 10.0
    after = contributions_trial(moved, ContributionsSettings())[0]
    change = after["contribution"].values - before["contribution"].values
    np.testing.assert_allclose(change[0, :2, :7], 0.0, atol=1e-9)
    assert change[0, ACCOUNTS.index("knee_relative_to_hip"), SOURCES.index("remainder")] == pytest.approx(10.0)
    assert change[0, 0, SOURCES.index("remainder")] > 0.5


def test_course_is_zero_at_the_start_and_the_value_at_the_bottom() -> None:
    _, trial = done("shared", "right")
    course = trial["contribution_course"].values[:, 1]
    start, bottom = trial["repetition_start"].values, trial["repetition_bottom"].values
    np.testing.assert_allclose(course[start, 0][:, :8][:, [0, 1, 3, 4]], 0.0, atol=1e-9)
    np.testing.assert_array_equal(course[bottom, 0], trial["contribution"].values[:, 0])
    assert np.isnan(course[0]).all()  # before the first repetition


def without_the_pelvis_at_the_first_bottom() -> xr.Dataset:
    simulated, _ = done("hip_in", "right")
    trial = processed(PERSON, simulated)[0].copy(deep=True)
    bottom = int(trial["repetition_bottom"].values[0])
    lost = (
        "hip_adduction",
        "hip_internal_rotation",
        "hip_flexion",
        "pelvis_tilt",
        "pelvis_rotation",
        "pelvis_obliquity",
    )
    trial["angle"].values[bottom, 1, [JOINT_ANGLES.index(n) for n in lost]] = np.nan
    return trial


def test_an_account_with_a_part_unknown_is_empty_as_a_whole() -> None:
    trial = contributions_trial(without_the_pelvis_at_the_first_bottom(), ContributionsSettings())[0]
    trial = uncertainty_trial(trial, UncertaintySettings(draws=60))[0]
    rows = contributions_table([trial])
    for column in ("value", "lower", "upper"):
        known = rows.assign(known=np.isfinite(rows[column])).groupby(["repetition", "measure"])["known"]
        assert (known.all() == known.any()).all(), column
        whole = known.all()
        for account in ABOVE:
            assert not whole[1, account]
            assert whole[2, account]
        assert whole[1, "shank_tilt_from_below"]  # which rests on foot and shank alone


def test_foot_lost_at_a_bottom_takes_the_account_from_below_and_no_other() -> None:
    simulated, _ = done("foot_rolling", "right")
    trial = processed(PERSON, simulated)[0].copy(deep=True)
    trial["pose"].values[int(trial["repetition_bottom"].values[0]), SEGMENTS.index("foot_r")] = np.nan
    value = contributions_trial(trial, ContributionsSettings())[0]["contribution"].values
    below = [k for k, name in enumerate(ACCOUNTS) if name.endswith("_from_below")]
    assert np.isnan(value[0, below]).all()
    assert np.isfinite(value[1, below][:, [SOURCES.index(n) for n in SOURCES_BELOW]]).all()
    assert np.isfinite(value[0, 0, [SOURCES.index(n) for n in SOURCES_ABOVE]]).all()


def test_as_written_the_sources_sum_to_the_change_as_written() -> None:
    trials = [done("shared", "right")[1], done("posture_kept", "left")[1]]
    measures, parts = (
        pd.read_csv(io.StringIO(csv_text(table(trials), SUMMED[name])))
        for name, table in (("measures", measures_table), ("contributions", contributions_table))
    )
    total = parts.groupby(["trial", "repetition", "measure"])["value"].sum()
    written = measures.set_index(["trial", "repetition", "measure"])["value"]
    for account, measure in (
        ("fppa", "fppa_change"),
        ("knee_relative_to_hip", "knee_relative_to_hip_travel"),
        ("thigh_axial_rotation", "thigh_axial_rotation_change"),
    ):
        both = total.xs(account, level="measure") - written.xs(measure, level="measure")
        assert len(both) > 4
        assert both.abs().max() < 1e-9
    ends = written.xs("fppa_at_bottom", level="measure") - written.xs("fppa_at_start", level="measure")
    assert (ends - written.xs("fppa_change", level="measure")).abs().max() < 1e-9
