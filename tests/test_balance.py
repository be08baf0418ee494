"""Which side of the foot the centre of mass lies off: by geometry, and on the matched pair, which stands behind its heel."""

from dataclasses import replace

import numpy as np
import pytest

from condyle.files.limits import load_limits
from condyle.sample.matched import matched_pair
from condyle.sample.options import Options
from condyle.sample.person import check_person
from condyle.sample.simulate import simulate
from condyle.sample.timing import Timing
from condyle.stages.accounts import repetition_rows
from condyle.stages.balance import over_the_foot, side_words
from condyle.stages.beside_the_verdict import as_finding, seen_in
from condyle.stages.contributions import ContributionsSettings, contributions_trial
from condyle.stages.measured_points import landmark, mass_centre

from .observations.shared import LIMITS, STILL
from .simulated import processed

# heel, metatarsals 5, 2 and 1 of a right foot that looks ahead, forward and right, mm
FOOT = np.array([[0.0, 0.0], [150.0, 45.0], [185.0, -10.0], [170.0, -40.0]])


@pytest.mark.parametrize(
    ("place", "words"),
    [
        ((-70.0, 5.0), "backwards"),
        ((250.0, -5.0), "forwards"),
        ((90.0, -90.0), "medially"),
        ((90.0, 90.0), "laterally"),
    ],
)
@pytest.mark.parametrize("side", ["right", "left"])
@pytest.mark.parametrize("turned", [0.0, 70.0, -120.0])
def test_side_of_the_foot_by_geometry(place: tuple[float, float], words: str, side: str, turned: float) -> None:
    mirror = np.array([1.0, 1.0 if side == "right" else -1.0])
    angle = np.deg2rad(turned)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    standing = over_the_foot(turn @ (np.array(place) * mirror), FOOT * mirror @ turn.T, side)
    assert standing.outside > 30.0
    assert side_words(standing.ahead, standing.medial) == words
    assert np.hypot(standing.ahead, standing.medial) == pytest.approx(standing.outside)


def test_no_side_where_the_foots_axis_is_not_seen() -> None:
    for lost, named in (((0,), False), ((2,), True), ((1, 2), False)):
        foot = FOOT.copy()
        foot[list(lost)] = np.nan
        standing = over_the_foot(np.array([90.0, -200.0]), foot, "right")
        assert side_words(standing.ahead, standing.medial) == ("medially" if named else "")
        assert np.isfinite(standing.outside) == (len(lost) == 1)


def test_matched_pair_stands_behind_its_heel_and_is_said_to() -> None:
    options = replace(
        Options.ideal(), rate_hz=60.0, static_s=0.6, timing=Timing(repetitions=1, squat_s=1.6, before_s=0.7)
    )
    for movement in matched_pair():
        trial, _ = processed(check_person(), simulate(check_person(), movement, options, "right"))
        done, findings = contributions_trial(trial, ContributionsSettings())
        bottom = repetition_rows(done)[0].bottom
        heel, toe = (landmark(done, f"{n}_r")[bottom][[0, 2]] for n in ("calcaneus", "metatarsal_2"))
        ahead = (mass_centre(done).position[bottom][[0, 2]] - heel) @ (toe - heel) / np.linalg.norm(toe - heel)
        assert ahead < -30.0
        assert "centre of mass off the foot backwards" in str(done["repetition_findings"].values[0]).split(";")
        row = next(f for f in findings if f.advice.startswith("centre of mass off the foot backwards:"))
        assert row.value == pytest.approx(-ahead, abs=6.0)
        assert (row.limit, row.unit) == (30.0, "mm")


@pytest.mark.parametrize(
    ("changes", "limit", "named"),
    [
        ({"descent_time": 3.0}, 3.0, "2 s (common practice, no source)"),
        ({"descent_time": 0.4, "ascent_time": 0.4}, 1.0, "50 % (ours)"),
        ({"hip_centre_shift": -31.0}, -30.0, "hip centre"),
        ({"pelvis_obliquity_at_bottom": -6.0, "pelvis_obliquity_change": -4.0}, -5.0, "3 deg (ours)"),
        ({"knee_reversals": 5.0, "knee_path_ratio": 6.0}, 4.0, "15 deg (common practice"),
    ],
)
def test_row_shows_the_limit_that_was_applied(changes: dict[str, float], limit: float, named: str) -> None:
    (seen,) = seen_in(STILL | changes, LIMITS)
    row = as_finding(seen, "repetition 1, right", LIMITS)
    assert row.limit == pytest.approx(limit)
    assert named in row.advice
    assert row.value is not None
    assert abs(row.value) > abs(limit) or limit == 1.0


def test_tempo_follows_a_changed_protocol() -> None:
    own = {**LIMITS, "protocol_apart_percent": load_limits("findings")["protocol_apart_percent"]}
    own["protocol_apart_percent"] = own["protocol_apart_percent"].model_copy(update={"value": 20.0})
    (seen,) = seen_in(STILL | {"descent_time": 1.5}, own)
    assert as_finding(seen, "repetition 1, right", own).limit == pytest.approx(2.4)
