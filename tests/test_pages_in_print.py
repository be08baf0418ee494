"""In print no caption and no heading of columns is left behind by its table, and no row is cut."""

import re
from pathlib import Path

import pytest

import condyle

ROOT = Path(condyle.__file__).parent
PAGES = {  # page: where its style stands
    "report/report.html": "report/report.css",
    "report/quality.html": "report/report.css",
    "study/agreement.html": "study/agreement.html",
    "archive/overview.html": "archive/overview.html",
}


def test_every_page_is_named_here() -> None:
    assert {p.relative_to(ROOT).as_posix() for p in ROOT.rglob("*.html")} == set(PAGES)


@pytest.mark.parametrize("page", PAGES)
@pytest.mark.parametrize(
    ("what", "rule"),
    [("caption", "break-after"), ("thead", "break-after"), ("h2", "break-after"), ("tr", "break-inside")],
)
def test_tables_keep_together_in_print(page: str, what: str, rule: str) -> None:
    style = (ROOT / PAGES[page]).read_text(encoding="utf-8")
    printed = style[style.index("@media print") :]
    rules = re.findall(r"([^{}]+)\{([^{}]*)\}", printed)
    kept = {name.strip() for names, told in rules if f"{rule}: avoid" in told for name in names.split(",")}
    assert what in kept
