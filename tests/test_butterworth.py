"""The low-pass filter: design frequencies, coefficients and gains as published, and what happens at gaps."""

import numpy as np
import pytest
from scipy import signal as ss

from condyle.mechanics.butterworth import design_frequency, padding_frames, zero_lag_lowpass
from condyle.mechanics.gaps import runs_of

RNG = np.random.default_rng(7)


@pytest.mark.parametrize(
    ("rate", "cutoff", "design"),
    [(100, 6, 7.43088), (200, 6, 7.46682), (100, 12, 14.59308), (100, 25, 28.47884), (50, 12, 13.74796)],
)
def test_design_frequency_winter_correction_of_the_prewarped_angle(rate, cutoff, design):
    """Winter's correction for two passes, applied as in Robertson & Dowling 2003; recomputed to these digits."""
    assert design_frequency(cutoff, rate) == pytest.approx(design, abs=5e-6)


def test_correction_factor_of_two_second_order_passes_is_0p8022_winter():
    """Far below the Nyquist frequency prewarping vanishes and the plain quotient is left."""
    assert 1e-3 / design_frequency(1e-3, 1000.0) == pytest.approx(0.8022, abs=5e-5)
    assert 1e-3 / design_frequency(1e-3, 1000.0, 2, 1) == pytest.approx(1.0)
    assert 1e-3 / design_frequency(1e-3, 1000.0, 1, 2) == pytest.approx(np.sqrt(np.sqrt(2) - 1))


def test_coefficients_of_one_pass_100_hz_6_hz():
    """b and a of a second-order pass at fs 100, fc 6, corrected."""
    b, a = ss.butter(2, float(design_frequency(6, 100)), fs=100)
    np.testing.assert_allclose(b, [0.04059468, 0.08118936, 0.04059468], atol=5e-9)
    np.testing.assert_allclose(a, [1, -1.35474882, 0.51712754], atol=5e-9)


def gain(rate, cutoff, frequency, order=4):
    """Amplitude of a long filtered sine, by projection onto it in the middle."""
    t = np.arange(int(40 * rate)) / rate
    filtered, _ = zero_lag_lowpass(np.sin(2 * np.pi * frequency * t), rate, cutoff, order)
    middle = slice(int(10 * rate), int(30 * rate))
    return 2 * np.mean(filtered[middle] * np.sin(2 * np.pi * frequency * t[middle]))


@pytest.mark.parametrize(
    ("rate", "cutoff", "order"), [(100, 6, 4), (50, 12, 4), (240, 6, 4), (100, 25, 2), (100, 6, 8)]
)
def test_gain_at_the_cutoff_is_0p7071(rate, cutoff, order):
    """The -3 dB point of the whole; at fs 50, fc 12 dividing fc itself by 0.802 gives 0.8186, no correction 0.5000."""
    assert gain(rate, cutoff, cutoff, order) == pytest.approx(np.sqrt(0.5), abs=2e-4)


def test_the_wrong_formulas_give_other_gains():
    for design, expected in ((12 / 0.8022, 0.8186), (12.0, 0.5)):
        _, response = ss.sosfreqz(ss.butter(2, design, fs=50, output="sos"), [12.0], fs=50)
        assert abs(response[0]) ** 2 == pytest.approx(expected, abs=2e-4)
        assert gain(50, 12, 12) != pytest.approx(expected, abs=0.05)


def test_gain_at_0_hz_is_1_and_there_is_no_delay():
    constant, _ = zero_lag_lowpass(np.full(300, 7.0), 100, 6)
    np.testing.assert_allclose(constant, 7.0, rtol=1e-12)
    bump = np.exp(-(((np.arange(301) - 150) / 20.0) ** 2))
    filtered, _ = zero_lag_lowpass(bump, 100, 6)
    np.testing.assert_allclose(filtered, filtered[::-1], atol=1e-10)
    assert np.argmax(filtered) == 150


def test_whole_gain_vs_scipy_sosfreqz():
    for frequency in (2.0, 5.0, 9.0):
        sections = ss.butter(2, float(design_frequency(6, 100)), fs=100, output="sos")
        expected = abs(ss.sosfreqz(sections, [frequency], fs=100)[1][0]) ** 2
        assert gain(100, 6, frequency) == pytest.approx(expected, abs=1e-3)


def test_each_run_is_filtered_by_itself():
    clean = np.cumsum(RNG.normal(size=(400, 2, 3)), axis=0)
    holed = clean.copy()
    holed[150:153, 0] = np.nan
    holed[[200, 201], 1, 2] = np.inf
    filtered, left_out = zero_lag_lowpass(holed, 100, 6)
    assert not left_out.any()
    np.testing.assert_array_equal(np.isnan(filtered), ~np.isfinite(holed))
    for run, column in ((slice(0, 150), (0, 0)), (slice(153, 400), (0, 2)), (slice(202, 400), (1, 2))):
        alone, _ = zero_lag_lowpass(clean[(run, *column)], 100, 6)
        np.testing.assert_allclose(filtered[(run, *column)], alone, atol=1e-10)
    np.testing.assert_allclose(filtered[:, 1, 0], zero_lag_lowpass(clean[:, 1, 0], 100, 6)[0], atol=1e-10)


@pytest.mark.parametrize("order", [2, 4, 8])
@pytest.mark.parametrize("padding", [None, 0, 5])
def test_runs_of_many_lengths_vs_scipy_sosfiltfilt_of_each_alone(order, padding):
    signal = 900.0 + np.cumsum(RNG.normal(size=(700, 9)), axis=0)
    signal[RNG.random(signal.shape) < 0.01] = np.nan
    signal[:, 0] = 900.0
    ends = int(np.ceil(100 / 6)) if padding is None else padding
    filtered, _ = zero_lag_lowpass(signal, 100.0, 6.0, order, padding)
    sections = ss.butter(order // 2, float(design_frequency(6.0, 100.0, order // 2)), fs=100.0, output="sos")
    expected = np.full_like(signal, np.nan)
    lengths = set()
    for column in range(signal.shape[1]):
        for start, stop in runs_of(np.isfinite(signal[:, column])):
            if stop - start > ends:
                run = signal[start:stop, column]
                expected[start:stop, column] = ss.sosfiltfilt(sections, run, padtype="odd", padlen=ends)
                lengths.add(stop - start)
    assert len(lengths) > 20
    np.testing.assert_allclose(filtered, expected, rtol=0, atol=1e-10)


def test_what_lies_beyond_a_gap_does_not_reach_across():
    one, other = np.ones(200), np.ones(200)
    other[105:] = 1000.0
    one[100:105] = other[100:105] = np.nan
    np.testing.assert_array_equal(zero_lag_lowpass(one, 100, 6)[0][:100], zero_lag_lowpass(other, 100, 6)[0][:100])


def test_runs_too_short_are_left_out_and_reported():
    padding = padding_frames(6, 100)
    assert padding == 17
    signal = RNG.normal(size=200)
    signal[[50, 50 + padding + 1, 50 + 2 * padding + 3]] = np.nan  # a run as long as the padding, and one longer
    filtered, left_out = zero_lag_lowpass(signal, 100, 6)
    np.testing.assert_array_equal(np.flatnonzero(left_out), np.arange(51, 51 + padding))
    assert np.isnan(filtered[51 : 51 + padding]).all()
    assert np.isfinite(filtered[52 + padding : 53 + 2 * padding]).all()
    _, left_out = zero_lag_lowpass(signal, 100, 6, padding=9)
    assert not left_out.any()


def test_a_signal_without_any_valid_sample_stays_missing():
    filtered, left_out = zero_lag_lowpass(np.full((50, 3), np.nan), 100, 6)
    assert np.isnan(filtered).all()
    assert not left_out.any()
    assert zero_lag_lowpass(np.empty((0, 3)), 100, 6)[0].shape == (0, 3)


def test_a_cutoff_the_rate_cannot_carry_is_an_error():
    with pytest.raises(ValueError, match="half the sample rate"):
        zero_lag_lowpass(np.zeros(100), 50, 25)
    with pytest.raises(ValueError, match="even"):
        zero_lag_lowpass(np.zeros(100), 50, 5, order=3)
    assert np.isnan(design_frequency([0.0, 25.0, -1.0], 50.0)).all()
