"""What the archive remembers of a session: with which inputs it was made, and how it ended."""

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Literal

from condyle.errors import CondyleError
from condyle.files.atomic import write_text
from condyle.files.fingerprints import sha256_of_file, sha256_of_package, sha256_of_settings
from condyle.files.planned import Session
from condyle.files.reference import FOLDER as OWN_VALUES
from condyle.files.session_plan import load_session

TABLES = ("measures", "contributions", "repetitions", "quality")
_NAME = "record.json"
_FORMAT = 1

Status = Literal["running", "done", "rejected", "failed"]


@dataclass(frozen=True)
class Record:
    """How a session ended. Written last and atomically: what it vouches for lies whole on the disk.

    ``made_from`` is the fingerprint of inputs, settings and code; '' where it could not be taken, which fits nothing.
    ``tables`` holds the SHA-256 of each results table.
    """

    folder: str
    made_from: str
    status: Status
    reason: str = ""
    participant: str = ""
    session: str = ""
    seconds: float = 0.0
    tables: Mapping[str, str] = field(default_factory=dict)
    verdicts: Mapping[str, int] = field(default_factory=dict)
    version: int = _FORMAT


def read_record(out: Path) -> Record | None:
    """The record in a session's results folder; None where there is none that can be trusted."""
    try:
        content = json.loads((out / _NAME).read_text(encoding="utf-8"))
        record = Record(**content)
    except (OSError, ValueError, TypeError):
        return None
    return record if record.version == _FORMAT else None


def write_record(out: Path, record: Record) -> None:
    """Write a session's record."""
    write_text(out / _NAME, json.dumps(asdict(record), indent=1) + "\n")


def forget(out: Path) -> None:
    """Take a session's record away, so that it is done again, in this run or in the next."""
    (out / _NAME).unlink(missing_ok=True)


def vouched_for(out: Path, record: Record) -> bool:
    """Whether every table that the record names is there, byte for byte."""
    try:
        return all(sha256_of_file(out / f"{name}.csv") == sha256 for name, sha256 in record.tables.items())
    except CondyleError:
        return False


def fingerprint(session_file: Path, root: str) -> tuple[str, str, str]:
    """Participant, session, and one SHA-256 over everything the results depend on.

    That is: what the session file says, defaults included; every file it names, by content and by the part it plays;
    the lab's own reference values beside the pipeline; the results of the session before, where one is named; and the
    program's sources with the shipped configuration.
    Dates of files and the place of ``root`` do not count, so an archive may be moved.
    """
    session = load_session(session_file)
    inputs = {name: sha256_of_file(path) if path.is_file() else "missing" for name, path in _inputs(session).items()}
    declared = session.declared.model_dump_json(by_alias=True).replace(f"{root.rstrip('/')}/", "")
    return session.participant.id, session.name, sha256_of_settings([inputs, declared, sha256_of_package()])


def _inputs(session: Session) -> dict[str, Path]:
    found = {"marker set": session.marker_set, "pipeline": session.pipeline}
    found |= {f"static {i}": path for i, path in enumerate(session.statics)}
    found |= {f"calibration {purpose}": path for purpose, path in session.calibrations.items()}
    found |= {f"trial {trial.name}": trial.file for trial in session.trials}
    found |= {f"reference {path.name}": path for path in sorted((session.pipeline.parent / OWN_VALUES).glob("*.yaml"))}
    if session.previous is not None:
        before = [session.previous / name for name in ("measures.csv", "session.yaml")]
        before += [session.previous / "results" / "measures.csv"]
        found |= {f"previous {i}": path for i, path in enumerate(before)}
    return found
