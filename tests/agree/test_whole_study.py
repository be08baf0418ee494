"""A whole study: every part is written, the same bytes each time, from runs, folders and archives."""

import json
from pathlib import Path

import pandas as pd
import pytest

from condyle.command import main
from condyle.errors import UsageError
from condyle.files.tables import write_csv
from condyle.study import agree
from tests.agree.shared import QUICK, linear, words
from tests.study_tables import two_tables, write_study


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
