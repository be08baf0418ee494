"""A small version of ``python -m tests.placing``: is the landmark that was put elsewhere named, on invented and real bodies?"""

from dataclasses import replace

import numpy as np
import pytest

from condyle.body_names import LANDMARK_SEGMENT
from condyle.repeatability.pair import compare_pair, pairs_of
from tests.placing import MOVED, PARTS, case, displacement, sound, two_days
from tests.placing_open import BODIES, Body, bodies


def test_every_landmark_of_pelvis_and_legs_is_moved() -> None:
    assert len(MOVED) == 28
    assert {LANDMARK_SEGMENT[n].removesuffix("_r").removesuffix("_l") for n in MOVED} == set(PARTS)


def test_a_landmark_60_mm_off_is_named_with_size_and_direction_at_published_palpation() -> None:
    rng = np.random.default_rng(21)
    found = []
    for name in MOVED[::3]:
        shift = displacement(rng, name, 60.0, in_skin=False)
        found.append(case(two_days(rng, 1.0, {name: shift})[0], name, shift))
    assert sum(c.outcome == "alone" for c in found) >= 8  # of 10
    assert not [c for c in found if c.outcome == "another"]
    assert np.median([abs(c.size_error) for c in found]) < 10.0
    assert np.median([c.direction_error for c in found]) < 20.0


def test_a_landmark_25_mm_off_is_named_where_a_lab_palpates_ten_times_better() -> None:
    rng = np.random.default_rng(22)
    for name in ("lateral_malleolus_r", "metatarsal_5_l", "lateral_epicondyle_r"):
        shift = displacement(rng, name, 25.0, in_skin=False)
        found = case(two_days(rng, 0.1, {name: shift})[0], name, shift)
        assert (found.outcome, found.others) == ("alone", 0)
        assert abs(found.size_error) < 5.0
        assert found.direction_error < 10.0


@pytest.mark.parametrize("other_tester", [False, True])
def test_sound_sessions_are_not_blamed_and_intervals_hold_the_true_turn(other_tester: bool) -> None:
    named, _, _, held, real = sound(12, 23, other_tester)
    assert named <= 3  # 0.1 of 12 is 1.2
    assert held > 0.93
    assert real > 0.7  # axes called turned are turned


@pytest.fixture(scope="module")
def real(tmp_path_factory: pytest.TempPathFactory) -> list[Body]:
    return list(bodies(tmp_path_factory.mktemp("open")))


@pytest.mark.parametrize("k", range(len(BODIES)))
def test_on_real_bodies_a_landmark_60_mm_off_is_named(real: list[Body], k: int) -> None:
    rng = np.random.default_rng(24)
    found = []
    for name in real[k].landmarks[::2]:
        shift = displacement(rng, name, 60.0, in_skin=False)
        found.append(case(real[k].two_days(rng, 0.5, {name: shift}), name, shift))
    named = [c for c in found if c.outcome in ("alone", "among")]
    assert len(named) >= 0.8 * len(found)
    assert sum(c.outcome == "alone" for c in found) >= 0.75 * len(found)
    assert np.median([abs(c.size_error) for c in named]) < 6.0


def test_two_real_people_are_not_taken_for_one_who_was_measured_differently(real: list[Body]) -> None:
    rng = np.random.default_rng(25)
    one, other = (body.placed_anew(rng, 0.0) for body in real[:2])
    pair = compare_pair(one, other)
    assert pair is not None
    assert pair.found.scattered
    assert not pair.found.moved
    assert pair.found.scale > 2.5


def test_sessions_with_too_few_common_landmarks_are_said_not_to_compare(real: list[Body]) -> None:
    rng = np.random.default_rng(26)
    whole = real[2].placed_anew(rng, 0.0)
    few = {n: p for n, p in whole.standing.landmarks.items() if n in ("asis_r", "asis_l", "sacrum")}
    pairs, apart = pairs_of([whole, replace(whole, session="2", standing=replace(whole.standing, landmarks=few))])
    assert pairs == []
    assert "fewer than 4 landmarks in common" in apart[0]
