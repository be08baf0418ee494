"""What the tests beside this file share."""

import html
from pathlib import Path

import numpy as np
import pytest

from condyle.files.netcdf import read_trial, write_trial
from condyle.report import write_report
from tests.report.shared import SCRIPT
from tests.report_results import changed, computed, copied


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return computed(tmp_path_factory.mktemp("report"))[1]


@pytest.fixture(scope="module")
def page(folder: Path) -> str:
    """The page, figures and all, of results whose labels, conditions and findings carry a script."""
    trial = read_trial(folder / "trials" / "squat_right.nc")
    label = trial["label"].values.astype(object)
    point = trial["point"].values.copy()
    label[0], point[5:30, 0] = SCRIPT, np.nan
    trial["label"] = ("marker", label.astype(str))
    trial["point"] = (("time", "marker", "axis"), point)
    trial["seen_as_read"].values[5:30, 0] = False
    strange = copied(folder, folder.parent.parent / "strange")
    write_trial(strange / "trials" / "squat_right.nc", trial)
    changed(strange, "quality", advice=lambda t: [SCRIPT, *t["advice"][1:]])
    changed(strange, "measures", condition=SCRIPT)
    changed(strange, "repetitions", findings=lambda t: [SCRIPT, *t["findings"][1:]])
    return write_report(strange)[0].read_text(encoding="utf-8")


@pytest.fixture
def no_figures(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("condyle.report.page.inline_svg", lambda picture: f"<!-- {html.escape(picture.finding)} -->")
