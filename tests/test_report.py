"""The report says what the tables say, and nothing that quality rejected; it is escaped, self-contained, shareable."""

import base64
import hashlib
import html
import json
import re
import subprocess
import sys
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from condyle.files.netcdf import read_trial, write_trial
from condyle.files.pipeline_file import ReportSettings
from condyle.quality_page import write_quality
from condyle.repeatability.comparing import repeatability_yaml
from condyle.report import write_report
from condyle.report.answers import answer_of
from condyle.report.comparing import difference, sides
from condyle.report.content import content_of
from condyle.report.detectable import PUBLISHED, Repeatability, detectable
from condyle.report.drawing import INK, SIDE_STYLE, SOURCE_STYLE, inline_svg
from condyle.report.last_session import since_last
from condyle.report.legs import Estimate, legs_of
from condyle.report.results_read import read_results
from condyle.report.sharing import scrubbed
from condyle.report.words import CAUSE_SENTENCE, CAUTIONS
from tests.report_results import changed, computed, copied

SCRIPT = '<script>alert("x")</script>$\\frac{1}'
SETTINGS = ReportSettings()


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


def text_of(page: str) -> str:
    return html.unescape(re.sub(r"<[^>]+>", " ", page))


def test_the_sentence_of_a_leg_is_the_sum_and_the_parts_of_contributions_csv(folder: Path) -> None:
    table = pd.read_csv(folder / "contributions.csv")
    for leg in legs_of(read_results(folder)):
        own = table[(table.side == leg.side) & (table.measure == leg.explains)]
        whole = own.groupby("repetition").value.sum().mean()
        said = answer_of(leg).sentence
        assert f"changes {abs(whole):.0f} degrees {'inward' if whole > 0 else 'outward'}" in said
        largest = own.groupby("source").value.mean().abs().idxmax()
        assert largest == {"right": "pelvis_rotation", "left": "hip_adduction"}[leg.side]
        words = {"pelvis_rotation": "the pelvis turning", "hip_adduction": "hip adduction"}[largest]
        assert f"{words} {own[own.source == largest].value.mean():.0f}" in said


@pytest.mark.parametrize(
    ("standing", "words"),
    [
        ((), None),
        (
            (2,),
            "in 1 of 5 repetitions (repetition 2) the posture that brings the knee there was held before the squat began. "
            "The cause named for it is that of the change from standing; the account shown here is from start to bottom",
        ),
        (
            (1, 2, 4, 5),
            "in 4 of 5 repetitions (repetitions 1, 2, 4 and 5) the posture that brings the knee there was held before the "
            "squat began. The cause named for them is that of the change from standing, as is the account shown here; "
            "the cause named for repetition 3 is that of the change from start to bottom.",
        ),
        (
            (1, 2, 3, 4, 5),
            "in all 5 repetitions the posture that brings the knee there was held before the squat began; ",
        ),
    ],
)
def test_a_posture_held_in_some_repetitions_only_is_said_of_those(
    folder: Path, standing: tuple[int, ...], words: str | None
) -> None:
    left = next(leg for leg in legs_of(read_results(folder)) if leg.side == "left")
    copies = pd.concat([left.repetitions.iloc[:1]] * 5).assign(repetition=range(1, 6))
    copies["explains"] = ["fppa_from_standing" if r in standing else "fppa" for r in copies["repetition"]]
    leg = replace(left, repetitions=copies)
    answer = answer_of(leg)
    if words is None:
        assert answer.already == ""
    else:
        assert words in answer.already
    whole = len(standing) > 2
    assert ("from standing:" in answer.sentence) is whole
    assert ("from start to bottom:" in answer.sentence) is not whole
    assert ("account is therefore taken from the standing trial" in answer.already) is (len(standing) == 5)


def test_limits_are_shown_where_they_were_computed_and_nowhere_else(folder: Path, tmp_path: Path) -> None:
    results = read_results(folder)
    assert " to " not in answer_of(legs_of(results)[0]).sentence.split(":")[1]
    with_limits = copied(folder, tmp_path)
    changed(with_limits, "contributions", lower=lambda t: t["value"] - 4, upper=lambda t: t["value"] + 6)
    leg = legs_of(read_results(with_limits))[0]
    turning = leg.sources("fppa")["pelvis_rotation"]
    assert f"({turning.value - 4:.0f} to {turning.value + 6:.0f})" in answer_of(leg).sentence


def test_a_repetition_that_does_not_count_is_in_no_mean(folder: Path, tmp_path: Path) -> None:
    other = copied(folder, tmp_path)
    changed(other, "repetitions", valid=lambda t: ["false", *["true"] * (len(t) - 1)])
    changed(
        other, "contributions", value=lambda t: t["value"] + 1000.0 * ((t["repetition"] == 1) & (t["side"] == "right"))
    )
    changed(
        other,
        "measures",
        value=lambda t: pd.to_numeric(t["value"]) + 1000.0 * ((t["repetition"] == 1) & (t["side"] == "right")),
    )
    right = legs_of(read_results(other))[0]
    plain = legs_of(read_results(folder))[0]
    assert right.change("fppa").n == 1
    assert right.change("fppa").value == pytest.approx(plain.change("fppa").value, abs=3)
    assert right.measure("fppa_change").value < 100


def test_a_rejected_trial_is_named_with_its_reason_and_shown_nowhere(
    folder: Path, tmp_path: Path, no_figures: None
) -> None:
    other = copied(folder, tmp_path)
    manifest = json.loads((other / "manifest.json").read_text())
    manifest["trials"]["squat_left"] = "rejected"
    (other / "manifest.json").write_text(json.dumps(manifest))
    for name in ("measures", "contributions", "repetitions", "curves"):
        table = pd.read_csv(other / f"{name}.csv", keep_default_na=False)
        table[table.trial != "squat_left"].to_csv(other / f"{name}.csv", index=False)
    changed(other, "quality", verdict=lambda t: ["reject", *t["verdict"][1:]], advice="a marker was swapped")
    text = write_report(other)[0].read_text()
    assert "Rejected in part: squat_left was rejected" in text
    assert "a marker was swapped" in text
    data = json.loads(re.search(r'id="skeleton-data">(.*?)</script>', text, re.DOTALL)[1])  # type: ignore[index]
    assert [t["name"] for t in data["trials"]] == ["squat_right"]
    assert "Left leg" not in text


@pytest.mark.parametrize("standing", ["rejected", "processed"])
def test_a_session_of_which_nothing_is_left_is_rejected_as_a_whole(
    folder: Path, tmp_path: Path, no_figures: None, standing: str
) -> None:
    other = copied(folder, tmp_path)
    manifest = json.loads((other / "manifest.json").read_text())
    assert list(manifest["trials"]) == ["static", "squat_right", "squat_left"]
    manifest["trials"] = {"static": standing, "squat_right": "rejected", "squat_left": "rejected"}
    (other / "manifest.json").write_text(json.dumps(manifest))
    for name in ("measures", "contributions", "repetitions", "curves"):
        pd.read_csv(other / f"{name}.csv", keep_default_na=False)[:0].to_csv(other / f"{name}.csv", index=False)
    text = text_of(write_report(other)[0].read_text())
    names = "static, squat_right and squat_left" if standing == "rejected" else "squat_right and squat_left"
    assert f"Rejected as a whole: {names} were rejected, no trial is left and nothing is measured" in text
    assert "in part" not in text
    assert "no measures" not in text


def test_the_cautions_stand_on_the_page_and_cause_is_explained_under_every_verdict(page: str) -> None:
    text = text_of(page)
    for caution in CAUTIONS:
        assert caution in text
    answers = re.findall(r"<article.*?</article>", page, re.DOTALL)
    assert len(answers) == 2
    assert all(CAUSE_SENTENCE in text_of(a) for a in answers)


def test_text_from_files_is_shown_and_not_run(page: str) -> None:
    assert "<script>alert" not in page
    assert page.count("&lt;script&gt;alert") >= 4, "the label in a figure, the condition, the finding, the advice"


def test_the_content_security_policy_forbids_the_network_and_allows_this_script_only(page: str) -> None:
    policy = re.search(r'http-equiv="Content-Security-Policy" content="([^"]+)"', page)
    assert policy is not None
    assert "default-src 'none'" in policy[1]
    scripts = re.findall(r"<script>(.*?)</script>", page, re.DOTALL)
    assert len(scripts) == 1
    digest = base64.b64encode(hashlib.sha256(scripts[0].encode()).digest()).decode()
    assert f"script-src 'sha256-{digest}'" in policy[1]


def test_nothing_on_the_page_leads_or_loads_elsewhere(page: str) -> None:
    assert not re.findall(r"<(?:link|iframe|object|embed|base|form|img)\b", page)
    assert not re.findall(r"\bsrc\s*=", re.sub(r"<script.*?</script>", "", page, flags=re.DOTALL))
    assert all(target.startswith("#") for target in re.findall(r'href="([^"]*)"', page))
    assert all(target.startswith("#") for target in re.findall(r"url\(['\"]?([^)]*)\)", page))
    assert {u for u in re.findall(r"https?://[\w./]+", page) if "www.w3.org" not in u} == set()


def test_ids_are_unique_and_references_within_the_page_are_met(page: str) -> None:
    ids = re.findall(r'\bid="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    wanted = {t for t in re.findall(r'(?:xlink:href|href)="#([^"]+)"', page)} | set(
        re.findall(r"url\(#([^)]+)\)", page)
    )
    assert wanted <= set(ids)


def test_every_figure_says_its_finding_and_every_table_names_its_columns(page: str) -> None:
    figures = re.findall(r"<figure>(.*?)</figure>", page, re.DOTALL)
    assert len(figures) >= 10
    for figure in figures:
        title = re.search(
            r'role="img" aria-labelledby="([^"]+)".*?<title id="\1">([^<]{20,})</title>', figure, re.DOTALL
        )
        assert title is not None
    assert any("stays" in f or "travels" in f for f in figures)
    tables = re.findall(r"<table[^>]*>(.*?)</table>", page, re.DOTALL)
    assert all('<th scope="col"' in t and "<caption>" in t and 'scope="row"' in t for t in tables)
    levels = [int(h) for h in re.findall(r"<h([1-6])\b", page)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(b - a <= 1 for a, b in pairwise(levels))


def test_the_page_is_small_and_the_same_every_time(folder: Path, page: str, no_figures: None) -> None:
    assert len(page.encode()) < 3e6
    assert write_report(folder)[0].read_bytes() == write_report(folder)[0].read_bytes()


def test_a_figure_is_the_same_every_time(folder: Path) -> None:
    from condyle.report.drawing import inline_svg

    groups = content_of(read_results(folder), SETTINGS, False).groups
    picture = groups[0].bar
    assert picture is not None
    first = inline_svg(picture)
    assert first == inline_svg(picture)
    assert "dc:date" not in first


def test_a_shared_report_has_no_dates_paths_or_fingerprints(folder: Path, tmp_path: Path, no_figures: None) -> None:
    other = copied(folder, tmp_path)
    advice = "see /home/tester/MR01/2026-11-03/squat.c3d, recorded 3.11.2026"
    changed(other, "quality", advice=advice)
    plain, text = (write_report(other, share=share)[0].read_text() for share in (False, True))
    assert "2026-11-03" in plain
    assert "squat_right.c3d" in plain
    for forbidden in ("2026-11-03", "3.11.2026", "/home", ".c3d"):
        assert forbidden not in text
    assert not re.search(r"\b[0-9a-f]{64}\b", text)
    assert "MR01" in text


def test_scrubbing_spares_numbers_and_words() -> None:
    for kept in (
        "knee and/or hip",
        "32.5 (20.1 to 45.9)",
        "Weeks, Carty & Horan 2015, BMC Musculoskelet Disord 16:271",
    ):
        assert scrubbed(kept) == kept
    for said in ("20261103", "2026_11_03", "C:\\lab\\MR01", "../2026-03-01", "a" * 64):
        assert "[" in scrubbed(said)
        assert said not in scrubbed(said)


def test_sides_are_compared_at_60_degrees_only_where_depths_differ(folder: Path, tmp_path: Path) -> None:
    compared = sides(legs_of(read_results(folder)))
    assert compared is not None
    assert any(row.what == "FPPA, change" for row in compared.rows)
    other = copied(folder, tmp_path)
    read = pd.read_csv(other / "measures.csv")
    deeper = (read["measure"] == "knee_flexion_at_bottom") & (read["side"] == "left")
    changed(other, "measures", value=read["value"] + 9.0 * deeper)
    compared = sides(legs_of(read_results(other)))
    assert compared is not None
    assert not any(row.what == "FPPA, change" for row in compared.rows)
    assert any("60° knee flexion" in row.what for row in compared.rows)
    assert "9 degrees apart" in compared.note


def second_trial(folder: Path, place: Path, deeper_deg: float, reaches_60: bool = True) -> Path:
    """The results with a second trial of the right leg, a copy of the first but for its depth."""
    other = copied(folder, place)
    for name in ("measures", "contributions", "repetitions"):
        table = pd.read_csv(other / f"{name}.csv", keep_default_na=False)
        more = table[table["side"] == "right"].assign(trial="again")
        if name == "measures":
            bottom = more["measure"].isin(["knee_flexion_at_bottom"])
            more["value"] = pd.to_numeric(more["value"]) + deeper_deg * bottom
        if not reaches_60 and name != "repetitions":
            more["value"] = pd.to_numeric(more["value"]).where(~more["measure"].str.endswith("_at_60_knee_flexion"))
        pd.concat([table, more]).to_csv(other / f"{name}.csv", index=False)
    return other


def test_trials_of_unlike_depth_are_not_averaged_at_the_bottom_without_a_word(folder: Path, tmp_path: Path) -> None:
    plain = legs_of(read_results(folder))
    assert "depth drives" not in answer_of(plain[0]).mean_of
    pooled = legs_of(read_results(second_trial(folder, tmp_path, -40.0, reaches_60=False)))
    words = answer_of(pooled[0]).mean_of
    assert words.startswith("Mean of 4 repetitions")
    assert "The knee was bent 39 to 79 degrees at their bottoms" in words
    assert "(mean of 2 repetitions that reach it)" in words
    compared, alone = sides(pooled), sides(plain)
    assert compared is not None
    assert alone is not None
    assert "unlike depth (39 to 79 degrees of knee flexion at the bottom); 2 of 4 reach 60 degrees" in compared.note
    assert not any(row.what == "FPPA, change" for row in compared.rows), "though the means may be equally deep"
    at_60 = [[r.first for r in c.rows if r.what == "FPPA, change to 60° knee flexion"] for c in (compared, alone)]
    assert at_60[0] == at_60[1], "by the repetitions that reach it"
    alike = sides(legs_of(read_results(second_trial(folder, tmp_path / "alike", 2.0))))
    assert alike is not None
    assert any(row.what == "FPPA, change" for row in alike.rows)


def test_the_limits_of_a_difference_of_normal_estimates_add_in_quadrature() -> None:
    apart = difference(Estimate(10, 7, 13, 1, 5), Estimate(4, 0, 8, 1, 5))
    assert (apart.value, apart.lower, apart.upper) == (6, pytest.approx(1), pytest.approx(11))


def test_a_change_between_sessions_is_judged_by_the_minimal_detectable_change(folder: Path, tmp_path: Path) -> None:
    now = copied(folder, tmp_path / "now")
    before = copied(folder, tmp_path / "before")
    row = {"task": "single_leg_squat", "measure": "fppa_at_60_knee_flexion", "unit": "deg", "sem_mean": 3.0}
    row |= {"repetitions": 2.0, "sem_single": 4.0, "participants": 12, "sessions": 24}
    (tmp_path / "repeatability.yaml").write_text(repeatability_yaml(pd.DataFrame([row])))
    manifest = json.loads((now / "manifest.json").read_text())
    manifest["settings"]["session"] |= {"previous": "../before_", "pipeline": str(tmp_path / "pipeline.yaml")}
    (now / "manifest.json").write_text(json.dumps(manifest))
    assert "no results yet" in since_last(read_results(now), False)[0]
    manifest["settings"]["session"]["previous"] = "../../before/session"
    (now / "manifest.json").write_text(json.dumps(manifest))
    for shift, words in ((8.0, "cannot be told from measurement error"), (0.4, "beyond measurement error")):
        changed(
            before,
            "measures",
            value=lambda t, s=shift: pd.to_numeric(t["value"]) + s * (t["measure"] == "fppa_at_60_knee_flexion"),
        )
        said, legs = since_last(read_results(now), False)
        judged = {row.what: row.judgement for row in legs[0].rows}
        assert words in judged["FPPA at 60° knee flexion"], "8.0 then 8.4 degrees lie on both sides of 8.3"
        assert judged["hip adduction at 60° knee flexion"] == ""
        assert "this lab's repeat sessions of 12 people; for the mean of 2 repetitions" in legs[0].note
        assert "no change" not in " ".join(judged.values())
    assert "Same pipeline" in said
    assert "Overridden" not in legs[0].note
    changed(before, "measures", overridden=lambda t: ["shank_r, cluster fit: on video"] * len(t))
    note = since_last(read_results(now), False)[1][0].note
    assert "Overridden rejects then: squat_right: shank_r, cluster fit: on video." in note
    changed(before, "measures", participant="MR02")
    other = json.loads((before / "manifest.json").read_text()) | {"participant": "MR02"}
    (before / "manifest.json").write_text(json.dumps(other))
    assert "another participant" in since_last(read_results(now), False)[0]


def test_published_repeatability_is_used_for_the_2d_angle_it_was_measured_on_and_says_so_munro_2012() -> None:
    known = PUBLISHED["fppa_at_bottom"]
    change = detectable(known, 5)
    assert change is not None
    assert change.value == pytest.approx(8.3156, abs=1e-4)  # 1.96 sqrt(2) 3.0
    assert "2D" in change.source
    assert detectable(known, 1) is None, "of one repetition nothing is published"


def test_mdc_is_1_96_root_2_sem_of_the_mean_or_of_one_repetition() -> None:
    known = Repeatability(2.0, 5.0, 3.0, "ours")
    many, one = detectable(known, 5), detectable(known, 1)
    assert many is not None
    assert one is not None
    assert many.value == pytest.approx(5.5437, abs=1e-4)  # 1.96 sqrt(2) 2.0
    assert one.value == pytest.approx(8.3156, abs=1e-4)
    assert (many.of, one.of) == ("the mean of 5 repetitions", "one repetition")


def test_published_values_are_those_of_the_participants_sex_vs_weeks_2015(folder: Path) -> None:
    context = content_of(read_results(folder), SETTINGS, False).groups[0].context
    assert context is not None
    row = next(r for r in context.rows if r.what == "hip adduction range")
    assert row.published == ["women 20-40 years: 18.3 ± 6.7"]
    assert "Weeks" in " ".join(context.sources)


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
