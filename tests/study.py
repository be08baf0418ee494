"""The worked study of docs/study_worked.md: synthetic people, processed and laid against a planar screen.

    python -m tests.study --participants 40 [--seed 11] [--folder DIR] [--write docs/study_worked.md]

prints the study's figures as Markdown; --write puts them between the page's markers.
"""

import argparse
import re
import sys
import tempfile
from pathlib import Path

import numpy as np

from condyle.errors import CondyleError
from condyle.sample import write_sample
from condyle.session import process
from condyle.study import agree
from condyle.study.outcome import Study
from condyle.study.settings import with_numbers

START, END = "<!-- figures of python -m tests.study -->", "<!-- end of the figures -->"
TASK = "single_leg_squat"
SAME = (
    *(("fppa_camera", "fppa"), ("hip_adduction_camera", "hip_adduction")),
    *(("pelvis_drop_camera", "pelvis_obliquity"), ("trunk_lean_camera", "trunk_lean")),
)
MOVED = {
    "yaw_deg": "turned towards the stance side",
    "sideways_mm": "moved towards the stance side",
    "height_mm": "raised",
    "distance_mm": "moved away",
}


def processed_sessions(folder: Path, participants: int, seed: int) -> list[Path]:
    """measures.csv of every session of a drawn team; a session that cannot be processed is named, not hidden."""
    sessions = write_sample(folder, participants=participants, seed=seed)
    for pipeline in folder.glob("*.yaml"):  # the pages of single sessions are not needed here
        pipeline.write_text(re.sub(r"(?m)^\s*- report\b.*\n", "", pipeline.read_text()))
    done = []
    for session in sessions:
        try:
            result = process(session)
        except CondyleError as error:
            print(f"{session.name}: {error}", file=sys.stderr)
            continue
        if result.movements and result.folder is not None:
            done.append(result.folder / "measures.csv")
    return done


def run_study(folder: Path, participants: int, seed: int = 11, draws: int | None = None, page: bool = True) -> Study:
    """The study, written into ``folder``/agreement."""
    measures = processed_sessions(folder / "team", participants, seed)
    return agree(measures, folder / "agreement", settings=with_numbers(None, draws=draws), page=page)


def _value(study: Study, planar: str, reference: str, statistic: str) -> str:
    for result in study.results:
        if (result.pair.planar, result.pair.reference, result.task) == (planar, reference, TASK):
            for name in (f"{statistic}_repeated", statistic):
                e = result.value(name)
                if e is not None and np.isfinite(e.value):
                    return f"{e.value:.2f}" + (f" [{e.lower:.2f}, {e.upper:.2f}]" if np.isfinite(e.lower) else "")
    return "–"


def markdown(study: Study) -> str:
    """The figures that the page quotes."""
    people = sorted({p for r in study.results for p in r.rows["participant"]})
    lines = [
        f"{len(people)} participants, {len(study.misreading) and _repetitions(study)} single-leg squats with a cause.",
        "",
    ]
    lines += [
        "| planar against 3D (one quantity) | bias, deg | lower limit | upper limit | ICC(2,1) |",
        "|---|---|---|---|---|",
    ]
    for planar, reference in SAME:
        names = (f"{planar}_at_bottom", f"{reference}_at_bottom")
        cells = [_value(study, *names, s) for s in ("bias", "limit_lower", "limit_upper", "icc_2_1")]
        lines.append(f"| {planar.replace('_', ' ')} : {reference.replace('_', ' ')} | {' | '.join(cells)} |")
    lines += ["", "| FPPA through the camera against | r | prediction ±, deg | area under ROC |", "|---|---|---|---|"]
    for reference in ("hip_adduction", "hip_internal_rotation", "knee_adduction", "pelvis_rotation"):
        names = ("fppa_camera_at_bottom", f"{reference}_at_bottom")
        cells = [_value(study, *names, s) for s in ("pearson_r", "prediction_half_width", "auc")]
        lines.append(f"| {reference.replace('_', ' ')} | {' | '.join(cells)} |")
    return "\n".join([*lines, "", *_misread(study), "", *_camera(study)])


def _repetitions(study: Study) -> int:
    mix = study.misreading[(study.misreading["task"] == TASK) & study.misreading["misreading"].str.startswith("mix")]
    return int(mix["count"].sum())


def _misread(study: Study) -> list[str]:
    table = study.misreading
    rows = table[
        (table["task"] == TASK) & (table["band"] == "all") & ~table["swept"].astype(bool) & (table["rule"] != "")
    ]
    if rows.empty:
        return ["No repetition names a cause."]
    out = [
        f"Causes in 3D: {str(rows['mix'].iloc[0]).replace('_', ' ')}.",
        "",
        "| rule | what | count | share, % |",
        "|---|---|---|---|",
    ]
    for row in rows.to_dict("records"):
        if row["of"]:
            share = f"{100 * row['share']:.0f} [{100 * row['lower']:.0f}, {100 * row['upper']:.0f}]"
            out.append(
                f"| {row['rule']} | {row['misreading'].replace('_', ' ')} | {row['count']} of {row['of']} | {share} |"
            )
    return out


def _camera(study: Study) -> list[str]:
    rows = study.camera[
        (study.camera["task"] == TASK) & (study.camera["measure"] == "fppa") & (study.camera["statistic"] == "slope")
    ]
    out = ["| camera | change of FPPA |", "|---|---|"]
    for row in rows.to_dict("records"):
        out.append(
            f"| {MOVED[str(row['moved'])]} | {row['value']:.2f} [{row['lower']:.2f}, {row['upper']:.2f}] {row['unit']} |"
        )
    return out


def main(argv: list[str] | None = None) -> int:
    """Run the study and print its figures."""
    parser = argparse.ArgumentParser(prog="python -m tests.study", description=__doc__)
    parser.add_argument("--participants", type=int, default=40)
    parser.add_argument("--seed", type=int, default=11)
    parser.add_argument("--folder", type=Path, help="where sessions and study are kept (default: a temporary folder)")
    parser.add_argument("--write", type=Path, help="page whose figures are replaced")
    arguments = parser.parse_args(argv)
    with tempfile.TemporaryDirectory() as temporary:
        folder = arguments.folder or Path(temporary)
        text = markdown(run_study(folder, arguments.participants, arguments.seed))
    print(text)
    if arguments.write:
        page = arguments.write.read_text(encoding="utf-8")
        before, rest = page.split(START)
        after = rest.split(END)[1]
        arguments.write.write_text(f"{before}{START}\n{text}\n{END}{after}", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
