"""Tables: every repetition of a leg, and the three accounts of what moved the knee."""

import math
from typing import Any, NamedTuple

import pandas as pd

from condyle.report.answers import account_words
from condyle.report.drawing import SOURCE_STYLE
from condyle.report.legs import Leg
from condyle.report.words import BELOW_WORDS, CAUSE_WORDS, digits_for, number, spoken, with_interval

_MEASURES = (
    ("knee_flexion_at_bottom", "knee flexion, bottom", 0),
    ("fppa_at_bottom", "FPPA, bottom", 0),
    ("fppa_change", "FPPA, change", 0),
    ("knee_travel", "knee travel, mm", 0),
    ("knee_path_angle_descent", "path angle, down", 0),
)
_QUESTIONS = {
    "fppa": "what a flat frontal view reads",
    "knee_relative_to_hip": "where the thigh points",
    "thigh_axial_rotation": "the apparent rotation of the femur",
}


class RepetitionTable(NamedTuple):
    """All repetitions of one leg; a row that does not count says so."""

    leg: str
    heads: list[str]
    rows: list[tuple[bool, list[str]]]  # counts, cells


class AccountTable(NamedTuple):
    """What each part contributes to three measures, for one leg."""

    leg: str
    heads: list[str]
    rows: list[tuple[str, list[str]]]  # source, a cell per account
    totals: list[str]


def repetition_table(leg: Leg) -> RepetitionTable:
    """Depth, angles and path of every repetition."""
    wanted = [(m, words, d) for m, words, d in _MEASURES if len(leg.values(m))]
    values = {m: _by_repetition(leg.values(m)) for m, _, _ in wanted}
    heads = ["Repetition", "Trial", "Start, s", "Depth, mm", *(words for _, words, _ in wanted), "Direction", "Counted"]
    rows = []
    for row in leg.repetitions.to_dict("records"):
        key = (row["trial"], row["repetition"])
        cells = [
            str(row["repetition"]),
            str(row["trial"]),
            number(row["start_s"], 2),
            number(_number(row["depth_mm"]), 0),
        ]
        cells += [number(values[m].get(key), digits) for m, _, digits in wanted]
        cells += [str(row.get("direction", "")), "yes" if row["valid"] else "no"]
        rows.append((bool(row["valid"]), cells))
    return _without_empty(RepetitionTable(leg.words, heads, rows))


def word_table(leg: Leg) -> RepetitionTable:
    """Cause, confidence and findings; repetitions of which the same is said share a row."""
    heads = ["Repetitions", "Cause", "Confidence", "From below", "Flat view", "Findings"]
    several = leg.repetitions["trial"].nunique() > 1
    said: dict[tuple[bool, tuple[str, ...]], list[str]] = {}
    for row in leg.repetitions.to_dict("records"):
        name = f"{row['trial']} {row['repetition']}" if several else str(row["repetition"])
        said.setdefault((bool(row["valid"]), tuple(_words_of(row))), []).append(name)
    rows = [(counts, [", ".join(names), *cells]) for (counts, cells), names in said.items()]
    return _without_empty(RepetitionTable(leg.words, heads, rows))


def _words_of(row: dict[Any, Any]) -> list[str]:
    cause, below = str(row.get("cause", "")), str(row.get("from_below", ""))
    confidence = _number(row.get("confidence"))
    reading = str(row.get("planar_reading", "")).replace("_", " ")
    misread = " (would blame another part)" if row.get("misread") == "yes" else ""
    findings = str(row.get("findings", ""))
    if not row["valid"]:
        findings = f"not counted{f': {findings}' if findings else ''}"
    return [
        CAUSE_WORDS.get(cause, cause) if cause else "",
        f"{100 * confidence:.0f} %" if math.isfinite(confidence) else "",
        BELOW_WORDS.get(below, below) if below else "",
        f"{reading}{misread}" if reading else "",
        findings.replace(";", "; ").replace("_", " "),
    ]


def _without_empty(table: RepetitionTable) -> RepetitionTable:
    kept = [k for k in range(len(table.heads)) if any(cells[k] not in ("", "\N{EN DASH}") for _, cells in table.rows)]
    rows = [(counts, [cells[k] for k in kept]) for counts, cells in table.rows]
    return RepetitionTable(table.leg, [table.heads[k] for k in kept], rows)


def _by_repetition(rows: pd.DataFrame) -> dict[tuple[Any, Any], float]:
    keys = zip(rows["trial"], rows["repetition"], strict=True)
    return dict(zip(keys, rows["value"].astype(float), strict=True))


def _number(value: Any) -> float:
    try:
        return float(value)
    except (TypeError, ValueError):
        return math.nan


def account_tables(legs: list[Leg]) -> list[AccountTable]:
    """Per leg, the three accounts (from the start, or from standing where its cause explains that one)."""
    out = []
    for leg in legs:
        end = "_from_standing" if leg.explains.endswith("_from_standing") else ""
        accounts = [f"{m}{end}" for m in _QUESTIONS if leg.sources(f"{m}{end}")]
        if not accounts:
            continue
        parts = {a: leg.sources(a) for a in accounts}
        digits = {a: digits_for(leg.unit(a)) for a in accounts}
        rows = []
        for source in SOURCE_STYLE:
            if any(source in parts[a] for a in accounts):
                found = [(parts[a].get(source), digits[a]) for a in accounts]
                rows.append((spoken(source), [with_interval(*e[:3], d) if e else "" for e, d in found]))
        heads = [f"{account_words(a)} ({leg.unit(a)}): {_QUESTIONS[a.removesuffix(end)]}" for a in accounts]
        totals = [number(leg.change(a).value, digits[a]) for a in accounts]
        out.append(AccountTable(leg.words, heads, rows, totals))
    return out
