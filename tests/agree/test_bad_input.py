"""Bad input of `condyle agree`: a sentence each."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from condyle.errors import DataError, UsageError
from condyle.files.tables import write_csv
from condyle.study import agree
from tests.agree.shared import QUICK, linear, run, words
from tests.study_tables import two_tables


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
