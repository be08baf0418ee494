"""A study that rests on a trial which quality had rejected says so, with the lab's reason, in every table and on its page."""

import json
import re
from pathlib import Path

import pandas as pd
import pytest

from condyle.files.tables import write_csv
from condyle.overridden import overridden_in
from condyle.study import agree
from condyle.study.settings import load_settings
from tests.study_tables import write_study

WHY = "shank_r, cluster fit: plate knocked; seen on video"
NAMED = f"MR02 2026-11-03 squat_right: {WHY}"
TABLES = ("agreement", "pairs", "misreading", "misreading_examples", "curve_agreement", "camera", "sample_size")
QUICK = load_settings().model_copy(update={"draws": 100})


def studied(folder: Path, overridden: bool) -> Path:
    """The folder of a study over four participants; the right squat of the second may have been let through."""
    measures = write_study(folder / "runs", participants=4, repetitions=2)
    for name in ("measures", "contributions"):
        path = folder / "runs" / "MR02" / f"{name}.csv"
        table = pd.read_csv(path)
        table["overridden"] = [WHY if overridden and t == "squat_right" else "" for t in table["trial"]]
        write_csv(path, table)
    pairs = ["fppa_frontal_at_bottom:fppa_at_bottom"]
    agree(measures, folder / "out", pairs=pairs, settings=QUICK, page=overridden)
    return folder / "out"


@pytest.fixture(scope="module")
def out(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return studied(tmp_path_factory.mktemp("overridden"), True)


def read(out: Path, name: str) -> pd.DataFrame:
    return pd.read_csv(out / f"{name}.csv", keep_default_na=False)


@pytest.mark.parametrize("name", TABLES)
def test_every_table_says_so_in_its_last_column(out: Path, name: str) -> None:
    table = read(out, name)
    assert len(table)
    assert table.columns[-1] == "overridden"
    if name in ("pairs", "misreading_examples"):
        of = (table["participant"] == "MR02") & (table["trial"] == "squat_right")
        assert set(table.loc[of, "overridden"]) <= {WHY}
        assert set(table.loc[~of, "overridden"]) == {""}
        assert of.any() or name != "pairs"
    else:
        assert set(table["overridden"]) == {NAMED}


def test_page_methods_and_manifest_say_so(out: Path) -> None:
    sentence = f"1 trial that quality had rejected is among these values, let through by the session file: {NAMED}."
    page = (out / "agreement.html").read_text()
    assert f'<p class="ask">{sentence}</p>' in page
    assert len(re.findall(re.escape(sentence), page)) == 2, "on top, and in the methods paragraph"
    assert sentence in (out / "methods.txt").read_text()
    assert sentence in json.loads((out / "manifest.json").read_text())["said"]


def test_a_study_without_overridden_rejects_says_nothing(tmp_path: Path) -> None:
    out = studied(tmp_path, False)
    for name in TABLES:
        assert set(read(out, name)["overridden"]) == {""}, name
    assert "rejected" not in (out / "methods.txt").read_text()
    assert not [words for words in json.loads((out / "manifest.json").read_text())["said"] if "rejected" in words]


def test_tables_from_before_the_column_say_nothing() -> None:
    old = pd.DataFrame({"participant": ["MR01"], "session": ["s"], "trial": ["t"]})
    new = old.assign(overridden=[None])
    assert not overridden_in(old, None, new).words
