"""Missing markers take their own measures with them, a foot's, the trunk's, a free leg's, and nothing else, each with its row."""

from collections.abc import Iterable
from dataclasses import replace
from functools import lru_cache
from types import SimpleNamespace

import numpy as np
import pytest
import xarray as xr

from condyle.findings import Finding
from condyle.running import Processed, emptied, judge, run_trial
from condyle.sample.movements import MOVEMENTS
from condyle.sample.options import Options
from condyle.sample.person import build_person
from condyle.sample.simulate import simulate, simulate_static
from condyle.sample.timing import Timing
from condyle.session_result import SessionResult
from condyle.stages import STAGES
from condyle.vocabulary import CALIBRATION

from .simulated import trial_of

OPTIONS = replace(Options.ideal(), rate_hz=60.0, static_s=0.6, timing=Timing(repetitions=2, squat_s=1.6, before_s=0.7))
FOOT = ("HEEL", "META_1", "META_2", "META_5")


@lru_cache
def recorded() -> tuple[xr.Dataset, xr.Dataset]:
    person = build_person()
    simulated = simulate(person, MOVEMENTS["hip_in"], OPTIONS, "right")
    standing = trial_of(simulate_static(person, OPTIONS, simulated.session_errors), task="static")
    return standing, trial_of(simulated)


def without(trial: xr.Dataset, labels: Iterable[str], frames: slice = slice(None)) -> xr.Dataset:
    point, gone = trial["point"].values.copy(), np.isin(trial["label"].values, list(labels))
    assert gone.any()
    point[frames, gone] = np.nan
    return trial.assign(point=(trial["point"].dims, point))


def processed(trial: xr.Dataset, on: str = "movement") -> Processed:
    stages = [s for s in STAGES if s.on in (on, "every") and s.name != "uncertainty"]
    by_name = {s.name: s for s in stages}
    return run_trial(Processed(trial), stages, lambda name: by_name[name].settings())


@lru_cache
def run(lost: tuple[str, ...], side: str = "right", lost_standing: tuple[str, ...] = ()) -> Processed:
    standing, squat = recorded()
    static = processed(without(standing, lost_standing) if lost_standing else standing, "static")
    taught = {name: static.trial.variables[name] for name in CALIBRATION}
    return processed((without(squat, lost) if lost else squat).assign(taught).assign_attrs(side=side))


def given(done: Processed) -> set[str]:
    seen = ~np.isnan(done.trial["measure_value"].values).all(axis=0)
    return set(done.trial["measure"].values[seen].tolist())


def rows(done: Processed, check: str, subject: str = "") -> list[str]:
    return [f.advice for f in done.findings if f.check == check and f.subject.startswith(subject)]


def fell_away(*lost: str) -> set[str]:
    return given(run(())) - given(run(lost))


@pytest.mark.parametrize("side", ["right", "auto"])
def test_stance_foot_without_markers_keeps_the_account_from_above(side: str) -> None:
    done = run(tuple(f"R_{n}" for n in FOOT), side)
    assert not done.rejected
    assert done.trial["repetition_cause"].values.tolist() == run(()).trial["repetition_cause"].values.tolist()
    assert set(done.trial["repetition_from_below"].values.tolist()) == {"not_measured"}
    assert {"fppa_change", "fppa_max", "hip_adduction_change", "knee_travel", "com_outside_foot_bottom"} - given(
        done
    ) == {"com_outside_foot_bottom"}
    away = given(run(())) - given(done)
    assert away
    assert all(n.startswith(("ankle_", "knee_over_foot", "heel_", "foot_", "com_", "pelvis_over_foot")) for n in away)
    (row,) = [f for f in done.findings if f.check == "segment seen"]
    assert (row.subject, row.verdict) == ("foot_r", "review")
    assert len(rows(done, "measures given", "foot_r")) == 1
    assert not rows(done, "leg left out")
    assert "sliding, pivoting and hopping" in rows(done, "not looked for", "foot_r")[0]


def test_free_foot_without_markers_is_said_once_and_the_ankle_stands_in_for_it() -> None:
    lost = tuple(f"L_{n}" for n in FOOT)
    done = run(lost)
    assert not fell_away(*lost), "the centre of mass goes on with the ankle centre"
    assert set(done.trial["repetition_valid"].values.tolist()) == {True}
    (row,) = rows(done, "not looked for")
    assert "touching the floor" in row
    assert "ankle centre in place of" in rows(done, "measures given", "centre of mass")[0]
    name = done.trial["measure"].values.tolist().index("com_offset_bottom")
    apart = done.trial["measure_value"].values[:, name] - run(()).trial["measure_value"].values[:, name]
    assert 0.0 < np.abs(apart).max() < 5.0


def test_free_leg_that_is_taken_out_leaves_its_part_of_validity_said() -> None:
    done = run(("L_THIGH_1", "L_THIGH_2", "L_THIGH_3", "L_THIGH_4"))
    assert not done.rejected
    (left_out,) = rows(done, "leg left out", "left")
    assert "thigh_l (segment seen)" in left_out
    (row,) = rows(done, "not looked for")
    assert "touching the floor" in row


def test_standing_trial_with_too_few_markers_on_a_foot_keeps_the_leg() -> None:
    done = run((), "right", ("R_META_1", "R_META_2"))
    assert not done.rejected
    assert {"fppa_change", "knee_flexion_max"} <= given(done)
    assert set(done.trial["repetition_from_below"].values.tolist()) == {"not_measured"}


def test_missing_trunk_markers_leave_the_shoulders_that_are_seen() -> None:
    lost = ("C7", "T10", "NOTCH", "XIPHOID")
    done = run(lost)
    away = fell_away(*lost)
    assert away
    assert all(n.startswith(("trunk_rotation", "trunk_lean", "trunk_flexion")) for n in away)
    assert {"shoulder_line_tilt_change", "trunk_line_lean_change", "shoulders_travel", "com_offset_bottom"} <= given(
        done
    )
    (row,) = [f for f in done.findings if f.check == "segment seen"]
    assert (row.subject, row.verdict) == ("trunk", "review")
    assert not rows(done, "measures given", "acromion")


def test_trunk_that_is_taken_out_takes_the_points_that_track_it_and_no_other() -> None:
    _, squat = recorded()
    labels, point = squat["label"].values, emptied(squat, ("trunk",))["point"].values
    assert np.isnan(point[:, np.isin(labels, ["C7", "T10", "NOTCH", "XIPHOID"])]).all()
    assert not np.isnan(point[:, np.isin(labels, ["R_SHOULDER", "L_SHOULDER"])]).any()


def test_one_acromion_alone_is_not_called_the_other() -> None:
    words = rows(run(("L_SHOULDER",)), "measures given", "acromion")
    assert words == [
        "the acromia are not both seen, or taken out (see the other rows): the path of the shoulders cannot be given; "
        "the rest is."
    ]


def test_of_legs_that_are_both_left_out_neither_is_said_to_be_computed() -> None:
    static = recorded()[0]
    right, left = (Finding("order of landmarks", f"thigh_{t}", None, None, "", "reject", "exchanged") for t in "rl")
    _, ended, rows_of_both = judge(static, [right, left])
    assert not ended
    assert {f.subject for f in rows_of_both} == {"left", "right"}
    assert all(f.advice.endswith("was rejected; neither leg is computed.") for f in rows_of_both)
    (row,) = judge(static, [right])[2]
    assert row.advice.endswith("was rejected; the other leg is computed.")


def test_whatever_was_rejected_ends_a_run_with_status_1() -> None:
    result = SessionResult(SimpleNamespace())  # type: ignore[arg-type]
    shoulders = Finding("markers exchanged", "shoulders", None, None, "", "review", "look")
    result.trials["squat"] = Processed(recorded()[1], (shoulders,))
    assert result.exit_status == 0
    result.trials["squat"] = Processed(recorded()[1], (replace(shoulders, verdict="reject"),))
    assert not result.rejected
    assert result.exit_status == 1
