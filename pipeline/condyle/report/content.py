"""What a report holds, in the order in which it is read; the page and the PDF show the same."""

from dataclasses import dataclass, replace
from typing import Any

from condyle import __version__
from condyle.report.absent import mass_words, why_no_contributions
from condyle.report.answers import Answer, answer_of
from condyle.report.comparing import Comparison, sides
from condyle.report.drawing import Picture
from condyle.report.last_session import Since, since_last
from condyle.report.legs import Leg, legs_of
from condyle.report.picture_above import MASS_QUESTION, axes_picture, mass_picture
from condyle.report.picture_contributions import bar_picture, course_picture
from condyle.report.picture_curves import curve_picture
from condyle.report.picture_paths import path_picture
from condyle.report.picture_quality import quality_picture
from condyle.report.picture_repetitions import repetition_picture
from condyle.report.picture_time import time_picture
from condyle.report.quality import Quality, quality_of
from condyle.report.reference_values import Context, Published, context, peaks, person_of, published_for
from condyle.report.repetition_tables import AccountTable, RepetitionTable, account_tables, repetition_table, word_table
from condyle.report.results_read import Results
from condyle.report.sharing import scrubbed, shared
from condyle.report.skeleton_data import skeleton_of
from condyle.report.words import CAUSE_SENTENCE, CAUTIONS, TASK_WORDS, spoken


@dataclass
class Group:
    """The legs of one task and condition, with their answers and pictures."""

    task: str
    condition: str
    legs: list[tuple[Leg, Answer]]
    bar: Picture | None
    accounts: list[AccountTable]
    sides: Comparison | None
    context: Context | None
    repetitions: list[tuple[RepetitionTable, RepetitionTable]]
    pictures: list[Picture]
    complaints: tuple[str, ...] = ()  # of the lab's own files of published values
    undrawn: tuple[tuple[str, str], ...] = ()  # questions without a picture, and why

    @property
    def name(self) -> str:
        """Task, and condition where one was given, as a heading."""
        task = self.task[:1].upper() + self.task[1:]
        return f"{task}: {self.condition}" if self.condition else task


@dataclass
class Content:
    """Everything the report says."""

    title: str
    session: str
    facts: list[tuple[str, str]]
    groups: list[Group]
    since_words: str
    since: list[Since]
    quality: Quality
    corrections: list[str]
    provenance: list[tuple[str, str]]
    share: bool
    other: list[Picture]
    quality_pictures: list[Picture]
    skeleton: dict[str, Any] | None = None

    def for_page(self) -> dict[str, Any]:
        """The names that the page's template uses."""
        return {
            **vars(self),
            "cautions": CAUTIONS,
            "cause_sentence": CAUSE_SENTENCE,
            "version": __version__,
        }


def content_of(results: Results, settings: Any, share: bool) -> Content:
    """Everything the report says about these results."""
    legs = legs_of(results)
    keys = list(dict.fromkeys((leg.task, leg.condition) for leg in legs))
    groups = []
    for k, key in enumerate(keys):
        own = [leg for leg in legs if (leg.task, leg.condition) == key]
        answered = [(leg, answer_of(leg, why_no_contributions(results, leg))) for leg in own]
        bar = bar_picture(own, f"bars{k}", "Which part moved the knee?")
        published = published_for(results, key[0]) if settings.reference_values else Published({})
        groups.append(
            Group(
                spoken(key[0]),
                key[1],
                answered,
                bar,
                account_tables(own),
                sides(own),
                context(own, published, person_of(results)),
                [(repetition_table(leg), word_table(leg)) for leg in own],
                drawn := _pictures(results, own, k, peaks(published.groups)),
                published.complaints,
                _undrawn(results, own, drawn),
            )
        )
    since = since_last(results, share)
    title = f"{results.participant}: {spoken(keys[0][0]) if len(keys) == 1 else 'squat report'}"
    names = results.trial_names()
    pictures = [
        quality_picture(results.trial(n), f"quality{k}", scrubbed(n) if share else n, results.timed_findings(n))
        for k, n in enumerate(names)
    ]
    content = Content(
        title,
        "" if share else results.session,
        _facts(results, share),
        groups,
        *since,
        quality_of(results),
        [str(c) for c in results.manifest.get("corrections", [])],
        [] if share else _provenance(results),
        share,
        [p for k, n in enumerate(names) if (p := time_picture(results.trial(n), f"time{k}", n))],
        [p for p in pictures if p is not None],
        _moving(results, groups, share) if settings.skeleton else None,
    )
    if not share:
        return content
    skipped = ("skeleton", "share")
    return replace(content, **{k: shared(v) for k, v in vars(content).items() if k not in skipped})


def _moving(results: Results, groups: list[Group], share: bool) -> dict[str, Any] | None:
    """The skeleton's data, with the panels whose cursor follows it."""
    data = skeleton_of(results)
    if data is not None:
        for trial in data["trials"]:
            trial["name"] = scrubbed(trial["name"]) if share else trial["name"]
        data["panels"] = [panel for g in groups for picture in g.pictures for panel in picture.panels]
    return data


def _pictures(
    results: Results, legs: list[Leg], k: int, published: dict[str, list[tuple[float, float, bool]]]
) -> list[Picture]:
    """The pictures of one task, in the order of the questions."""
    below = ["shank_tilt_from_below", "thigh_axial_rotation_from_below"]
    made = (
        course_picture(legs, f"course{k}"),
        bar_picture(legs, f"below{k}", "And seen from below: foot, ankle or knee?", below),
        repetition_picture(legs, f"repetitions{k}"),
        path_picture(legs, f"paths{k}"),
        axes_picture(results, legs, f"above{k}"),
        mass_picture(results, legs, f"mass{k}"),
        curve_picture(legs, f"curves{k}", published),
    )
    return [picture for picture in made if picture is not None]


def _undrawn(results: Results, legs: list[Leg], drawn: list[Picture]) -> tuple[tuple[str, str], ...]:
    """Why there is no picture of the balance, where counted repetitions were measured and it cannot be drawn."""
    words = mass_words(results, legs)
    if not words or not any(len(leg.valid) for leg in legs) or MASS_QUESTION in [p.question for p in drawn]:
        return ()
    why = "centre of mass, heel and second metatarsal were not all seen"
    return ((MASS_QUESTION, f"Not drawn, for {why}. {words}"),)


def _facts(results: Results, share: bool) -> list[tuple[str, str]]:
    declared = results.declared
    participant = declared.get("participant") or {}
    facts = [("Participant", results.participant)]
    if not share:
        facts.append(("Session", results.session))
    for key, words in (("sex", "Sex"), ("affected_side", "Affected side")):
        value = participant.get(key) or declared.get(key)
        if value:
            facts.append((words, str(value)))
    tasks = {str(t.get("task", "")) for t in declared.get("trials", []) if isinstance(t, dict)}
    facts.append(("Tasks", ", ".join(sorted(TASK_WORDS.get(t, t) for t in tasks if t))))
    return [(words, value) for words, value in facts if value]


def _provenance(results: Results) -> list[tuple[str, str]]:
    manifest = results.manifest
    rows = [(str(i.get("file", "")), str(i.get("sha256") or "")) for i in manifest.get("inputs", [])]
    return [*rows, ("settings", str(manifest.get("settings_sha256", "")))]
