"""The tables of a session's results: columns, rows, sums, and what is left empty."""

from dataclasses import replace
from functools import lru_cache
from types import SimpleNamespace
from typing import cast

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from condyle.body_names import JOINT_ANGLES
from condyle.curve_table import curves_table
from condyle.files.tables import csv_text
from condyle.findings import Finding
from condyle.measure_dictionary import MEASURES
from condyle.result_tables import (
    contributions_table,
    measures_table,
    quality_table,
    repetitions_table,
    summary_table,
    tables_of,
)
from condyle.sample.options import Options
from condyle.sample.person import build_person
from condyle.sample.simulate import simulate
from condyle.sample.timing import Timing
from condyle.session_result import SessionResult
from condyle.stages import STAGES
from condyle.trial_data import put
from tests.simulated import processed

PERSON = build_person()
KEYS = ["participant", "session", "trial"]


@lru_cache(maxsize=4)
def trial(movement: str = "shared", side: str = "right") -> xr.Dataset:
    simulated = simulate(PERSON, movement, Options.ideal(timing=Timing(repetitions=3)), side)
    measured = processed(PERSON, simulated, condition="shoes=none")[0]
    contributions = next(s for s in STAGES if s.name == "contributions")
    return contributions.run(measured, contributions.settings())[0]


def both() -> list[xr.Dataset]:
    return [trial(), trial("wavering", "left")]


def test_columns_are_those_of_the_contract_and_then_what_was_overridden() -> None:
    tail = ["side", "bout", "repetition"]
    expected = {
        measures_table: [*KEYS, "task", "condition", *tail, "measure", "value", "unit", "lower", "upper"],
        contributions_table: [*KEYS, *tail, "measure", "source", "value", "unit", "lower", "upper"],
        repetitions_table: [
            *(*KEYS, *tail, "start_s", "bottom_s", "end_s", "depth_mm", "direction", "cause", "explains"),
            *("confidence", "from_below", "findings", "valid", "planar_reading", "misread"),
        ],
        summary_table: [
            *("participant", "session", "side", "task", "condition", "measure"),
            *("n", "mean", "sd", "median", "lower", "upper"),
        ],
    }
    for make, columns in expected.items():
        columns += ["overridden"] if make is not repetitions_table else []  # which has it among its findings
        assert list(make(both()).columns) == columns
        assert list(make([]).columns) == columns
        assert make([]).empty


def test_an_overridden_reject_stands_in_every_row_of_its_trial_and_in_no_other() -> None:
    words = "shank_r, cluster fit: plate knocked; seen on video"
    left = trial("wavering", "left")
    trials = [trial().assign_attrs(accepted=words), left]
    for make in (measures_table, contributions_table, curves_table):
        table = make(trials)
        assert table.columns[-1] == "overridden"
        assert set(table.loc[table["trial"] == "squat_right", "overridden"]) == {words}
        assert set(table.loc[table["trial"] == "squat_left", "overridden"]) == {""}
    summary = summary_table([*trials, trial().assign_attrs(trial="again", accepted=words)])
    assert set(summary.loc[summary["side"] == "right", "overridden"]) == {f"squat_right: {words}; again: {words}"}
    assert set(summary.loc[summary["side"] == "left", "overridden"]) == {""}
    assert set(summary_table([left])["overridden"]) == {""}


def test_a_row_per_value_with_its_unit() -> None:
    table = measures_table(both())
    assert not table.duplicated([*KEYS, "side", "repetition", "measure"]).any()
    assert table["unit"].tolist() == [MEASURES[m].unit for m in table["measure"]]
    assert set(table["condition"]) == {"shoes=none"}
    second = table[(table["trial"] == "squat_left") & (table["repetition"] == 2)].set_index("measure")["value"]
    source = trial("wavering", "left")
    row = dict(zip(source["measure"].values.tolist(), source["measure_value"].values[1].tolist(), strict=True))
    for name in ("fppa_change", "knee_travel", "depth", "hip_adduction_max_percent"):
        assert second[name] == row[name]


def test_what_the_trial_cannot_give_has_no_rows_and_what_it_did_not_see_is_empty() -> None:
    value = trial()["measure_value"].values.copy()
    names = trial()["measure"].values
    value[:, [n.startswith("patella_") for n in names.tolist()]] = np.nan
    value[0, names == "fppa_at_bottom"] = np.nan
    table = measures_table([put(trial(), measure_value=value)])
    assert not table["measure"].str.startswith("patella_").any()
    assert not table["measure"].str.startswith("lateral_epicondyle").any()
    assert table.loc[table["measure"] == "fppa_at_bottom", "value"].isna().tolist() == [True, False, False]


def test_summary_over_valid_repetitions_only() -> None:
    valid = np.array([True, False, True])
    table = summary_table([put(trial(), repetition_valid=valid)]).set_index("measure")
    column = trial()["measure"].values.tolist().index("knee_travel")
    kept = trial()["measure_value"].values[valid, column]
    row = table.loc["knee_travel"]
    assert row["n"] == 2
    assert row["mean"] == pytest.approx(kept.mean())
    assert row["sd"] == pytest.approx(kept.std(ddof=1))
    assert row["median"] == pytest.approx(np.median(kept))
    assert np.isnan(row["lower"])
    alone = summary_table([put(trial(), repetition_valid=np.array([False, False, True]))]).set_index("measure")
    assert np.isnan(alone.loc["knee_travel", "sd"])
    assert summary_table([put(trial(), repetition_valid=np.zeros(3, dtype=bool))]).empty


def test_summary_pools_the_trials_of_a_side_and_keeps_the_sides_apart() -> None:
    other = trial().assign_attrs(trial="squat_right_2")
    table = summary_table([*both(), other])
    counts = table[table["measure"] == "knee_travel"].set_index("side")["n"]
    assert counts.to_dict() == {"right": 6, "left": 3}


def test_limits_of_the_uncertainty_stage_are_carried_and_averaged() -> None:
    value = trial()["measure_value"].values
    limited = put(trial(), measure_lower=value - 2.0, measure_upper=value + 3.0)
    table = measures_table([limited]).dropna(subset=["value"])
    assert (table["upper"] - table["value"]).to_numpy() == pytest.approx(3.0)
    means = summary_table([limited]).set_index("measure").loc["fppa_change"]
    assert means["mean"] - means["lower"] == pytest.approx(2.0)


def test_repetitions_say_when_how_deep_and_why() -> None:
    table = repetitions_table(both())
    assert table["repetition"].tolist() == [1, 2, 3, 1, 2, 3]
    assert (table["start_s"] < table["bottom_s"]).all()
    assert (table["bottom_s"] < table["end_s"]).all()
    measures = measures_table(both())
    assert table["depth_mm"].tolist() == measures.loc[measures["measure"] == "depth", "value"].tolist()
    assert table["cause"].tolist()[:3] == trial()["repetition_cause"].values.tolist()
    before = trial().drop_vars(
        [v for v in trial().variables if str(v).startswith(("repetition_cause", "contribution"))]
    )
    assert set(repetitions_table([before])["cause"]) == {""}


def test_contributions_sum_to_the_change_of_the_measure() -> None:
    table = contributions_table(both())
    assert not table.duplicated([*KEYS, "side", "repetition", "measure", "source"]).any()
    total = table.groupby(["trial", "repetition", "measure"], sort=False)["value"].sum()
    measures = measures_table(both()).set_index(["trial", "repetition", "measure"])["value"]
    for name in ("squat_right", "squat_left"):
        for repetition in (1, 2, 3):
            for what in ("fppa", "thigh_axial_rotation"):
                assert total[name, repetition, what] == pytest.approx(measures[name, repetition, f"{what}_change"])
    above = set(table.loc[table["measure"] == "fppa", "source"])
    assert {"sagittal", "pelvis_rotation", "hip_adduction", "remainder"} <= above
    assert set(table.loc[table["measure"] == "shank_tilt_from_below", "source"]) == {
        *("foot_on_floor", "ankle", "knee", "remainder")
    }


def test_curves_run_from_start_through_bottom_to_end() -> None:
    table = curves_table(both())
    assert len(table) == 6 * 101
    one = table[(table["trial"] == "squat_right") & (table["repetition"] == 1)].set_index("percent")
    source = trial()
    for percent, frame in ((0.0, "start"), (50.0, "bottom"), (100.0, "end")):
        angle = source["angle"].values[int(source[f"repetition_{frame}"].values[0]), 1]
        given = dict(zip(JOINT_ANGLES, angle.tolist(), strict=True))
        assert np.isnan(given.pop("fppa_lateral_markers"))  # no column: both markers of the knee are there
        assert one.loc[percent, list(given)].to_numpy(dtype=float) == pytest.approx(list(given.values()))
        assert one.loc[percent, "time_s"] == pytest.approx(float(source[f"repetition_{frame}_s"].values[0]))
    row = dict(zip(source["measure"].values.tolist(), source["measure_value"].values[0].tolist(), strict=True))
    assert one.loc[50.0, "knee_medial_mm"] == pytest.approx(row["knee_travel"])
    assert -one.loc[50.0, "hip_up_mm"] == pytest.approx(row["depth"])
    assert one.loc[0.0, "knee_medial_mm"] == 0.0
    parts = one[[c for c in one.columns if c.startswith("fppa_by_")]].sum(axis=1)
    assert parts.to_numpy() == pytest.approx((one["fppa"] - one.loc[0.0, "fppa"]).to_numpy(), abs=0.05)
    assert "lateral_epicondyle_medial_mm" not in table


def test_quality_has_a_row_per_finding() -> None:
    found = Finding("fit", "shank_r", 4.5, 3.0, "mm", "review", "look at the plate.")
    bare = Finding("stance side", "file", None, None, "", "reject", "squats on the left, declared right.")
    table = quality_table("MR01", "2026-11-03", [("squat", found), ("walk", bare)])
    assert list(table.columns) == [
        *("participant", "session", "trial", "subject", "check", "value", "limit", "unit", "verdict", "advice")
    ]
    assert table["verdict"].tolist() == ["review", "reject"]
    assert np.isnan(table.loc[1, "value"])


def test_same_trials_same_bytes_and_no_negative_zero() -> None:
    for make in (measures_table, repetitions_table, summary_table, contributions_table, curves_table):
        text = csv_text(make(both()))
        assert text == csv_text(make([t.copy(deep=True) for t in both()]))
        assert ",-0.0," not in text


def test_tables_of_stages_left_out_are_not_written() -> None:
    done = SimpleNamespace(trial=trial())

    def result(*stages: str) -> SessionResult:
        plan = SimpleNamespace(pipeline=SimpleNamespace(stage_names=stages))
        made = SimpleNamespace(plan=plan, movements=[done], participant="MR01", session="s", findings=())
        return cast(SessionResult, made)

    everything = tables_of(result("repetitions", "measures", "contributions"))
    assert set(everything) == {"measures", "contributions", "repetitions", "summary", "curves", "quality"}
    assert set(tables_of(result("pose", "angles"))) == {"quality"}
    assert isinstance(everything["quality"], pd.DataFrame)


def test_trial_without_repetitions_adds_no_rows() -> None:
    simulated = simulate(PERSON, "controlled", Options.ideal(timing=Timing(repetitions=1)), "right")
    walk = processed(PERSON, replace(simulated, name="walk"), task="other")[0]
    assert len(measures_table([walk, trial()])) == len(measures_table([trial()]))
    assert repetitions_table([walk]).empty
    assert curves_table([walk]).empty
