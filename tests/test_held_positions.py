"""A position held through a gap by the recording software: told from a marker that rests, and from coarse storage."""

import numpy as np

from condyle.files.samples import frozen_findings

LABELS = [f"M{k}" for k in range(6)]


def moving(step: float = 0.0) -> np.ndarray:
    """Six markers that move for 10 s at 100 Hz, the last one hardly; stored in steps or not."""
    t = np.arange(1000) / 100.0
    rng = np.random.default_rng(5)
    point = np.stack([300 * np.sin(t), 200 * np.cos(0.7 * t), 50 * t], axis=-1)[:, None] + 40.0 * np.arange(6)[:, None]
    point[:, 5] = 40.0
    point += rng.normal(0.0, 0.05, point.shape)
    return np.round(point / step) * step if step else point


def test_a_position_held_for_a_tenth_of_a_second_is_found() -> None:
    point = moving()
    assert not frozen_findings(point, LABELS, 100.0)
    point[400:410, 2] = point[399, 2]
    (row,) = frozen_findings(point, LABELS, 100.0)
    assert row.subject == "M2"
    assert row.value == 0.11
    assert row.times_s == ((3.99, 4.09),)


def test_a_resting_marker_stored_in_coarse_steps_repeats_by_chance() -> None:
    point = moving(step=0.2)
    repeats = (np.diff(point[:, 5], axis=0) == 0).all(axis=1)
    assert repeats.mean() > 0.2, "the case is there"
    assert not frozen_findings(point, LABELS, 100.0)
    point[400:600, 5] = point[399, 5]
    assert [f.subject for f in frozen_findings(point, LABELS, 100.0)] == ["M5"]
