"""Which leg stands: courses of feet, knees and pelvis put together by hand."""

import numpy as np
import pytest

from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.bouts import find_bouts

RATE = 100.0
REST, SQUAT, LIFT = 150, 200, 100


class Person:
    """Courses of both knees, both feet and the pelvis, put together piece by piece."""

    def __init__(self) -> None:
        self.flexion: list[FloatArray] = []
        self.foot: list[FloatArray] = []  # (frames, side, forward | up)
        self.pelvis: list[FloatArray] = []

    def add(self, flexion: FloatArray, foot: FloatArray) -> "Person":
        self.flexion.append(flexion)
        self.foot.append(foot)
        self.pelvis.append(950.0 - 2.5 * flexion.max(axis=1))
        return self

    def stand(self, frames: int, heights: tuple[float, float] = (30.0, 30.0)) -> "Person":
        foot = np.zeros((frames, 2, 2))
        foot[..., 1] = heights
        return self.add(np.full((frames, 2), 5.0), foot)

    def lift(self, side: int, up: float, start: float = 30.0) -> "Person":
        t = 0.5 - 0.5 * np.cos(np.pi * np.arange(LIFT) / (LIFT - 1))
        foot = np.full((LIFT, 2, 2), 0.0)
        foot[..., 1] = 30.0
        foot[:, side, 1] = start + (up - start) * t
        return self.add(np.full((LIFT, 2), 5.0), foot)

    def squats(
        self, side: int, count: int, depth: float = 70.0, free_height: float = 250.0, both: bool = False
    ) -> "Person":
        share = 0.5 - 0.5 * np.cos(2 * np.pi * np.arange(SQUAT) / SQUAT)
        share = np.concatenate([np.concatenate([share, np.zeros(40)]) for _ in range(count)])
        flexion = np.full((share.size, 2), 5.0)
        flexion[:, side] += depth * share
        foot = np.zeros((share.size, 2, 2))
        foot[..., 1] = 30.0
        if both:
            flexion[:, 1 - side] = flexion[:, side]
        else:
            foot[:, 1 - side, 1] = free_height - 2.0 * depth * share  # carried down by the pelvis
        return self.add(flexion, foot)

    def bouts(self, noise: float = 0.0, **settings: float) -> list[tuple[str, int, int, int, int]]:
        rng = np.random.default_rng(5)
        foot = np.concatenate(self.foot)
        foot = foot + noise * rng.normal(size=foot.shape)
        flexion = np.concatenate(self.flexion)
        time = np.arange(len(foot)) / RATE
        speed = np.abs(np.gradient(foot[..., 0], time, axis=0))
        found = find_bouts(time, flexion, speed, foot[..., 1], np.concatenate(self.pelvis), **settings)  # type: ignore[arg-type]
        return [(b.side, b.start, b.stop, b.stance_start, b.stance_stop) for b in found]


def sides(person: Person, **settings: float) -> list[str]:
    return [b[0] for b in person.bouts(**settings)]


@pytest.mark.parametrize("side", [0, 1])
def test_the_still_foot_stands(side: int) -> None:
    person = Person().stand(REST, (30.0, 250.0) if side == 0 else (250.0, 30.0)).squats(side, 5).stand(REST)
    assert sides(person) == [("left", "right")[side]]


@pytest.mark.parametrize("side", [0, 1])
def test_step_down_where_the_free_foot_is_the_lower_one(side: int) -> None:
    start = (30.0, -60.0) if side == 0 else (-60.0, 30.0)
    person = Person().stand(REST, start).squats(side, 5, depth=50.0, free_height=-60.0)
    assert sides(person) == [("left", "right")[side]]


def test_free_knee_that_bends_as_much_does_not_make_it_the_stance_leg() -> None:
    person = Person().stand(REST, (30.0, 250.0)).squats(0, 4)
    person.flexion[-1][:, 1] = person.flexion[-1][:, 0] + 10.0
    assert sides(person) == ["left"]


def test_both_feet_still_is_a_squat_on_both_legs() -> None:
    assert sides(Person().stand(REST).squats(0, 5, both=True).stand(REST)) == ["both"]


def test_still_free_foot_held_above_the_floor_is_not_both() -> None:
    person = Person().stand(REST, (30.0, 200.0)).squats(0, 3)
    person.foot[-1][:, 1, 1] = 200.0
    person.foot[-1][:, 1, 0] = 8.0 * np.sin(np.arange(len(person.foot[-1])) / 25.0)
    person.flexion[-1][:, 1] = person.flexion[-1][:, 0]
    assert sides(person) == ["left"]


def test_left_and_right_in_one_file_are_two_bouts_that_do_not_overlap() -> None:
    person = Person().stand(REST).lift(1, 250.0).squats(0, 3).lift(1, 30.0, 250.0).stand(REST)
    person = person.lift(0, 250.0).squats(1, 3).lift(0, 30.0, 250.0)
    first, second = person.bouts(noise=0.1)
    assert (first[0], second[0]) == ("left", "right")
    assert first[2] <= second[1]
    squats_start = REST + LIFT + 240 * 3 + 2 * LIFT + REST
    assert second[1] <= squats_start < second[2]


def test_stance_is_on_one_leg_though_two_are_stiller() -> None:
    person = Person().stand(300).lift(1, 250.0).stand(REST, (30.0, 250.0)).squats(0, 3)
    on_one_leg = 300 + LIFT
    for piece in person.foot[2:]:
        piece[:, 1, 0] += 3.0 * np.sin(np.arange(len(piece)) / 20.0)  # the free foot sways
    (bout,) = person.bouts()
    assert bout[3] >= on_one_leg - 10
    assert bout[4] <= on_one_leg + REST + 10
    assert bout[4] - bout[3] == 50


def test_stance_is_the_stillest_half_second() -> None:
    person = Person().stand(400, (30.0, 250.0)).squats(0, 3)
    unrest = 4.0 * np.sin(np.arange(400) / 8.0)
    unrest[180:240] = unrest[180]
    person.flexion[0][:, 0] += unrest
    (bout,) = person.bouts()
    assert 175 <= bout[3] <= 195


def test_a_squat_cut_off_at_its_bottom_is_no_stance() -> None:
    person = Person().squats(1, 3)
    cut = SQUAT // 2
    person.flexion, person.foot, person.pelvis = ([c[0][cut:]] for c in (person.flexion, person.foot, person.pelvis))
    (bout,) = person.bouts()
    assert bout[:2] == ("right", 0)
    assert SQUAT - cut - 10 <= bout[3] < bout[4] <= SQUAT - cut + 40 + 10


def test_foot_put_down_elsewhere_between_two_squats_starts_a_new_bout() -> None:
    still = Person().stand(REST, (30.0, 250.0)).squats(0, 2).stand(LIFT, (30.0, 250.0)).squats(0, 2)
    assert sides(still) == ["left"]
    hop = Person().stand(REST, (30.0, 250.0)).squats(0, 2).stand(LIFT, (30.0, 250.0)).squats(0, 2)
    hop.foot[2][30:60, 0, 0] = np.linspace(0.0, 150.0, 30)
    hop.foot[2][60:, 0, 0] = 150.0
    hop.foot[3][:, 0, 0] += 150.0
    assert sides(hop) == ["left", "left"]


def test_unseen_free_foot_leaves_the_other_to_stand_by_itself() -> None:
    person = Person().stand(REST, (30.0, 250.0)).squats(0, 3)
    for piece in person.foot:
        piece[:, 1] = np.nan
    assert sides(person) == ["left"]
    for piece in person.foot:
        piece[:] = np.nan
    assert sides(person) == []


def test_walking_is_no_bout() -> None:
    t = np.arange(800) / RATE
    person = Person()
    swing = np.stack([30 + 30 * np.sin(2 * np.pi * t), 30 - 30 * np.sin(2 * np.pi * t)], axis=1)
    foot = np.zeros((800, 2, 2))
    foot[..., 0] = 1200.0 * t[:, None] + 300.0 * np.stack([np.sin(2 * np.pi * t), -np.sin(2 * np.pi * t)], axis=1)
    foot[..., 1] = 60.0
    assert sides(person.add(swing, foot)) == []


def test_only_the_used_part_counts_and_hand_made_repetitions_are_taken() -> None:
    person = Person().stand(REST, (30.0, 250.0)).squats(0, 4).stand(REST, (30.0, 250.0))
    use = np.zeros(REST * 2 + 240 * 4, dtype=bool)
    use[REST + 235 : REST + 240 * 3] = True
    (bout,) = person.bouts(use=use)  # type: ignore[arg-type]
    assert bout[1] >= REST + 235
    assert bout[2] <= REST + 240 * 3
    given = np.array([[REST, REST + 100, REST + 190]])
    (bout,) = person.bouts(given=given)  # type: ignore[arg-type]
    assert bout[0] == "left"
    assert bout[3] <= REST


def test_mirroring_the_person_swaps_the_side() -> None:
    person = Person().stand(REST).lift(1, 250.0).squats(0, 3)
    ahead = person.bouts(noise=0.0)
    person.flexion = [f[:, ::-1] for f in person.flexion]
    person.foot = [f[:, ::-1] for f in person.foot]
    assert person.bouts(noise=0.0) == [("right", *ahead[0][1:])]
