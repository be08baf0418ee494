"""Published values of measures, to lay beside one's own, with what decides whether they may be compared at all."""

from collections.abc import Iterable, Mapping
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import Annotated, Any, Literal, NamedTuple

from pydantic import Field, field_validator, model_validator

from condyle.errors import CondyleError, ConfigurationErrors
from condyle.files.checked import Checked, validate
from condyle.files.session_file import Task
from condyle.files.shipped import configs_folder
from condyle.files.suggestion import hint
from condyle.files.yaml_text import read_yaml_text
from condyle.measure_dictionary import MEASURES
from condyle.unit_conversion import convertible_to, factor

FOLDER = "reference"
Kind = Literal["absolute", "range", "displacement"]
Definition = Literal["same", "other", "unverified"]
Text = Annotated[str, Field(min_length=1)]
Years = Annotated[float, Field(ge=0, le=120)]
# a misplaced marker or another frame shifts every absolute value; a difference within a squat it hardly shifts
_NOT_ABSOLUTE = ("_range", "_change", "_travel", "_path_length", "_end_offset", "_shift", "_travel_percent_leg")


class PublishedValue(Checked):
    """One measure of a group."""

    measure: Text = Field(description="name of the measure, as in measures.csv")
    kind: Kind = Field(
        description="absolute: an angle or place, peaks too; range: largest less smallest; displacement: a way or a change"
    )
    definition: Definition = Field(
        description="whether the source measured it as condyle does: same, other, or unverified"
    )
    mean: float = Field(
        ge=-10_000,
        le=10_000,
        description="mean of the group, in the measure's sign",
        json_schema_extra={"unit": "1"},
    )
    sd: float = Field(gt=0, le=10_000, description="standard deviation of the group", json_schema_extra={"unit": "1"})

    unit: Text | None = Field(
        None, description="unit of mean and sd, converted to the measure's own; left out, they are taken to be in that"
    )

    @field_validator("measure")
    @classmethod
    def _known(cls, value: str) -> str:
        if value not in MEASURES:
            raise ValueError(f"measure `{value}` is not known{hint(value, MEASURES)}")
        return value

    @property
    def in_own_unit(self) -> tuple[float, float]:
        """Mean and standard deviation in the measure's own unit."""
        by = factor(self.unit or "", MEASURES[self.measure].unit) if self.unit else 1.0
        return self.mean * (by or 1.0), self.sd * (by or 1.0)

    @model_validator(mode="after")
    def _unit_fits(self) -> "PublishedValue":
        own = MEASURES[self.measure].unit
        if self.unit is not None and factor(self.unit, own) is None:
            raise ValueError(
                f"`{self.measure}` is in {own}, and {self.unit} is not; expected one of {convertible_to(own)}"
            )
        return self

    @model_validator(mode="after")
    def _kind_fits(self) -> "PublishedValue":
        if self.kind != "absolute" and not self.measure.endswith(_NOT_ABSOLUTE):
            raise ValueError(f"`{self.measure}` is no range and no displacement; write `kind: absolute`")
        return self


class Group(Checked):
    """People who were measured together."""

    name: Text = Field(description="who they were")
    people: int = Field(ge=2, le=1_000_000, description="how many", json_schema_extra={"unit": "1"})
    sex: Literal["female", "male"] | None = Field(None, description="their sex; left out where both or not stated")
    age_years: tuple[Years, Years] | None = Field(
        None, description="youngest and oldest, in completed years; left out where not stated"
    )
    knee_flexion_deg: float | None = Field(
        None,
        ge=0,
        le=180,
        description="their mean peak knee flexion: how deep they squatted; left out where not stated",
    )
    with_pain: bool = Field(False, description="people with pain or an injury: shown as context, never scored against")
    source: Text = Field(description="where it is published, or whose own measurements they are")
    values: tuple[PublishedValue, ...] = Field(min_length=1, description="their values")

    @field_validator("age_years")
    @classmethod
    def _in_order(cls, value: tuple[float, float] | None) -> tuple[float, float] | None:
        if value is not None and not 0 < value[0] <= value[1]:
            raise ValueError("expected the youngest, then the oldest")
        return value


class ReferenceFile(Checked):
    """A file of published values: the groups of one task."""

    task: Task = Field(description="the task, as in measures.csv")
    groups: tuple[Group, ...] = Field(min_length=1, description="who was measured")


class Reference(NamedTuple):
    """Mean and standard deviation of a group, in the unit and sign of the measure, and what they hold for."""

    group: str
    people: int
    source: str
    mean: float
    sd: float
    kind: Kind = "absolute"
    definition: Definition = "unverified"
    sex: str | None = None
    age_years: tuple[float, float] | None = None
    knee_flexion_deg: float | None = None
    with_pain: bool = False
    assumed_unit: str = ""  # the measure's own, where the file names none

    @property
    def words(self) -> str:
        """Group and values in one line."""
        return f"{self.group}: {self.mean:g} \N{PLUS-MINUS SIGN} {self.sd:g}{self.unit_words}"

    @property
    def unit_words(self) -> str:
        """That no unit is named, and which was assumed; empty where one is."""
        return f" (no unit named: {self.assumed_unit} assumed)" if self.assumed_unit else ""

    @property
    def origin(self) -> str:
        """Group, size and source in one line."""
        return f"{self.group} (n {self.people}): {self.source}"


class References(NamedTuple):
    """The groups for each (task, measure), and a sentence for each mistake in a lab's own files."""

    values: Mapping[tuple[str, str], tuple[Reference, ...]]
    complaints: tuple[str, ...]


@lru_cache(maxsize=8)
def references(own: tuple[Path, ...] = ()) -> References:
    """The shipped groups and those of a lab's own folders; a lab's file replaces the shipped one of the same name.

    A mistake in a shipped file raises ConfigurationErrors; a lab's file with a mistake is left out and complained of,
    for a report must not fail for it.
    """
    folders = [folder for folder in own if folder.resolve() != (configs_folder() / FOLDER).resolve()]
    theirs = [path for folder in folders for path in sorted(folder.glob("*.yaml"))]
    replaced = {path.name for path in theirs}
    shipped = [p for p in sorted((configs_folder() / FOLDER).glob("*.yaml")) if p.name not in replaced]
    files = [load_reference(path) for path in shipped]
    complaints: list[str] = []
    for path in theirs:
        try:
            files.append(load_reference(path))
        except CondyleError as error:
            complaints += str(error).splitlines()
    return References(MappingProxyType(_by_measure(files)), tuple(complaints))


def _by_measure(files: Iterable[ReferenceFile]) -> dict[tuple[str, str], tuple[Reference, ...]]:
    found: dict[tuple[str, str], tuple[Reference, ...]] = {}
    for file in files:
        for group in file.groups:
            about = (group.sex, group.age_years, group.knee_flexion_deg, group.with_pain)
            for v in group.values:
                assumed = "" if v.unit else MEASURES[v.measure].unit
                values = (*v.in_own_unit, v.kind, v.definition)
                entry = Reference(group.name, group.people, group.source, *values, *about, assumed)
                before = found.get((file.task, v.measure), ())
                if entry not in before:  # two folders may hold a copy of the same file
                    found[file.task, v.measure] = (*before, entry)
    return found


def load_reference(path: Path) -> ReferenceFile:
    """One file of published values; raises ConfigurationErrors with file and line."""
    file, sentences = validate(ReferenceFile, read_yaml_text(path))
    if file is None:
        raise ConfigurationErrors(sentences)
    return file


def own_folders(manifest: Mapping[str, Any], results: Path) -> tuple[Path, ...]:
    """The lab's own folder of references: ``reference/`` beside the pipeline that a session's manifest names."""
    there = [folder / FOLDER for folder in pipeline_folders(manifest, results) if (folder / FOLDER).is_dir()]
    return (there[0].resolve(),) if there else ()


def pipeline_folders(manifest: Mapping[str, Any], results: Path) -> list[Path]:
    """Where the session's pipeline may stand: as its session file names it, then as seen from the results."""
    declared = manifest.get("settings", {}).get("session", {})
    pipeline = declared.get("pipeline") if isinstance(declared, dict) else None
    above, seen = manifest.get("session_folder"), manifest.get("pipeline_file")
    home = results / above if isinstance(above, str) else results.parent
    places = [home / pipeline] if isinstance(pipeline, str) else []
    return [place.parent for place in (*places, *([results / seen] if isinstance(seen, str) else []))]
