"""The quality verdict: can this session be trusted, and what was found, worst first?"""

from typing import Any, NamedTuple

import pandas as pd

from condyle.findings import ACCEPTED, gravity
from condyle.report.results_read import Results, serving_trials
from condyle.report.words import joined, number

OVERRIDDEN = "reject, overridden"


class Finding(NamedTuple):
    """One row of the quality table, as text; the verdict of a reject that the session file overrides says so."""

    verdict: str
    trial: str
    subject: str
    check: str
    value: str
    limit: str
    advice: str


class Quality(NamedTuple):
    """The verdict in one word and one sentence, and the findings worth reading."""

    verdict: str
    sentence: str
    findings: list[Finding]  # rejects and reviews, worst first
    passed: list[Finding]
    rejected_trials: list[str]


def quality_of(results: Results) -> Quality:
    """The quality of a session from its findings."""
    states = results.manifest.get("trials", {})
    rejected = [str(n) for n, state in states.items() if state == "rejected"]
    still = serving_trials(results.declared)
    moving = [state for name, state in states.items() if name not in still]
    nothing_left = bool(moving) and all(state == "rejected" for state in moving)
    return quality_of_table(results.table("quality"), rejected, nothing_left)


def quality_of_table(
    rows: pd.DataFrame, rejected: list[str], nothing_left: bool = False, where: str = "under Quality"
) -> Quality:
    """The same from the table of findings and the names of the trials that were rejected.

    ``nothing_left``: whether no movement trial is left, so that the session is rejected as a whole; ``where``: where the
    page that shows the sentence has its findings.
    """
    findings = [_finding(row) for row in sorted(rows.to_dict("records"), key=_gravity, reverse=True)]
    counts = {v: int((rows["verdict"] == v).sum()) for v in ("reject", "review", "pass")}
    counts[OVERRIDDEN] = sum(f.verdict == OVERRIDDEN for f in findings)
    verdict = "reject" if rejected or counts["reject"] else "review" if counts["review"] else "pass"
    worth = [f for f in findings if f.verdict != "pass"]
    passed = [f for f in findings if f.verdict == "pass"]
    return Quality(verdict, _sentence(verdict, counts, rejected, nothing_left, where), worth, passed, rejected)


def _sentence(verdict: str, counts: dict[str, int], rejected: list[str], nothing_left: bool, where: str) -> str:
    one = len(rejected) == 1
    reasons = f"the reasons stand {where}"
    if nothing_left:
        which = f"{joined(rejected)} {'was' if one else 'were'} rejected"
        return f"Rejected as a whole: {which}, no trial is left and nothing is measured; {reasons}."
    if rejected:
        which = f"{joined(rejected)} {'was rejected and gives' if one else 'were rejected and give'} no measures"
        return f"Rejected in part: {which}; {reasons}."
    if verdict == "reject":
        found = _count(counts["reject"], "finding")
        return f"Rejected in part: {found} took a leg or a segment out; {reasons}."
    if verdict == "review":
        found = f"{_count(counts['review'], 'finding')} should be looked at before these trials are relied on"
        over = counts[OVERRIDDEN]
        of_them = f", {_count(over, 'reject')} that the session file overrides among them" if over else ""
        return f"To be reviewed: {found}{of_them}; what was found stands {where}."
    return f"Passed: all {counts['pass']} checks of files, markers and repetitions passed."


def _count(count: int, word: str) -> str:
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def _finding(row: dict[Any, Any]) -> Finding:
    unit = "" if row["unit"] in ("", "1") else f" {row['unit']}"
    value, limit = (
        "" if pd.isna(row[n]) else f"{number(row[n], 0 if float(row[n]).is_integer() else 2)}{unit}"
        for n in ("value", "limit")
    )
    verdict, trial, subject, check, advice = (str(row[n]) for n in ("verdict", "trial", "subject", "check", "advice"))
    if advice.startswith(ACCEPTED):
        verdict = OVERRIDDEN
    return Finding(verdict, trial, subject, check, value, limit, advice)


def _gravity(row: dict[Any, Any]) -> tuple[float, float]:
    value, limit = (None if pd.isna(row[n]) else float(row[n]) for n in ("value", "limit"))
    return gravity(str(row["verdict"]), str(row["advice"]), value, limit)
