"""SPARC against recomputed values of Balasubramanian et al. 2015 and against its own definition."""

import numpy as np
import pytest
from scipy.fft import fft

from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.smoothness import sparc


def minimum_jerk(seconds: float, rate: float = 100.0) -> FloatArray:
    t = np.arange(round(rate * seconds)) / (rate * seconds)
    return 30.0 * t**2 * (1.0 - t) ** 2


def two_with_rest() -> FloatArray:
    return np.concatenate([minimum_jerk(2.0), np.zeros(50), minimum_jerk(2.0)])


@pytest.mark.parametrize("seconds", [1.0, 2.0, 4.0])
def test_minimum_jerk_whatever_its_duration(seconds: float) -> None:
    assert sparc(minimum_jerk(seconds), 100.0) == pytest.approx(-1.4058, abs=5e-5)


def test_two_movements_with_half_a_second_of_rest() -> None:
    assert sparc(two_with_rest(), 100.0) == pytest.approx(-2.7465, abs=5e-5)


def test_sparc_vs_its_definition_with_a_full_transform() -> None:
    rng = np.random.default_rng(3)
    speed = np.abs(np.cumsum(rng.normal(size=230))) + np.hanning(230) * 40
    size = 2 ** (int(np.ceil(np.log2(230))) + 4)
    frequency, amplitude = np.arange(size) * 100.0 / size, np.abs(fft(speed, size))
    amplitude = (amplitude / amplitude.max())[frequency <= 10.0]
    frequency = frequency[frequency <= 10.0]
    kept = np.flatnonzero(amplitude >= 0.05)
    f, a = frequency[kept[0] : kept[-1] + 1], amplitude[kept[0] : kept[-1] + 1]
    expected = -np.sum(np.hypot(np.diff(f) / (f[-1] - f[0]), np.diff(a)))
    assert sparc(speed, 100.0) == pytest.approx(expected, rel=1e-12)


def test_batch_equals_loop_and_size_does_not_matter() -> None:
    speed = np.stack([two_with_rest(), 7.0 * two_with_rest()])
    both = sparc(speed, 100.0)
    assert both.shape == (2,)
    assert both == pytest.approx([float(sparc(s, 100.0)) for s in speed], abs=1e-12)
    assert both[0] == pytest.approx(both[1], abs=1e-12)


def test_rough_movement_is_further_from_zero() -> None:
    rough = minimum_jerk(2.0) * (1.0 + 0.6 * np.sin(np.arange(200) / 100.0 * 2 * np.pi * 4))
    assert sparc(rough, 100.0) < sparc(minimum_jerk(2.0), 100.0) - 0.3


def test_nothing_to_measure_is_nan() -> None:
    speed = minimum_jerk(1.0)
    speed[4] = np.nan
    assert np.isnan(sparc(np.stack([speed, np.zeros(100)]), 100.0)).all()
    assert np.isnan(sparc(np.ones(1), 100.0))
