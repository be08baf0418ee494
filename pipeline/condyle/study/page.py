"""agreement.html: one page that opens anywhere, loads nothing and runs nothing."""

from importlib import resources
from pathlib import Path
from typing import Any

import numpy as np
from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from condyle import __version__
from condyle.files.atomic import write_text
from condyle.study.figures import camera_figure, curve_figure, misreading_figure, pair_figure
from condyle.study.outcome import PairResult, Study
from condyle.study.reading import records
from condyle.study.statistics import Estimate

CAUTIONS = (
    "Not a medical device; screening labels are not diagnoses.",
    "'Cause' says where the motion happened, not why: strength, pain, a stiff ankle or torsion of bone are not seen.",
    "Skin-marker hip and knee rotations carry several degrees of soft-tissue error; the 3D reference is itself "
    "measured.",
    "Not for children, after joint replacement, or in shoes, without the lab's own reference. No statement on "
    "injury risk.",
    "Interpretation belongs to a licensed clinician and the lab's own protocol. Recordings of people are "
    "personal data.",
)
_EXAMPLES = 20
_SHOWN_IN_SUMMARY = ("bias", "limit_lower", "limit_upper")


def write_page(study: Study, path: Path) -> None:
    """Draw the figures and write the page."""
    template = (resources.files("condyle") / "study" / "agreement.html").read_text(encoding="utf-8")
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    environment.filters |= {"number": number, "interval": interval}
    write_text(path, environment.from_string(template).render(**_content(study)) + "\n")


def number(value: Any, digits: int = 3) -> str:
    """A number for reading; a dash where there is none."""
    if value is None or not np.isfinite(value):
        return "–" if value is None or np.isnan(value) else "∞"
    size = abs(float(value))
    text = f"{value:.0f}" if size >= 1000 or (float(value).is_integer() and size >= 10) else f"{value:.{digits}g}"
    return text.replace("-", "\u2212")


def interval(estimate: Any) -> str:
    """Value with its interval, as far as there is one."""
    if estimate is None or not np.isfinite(estimate.value):
        return "–"
    if not np.isfinite(estimate.lower):
        return number(estimate.value)
    return f"{number(estimate.value)} [{number(estimate.lower)}, {number(estimate.upper)}]"


def _content(study: Study) -> dict[str, Any]:
    level = study.settings.level
    people = {p for r in study.results for p in r.rows["participant"]}
    figures = [pair_figure(r, f"pair{k}", level) for k, r in enumerate(study.results) if r.estimates]
    shown = [r for r in study.results if r.estimates]
    rule = study.misreading[~study.misreading["swept"].astype(bool)] if len(study.misreading) else study.misreading
    return {
        "version": __version__,
        "level": f"{study.settings.level_percent:g}",
        "settings": study.settings,
        "people": len(people),
        "tasks": sorted({r.task for r in study.results if r.task}),
        "questions": study.questions,
        "said": study.sentences,
        "cautions": CAUTIONS,
        "methods": " ".join(study.methods),
        "summary": [_summary(r) for r in shown],
        "details": [
            {**_heading(r), "figure": Markup(f), "rows": r.estimates} for r, f in zip(shown, figures, strict=True)
        ],
        "matching": _matching(study),
        "kappa": study.kappa,
        "rule_rows": records(rule),
        "mixes": sorted(set(study.misreading["mix"])) if len(study.misreading) else [],
        "misreading_figure": _misreading(study),
        "examples": records(study.examples.head(_EXAMPLES)),
        "example_count": len(study.examples),
        "curves": [{"about": c, "figure": Markup(curve_figure(c, f"curve{k}"))} for k, c in enumerate(study.curves)],
        "camera": _camera(study),
        "slopes": records(study.camera[study.camera["statistic"] == "slope"]) if len(study.camera) else [],
        "sizes": [{**_heading(r), "rows": records(r.sizes)} for r in shown if r.sizes is not None],
    }


def _heading(result: PairResult) -> dict[str, Any]:
    return {
        "planar": result.pair.planar,
        "reference": result.pair.reference,
        "task": result.task.replace("_", " ") or "task not named",
        "same": result.pair.same_quantity,
        "question": result.sign_in_question,
        "pairs": result.sample.pairs,
        "participants": result.sample.participants,
        "unit": result.units[1],
    }


def _summary(result: PairResult) -> dict[str, Any]:
    tail = "" if result.sample.one_each else "_repeated"
    agreeing = {n: result.value(n + tail) for n in _SHOWN_IN_SUMMARY} if result.pair.same_quantity else {}
    blank: dict[str, Estimate | None] = dict.fromkeys(_SHOWN_IN_SUMMARY)
    others = {n: result.value(n) for n in ("pearson_r", "concordance", "icc_2_1", "sem", "auc")}
    if not result.pair.same_quantity:
        others |= {"concordance": None, "icc_2_1": None, "sem": None}
    return {**_heading(result), **blank, **agreeing, **others}


def _matching(study: Study) -> list[dict[str, Any]]:
    if study.pairs.empty:
        return []
    counts = study.pairs.groupby(["planar", "reference", "status"], sort=False).size().rename("count").reset_index()
    return records(counts.assign(status=counts["status"].str.replace("_", " ", regex=False)))


def _misreading(study: Study) -> Markup | None:
    rows = study.misreading
    if rows.empty:
        return None
    fppa = sorted(set(rows.loc[rows["swept"].astype(bool), "fppa_deg"]))
    middle = min(fppa, key=lambda f: abs(f - float(rows["fppa_deg"].dropna().iloc[0]))) if fppa else None
    swept = rows[rows["swept"].astype(bool) & (rows["fppa_deg"] == middle)]
    task = swept.groupby("task")["of"].sum().idxmax() if len(swept) else ""
    return Markup(misreading_figure(swept[swept["task"] == task], "misreading"))


def _camera(study: Study) -> list[dict[str, Any]]:
    if study.camera.empty:
        return []
    out = []
    for measure in ("fppa", "pelvis_drop", "trunk_lean"):
        if (study.camera["measure"] == measure).any():
            figure = camera_figure(study.camera_values, study.camera, measure, f"camera-{measure}")
            out.append({"measure": measure, "figure": Markup(figure)})
    return out


__all__ = ["write_page"]
