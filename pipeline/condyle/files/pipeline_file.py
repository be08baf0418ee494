"""A pipeline file: the laboratory's axes, the stages in order, and their settings."""

import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Any, Literal, Protocol

from pydantic import Field, model_validator

from condyle.errors import ConfigurationErrors
from condyle.files.checked import Checked, validate
from condyle.files.limits import KnownLimits
from condyle.files.suggestion import hint
from condyle.files.yaml_text import TreePath, YamlText, read_yaml_text

Axis = Literal["+X", "-X", "+Y", "-Y", "+Z", "-Z"]
Forward = Literal["pelvis_at_start", "static_pelvis_by_foot", "+X", "-X", "+Y", "-Y", "+Z", "-Z"]

READ, REPORT = "read", "report"
READ_GIVES = frozenset({"point", "label", "tracking", "segment_kind", "static_only"})


class StageLike(Protocol):
    """What a pipeline file needs to know of a stage."""

    @property
    def name(self) -> str: ...  # noqa: D102
    @property
    def settings(self) -> type[Checked]: ...  # noqa: D102
    @property
    def needs(self) -> frozenset[str]: ...  # noqa: D102
    @property
    def gives(self) -> frozenset[str]: ...  # noqa: D102


class Lab(Checked):
    """The axes of the laboratory, as the files have them."""

    vertical: Axis = Field("+Z", description="the file's axis that points up, against gravity")
    anterior: Forward = Field(
        "pelvis_at_start",
        description="where anterior points: by the pelvis in the stance before the first repetition, by the static "
        "trial's pelvis laid on the stance foot, or along a lab axis",
    )

    @model_validator(mode="after")
    def _square(self) -> "Lab":
        if self.anterior[-1] == self.vertical[-1]:
            raise ValueError(
                f"anterior `{self.anterior}` lies along the vertical `{self.vertical}`; choose another axis"
            )
        return self


class ReadSettings(Checked):
    """How C3D files are read."""

    zero_is_missing: bool = Field(True, description="a point at exactly (0, 0, 0) is a missing sample")
    accept_truncated: bool = Field(False, description="use the frames that a truncated file still has, and mark it")
    accept_all_invalid: bool = Field(
        False, description="use coordinates although every sample of the file is flagged as missing (residual -1)"
    )
    forces: bool = Field(True, description="extract the centre of pressure where the file has force plates")
    limits: Annotated[dict[str, float], KnownLimits("reading")] = Field(
        {}, description="changes to the limits of configs/reading.yaml: which samples are none, which are told"
    )


class ReportSettings(Checked):
    """What the report shows."""

    reference_values: bool = Field(True, description="show published values beside the participant's, as context")
    skeleton: bool = Field(True, description="put the moving skeleton into the page")


class _File(Checked):
    """The top level of a pipeline file; the stages are checked one by one."""

    lab: Lab = Field(Lab(), description="the axes of the laboratory")
    stages: tuple[Any, ...] = Field(min_length=1, description="the stages that are run, in order, with their settings")


@dataclass(frozen=True)
class Pipeline:
    """What is run, in order, with every default written out."""

    lab: Lab
    read: ReadSettings
    report: ReportSettings | None
    stages: Mapping[str, Checked]
    file: Path | None = field(default=None, compare=False)

    @property
    def stage_names(self) -> tuple[str, ...]:
        """The computing stages that are run, in order; read and report are not among them."""
        return tuple(self.stages)

    def settings_of(self, name: str) -> Any:
        """The settings of a stage that is run, or of ``read`` or ``report``; KeyError where it is not run."""
        if name == READ:
            return self.read
        if name == REPORT and self.report is not None:
            return self.report
        return self.stages[name]

    def resolved(self) -> dict[str, Any]:
        """Everything as plain values with all defaults, for the manifest; it is a valid pipeline file again."""
        named: list[tuple[str, Checked]] = [(READ, self.read), *self.stages.items()]
        if self.report is not None:
            named.append((REPORT, self.report))
        stages = [{name: settings.model_dump(mode="json", by_alias=True)} for name, settings in named]
        return {"lab": self.lab.model_dump(mode="json"), "stages": stages}


def load_pipeline(path: str | os.PathLike[str], stages: Sequence[StageLike]) -> Pipeline:
    """The pipeline in a YAML file, ``stages`` being all there are; raises ConfigurationErrors, a sentence a mistake."""
    return _checked(read_yaml_text(path), stages, Path(path))


def pipeline_from(tree: Mapping[str, Any], stages: Sequence[StageLike], name: str = "pipeline") -> Pipeline:
    """The same from a mapping, checked alike."""
    return _checked(YamlText(Path(name), dict(tree), {}), stages, None)


def default_pipeline(stages: Sequence[StageLike]) -> Pipeline:
    """Every stage with its default settings."""
    return Pipeline(Lab(), ReadSettings(), ReportSettings(), {stage.name: stage.settings() for stage in stages})


def _checked(text: YamlText, stages: Sequence[StageLike], file: Path | None) -> Pipeline:
    declared, sentences = validate(_File, text)
    entries = text.tree.get("stages")
    steps = list(_steps(entries if isinstance(entries, list) else []))
    classes: dict[str, type[Checked]] = {
        READ: ReadSettings,
        **{s.name: s.settings for s in stages},
        REPORT: ReportSettings,
    }
    settings: dict[str, Checked] = {}
    mistakes = list(_wrong_steps(steps, classes))
    for step in steps:
        if step.name in classes:
            one, more = validate(classes[step.name], text, step.path, step.settings)
            sentences += more
            if one is not None:
                settings.setdefault(step.name, one)
    if not mistakes:
        mistakes = list(_wrong_order(steps, stages))
    sentences += [text.sentence(path, words) for path, words in mistakes]
    if sentences or declared is None:
        raise ConfigurationErrors(sentences)
    read, report = settings.pop(READ), settings.pop(REPORT, None)
    assert isinstance(read, ReadSettings)
    assert report is None or isinstance(report, ReportSettings)
    return Pipeline(declared.lab, read, report, settings, file)


@dataclass(frozen=True)
class _Step:
    """One entry of the list of stages."""

    name: str | None
    path: TreePath
    settings: Any
    wrong: str = ""


def _steps(entries: Sequence[Any]) -> Iterator[_Step]:
    for index, entry in enumerate(entries):
        path: TreePath = ("stages", index)
        if isinstance(entry, str):
            yield _Step(entry, path, {})
        elif isinstance(entry, Mapping) and len(entry) == 1:
            ((name, settings),) = entry.items()
            yield _Step(str(name), (*path, str(name)), {} if settings is None else settings)
        elif isinstance(entry, Mapping) and entry:
            words = f"one entry holds {len(entry)} stages ({', '.join(f'`{n}`' for n in entry)}); put a `-` before each"
            yield _Step(None, path, {}, words)
        else:
            yield _Step(None, path, {}, "an entry without a stage; expected a name, or `name: {settings}`")


def _wrong_steps(steps: Sequence[_Step], classes: Mapping[str, type[Checked]]) -> Iterator[tuple[TreePath, str]]:
    seen: set[str] = set()
    for step in steps:
        if step.name is None:
            yield step.path, step.wrong
        elif step.name not in classes:
            yield step.path, f"stage `{step.name}` is not known{hint(step.name, classes)}"
        elif step.name in seen:
            yield step.path, f"stage `{step.name}` stands twice; keep one of them"
        else:
            seen.add(step.name)


def _wrong_order(steps: Sequence[_Step], stages: Sequence[StageLike]) -> Iterator[tuple[TreePath, str]]:
    """Stages out of the program's order, and stages without what they need."""
    order = [READ, *(s.name for s in stages), REPORT]
    known = {s.name: s for s in stages}
    names = [str(step.name) for step in steps]
    if READ not in names and steps:
        yield steps[0].path, f"stage `{names[0]}` is without what it needs: `{READ}` must stand first"
    behind: list[str] = []
    for step, name in zip(steps, names, strict=True):
        late = next((n for n in behind if order.index(n) > order.index(name)), None)
        if late is not None:
            yield (
                step.path,
                f"stage `{name}` stands after `{late}`; expected the order {', '.join(f'`{n}`' for n in order)}",
            )
        elif name in known:
            yield from _lacking(step.path, known[name], stages, behind)
        behind.append(name)


def _lacking(
    path: TreePath, stage: StageLike, stages: Sequence[StageLike], behind: Sequence[str]
) -> Iterator[tuple[TreePath, str]]:
    """The stages left out although only they give what this one needs."""
    given = READ_GIVES.union(*(s.gives for s in stages if s.name in behind))
    absent: dict[str, list[str]] = {}
    for need in sorted(stage.needs - given):
        givers = [s.name for s in stages if need in s.gives and s.name != stage.name]
        if givers:
            absent.setdefault(givers[0], []).append(need)
    for giver, needs in absent.items():
        words = ", ".join(f"`{n}`" for n in needs)
        yield path, f"stage `{stage.name}` needs {words}, which `{giver}` gives; add `{giver}` before it"
