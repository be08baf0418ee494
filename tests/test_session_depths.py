"""Squats of unlike depth in one session: said where they are pooled or set against one another, and where they are not."""

from dataclasses import replace
from functools import lru_cache

import pytest
import xarray as xr

from condyle.sample.movements import MOVEMENTS
from condyle.sample.options import Options
from condyle.sample.person import build_person
from condyle.sample.simulate import simulate
from condyle.sample.timing import Timing
from condyle.session_depths import unlike_depths
from condyle.stages.contributions import ContributionsSettings, contributions_trial

from .simulated import processed

OPTIONS = replace(Options.ideal(), rate_hz=60.0, static_s=0.6, timing=Timing(repetitions=2, squat_s=1.6, before_s=0.7))


@lru_cache
def squats(name: str, depth: float, side: str = "right", condition: str = "") -> xr.Dataset:
    simulated = simulate(build_person(), MOVEMENTS["hip_in"].scaled(depth=depth), OPTIONS, side)
    return processed(build_person(), simulated)[0].assign_attrs(trial=name, condition=condition)


def test_one_leg_deep_in_one_trial_and_shallow_in_another() -> None:
    ((name, (row,)),) = unlike_depths([squats("deep", 1.0), squats("shallow", 0.6)]).items()
    assert (name, row.check, row.subject, row.limit, row.unit) == ("deep", "depths differ", "right", 5.0, "deg")
    assert row.value == pytest.approx(0.4 * 75.0, abs=2.0)
    assert "deep, right: 79" in row.advice
    assert "2 of 4 repetitions reach" in row.advice, "the shallow ones do not come to 60 degrees"


def test_legs_of_unlike_depth_stand_against_one_another() -> None:
    ((_, (row,)),) = unlike_depths([squats("a", 1.0), squats("b", 0.9, "left")]).items()
    assert row.subject == "left and right"
    assert row.value == pytest.approx(7.5, abs=1.0)
    assert "4 of 4" in row.advice


def test_what_is_alike_or_not_pooled_is_not_said() -> None:
    assert unlike_depths([]) == {}
    assert unlike_depths([squats("a", 1.0), squats("b", 0.97), squats("c", 1.0, "left")]) == {}
    assert unlike_depths([squats("a", 1.0), squats("b", 0.6, condition="shoes=own")]) == {}, "means are kept apart"


def test_within_a_bout_it_is_said_once_whether_contributions_were_computed_or_not() -> None:
    trial = squats("a", 1.0).copy(deep=True)
    bottom = trial["measure"].values.tolist().index("knee_flexion_at_bottom")
    trial["measure_value"].values[0, bottom] -= 9.0
    told, found = contributions_trial(trial, ContributionsSettings())
    assert [f.subject for f in found if f.check == "depths differ"] == ["bout 1, right"]
    assert unlike_depths([told]) == {}
    ((name, (row,)),) = unlike_depths([trial]).items()
    assert (name, row.check, row.subject) == ("a", "depths differ", "bout 1, right")
    assert row.value == pytest.approx(9.0, abs=1.0)


def test_repetitions_that_do_not_count_are_in_no_mean() -> None:
    shallow = squats("b", 0.6).copy(deep=True)
    shallow["repetition_valid"].values[:] = False
    assert unlike_depths([squats("a", 1.0), shallow]) == {}


def test_the_limit_is_the_one_the_trials_were_judged_by() -> None:
    settings = ContributionsSettings(limits={"depth_apart_deg": 40.0})
    judged = [contributions_trial(squats(n, d), settings)[0] for n, d in (("a", 1.0), ("b", 0.6))]
    assert unlike_depths(judged) == {}
