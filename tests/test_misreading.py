"""The misreading table: counts by hand, whose repetitions they are, and the rule beside every count."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from condyle.files.tables import write_csv
from condyle.stages.planar_reading import misread
from condyle.study import agree
from condyle.study.planar_rule import Rule, shipped_rule, sweep
from condyle.study.settings import ReadingSetting, load_settings

QUICK = load_settings().model_copy(update={"draws": 200})
UNJUDGED = "hip_blamed_cannot_be_judged"
# participant, cause, travel mm, path angle deg, FPPA deg, what the run recorded
REPETITIONS = [
    ("MR01", "with_the_pelvis", 60, 45, 30, "at_the_hip"),
    ("MR01", "with_the_pelvis", 62, 46, 31, "at_the_hip"),
    ("MR02", "with_the_pelvis", 15, 8, 4, "none"),
    ("MR02", "at_the_hip", 35, 20, 12, "at_the_hip"),
    ("MR03", "at_the_hip", 25, 15, 8, "none"),
    ("MR03", "at_the_hip", -50, -45, -14, "at_the_hip"),
    ("MR04", "none", 5, 3, 1, "none"),
    ("MR04", "not_separable", 33, 41, 11, "at_the_hip"),
]


@pytest.fixture
def studied(tmp_path: Path):  # type: ignore[no-untyped-def]
    rows, reps = [], []
    for k, (who, cause, travel, angle, fppa, said) in enumerate(REPETITIONS):
        key = {"participant": who, "session": "1", "trial": f"t{k}", "side": "right", "bout": 1, "repetition": 1}
        misread = cause != said
        reps.append({**key, "cause": cause, "valid": True, "planar_reading": said, "misread": misread})
        for name, value in (
            ("knee_travel", travel),
            ("knee_path_angle_descent", angle),
            ("fppa_at_bottom", fppa),
            ("hip_adduction_at_bottom", fppa / 2),
        ):
            rows.append({**key, "task": "single_leg_squat", "measure": name, "value": value, "unit": "deg"})
    write_csv(tmp_path / "measures.csv", pd.DataFrame(rows))
    write_csv(tmp_path / "repetitions.csv", pd.DataFrame(reps))
    study = agree(
        [tmp_path / "measures.csv"], tmp_path / "out", pairs=["fppa:hip_adduction"], settings=QUICK, page=False
    )
    return study, pd.read_csv(tmp_path / "out" / "misreading.csv")


def row(table: pd.DataFrame, kind: str, band: str = "all", recorded: bool = False) -> pd.Series:
    of = table["rule"] == "as recorded by the run" if recorded else ~table["swept"] & (table["travel_mm"] == 30)
    return table[of & (table["misreading"] == kind) & (table["band"] == band)].iloc[0]


def test_counts_by_the_shipped_rule_by_hand(studied) -> None:  # type: ignore[no-untyped-def]
    _, table = studied
    pelvis = row(table, "hip_blamed_for_pelvis")
    assert (pelvis["count"], pelvis["of"], pelvis["participants"]) == (2, 3, 2)
    hip = row(table, "hip_not_blamed_for_hip")  # 35/20/12 has two signs, -50/-45/-14 three outward, 25/15/8 none
    assert (hip["count"], hip["of"]) == (1, 3)
    wrongly = row(table, "hip_blamed_wrongly")  # blamed and named: two of the pelvis, two of the hip
    assert (wrongly["count"], wrongly["of"]) == (2, 4)
    assert 0 <= pelvis["lower"] < pelvis["share"] < pelvis["upper"] <= 1


def test_counts_by_size_of_travel_and_as_recorded(studied) -> None:  # type: ignore[no-untyped-def]
    _, table = studied
    assert row(table, "hip_blamed_for_pelvis", "60 mm and more")["of"] == 2
    assert row(table, "hip_blamed_for_pelvis", "0 to 20 mm")["count"] == 0
    assert row(table, "hip_not_blamed_for_hip", "40 to 60 mm")["of"] == 1  # by size, whichever way it went
    recorded = row(table, "hip_blamed_for_pelvis", recorded=True)
    assert (recorded["count"], recorded["of"]) == (2, 3)
    assert row(table, "misread", recorded=True)["count"] == 5
    assert row(table, "pelvis_blamed_for_hip", recorded=True)["count"] == 0


def test_a_leg_whose_hip_and_knee_are_not_told_apart_judges_no_blame_of_the_hip(tmp_path: Path) -> None:
    causes = ["in_the_leg"] * 3 + ["at_the_hip", "at_the_hip", "with_the_pelvis", "none"]
    readings = ["knee_in", "knee_in", "straight", "knee_in", "straight", "knee_in", "straight"]
    rows, reps = [], []
    for k, (cause, reading) in enumerate(zip(causes, readings, strict=True)):
        key = {"participant": f"MR{k}", "session": "1", "trial": "t", "side": "right", "repetition": 1}
        said = {"cause": cause, "planar_reading": reading, "misread": misread(reading, cause)}
        reps.append({**key, **said, "valid": True})
        size = 2.0 if reading == "knee_in" else 0.1
        for name, value in (("knee_travel", 30), ("knee_path_angle_descent", 40), ("fppa_at_bottom", 10 + k / 10)):
            rows.append({**key, "task": "", "measure": name, "value": size * value, "unit": "deg"})
    write_csv(tmp_path / "measures.csv", pd.DataFrame(rows))
    write_csv(tmp_path / "repetitions.csv", pd.DataFrame(reps))
    measures, out = tmp_path / "measures.csv", tmp_path / "out"
    study = agree([measures], out, pairs=["fppa:knee_travel"], settings=QUICK)
    table = pd.read_csv(out / "misreading.csv")
    counts = {kind: (row(table, kind)["count"], row(table, kind)["of"]) for kind in ("hip_blamed_wrongly", UNJUDGED)}
    assert counts == {"hip_blamed_wrongly": (1, 2), UNJUDGED: (2, 4)}
    recorded = row(table, "misread", recorded=True)
    assert (recorded["count"], recorded["of"]) == (3, 5)  # straight beside a leg that did it is a misreading
    ((_, estimate, count, _),) = study.kappa
    assert count == 4
    assert "in_the_leg (hip and knee not told apart), are left out" in estimate.note
    page = (out / "agreement.html").read_text()
    assert "In 3 repetitions the leg did it, and hip and knee are not told apart" in page
    assert "hip blamed cannot be judged" in page


def test_every_count_prints_its_rule_and_the_mix(studied) -> None:  # type: ignore[no-untyped-def]
    _, table = studied
    counted = table[~table["misreading"].str.startswith("mix")]
    assert (counted["rule"].str.len() > 10).all()
    assert set(table["mix"]) == {"at_the_hip 3 (38 %); none 1 (12 %); not_separable 1 (12 %); with_the_pelvis 3 (38 %)"}
    assert "travel 30 mm, path angle 40 deg, FPPA 10 deg" in row(table, "hip_blamed_for_pelvis")["rule"]


def test_looser_rules_never_blame_less(studied) -> None:  # type: ignore[no-untyped-def]
    _, table = studied
    swept = table[table["swept"] & (table["band"] == "all") & (table["misreading"] == "hip_blamed_for_pelvis")]
    assert len(swept) == 4 * 3 * 4
    for _, rows in swept.groupby(["path_angle_deg", "fppa_deg"]):
        assert rows.sort_values("travel_mm")["count"].is_monotonic_decreasing


def test_examples_can_be_opened(studied) -> None:  # type: ignore[no-untyped-def]
    study, _ = studied
    kinds = study.examples["misreading"].value_counts().to_dict()
    assert kinds == {"hip_blamed_for_pelvis": 2, "hip_not_blamed_for_hip": 1}
    assert {"participant", "session", "trial", "side", "repetition"} <= set(study.examples.columns)


def test_kappa_of_reading_and_cause_vs_scikit_learn(studied) -> None:  # type: ignore[no-untyped-def]
    from sklearn.metrics import cohen_kappa_score

    study, _ = studied
    named = [(said, cause) for _, cause, *_, said in REPETITIONS if cause != "not_separable"]
    ((task, estimate, count, people),) = study.kappa
    assert estimate.value == pytest.approx(cohen_kappa_score(*zip(*named, strict=True)))
    assert (task, count, people) == ("single_leg_squat", 7, 4)


@pytest.mark.parametrize(
    ("causes", "readings", "why"),
    [
        (["at_the_hip", "with_the_pelvis"], ["knee_in"], "the planar reading blames 'at_the_hip' in every one"),
        (["with_the_pelvis"], ["knee_in", "straight"], "the cause is 'with_the_pelvis' in every one"),
        (["with_the_pelvis", "mixed"], ["knee_in", "straight"], "none of what the planar reading blames is"),
    ],
)  # fmt: skip
def test_kappa_that_can_come_out_in_one_way_only_has_no_interval_and_says_why(
    tmp_path: Path, causes: list[str], readings: list[str], why: str
) -> None:
    rows, reps = [], []
    for k in range(12):
        key = {"participant": f"MR{k % 4}", "session": "1", "trial": f"t{k}", "side": "right", "repetition": 1}
        said = {"cause": causes[k % len(causes)], "planar_reading": readings[k // 4 % len(readings)], "misread": "yes"}
        reps.append({**key, **said, "valid": True})
        seen = {"knee_travel": 50, "fppa_at_bottom": 20 + k, "hip_adduction_at_bottom": k % 5}
        rows += [{**key, "task": "", "measure": name, "value": v, "unit": "deg"} for name, v in seen.items()]
    write_csv(tmp_path / "measures.csv", pd.DataFrame(rows))
    write_csv(tmp_path / "repetitions.csv", pd.DataFrame(reps))
    study = agree([tmp_path / "measures.csv"], tmp_path / "out", pairs=["fppa:hip_adduction"], settings=QUICK)
    ((_, estimate, count, _),) = study.kappa
    assert (estimate.value, count) == (0.0, 12)
    assert np.isnan([estimate.lower, estimate.upper]).all()
    assert estimate.interval == ""
    assert why in estimate.note
    assert "no word for the pelvis" in estimate.note
    page = (tmp_path / "out" / "agreement.html").read_text(encoding="utf-8")
    assert "Kappa of planar reading and cause: 0.00 (12 repetitions of 4 participants" in page


def test_kappa_that_can_vary_keeps_its_interval(studied) -> None:  # type: ignore[no-untyped-def]
    study, _ = studied
    ((_, estimate, _, _),) = study.kappa
    assert estimate.lower < estimate.value < estimate.upper


def test_rule_counts_signs_of_one_direction_only() -> None:
    rule = Rule(30, 40, 10, 2, (3, 15, 6))
    seen = pd.DataFrame(
        {"travel": [40, 40, -40, np.nan], "path_angle": [-50, 50, -50, 50], "fppa": [0.0, 0.0, 0.0, 20.0]}
    )
    seen = seen.assign(reversals=1.0, path_ratio=1.5)
    called, decided = rule.blames_the_hip(seen)
    assert called.tolist() == [False, True, True, False]
    assert decided.tolist() == [True, True, True, False]  # nobody followed a kneecap
    assert rule.blames_the_hip(seen.assign(reversals=4.0))[0].tolist() == [False, True, True, False]
    wavering, decided = rule.blames_the_hip(seen.assign(reversals=4.0, path_ratio=9.0))
    assert not wavering.any()
    assert decided.tolist() == [True, True, True, False]


def test_a_rule_with_a_sign_missing_decides_only_where_the_others_do() -> None:
    rule = Rule(30, 40, 10, 2, (3, 15, 6))
    seen = pd.DataFrame({"travel": [75.0, 75.0, 5.0], "path_angle": [20.0, 45.0, 5.0], "fppa": [np.nan] * 3})
    called, decided = rule.blames_the_hip(seen.assign(reversals=1.0, path_ratio=1.5))
    assert decided.tolist() == [False, True, True]
    assert called.tolist() == [False, True, False]


def test_rule_vs_the_reading_that_the_run_records() -> None:
    from condyle.files.limits import load_limits
    from condyle.stages.planar_reading import _read

    rng = np.random.default_rng(4)
    names = ["travel", "path_angle", "fppa", "reversals", "path_ratio"]
    values = rng.uniform([-80, -60, -30, 0, 1], [80, 60, 30, 6, 9], (600, 5))
    values[:, :3][rng.random((600, 3)) < 0.15] = np.nan
    seen, limits = pd.DataFrame(values, columns=names), load_limits("planar_reading")
    theirs = [_read(tuple(r[:3]), tuple(r[3:]), limits) for r in values]
    called, decided = shipped_rule().blames_the_hip(seen)
    assert called.tolist() == [word in ("knee_in", "knee_out") for word in theirs]
    assert decided.tolist() == [word != "" for word in theirs]
    assert 50 < called.sum() < 350
    assert 50 < (~decided).sum() < 350


def test_sweep_starts_with_the_shipped_rule() -> None:
    rules = sweep(ReadingSetting(), shipped_rule())
    assert not rules[0].swept
    assert all(r.swept for r in rules[1:])


def test_without_causes_the_table_is_left_out_with_a_sentence(tmp_path: Path) -> None:
    key = {"participant": "MR01", "session": "1", "trial": "a", "side": "right", "repetition": 1, "task": ""}
    rows = [
        {**key, "participant": f"MR{p}", "measure": m, "value": p, "unit": "deg"}
        for p in range(3)
        for m in ("fppa_at_bottom", "hip_adduction_at_bottom")
    ]
    write_csv(tmp_path / "measures.csv", pd.DataFrame(rows))
    write_csv(tmp_path / "repetitions.csv", pd.DataFrame([{**key, "cause": "", "valid": True}]))
    study = agree(
        [tmp_path / "measures.csv"], tmp_path / "out", pairs=["fppa:hip_adduction"], settings=QUICK, page=False
    )
    assert any("name no cause" in s for s in study.sentences)
    assert study.misreading.empty
