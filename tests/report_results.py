"""A small session with results, for the tests of the report: one right and one left trial, two squats each, no noise."""

import shutil
from pathlib import Path
from typing import Any

import pandas as pd
import yaml

from condyle.files.shipped import configs_folder
from condyle.results import prepare, write
from condyle.sample import Options, build_person, simulate_session, write_session
from condyle.sample.timing import Timing
from condyle.session import compute, plan
from condyle.session_result import SessionResult

STAGES = ("read", "check", "fill", "filter", "calibrate", "pose", "angles", "repetitions", "measures", "contributions")


def computed(
    place: Path, condition: str = "", stages: tuple[str, ...] = STAGES, lateral_only: bool = False
) -> tuple[SessionResult, Path]:
    """The session of MR01 processed without its report; its results lie in ``place/session/results``.

    ``lateral_only`` leaves the medial markers of knees and ankles out of the marker set; no width is measured either.
    """
    session = place / "session"
    options = Options.ideal(timing=Timing(repetitions=2), rate_hz=50.0)
    trials = {"squat_right": [("right", "pelvis_turn")], "squat_left": [("left", "hip_in")]}
    pipeline = place / "pipeline.yaml"
    pipeline.write_text(yaml.safe_dump({"stages": list(stages)}))
    markers = configs_folder() / "markers" / "clusters_full_body.yaml"
    if lateral_only:
        markers = without_medial(markers, place / "lateral_only.yaml")
    write_session(
        session,
        simulate_session(build_person("MR01"), trials, options),
        marker_set=str(markers),
        pipeline=str(pipeline),
    )
    if condition:
        text = (session / "session.yaml").read_text()
        (session / "session.yaml").write_text(text.replace("arms: crossed", f"arms: {condition!r}"))
    planned = plan(session)
    folder = prepare(planned, None, True)
    result = compute(planned)
    write(result, folder)
    return result, folder


def without_medial(markers: Path, place: Path) -> Path:
    """The marker set without the medial points of knees and ankles."""
    content = yaml.safe_load(markers.read_text())
    medial = [label for name, label in content["landmarks"].items() if name.startswith("medial_")]
    content["landmarks"] = {name: label for name, label in content["landmarks"].items() if label not in medial}
    content["static_only"] = [label for label in content["static_only"] if label not in medial]
    place.write_text(yaml.safe_dump(content))
    return place


def copied(folder: Path, place: Path) -> Path:
    """A copy of the results that a test may change."""
    return Path(shutil.copytree(folder, place / "session" / "results"))


def changed(folder: Path, name: str, **columns: Any) -> None:
    """Put other values into columns of a table; a function gets the table."""
    path = folder / f"{name}.csv"
    table = pd.read_csv(path, keep_default_na=False)
    for column, value in columns.items():
        table[column] = value(table) if callable(value) else value
    table.to_csv(path, index=False)
