"""One session in two inputs: what is alike counts once, what contradicts itself takes no part, and never a traceback."""

import shutil
from pathlib import Path

import pandas as pd
import pytest

from condyle.command import main
from condyle.errors import DataError
from condyle.files.tables import write_csv
from condyle.study import agree
from tests.agree.shared import QUICK, words
from tests.study_tables import write_study

PAIRS = ["fppa_frontal_at_bottom:fppa_at_bottom"]
TABLES = ("agreement", "pairs", "misreading", "curve_agreement", "camera")


def run_again(measures: Path, folder: Path, apart: float = 0.0) -> Path:
    """The same run in another folder, its values as another cut-off would change them."""
    shutil.copytree(measures.parent, folder)
    for name in ("measures", "contributions"):
        table = pd.read_csv(folder / f"{name}.csv", dtype={"participant": str})
        write_csv(folder / f"{name}.csv", table.assign(value=table["value"] + apart))
    return folder / "measures.csv"


def test_a_session_under_two_settings_is_one_sentence_and_nothing_is_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (first,) = write_study(tmp_path / "runs", participants=1)
    second = run_again(first, tmp_path / "again", apart=1.0)
    said = r"^\d+ rows of measures contradict one another, the first .* of participant MR01, session 2026-11-03, trial "
    with pytest.raises(DataError, match=f"{said}.* no measure is left .* name each run once"):
        agree([first, second], tmp_path / "out", settings=QUICK, page=False)
    assert main(["agree", str(first.parent), str(second.parent), "--out", str(tmp_path / "out")]) == 1
    assert not (tmp_path / "out").exists()
    assert len(capsys.readouterr().err.strip().splitlines()) == 1


def test_among_others_a_contradicting_session_takes_no_part_in_any_table(tmp_path: Path) -> None:
    runs = write_study(tmp_path / "runs", participants=5)
    second = run_again(runs[0], tmp_path / "again", apart=1.0)
    agree(runs[1:], tmp_path / "without", pairs=PAIRS, settings=QUICK, page=False)
    study = agree([*runs, second], tmp_path / "out", pairs=PAIRS, settings=QUICK, page=False)
    assert "2 trials are left out of the whole study" in words(study)
    same_tables(tmp_path / "out", tmp_path / "without")


def test_a_session_named_twice_with_the_same_values_counts_once_in_every_table(tmp_path: Path) -> None:
    runs = write_study(tmp_path / "runs", participants=4)
    again = run_again(runs[0], tmp_path / "again")
    agree(runs, tmp_path / "once", pairs=PAIRS, settings=QUICK, page=False)
    study = agree([*runs, again], tmp_path / "twice", pairs=PAIRS, settings=QUICK, page=False)
    assert "stand twice with the same value; each counts once" in words(study)
    same_tables(tmp_path / "twice", tmp_path / "once")


def test_causes_that_contradict_one_another_are_left_out_too(tmp_path: Path) -> None:
    runs = write_study(tmp_path / "runs", participants=4)
    again = run_again(runs[0], tmp_path / "again")
    table = pd.read_csv(again.parent / "repetitions.csv")
    write_csv(again.parent / "repetitions.csv", table.assign(cause="mixed"))
    study = agree([*runs, again], tmp_path / "out", pairs=PAIRS, settings=QUICK, page=False)
    assert "rows of repetitions contradict one another, the first participant MR01" in words(study)
    assert "MR01" not in set(study.pairs["participant"])


def same_tables(one: Path, other: Path) -> None:
    for name in TABLES:
        made, wanted = (pd.read_csv(folder / f"{name}.csv") for folder in (one, other))
        assert len(made)
        pd.testing.assert_frame_equal(made, wanted)
