"""What was measured on the participant by hand is held against the markers of the standing trial, value by value."""

from typing import Any

import pytest
import xarray as xr

from condyle.findings import Finding
from condyle.sample import cohort
from condyle.stages.check import CheckSettings, check_trial
from tests.simulated import trial_of

SESSION = next(cohort(1, 17))
ONLY_REVIEW = {30.0: "review", 70.0: "review"}  # what the calibration does not go by rejects nothing


@pytest.fixture(scope="module")
def static() -> xr.Dataset:
    return trial_of(SESSION.static, task="static")


def rows(static: xr.Dataset, scale: float = 1.0, **attrs: Any) -> list[Finding]:
    trial = static.assign(point=(static["point"].dims, scale * static["point"].values)).assign_attrs(attrs)
    return [f for f in check_trial(trial, CheckSettings())[1] if f.check == "measured by hand"]


def distance(static: xr.Dataset, one: str, other: str) -> float:
    names = static["marker"].values.tolist()
    point = static["point"].median("time").values
    return float(((point[names.index(one)] - point[names.index(other)]) ** 2).sum() ** 0.5)


@pytest.mark.parametrize(
    ("key", "ends", "diameter", "sizes", "used"),
    [
        ("inter_asis_mm", ("asis_l", "asis_r"), 0.0, {40.0: "review", 100.0: "reject"}, "measured value is"),
        (
            "knee_width_r_mm",
            ("lateral_epicondyle_r", "medial_epicondyle_r"),
            14.0,
            {30.0: "review", 70.0: "review"},
            "markers are",
        ),
        (
            "ankle_width_l_mm",
            ("lateral_malleolus_l", "medial_malleolus_l"),
            14.0,
            {30.0: "review", 70.0: "review"},
            "markers are",
        ),
        (
            "leg_length_l_mm",
            ("asis_l", "medial_malleolus_l"),
            0.0,
            {90.0: "review", 250.0: "reject"},
            "measured value is",
        ),
    ],
)
def test_a_value_that_the_markers_contradict_is_named_with_both_numbers(
    static: xr.Dataset, key: str, ends: tuple[str, str], diameter: float, sizes: dict[float, str], used: str
) -> None:
    shown = distance(static, *ends) - diameter
    assert rows(static, **{f"measured_{key}": shown + 3.0}) == []
    for apart, verdict in sizes.items():
        for sign in (1, -1):
            (row,) = rows(static, **{f"measured_{key}": shown + sign * apart})
            assert (row.subject, row.verdict) == (key, verdict)
            assert row.value == pytest.approx(apart, abs=0.5)
            assert (
                f"{key} is {shown + sign * apart:.0f}, by the markers {ends[0]} and {ends[1]} it is {shown:.0f}"
                in row.advice
            )
            assert f"the {used} used" in row.advice
    review = min(sizes)
    (row,) = rows(static, measured_marker_diameter_mm=25.0, **{f"measured_{key}": shown + review})
    assert row.value == pytest.approx(review + (25.0 - 14.0) * (diameter > 0), abs=0.5)


def test_a_file_in_another_scale_contradicts_the_height(static: xr.Dataset) -> None:
    height = SESSION.person.height_mm
    assert rows(static, participant_height_mm=height) == []
    assert [f.verdict for f in rows(static, 1.2, participant_height_mm=height)] == ["review"]
    (row,) = rows(static, 0.7, participant_height_mm=height)
    assert (row.subject, row.verdict, row.unit) == ("height_mm", "reject", "%")
    assert "wrong units or scale in the file, another person's file, or a wrong height" in row.advice


def test_what_was_not_measured_or_not_marked_is_not_asked_for(static: xr.Dataset) -> None:
    assert rows(static) == []
    names = static["marker"].values.tolist()
    point = static["point"].values.copy()
    point[:, [names.index(n) for n in ("asis_l", "lateral_malleolus_r", "lateral_malleolus_l")]] = float("nan")
    hidden = static.assign(point=(static["point"].dims, point))
    assert rows(hidden, measured_inter_asis_mm=500.0, participant_height_mm=1000.0) == []
