"""Peaks of curves with gaps: given where no gap may hold them, never taken at a gap's edge."""

import numpy as np
import pytest

from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.extremes import extremes

TURN = 50
SQUAT = np.sin(np.linspace(0.0, np.pi, 101))  # from 0 at both ends to 1 at the turn


def of(curve: FloatArray, *gaps: slice) -> tuple[float, float]:
    seen = curve.copy()
    for gap in gaps:
        seen[gap] = np.nan
    found = extremes(seen[:, None], TURN)
    return float(found.high[0]), float(found.low[0])


def test_without_a_gap_they_are_those_of_the_curve_with_their_frames() -> None:
    found = extremes(np.stack([SQUAT, -SQUAT, np.arange(101.0)], axis=1), TURN)
    np.testing.assert_allclose(found.high, [1.0, 0.0, 100.0], atol=1e-15)
    np.testing.assert_allclose(found.low, [0.0, -1.0, 0.0], atol=1e-15)
    assert found.high_frame.tolist() == [50, 0, 100]
    assert found.low_frame.tolist()[1:] == [50, 0]


def test_a_gap_at_the_turn_leaves_both_empty() -> None:
    assert np.isnan(of(SQUAT, slice(40, 61))).all()
    assert np.isnan(of(SQUAT, slice(50, 51))).all()


@pytest.mark.parametrize("gap", [slice(20, 40), slice(62, 85), slice(3, 20)])
def test_a_gap_on_the_way_leaves_the_peak_elsewhere(gap: slice) -> None:
    assert of(SQUAT, gap) == (pytest.approx(1.0), pytest.approx(0.0))


def test_a_gap_that_holds_a_peak_away_from_the_turn_empties_that_one_alone() -> None:
    early = np.exp(-(((np.arange(101) - 25) / 8.0) ** 2)) + 0.2 * SQUAT  # its peak lies on the way down
    high, low = of(early, slice(18, 33))
    assert np.isnan(high)
    assert low == early.min()
    assert of(early)[0] == early.max() > 1.0
    assert of(early, slice(70, 90))[0] == early.max()


def test_a_gap_from_the_start_or_to_the_end_empties_what_lies_there() -> None:
    assert of(SQUAT, slice(0, 20))[0] == 1.0
    assert np.isnan(of(SQUAT + np.arange(101) / 100.0, slice(0, 20))[1])  # lowest at the start
    assert np.isnan(of(np.arange(101.0), slice(90, 101))[0])


def test_one_frame_between_two_gaps_tells_no_slope() -> None:
    assert np.isnan(of(SQUAT, slice(20, 30), slice(31, 40))[0]) or of(SQUAT, slice(20, 30), slice(31, 40))[0] == 1.0
    assert np.isnan(of(np.full(101, 1.0), slice(0, 10), slice(11, 101))).all()


def test_never_seen_is_nothing_and_no_warning() -> None:
    assert np.isnan(of(SQUAT, slice(None))).all()


def test_no_peak_of_a_bell_is_ever_too_small() -> None:
    """Gaps of any place and length in smooth curves with one turn: the peak given is the true one, or none."""
    rng = np.random.default_rng(5)
    t = np.arange(101.0)
    given = 0
    for _ in range(400):
        curve = rng.uniform(1, 20) * np.exp(-(((t - rng.uniform(10, 90)) / rng.uniform(20, 60)) ** 2))
        start = rng.integers(0, 95)
        high, _low = of(curve, slice(start, start + rng.integers(1, 40)))
        given += np.isfinite(high)
        assert np.isnan(high) or high == pytest.approx(curve.max(), rel=0.02)
    assert given > 150
