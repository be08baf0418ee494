"""Flat views of a run: each gives an angle where it shows enough itself, and a reading is made of known signs alone."""

from functools import lru_cache

import numpy as np
import pytest
import xarray as xr

from condyle.body_names import SEGMENTS
from condyle.files.limits import load_limits
from condyle.mechanics.rotations import rotation_y, rotation_z
from condyle.sample.options import Options
from condyle.sample.person import build_person
from condyle.sample.simulate import simulate
from condyle.sample.timing import Timing
from condyle.stages.accounts import repetition_rows
from condyle.stages.contributions import ContributionsSettings, contributions_trial
from condyle.stages.planar_reading import PlanarReading, _read
from condyle.stages.planar_view import View, planar_measures
from condyle.stages.uncertainty import UncertaintySettings, uncertainty_trial

from .simulated import processed

PLANAR = load_limits("planar_reading")
VIEWS = ("pelvis_plane", "asis", "camera")


def leg(thigh_forward_deg: float, pelvis_tilt_deg: float, asis_above_mm: float = 80.0) -> View:
    """A right leg whose thigh leans forward by so much from straight down, standing at the start."""
    forward = np.deg2rad(thigh_forward_deg)
    ankle = np.array([0.0, 80.0, 90.0])
    knee = ankle + [150.0, 380.0, 0.0]
    hip = knee + 420.0 * np.array([-np.sin(forward), np.cos(forward), -0.05])
    standing = np.array([[0.0, 910.0, 90.0], [0.0, 490.0, 90.0], ankle])
    points = [np.stack([then, now])[None] for then, now in zip(standing, (hip, knee, ankle), strict=True)]
    asis = np.stack([standing[0], hip])[None] + np.array([50.0, asis_above_mm, 30.0])
    return View(*points, points[1], asis, rotation_z(np.deg2rad(-pelvis_tilt_deg))[None])


def shown(view: View, least: float = 0.3) -> dict[str, float]:
    return {name: float(values[0]) for name, values in planar_measures(view, "right", PLANAR, least).items()}


def test_the_pelvis_plane_has_its_own_share_of_the_thigh() -> None:
    found = shown(leg(60.0, 30.0))
    assert found["leg_shown_at_bottom"] == pytest.approx(50.0, abs=0.3)
    assert found["leg_shown_pelvis_plane_at_bottom"] == pytest.approx(
        5.0, abs=0.3
    )  # square to it but for what is sideways
    assert np.isnan(found["fppa_pelvis_plane_at_bottom"])
    assert np.isfinite([found["fppa_asis_at_bottom"], found["fppa_camera_at_bottom"]]).all()
    level = shown(leg(60.0, 0.0))
    assert level["leg_shown_pelvis_plane_at_bottom"] == pytest.approx(level["leg_shown_at_bottom"])
    assert np.isfinite(level["fppa_pelvis_plane_at_bottom"])


def test_from_the_asis_the_line_to_the_knee_is_what_must_show() -> None:
    found = shown(leg(80.0, 0.0, asis_above_mm=150.0))
    assert found["leg_shown_at_bottom"] < 30.0 < found["leg_shown_asis_at_bottom"]
    assert np.isfinite(found["fppa_asis_at_bottom"])
    assert np.isnan(found["fppa_pelvis_plane_at_bottom"])


def test_a_camera_turned_towards_the_thigh_sees_it_end_on() -> None:
    deep = leg(78.0, 78.0)
    turned = deep._replace(**{n: getattr(deep, n) @ rotation_y(-0.6) for n in ("hip", "knee", "ankle", "kneecap")})
    limits = {**PLANAR, "camera_yaw_deg": PLANAR["camera_yaw_deg"].model_copy(update={"value": np.rad2deg(0.6)})}
    ahead = planar_measures(turned, "right", PLANAR, 0.3)
    aside = planar_measures(turned, "right", limits, 0.3)
    assert np.isfinite(ahead["fppa_camera_at_bottom"]).all()
    assert aside["leg_shown_camera_at_bottom"][0] < 30.0
    assert np.isnan(aside["fppa_camera_at_bottom"]).all()
    np.testing.assert_array_equal(ahead["leg_shown_at_bottom"], aside["leg_shown_at_bottom"])


@lru_cache(maxsize=1)
def squat() -> xr.Dataset:
    person, options = build_person(), Options.ideal(rate_hz=50.0, timing=Timing(repetitions=2, squat_s=1.2))
    return processed(person, simulate(person, "hip_in", options, "right"))[0]


def tilted_at_the_first_bottom(degrees: float) -> xr.Dataset:
    trial = squat().copy(deep=True)
    bottom = repetition_rows(trial)[0].bottom
    pelvis = trial["pose"].values[bottom, SEGMENTS.index("pelvis")]
    trial["pose"].values[bottom, SEGMENTS.index("pelvis")] = pelvis @ rotation_z(np.deg2rad(-degrees))
    return trial


def values(trial: xr.Dataset, measure: str, which: str = "value") -> np.ndarray:
    return trial[f"measure_{which}"].values[:, trial["measure"].values.tolist().index(measure)]


def test_an_angle_that_is_not_given_has_no_limits_and_is_told_by_its_view() -> None:
    strict = ContributionsSettings(limits={"shown_least_percent": 40.0})
    done, findings = contributions_trial(tilted_at_the_first_bottom(25.0), strict)
    done = uncertainty_trial(done, UncertaintySettings(draws=60))[0]
    assert values(done, "leg_shown_pelvis_plane_at_bottom")[0] < 40.0
    for which in ("value", "lower", "upper"):
        assert np.isfinite(values(done, "fppa_pelvis_plane_at_bottom", which)).tolist() == [False, True]
        assert np.isfinite(values(done, "fppa_camera_at_bottom", which)).all()
    (said,) = (f for f in findings if f.check == "planar view")
    assert said.subject == "fppa_pelvis_plane_at_bottom, right"
    assert said.value == values(done, "leg_shown_pelvis_plane_at_bottom")[0]
    assert "not given in repetition 1, under 40 %" in said.advice


def test_draws_that_show_less_still_count_where_the_angle_is_given() -> None:
    shown = values(contributions_trial(squat(), ContributionsSettings())[0], "leg_shown_pelvis_plane_at_bottom")
    nearly = ContributionsSettings(
        limits={"shown_least_percent": float(shown.min()) - 0.1}
    )  # half of the draws show less
    done = uncertainty_trial(contributions_trial(squat(), nearly)[0], UncertaintySettings(draws=60))[0]
    for which in ("value", "lower", "upper"):
        assert np.isfinite(values(done, "fppa_pelvis_plane_at_bottom", which)).all()


@pytest.mark.parametrize(
    ("signs", "said"),
    [
        ((75.0, 20.0, np.nan), ""),  # the projection angle would decide
        ((75.0, 45.0, np.nan), "knee_in"),
        ((5.0, 5.0, np.nan), "straight"),
        ((-35.0, np.nan, -12.0), "knee_out"),
        ((5.0, np.nan, 12.0), ""),
        ((75.0, 20.0, 5.0), "straight"),
        ((np.nan, 45.0, 20.0), ""),  # no kneecap was followed
    ],
)
def test_a_reading_is_made_where_the_known_signs_decide(signs: tuple[float, float, float], said: str) -> None:
    assert _read(signs, (1.0, 2.0), PLANAR) == said


@pytest.mark.parametrize(("frontal", "camera", "apart"), [("knee_in", "straight", True), ("knee_in", "", False),
                                                         ("", "straight", False), ("straight", "straight", False)])  # fmt: skip
def test_a_camera_that_reads_nothing_reads_nothing_else(frontal: str, camera: str, apart: bool) -> None:
    assert PlanarReading(frontal, camera, "patella", {}).told_apart is apart


def test_a_camera_without_a_reading_is_not_said_to_read_otherwise() -> None:
    none_by_camera = ContributionsSettings(limits={"shown_least_percent": 99.0}, planar={"signs_needed": 3.0})
    done, findings = contributions_trial(squat(), none_by_camera)
    assert np.isnan(values(done, "fppa_camera_at_bottom")).all()
    assert done["repetition_planar_reading"].values.tolist() == ["knee_in", "knee_in"]
    assert not any(f.subject == "camera" for f in findings)


def test_a_reading_that_is_not_made_is_said() -> None:
    trial = squat().copy(deep=True)
    names = trial["measure"].values.tolist()
    for name, value in (("patella_travel", 75.0), ("patella_path_angle_descent", 20.0), ("fppa_at_bottom", np.nan)):
        trial["measure_value"].values[0, names.index(name)] = value
    done, findings = contributions_trial(trial, ContributionsSettings())
    assert done["repetition_planar_reading"].values.tolist() == ["", "knee_in"]
    assert done["repetition_misread"].values[0] == ""
    (said,) = (f for f in findings if f.check == "planar reading" and f.subject.startswith("not read"))
    assert said.value == 1.0
    assert "repetition 1" in said.advice
