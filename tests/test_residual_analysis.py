"""Residual analysis: the curve, the line and the cutoff from first principles."""

import numpy as np
import pytest

from condyle.mechanics.butterworth import padding_frames, zero_lag_lowpass
from condyle.mechanics.residual_analysis import residual_cutoff

RNG = np.random.default_rng(9)


def squats(rate, seconds=12.0):
    """A knee that goes down and up every 2 s: nearly all of it below 3 Hz; mm."""
    t = np.arange(int(rate * seconds)) / rate
    return 60 * np.sin(np.pi * t) ** 2 + 4 * np.sin(2 * np.pi * 1.7 * t)


def test_cutoff_of_squats_in_noise_lies_between_the_movement_and_the_noise():
    signal = squats(100) + RNG.normal(0, 0.5, 1200)
    found = residual_cutoff(signal, 100)
    assert 2.0 < found.cutoff_hz < 7.0
    assert found.r_squared >= 0.99
    assert found.line_start_hz == 10.0


def test_the_curve_is_the_rms_of_what_the_same_filter_removes():
    signal = squats(100) + RNG.normal(0, 0.5, 1200)
    found = residual_cutoff(signal, 100)
    np.testing.assert_allclose(found.frequency_hz, np.arange(0.5, 30.01, 0.5))
    for k in (3, 20, 59):
        filtered, _ = zero_lag_lowpass(signal, 100, found.frequency_hz[k], padding=padding_frames(2.0, 100))
        assert found.residual[k] == pytest.approx(np.sqrt(np.mean((signal - filtered) ** 2)))


def test_the_line_vs_numpy_polyfit_and_the_curve_reaches_its_intercept_at_the_cutoff():
    found = residual_cutoff(squats(200) + RNG.normal(0, 0.5, 2400), 200)
    line = found.frequency_hz >= found.line_start_hz
    assert found.frequency_hz[line][-1] == 60.0  # 0.3 of the rate
    slope, intercept = np.polyfit(found.frequency_hz[line], found.residual[line], 1)
    assert found.slope == pytest.approx(slope)
    assert found.intercept == pytest.approx(intercept)
    correlation = np.corrcoef(found.frequency_hz[line], found.residual[line])[0, 1]
    assert found.r_squared == pytest.approx(correlation**2)
    assert np.interp(found.cutoff_hz, found.frequency_hz, found.residual) == pytest.approx(intercept)


def test_the_curve_of_white_noise_vs_the_squared_gain_of_the_filter():
    """What 1 - 1 / (1 + (w / wc)^4) leaves of white noise, integrated; the line over our range reads 0.972 of it."""
    sigma = 2.5
    found = residual_cutoff(RNG.normal(0, sigma, 60000), 100)
    w = np.tan(np.pi * (np.arange(20000) + 0.5) / 40000)
    c = (np.sqrt(2) - 1) ** 0.25
    expected = [
        np.sqrt(np.mean((1 - 1 / (1 + (w * c / np.tan(np.pi * f / 100)) ** 4)) ** 2)) for f in found.frequency_hz
    ]
    np.testing.assert_allclose(found.residual / sigma, expected, rtol=0.02)
    assert found.intercept / sigma == pytest.approx(0.972, abs=0.02)


def test_the_start_moves_up_past_a_tremor_and_no_line_means_no_cutoff():
    t = np.arange(4000) / 200
    noisy = squats(200, 20.0) + RNG.normal(0, 0.3, 4000)
    found = residual_cutoff(noisy + 3 * np.sin(2 * np.pi * 22 * t), 200)
    assert found.line_start_hz > 22
    assert 20 < found.cutoff_hz < 30
    none = residual_cutoff(noisy + 3 * np.sin(2 * np.pi * 48 * t), 200)  # bent over the whole upper half
    assert np.isnan(none.cutoff_hz)
    assert none.r_squared < 0.99
    assert np.isfinite(none.residual).all()


def test_a_rate_too_low_for_a_line_offers_no_cutoff():
    found = residual_cutoff(squats(30) + RNG.normal(0, 0.5, 360), 30)
    assert np.isnan(found.cutoff_hz)
    assert np.isnan(residual_cutoff(np.zeros(100), 1.0).cutoff_hz)


def test_a_still_or_missing_signal_offers_no_cutoff():
    assert np.isnan(residual_cutoff(np.full(500, 3.0), 100).cutoff_hz)
    assert np.isnan(residual_cutoff(np.full((500, 2), np.nan), 100).cutoff_hz).all()


def test_columns_and_gaps():
    signal = np.stack([squats(100), 2 * squats(100)], axis=-1) + RNG.normal(0, 0.5, (1200, 2))
    signal[600:603, 1] = np.nan
    found = residual_cutoff(signal, 100)
    assert found.cutoff_hz.shape == (2,)
    assert found.cutoff_hz[0] == pytest.approx(residual_cutoff(signal[:, 0], 100).cutoff_hz)
    halves = [residual_cutoff(signal[part, 1], 100).residual for part in (slice(0, 600), slice(603, 1200))]
    both = np.sqrt((600 * halves[0] ** 2 + 597 * halves[1] ** 2) / 1197)
    np.testing.assert_allclose(found.residual[:, 1], both)
