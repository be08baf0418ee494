"""Start, bottom and end of squats in courses of knee flexion whose truth is known."""

import numpy as np
import pytest

from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.repetitions import find_repetitions, first_crossing

RATE = 100.0


def eased(frames: int) -> FloatArray:
    t = np.arange(1, frames + 1) / frames
    return t**3 * (10 - 15 * t + 6 * t**2)


def squat(depth: float, down: int = 100, up: int = 100) -> FloatArray:
    return depth * np.concatenate([eased(down), eased(up)[::-1][1:], [0.0]])


def rest(frames: int, level: float = 0.0) -> FloatArray:
    return np.full(frames, level)


def times(curve: FloatArray) -> FloatArray:
    return np.arange(curve.size) / RATE


def slow_start(depth: float, frames: int) -> int:
    """Last frame of a minimum-jerk way down that is slower than 5 degrees a second."""
    speed = np.gradient(np.concatenate([[0.0], depth * eased(frames)])) * RATE
    return int(np.flatnonzero(speed >= 5.0)[0]) - 1


def test_start_and_end_are_the_first_frames_slower_than_5_degrees_a_second() -> None:
    curve = 5.0 + np.concatenate([rest(150), squat(75.0), rest(100)])
    found = find_repetitions(times(curve), curve)
    lead = slow_start(75.0, 100)
    assert found.frame.tolist() == [[149 + lead, 249, 349 - lead]]
    assert found.complete.all()
    assert found.bottom_seen.all()


def test_turning_point_between_two_squats_that_never_rest() -> None:
    phase = np.arange(0, 601) / 200 * 2 * np.pi
    curve = np.concatenate([rest(100, 10.0), 10.0 + 30.0 * (1 - np.cos(phase)), rest(100, 10.0)])
    found = find_repetitions(times(curve), curve).frame
    assert found[:, 1].tolist() == [200, 400, 600]
    assert np.abs(found[0, 2] - 300) <= 2
    assert np.abs(found[1, 0] - 300) <= 2
    # a sharp turn, where no frame is slow, ends one squat and starts the next
    sharp = np.concatenate([rest(50), np.abs(((np.arange(400) + 100) % 200) - 100.0)[::-1] * 0.6, rest(50)])
    frames = find_repetitions(times(sharp), sharp).frame
    assert frames[0, 2] == frames[1, 0]


def test_five_squats_of_different_depth() -> None:
    depths = (25.0, 80.0, 45.0, 95.0, 60.0)
    curve = 4.0 + np.concatenate([rest(120), *(np.concatenate([squat(d), rest(30)]) for d in depths), rest(80)])
    found = find_repetitions(times(curve), curve)
    assert found.complete.tolist() == [True] * 5
    assert curve[found.frame[:, 1]] - 4.0 == pytest.approx(depths, abs=0.1)


def test_pause_half_way_down_and_half_way_up_is_no_start_and_no_end() -> None:
    down = np.concatenate([0.5 * eased(60), rest(80, 0.5), 0.5 + 0.5 * eased(60)])
    curve = 70.0 * np.concatenate([rest(150, 0.0), down, down[::-1][1:], rest(100, 0.0)])
    found = find_repetitions(times(curve), curve)
    assert len(found.frame) == 1
    lead = slow_start(35.0, 60)
    assert found.frame[0].tolist() == [149 + lead, 349, 549 - lead]


def test_pause_and_bounce_at_the_bottom_is_one_squat() -> None:
    hold = 75.0 - 9.0 * np.sin(np.linspace(0, 4 * np.pi, 200)) ** 2
    curve = np.concatenate([rest(150), 75.0 * eased(100), hold, 75.0 * eased(100)[::-1], rest(100)])
    found = find_repetitions(times(curve), curve)
    assert len(found.frame) == 1
    lead = slow_start(75.0, 100)
    assert found.frame[0, 0] == 149 + lead
    assert abs(found.frame[0, 2] - (550 - lead)) <= 1


def test_shaky_start_is_no_squat_and_no_start() -> None:
    shaky = 6.0 * np.sin(np.linspace(0, 6 * np.pi, 300))
    shaky[-60:] *= np.linspace(1, 0, 60)
    curve = 8.0 + np.concatenate([shaky, rest(40), squat(70.0), rest(80)])
    found = find_repetitions(times(curve), curve)
    assert len(found.frame) == 1
    assert abs(found.frame[0, 0] - (339 + slow_start(70.0, 100))) <= 1


@pytest.mark.parametrize(("first", "last", "missing"), [(200, 700, "start"), (60, 320, "end"), (250, 700, "start")])
def test_recording_that_begins_or_ends_mid_squat(first: int, last: int, missing: str) -> None:
    curve = 5.0 + np.concatenate([rest(150), squat(75.0), rest(60), squat(75.0), rest(100)])
    cut = curve[first:last] if missing == "start" else curve[first - 60 : last]
    found = find_repetitions(times(cut), cut)
    which = 0 if missing == "start" else -1
    assert not found.complete[which]
    assert not (found.start_seen if missing == "start" else found.end_seen)[which]
    assert found.complete.sum() == (1 if missing == "start" else 0)


def test_gap_at_the_bottom_is_found_and_marked() -> None:
    curve = 5.0 + np.concatenate([rest(150), squat(75.0), rest(60), squat(75.0), rest(100)])
    curve[235:265] = np.nan
    found = find_repetitions(times(curve), curve)
    assert found.complete.tolist() == [True, True]
    assert found.bottom_seen.tolist() == [False, True]
    assert abs(found.frame[0, 1] - 249) <= 5


def test_gap_at_the_start_makes_a_squat_incomplete() -> None:
    curve = 5.0 + np.concatenate([rest(150), squat(75.0), rest(100)])
    curve[140:175] = np.nan
    assert not find_repetitions(times(curve), curve).complete.any()


def test_long_gap_cuts_the_squats_beside_it_off() -> None:
    curve = 5.0 + np.concatenate([rest(150), squat(75.0), rest(200), squat(75.0), rest(100)])
    curve[260:420] = np.nan
    found = find_repetitions(times(curve), curve)
    assert found.complete.tolist() == [False, True]


def test_knee_that_bends_without_lowering_the_pelvis_is_no_squat() -> None:
    curve = np.concatenate([rest(150), squat(75.0), rest(100)])
    height = 900.0 - 3.0 * curve
    assert len(find_repetitions(times(curve), curve, height).frame) == 1
    assert len(find_repetitions(times(curve), curve, np.full(curve.size, 900.0)).frame) == 0
    height[100:400] = np.nan  # a pelvis that nobody saw forbids nothing
    assert len(find_repetitions(times(curve), curve, height).frame) == 1


def test_bending_while_the_free_foot_is_lifted_is_a_step() -> None:
    curve = np.concatenate([rest(100), squat(22.0, 40, 40), rest(100), squat(75.0), rest(100)])
    foot = np.concatenate([rest(100, 30.0), np.linspace(30.0, 250.0, 80), rest(curve.size - 180, 250.0)])
    assert len(find_repetitions(times(curve), curve).frame) == 2
    found = find_repetitions(times(curve), curve, free_foot_height=foot)
    assert len(found.frame) == 1
    assert found.frame[0, 1] == 379


@pytest.mark.parametrize("first", [200, 247, 249, 251, 290])
def test_squat_cut_off_at_its_bottom_is_no_step_and_is_not_whole(first: int) -> None:
    curve = 5.0 + np.concatenate([rest(150), squat(75.0), rest(60), squat(75.0), rest(60)])
    height = 950.0 - 2.5 * curve
    foot = 0.5 * height - 30.0  # carried down by the pelvis, further than a step's 50 mm
    for way in (1, -1):  # cut at the start, and its mirror cut at the end
        cut, pelvis, free = (c[first:][::way] for c in (curve, height, foot))
        found = find_repetitions(times(cut), cut, pelvis, free_foot_height=free)
        assert found.complete.tolist() == [False, True][::way]
        assert (found.start_seen, found.end_seen)[way < 0].tolist() == [False, True][::way]


def test_a_foot_put_down_where_the_recording_begins_is_a_step() -> None:
    curve = np.concatenate([squat(22.0, 40, 40)[40:], rest(100), squat(75.0), rest(100)])
    foot = np.concatenate([np.linspace(140.0, 30.0, 40), rest(curve.size - 40, 30.0)])
    found = find_repetitions(times(curve), curve, 950.0 - 2.5 * curve, free_foot_height=foot)
    assert found.complete.tolist() == [True]
    assert len(find_repetitions(times(curve), curve, 950.0 - 2.5 * curve).frame) == 2


def test_no_squat_no_rows() -> None:
    curve = 5.0 + 3.0 * np.sin(np.arange(500) / 30.0)
    assert find_repetitions(times(curve), curve).frame.shape == (0, 3)
    assert find_repetitions(times(curve), np.full(500, np.nan)).frame.shape == (0, 3)
    assert find_repetitions(times(curve)[:2], curve[:2]).frame.shape == (0, 3)


def test_mirror_in_time_mirrors_the_frames() -> None:
    curve = 5.0 + np.concatenate([rest(150), squat(75.0, 80, 130), rest(60), squat(60.0, 120, 90), rest(100)])
    ahead = find_repetitions(times(curve), curve).frame
    back = find_repetitions(times(curve), curve[::-1]).frame
    assert (curve.size - 1 - back[::-1, ::-1]).tolist() == ahead.tolist()


def test_60_degrees_on_the_way_down_between_two_frames() -> None:
    curve = np.array([0.0, 59.0, 63.0, 80.0, 61.0, 10.0])
    assert first_crossing(curve, 60.0, 0, 3) == pytest.approx(1.25)
    assert np.isnan(first_crossing(curve, 85.0, 0, 3))
    curve[1] = np.nan
    assert np.isnan(first_crossing(curve, 60.0, 0, 2))
