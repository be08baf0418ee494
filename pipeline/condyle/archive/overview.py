"""overview.html: how an archive turned out, what it holds, and which files deserve a look first."""

import heapq
from collections import Counter
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pyarrow as pa

from condyle.archive.distribution import Distribution
from condyle.archive.found import in_order
from condyle.archive.record import Record
from condyle.files.atomic import write_text
from condyle.files.manifest import read_manifest
from condyle.files.reference import Reference, own_folders, references
from condyle.findings import ACCEPTED

_WORST = 100
_LISTED = 2000  # a page with more links than this opens slowly; sessions.csv has them all
_BARS = 24
_WIDTH, _TALL = 240, 26
_STRIP = 5  # height of a published group's strip below the bars
_SHOWN_FIRST = (  # what a lab looks at first: how deep, how far in, and by which angles
    *("depth", "knee_flexion_max", "fppa_change", "fppa_at_60_knee_flexion", "knee_travel", "knee_path_angle_descent"),
    *("hip_adduction_max", "hip_internal_rotation_max", "pelvis_rotation_change", "pelvis_obliquity_change"),
    *("trunk_lean_max", "trunk_flexion_max"),
)
STATUSES = ("done", "rejected", "failed")
VERDICTS = ("pass", "review", "reject")


@dataclass(frozen=True, order=True)
class WorstFile:
    """A trial by its findings: the more rejects, then reviews, the further up."""

    rejects: int
    reviews: int
    folder: str
    trial: str
    words: str


class Overview:
    """Sees every session pass by and remembers only counts, samples and the worst."""

    def __init__(self, sessions_folder: Path, complaints: tuple[str, ...]) -> None:
        self.sessions_folder = sessions_folder
        self.complaints = complaints
        self.statuses: Counter[str] = Counter()
        self.verdicts: Counter[str] = Counter()
        self.checks: Counter[tuple[str, str]] = Counter()
        self.causes: Counter[str] = Counter()
        self.distributions: dict[tuple[str, str], Distribution] = {}
        self.worst: list[WorstFile] = []
        self.unfinished: list[Record] = []
        self.finished: list[tuple[str, str, str, str]] = []
        self.overridden: list[tuple[str, str, str, str]] = []  # folder, trial, what was let through, why
        self.reference_folders: dict[Path, None] = {}  # the labs' own, of the sessions' pipelines

    def see(self, record: Record, tables: dict[str, pa.Table]) -> None:
        """One session, in order of folder."""
        self.statuses[record.status] += 1
        if record.status != "done" and len(self.unfinished) < _LISTED:
            self.unfinished.append(record)
        elif record.status == "done" and len(self.finished) < _LISTED:
            self.finished.append((record.folder, record.participant, record.session, record.reason))
        if record.status == "done":
            home = self.sessions_folder / record.folder
            self.reference_folders |= dict.fromkeys(own_folders(read_manifest(home / "manifest.json") or {}, home))
        if "quality" in tables:
            self._see_quality(record.folder, tables["quality"])
        valid = self._see_repetitions(tables["repetitions"]) if "repetitions" in tables else None
        if "measures" in tables:
            self._see_measures(tables["measures"], valid)

    def _see_quality(self, folder: str, quality: pa.Table) -> None:
        trials: dict[str, list[tuple[str, str, str]]] = {}
        columns = (quality[name].to_pylist() for name in ("trial", "subject", "check", "verdict", "advice"))
        for trial, subject, check, verdict, advice in zip(*columns, strict=True):
            self.verdicts[verdict] += 1
            if (advice or "").startswith(ACCEPTED) and len(self.overridden) < _LISTED:
                self.overridden.append((folder, trial, f"{subject}, {check}", advice.removeprefix(ACCEPTED)))
            if verdict in ("review", "reject"):
                self.checks[check, verdict] += 1
                trials.setdefault(trial, []).append((verdict, check, subject))
        for trial, rows in trials.items():
            counted = Counter(verdict for verdict, _, _ in rows)
            words = "; ".join(f"{check}: {subject}" for _, check, subject in sorted(rows)[:4])
            more = f"; and {len(rows) - 4} more" if len(rows) > 4 else ""
            item = WorstFile(counted["reject"], counted["review"], folder, trial, words + more)
            (heapq.heappush if len(self.worst) < _WORST else heapq.heappushpop)(self.worst, item)

    def _see_repetitions(self, repetitions: pa.Table) -> set[tuple[Any, ...]]:
        self.causes.update(cause for cause in repetitions["cause"].to_pylist() if cause)
        keys = zip(*(repetitions[n].to_pylist() for n in ("trial", "side", "repetition", "valid")), strict=True)
        return {key[:-1] for key in keys if key[-1] is not False}

    def _see_measures(self, measures: pa.Table, valid: set[tuple[Any, ...]] | None) -> None:
        names = ("trial", "side", "repetition", "task", "measure", "unit", "value")
        found: dict[tuple[str, str, str], list[float]] = {}
        for *key, task, measure, unit, value in zip(*(measures[n].to_pylist() for n in names), strict=True):
            if value is not None and (valid is None or tuple(key) in valid):
                found.setdefault((task, measure, unit), []).append(value)
        for (task, measure, unit), values in found.items():
            if (task, measure) not in self.distributions:
                self.distributions[task, measure] = Distribution(unit)
            self.distributions[task, measure].add(values)

    def write(self, path: Path) -> None:
        """Write the page."""
        write_text(path, self.page())

    def page(self) -> str:
        """The page as HTML; everything that came from a file is escaped."""
        import jinja2

        template = resources.files("condyle.archive").joinpath("overview.html").read_text(encoding="utf-8")
        environment = jinja2.Environment(
            autoescape=True, trim_blocks=True, lstrip_blocks=True, undefined=jinja2.StrictUndefined
        )
        return environment.from_string(template).render(self.content())

    def content(self) -> dict[str, Any]:
        """What the page shows."""
        counts: Counter[str] = Counter()
        for (task, _), distribution in self.distributions.items():
            counts[task] += distribution.count
        order = sorted(self.distributions, key=lambda key: (-counts[key[0]], key))
        known = references(tuple(sorted(self.reference_folders)))
        rows = [
            _row(*key, self.distributions[key], known.values.get(key, ()))
            for key in order
            if self.distributions[key].count
        ]
        origins = dict.fromkeys(band["origin"] for row in rows for band in row["reference"])
        return {
            "total": sum(self.statuses.values()),
            "statuses": [(status, self.statuses[status]) for status in STATUSES],
            "verdicts": [(verdict, self.verdicts[verdict]) for verdict in VERDICTS],
            "checks": self.checks.most_common(20),
            "causes": self.causes.most_common(),
            "compared": [row for row in rows if row["first"]],
            "others": [row for row in rows if not row["first"]],
            "worst": [(item, self._link(item.folder)) for item in sorted(self.worst, key=_worst_first)],
            "overridden": [(*entry, self._link(entry[0])) for entry in self.overridden],
            "unfinished": [(record, self._link(record.folder)) for record in self.unfinished],
            "finished": [(*entry, self._link(entry[0])) for entry in self.finished],
            "listed": _LISTED,
            "complaints": (*self.complaints, *known.complaints),
            "origins": list(origins),
            "width": _WIDTH,
            "tall": _TALL,
            "strip": _STRIP,
        }

    def _link(self, folder: str) -> str:
        for name in ("report.html", "quality.csv"):
            if (self.sessions_folder / folder / name).is_file():
                return quote(f"{self.sessions_folder.name}/{folder}/{name}", errors="surrogateescape")
        return ""


def _worst_first(item: WorstFile) -> tuple[Any, ...]:
    return -item.rejects, -item.reviews, in_order(item.folder), item.trial


def _row(task: str, measure: str, distribution: Distribution, published: tuple[Reference, ...]) -> dict[str, Any]:
    least, low, median, high, most = distribution.percentiles(0.5, 5, 50, 95, 99.5)
    ends = [least, most, *(end for r in published for end in (r.mean - 2 * r.sd, r.mean + 2 * r.sd))]
    margin = 0.08 * ((max(ends) - min(ends)) or 1.0)
    left, right = min(ends) - margin, max(ends) + margin

    def place(value: float) -> float:
        return round(_WIDTH * (value - left) / (right - left), 1)

    return {
        "first": bool(published) or measure in _SHOWN_FIRST,
        "task": task,
        "measure": measure,
        "unit": distribution.unit,
        "count": distribution.count,
        "median": median,
        "low": low,
        "high": high,
        "bars": [
            (round(i * _WIDTH / _BARS, 1), round(height * _TALL, 1))
            for i, height in enumerate(distribution.bars(left, right, _BARS))
        ],
        "bar_width": round(_WIDTH / _BARS - 1, 1),
        "median_at": place(median),
        "reference": [_band(reference, place) for reference in published],
    }


def _band(reference: Reference, place: Any) -> dict[str, Any]:
    start, end = place(reference.mean - reference.sd), place(reference.mean + reference.sd)
    return {
        "words": reference.words,
        "origin": reference.origin,
        "from": start,
        "width": round(end - start, 1),
        "mean_at": place(reference.mean),
        "with_pain": reference.with_pain,
    }
