"""Published values of measures, to lay beside one's own."""

from functools import lru_cache
from pathlib import Path
from typing import Annotated, NamedTuple

from pydantic import Field

from condyle.errors import ConfigurationErrors
from condyle.files.checked import Checked, validate
from condyle.files.shipped import configs_folder
from condyle.files.yaml_text import read_yaml_text

Text = Annotated[str, Field(min_length=1)]


class PublishedValue(Checked):
    """One measure of a group."""

    measure: Text = Field(description="name of the measure, as in measures.csv")
    mean: float = Field(
        description="mean of the group, in the measure's unit and sign", json_schema_extra={"unit": "1"}
    )
    sd: float = Field(gt=0, description="standard deviation of the group", json_schema_extra={"unit": "1"})


class Group(Checked):
    """People who were measured together."""

    name: Text = Field(description="who they were")
    people: int = Field(ge=2, description="how many", json_schema_extra={"unit": "1"})
    source: Text = Field(description="where it is published")
    values: tuple[PublishedValue, ...] = Field(min_length=1, description="their values")


class ReferenceFile(Checked):
    """A file of configs/reference/: the groups of one task."""

    task: Text = Field(description="the task, as in measures.csv")
    groups: tuple[Group, ...] = Field(min_length=1, description="who was measured")


class Reference(NamedTuple):
    """Mean and standard deviation of a published group, in the unit and sign of the measure."""

    group: str
    people: int
    source: str
    mean: float
    sd: float

    @property
    def words(self) -> str:
        """Group and values in one line."""
        return f"{self.group}: {self.mean:g} \N{PLUS-MINUS SIGN} {self.sd:g}"

    @property
    def origin(self) -> str:
        """Group, size and source in one line."""
        return f"{self.group} (n {self.people}): {self.source}"


@lru_cache(maxsize=1)
def references() -> dict[tuple[str, str], tuple[Reference, ...]]:
    """The published groups for each (task, measure), from the shipped files."""
    found: dict[tuple[str, str], tuple[Reference, ...]] = {}
    for path in sorted((configs_folder() / "reference").glob("*.yaml")):
        file = load_reference(path)
        for group in file.groups:
            for value in group.values:
                key = (file.task, value.measure)
                entry = Reference(group.name, group.people, group.source, value.mean, value.sd)
                found[key] = (*found.get(key, ()), entry)
    return found


def load_reference(path: Path) -> ReferenceFile:
    """One file of published values; raises ConfigurationErrors with file and line."""
    file, sentences = validate(ReferenceFile, read_yaml_text(path))
    if file is None:
        raise ConfigurationErrors(sentences)
    return file
