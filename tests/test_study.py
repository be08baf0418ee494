"""The worked study on a few people: from C3D files to the misreading table (the whole one: python -m tests.study)."""

from pathlib import Path

import numpy as np
import pandas as pd

from tests.study import END, START, markdown, run_study

PAGE = Path(__file__).parents[1] / "docs" / "study_worked.md"


def test_worked_study_on_two_people(tmp_path: Path) -> None:
    study = run_study(tmp_path, participants=2, draws=200, page=False)
    table = pd.read_csv(tmp_path / "agreement" / "agreement.csv")
    assert set(table.loc[table["statistic"] == "bias", "participants"]) <= {1, 2}
    pairs = pd.read_csv(tmp_path / "agreement" / "pairs.csv")
    assert (pairs["status"] == "paired").mean() > 0.9
    # a camera straight ahead sees nearly what the frontal plane shows; a turned one does not
    fppa = table[(table["planar"] == "fppa_camera_at_bottom") & (table["reference"] == "fppa_at_bottom")]
    assert abs(fppa.set_index("statistic").loc["bias", "value"]) < 8
    camera = pd.read_csv(tmp_path / "agreement" / "camera.csv")
    slope = camera[(camera["measure"] == "fppa") & (camera["moved"] == "yaw_deg") & (camera["statistic"] == "slope")]
    assert (slope["value"] > 0.5).all()
    assert np.isfinite(slope["value"]).all()
    misreading = pd.read_csv(tmp_path / "agreement" / "misreading.csv")
    assert misreading["mix"].notna().all()
    assert "harrington" in " ".join(study.methods)
    assert "Causes in 3D" in markdown(study)


def test_page_of_the_worked_study_holds_its_figures() -> None:
    text = PAGE.read_text(encoding="utf-8")
    figures = text.split(START)[1].split(END)[0]
    assert "participants, " in figures
    assert figures.count("\n|") > 15
