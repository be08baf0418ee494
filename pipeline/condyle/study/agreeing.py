"""``agree``: reads the tables of a study, pairs, computes, and writes agreement, pairs, misreading and a page."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pandas as pd

from condyle.errors import DataError, UsageError
from condyle.files.atomic import writable_or_raise, write_text
from condyle.files.fingerprints import sha256_of_file
from condyle.files.manifest import write_manifest
from condyle.files.tables import write_csv
from condyle.overridden import OVERRIDDEN, overridden_in
from condyle.study.analysis import results_of
from condyle.study.body import Repetition
from condyle.study.camera_sweep import COLUMNS as CAMERA_COLUMNS
from condyle.study.camera_sweep import camera_table, camera_values
from condyle.study.choosing import choose_pairs, cutoff_from_words, refuse_unused_cutoffs, stem
from condyle.study.curves import COLUMNS as CURVE_COLUMNS
from condyle.study.curves import CurvePair, Key, curve_agreement, reference_courses
from condyle.study.doubles import KEYS
from condyle.study.gathering import (
    imported_sentences,
    mark_invalid,
    matched,
    planar_from_trials,
    read_planar,
    with_contributions,
)
from condyle.study.methods_text import methods_paragraph
from condyle.study.misreading import misreading
from condyle.study.outcome import Study
from condyle.study.pairing import PAIR_COLUMNS
from condyle.study.pairing_words import say_matching
from condyle.study.planar import VIEWS, planar_courses, planar_table
from condyle.study.reading import read_curves, read_tables
from condyle.study.reports import reports_of, with_reports
from condyle.study.settings import AgreeSettings, PairSetting, load_settings
from condyle.study.tables_out import agreement_table, sample_size_table

OUTPUTS = (
    *("agreement.csv", "pairs.csv", "misreading.csv", "misreading_examples.csv", "curve_agreement.csv", "camera.csv"),
    *("sample_size.csv", "methods.txt"),
)


def agree(
    measures: Sequence[str | Path] | str | Path,
    out: str | Path,
    planar: str | Path | None = None,
    pairs: Sequence[str] = (),
    cutoffs: Sequence[str] = (),
    flip: Sequence[str] = (),
    settings: AgreeSettings | str | Path | None = None,
    page: bool = True,
) -> Study:
    """Lay planar measures against 3D ones over the runs whose ``measures`` are named, and write the study into ``out``.

    ``pairs`` are PLANAR:REFERENCE, ``cutoffs`` MEASURE:VALUE, ``flip`` planar measures whose sign is turned. What could
    not be used, and why, stands in ``said`` of the study that comes back, and in its page; what has to be answered
    before a number is believed, in ``questions``.
    """
    chosen = settings if isinstance(settings, AgreeSettings) else load_settings(Path(settings) if settings else None)
    planar = Path(planar) if planar is not None else None
    stated = tuple(cutoff_from_words(words) for words in cutoffs)
    if stated:
        update = {"cutoffs": (*stated, *chosen.cutoffs), "planar_cutoffs": (*stated, *chosen.planar_cutoffs)}
        chosen = chosen.model_copy(update=update)
    if flip and planar is None:
        raise UsageError(
            f"--flip {flip[0]} turns a measure of the planar table, but none is named; name it with --planar."
        )
    tables = read_tables([Path(m) for m in ([measures] if isinstance(measures, str | Path) else measures)])
    study = Study(chosen, tables, said=list(tables.sentences))
    study.overridden = overridden_in(tables.measures, tables.contributions)
    study.said += study.overridden.said()
    reference = mark_invalid(with_contributions(tables), tables.repetitions)
    imported = mark_invalid(read_planar(planar, flip, study.said), tables.repetitions) if planar is not None else None
    repetitions, said = planar_from_trials(tables, chosen)
    study.said += said
    computed = mark_invalid(planar_table(repetitions, chosen.camera, chosen.seed), tables.repetitions)
    wanted = choose_pairs(imported, computed, reference, pairs, chosen)
    refuse_unused_cutoffs(cutoffs, stated, wanted)
    folder = writable_or_raise(out)
    _pair_and_compute(study, wanted, imported, computed, reference)
    counting = [r for r in repetitions if r.valid]
    study.curves = _curves(study, wanted, counting)
    study.camera = _camera(study, counting)
    misreading(study)
    study.examples = with_reports(study.examples, reports_of(tables.runs), folder)
    study.examples[OVERRIDDEN] = study.overridden.of_rows(study.examples)
    came_from = (study.imported, study.computed)
    study.methods = methods_paragraph(tables.manifests, chosen, _claimed(study), *came_from, study.results)
    study.methods += study.overridden.said()
    _write(study, folder, planar, page)
    if not study.results:
        raise DataError(
            f"Nothing could be paired, so no agreement was computed; {folder / 'pairs.csv'} says row by row why. "
            + " ".join(study.brief[-3:])
        )
    return study


def _pair_and_compute(
    study: Study,
    wanted: Sequence[PairSetting],
    imported: pd.DataFrame | None,
    computed: pd.DataFrame,
    reference: pd.DataFrame,
) -> None:
    if not wanted:
        study.said.append(
            "No planar measure and 3D measure of the tables belong together; name a pair with --pair PLANAR:REFERENCE."
        )
    if imported is not None:
        study.said += imported_sentences(imported, reference, wanted)
    parts = []
    for pair in wanted:
        table, source = matched(pair, imported, computed, reference)
        table[OVERRIDDEN] = study.overridden.of_rows(table)
        parts.append(table)
        say_matching(table, source == "imported", study)
        study.imported |= source == "imported"
        study.computed |= source == "computed"
        study.results += results_of(pair, table, study.settings, study)
    study.pairs = pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=[*PAIR_COLUMNS, OVERRIDDEN])


def _key(repetition: Repetition) -> Key:
    return tuple(repetition.key[name] for name in (*KEYS, "task"))


def _curves(study: Study, wanted: Sequence[PairSetting], repetitions: Sequence[Repetition]) -> list[CurvePair]:
    """Courses of the pairs of one quantity read at the bottom: planar ones from the trials, 3D ones from curves.csv."""
    files, s = study.tables.curves, study.settings
    if not files or not repetitions:
        return []
    asked = {}
    for pair in wanted:
        view = next((v for v in VIEWS if f"_{v}_at_bottom" in pair.planar), None)
        if view and pair.same_quantity and pair.reference == f"{stem(pair.reference)}_at_bottom":
            asked[pair.planar.removesuffix("_at_bottom")] = (view, stem(pair.reference))
    table = read_curves(files, {reference for _, reference in asked.values()})
    courses = {
        view: {_key(r): planar_courses(r, view, s.camera) for r in repetitions}
        for view in {v for v, _ in asked.values()}
    }
    out = []
    for name, (view, quantity) in asked.items():
        measure = name.removesuffix(f"_{view}")
        planar = {key: values[measure][:101] for key, values in courses[view].items()}
        out += curve_agreement(planar, reference_courses(table, quantity), (name, quantity), s.draws, s.seed, s.level)
    return out


def _camera(study: Study, repetitions: Sequence[Repetition]) -> pd.DataFrame:
    s = study.settings
    values = camera_values(repetitions, s.camera, s.camera_sweep)
    study.camera_values = values
    if values.empty:
        return pd.DataFrame(columns=[*CAMERA_COLUMNS, OVERRIDDEN])
    table = camera_table(values, s.camera, min(s.draws, 1000), s.seed, s.level)
    of_task = {task: study.overridden.of_all(rows) for task, rows in values.groupby("task", sort=False)}
    return table.assign(**{OVERRIDDEN: table["task"].map(of_task)})


def _claimed(study: Study) -> list[dict[str, object]]:
    """What the methods paragraph may state: pairs of one quantity whose sign is not in question."""
    out = []
    for r in study.results:
        tail = "" if r.sample.one_each else "_repeated"
        found = {n: r.value(f"{n}{tail}") for n in ("bias", "limit_lower", "limit_upper")}
        bias, low, high = (found[n] for n in ("bias", "limit_lower", "limit_upper"))
        if not r.pair.same_quantity or r.sign_in_question or bias is None or low is None or high is None:
            continue
        if np.isfinite([low.value, high.value]).all():
            out.append({
                "planar": r.pair.planar, "reference": r.pair.reference, "task": r.task, "unit": r.units[1],
                "pairs": r.sample.pairs, "participants": r.sample.participants, "bias": bias.value,
                "bias_lower": bias.lower, "bias_upper": bias.upper, "limit_lower": low.value, "limit_upper": high.value,
            })  # fmt: skip
    return out


def _write(study: Study, folder: Path, planar: Path | None, page: bool) -> None:
    write_csv(folder / "agreement.csv", agreement_table(study))
    write_csv(folder / "pairs.csv", study.pairs)
    write_csv(folder / "misreading.csv", study.misreading)
    write_csv(folder / "misreading_examples.csv", study.examples)
    curves = [c.table().assign(**{OVERRIDDEN: study.overridden.together(c.trials)}) for c in study.curves]
    nothing = pd.DataFrame(columns=[*CURVE_COLUMNS, OVERRIDDEN])
    write_csv(folder / "curve_agreement.csv", pd.concat(curves) if curves else nothing)
    write_csv(folder / "camera.csv", study.camera)
    write_csv(folder / "sample_size.csv", sample_size_table(study))
    write_text(folder / "methods.txt", " ".join(study.methods) + "\n")
    write_manifest(folder / "manifest.json", _manifest(study, planar, page))
    if page:
        from condyle.study.page import write_page  # heavy: matplotlib and jinja2 are imported only here

        write_page(study, folder / "agreement.html")


def _manifest(study: Study, planar: Path | None, page: bool) -> dict[str, object]:
    from condyle import __version__

    files = [*study.tables.inputs, *([planar] if planar is not None else [])]
    return {
        "command": "agree",
        "condyle": {"version": __version__},
        "inputs": [{"file": path.name, "sha256": sha256_of_file(path)} for path in files],
        "settings": study.settings,
        "questions": study.questions,
        "said": study.sentences,
        "outputs": [*OUTPUTS, *(["agreement.html"] if page else [])],
    }
