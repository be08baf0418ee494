"""Stages may be left out: whatever is left is run to the end with its report, or refused in plain words; never a crash."""

import os
from collections.abc import Iterator
from itertools import chain, combinations
from pathlib import Path

import pytest
from matplotlib.figure import Figure

from condyle.errors import ConfigurationErrors
from condyle.files.c3d import C3DReader
from condyle.files.pipeline_file import pipeline_from
from condyle.report.drawing import WIDTH, Picture, styled
from condyle.session import process
from condyle.stages import STAGES
from tests.small_sessions import base_recordings, write_session_file

NAMES = [stage.name for stage in STAGES]
ONE_OR_TWO = [{*out} for out in chain(combinations(NAMES, 0), combinations(NAMES, 1), combinations(NAMES, 2))]
CUT_SHORT = [{*NAMES[k:]} for k in range(NAMES.index("measures") + 1, NAMES.index("calibrate"), -1)]


def stages_without(left_out: set[str]) -> list[object]:
    kept = [{"uncertainty": {"draws": 40}} if name == "uncertainty" else name for name in NAMES if name not in left_out]
    return ["read", *kept, "report"]


def refused(left_out: set[str]) -> list[str]:
    try:
        pipeline_from({"stages": stages_without(left_out)}, STAGES)
    except ConfigurationErrors as error:
        return str(error).splitlines()
    return []


ALLOWED = [out for out in ONE_OR_TWO + [out for out in CUT_SHORT if len(out) > 2] if not refused(out)]


@pytest.fixture(scope="module")
def session(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("sub")
    (base,) = base_recordings(place / "base", ["hip_in"])
    folder = place / "MR00001" / "2026-11-03"
    folder.mkdir(parents=True)
    for name in ("static.c3d", "squat.c3d"):
        os.link(base / name, folder / name)
    write_session_file(folder, "MR00001", ["squat"])
    return folder


@pytest.fixture(scope="module")
def reader() -> Iterator[C3DReader]:
    with C3DReader() as own:
        yield own


def drawn_only(picture: Picture) -> str:
    """The figure drawn, but not turned into SVG, which takes most of the time."""
    with styled():
        figure = Figure(figsize=(WIDTH, picture.height))
        picture.draw(figure, WIDTH, picture.height)
    return f"<!-- {picture.name} -->"


@pytest.mark.parametrize("left_out", ALLOWED, ids=lambda out: "without " + " ".join(sorted(out)) if out else "all")
def test_what_is_left_is_run_to_its_report(
    left_out: set[str], session: Path, reader: C3DReader, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("condyle.report.page.inline_svg", drawn_only)
    pipeline = session.parent.parent / "squat.yaml"
    pipeline.write_text("stages:\n" + "".join(f"  - {step}\n" for step in stages_without(left_out)))
    assert process(session, tmp_path / "results", reader=reader).exit_status == 0
    written = {path.name for path in (tmp_path / "results").iterdir()}
    page = (tmp_path / "results" / "report.html").read_text(encoding="utf-8")
    for stage in ("repetitions", "measures", "contributions"):
        assert (f"{stage}.csv" in written) == (stage not in left_out)
    assert ("<!-- curves0 -->" in page) == ("repetitions" not in left_out)
    assert ("<!-- bars0 -->" in page) == ("contributions" not in left_out)


def test_the_rest_is_refused_naming_what_is_missing() -> None:
    wrong = [out for out in ONE_OR_TWO if out not in ALLOWED]
    assert len(wrong) > 40
    for out in wrong:
        said = " ".join(refused(out))
        assert any(f"which `{name}` gives; add `{name}` before it" in said for name in out), out


def test_a_report_shows_no_table_of_a_run_before(
    session: Path, reader: C3DReader, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("condyle.report.page.inline_svg", drawn_only)
    pipeline, results = session.parent.parent / "squat.yaml", tmp_path / "results"
    for left_out in ({"uncertainty"}, {"contributions", "uncertainty"}):
        pipeline.write_text("stages:\n" + "".join(f"  - {step}\n" for step in stages_without(left_out)))
        process(session, results, overwrite=True, reader=reader)
    assert not (results / "contributions.csv").exists()
    assert "<!-- bars0 -->" not in (results / "report.html").read_text(encoding="utf-8")
