"""The report as a row of blocks - headings, paragraphs, tables, pictures - for the pages of a PDF."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from condyle.report.comparing import Compared
from condyle.report.content import Content, Group
from condyle.report.drawing import Picture
from condyle.report.words import CAUSE_SENTENCE, CAUTIONS

Kind = Literal["title", "heading", "subheading", "text", "note", "strong"]


@dataclass(frozen=True)
class Words:
    """A heading or a paragraph."""

    kind: Kind
    text: str


@dataclass(frozen=True)
class Table:
    """A table: its caption, its column heads, its rows."""

    caption: str
    heads: list[str]
    rows: list[list[str]]


Block = Words | Table | Picture


def blocks_of(content: Content) -> Iterator[Block]:
    """Everything the page says, in its order."""
    yield Words("title", content.title)
    yield Words("note", "    ".join(f"{words}: {value}" for words, value in content.facts))
    yield Words("strong", content.quality.sentence)
    for group in content.groups:
        yield from _answers(group, len(content.groups) > 1)
    if not content.groups:
        yield Words("text", "No repetition was measured in this session. The reasons stand under Quality.")
    yield Words("subheading", "Before you use this")
    yield Words("note", " ".join(CAUTIONS))
    for group in content.groups:
        yield from _details(group)
    if content.other:
        yield Words("heading", "Trials without repetitions")
        yield from content.other
    if content.since_words:
        yield Words("heading", "Since the last session")
        yield Words("text", content.since_words)
        for leg in content.since:
            if leg.rows:
                yield _compared(leg.leg, "Now", "Then", "Change", leg.rows)
            yield Words("note", leg.note)
    yield from _quality(content)


def _answers(group: Group, named: bool) -> Iterator[Block]:
    if named:
        yield Words("heading", group.name)
    for leg, answer in group.legs:
        yield Words("subheading", leg.words.capitalize())
        yield Words("text", " ".join(part for part in (answer.sentence, answer.mean_of, answer.already) if part))
        said = (
            ("Knee path", answer.direction),
            ("Cause", answer.cause or ("not named" if answer.known else "")),
            ("Confidence", answer.confidence),
            ("From below", answer.from_below),
            ("A flat view", answer.planar),
        )
        yield Words("text", ".  ".join(f"{name}: {words}" for name, words in said if words) or "No cause is named.")
        yield Words("note", CAUSE_SENTENCE)
    if group.bar:
        yield group.bar


def _details(group: Group) -> Iterator[Block]:
    yield Words("heading", group.name)
    if group.sides:
        yield _compared("Left against right", group.sides.first, group.sides.second, "Difference", group.sides.rows)
        yield Words("note", group.sides.note)
    for numbers, words in group.repetitions:
        for table in (numbers, words):
            yield Table(f"Repetitions, {table.leg}", table.heads, [cells for _, cells in table.rows])
        yield Words("note", CAUSE_SENTENCE)
    for account in group.accounts:
        rows = [[source, *cells] for source, cells in account.rows]
        yield Table(f"Accounts, {account.leg}", ["Part", *account.heads], [*rows, ["whole change", *account.totals]])
    if group.context:
        rows = [
            [r.what, r.unit, *(r.values.get(side, "") for side in group.context.sides), "; ".join(r.published)]
            + (["; ".join(r.scores)] if group.context.scored else [])
            for r in group.context.rows
        ]
        heads = ["Measure", "Unit", *(side.capitalize() for side in group.context.sides), "Published, mean ± SD"]
        heads += ["z"] if group.context.scored else []
        yield Table("Published values, as context: no limit between normal and not", heads, rows)
        yield Words("note", group.context.scores)
        yield Words("note", f"Sources: {'; '.join(group.context.sources)}.")
    for mistake in group.complaints:
        yield Words("note", f"Left out, for there is a mistake in it: {mistake}")
    yield from group.pictures
    for question, why in group.undrawn:
        yield Words("subheading", question)
        yield Words("note", why)


def _quality(content: Content) -> Iterator[Block]:
    yield Words("heading", "Quality")
    yield Words("text", content.quality.sentence)
    if content.quality.findings:
        heads = ["Verdict", "Trial", "Subject", "Check", "Value", "Limit", "Advice"]
        yield Table("To be looked at, worst first", heads, [list(f) for f in content.quality.findings])
    if content.quality.passed:
        yield Words(
            "note", f"{len(content.quality.passed)} checks passed; they are listed in report.html and quality.csv."
        )
    for correction in content.corrections:
        yield Words("note", f"Correction in the session file: {correction}")
    yield from content.quality_pictures
    if content.provenance:
        yield Table("Made from (SHA-256)", ["File", "SHA-256"], [list(pair) for pair in content.provenance])


def _compared(caption: str, first: str, second: str, difference: str, rows: list[Compared]) -> Table:
    return Table(caption, ["Measure", "Unit", first, second, difference, "In words"], [list(r) for r in rows])
