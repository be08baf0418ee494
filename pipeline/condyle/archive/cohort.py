"""cohort.yaml: one pattern instead of thousands of session files."""

import csv
import fnmatch
import os
import re
from collections.abc import Iterable
from pathlib import Path, PurePosixPath
from typing import Annotated, Any

import yaml
from pydantic import Field, field_validator

from condyle.archive.found import in_order, walk
from condyle.errors import ConfigurationErrors, UsageError
from condyle.files.checked import Checked, validate
from condyle.files.session_file import Purpose, Side, Task
from condyle.files.yaml_text import YamlText, read_yaml_text, shown

_WORDS = ("participant", "session", "trial")
_TO_PARTICIPANT = ("sex", "age_years", "height_mm", "mass_kg")

Text = Annotated[str, Field(min_length=1)]


class CohortTrial(Checked):
    """Which files are a kind of trial, by the {trial} part of their names."""

    name: Text = Field(description="trial name or a glob such as squat_right*")
    task: Task = Field("single_leg_squat", description="what was done; other means angles only")
    side: Side = Field("auto", description="stance side; auto takes the foot that stays still")
    condition: dict[str, Text] = Field({}, description="free words, carried into tables")


class CohortCalibration(Checked):
    """Which files are a kind of functional trial."""

    name: Text = Field(description="trial name or a glob such as hip_right*")
    purpose: Purpose = Field(alias="for", description="hip_r, hip_l: hip centre; knee_axis_r, knee_axis_l: knee axis")


class Cohort(Checked):
    """How a cohort's files are named, and what its sessions share."""

    pattern: Text = Field(description="path of a C3D file below this one, such as {participant}/{session}/{trial}.c3d")
    static: Text = Field(description="trial name or a glob of the static trial, such as static*")
    trials: tuple[CohortTrial, ...] = Field(min_length=1, description="kinds of trials; the first that fits decides")
    calibration: tuple[CohortCalibration, ...] = Field((), description="functional trials")
    defaults: Text | None = Field(None, description="a YAML file of facts that all the sessions share")
    marker_set: Text | None = Field(None, description="marker set of all the sessions")
    pipeline: Text | None = Field(None, description="pipeline of all the sessions")
    participants: Text | None = Field(None, description="CSV file: id, and any of sex, age_years, height_mm, mass_kg")

    @field_validator("pattern")
    @classmethod
    def _has_the_words(cls, value: str) -> str:
        words = re.findall(r"\{(\w*)\}", value)
        if sorted(words) != sorted(_WORDS):
            raise ValueError(
                f"the pattern must hold each of {{participant}}, {{session}} and {{trial}} once; found {value}"
            )
        return value


def sessions_of_cohort(root: Path, folder: str, leave_out: Path | None, taken: Iterable[str]) -> dict[str, str]:
    """The sessions that a cohort.yaml describes: their folder below ``root`` and the text of a session.yaml for each.

    The text names files absolutely. ``taken`` are the folders that hold a session.yaml of their own; their files are
    left to it. Raises UsageError where nothing matches the pattern.
    """
    home = root / folder
    text = read_yaml_text(home / "cohort.yaml")
    cohort, sentences = validate(Cohort, text)
    if cohort is None:
        raise ConfigurationErrors(sentences)
    groups = _grouped(home, cohort, leave_out, {*taken}, "" if folder == "." else f"{folder}/")
    if not groups:
        raise UsageError(
            text.sentence(("pattern",), f"no file below this folder matches `{cohort.pattern}`; see its parts")
        )
    people = _participants(home, cohort, text)
    owners = _owners(groups)
    sessions = {}
    for (participant, session), files in sorted(groups.items()):
        content = _session(home, cohort, participant, session, files, people.get(participant, {}))
        place = _place(files, owners, participant, session)
        sessions[place if folder == "." else f"{folder}/{place}"] = yaml.safe_dump(
            content, sort_keys=False, allow_unicode=True
        )
    return dict(sorted(sessions.items(), key=lambda item: in_order(item[0])))


Files = dict[str, str]  # {trial}: path below the cohort's folder


def _grouped(
    home: Path, cohort: Cohort, leave_out: Path | None, taken: set[str], above: str
) -> dict[tuple[str, str], Files]:
    matcher = re.compile(_expression(cohort.pattern))
    groups: dict[tuple[str, str], Files] = {}
    for folder, names in walk(home, leave_out):
        if (above + folder).rstrip("/") in taken:
            continue
        for name in names:
            path = f"{folder}/{name}" if folder else name
            if match := matcher.fullmatch(path):
                key = (match["participant"], match["session"])
                groups.setdefault(key, {})[match["trial"]] = path
    return groups


def _expression(pattern: str) -> str:
    parts = re.split(r"(\{\w+\}|\*)", pattern)
    return "".join(
        f"(?P<{part[1:-1]}>[^/]+?)" if part.startswith("{") else "[^/]*" if part == "*" else re.escape(part)
        for part in parts
    )


def _owners(groups: dict[tuple[str, str], Files]) -> dict[str, tuple[str, str] | None]:
    """Whose files lie in a folder or below it; None where several sessions have some there."""
    owners: dict[str, tuple[str, str] | None] = {}
    for key, files in groups.items():
        for path in files.values():
            for above in PurePosixPath(path).parents:
                folder = "" if above == PurePosixPath() else str(above)
                owners[folder] = key if owners.get(folder, key) == key else None
    return owners


def _place(files: Files, owners: dict[str, tuple[str, str] | None], participant: str, session: str) -> str:
    # the files' own folder, where it is this session's alone; else one that is made up of the names
    folders = {os.path.dirname(path) for path in files.values()}
    folder = os.path.commonpath(folders) if "" not in folders else ""
    if folder and owners[folder] == (participant, session):
        return folder
    return f"{folder}/{participant}_{session}" if folder else f"{participant}_{session}"


def _session(
    home: Path, cohort: Cohort, participant: str, session: str, files: Files, person: dict[str, str]
) -> dict[str, Any]:
    def path(name: str) -> str:
        return os.path.abspath(home / name)

    left = dict(files)
    statics = [left.pop(name) for name in sorted(files) if fnmatch.fnmatchcase(name, cohort.static)]
    content: dict[str, Any] = {}
    if cohort.defaults:
        content["defaults"] = path(cohort.defaults)
    content["participant"] = {"id": participant, **person}
    content["session"] = session
    for key in ("marker_set", "pipeline"):
        if value := getattr(cohort, key):
            content[key] = path(value)
    content["static"] = [path(name) for name in statics] or path(f"{cohort.static}.c3d")
    calibration = []
    for kind in cohort.calibration:
        for name in [name for name in sorted(left) if fnmatch.fnmatchcase(name, kind.name)]:
            calibration.append({"file": path(left.pop(name)), "for": kind.purpose})
    if calibration:
        content["calibration"] = calibration
    content["trials"] = []
    for name, file in sorted(left.items()):
        for kind_of in cohort.trials:
            if fnmatch.fnmatchcase(name, kind_of.name):
                entry = {"file": path(file), "name": re.sub(r"[^A-Za-z0-9._-]", "_", name)}
                content["trials"].append(entry | kind_of.model_dump(include={"task", "side"}) | _condition(kind_of))
                break
    return content


def _condition(kind: CohortTrial) -> dict[str, Any]:
    return {"condition": kind.condition} if kind.condition else {}


def _participants(home: Path, cohort: Cohort, text: YamlText) -> dict[str, dict[str, str]]:
    if cohort.participants is None:
        return {}
    file = home / cohort.participants
    try:
        with open(file, encoding="utf-8-sig", newline="") as stream:
            rows = list(csv.DictReader(stream))
    except (OSError, ValueError, csv.Error) as error:
        words = f"`participants` names {cohort.participants}, which cannot be read as a CSV file in UTF-8"
        raise ConfigurationErrors([text.sentence(("participants",), words)]) from error
    if rows and "id" not in rows[0]:
        raise ConfigurationErrors([f"{shown(file)}, line 1: column `id` is missing; found {', '.join(rows[0])}"])
    return {row["id"]: {key: row[key] for key in _TO_PARTICIPANT if row.get(key)} for row in rows}
