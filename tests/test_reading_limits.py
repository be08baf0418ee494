"""What reading goes by stands in configs/reading.yaml; a pipeline's `read: {limits: {...}}` reaches every use of it."""

from pathlib import Path

import numpy as np
import pytest

from condyle.errors import ConfigurationErrors, DataError
from condyle.files.c3d import read_c3d
from condyle.files.labels import collapse_duplicates, match_labels
from condyle.files.limits import load_limits
from condyle.files.pipeline_file import load_pipeline
from condyle.files.reading_limits import limits_of_history, reading_limits
from condyle.files.samples import frozen_findings, leaps
from condyle.session import compute, plan
from condyle.stages import STAGES
from tests.small_sessions import PIPELINE, base_recordings
from tests.test_bad_input import changed

USED = {"leap", "leap_off_path", "leap_times_bend", "leap_acceleration", "leap_echo"}
USED |= {"held", "farthest", "noise_speed", "same_name"}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A session whose squat has one sample of the right knee marker 60 mm off its path, and one position held for 0.3 s."""
    (place,) = base_recordings(tmp_path_factory.mktemp("recorded"), ("controlled",))

    def disturbed(points, labels):
        points[0, labels.index("R_KNEE_LAT"), 100] += 60.0
        points[:3, labels.index("L_THIGH_1"), 120:136] = points[:3, labels.index("L_THIGH_1"), 119][:, None]
        return points

    changed(place / "squat.c3d", disturbed)
    return place


def checks(folder: Path, place: Path, limits: str) -> set[tuple[str, str]]:
    """Subject and check of what is to be looked at in the squat."""
    place.mkdir()
    for name in ("static", "squat"):
        (place / f"{name}.c3d").hardlink_to(folder / f"{name}.c3d")
    (place / "squat.yaml").write_text(PIPELINE.replace("[read,", f"[read: {{limits: {{{limits}}}}},"))
    (place / "session.yaml").write_text(
        "participant: {id: MR01}\nsession: s1\npipeline: squat.yaml\nstatic: static.c3d\ntrials: [{file: squat.c3d}]\n"
    )
    result = compute(plan(place / "session.yaml"))
    assert limits_of_history(result.trials["squat"].trial.attrs["history"])["leap"].value == (100.0 if limits else 20.0)
    return {(f.subject, f.check) for n, f in result.findings if n == "squat" and f.verdict != "pass"}


def test_a_leap_is_named_once_by_reading_or_else_by_the_check(folder: Path, tmp_path: Path) -> None:
    shipped = checks(folder, tmp_path / "shipped", "")
    assert ("R_KNEE_LAT", "leap of a sample") in shipped
    assert ("R_KNEE_LAT", "spike") not in shipped
    assert ("L_THIGH_1", "marker stands still") in shipped
    wide = checks(folder, tmp_path / "wide", "leap: 100, held: 0.5")
    assert ("R_KNEE_LAT", "leap of a sample") not in wide
    assert ("R_KNEE_LAT", "spike") in wide, "what reading did not name is not lost"
    assert ("L_THIGH_1", "marker stands still") not in wide


def test_each_limit_is_one_that_decides(folder: Path) -> None:
    assert set(load_limits("reading")) == USED
    squat = folder / "squat.c3d"
    with pytest.raises(DataError, match="the coordinates are noise"):
        read_c3d(squat, limits={"noise_speed": 0.001})
    near = read_c3d(squat, limits={"farthest": 1000.0})
    assert {f.check for f in near.findings} >= {"samples out of range"}
    assert np.nanmax(np.abs(near.points)) < 1000.0
    labels, apart = ["R_ASIS", "R_ASIS"], np.zeros((5, 2, 3))
    apart[:, 1, 0] = 0.5
    match = match_labels(labels, ["R_ASIS"])
    assert [f.verdict for f in collapse_duplicates(apart, match, ["R_ASIS"])[1]] == ["reject"]
    joined = collapse_duplicates(apart, match, ["R_ASIS"], reading_limits({"same_name": 1.0}))[1]
    assert [f.verdict for f in joined] == ["pass"]
    still = np.cumsum(np.ones((50, 4, 3)), axis=0)
    still[10:30, 0] = still[10, 0]
    assert frozen_findings(still, list("ABCD"), 100.0)
    assert not frozen_findings(still, list("ABCD"), 100.0, reading_limits({"held": 0.3}))


@pytest.mark.parametrize(("name", "value"), [("leap", 90.0), ("leap_off_path", 61.0), ("leap_times_bend", 500.0)])
def test_each_limit_of_a_leap_decides(name: str, value: float) -> None:
    path = np.zeros((40, 1, 3))
    path[:, 0, 0] = 0.5 * np.arange(40) ** 2
    path[20, 0, 1] += 60.0
    fast = {"leap_acceleration": 1e4}  # else it decides before the path's own bend does
    assert np.flatnonzero(leaps(path, 100.0, reading_limits(fast))).tolist() == [20]
    assert not leaps(path, 100.0, reading_limits({**fast, name: value})).any()


def test_whose_leap_it_is_is_a_limit_too() -> None:
    path = np.zeros((40, 1, 3))
    path[[20, 22], 0, 1] = 60.0, 70.0  # between them the path is bent by 65
    assert np.flatnonzero(leaps(path, 100.0)).tolist() == [20, 21, 22]
    assert np.flatnonzero(leaps(path, 100.0, reading_limits({"leap_echo": 1.0}))).tolist() == [22]


def test_an_acceleration_beyond_nature_is_a_leap_on_a_bent_path() -> None:
    path = np.zeros((40, 1, 3))
    path[10:30, 0, 1] = 60.0 * (np.arange(20) % 2)  # to and fro: as bent beside each sample as at it
    assert not leaps(path, 100.0, reading_limits({"leap_acceleration": 1e4})).any()
    assert leaps(path, 100.0, reading_limits({"leap_acceleration": 100.0})).any()


def test_a_wrong_limit_is_refused_with_what_was_expected(tmp_path: Path) -> None:
    for words, said in (("leep: 20", "nearest valid name: `leap`"), ("held: 0.001", "a number from 0.03 to 600 s")):
        (tmp_path / "squat.yaml").write_text(PIPELINE.replace("[read,", f"[read: {{limits: {{{words}}}}},"))
        with pytest.raises(ConfigurationErrors, match=said):
            load_pipeline(tmp_path / "squat.yaml", STAGES)
