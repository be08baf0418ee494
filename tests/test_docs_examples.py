"""The Python that the how-to pages show runs as written, block after block, and does what the page says."""

import re
import shutil
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from condyle.files.netcdf import read_trial
from condyle.vocabulary import VARIABLES

ROOT = Path(__file__).parents[1]
DOCS = ROOT / "docs"


def blocks_of(page: Path) -> list[str]:
    return re.findall(r"^```python\n(.*?)^```", page.read_text(encoding="utf-8"), flags=re.M | re.S)


def executed(page: Path) -> dict[str, Any]:
    space: dict[str, Any] = {"__name__": "docs_example"}
    for number, block in enumerate(blocks_of(page), start=1):
        exec(compile(block, f"{page.name}, block {number}", "exec"), space)
    return space


@pytest.fixture
def project(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    shutil.copytree(ROOT / "sample_trials", tmp_path / "sample_trials", ignore=shutil.ignore_patterns("results"))
    shutil.copytree(ROOT / "configs", tmp_path / "configs")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_a_stage_of_ones_own_as_the_page_shows_it(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    try:
        space = executed(DOCS / "how_to_add_a_stage.md")
    finally:
        VARIABLES.pop("knee_flexion_speed", None)
    assert "deg/s against 130, review" in capsys.readouterr().out
    results = project / "with_tempo" / "results"
    quality = pd.read_csv(results / "quality.csv")
    assert (quality["check"] == "speed of bending").sum() == 10
    speed = read_trial(results / "trials" / "squat_right.nc")["knee_flexion_speed"]
    assert speed.attrs["units"] == "deg/s"
    repetitions = pd.read_csv(results / "repetitions.csv").query("side == 'right'")
    at_bottom = speed.sel(side="right").sel(time=repetitions["bottom_s"].to_numpy(), method="nearest")
    assert abs(at_bottom.to_numpy()).max() < 10, "at the bottom the knee turns round"
    assert "tempo" in space["result"].trials["squat_right"].seconds


def test_the_command_refuses_the_stage_as_the_page_says(project: Path) -> None:
    from condyle.errors import ConfigurationErrors
    from condyle.session import plan

    pipeline = project / "tempo.yaml"
    pipeline.write_text("stages: [read, check, tempo]\n")
    session = project / "sample_trials" / "MR01" / "2026-11-03" / "session.yaml"
    session.write_text(session.read_text().replace("../../../configs/single_leg_squat.yaml", "../../../tempo.yaml"))
    with pytest.raises(ConfigurationErrors, match="`tempo` is not known"):
        plan(session.parent)
