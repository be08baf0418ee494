"""The verdict rule case by case, and the matched pair: alike to a kneecap-only view, unlike in their cause."""

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest
import xarray as xr

from condyle.files.limits import load_limits
from condyle.mechanics.joint_angles import joint_matrix
from condyle.mechanics.rotations import rotation_y
from condyle.mechanics.twist import twist_keeping_adduction
from condyle.mechanics.verdict import CAUSES, FROM_BELOW, interval, verdict, verdict_from_below
from condyle.sample.matched import matched_pair
from condyle.sample.options import Options
from condyle.sample.person import check_person
from condyle.sample.simulate import simulate
from condyle.sample.timing import Timing
from condyle.stages.causes import verdict_limits
from condyle.stages.contributions import ContributionsSettings, contributions_trial
from condyle.stages.planar_reading import misread
from condyle.stages.uncertainty import UncertaintySettings, uncertainty_trial

from .simulated import processed

LIMITS = verdict_limits(load_limits("findings"), "fppa")


def named(*parts: float, remainder: float = 0.0, base: float = 0.0) -> str:
    p = np.array(parts, dtype=float)
    return str(verdict(np.array(p.sum() + remainder + base), p, np.array(remainder), LIMITS).word)


def drawn(parts: list[float], sd: list[float], count: int = 4000, base_sd: float = 0.0) -> tuple[str, float]:
    rng = np.random.default_rng(0)
    p = np.array(parts, dtype=float)
    many = p[:, None] + np.array(sd)[:, None] * rng.standard_normal((6, count))
    change = many.sum(axis=0) + base_sd * rng.standard_normal(count)
    found = verdict(np.array(p.sum()), p, np.array(0.0), LIMITS, change, many)
    return str(found.word), float(found.confidence)


@pytest.mark.parametrize(
    ("parts", "cause"),
    [
        ((36.0, 0, 0, 0, 0, 0), "with_the_pelvis"),
        ((0, 0, 23.5, 8.4, 0, 0), "at_the_hip"),
        ((0, 0, 1.0, 0, 9.0, 6.0), "in_the_leg"),
        ((19.4, 0.2, 12.4, 8.2, 3.1, 0.0), "mixed"),  # the leg leads by less than 20 % of the change
        ((-13.6, 0, 19.1, 6.5, 0, 0), "at_the_hip"),  # cancelling parts are normal
        ((-20.0, -10.0, 0, 0, 0, 0), "with_the_pelvis"),  # outwards
        ((1.0, 0, 2.0, 1.0, 0, 0), "none"),
        ((2.9, 0, 2.2, 0, 0, 0), "mixed"),  # nothing is large enough to lead
    ],
)
def test_cause_by_point_values(parts: tuple[float, ...], cause: str) -> None:
    assert named(*parts) == cause


def test_lead_of_a_fifth_of_the_change_is_needed_without_draws() -> None:
    assert named(12.1, 0, 7.9, 0, 0, 0) == "with_the_pelvis"
    assert named(11.9, 0, 8.1, 0, 0, 0) == "mixed"


def test_remainder_leaves_the_cause_open() -> None:
    assert named(20.0, 0, 0, 0, 0, 0, remainder=4.9) == "with_the_pelvis"  # under 5 degrees
    assert named(30.0, 0, 0, 0, 0, 0, remainder=7.0) == "with_the_pelvis"  # under a fifth of the change
    assert named(20.0, 0, 0, 0, 0, 0, remainder=7.0) == "not_separable"


def test_missing_parts_name_nothing() -> None:
    assert named(np.nan, 0, 20.0, 0, 0, 0) == "not_separable"


def test_draws_name_what_leads_in_19_of_20() -> None:
    word, confidence = drawn([20, 0, 2, 0, 0, 0], [3, 0, 3, 0, 0, 0])
    assert word == "with_the_pelvis"
    assert confidence > 0.99
    # pelvis less leg is 6 with an SD of 3 sqrt 2: it leads in 92 % only
    assert drawn([16, 0, 10, 0, 0, 0], [3, 0, 3, 0, 0, 0])[0] != "with_the_pelvis"


def test_draws_name_no_part_that_the_measured_values_call_mixed() -> None:
    sure = [0.3, 0, 0.3, 0, 0, 0]  # which part is larger is certain; that it leads by a fifth of the change is not so
    assert drawn([11.0, 0, 9.0, 0, 0, 0], sure)[0] == named(11.0, 0, 9.0, 0, 0, 0) == "mixed"
    assert drawn([13.0, 0, 7.0, 0, 0, 0], sure)[0] == named(13.0, 0, 7.0, 0, 0, 0) == "with_the_pelvis"


def test_draws_name_no_part_whose_clear_lead_is_a_matter_of_chance() -> None:
    sure = [0.3, 0, 0.3, 0, 0, 0]
    assert named(12.05, 0, 7.95, 0, 0, 0) == "with_the_pelvis"
    assert drawn([12.05, 0, 7.95, 0, 0, 0], sure)[0] == "not_separable"  # a fifth of the change in 6 draws of 10
    assert drawn([12.5, 0, 7.5, 0, 0, 0], sure)[0] == "with_the_pelvis"  # in 98 of 100


def test_draws_that_lie_beside_the_measured_values_do_not_overrule_them() -> None:
    measured, shifted = np.array([11.0, 0, 9.0, 0, 0, 0]), np.array([15.0, 0, 5.0, 0, 0, 0])
    many = shifted[:, None] + 0.3 * np.random.default_rng(0).standard_normal((6, 400))
    word = verdict(np.array(20.0), measured, np.array(0.0), LIMITS, many.sum(axis=0), many).word
    assert str(word) == "not_separable"


def test_draws_ask_hip_or_knee_only_after_the_leg() -> None:
    assert drawn([0, 0, 20, 5, 0, 0], [1, 0, 2, 2, 2, 0])[0] == "at_the_hip"
    word, confidence = drawn([0, 0, 16, 0, 8, 0], [1, 0, 6, 0, 6, 0])
    assert word == "in_the_leg"
    assert 0.95 <= confidence <= 1.0


def test_draws_mixed_none_and_not_separable() -> None:
    word, share = drawn([15, 0, 15, 0, 0, 0], [1, 0, 1, 0, 0, 0])
    assert (word, share > 0.95) == ("mixed", True)
    assert drawn([1, 0, 1, 0, 0, 0], [0.5, 0, 0.5, 0, 0, 0])[0] == "none"
    assert drawn([1, 0, 1, 0, 0, 0], [3, 0, 3, 0, 0, 0])[0] == "not_separable"  # holds 0 but is wider than +-5
    word, share = drawn([15, 0, 12, 0, 0, 0], [6, 0, 6, 0, 0, 0])
    assert word == "not_separable"
    assert np.isnan(share)


def test_verdict_is_alike_over_many_repetitions_and_one() -> None:
    rng = np.random.default_rng(3)
    parts, change = rng.normal(0, 10, (6, 40)), None
    change = parts.sum(axis=0) + rng.normal(0, 3, 40)
    together = verdict(change, parts, change - parts.sum(axis=0), LIMITS).word
    single = [str(verdict(change[k], parts[:, k], change[k] - parts[:, k].sum(), LIMITS).word) for k in range(40)]
    assert together.tolist() == single
    assert set(single) <= set(CAUSES)
    assert len(set(single)) >= 5


def test_from_below_by_the_shanks_tilt_first() -> None:
    def below(tilt: list[float], turn: list[float]) -> str:
        parts = np.array([tilt, turn], dtype=float)
        return str(verdict_from_below(parts.sum(axis=1), parts, np.zeros(2), LIMITS))

    assert below([0, 20, 0], [0, 15, 0]) == "ankle"
    assert below([14, 2, 0], [0, 15, 0]) == "foot_on_floor"
    assert below([1, 1, 0], [0, 2, 12]) == "knee"  # the shank stays, the thigh turns on it
    assert below([1, 1, 0], [1, 1, 0]) == "little"
    assert below([9, 8, 0], [0, 0, 0]) == "mixed"
    assert below([np.nan, 1, 0], [0, 0, 0]) == "not_measured"
    assert {"ankle", "knee", "little"} < set(FROM_BELOW)


def below_with(tilt: list[float], sd: float) -> tuple[str, str]:
    """By the point values, and with draws about them."""
    parts = np.array([tilt, [0.0, 0.0, 0.0]])
    many = parts[:, :, None] + sd * np.random.default_rng(0).standard_normal((2, 3, 400))
    points = verdict_from_below(parts.sum(axis=1), parts, np.zeros(2), LIMITS)
    return str(points), str(verdict_from_below(parts.sum(axis=1), parts, np.zeros(2), LIMITS, many.sum(axis=1), many))


def test_from_below_asks_for_the_same_clear_lead_with_draws_and_without() -> None:
    assert below_with([6.0, 5.5, 0.0], 0.05) == ("mixed", "mixed")  # larger in every draw, by 4 % of the change
    assert below_with([8.0, 3.0, 0.5], 0.05) == ("foot_on_floor", "foot_on_floor")
    assert below_with([12.05, 7.95, 0.0], 0.3) == ("foot_on_floor", "not_separable")  # by a fifth in 6 draws of 10
    assert below_with([12.5, 7.5, 0.0], 0.3) == ("foot_on_floor", "foot_on_floor")


def test_interval_of_a_normal_sample_holds_its_95_percent() -> None:
    low, high = interval(np.random.default_rng(1).standard_normal((20000, 2)))
    np.testing.assert_allclose(low, -1.96, atol=0.06)
    np.testing.assert_allclose(high, 1.96, atol=0.06)


def test_twist_of_the_thigh_frame_is_found() -> None:
    knee = joint_matrix(np.deg2rad(75.0), np.deg2rad(2.0), np.deg2rad(3.0), "knee", "right")
    seen = rotation_y(np.deg2rad(-8.0)) @ knee  # the thigh's frame turned inwards by 8 degrees
    assert np.rad2deg(twist_keeping_adduction(seen, np.deg2rad(2.0))) == pytest.approx(-8.0, abs=1e-9)
    assert np.isnan(twist_keeping_adduction(np.eye(3), np.deg2rad(2.0)))  # a straight knee tells nothing


@pytest.mark.parametrize(
    ("reading", "cause", "expected"),
    [
        ("knee_in", "at_the_hip", "no"),
        ("knee_in", "with_the_pelvis", "yes"),
        ("knee_in", "mixed", "yes"),
        ("knee_in", "in_the_leg", ""),
        ("knee_out", "none", "yes"),
        ("straight", "none", "no"),
        ("straight", "at_the_hip", "yes"),
        ("wavering", "none", ""),
        ("knee_in", "not_separable", ""),
        ("", "at_the_hip", ""),
    ],
)
def test_misread(reading: str, cause: str, expected: str) -> None:
    assert misread(reading, cause) == expected


@lru_cache(maxsize=2)
def member(which: int) -> xr.Dataset:
    person = check_person()
    options = replace(Options.ideal(), timing=Timing(repetitions=1, tempo_spread=0.0))
    trial, _ = processed(person, simulate(person, matched_pair(person)[which], options, "right"))
    return contributions_trial(trial, ContributionsSettings())[0]


def cause_of(trial: xr.Dataset, **settings: float) -> str:
    return str(uncertainty_trial(trial, UncertaintySettings(**settings))[0]["repetition_cause"].values[0])


def test_matched_pair_looks_the_same_and_has_two_causes() -> None:
    hip, pelvis = member(0), member(1)
    assert hip["repetition_planar_reading"].values[0] == pelvis["repetition_planar_reading"].values[0] == "knee_in"
    assert (hip["repetition_cause"].values[0], pelvis["repetition_cause"].values[0]) == (
        "at_the_hip",
        "with_the_pelvis",
    )
    assert (hip["repetition_misread"].values[0], pelvis["repetition_misread"].values[0]) == ("no", "yes")


def test_matched_pair_with_draws() -> None:
    assert cause_of(member(0), sd_scale=0.5) == "at_the_hip"
    assert cause_of(member(1), sd_scale=0.5) == "with_the_pelvis"
    assert all(cause_of(member(0), seed=seed) != "with_the_pelvis" for seed in range(4))
