"""The formulas behind the quality check against numbers that can be had without them."""

import numpy as np
import pytest

from condyle.mechanics.body_plan import forward, hip_methods_apart, pair_offsets, right_of, rise, sizes
from condyle.mechanics.knee_axis import knee_axis
from condyle.mechanics.noise_floor import doubled_frames, dropped_frames, noise_floor, offered_cutoff, quantum
from condyle.mechanics.relabelling import cycles, exchanged, orders_within
from condyle.mechanics.residual_analysis import residual_cutoff
from condyle.mechanics.rotations import rotation_x, rotation_y, rotation_z
from condyle.mechanics.spikes import jerks, spikes
from tests.standing import standing_landmarks


def course(frames: int = 400, rate: float = 100.0) -> np.ndarray:
    """A smooth path: 1 Hz and 0.5 Hz, hundreds of mm."""
    t = np.arange(frames) / rate
    return np.stack([200 * np.sin(2 * np.pi * t), 300 * np.cos(np.pi * t), 50 * t], axis=-1)


def test_noise_floor_is_the_sd_that_was_put_in() -> None:
    rng = np.random.default_rng(1)
    point = course()[:, None] + rng.normal(0, 0.7, (400, 5, 3))
    assert noise_floor(point) == pytest.approx(np.full(5, 0.7), rel=0.2)
    point[100, 2] += 500  # a spike is no noise
    point[200:240, 3] = np.nan
    assert noise_floor(point) == pytest.approx(np.full(5, 0.7), rel=0.2)
    assert np.isnan(noise_floor(point[:3])).all()


def test_quantum_is_the_step_of_storage() -> None:
    values = course()[:, 0] + np.random.default_rng(4).normal(0, 1, 400)
    assert quantum(np.round(values / 0.25) * 0.25) == pytest.approx(0.25)
    assert quantum(values) == 0.0
    assert quantum(values[:5]) == 0.0


def test_doubled_and_dropped_frames_are_where_they_were_put() -> None:
    point = course()[:, None] + np.arange(12)[:, None] * np.ones(3)
    assert not doubled_frames(point).any()
    assert np.flatnonzero(doubled_frames(np.insert(point, 150, point[149], axis=0))).tolist() == [150]
    assert not dropped_frames(point, 1.2, 1.7).any()
    for lost in (1, 3, 10):
        found = dropped_frames(np.delete(point, np.arange(150, 150 + lost), axis=0), 1.2, 1.7)
        assert np.flatnonzero(found).tolist() == [150]
        assert found[150] == pytest.approx(lost, abs=1)
    jumped = point.copy()
    jumped[150:] += [0.0, 0.0, 400.0]  # another place, not another time
    assert not dropped_frames(jumped, 1.2, 1.7).any()


def test_offered_cutoff_agrees_with_residual_analysis_by_filtering() -> None:
    rng = np.random.default_rng(2)
    t = np.arange(1200) / 100.0
    signal = sum(100 / k**2 * np.sin(2 * np.pi * 0.5 * k * t + k) for k in range(1, 9))[:, None] + rng.normal(
        0, 0.5, (1200, 3)
    )
    quick = offered_cutoff(signal, 100.0, np.arange(1.0, 30.01, 0.5))
    slow = residual_cutoff(signal, 100.0).cutoff_hz
    assert quick == pytest.approx(slow, abs=1.5)


def test_a_spike_is_found_and_fast_motion_is_none() -> None:
    point = np.repeat(course(rate=50.0)[:, None], 3, axis=1)
    assert not spikes(point, 12.0, 6.0).any()
    point[200, 1] += [0, 25, 0]
    assert np.argwhere(spikes(point, 12.0, 6.0)).tolist() == [[200, 1]]
    assert jerks(point)[199, 1] == pytest.approx(50, abs=10)  # twice the spike, at its own frame
    point[300:, 2] += [0, 60, 0]  # a step is no spike: it stays
    assert not spikes(point, 12.0, 6.0)[:, 2].any()


def test_orders_of_names() -> None:
    assert len(orders_within(9, [1, 2, 3, 4])) == 23
    assert len(orders_within(9, [1, 2, 3, 4, 5, 6])) == 15
    assert cycles(exchanged(6, [(1, 4), (2, 5)])) == [(1, 4), (2, 5)]


def test_a_turned_thigh_is_told_by_its_turn() -> None:
    flexion = np.deg2rad(np.linspace(5, 85, 60))
    sound = rotation_z(-flexion) @ rotation_x(np.full(60, 0.05))
    found = knee_axis(rotation_y(np.deg2rad(12.0)) @ sound)
    assert np.rad2deg(found.turn) == pytest.approx(12, abs=0.6)  # a constant adduction of 3 degrees shifts it a little
    assert abs(found.correlation) > 0.95
    assert np.rad2deg(found.adduction_range) > 8
    assert np.rad2deg(found.corrected_range) < 0.6
    assert np.isnan(knee_axis(sound[:10]).turn)


def test_a_misplaced_knee_axis_is_told_from_a_plate_that_turns_with_flexion() -> None:
    flexion = np.deg2rad(np.linspace(5, 85, 60))
    still = rotation_z(-flexion)
    growing = rotation_y(np.deg2rad(12.0) * flexion / flexion.max()) @ still
    assert np.rad2deg(knee_axis(growing).axis_turn) == pytest.approx(0, abs=0.5)
    assert np.rad2deg(knee_axis(growing).turn) > 8
    both = rotation_y(np.deg2rad(20.0)) @ growing
    assert np.rad2deg(knee_axis(both).axis_turn) == pytest.approx(20, abs=1.5)
    mirrored = knee_axis(rotation_y(np.deg2rad(-20.0)) @ still)
    assert np.rad2deg(mirrored.axis_turn) == pytest.approx(-20, abs=0.1)


def test_body_plan_of_a_standing_person() -> None:
    body = standing_landmarks()
    facing = forward(body)
    assert facing.pelvis == pytest.approx([1, 0, 0])
    assert facing.feet == pytest.approx([1, 0, 0])
    assert right_of(facing.feet) == pytest.approx([0, 0, 1])
    assert min(pair_offsets(body, np.array([0.0, 0, 1])).values()) > 0
    body["asis_r"], body["asis_l"] = body["asis_l"], body["asis_r"]
    assert pair_offsets(body, np.array([0.0, 0, 1]))["asis"] == pytest.approx(-240)
    assert rise(body)[1] > 800
    assert sizes(body)["pelvis_width"] == pytest.approx(240)
    assert sizes(body)["pelvis_depth"] == pytest.approx(180)


def test_hip_centres_of_two_regressions_for_a_usual_pelvis() -> None:
    # Harrington: -53.1, -82.9, 86.5; Bell: -45.6, -72, 86.4 for a width of 240 and a depth of 180 mm
    assert hip_methods_apart(240, 180) == pytest.approx(np.linalg.norm([7.5, 10.9, 0.1]), abs=0.1)
