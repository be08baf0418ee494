"""Every relative link and anchor in README and docs leads somewhere, and every page is reached from docs/index.md."""

import json
import re
from pathlib import Path
from urllib.parse import unquote

import pytest

ROOT = Path(__file__).parents[1]
DOCS = ROOT / "docs"
TOPS = ("README.md", "DEVELOPERS.md", "sample_trials/README.md")
PAGES = sorted([*(ROOT / name for name in TOPS), *DOCS.rglob("*.md"), *DOCS.rglob("*.ipynb")])
LINK = re.compile(r"!?\[(?:[^\[\]]|\[[^\]]*\])*\]\(([^)\s]+)\)")


def text_of(page: Path) -> str:
    """The page's Markdown without code, where brackets mean something else."""
    text = page.read_text(encoding="utf-8")
    if page.suffix == ".ipynb":
        text = "\n\n".join("".join(c["source"]) for c in json.loads(text)["cells"] if c["cell_type"] == "markdown")
    text = re.sub(r"^```.*?^```", "", text, flags=re.M | re.S)
    return re.sub(r"`[^`\n]*`", lambda m: m.group().replace("[", " ").replace("]", " "), text)


def anchors_of(page: Path) -> set[str]:
    """What headings are called in a link: lower case, marks left out, blanks as hyphens; doubled ones are numbered."""
    out: dict[str, int] = {}
    names = set()
    for heading in re.findall(r"^#{1,6} +(.+?) *$", text_of(page), flags=re.M):
        bare = re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-")
        names.add(f"{bare}-{out[bare]}" if bare in out else bare)
        out[bare] = out.get(bare, 0) + 1
    return names


def links_of(page: Path) -> list[str]:
    return [link for link in LINK.findall(text_of(page)) if not re.match(r"[a-z]+:", link)]


def target_of(page: Path, link: str) -> tuple[Path, str]:
    path, _, anchor = unquote(link).partition("#")
    return (page.parent / path).resolve() if path else page, anchor


def complaints_of(page: Path) -> list[str]:
    out = []
    for link in links_of(page):
        target, anchor = target_of(page, link)
        if not target.exists():
            out.append(f"{link}: no such file")
        elif anchor and target.suffix in (".md", ".ipynb") and anchor not in anchors_of(target):
            out.append(f"{link}: no such heading; there are {', '.join(sorted(anchors_of(target)))}")
    return out


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.relative_to(ROOT).as_posix())
def test_every_relative_link_and_anchor_exists(page: Path) -> None:
    assert not complaints_of(page)


def test_every_page_is_reached_from_the_index() -> None:
    reached, waiting = set(), [DOCS / "index.md"]
    while waiting:
        page = waiting.pop()
        if page in reached or page.suffix not in (".md", ".ipynb"):
            continue
        reached.add(page)
        waiting += [target for link in links_of(page) if (target := target_of(page, link)[0]).exists()]
    orphans = [p.relative_to(ROOT).as_posix() for p in PAGES if p not in reached and DOCS in p.parents]
    assert not orphans, f"no page leads to {orphans}; link them from docs/index.md"


def test_the_readme_leads_to_the_docs() -> None:
    assert "docs/index.md" in links_of(ROOT / "README.md")


def test_a_broken_link_and_a_broken_anchor_are_found(tmp_path: Path) -> None:
    page = tmp_path / "a.md"
    page.write_text(
        "# One Thing, twice\n[x](#one-thing-twice) [y](b.md) [z](#two) `[no](link.md)` [w](https://x.org/)\n"
    )
    assert [c.split(":")[0] for c in complaints_of(page)] == ["b.md", "#two"]
