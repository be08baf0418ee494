"""agreement.html: one page that opens anywhere, loads nothing and runs nothing."""

from importlib import resources
from pathlib import Path
from typing import Any
from urllib.parse import quote

import numpy as np
import pandas as pd
from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from condyle import __version__
from condyle.files.atomic import write_text
from condyle.study.figures import camera_figure, curve_figure, misreading_figure, pair_figure
from condyle.study.outcome import PairResult, Study
from condyle.study.reading import records
from condyle.study.sample_size import ONE_EACH, REPEATED

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
_OTHERS_SHOWN = (
    *("concordance", "icc_2_1", "sem"),
    *("pearson_r", "spearman_rho", "slope", "prediction_half_width", "auc"),
)


def write_page(study: Study, path: Path) -> None:
    """Draw the figures and write the page."""
    template = (resources.files("condyle") / "study" / "agreement.html").read_text(encoding="utf-8")
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    environment.filters |= {
        "number": number,
        "interval": interval,
        "share": share,
        "counted": counted,
        "words": words,
        "moved": moved,
        "link": link,
    }
    write_text(path, environment.from_string(template).render(**_content(study)) + "\n")


def number(value: Any) -> str:
    """A number for reading, with the digits its size deserves; a dash where there is none."""
    if value is None or not np.isfinite(value):
        return "–" if value is None or np.isnan(value) else "∞"
    size = abs(float(value))
    whole = float(value).is_integer() and size >= 1
    digits = 0 if whole or size >= 100 else 1 if size >= 10 else 2 if size >= 0.095 or size < 5e-4 else 3
    text = f"{value:.{digits}f}"
    return text.replace("-", "\u2212") if float(text) != 0 else text.replace("-", "")


def share(row: Any) -> str:
    """A share in per cent with its interval."""
    value, low, high = (100 * row[name] for name in ("share", "lower", "upper"))
    if not np.isfinite(low):
        return f"{number(value)} (one participant: no interval)"
    return f"{number(value)} [{number(low)}, {number(high)}]"


def link(path: str) -> str:
    """The address of a file as a page names it: a # or a % in a folder's name is no part of an address."""
    return quote(path if "/" in path or not path else f"./{path}", errors="surrogateescape")


def words(measure: str) -> str:
    """A measure's name with blanks, so that a narrow column can break it."""
    return measure.replace("_", " ")


def moved(setting: str) -> str:
    """What was done to the camera, in words."""
    return {"yaw_deg": "turned", "sideways_mm": "moved sideways", "height_mm": "raised", "distance_mm": "moved away"}[
        setting
    ]


def counted(count: int, noun: str) -> str:
    """A count with its noun: 1 participant, 2 participants."""
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


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
    table = study.misreading
    rule = table[~table["swept"].astype(bool) & ~table["misreading"].astype(str).str.startswith("mix")]
    return {
        "version": __version__,
        "level": f"{study.settings.level_percent:g}",
        "settings": study.settings,
        "people": len(people),
        "tasks": sorted({r.task for r in study.results if r.task}),
        "questions": study.questions,
        "overridden": study.overridden.said(),
        "said": [words for words in study.said if words not in study.overridden.said()],
        "reasons": study.grouped,
        "cautions": CAUTIONS,
        "methods": " ".join(study.methods),
        "agreeing": [_summary(r) for r in shown if r.pair.same_quantity],
        "associated": [_summary(r) for r in shown if not r.pair.same_quantity],
        "repeated": any(not r.sample.one_each for r in shown),
        "details": [
            {**_heading(r), "figure": Markup(f), "rows": r.estimates} for r, f in zip(shown, figures, strict=True)
        ],
        "matching": _matching(study),
        "kappa": study.kappa,
        "rule_rows": records(rule),
        "mixes": _mixes(study),
        "unjudged": int(table.loc[table["misreading"] == "mix: in_the_leg", "count"].sum()),
        "misreading_figure": _misreading(study),
        "examples": records(study.examples.head(_EXAMPLES)),
        "reported": bool((study.examples.head(_EXAMPLES)["report"] != "").any()),
        "example_count": len(study.examples),
        "curves": [{"about": c, "figure": Markup(curve_figure(c, f"curve{k}"))} for k, c in enumerate(study.curves)],
        "camera": _camera(study),
        "slopes": _slopes(study),
        "sizes": _sizes(shown),
        "formulas": (ONE_EACH, REPEATED),
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
    agreeing = {n: result.value(n + tail) for n in _SHOWN_IN_SUMMARY}
    return {**_heading(result), **agreeing, **{n: result.value(n) for n in _OTHERS_SHOWN}}


def _matching(study: Study) -> list[dict[str, Any]]:
    if study.pairs.empty:
        return []
    counts = study.pairs.groupby(["planar", "reference", "status"], sort=False).size().rename("count").reset_index()
    return records(counts.assign(status=counts["status"].str.replace("_", " ", regex=False)))


def _slopes(study: Study) -> list[dict[str, Any]]:
    rows, keys = study.camera, ["task", "measure", "moved"]
    if rows.empty:
        return []
    spread = rows[rows["statistic"] == "slope_sd"].set_index(keys)["value"]
    slopes = rows[rows["statistic"] == "slope"]
    return records(slopes.assign(spread=spread.reindex(pd.MultiIndex.from_frame(slopes[keys])).to_numpy()))


def _sizes(shown: list[PairResult]) -> list[dict[str, Any]]:
    """A row per pair and number of pairs each: participants for every wanted half width."""
    out = []
    for r in shown:
        if r.sizes is None:
            continue
        for each in dict.fromkeys(r.sizes["pairs_each"]):
            needed = r.sizes.loc[r.sizes["pairs_each"] == each, "participants"].tolist()
            out.append({**_heading(r), "pairs_each": each, "needed": needed})
    return out


def _mixes(study: Study) -> list[str]:
    rows = study.misreading.drop_duplicates(["task", "mix"])
    return [
        f"{task.replace('_', ' ') or 'task not named'}: {mix.replace('_', ' ')}"
        for task, mix in zip(rows["task"], rows["mix"], strict=True)
    ]


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
