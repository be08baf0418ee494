"""One session of a cohort: what its session file says, by the names of its files and the list of participants."""

import csv
import fnmatch
import os
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, NamedTuple

from condyle.archive.cohort_file import Cohort, CohortTrial
from condyle.archive.cohort_text import session_text
from condyle.errors import ConfigurationErrors
from condyle.files.shipped import shipped
from condyle.files.yaml_text import TreePath, YamlText, shown

_TO_PARTICIPANT = ("sex", "age_years", "height_mm", "mass_kg")
_SHIPPED: tuple[Literal["marker_set", "pipeline"], ...] = ("marker_set", "pipeline")

Files = dict[str, str]  # {trial}: path below the cohort's folder


@dataclass(frozen=True)
class Described:
    """A session as a cohort.yaml describes it: the text of its session file, or why there can be none."""

    text: str
    mistake: str = ""


class Source(NamedTuple):
    """What a cohort's sessions are made from; ``name`` is the cohort.yaml as seen from the archive's root."""

    home: Path
    cohort: Cohort
    text: YamlText
    name: str
    people: dict[str, "Person"]

    def origin(self, *path: str | int) -> str:
        """Where this path of the cohort.yaml stands."""
        return f"{self.name}, line {self.text.line(path)}"


class Person(NamedTuple):
    """What the list of participants says of one, and in which line."""

    facts: dict[str, str]
    origin: str


def shipped_names(key: str) -> dict[str, Path]:
    """The shipped marker sets or pipelines, which this key may give by name; none for other keys."""
    return next((shipped(kind) for kind in _SHIPPED if kind == key), {})


def described(source: Source, participant: str, session: str, files: Files) -> Described:
    """The session file of a participant's session with these files."""
    cohort, left = source.cohort, dict(files)
    statics = [left.pop(name) for name in sorted(files) if fnmatch.fnmatchcase(name, cohort.static)]
    if not statics:
        return _lacking(source, "static", f"the static trial, `{cohort.static}`", participant, session, files)
    person = source.people.get(participant, Person({}, ""))
    content: dict[str, Any] = {"participant": {"id": participant, **person.facts}, "session": session}
    origins: dict[TreePath, str] = {(): source.name, **_origins(source, person)}
    for key in ("defaults", "marker_set", "pipeline"):
        if value := getattr(cohort, key):
            content[key] = value if value in shipped_names(key) else _path(source, value)
    content["static"] = [_path(source, name) for name in statics]
    calibration: list[dict[str, str]] = []
    for k, kind in enumerate(cohort.calibration):
        for name in [name for name in sorted(left) if fnmatch.fnmatchcase(name, kind.name)]:
            origins["calibration", len(calibration)] = source.origin("calibration", k)
            calibration.append({"file": _path(source, left.pop(name)), "for": kind.purpose})
    if calibration:
        content["calibration"] = calibration
    trials: list[dict[str, Any]] = []
    for name, file in sorted(left.items()):
        for k, kind_of in enumerate(cohort.trials):
            if fnmatch.fnmatchcase(name, kind_of.name):
                origins["trials", len(trials)] = source.origin("trials", k)
                entry = {"file": _path(source, file), "name": re.sub(r"[^A-Za-z0-9._-]", "_", name)}
                trials.append(entry | kind_of.model_dump(include={"task", "side"}) | _condition(kind_of))
                break
    if not trials:
        return _lacking(source, "trials", "any of `trials`", participant, session, files)
    return Described(session_text({**content, "trials": trials}, origins))


def _origins(source: Source, person: Person) -> dict[TreePath, str]:
    names: dict[TreePath, str] = {(key,): source.origin("pattern") for key in ("participant", "session")}
    keys = ("defaults", "marker_set", "pipeline", "static", "calibration", "trials")
    return {
        **names,
        **{(key,): source.origin(key) for key in keys if key in source.text.tree},
        **{("participant", key): person.origin for key in person.facts},
    }


def _lacking(source: Source, key: str, what: str, participant: str, session: str, files: Files) -> Described:
    words = f"no file of participant {participant}, session {session} fits {what}; found {', '.join(sorted(files))}."
    return Described("", f"{source.origin(key)}: {words}")


def _path(source: Source, name: str) -> str:
    return os.path.abspath(source.home / name)


def _condition(kind: CohortTrial) -> dict[str, Any]:
    return {"condition": kind.condition} if kind.condition else {}


def participants(home: Path, cohort: Cohort, text: YamlText, above: str) -> dict[str, Person]:
    """The list of participants by id; ``above`` is the cohort's folder as seen from the archive's root."""
    if cohort.participants is None:
        return {}
    file = home / cohort.participants
    # a file elsewhere is named without its folders: they are nobody's business in a table that is passed on
    name = file.name if os.path.isabs(cohort.participants) else os.path.normpath(above + cohort.participants)
    people = {}
    try:
        with open(file, encoding="utf-8-sig", newline="") as stream:
            rows = csv.DictReader(stream)
            if "id" not in (rows.fieldnames or ["id"]):
                found = ", ".join(rows.fieldnames or ())
                raise ConfigurationErrors([f"{shown(file)}, line 1: column `id` is missing; found {found}"])
            for row in rows:
                facts = {key: row[key] for key in _TO_PARTICIPANT if row.get(key)}
                people[row["id"]] = Person(facts, f"{name}, line {rows.line_num}")
    except (OSError, ValueError, csv.Error) as error:
        words = f"`participants` names {cohort.participants}, which cannot be read as a CSV file in UTF-8"
        raise ConfigurationErrors([text.sentence(("participants",), words)]) from error
    return people
