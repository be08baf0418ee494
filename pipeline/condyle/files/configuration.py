"""Session, marker set and pipeline together: every mistake in the three files is told in one go."""

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from condyle.errors import ConfigurationErrors
from condyle.files.marker_set import MarkerSet, load_marker_set
from condyle.files.pipeline_file import Pipeline, StageLike, load_pipeline
from condyle.files.planned import Session
from condyle.files.session_plan import configuration_paths, load_session

T = TypeVar("T")


@dataclass(frozen=True)
class Configuration:
    """What a user wrote for one session, checked."""

    session: Session
    markers: MarkerSet
    pipeline: Pipeline


def load_configuration(path: str | os.PathLike[str], stages: Sequence[StageLike]) -> Configuration:
    """The configuration of a session folder; raises ConfigurationErrors with the mistakes of all its files."""
    sentences: list[str] = []

    def tried(load: Callable[[], T]) -> T | None:
        try:
            return load()
        except ConfigurationErrors as error:
            sentences.extend(s for s in error.sentences if s not in sentences)
            return None

    session = tried(lambda: load_session(path))
    marker_set, pipeline = (session.marker_set, session.pipeline) if session else configuration_paths(path)
    markers = tried(lambda: load_marker_set(marker_set)) if marker_set and marker_set.exists() else None
    steps = tried(lambda: load_pipeline(pipeline, stages)) if pipeline and pipeline.exists() else None
    if session is None or markers is None or steps is None:
        raise ConfigurationErrors(sentences)
    return Configuration(session, markers, steps)
