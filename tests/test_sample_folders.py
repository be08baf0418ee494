"""Sample sessions as folders: whole, and byte for byte the same with the same seed."""

import hashlib
import json
import re
from dataclasses import replace
from pathlib import Path

import ezc3d
import numpy as np
import pytest
import yaml

from condyle.command import main
from condyle.errors import UsageError
from condyle.sample import (
    MOVEMENTS,
    NO_ERRORS,
    Options,
    Style,
    build_person,
    cohort,
    drawn_session,
    random_person,
    simulate,
    simulate_bouts,
    simulate_session,
    write_sample,
    write_session,
)
from condyle.sample.accounts import LIMITS, account_of
from condyle.sample.cohort import random_movement
from condyle.sample.shipped import shipped_session
from condyle.sample.timing import Timing
from condyle.sample.truth import ANGLES

ROOT = Path(__file__).parents[1]
SHORT = Options.ideal(timing=Timing(repetitions=1, before_s=0.6, after_s=0.2, tempo_spread=0.0))


def digests(folder: Path) -> dict[str, str]:
    return {
        str(p.relative_to(folder)): hashlib.sha256(p.read_bytes()).hexdigest()
        for p in sorted(folder.rglob("*"))
        if p.is_file()
    }


def test_session_folder_is_whole(tmp_path: Path) -> None:
    session = simulate_session(build_person(), {"squat_right": [("right", "hip_in")]}, SHORT)
    place = write_session(tmp_path / "MR01" / "2026-11-03", session)
    names = {"session.yaml", "static.c3d", "squat_right.c3d", "truth.json", "truth_static.npz", "truth_squat_right.npz"}
    assert {p.name for p in place.iterdir()} == names
    written = yaml.safe_load((place / "session.yaml").read_text(encoding="utf-8"))
    assert written["participant"]["id"] == "MR01"
    assert [t["side"] for t in written["trials"]] == ["right"]
    truth = json.loads((place / "truth.json").read_text(encoding="utf-8"))
    squat = truth["trials"][0]["bouts"][0]["repetitions"][0]
    with np.load(place / "truth_squat_right.npz") as arrays:
        assert arrays["joint_angle"].tolist() == list(ANGLES)
        bottom = arrays["angle"][squat["bottom_frame"], arrays["side"].tolist().index("right")]
        knee = arrays["centre"][:, arrays["joint"].tolist().index("knee_r")]
        assert len(arrays["time"]) == ezc3d.c3d(str(place / "squat_right.c3d"))["header"]["points"]["last_frame"] + 1
    told = squat["true_forward"]
    np.testing.assert_allclose(bottom, [told["angle_at_bottom"][name] for name in ANGLES], atol=1e-4)
    travel = -(knee[squat["bottom_frame"], 2] - knee[squat["start_frame"], 2])
    assert told["knee"]["travel"] == pytest.approx(travel, abs=1e-3)
    change = told["angle_at_bottom"]["fppa"] - told["angle_at_start"]["fppa"]
    assert sum(told["contributions"]["fppa"].values()) == pytest.approx(change, abs=1e-5)
    assert told["cause"]["fppa"] == "at_the_hip"


def test_declared_side_may_be_wrong(tmp_path: Path) -> None:
    session = simulate_session(build_person(), {"squat": [("left", "controlled")]}, SHORT)
    place = write_session(tmp_path, session, declared_sides={"squat": "right"})
    assert yaml.safe_load((place / "session.yaml").read_text(encoding="utf-8"))["trials"][0]["side"] == "right"
    assert json.loads((place / "truth.json").read_text(encoding="utf-8"))["trials"][0]["bouts"][0]["side"] == "left"


def test_same_seed_same_bytes_whatever_the_number_of_participants(tmp_path: Path) -> None:
    first = write_sample(tmp_path / "a", participants=1, seed=4)
    write_sample(tmp_path / "b", participants=2, seed=4)
    write_sample(tmp_path / "c", participants=1, seed=5)
    assert [str(p.relative_to(tmp_path / "a")) for p in first] == ["MR01/2026-11-03"]
    a, b, c = (digests(tmp_path / name) for name in "abc")
    assert a.items() <= b.items()
    assert a.keys() == c.keys()
    assert all(a[name] != c[name] for name in a if name.endswith(".c3d"))
    plate = ezc3d.c3d(str(first[0] / "squat_right.c3d"), extract_forceplat_data=True)["data"]["platform"]
    assert np.isfinite(plate[0]["center_of_pressure"]).all()


def test_ideal_sessions_have_rigid_plates_no_gaps_and_the_truth_of_the_others(tmp_path: Path) -> None:
    for name, words in (("plain", []), ("ideal", ["--ideal"])):
        assert main(["sample", str(tmp_path / name), "--participants", "3", "--seed", "4", *words]) == 0
    for place in sorted(p.parent for p in (tmp_path / "ideal").rglob("squat_right.c3d")):
        other = tmp_path / "plain" / place.relative_to(tmp_path / "ideal")
        told, plain = (json.loads((p / "truth.json").read_text(encoding="utf-8")) for p in (place, other))
        assert told["trials"] == plain["trials"]
        assert [spread_on_plates(p / "squat_right.c3d") < 1e-3 for p in (place, other)] == [True, False]
        points = ezc3d.c3d(str(place / "squat_right.c3d"))["data"]["points"][:3]
        assert np.isfinite(points).all()


def spread_on_plates(path: Path) -> float:
    """The largest change (mm) of a distance between two markers of the right thigh's plate."""
    file = ezc3d.c3d(str(path))
    labels = file["parameters"]["POINT"]["LABELS"]["value"]
    plate = file["data"]["points"][:3, [labels.index(f"R_THIGH_{k}") for k in range(1, 5)]]
    apart = np.linalg.norm(plate[:, :, None] - plate[:, None], axis=0)
    return float(np.nanmax(np.ptp(apart, axis=-1))) if np.isfinite(apart).all() else float("inf")


@pytest.mark.parametrize(("participants", "seed"), [(0, 1), (-3, 1), (2, -1)])
def test_impossible_sample_is_refused_before_anything_is_written(tmp_path: Path, participants: int, seed: int) -> None:
    with pytest.raises(UsageError, match="--"):
        write_sample(tmp_path / "none", participants=participants, seed=seed)
    assert not (tmp_path / "none").exists()


def test_cohort_varies_and_its_truth_is_finite() -> None:
    sessions = list(cohort(6, 11, errors=NO_ERRORS))
    assert len({s.person.thigh_mm for s in sessions}) == 6
    assert len({t.bouts[0].movement.name for s in sessions for t in s.trials}) >= 4
    bent = []
    for session in sessions:
        for trial in session.trials:
            told = account_of(trial, session.static, 0)
            assert len(told["repetitions"]) == 5
            for squat in told["repetitions"]:
                bent.append(squat["true_forward"]["angle_at_bottom"]["knee_flexion"])
                assert set(squat["true_forward"]["cause"]) == set(LIMITS)
                assert np.isfinite(list(squat["true_forward"]["contributions"]["fppa"].values())).all()
            assert np.isfinite(trial.points).all()
    assert max(bent) - min(bent) > 10.0


def test_a_participant_can_be_drawn_alone() -> None:
    alone = drawn_session(3, 8, style=Style(), errors=NO_ERRORS)
    among = list(cohort(3, 8, errors=NO_ERRORS))[2]
    np.testing.assert_array_equal(alone.trials[0].points, among.trials[0].points)


def test_errors_do_not_change_the_bones() -> None:
    """The same seed with and without errors is the same person doing the same: one can look at what the errors do."""
    with_errors, without = (
        simulate_session(build_person(), options=replace(SHORT, seed=6, errors=errors, sway_deg=0.1))
        for errors in (Options().errors, NO_ERRORS)
    )
    for one, other in zip(with_errors.trials, without.trials, strict=True):
        np.testing.assert_array_equal(one.marker_truth, other.marker_truth)
        assert np.nanmax(np.abs(one.points - other.points)) > 1.0


def test_shipped_session_is_what_its_program_makes() -> None:
    """To 0.01 mm, not to the byte: another machine may round a sine otherwise."""
    folder = ROOT / "sample_trials" / "MR01" / "2026-11-03"
    session = shipped_session()
    assert sum(p.stat().st_size for p in folder.iterdir() if p.is_file()) < 6e6
    for trial in (session.static, *session.trials):
        points = ezc3d.c3d(str(folder / f"{trial.name}.c3d"))["data"]["points"][:3].transpose(2, 1, 0)
        np.testing.assert_allclose(points, trial.points, atol=0.01)
    truth = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
    causes = {
        t["trial"]: {r["pelvis_at_start"]["cause"]["fppa"] for b in t["bouts"] for r in b["repetitions"]}
        for t in truth["trials"]
    }
    assert causes == {"squat_right": {"with_the_pelvis"}, "squat_left": {"at_the_hip"}}


def test_every_movement_stands_in_the_docs() -> None:
    page = (ROOT / "docs" / "sample.md").read_text(encoding="utf-8")
    told = dict(re.findall(r"^\| `(\w+)` \| (.+) \|$", page, flags=re.M))
    assert {name: movement.words for name, movement in MOVEMENTS.items()} == told


@pytest.mark.parametrize("number", range(12))
def test_drawn_people_can_do_every_task(number: int) -> None:
    """Drawn people, hip centres off the regression: their legs reach the floor, no foot goes through it."""
    rng = np.random.default_rng([9, number])
    person = random_person("MR01", rng, hip_centre_sd_mm=7.0)
    slow = replace(SHORT, rate_hz=50.0)
    bouts = [("right", random_movement(rng)), ("left", random_movement(rng))]
    for trial in (simulate(person, "double_leg_squat", slow), simulate_bouts(person, bouts, slow)):
        resting = min(trial.marker_truth[0, :, 1])
        assert trial.marker_truth[..., 1].min() > resting - 9.0
    simulate(person, "step_down", slow, "left")
