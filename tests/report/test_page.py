"""The page is escaped, self-contained, small, legible and the same every time."""

import base64
import hashlib
import re
from itertools import pairwise
from pathlib import Path

from condyle.report import write_report
from condyle.report.content import content_of
from condyle.report.drawing import inline_svg
from condyle.report.results_read import read_results
from condyle.report.words import CAUSE_SENTENCE, CAUTIONS
from tests.report.shared import SETTINGS, text_of


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

    groups = content_of(read_results(folder), SETTINGS, False).groups
    picture = groups[0].bar
    assert picture is not None
    first = inline_svg(picture)
    assert first == inline_svg(picture)
    assert "dc:date" not in first
