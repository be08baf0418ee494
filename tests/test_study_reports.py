"""An example of a misreading leads to the report of its own session, and to no other."""

from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote

import pandas as pd
import pytest

from condyle.files.tables import write_csv
from condyle.study import agree
from condyle.study.reading import RunTable
from condyle.study.reports import reports_of, with_reports
from condyle.study.settings import load_settings

QUICK = load_settings().model_copy(update={"draws": 200})


class Links(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.links: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "a":
            self.links.append(dict(attrs)["href"] or "")


def tables(who: list[str]) -> tuple[pd.DataFrame, pd.DataFrame]:
    """measures and repetitions in which the pelvis did it and the planar rule blames the hip."""
    rows, reps = [], []
    for k, participant in enumerate(who):
        for repetition in (1, 2, 3):
            key = {"participant": participant, "session": "1", "trial": "a", "side": "right", "repetition": repetition}
            reps.append(
                {**key, "cause": "with_the_pelvis", "valid": True, "planar_reading": "knee_in", "misread": "yes"}
            )
            seen = {"knee_travel": 60 + k, "knee_path_angle_descent": 45, "fppa_at_bottom": 30 + k + repetition}
            seen["hip_adduction_at_bottom"] = 5 + k * repetition
            rows += [
                {**key, "task": "single_leg_squat", "measure": m, "value": v, "unit": "deg"} for m, v in seen.items()
            ]
    return pd.DataFrame(rows), pd.DataFrame(reps)


def written(folder: Path, who: list[str], report: bool = True) -> Path:
    folder.mkdir(parents=True)
    for name, table in zip(("measures", "repetitions"), tables(who), strict=True):
        write_csv(folder / f"{name}.csv", table)
    if report:
        (folder / "report.html").write_text("report")
    return folder / "measures.csv"


def test_examples_of_an_archive_lead_to_the_reports_of_its_sessions(tmp_path: Path) -> None:
    archive = tmp_path / "archive"
    measures = written(archive, ["MR01", "MR02", "MR03"], report=False)
    folders = {"MR01": "team #1/MR01", "MR02": "MR02/a%20b", "MR03": "../elsewhere"}
    for place in folders.values():
        (archive / "sessions" / place).mkdir(parents=True)
        (archive / "sessions" / place / "report.html").write_text("report")
    columns = ["folder", "participant", "session", "status"]
    write_csv(
        archive / "sessions.csv", pd.DataFrame([(f, p, "1", "done") for p, f in folders.items()], columns=columns)
    )
    study = agree([measures], tmp_path / "out", pairs=["fppa:hip_adduction"], settings=QUICK)
    found = study.examples.groupby("participant")["report"].first().to_dict()
    assert found == {
        "MR01": "../archive/sessions/team #1/MR01/report.html",
        "MR02": "../archive/sessions/MR02/a%20b/report.html",
        "MR03": "",  # a folder that is not below the archive's sessions
    }
    written_out = pd.read_csv(tmp_path / "out" / "misreading_examples.csv", keep_default_na=False)
    assert written_out["report"].tolist() == study.examples["report"].tolist()
    page = Links()
    page.feed((tmp_path / "out" / "agreement.html").read_text(encoding="utf-8"))
    assert len(page.links) == 6
    assert all((tmp_path / "out" / unquote(link)).is_file() for link in page.links)


def test_examples_of_runs_lead_to_the_report_beside_their_measures(tmp_path: Path) -> None:
    files = [written(tmp_path / who, [who], report=who != "MR02") for who in ("MR01", "MR02")]
    study = agree(files, tmp_path / "out", pairs=["fppa:hip_adduction"], settings=QUICK, page=False)
    found = study.examples.groupby("participant")["report"].first().to_dict()
    assert found == {"MR01": "../MR01/report.html", "MR02": ""}


def test_a_session_with_two_reports_has_none(tmp_path: Path) -> None:
    runs = [RunTable(written(tmp_path / name, ["MR01"]), frozenset({("MR01", "1")})) for name in ("a", "b")]
    assert reports_of(runs[:1]) == {("MR01", "1"): (tmp_path / "a" / "report.html").resolve()}
    assert reports_of(runs) == {}


def test_without_reports_the_page_has_no_links(tmp_path: Path) -> None:
    measures = written(tmp_path / "run", ["MR01", "MR02"], report=False)
    study = agree([measures], tmp_path / "out", pairs=["fppa:hip_adduction"], settings=QUICK)
    page = Links()
    page.feed((tmp_path / "out" / "agreement.html").read_text(encoding="utf-8"))
    assert page.links == []
    assert set(study.examples["report"]) == {""}
    assert with_reports(study.examples.iloc[:0], {}, tmp_path)["report"].empty


@pytest.mark.parametrize("text", ["participant,session\nMR01,1\n", '"broken\n'])
def test_a_spoilt_list_of_sessions_costs_the_links_only(tmp_path: Path, text: str) -> None:
    run = RunTable(written(tmp_path / "run", ["MR01"]), frozenset({("MR01", "1")}))
    (tmp_path / "run" / "sessions.csv").write_text(text)
    assert reports_of([run]) == {}
