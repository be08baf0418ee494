"""The order of landmarks in every upright standing adult: what breaks it is named, and what exchange mends it."""

from itertools import combinations

import numpy as np
import pytest
import xarray as xr
from scipy.spatial.transform import Rotation

from condyle.body_names import LANDMARK_SEGMENT
from condyle.findings import Finding
from condyle.mechanics.arrays import FloatArray
from condyle.running import judge
from condyle.sample import cohort
from condyle.stages.check import REJECTED_STANDING, CheckSettings, check_trial
from condyle.stages.checks.judging import QualityLimits
from condyle.stages.checks.order import ORDERS, Standing
from tests.simulated import calibrated, trial_of
from tests.standing import standing_landmarks


@pytest.fixture(scope="module")
def static() -> xr.Dataset:
    whole = trial_of(next(cohort(1, 17)).static, task="static")
    return whole.isel(time=slice(0, 60))


def exchanged(trial: xr.Dataset, *pairs: tuple[str, str]) -> xr.Dataset:
    labels, point = trial["label"].values.tolist(), trial["point"].values.copy()
    for pair in pairs:
        a, b = (labels.index(label) for label in pair)
        point[:, [a, b]] = point[:, [b, a]]
    return trial.assign(point=(trial["point"].dims, point))


def shifted(trial: xr.Dataset, label: str, by: list[float]) -> xr.Dataset:
    point = trial["point"].values.copy()
    point[:, trial["label"].values.tolist().index(label)] += by
    return trial.assign(point=(trial["point"].dims, point))


def said(trial: xr.Dataset) -> list[Finding]:
    return [f for f in check_trial(trial, CheckSettings())[1] if f.verdict != "pass"]


def broken(landmarks: dict[str, FloatArray]) -> list[str]:
    standing = Standing(list(landmarks), QualityLimits().in_force())
    wrong = standing.broken(np.array(list(landmarks.values())))
    return [f"{r.first} {r.way} {r.second}" for r, w in zip(standing.relations, wrong, strict=True) if w]


def test_simulated_adults_are_in_order() -> None:
    assert [f for s in cohort(4, 5) for f in said(trial_of(s.static, task="static")) if f.verdict == "reject"] == []
    assert broken(standing_landmarks()) == []


def test_every_exchange_of_two_landmarks_of_a_segment_is_one_row_that_names_both(static: xr.Dataset) -> None:
    labels = dict(zip(static["marker"].values.tolist(), static["label"].values.tolist(), strict=True))
    on = {n: LANDMARK_SEGMENT[n] for n in labels if n in LANDMARK_SEGMENT and not n.endswith("_l")}
    tried = [(a, b) for a, b in combinations(on, 2) if on[a] == on[b]]
    assert len(tried) == 28
    for a, b in tried:
        rows = said(exchanged(static, (labels[a], labels[b])))
        assert {f.verdict for f in rows} == {"reject"}, (a, b, rows)
        assert len({f.advice for f in rows}) == 1
        assert labels[a] in rows[0].advice
        assert labels[b] in rows[0].advice
        own = {"acromion": "shoulders"}.get(a[:-2], on[a])
        assert own in {f.subject for f in rows}


@pytest.mark.parametrize(
    ("pair", "check", "words"),
    [
        (("R_META_1", "R_META_5"), "order of landmarks", "inside R_META_1"),
        (
            ("R_KNEE_LAT", "R_ANKLE_LAT"),
            "order of landmarks",
            "With R_KNEE_LAT and R_ANKLE_LAT exchanged all is in order",
        ),
        (("C7", "NOTCH"), "order of landmarks", "NOTCH lies"),
        (("R_ASIS", "L_PSIS"), "order of landmarks", "With R_ASIS and L_PSIS exchanged all is in order"),
        (("R_KNEE_LAT", "R_KNEE_MED"), "lateral and medial", "the lateral one must lie outside"),
        (("R_PATELLA", "L_PATELLA"), "left and right", "lie on each other's side"),
    ],
)
def test_the_words_say_the_labels_and_the_way(
    static: xr.Dataset, pair: tuple[str, str], check: str, words: str
) -> None:
    rows = said(exchanged(static, pair))
    assert {f.check for f in rows} == {check}
    assert words in rows[0].advice
    assert rows[0].value is not None
    assert rows[0].limit is not None
    assert rows[0].value < rows[0].limit


def test_two_exchanges_are_two_faults(static: xr.Dataset) -> None:
    rows = said(exchanged(static, ("R_META_1", "R_META_5"), ("L_META_1", "L_META_2"), ("C7", "T10")))
    assert [(f.check, f.subject) for f in rows] == [("order of landmarks", s) for s in ("foot_r", "foot_l", "trunk")]


def test_legs_under_each_others_names_are_said_by_segment(static: xr.Dataset) -> None:
    labels = static["label"].values.tolist()
    legs = [(n, f"L{n[1:]}") for n in labels if n.startswith(("R_KNEE", "R_TROCH", "R_PATELLA", "R_TUB", "R_ANKLE"))]
    rows = [f for f in said(exchanged(static, *legs)) if f.check == "left and right" and f.subject.endswith("_r")]
    assert [f.subject for f in rows if "lie on each other's side" in f.advice] == ["thigh_r", "shank_r"]


def test_a_trochanter_on_another_place_is_named_alone(static: xr.Dataset) -> None:
    (row,) = said(shifted(static, "R_TROCH", [0, -200, 0]))
    assert (row.check, row.subject, row.verdict) == ("order of landmarks", "thigh_r", "reject")
    assert "R_TROCH is misplaced or mislabelled" in row.advice


@pytest.mark.parametrize("degrees", [-30.0, 40.0])
def test_legs_turned_in_or_out_are_in_order(degrees: float) -> None:
    person = standing_landmarks()
    for tail, sign in (("_r", -1.0), ("_l", 1.0)):
        turn = Rotation.from_rotvec([0.0, sign * np.deg2rad(degrees), 0.0]).as_matrix()
        centre = np.array([-50.0, 0.0, -95.0 * sign])
        for name in person:
            if name.endswith(tail) and LANDMARK_SEGMENT[name].startswith(("thigh", "shank", "foot")):
                person[name] = turn @ (person[name] - centre) + centre
    assert broken(person) == []
    for tail in ("_r", "_l"):
        a, b = f"metatarsal_1{tail}", f"metatarsal_2{tail}"
        assert broken(person | {a: person[b], b: person[a]}) == [f"{b} outside {a}"]


def test_whoever_does_not_stand_is_said_so_once(static: xr.Dataset) -> None:
    point, labels = static["point"].values.copy(), static["label"].values.tolist()
    legs = [k for k, n in enumerate(labels) if n[2:] in ("TUBEROSITY", "ANKLE_LAT", "ANKLE_MED") or n[2:7] == "SHANK"]
    feet = [k for k, n in enumerate(labels) if "META" in n or "HEEL" in n]
    point[:, legs + feet, 1] += 350.0  # kneeling: ankles and feet as high as the knees
    (row,) = [f for f in said(static.assign(point=(static["point"].dims, point))) if f.verdict == "reject"]
    assert (row.check, row.subject) == ("order of landmarks", "file")
    assert "stands upright with both feet on the floor" in row.advice


def test_an_impossible_size_rejects_and_an_unusual_one_is_looked_at(static: xr.Dataset) -> None:
    for factor, verdict in ((1.4, "review"), (2.3, "reject")):
        point = static["point"].values * factor
        sizes = [f for f in said(static.assign(point=(static["point"].dims, point))) if f.check == "body size"]
        assert verdict in {f.verdict for f in sizes}
    assert not [f for f in said(static) if f.check == "body size"]


def test_what_the_standing_trial_rejects_of_trunk_and_shoulders_is_not_given_in_a_movement(static: xr.Dataset) -> None:
    session = next(cohort(1, 17))
    trial = trial_of(session.trials[0]).assign(calibrated(trial_of(session.static, task="static")))
    for part, gone, kept in (("trunk", "c7", "acromion_r"), ("shoulders", "acromion_r", "c7")):
        checked, found = check_trial(trial.assign_attrs({REJECTED_STANDING: part}), CheckSettings())
        assert [f.subject for f in found if f.verdict == "reject"] == [part]
        after, ended, _ = judge(checked, found)
        assert not ended
        assert np.isnan(after["point"].sel(marker=gone)).all()
        assert not np.isnan(after["point"].sel(marker=kept)).all()


def test_every_order_has_its_limit_and_its_own_words() -> None:
    limits = QualityLimits().in_force()
    keys = [o.key for o in ORDERS]
    assert len(set(keys)) == len(keys)
    assert {f"order_{key}" for key in keys} | {"order_most"} == {k for k in limits if k.startswith("order_")}
