"""agreement.html: self-contained, escaped, readable without colour, with the cautions on it."""

import re
from html.parser import HTMLParser
from pathlib import Path

import pandas as pd
import pytest

from condyle.files.tables import write_csv
from condyle.study import agree
from condyle.study.page import CAUTIONS, counted, number
from condyle.study.settings import load_settings
from tests.study_tables import two_tables, write_study

QUICK = load_settings().model_copy(update={"draws": 200})


class Seen(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.ids: list[str] = []
        self.attributes: list[tuple[str, str]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [(k, v or "") for k, v in attrs]
        self.ids += [v or "" for k, v in attrs if k == "id"]


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> str:
    folder = tmp_path_factory.mktemp("page")
    files = write_study(folder, participants=3, repetitions=2)
    agree(files, folder / "out", pairs=["fppa_camera:fppa", "fppa_camera:hip_adduction"], settings=QUICK)
    return (folder / "out" / "agreement.html").read_text(encoding="utf-8")


def test_page_needs_no_network_and_runs_nothing(page: str) -> None:
    assert "default-src 'none'" in page
    seen = Seen()
    seen.feed(page)
    assert not {"script", "link", "iframe", "object", "embed", "base", "form"} & set(seen.tags)
    urls = [v for k, v in seen.attributes if k in ("src", "href", "xlink:href", "action", "poster")]
    assert all(v.startswith(("#", "data:image/png;base64,")) for v in urls)
    assert not [k for k, _ in seen.attributes if k.startswith("on")]
    assert not re.search(r"@import|url\((?!#)", page)


def test_ids_are_unique_and_every_figure_speaks(page: str) -> None:
    seen = Seen()
    seen.feed(page)
    assert len(seen.ids) == len(set(seen.ids))
    figures = page.count("<svg ")
    assert figures >= 5
    assert page.count('role="img" aria-label="') == figures
    inner = set(re.findall(r'(?:xlink:href="|url\()#([^")]+)', page))
    assert inner <= set(seen.ids)


def test_cautions_and_parts_stand_on_the_page(page: str) -> None:
    from html import unescape

    text = unescape(page)
    for words in (*CAUTIONS, "What the planar reading blames", "What the camera's place does", "Methods paragraph"):
        assert words in text
    assert "Over the whole repetition" in text
    assert "Not one quantity" in text
    for way in ("nan", "None,", "inf "):
        assert f">{way}" not in page


def test_what_a_file_says_is_shown_not_run(tmp_path: Path) -> None:
    bad = "<script>alert(1)</script>"
    measures, planar = two_tables(tmp_path, [(f"{bad}{p}", float(p % 5), float(p)) for p in range(12)], unit=bad)
    frame = pd.read_csv(planar)
    write_csv(planar, frame.assign(measure=f'mini"><img src=x onerror=alert(2)>{bad}'))
    agree(
        [measures], tmp_path / "out", planar, settings=QUICK, pairs=[f'mini"><img src=x onerror=alert(2)>{bad}:large']
    )
    page = (tmp_path / "out" / "agreement.html").read_text(encoding="utf-8")
    seen = Seen()
    seen.feed(page)
    assert "script" not in seen.tags
    assert "img" not in seen.tags
    assert "&lt;script&gt;" in page


def test_cells_that_a_spreadsheet_would_run_are_neutralised(tmp_path: Path) -> None:
    measures, planar = two_tables(tmp_path, [(f"=HYPERLINK({p})", float(p % 5), float(p)) for p in range(12)])
    agree([measures], tmp_path / "out", planar, settings=QUICK, pairs=["mini:large"], page=False)
    for line in (tmp_path / "out" / "pairs.csv").read_text().splitlines():
        assert not re.search(r'(^|,)"?=', line)


NUMBERS = [
    *((float("nan"), "–"), (None, "–"), (float("inf"), "∞"), (-0.0001, "0.00")),
    *((-2.345, "−2.35"), (0.0512, "0.051"), (101.0, "101"), (12.34, "12.3")),
]


@pytest.mark.parametrize(("value", "text"), NUMBERS)
def test_numbers_for_reading(value: float | None, text: str) -> None:
    assert number(value) == text


def test_one_is_not_plural() -> None:
    assert counted(1, "pair") == "1 pair"
    assert counted(2, "pair") == "2 pairs"
