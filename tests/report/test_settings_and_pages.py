"""Settings, a session without repetitions, pages of paper, colours, imports, the page for the engineer."""

import json
import re
import subprocess
import sys
from pathlib import Path

import pandas as pd
import pytest

from condyle.files.pipeline_file import ReportSettings
from condyle.quality_page import write_quality
from condyle.report import write_report
from condyle.report.content import content_of
from condyle.report.drawing import INK, SIDE_STYLE, SOURCE_STYLE, inline_svg
from condyle.report.legs import legs_of
from condyle.report.results_read import read_results
from condyle.report.words import CAUSE_SENTENCE
from tests.report.shared import SCRIPT, SETTINGS, text_of
from tests.report_results import changed, computed, copied


def test_settings_leave_out_reference_values_and_skeleton(folder: Path, no_figures: None) -> None:
    full = write_report(folder)[0].read_text()
    bare = write_report(folder, settings=ReportSettings(reference_values=False, skeleton=False))[0].read_text()
    assert "Published values" in full
    assert "Published values" not in bare
    assert 'id="body-view"' in full
    assert "<script" not in bare


def test_a_session_without_repetitions_still_has_a_report(folder: Path, tmp_path: Path, no_figures: None) -> None:
    (tmp_path / "quality.csv").write_bytes((folder / "quality.csv").read_bytes())
    text = write_report(tmp_path)[0].read_text()
    assert "No repetition was measured" in text
    assert CAUSE_SENTENCE in text


def test_a_participant_called_na_or_010_keeps_the_name(folder: Path, tmp_path: Path) -> None:
    other = copied(folder, tmp_path)
    changed(other, "measures", participant="010", condition="NA")
    assert set(read_results(other).table("measures")["participant"]) == {"010"}
    assert legs_of(read_results(other))[0].condition == "NA"


def test_pdf_pages_are_a4_and_letter(folder: Path) -> None:
    from condyle.report.pages import write_pages

    content = content_of(read_results(folder), SETTINGS, False)
    content.groups[0].pictures, content.quality_pictures = content.groups[0].pictures[2:3], []
    for paper, width, height in (("a4", 595, 842), ("letter", 612, 792)):
        pdf = write_pages(folder / f"{paper}.pdf", paper, content).read_bytes()
        boxes = re.findall(rb"/MediaBox \[ 0 0 ([\d.]+) ([\d.]+) \]", pdf)
        assert len(boxes) >= 2
        assert all((round(float(w)), round(float(h))) == (width, height) for w, h in boxes)
        assert b"CreationDate" not in pdf


def luminance(colour: str) -> float:
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.03928 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def test_text_colours_reach_contrast_aa_and_sides_differ_in_grey() -> None:
    css = (Path(sys.modules["condyle.report"].__file__ or "").parent / "report.css").read_text()
    named = dict(re.findall(r"--(\w+): (#[0-9a-f]{6})", css))
    for name in ("ink", "grey", "accent"):
        assert contrast(named[name], named["pale"]) >= 4.5, name
    assert contrast(INK, "#ffffff") >= 4.5
    assert contrast(SIDE_STYLE["right"]["color"], SIDE_STYLE["left"]["color"]) >= 2.5
    looks = [(s["facecolor"], s["hatch"]) for s in SOURCE_STYLE.values()]
    assert len(set(looks)) >= len(looks) - 1, "only the two knees, never in one figure, look alike"


@pytest.mark.parametrize("words", [["--help"], ["run", "--help"]])
def test_help_imports_neither_matplotlib_nor_scipy_nor_pandas(words: list[str]) -> None:
    code = (
        "import sys\nfrom condyle.command import main\n"
        f"try:\n    main({words})\nexcept SystemExit:\n    pass\n"
        "print([n for n in ('matplotlib', 'scipy', 'pandas', 'xarray') if n in sys.modules])"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert out.strip().endswith("[]")


def test_the_report_marks_in_its_timeline_what_was_found_when(folder: Path, tmp_path: Path) -> None:
    other = copied(folder, tmp_path)
    manifest = json.loads((other / "manifest.json").read_text())
    row = {"trial": "squat_right", "subject": "L_SHANK_2", "check": "marker leaps", "verdict": "review", "advice": ""}
    for when, marked in (([], False), ([[1.0, 1.0], [2.5, 3.0]], True)):
        manifest["warnings"] = [{**row, "value": 20.0, "limit": 12.0, "unit": "mm", "times_s": when}]
        (other / "manifest.json").write_text(json.dumps(manifest))
        (picture, _) = content_of(read_results(other), SETTINGS, False).quality_pictures
        assert ("L_SHANK_2: marker leaps" in inline_svg(picture)) is marked


def test_the_engineers_page_holds_findings_worst_first_and_a_picture_per_trial(tmp_path: Path) -> None:
    result, _ = computed(tmp_path, condition=SCRIPT)
    written = {p.name: p for p in write_quality(result, tmp_path / "quality")}
    assert {"quality.csv", "quality.html", "quality_squat_right.svg"} <= set(written)
    text = written["quality.html"].read_text()
    assert "<script" not in text
    assert "default-src 'none'" in text
    assert "Quality" not in text_of(text), "there is no heading of that name to point to"
    assert "what was found stands in the table below" in text_of(text)
    places = re.findall(r'<a href="#(quality\d)">(\w+)</a>', text)
    assert [name for _, name in places] == [name for name in result.trials if name != "static"] + ["static"]
    assert all(f'<h2 id="{place}">Trial {name}: ' in text for place, name in places)
    verdicts = re.findall(r'<th scope="row">(pass|review|reject)</th>', text)
    assert verdicts == sorted(verdicts, key=["reject", "review", "pass"].index)
    table = pd.read_csv(written["quality.csv"])
    assert len(verdicts) == len(table) == len(result.findings)
    assert written["quality_squat_right.svg"].read_text().startswith("<?xml")
