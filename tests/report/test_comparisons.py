"""Sides, sessions and published values are compared only where they may be."""

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from condyle.repeatability.comparing import repeatability_yaml
from condyle.report.answers import answer_of
from condyle.report.comparing import difference, sides
from condyle.report.content import content_of
from condyle.report.detectable import PUBLISHED, Repeatability, detectable
from condyle.report.equal_depth import change_to, shared_flexion
from condyle.report.last_session import since_last
from condyle.report.legs import Estimate, legs_of
from condyle.report.results_read import read_results
from tests.report.shared import SETTINGS
from tests.report_results import changed, copied


def test_sides_are_compared_at_60_degrees_only_where_depths_differ(folder: Path, tmp_path: Path) -> None:
    compared = sides(legs_of(read_results(folder)))
    assert compared is not None
    assert any(row.what == "FPPA, change" for row in compared.rows)
    other = copied(folder, tmp_path)
    read = pd.read_csv(other / "measures.csv")
    deeper = (read["measure"] == "knee_flexion_at_bottom") & (read["side"] == "left")
    changed(other, "measures", value=read["value"] + 9.0 * deeper)
    compared = sides(legs_of(read_results(other)))
    assert compared is not None
    assert not any(row.what == "FPPA, change" for row in compared.rows)
    assert any("60° knee flexion" in row.what for row in compared.rows)
    assert "9 degrees apart" in compared.note


def shallow(folder: Path, place: Path, share: float) -> Path:
    """The results with the left leg's knee bent by so much of what it was bent by, in its curves."""
    other = copied(folder, place)
    curves = pd.read_csv(other / "curves.csv", keep_default_na=False)
    curves["knee_flexion"] *= np.where(curves["side"] == "left", share, 1.0)
    changed(other, "curves", knee_flexion=curves["knee_flexion"])
    return other


def by_hand(curves: pd.DataFrame, angle: str, flexion: float) -> float:
    """Mean change of an angle to a knee flexion, by NumPy's own interpolation: the knee bends all the way down."""
    changes = []
    for _, one in curves[curves["percent"] <= 50].groupby(["trial", "repetition"]):
        knee = np.maximum.accumulate(one["knee_flexion"].to_numpy())
        changes.append(np.interp(flexion, knee, one[angle].to_numpy()) - one[angle].iloc[0])
    return float(np.mean(changes))


def test_squats_that_do_not_all_reach_60_degrees_are_compared_at_the_deepest_that_all_reach(
    folder: Path, tmp_path: Path
) -> None:
    assert shared_flexion(*legs_of(read_results(folder))) is None
    legs = legs_of(read_results(shallow(folder, tmp_path / "shallow", 0.65)))
    flexion = shared_flexion(*legs)
    assert flexion is not None
    curves = {leg.side: leg.curves for leg in legs}
    peak = curves["left"].groupby(["trial", "repetition"])["knee_flexion"].max().min()
    assert flexion <= peak < flexion + 1
    compared = sides(legs)
    assert compared is not None
    assert f"{flexion:.0f} degrees is the deepest that all of them reach" in compared.note
    rows = {row.what: row for row in compared.rows}
    for leg in legs:
        for angle in ("fppa", "hip_adduction", "pelvis_rotation"):
            expected = by_hand(curves[leg.side], angle, flexion)
            assert change_to(leg, angle, flexion).value == pytest.approx(expected, abs=1e-6)
    row = rows[f"FPPA, change to {flexion:.0f}° knee flexion"]
    assert row.first == f"{by_hand(curves['right'], 'fppa', flexion):.1f}"
    assert row.judgement == "", "no limits there"


def test_squats_too_shallow_to_judge_are_compared_nowhere(folder: Path, tmp_path: Path) -> None:
    assert shared_flexion(*legs_of(read_results(shallow(folder, tmp_path, 0.3)))) is None


def second_trial(folder: Path, place: Path, deeper_deg: float, reaches_60: bool = True) -> Path:
    """The results with a second trial of the right leg, a copy of the first but for its depth."""
    other = copied(folder, place)
    for name in ("measures", "contributions", "repetitions"):
        table = pd.read_csv(other / f"{name}.csv", keep_default_na=False)
        more = table[table["side"] == "right"].assign(trial="again")
        if name == "measures":
            bottom = more["measure"].isin(["knee_flexion_at_bottom"])
            more["value"] = pd.to_numeric(more["value"]) + deeper_deg * bottom
        if not reaches_60 and name != "repetitions":
            more["value"] = pd.to_numeric(more["value"]).where(~more["measure"].str.endswith("_at_60_knee_flexion"))
        pd.concat([table, more]).to_csv(other / f"{name}.csv", index=False)
    return other


def test_trials_of_unlike_depth_are_not_averaged_at_the_bottom_without_a_word(folder: Path, tmp_path: Path) -> None:
    plain = legs_of(read_results(folder))
    assert "depth drives" not in answer_of(plain[0]).mean_of
    pooled = legs_of(read_results(second_trial(folder, tmp_path, -40.0, reaches_60=False)))
    words = answer_of(pooled[0]).mean_of
    assert words.startswith("Mean of 4 repetitions")
    assert "The knee was bent 39 to 79 degrees at their bottoms" in words
    assert "(mean of 2 repetitions that reach it)" in words
    compared, alone = sides(pooled), sides(plain)
    assert compared is not None
    assert alone is not None
    assert "unlike depth (39 to 79 degrees of knee flexion at the bottom); 2 of 4 reach 60 degrees" in compared.note
    assert not any(row.what == "FPPA, change" for row in compared.rows), "though the means may be equally deep"
    at_60 = [[r.first for r in c.rows if r.what == "FPPA, change to 60° knee flexion"] for c in (compared, alone)]
    assert at_60[0] == at_60[1], "by the repetitions that reach it"
    alike = sides(legs_of(read_results(second_trial(folder, tmp_path / "alike", 2.0))))
    assert alike is not None
    assert any(row.what == "FPPA, change" for row in alike.rows)


def test_the_limits_of_a_difference_of_normal_estimates_add_in_quadrature() -> None:
    apart = difference(Estimate(10, 7, 13, 1, 5), Estimate(4, 0, 8, 1, 5))
    assert (apart.value, apart.lower, apart.upper) == (6, pytest.approx(1), pytest.approx(11))


def test_a_change_between_sessions_is_judged_by_the_minimal_detectable_change(folder: Path, tmp_path: Path) -> None:
    now = copied(folder, tmp_path / "now")
    before = copied(folder, tmp_path / "before")
    row = {"task": "single_leg_squat", "measure": "fppa_at_60_knee_flexion", "unit": "deg", "sem_mean": 3.0}
    row |= {"repetitions": 2.0, "sem_single": 4.0, "participants": 12, "sessions": 24}
    (tmp_path / "repeatability.yaml").write_text(repeatability_yaml(pd.DataFrame([row])))
    manifest = json.loads((now / "manifest.json").read_text())
    manifest["settings"]["session"] |= {"previous": "../before_", "pipeline": str(tmp_path / "pipeline.yaml")}
    (now / "manifest.json").write_text(json.dumps(manifest))
    assert "no results yet" in since_last(read_results(now), False)[0]
    manifest["settings"]["session"]["previous"] = "../../before/session"
    (now / "manifest.json").write_text(json.dumps(manifest))
    for shift, words in ((8.0, "cannot be told from measurement error"), (0.4, "beyond measurement error")):
        changed(
            before,
            "measures",
            value=lambda t, s=shift: pd.to_numeric(t["value"]) + s * (t["measure"] == "fppa_at_60_knee_flexion"),
        )
        said, legs = since_last(read_results(now), False)
        judged = {row.what: row.judgement for row in legs[0].rows}
        assert words in judged["FPPA at 60° knee flexion"], "8.0 then 8.4 degrees lie on both sides of 8.3"
        assert judged["hip adduction at 60° knee flexion"] == ""
        assert "this lab's repeat sessions of 12 people; for the mean of 2 repetitions" in legs[0].note
        assert "no change" not in " ".join(judged.values())
    assert "Same pipeline" in said
    assert "Overridden" not in legs[0].note
    changed(before, "measures", overridden=lambda t: ["shank_r, cluster fit: on video"] * len(t))
    note = since_last(read_results(now), False)[1][0].note
    assert "Overridden rejects then: squat_right: shank_r, cluster fit: on video." in note
    curves = pd.read_csv(before / "curves.csv", keep_default_na=False)["knee_flexion"]
    changed(before, "curves", knee_flexion=0.65 * curves)
    right = since_last(read_results(now), False)[1][0]
    assert "is the deepest that all of them reach. Limits were not computed there." in right.note
    assert [row.what for row in right.rows][-1].startswith("trunk lean, change to 5")
    manifest["settings"]["session"]["previous"] = "."
    (now / "manifest.json").write_text(json.dumps(manifest))
    assert (
        since_last(read_results(now), False)[0]
        == "The session named as previous is this one itself; nothing is compared."
    )
    manifest["settings"]["session"]["previous"] = "../../before/session"
    (now / "manifest.json").write_text(json.dumps(manifest))
    changed(before, "measures", participant="MR02")
    other = json.loads((before / "manifest.json").read_text()) | {"participant": "MR02"}
    (before / "manifest.json").write_text(json.dumps(other))
    assert "another participant" in since_last(read_results(now), False)[0]


def test_published_repeatability_is_used_for_the_2d_angle_it_was_measured_on_and_says_so_munro_2012() -> None:
    known = PUBLISHED["fppa_at_bottom"]
    change = detectable(known, 5)
    assert change is not None
    assert change.value == pytest.approx(8.3156, abs=1e-4)  # 1.96 sqrt(2) 3.0
    assert "2D" in change.source
    assert detectable(known, 1) is None, "of one repetition nothing is published"


def test_mdc_is_1_96_root_2_sem_of_the_mean_or_of_one_repetition() -> None:
    known = Repeatability(2.0, 5.0, 3.0, "ours")
    many, one = detectable(known, 5), detectable(known, 1)
    assert many is not None
    assert one is not None
    assert many.value == pytest.approx(5.5437, abs=1e-4)  # 1.96 sqrt(2) 2.0
    assert one.value == pytest.approx(8.3156, abs=1e-4)
    assert (many.of, one.of) == ("the mean of 5 repetitions", "one repetition")


def test_published_values_are_those_of_the_participants_sex_vs_weeks_2015(folder: Path) -> None:
    context = content_of(read_results(folder), SETTINGS, False).groups[0].context
    assert context is not None
    row = next(r for r in context.rows if r.what == "hip adduction range")
    assert row.published == ["women 20-40 years: 18.3 ± 6.7"]
    assert "Weeks" in " ".join(context.sources)
