"""`condyle agree` on tables: published examples come out of the files, and nothing wrong gets through without a sentence."""

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from condyle.command import main
from condyle.errors import DataError, UsageError
from condyle.files.tables import write_csv
from condyle.study import agree
from condyle.study.settings import load_settings
from tests.study_tables import two_tables, write_study
from tests.test_agreement_statistics import LARGE, MINI, cardiac

QUICK = load_settings().model_copy(update={"draws": 200})


def run(folder: Path, rows: list[tuple[str, float, float]], pair: str = "mini:large:same", **more):  # type: ignore[no-untyped-def]
    measures, planar = two_tables(folder, rows, unit=more.pop("unit", "l/min"))
    study = agree([measures], folder / "out", planar, [pair], settings=more.pop("settings", QUICK), page=False, **more)
    return study, pd.read_csv(folder / "out" / "agreement.csv").set_index("statistic")


def linear(n: int = 12, repeats: int = 1, slope: float = 1.0) -> list[tuple[str, float, float]]:
    rng = np.random.default_rng(5)
    return [
        (f"MR{p:02d}", slope * p + rng.normal(0, 0.5), p + rng.normal(0, 0.5)) for p in range(n) for _ in range(repeats)
    ]


def words(study) -> str:  # type: ignore[no-untyped-def]
    return " | ".join([*study.sentences, *study.questions])


# ---- published examples through the files


def test_peak_flow_of_bland_altman_1986_comes_out_of_the_files(tmp_path: Path) -> None:
    # reference mini, planar large: the paper's differences are large minus mini
    rows = [(f"P{i}", x, y) for i, (x, y) in enumerate(zip(LARGE, MINI, strict=True))]
    study, table = run(tmp_path, rows)
    assert table.loc["bias", "value"] == pytest.approx(-2.1, abs=0.05)
    assert table.loc["sd_difference", "value"] == pytest.approx(38.8, abs=0.05)
    assert table.loc["limit_lower", "value"] == pytest.approx(-78.1, abs=0.06)
    assert table.loc["limit_upper", "value"] == pytest.approx(73.9, abs=0.06)
    # the paper's limit interval is 34.5 wide to each side, whatever multiple of SD the limit stands at
    half = (table.loc["limit_upper", "upper"] - table.loc["limit_upper", "lower"]) / 2
    assert half == pytest.approx(34.55, abs=0.1)
    assert table.loc["concordance", ["value", "lower", "upper"]].tolist() == pytest.approx(
        [0.9427, 0.8505, 0.9787], abs=5e-5
    )
    assert set(table["pairs"]) == {17}
    # with two methods the SEM is the SD of the differences over sqrt 2, and its interval likewise
    sd = table.loc["sd_difference", ["value", "lower", "upper"]].to_numpy(dtype=float)
    assert table.loc["sem", ["value", "lower", "upper"]].to_numpy(dtype=float) == pytest.approx(sd / np.sqrt(2))
    assert "Bland & Altman 1986" in table.loc["limit_lower", "interval"]
    assert not [s for s in table.index if s.endswith("_repeated")]
    assert study.results[0].pair.same_quantity


def test_repeated_pairs_of_bland_altman_2007_come_out_of_the_files(tmp_path: Path) -> None:
    person, x, y = cardiac()
    rows = [(f"P{p + 1:02d}", a, b) for p, a, b in zip(person, x, y, strict=True)]
    study, table = run(tmp_path, rows)
    assert table.loc["bias_repeated", "value"] == pytest.approx(0.6021667, abs=1e-6)
    assert table.loc["sd_difference_repeated", "value"] == pytest.approx(0.99062408, abs=1e-7)
    assert table.loc["limit_lower_repeated", "value"] == pytest.approx(-1.3394565, abs=1e-6)
    assert table.loc["limit_upper_repeated", "value"] == pytest.approx(2.5437899, abs=1e-6)
    assert table.loc["limit_upper_repeated", "interval"].startswith("cluster bootstrap")
    assert table.loc["bias", "lower"] < table.loc["bias", "value"] < table.loc["bias", "upper"]
    assert set(table["participants"]) == {12}
    sizes = study.results[0].sizes
    assert sizes is not None
    alone = sizes[sizes["pairs_each"] == 1].set_index("half_width")
    assert alone["formula"].str.contains("Bland & Altman 1986").all()
    assert alone["participants"].to_dict() == {
        h: np.ceil(3 * (1.959964 * 0.99062408 / h) ** 2) for h in (1.0, 2.0, 3.0)
    }


def test_intervals_know_that_repetitions_belong_to_people(tmp_path: Path) -> None:
    rng = np.random.default_rng(1)
    rows = [(f"P{p:02d}", d + r, 0.0 + r) for p, d in enumerate(rng.normal(0, 2, 12)) for r in rng.normal(0, 1, 8)]
    _, clustered = run(tmp_path / "a", rows)
    apart = [(f"{name}-{i}", x, y) for i, (name, x, y) in enumerate(rows)]
    _, independent = run(tmp_path / "b", apart)
    assert clustered.loc["bias", "value"] == pytest.approx(independent.loc["bias", "value"])
    width = [t.loc["bias", "upper"] - t.loc["bias", "lower"] for t in (clustered, independent)]
    assert width[0] > 2 * width[1]


# ---- what is not one quantity


def test_pair_of_different_quantities_is_marked_and_left_out_of_the_methods(tmp_path: Path) -> None:
    study, table = run(tmp_path, linear(), pair="mini:large")
    assert not table.loc["bias", "same_quantity"]
    assert "no agreement to be claimed" in table.loc["bias", "note"]
    assert "mini against large" not in " ".join(study.methods)
    same, _ = run(tmp_path / "same", linear())
    assert "mini against large" in " ".join(same.methods)


def test_same_quantity_is_told_from_the_names() -> None:
    from condyle.study.choosing import Names, pair_from_words

    of_3d = ("trunk_lean", "fppa", "hip_adduction", "pelvis_obliquity", "knee_adduction")
    planar = frozenset({"trunk_lean", "fppa", "pelvis_drop"})
    names = Names(planar, frozenset(), frozenset(f"{name}_at_bottom" for name in of_3d))
    asked = ("trunk_lean:trunk_lean", "fppa:hip_adduction", "pelvis_drop:pelvis_obliquity", "fppa:knee_adduction")
    pair = {words: pair_from_words(words, names, QUICK) for words in asked}
    assert pair["trunk_lean:trunk_lean"].same_quantity
    assert pair["trunk_lean:trunk_lean"].reference == "trunk_lean_at_bottom"
    assert not pair["fppa:hip_adduction"].same_quantity
    assert pair["pelvis_drop:pelvis_obliquity"].same_quantity
    assert pair["fppa:knee_adduction"].runs == "opposite"
    with pytest.raises(UsageError, match="nearest valid name: `hip_adduction_at_bottom`"):
        pair_from_words("fppa:hip_aduction_at_bottom", names, QUICK)
    with pytest.raises(UsageError, match="PLANAR:REFERENCE"):
        pair_from_words("fppa", names, QUICK)


def test_cutoff_given_makes_a_roc_and_its_best_threshold_is_corrected(tmp_path: Path) -> None:
    rng = np.random.default_rng(3)
    rows = [(f"P{p:02d}", p + rng.normal(0, 6), float(p)) for p in range(30) for _ in range(2)]
    study, table = run(tmp_path, rows, pair="mini:large", cutoffs=["large:14.5", "mini:15"])
    assert 0.5 < table.loc["auc", "lower"] < table.loc["auc", "value"] <= 1
    assert table.loc["threshold_given", "value"] == 15
    x, y = study.results[0].sample.planar, study.results[0].sample.reference
    assert table.loc["sensitivity_given", "value"] == pytest.approx((x[y > 14.5] >= 15).mean())
    assert table.loc["specificity_given", "value"] == pytest.approx((x[y <= 14.5] < 15).mean())
    best = table.loc[["sensitivity_best", "specificity_best"], "value"].sum()
    assert table.loc[["sensitivity_best_corrected", "specificity_best_corrected"], "value"].sum() < best


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"cutoffs": ["lagre:14.5"]}, "--cutoff 'lagre:14.5': 'lagre' is no measure of any pair; nearest valid name: `large`"),
        ({"cutoffs": ["hip_adduction_at_bottom:12"]}, "is no measure of any pair; valid names: `large`, `mini`"),
        ({"cutoffs": ["large:14", "large:15"]}, "contradict one another"),
        ({"flip": ["mnii"]}, "--flip mnii: .*planar.csv has no such measure; nearest valid name: `mini`"),
    ],
)  # fmt: skip
def test_cutoff_or_flip_of_an_unknown_measure_is_refused_before_writing(
    tmp_path: Path, more: dict[str, list[str]], words: str
) -> None:
    with pytest.raises(UsageError, match=words):
        run(tmp_path, linear(), **more)
    assert not (tmp_path / "out").exists()


def test_cutoff_may_name_the_quantity_of_a_measure_at_the_bottom() -> None:
    from condyle.study.choosing import cutoff_from_words, refuse_unused_cutoffs
    from condyle.study.settings import PairSetting

    pair = PairSetting(planar="fppa_camera_at_bottom", reference="hip_adduction_at_bottom")
    words = ["fppa:10", "hip_adduction_at_bottom:12"]
    refuse_unused_cutoffs(words, [cutoff_from_words(w) for w in words], [pair])
    with pytest.raises(UsageError, match="nearest valid name: `hip_adduction_at_bottom`"):
        refuse_unused_cutoffs(["x"], [cutoff_from_words("hip_adductoin_at_bottom:12")], [pair])


def test_methods_say_who_was_marked_and_what_was_taken_off(tmp_path: Path) -> None:
    rng = np.random.default_rng(3)
    rows = [(f"P{p:02d}", p + rng.normal(0, 6), float(p)) for p in range(30) for _ in range(2)]
    run(tmp_path / "a", rows, pair="mini:large", cutoffs=["large:14.5", "mini:15"], unit="deg")
    text = (tmp_path / "a" / "out" / "methods.txt").read_text()
    assert "ROC" in text
    assert "large above 14.5 deg (stated with --cutoff)" in text
    assert "The screen's own cut-off: mini above 15 deg (stated with --cutoff)." in text
    assert "mean optimism over 200 bootstrap samples of participants was taken off" in text
    run(tmp_path / "b", rows, pair="mini:large", unit="deg")
    assert "ROC" not in (tmp_path / "b" / "out" / "methods.txt").read_text()  # none was drawn
    one = [("P01", x, y) for _, x, y in rows]
    run(tmp_path / "c", one, pair="mini:large", cutoffs=["large:14.5"], unit="deg")
    assert "nothing was taken off" in (tmp_path / "c" / "out" / "methods.txt").read_text()


def test_methods_name_each_cut_off_once_in_the_order_stated() -> None:
    from condyle.study.methods_text import _cut_offs

    names = ["fppa_camera_at_bottom", "trunk_lean_at_bottom", "hip_adduction_at_bottom", "trunk_lean_at_bottom"]
    words = _cut_offs([(name, "deg") for name in names], load_settings().cutoffs)
    assert [w.split(" (")[0] for w in words] == [
        "hip adduction at bottom above 16.4 deg",
        "trunk lean at bottom above 9.7 deg",
    ]
    assert (
        len(
            _cut_offs(
                [("fppa_camera_at_bottom", "deg"), ("fppa_asis_camera_at_bottom", "deg")],
                load_settings().planar_cutoffs,
            )
        )
        == 1
    )


def test_roc_of_what_is_marked_below_turns_its_sign(tmp_path: Path) -> None:
    # adduction falls as the planar value rises: marked below -20, called where the planar value is high
    rows = [(f"P{p:02d}", float(p), -float(p)) for p in range(30)]
    _, table = run(tmp_path, rows, pair="mini:large:different:opposite", cutoffs=["large:-19.5:below"])
    assert table.loc["auc", "value"] == 1.0
    assert table.loc["threshold_best", "value"] == pytest.approx(19.5)


# ---- bad input, a sentence each


def test_one_participant_has_no_interval(tmp_path: Path) -> None:
    study, table = run(tmp_path, [("MR01", float(v), v + 1.0 + v % 2) for v in range(8)])
    assert "one participant" in words(study)
    assert np.isnan(table.loc["pearson_r", "lower"])
    assert np.isfinite(table.loc["bias", "value"])


def test_constant_values_are_said(tmp_path: Path) -> None:
    study, table = run(tmp_path, [(f"P{i}", 3.0, float(i)) for i in range(12)])
    assert "very planar value is the same" in words(study)
    assert np.isnan(table.loc["pearson_r", "value"])
    assert np.isnan(table.loc["slope", "value"])


def test_fewer_than_two_pairs_is_said(tmp_path: Path) -> None:
    study, table = run(tmp_path, [("MR01", 1.0, 2.0)])
    assert "at least two" in words(study)
    assert table.empty


def test_nothing_paired_is_an_error_that_names_the_table(tmp_path: Path) -> None:
    measures, planar = two_tables(tmp_path, linear())
    frame = pd.read_csv(planar)
    write_csv(planar, frame.assign(participant="X" + frame["participant"]))
    with pytest.raises(DataError, match=r"pairs\.csv"):
        agree([measures], tmp_path / "out", planar, ["mini:large"], settings=QUICK, page=False)
    pairs = pd.read_csv(tmp_path / "out" / "pairs.csv")
    assert set(pairs["status"]) == {"no_reference", "no_planar"}
    assert len(pairs) == 24


def test_missing_values_are_counted_not_dropped_in_silence(tmp_path: Path) -> None:
    rows = linear()
    rows[3] = (rows[3][0], np.nan, rows[3][2])
    rows[5] = (rows[5][0], rows[5][1], np.nan)
    study, _ = run(tmp_path, rows)
    pairs = pd.read_csv(tmp_path / "out" / "pairs.csv")
    assert (pairs["status"] == "value_missing").sum() == 2
    assert "10 pairs of 10 participants; 2 with a missing value" in words(study)


def test_a_word_among_the_values_is_named_with_its_line(tmp_path: Path) -> None:
    measures, planar = two_tables(tmp_path, linear())
    planar.write_text(planar.read_text().replace("MR02,1,1,a,right,l/min,mini,", "MR02,1,1,a,right,l/min,mini,about "))
    study = agree([measures], tmp_path / "out", planar, ["mini:large"], settings=QUICK, page=False)
    assert "line 4" in words(study)
    assert "is no number" in words(study)


def test_sign_the_other_way_round_is_asked_not_turned(tmp_path: Path) -> None:
    study, table = run(tmp_path, linear(slope=-1.0))
    assert "is the planar sign the other way round?" in study.questions[0]
    assert "--flip mini" in study.questions[0]
    assert "sign of the planar measure is in question" in table.loc["bias", "note"]
    assert "mini against large" not in " ".join(study.methods)
    assert table.loc["pearson_r", "value"] < 0  # nothing was turned
    measures, planar = two_tables(tmp_path, linear(slope=-1.0))
    flipped = agree(
        [measures], tmp_path / "out", planar, ["mini:large:same"], flip=["mini"], settings=QUICK, page=False
    )
    assert not flipped.questions
    assert "was turned, as asked (12 values)" in words(flipped)


def test_a_pair_that_should_run_opposite_is_asked_about_when_it_does_not(tmp_path: Path) -> None:
    study, _ = run(tmp_path / "a", linear(), pair="mini:large:different:opposite")
    assert "planar values rise where the reference rises" in study.questions[0]
    study, _ = run(tmp_path / "b", linear(slope=-1.0), pair="mini:large:different:opposite")
    assert not study.questions


def test_bias_says_nothing_about_sign(tmp_path: Path) -> None:
    study, _ = run(tmp_path, [(n, x - 500.0, y) for n, x, y in linear()])
    assert not study.questions


def test_units_are_converted_or_named(tmp_path: Path) -> None:
    measures, planar = two_tables(tmp_path, linear(), unit="deg")
    frame = pd.read_csv(planar)
    write_csv(planar, frame.assign(unit="rad", value=np.deg2rad(frame["value"])))
    study = agree([measures], tmp_path / "out", planar, ["mini:large:same"], settings=QUICK, page=False)
    _, plain = run(tmp_path / "plain", linear(), unit="deg")
    turned = pd.read_csv(tmp_path / "out" / "agreement.csv").set_index("statistic")
    assert turned.loc["bias", "value"] == pytest.approx(plain.loc["bias", "value"], abs=1e-6)
    assert "converted from rad to deg" in words(study)
    write_csv(planar, frame.assign(unit=["furlong"] * 2 + ["deg"] * (len(frame) - 2)))
    study = agree([measures], tmp_path / "out", planar, ["mini:large:same"], settings=QUICK, page=False)
    assert "'furlong' is unknown" in words(study)
    assert (pd.read_csv(tmp_path / "out" / "pairs.csv")["status"] == "unknown_unit").sum() == 2


def test_lengths_and_angles_are_never_subtracted(tmp_path: Path) -> None:
    measures, planar = two_tables(tmp_path, linear(), unit="deg")
    write_csv(planar, pd.read_csv(planar).assign(unit="mm"))
    study = agree([measures], tmp_path / "out", planar, ["mini:large:same"], settings=QUICK, page=False)
    table = pd.read_csv(tmp_path / "out" / "agreement.csv").set_index("statistic")
    assert "bias" not in table.index
    assert "pearson_r" in table.index
    assert "mm cannot be converted to deg" in words(study)


def test_duplicates_and_contradictions_are_named(tmp_path: Path) -> None:
    measures, planar = two_tables(tmp_path, linear())
    frame = pd.read_csv(planar)
    again = frame.iloc[[0]]
    apart = frame.iloc[[1]].assign(value=99.0)
    write_csv(planar, pd.concat([frame, again, apart]))
    study = agree([measures], tmp_path / "out", planar, ["mini:large"], settings=QUICK, page=False)
    counts = pd.read_csv(tmp_path / "out" / "pairs.csv")["status"].value_counts()
    assert (
        counts.to_dict() == {"paired": 11, "contradiction": 2, "duplicate": 1, "no_planar": 1} or counts["paired"] == 11
    )
    assert "2 different planar values for one repetition" in words(study)


def test_participant_010_stays_010_and_near_names_are_told(tmp_path: Path) -> None:
    rows = [(f"{p:03d}", x, y) for p, (_, x, y) in enumerate(linear(), start=10)]
    run(tmp_path, rows)
    assert (tmp_path / "out" / "pairs.csv").read_text().count("010,") == 1
    measures, planar = two_tables(tmp_path, rows)
    planar.write_text(planar.read_text().replace("\n010,", "\n10,"))
    study = agree([measures], tmp_path / "out", planar, ["mini:large"], settings=QUICK, page=False)
    assert "says participant '10', the measures '010'" in words(study)


def test_tasks_are_never_pooled(tmp_path: Path) -> None:
    measures, planar = two_tables(tmp_path, linear(12, repeats=2))
    frame = pd.read_csv(measures)
    write_csv(measures, frame.assign(task=np.where(frame["repetition"] == 1, "single_leg_squat", "step_down")))
    agree([measures], tmp_path / "out", planar, ["mini:large"], settings=QUICK, page=False)
    table = pd.read_csv(tmp_path / "out" / "agreement.csv")
    bias = table[table["statistic"] == "bias"].set_index("task")
    assert bias["pairs"].to_dict() == {"single_leg_squat": 12, "step_down": 12}


def test_planar_table_without_repetitions_meets_the_mean(tmp_path: Path) -> None:
    measures, planar = two_tables(tmp_path, linear(12, repeats=3))
    frame = pd.read_csv(planar)
    one = frame.groupby("participant", as_index=False).first().drop(columns="repetition")
    write_csv(planar, one)
    agree([measures], tmp_path / "out", planar, ["mini:large"], settings=QUICK, page=False)
    pairs = pd.read_csv(tmp_path / "out" / "pairs.csv")
    assert (pairs["status"] == "paired").all()
    assert set(pairs["reason"]) == {"reference: mean over the repetitions"}
    mean = pd.read_csv(measures).groupby("participant")["value"].mean()
    assert pairs.set_index("participant")["reference_value"].to_dict() == pytest.approx(mean.to_dict())


def test_planar_table_that_fits_two_trials_is_ambiguous(tmp_path: Path) -> None:
    measures, planar = two_tables(tmp_path, linear())
    frame = pd.read_csv(measures)
    write_csv(measures, pd.concat([frame, frame.assign(trial="b", value=frame["value"] + 1)]))
    write_csv(planar, pd.read_csv(planar).drop(columns="trial"))
    with pytest.raises(DataError, match="no trial"):
        agree([measures], tmp_path / "out", planar, ["mini:large"], settings=QUICK, page=False)
    assert set(pd.read_csv(tmp_path / "out" / "pairs.csv")["status"]) >= {"ambiguous"}


def test_semicolons_and_decimal_commas_are_read(tmp_path: Path) -> None:
    measures, planar = two_tables(tmp_path, linear())
    frame = pd.read_csv(planar)
    frame["value"] = frame["value"].map(lambda v: f"{v:.6f}".replace(".", ","))
    planar.write_text("\ufeff" + frame.to_csv(sep=";", index=False), encoding="utf-8")
    agree([measures], tmp_path / "out", planar, ["mini:large:same"], settings=QUICK, page=False)
    _, plain = run(tmp_path / "plain", linear())
    table = pd.read_csv(tmp_path / "out" / "agreement.csv").set_index("statistic")
    assert table.loc["bias", "value"] == pytest.approx(plain.loc["bias", "value"], abs=1e-5)


def test_a_table_without_values_or_people_is_refused(tmp_path: Path) -> None:
    table = tmp_path / "measures.csv"
    table.write_text("participant,measure\nMR01,fppa\n")
    with pytest.raises(DataError, match="no column value"):
        agree([table], tmp_path / "out", settings=QUICK)
    with pytest.raises(UsageError, match="no such file"):
        agree([tmp_path / "nothing.csv"], tmp_path / "out", settings=QUICK)


def test_the_same_run_named_twice_counts_once(tmp_path: Path) -> None:
    measures, planar = two_tables(tmp_path, linear())
    copy = tmp_path / "copy" / "measures.csv"
    copy.parent.mkdir()
    copy.write_bytes(measures.read_bytes())
    study = agree([measures, copy], tmp_path / "out", planar, ["mini:large"], settings=QUICK, page=False)
    assert "12 rows of measures stand twice" in words(study)
    assert study.results[0].sample.pairs == 12


# ---- a whole study


@pytest.fixture(scope="module")
def study_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("study")
    write_study(folder, participants=4, repetitions=2)
    return folder


def test_a_run_writes_every_part(study_folder: Path) -> None:
    files = sorted(study_folder.glob("*/measures.csv"))
    study = agree(files, study_folder / "out", settings=QUICK, page=False)
    table = pd.read_csv(study_folder / "out" / "agreement.csv")
    assert {
        "planar",
        "reference",
        "same_quantity",
        "statistic",
        "value",
        "lower",
        "upper",
        "pairs",
        "participants",
    } <= set(table.columns)
    planar = set(table["planar"])
    assert {"fppa_camera_at_bottom", "trunk_lean_frontal_at_bottom", "planar_reading"} <= planar
    assert "fppa_by_hip_adduction" in set(table["reference"])
    lean = table[(table["planar"] == "trunk_lean_frontal_at_bottom")].set_index("statistic")
    assert abs(lean.loc["bias", "value"]) < 0.01  # the model's trunk leans in the frontal plane only
    curve = pd.read_csv(study_folder / "out" / "curve_agreement.csv")
    at_bottom = curve[(curve["planar"] == "hip_adduction_frontal") & (curve["percent"] == 50)].iloc[0]
    same = table[table["planar"] == "hip_adduction_frontal_at_bottom"].set_index("statistic")
    assert at_bottom["bias"] == pytest.approx(same.loc["bias", "value"], abs=1e-6)  # equal numbers of pairs a person
    assert at_bottom["limit_upper"] == pytest.approx(same.loc["limit_upper_repeated", "value"], abs=1e-6)
    assert {"cmc", "cmc_without_offset"} <= set(table["statistic"])
    assert len(study.misreading)
    assert len(study.camera)
    text = " ".join(study.methods)
    assert "cutoff 6 Hz, order 4" in text
    assert "harrington 2007" in text


def test_invalid_repetitions_do_not_count(study_folder: Path, tmp_path: Path) -> None:
    import shutil

    shutil.copytree(study_folder / "MR01", tmp_path / "MR01")
    shutil.copytree(study_folder / "MR02", tmp_path / "MR02")
    repetitions = tmp_path / "MR01" / "repetitions.csv"
    frame = pd.read_csv(repetitions)
    frame.loc[0, "valid"] = False
    write_csv(repetitions, frame)
    agree(
        sorted(tmp_path.glob("*/measures.csv")),
        tmp_path / "out",
        pairs=["fppa_camera:hip_adduction"],
        settings=QUICK,
        page=False,
    )
    pairs = pd.read_csv(tmp_path / "out" / "pairs.csv")
    assert pairs["status"].value_counts().to_dict() == {"paired": 7, "left_out": 1}


def test_what_is_absent_drops_its_part_with_a_sentence(study_folder: Path, tmp_path: Path) -> None:
    lonely = tmp_path / "measures.csv"
    lonely.write_bytes((study_folder / "MR01" / "measures.csv").read_bytes())
    study = agree([lonely], tmp_path / "out", pairs=["fppa:hip_adduction"], settings=QUICK, page=False)
    said = words(study)
    for part in ("contributions", "repetitions", "curves", "trials/*.nc"):
        assert part in said, part
    assert study.misreading.empty


def test_same_inputs_give_the_same_bytes(tmp_path: Path) -> None:
    measures, planar = two_tables(tmp_path, linear(12, repeats=2))
    for name in ("a", "b"):
        agree([measures], tmp_path / name, planar, ["mini:large:same"], ["large:5"], settings=QUICK)
    files = sorted((tmp_path / "a").iterdir())
    assert {"agreement.csv", "agreement.html", "manifest.json", "pairs.csv"} <= {f.name for f in files}
    for file in files:
        assert file.read_bytes() == (tmp_path / "b" / file.name).read_bytes(), file.name


def test_parquet_is_read_like_csv(study_folder: Path, tmp_path: Path) -> None:
    from condyle.files.tables import write_parquet

    frame = pd.concat([pd.read_csv(f) for f in sorted(study_folder.glob("*/measures.csv"))])
    write_parquet(tmp_path / "measures.parquet", frame)
    (tmp_path / "other").mkdir()
    write_csv(tmp_path / "other" / "measures.csv", frame)
    out = {}
    for file in (tmp_path / "measures.parquet", tmp_path / "other" / "measures.csv"):
        agree([file], tmp_path / "out", pairs=["fppa:hip_adduction"], settings=QUICK, page=False)
        out[file.suffix] = (tmp_path / "out" / "agreement.csv").read_bytes()
    assert out[".parquet"] == out[".csv"]


def test_an_archive_is_read_with_its_sessions_below(study_folder: Path, tmp_path: Path) -> None:
    import shutil

    from condyle.files.tables import write_parquet

    for name in ("measures", "repetitions", "contributions"):
        parts = [pd.read_csv(study_folder / p / f"{name}.csv") for p in ("MR01", "MR02")]
        write_parquet(tmp_path / f"{name}.parquet", pd.concat(parts))
    for p in ("MR01", "MR02"):
        shutil.copytree(study_folder / p, tmp_path / "sessions" / p / "2026-11-03")
    asked = ["fppa_camera:fppa", "hip_adduction_frontal:hip_adduction", "fppa_camera_change:fppa_by_hip_adduction"]
    study = agree([tmp_path / "measures.parquet"], tmp_path / "out", pairs=asked, settings=QUICK, page=False)
    assert [r.sample.pairs for r in study.results] == [8, 8, 8]
    assert len(study.curves) == 2
    assert "cutoff 6 Hz" in " ".join(study.methods)
    plain = agree(
        [study_folder / p / "measures.csv" for p in ("MR01", "MR02")],
        tmp_path / "b",
        pairs=asked,
        settings=QUICK,
        page=False,
    )
    assert plain.results[0].sample.planar == pytest.approx(study.results[0].sample.planar, abs=1e-9)


def test_command_writes_and_says(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    measures, planar = two_tables(tmp_path, linear(5, repeats=2))
    words = ["agree", str(measures), "--out", str(tmp_path / "out"), "--planar", str(planar)]
    status = main([*words, "--pair", "mini:large", "--draws", "200"])
    out, err = capsys.readouterr()
    assert status == 0
    assert "agreement.html" in out
    assert "5 participants: bootstrap intervals from fewer than 10" in err
    assert main([*words, "--pair", "mini:larg"]) == 2
    assert "nearest valid name: `large`" in capsys.readouterr().err
    assert main([*words, "--draws", "3"]) == 2
    assert main([*words, "--cutoff", "large=5"]) == 2
    assert main(["agree", str(measures), "--out", str(tmp_path / "out"), "--flip", "mini"]) == 2
    (tmp_path / "taken").write_text("")
    assert main([*words, "--out", str(tmp_path / "taken")]) == 2


def test_the_screen_groups_what_the_files_say_in_full(study_folder: Path) -> None:
    files = sorted(study_folder.glob("*/measures.csv"))
    study = agree(files, study_folder / "grouped", settings=QUICK, page=False)
    assert len(study.brief) <= 8
    assert max(map(len, study.brief)) < 400
    counts = next(s for s in study.brief if s.startswith("16 pairs of 4 participants"))
    assert counts.endswith("see pairs.csv).")
    without = [s for s in study.brief if "no cut-off is stated" in s.lower()]
    assert len(without) == 1
    assert "see agreement.html" in without[0]
    full = " ".join(study.sentences)
    for result in study.results:
        assert f"{result.pair.planar}:{result.pair.reference}" in full
    assert "No cut-off is stated for fppa_at_bottom" in full
    assert json.loads((study_folder / "grouped" / "manifest.json").read_text())["said"] == study.sentences


def test_a_folder_stands_for_the_measures_in_it(tmp_path: Path) -> None:
    from condyle.study.reading import read_tables

    rows = [("MR01", 1.0, 2.0), ("MR02", 2.0, 3.0), ("MR03", 4.0, 3.5)]
    measures, _ = two_tables(tmp_path, rows)
    whole = read_tables([measures])
    archive = tmp_path / "archive"
    archive.mkdir()
    with pytest.raises(UsageError, match=r"archive: holds no measures\.csv and no measures\.parquet"):
        read_tables([archive])
    pd.read_csv(measures).to_parquet(archive / "measures.parquet")
    read = read_tables([archive])
    assert read.runs[0].file == archive / "measures.parquet"
    assert read.measures["value"].tolist() == whole.measures["value"].tolist()
    pd.read_csv(measures).to_csv(archive / "measures.csv")
    assert read_tables([archive]).runs[0].file == archive / "measures.csv"
