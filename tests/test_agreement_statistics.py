"""Agreement statistics against published worked examples and against general-purpose libraries."""

import numpy as np
import pandas as pd
import pingouin
import pytest
from scipy import stats
from sklearn.metrics import cohen_kappa_score, roc_auc_score, roc_curve

from condyle.mechanics import agreement, agreement_repeated, association, curve_agreement, reliability, resampling, roc

# Bland & Altman 1986, Lancet 327:307: peak expiratory flow, l/min, first reading of each meter
LARGE = np.array([494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427.0])
MINI = np.array([512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451.0])

# Bland & Altman 1999, Stat Methods Med Res 8:135: cardiac output by two methods, l/min, several pairs a person
CARDIAC = {
    1: "7.83,6.57 7.42,5.62 7.89,6.9 7.12,6.57 7.88,6.35",
    2: "6.16,4.06 7.26,4.29 6.71,4.26 6.54,4.09",
    3: "4.75,4.71 5.24,5.5 4.86,5.08 4.78,5.02 6.05,6.01 5.42,5.67",
    4: "4.21,4.14 3.61,4.2 3.72,4.61 3.87,4.68 3.92,5.04",
    5: "3.13,3.03 2.98,2.86 2.85,2.77 3.17,2.46 3.09,2.32 3.12,2.43",
    6: "5.92,5.9 6.42,5.81 5.92,5.7 6.27,5.76",
    7: "7.13,5.09 6.62,4.63 6.58,4.61 6.93,5.09",
    8: "4.54,4.72 4.81,4.61 5.11,4.36 5.29,4.2 5.39,4.36 5.57,4.2",
    9: "4.48,3.17 4.92,3.12 3.97,2.96",
    10: "4.22,4.35 4.65,4.62 4.74,3.16 4.44,3.53 4.5,3.53",
    11: "6.78,7.2 6.07,6.09 6.52,7.0 6.42,7.1 6.41,7.4 5.76,6.8",
    12: "5.06,4.5 4.72,4.2 4.9,3.8 4.8,3.8 4.9,4.2 5.1,4.5",
}
# Shrout & Fleiss 1979, Psychol Bull 86:420, table 2: six targets by four judges
JUDGED = np.array([[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7.0]])


def cardiac() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    rows = [(p - 1, *map(float, pair.split(","))) for p, text in CARDIAC.items() for pair in text.split()]
    person, x, y = (np.array(column) for column in zip(*rows, strict=True))
    return person, x, y


def drawn(x: np.ndarray, weight: np.ndarray) -> np.ndarray:
    """The values written out as often as they count: what the weights stand for."""
    return np.repeat(x, weight.astype(int))


def some_pairs(n: int = 40) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(3)
    x = rng.normal(10, 5, n).round(1)
    return x, (0.7 * x + rng.normal(2, 2, n)).round(0), rng.integers(0, 4, n).astype(float)


def test_limits_vs_bland_altman_1986_peak_flow() -> None:
    bias, sd, low, high = agreement.limits_of_agreement(LARGE - MINI, np.ones(17))
    assert bias == pytest.approx(-2.1, abs=0.05)
    assert sd == pytest.approx(38.8, abs=0.05)
    assert (low, high) == pytest.approx((-78.1, 73.9), abs=0.06)


def test_interval_of_limits_vs_bland_altman_1986_peak_flow() -> None:
    # the paper's limits stand at 2 SD: -79.7 and 75.5, each -+ t sqrt(3 s^2 / n)
    ends = agreement.limits_intervals(38.7652, -2.1176, 17)
    half = (ends[2, 1] - ends[2, 0]) / 2
    # printed: -114.2 to -45.1 and 40.9 to 109.9
    assert -79.65 - half == pytest.approx(-114.2, abs=0.2)
    assert -79.65 + half == pytest.approx(-45.1, abs=0.2)
    assert 75.41 - half == pytest.approx(40.9, abs=0.2)
    # bias: -22.0 to 17.8 in the paper
    assert ends[0] == pytest.approx((-22.0, 17.8), abs=0.15)
    sd_ends = ends[1]
    assert sd_ends == pytest.approx(38.7652 * np.sqrt(16 / stats.chi2.ppf([0.975, 0.025], 16)))


def test_repeated_limits_vs_bland_altman_2007() -> None:
    person, x, y = cardiac()
    d = x - y
    mean, within, _, between_square, size = agreement_repeated.within_and_between(d, person, np.ones(12))
    assert mean == pytest.approx(0.6021667, abs=1e-6)
    assert (between_square, within, size) == pytest.approx((4.209086, 0.171, 4.981818), abs=3e-4)
    assert within == pytest.approx(0.170714, abs=1e-5)
    bias, sd, low, high = agreement_repeated.limits_repeated(d, person, np.ones(12))
    assert bias == pytest.approx(0.6021667, abs=1e-6)
    assert sd == pytest.approx(0.99062408, abs=1e-7)
    assert (low, high) == pytest.approx((-1.3394565, 2.5437899), abs=1e-6)


def test_repeated_limits_fall_to_plain_sd_bound_when_people_do_not_differ() -> None:
    # two persons with the same mean difference: no variance between, never a negative one
    d = np.array([1.0, -1.0, 1.0, -1.0])
    _, within, between, *_ = agreement_repeated.within_and_between(d, np.array([0, 0, 1, 1]), np.ones(2))
    assert between == 0
    assert within == pytest.approx(2.0)


def test_repeated_weights_are_copies_of_persons() -> None:
    person, x, y = cardiac()
    weight = np.array([2, 0, 1, 1, 3, 0, 1, 1, 0, 1, 1, 1.0])
    rows, fresh, number = [], [], 0
    for p, w in enumerate(weight):
        for _ in range(int(w)):
            rows.append((x - y)[person == p])
            fresh.append(np.full(rows[-1].size, number))
            number += 1
    copied = agreement_repeated.limits_repeated(np.concatenate(rows), np.concatenate(fresh), np.ones(number))
    weighted = agreement_repeated.limits_repeated(x - y, person, np.stack([np.ones(12), weight]))
    assert weighted[1] == pytest.approx(copied)
    assert weighted[0, 1] == pytest.approx(0.99062408, abs=1e-7)


def test_icc_vs_shrout_fleiss_1979() -> None:
    squares = reliability.mean_squares(JUDGED, np.ones(6))
    # the paper's table 3: 11.24, 32.49, 1.02 and within targets 6.26
    assert squares[:4] == pytest.approx((11.24, 32.49, 1.02, 6.26), abs=0.006)
    assert reliability.intraclass(squares, 4) == pytest.approx((0.17, 0.29, 0.71), abs=0.006)
    ends = reliability.intraclass_intervals(squares, 4)
    assert ends[0] == pytest.approx((-0.13, 0.72), abs=0.006)
    assert ends[1] == pytest.approx((0.02, 0.76), abs=0.006)
    assert ends[2] == pytest.approx((0.34, 0.95), abs=0.006)


def test_sem_and_mdc_of_shrout_fleiss_1979() -> None:
    sem = reliability.standard_error(reliability.mean_squares(JUDGED, np.ones(6)), 4)
    assert sem == pytest.approx((1.010, 2.503), abs=5e-4)
    assert reliability.minimal_change(sem) == pytest.approx((2.799, 6.937), abs=1e-3)


@pytest.mark.filterwarnings("ignore:The inplace keyword")  # of the library itself, under a newer pandas
@pytest.mark.filterwarnings("ignore:divide by zero")
def test_icc_and_intervals_vs_pingouin() -> None:
    x, y, _ = some_pairs()
    frame = pd.DataFrame(
        {"t": np.tile(np.arange(x.size), 2), "j": np.repeat([0, 1], x.size), "v": np.concatenate([x, y])}
    )
    theirs = pingouin.intraclass_corr(frame, targets="t", raters="j", ratings="v")
    squares = reliability.mean_squares(np.stack([x, y], 1), np.ones(x.size))
    assert reliability.intraclass(squares, 2) == pytest.approx(theirs["ICC"].to_numpy()[:3], abs=1e-9)
    ends = np.array(
        [np.asarray(row, dtype=float) for row in theirs[theirs.columns[theirs.columns.str.startswith("CI")][0]]]
    )
    assert reliability.intraclass_intervals(squares, 2) == pytest.approx(ends[:3], abs=0.0051)  # printed to 2 digits


def test_concordance_of_peak_flow_and_its_interval() -> None:
    # recomputed from the 1986 data with the variance of 2000; no published value seen
    ones = np.ones(17)
    assert association.concordance(LARGE, MINI, ones) == pytest.approx(0.9427, abs=5e-5)
    assert association.concordance_interval(LARGE, MINI) == pytest.approx((0.8505, 0.9787), abs=5e-5)


def test_correlations_and_line_vs_scipy() -> None:
    x, y, _ = some_pairs()
    ones = np.ones(x.size)
    theirs = stats.pearsonr(x, y)
    assert association.pearson(x, y, ones) == pytest.approx(theirs.statistic)
    assert association.correlation_interval(theirs.statistic, x.size) == pytest.approx(
        tuple(theirs.confidence_interval())
    )
    assert association.spearman(x, y, ones) == pytest.approx(stats.spearmanr(x, y).statistic)
    fit = stats.linregress(x, y)
    assert association.line(x, y, ones)[:2] == pytest.approx((fit.slope, fit.intercept))


def test_prediction_interval_vs_statsmodels() -> None:
    import statsmodels.api as sm

    x, y, _ = some_pairs()
    at = np.array([0.0, 10.0, 25.0])
    frame = sm.OLS(y, sm.add_constant(x)).fit().get_prediction(sm.add_constant(at)).summary_frame(alpha=0.05)
    half = association.prediction_half_width(x, y, at, people=x.size)
    assert half == pytest.approx(((frame["obs_ci_upper"] - frame["obs_ci_lower"]) / 2).to_numpy())


def test_within_and_between_vs_statsmodels_anova() -> None:
    import statsmodels.formula.api as smf
    from statsmodels.stats.anova import anova_lm

    person, x, y = cardiac()
    table = anova_lm(smf.ols("d ~ C(p)", pd.DataFrame({"d": x - y, "p": person})).fit())
    _, within, _, between, _ = agreement_repeated.within_and_between(x - y, person, np.ones(12))
    assert (between, within) == pytest.approx(tuple(table["mean_sq"]))


@pytest.mark.parametrize(
    "statistic",
    [
        lambda x, y, w: association.pearson(x, y, w),
        lambda x, y, w: association.spearman(x, y, w),
        lambda x, y, w: association.concordance(x, y, w),
        lambda x, y, w: association.line(x, y, w),
        lambda x, y, w: agreement.limits_of_agreement(x - y, w),
        lambda x, y, w: agreement.rmse(x - y, w),
        lambda x, y, w: agreement.proportional_bias(x - y, (x + y) / 2, w),
        lambda x, y, w: reliability.mean_squares(np.stack([x, y], 1), w)[..., :4],
        lambda x, y, w: roc.area(x, y > 9, w),
        lambda x, y, w: roc.operating_points(x, y > 9, np.array([5.0, 10.0]), w),
    ],
)
def test_weights_are_counts(statistic) -> None:  # type: ignore[no-untyped-def]
    x, y, weight = some_pairs()
    several = statistic(x, y, np.stack([np.ones(x.size), weight]))
    copies = (drawn(x, weight), drawn(y, weight))
    assert several[1] == pytest.approx(statistic(*copies, np.ones(copies[0].size)))
    assert several[0] == pytest.approx(statistic(x, y, np.ones(x.size)))


def test_auc_and_curve_vs_scikit_learn() -> None:
    x, y, _ = some_pairs()
    sick = y > 9
    assert roc.area(x, sick, np.ones(x.size)) == pytest.approx(roc_auc_score(sick, x))
    false_alarm, found, cut = roc_curve(sick, x, drop_intermediate=False)
    ours = roc.operating_points(x, sick, cut[1:], np.ones(x.size))
    assert ours[:, 0] == pytest.approx(found[1:])
    assert 1 - ours[:, 1] == pytest.approx(false_alarm[1:])


def test_best_threshold_and_likelihood_ratios_by_hand() -> None:
    score = np.array([1.0, 2, 3, 4, 5, 6])
    sick = np.array([False, False, True, False, True, True])
    cut = roc.thresholds(score)
    points = roc.operating_points(score, sick, cut, np.ones(6))
    best = int(roc.best_threshold(points))
    assert cut[best] == 2.5  # sensitivity 1, specificity 2/3; 4.5 has the same index, the lower one is taken
    assert points[best] == pytest.approx((1.0, 2 / 3))
    assert roc.likelihood_ratios(points[best]) == pytest.approx((3.0, 0.0))


def test_optimism_is_what_the_best_threshold_loses_on_new_people() -> None:
    # a score without any worth: the best threshold looks good on its own people; correction takes it back
    rng = np.random.default_rng(11)
    apparent, corrected = [], []
    for _ in range(40):
        score, sick = rng.normal(size=40), np.arange(40) % 2 == 0
        cut = roc.thresholds(score)
        points = roc.operating_points(score, sick, cut, np.ones(40))
        draws = roc.operating_points(score, sick, cut, resampling.cluster_draws(40, 100, 5))
        best = points[int(roc.best_threshold(points))]
        apparent.append(best.sum() - 1)
        corrected.append((best - roc.optimism(points, draws)).sum() - 1)
    assert np.mean(apparent) > 0.15
    assert abs(np.mean(corrected)) < 0.5 * np.mean(apparent)


def test_kappa_vs_scikit_learn() -> None:
    rng = np.random.default_rng(2)
    a = rng.integers(0, 3, 60)
    b = np.where(rng.random(60) < 0.6, a, rng.integers(0, 3, 60))
    table = np.zeros((3, 3))
    np.add.at(table, (a, b), 1)
    assert reliability.kappa(table) == pytest.approx(cohen_kappa_score(a, b))
    assert np.isnan(reliability.kappa(np.array([[5.0, 0], [0, 0]])))


def test_bca_interval_vs_scipy_bootstrap() -> None:
    rng = np.random.default_rng(4)
    values = rng.exponential(size=30)
    draws = resampling.cluster_draws(30, 4000, 1)
    jack = resampling.jackknife_draws(30)
    ours = resampling.bca_interval(
        agreement.rmse(values, np.ones(30)), agreement.rmse(values, draws), agreement.rmse(values, jack)
    )
    theirs = stats.bootstrap(
        (values,), lambda v, axis: np.sqrt((v**2).mean(axis=axis)), n_resamples=4000, method="BCa", rng=rng
    ).confidence_interval
    assert ours == pytest.approx((theirs.low, theirs.high), abs=0.06)
    plain = np.quantile(agreement.rmse(values, draws), [0.025, 0.975])
    assert ours[1] > plain[1]  # skewed values: the correction moves the interval up


def test_share_interval_knows_people() -> None:
    hit = np.tile([1.0, 0.0], 20)
    apart = resampling.share_interval(hit, np.arange(40))
    from statsmodels.stats.proportion import proportion_confint

    assert apart[1:] == pytest.approx(proportion_confint(20, 40, method="wilson"), abs=0.002)
    alike = resampling.share_interval(np.repeat([1.0, 0.0], 20), np.repeat(np.arange(8), 5))
    assert alike[2] - alike[1] > 1.8 * (
        apart[2] - apart[1]
    )  # five equal repetitions of a person are one piece of knowledge
    never = resampling.share_interval(np.zeros(40), np.repeat(np.arange(8), 5))
    assert never[0] == 0
    assert never[2] == pytest.approx(proportion_confint(0, 8, method="wilson")[1])


def test_repeated_limits_are_covered_by_the_cluster_bootstrap() -> None:
    # 20 people, 5 pairs each, SD 2 between and 1 within: true upper limit 1.96 sqrt(5)
    rng = np.random.default_rng(8)
    person = np.repeat(np.arange(20), 5)
    draws, jack = resampling.cluster_draws(20, 400, 1), resampling.jackknife_draws(20)
    truth, held = 1.96 * np.sqrt(5.0), 0
    for _ in range(120):
        d = rng.normal(0, 2, 20)[person] + rng.normal(0, 1, 100)
        value, replicate, left = (
            agreement_repeated.limits_repeated(d, person, w)[..., 3] for w in (np.ones(20), draws, jack)
        )
        low, high = resampling.bca_interval(value, replicate, left)
        held += low <= truth <= high
    assert 0.86 <= held / 120 <= 0.99


def test_pairs_for_limits_is_the_inverse_of_the_standard_error() -> None:
    # Bland & Altman 1986: SE = sqrt(3 s^2 / n); n = 100 and s = 1 give 1.96 sqrt(3 / 100) = 0.3395
    assert agreement.pairs_for_limits(1.0, 0.33948) == 100
    assert agreement.pairs_for_limits(1.0, 0.3394) == 101
    assert np.isnan(agreement.pairs_for_limits(1.0, 0.0))


def test_people_for_limits_vs_simulation() -> None:
    g = int(agreement_repeated.people_for_limits(1.0, 4.0, 5, 1.5))
    rng, person, upper = np.random.default_rng(6), np.repeat(np.arange(g), 5), []
    d = rng.normal(0, 2, (3000, g))[:, person] + rng.normal(0, 1, (3000, 5 * g))
    upper = agreement_repeated.limits_repeated(d, person, np.ones(g))[:, 3]
    assert 1.96 * upper.std() == pytest.approx(1.5, rel=0.06)


@pytest.mark.filterwarnings("ignore:The inplace keyword")
def test_correlation_within_persons_vs_pingouin() -> None:
    person, x, y = cardiac()
    theirs = pingouin.rm_corr(pd.DataFrame({"p": person, "x": x, "y": y}), x="x", y="y", subject="p")
    ours = agreement_repeated.correlation_within(x, y, person, np.ones(12))
    assert ours == pytest.approx(float(theirs["r"].iloc[0]))
    still = np.array([0.1, 0.1, 0.1, 0.7, 0.7, 0.7])  # differs between persons only
    assert np.isnan(agreement_repeated.correlation_within(still, y[:6], np.repeat([0, 1], 3), np.ones(2)))


def test_multiple_correlation_by_hand_and_undefined() -> None:
    sine = np.sin(np.linspace(0, np.pi, 101)) * 20
    same = np.stack([sine, sine])[None]
    assert curve_agreement.multiple_correlation(same) == pytest.approx(1.0)
    shifted = np.stack([sine, sine + 5])[None]
    # two curves c apart: numerator c^2/2, denominator (202 var + 101 c^2/2) / 201
    expected = np.sqrt(1 - (25 / 2) / ((202 * sine.var() + 202 * 6.25) / 201))
    assert curve_agreement.multiple_correlation(shifted) == pytest.approx(expected)
    assert curve_agreement.multiple_correlation(shifted, remove_offset=True) == pytest.approx(1.0)
    assert np.isnan(curve_agreement.multiple_correlation(np.stack([sine, sine + 100])[None]))


def test_simultaneous_band_holds_whole_curves() -> None:
    rng = np.random.default_rng(9)
    replicates = np.cumsum(rng.normal(size=(2000, 50)), axis=1)
    band = curve_agreement.simultaneous_band(np.zeros(50), replicates)
    inside = ((replicates >= band[:, 0]) & (replicates <= band[:, 1])).all(axis=1).mean()
    assert inside == pytest.approx(0.95, abs=0.005)


def test_constant_values_have_no_correlation_and_no_number_from_rounding() -> None:
    ones, constant, x = np.ones(6), np.full(6, 0.1) + 1e3, np.arange(6.0)
    for statistic in (association.pearson, association.spearman):
        assert np.isnan(statistic(constant, x, ones))
    assert np.isnan(association.line(constant, x, ones)).all()
    assert np.isnan(reliability.intraclass(reliability.mean_squares(np.stack([constant, constant], 1), ones), 2)).all()
    assert np.isnan(reliability.intraclass_intervals(reliability.mean_squares(np.stack([x, x], 1), ones), 2)).all()


def test_nan_spreads_and_is_never_dropped_silently() -> None:
    x, y, ones = np.array([1.0, np.nan, 3]), np.arange(3.0), np.ones(3)
    for statistic in (association.pearson, association.spearman, association.concordance):
        assert np.isnan(statistic(x, y, ones))
    assert np.isnan(agreement.limits_of_agreement(x - y, ones)).all()
    assert np.isnan(roc.area(x, y > 1, ones))


def test_same_seed_same_draws() -> None:
    assert (resampling.cluster_draws(9, 50, 7) == resampling.cluster_draws(9, 50, 7)).all()
    assert (resampling.cluster_draws(9, 50, 7).sum(axis=1) == 9).all()
