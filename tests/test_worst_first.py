"""Findings are listed worst first: rejects, rejects that the session file overrides, then how far beyond the limit."""

import numpy as np
import pandas as pd
import pytest

from condyle.body_names import SEGMENTS
from condyle.commands.check import sentences
from condyle.findings import ACCEPTED, Finding
from condyle.report.quality import OVERRIDDEN, quality_of_table
from condyle.result_tables import quality_table
from condyle.sample import cohort
from tests.simulated import calibrated, run, trial_of


def finding(check: str, value: float | None, limit: float | None, verdict: str = "review", advice: str = "") -> Finding:
    return Finding(check, "R_KNEE", value, limit, "mm", verdict, advice)  # type: ignore[arg-type]


FOUND = [
    finding("passed", 1.0, 2.0, "pass"),
    finding("no number", None, None),
    finding("a little beyond", 5.5, 5.0),
    finding("overridden", 9.0, 5.0, advice=f"{ACCEPTED}seen on video"),
    finding("half of what is asked for", 50.0, 100.0),
    finding("three where none may be", 3.0, 0.0),
    finding("rejected", 6.0, 5.0, "reject"),
    finding("passed, too", 1.0, None, "pass"),
    finding("no limit", 1000.0, None),
]
WORST_FIRST = [
    *("rejected", "overridden", "three where none may be", "half of what is asked for", "a little beyond"),
    *("no number", "no limit", "passed", "passed, too"),
]


def table(findings: list[Finding]) -> pd.DataFrame:
    return quality_table("MR01", "s1", [("squat", f) for f in findings])


def test_rejects_come_before_overridden_ones_and_reviews_by_how_far_they_are_beyond() -> None:
    quality = quality_of_table(table(FOUND), ["squat"])
    assert [f.check for f in [*quality.findings, *quality.passed]] == WORST_FIRST
    assert [f.verdict for f in quality.findings[:3]] == ["reject", OVERRIDDEN, "review"]


def test_the_terminal_lists_in_the_same_order() -> None:
    lines = sentences([("squat", f) for f in FOUND])
    assert [line.split(": ", 1)[1].split(" - ")[0].split("  ")[0] for line in lines][:2] == [
        "rejected 6 mm (limit 5 mm)",
        "overridden 9 mm (limit 5 mm)",
    ]
    assert [next(c for c in sorted(WORST_FIRST, key=len, reverse=True) if c in line) for line in lines] == WORST_FIRST


@pytest.mark.parametrize("where", ["under Quality", "in the table below"])
def test_the_verdict_points_to_where_the_findings_are(where: str) -> None:
    for rejected in ([], ["squat"]):
        rows = table(FOUND if rejected else [f for f in FOUND if f.verdict != "reject"])
        assert f"stand{'' if rejected else 's'} {where}." in quality_of_table(rows, rejected, where=where).sentence


def test_the_verdict_counts_overridden_rejects() -> None:
    rows = table([f for f in FOUND if f.verdict != "reject"])
    words = "6 findings should be looked at before these trials are relied on, 1 reject that the session file overrides"
    assert words in quality_of_table(rows, []).sentence
    assert "overrides" not in quality_of_table(table(FOUND[2:3]), []).sentence


@pytest.mark.parametrize(("asked", "limit"), [(20.0, None), (0.01, 0.01)])
def test_a_review_that_does_not_come_from_the_limit_names_none(asked: float, limit: float | None) -> None:
    """Two pelvis markers and the thighs: to be looked at, however small the turn is."""
    session = next(cohort(1, 17))
    trial = trial_of(session.trials[0]).assign(calibrated(trial_of(session.static, task="static")))
    point = trial["point"].values.copy()
    tracking = trial["body_point"].values[trial["tracking"].values[SEGMENTS.index("pelvis")]]
    columns = np.flatnonzero(np.isin(trial["marker"].values, tracking))
    point[500:530, columns[2:]] = np.nan
    trial = trial.assign(point=(trial["point"].dims, point))
    _, found = run(trial, "movement", leave=("check",), until="fill", fill={"pelvis_error_deg": asked})
    (row,) = [f for f in found if f.check == "pelvis repair, rung 2"]
    assert (row.verdict, row.limit) == ("review", limit)
    assert row.value is not None
    assert 0.01 < row.value < 20.0
    assert ("within 20 degrees" in row.advice) == (limit is None)
