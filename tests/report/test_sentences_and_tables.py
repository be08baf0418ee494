"""The report says what the tables say, and nothing that quality rejected."""

import json
import re
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

from condyle.report import write_report
from condyle.report.answers import answer_of
from condyle.report.legs import legs_of
from condyle.report.results_read import read_results
from tests.report.shared import text_of
from tests.report_results import changed, copied


def test_the_sentence_of_a_leg_is_the_sum_and_the_parts_of_contributions_csv(folder: Path) -> None:
    table = pd.read_csv(folder / "contributions.csv")
    for leg in legs_of(read_results(folder)):
        own = table[(table.side == leg.side) & (table.measure == leg.explains)]
        whole = own.groupby("repetition").value.sum().mean()
        said = answer_of(leg).sentence
        assert f"changes {abs(whole):.0f} degrees {'inward' if whole > 0 else 'outward'}" in said
        largest = own.groupby("source").value.mean().abs().idxmax()
        assert largest == {"right": "pelvis_rotation", "left": "hip_adduction"}[leg.side]
        words = {"pelvis_rotation": "the pelvis turning", "hip_adduction": "hip adduction"}[largest]
        assert f"{words} {own[own.source == largest].value.mean():.0f}" in said


@pytest.mark.parametrize(
    ("standing", "words"),
    [
        ((), None),
        (
            (2,),
            "in 1 of 5 repetitions (repetition 2) the posture that brings the knee there was held before the squat began. "
            "The cause named for it is that of the change from standing; the account shown here is from start to bottom",
        ),
        (
            (1, 2, 4, 5),
            "in 4 of 5 repetitions (repetitions 1, 2, 4 and 5) the posture that brings the knee there was held before the "
            "squat began. The cause named for them is that of the change from standing, as is the account shown here; "
            "the cause named for repetition 3 is that of the change from start to bottom.",
        ),
        (
            (1, 2, 3, 4, 5),
            "in all 5 repetitions the posture that brings the knee there was held before the squat began; ",
        ),
    ],
)
def test_a_posture_held_in_some_repetitions_only_is_said_of_those(
    folder: Path, standing: tuple[int, ...], words: str | None
) -> None:
    left = next(leg for leg in legs_of(read_results(folder)) if leg.side == "left")
    copies = pd.concat([left.repetitions.iloc[:1]] * 5).assign(repetition=range(1, 6))
    copies["explains"] = ["fppa_from_standing" if r in standing else "fppa" for r in copies["repetition"]]
    leg = replace(left, repetitions=copies)
    answer = answer_of(leg)
    if words is None:
        assert answer.already == ""
    else:
        assert words in answer.already
    whole = len(standing) > 2
    assert ("from standing:" in answer.sentence) is whole
    assert ("from start to bottom:" in answer.sentence) is not whole
    assert ("account is therefore taken from the standing trial" in answer.already) is (len(standing) == 5)


def test_limits_are_shown_where_they_were_computed_and_nowhere_else(folder: Path, tmp_path: Path) -> None:
    results = read_results(folder)
    assert " to " not in answer_of(legs_of(results)[0]).sentence.split(":")[1]
    with_limits = copied(folder, tmp_path)
    changed(with_limits, "contributions", lower=lambda t: t["value"] - 4, upper=lambda t: t["value"] + 6)
    leg = legs_of(read_results(with_limits))[0]
    turning = leg.sources("fppa")["pelvis_rotation"]
    assert f"({turning.value - 4:.0f} to {turning.value + 6:.0f})" in answer_of(leg).sentence


def test_a_repetition_that_does_not_count_is_in_no_mean(folder: Path, tmp_path: Path) -> None:
    other = copied(folder, tmp_path)
    changed(other, "repetitions", valid=lambda t: ["false", *["true"] * (len(t) - 1)])
    changed(
        other, "contributions", value=lambda t: t["value"] + 1000.0 * ((t["repetition"] == 1) & (t["side"] == "right"))
    )
    changed(
        other,
        "measures",
        value=lambda t: pd.to_numeric(t["value"]) + 1000.0 * ((t["repetition"] == 1) & (t["side"] == "right")),
    )
    right = legs_of(read_results(other))[0]
    plain = legs_of(read_results(folder))[0]
    assert right.change("fppa").n == 1
    assert right.change("fppa").value == pytest.approx(plain.change("fppa").value, abs=3)
    assert right.measure("fppa_change").value < 100


def test_a_rejected_trial_is_named_with_its_reason_and_shown_nowhere(
    folder: Path, tmp_path: Path, no_figures: None
) -> None:
    other = copied(folder, tmp_path)
    manifest = json.loads((other / "manifest.json").read_text())
    manifest["trials"]["squat_left"] = "rejected"
    (other / "manifest.json").write_text(json.dumps(manifest))
    for name in ("measures", "contributions", "repetitions", "curves"):
        table = pd.read_csv(other / f"{name}.csv", keep_default_na=False)
        table[table.trial != "squat_left"].to_csv(other / f"{name}.csv", index=False)
    changed(other, "quality", verdict=lambda t: ["reject", *t["verdict"][1:]], advice="a marker was swapped")
    text = write_report(other)[0].read_text()
    assert "Rejected in part: squat_left was rejected" in text
    assert "a marker was swapped" in text
    data = json.loads(re.search(r'id="skeleton-data">(.*?)</script>', text, re.DOTALL)[1])  # type: ignore[index]
    assert [t["name"] for t in data["trials"]] == ["squat_right"]
    assert "Left leg" not in text


@pytest.mark.parametrize("standing", ["rejected", "processed"])
def test_a_session_of_which_nothing_is_left_is_rejected_as_a_whole(
    folder: Path, tmp_path: Path, no_figures: None, standing: str
) -> None:
    other = copied(folder, tmp_path)
    manifest = json.loads((other / "manifest.json").read_text())
    assert list(manifest["trials"]) == ["static", "squat_right", "squat_left"]
    manifest["trials"] = {"static": standing, "squat_right": "rejected", "squat_left": "rejected"}
    (other / "manifest.json").write_text(json.dumps(manifest))
    for name in ("measures", "contributions", "repetitions", "curves"):
        pd.read_csv(other / f"{name}.csv", keep_default_na=False)[:0].to_csv(other / f"{name}.csv", index=False)
    text = text_of(write_report(other)[0].read_text())
    names = "static, squat_right and squat_left" if standing == "rejected" else "squat_right and squat_left"
    assert f"Rejected as a whole: {names} were rejected, no trial is left and nothing is measured" in text
    assert "in part" not in text
    assert "no measures" not in text
