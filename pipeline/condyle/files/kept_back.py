"""What a manifest keeps back: names of files that trials hide by a name of their own, and folders that may be people's."""

import os
from collections.abc import Mapping
from pathlib import Path, PurePath
from typing import Any

from condyle.files.planned import Session
from condyle.files.privacy import looks_personal, personal_folders
from condyle.files.shipped import configs_folder


def recorded_session(session: Session, sha256: Mapping[str, str]) -> dict[str, Any]:
    """What the session file declares, as a manifest may hold it.

    A file is given as ``sha256:...`` where its trial has a ``name:`` of its own, so that it can be found again by its
    content (empty where it could not be read). Folders that are no pseudonyms are left out of every path.
    """
    declared: dict[str, Any] = session.declared.model_dump(mode="json", by_alias=True)
    person = session.participant.id

    def bare(path: str) -> str:
        return without_personal_folders(path, person)

    def of(path: str, name: str | None) -> str:
        if name is None or PurePath(path).stem == name:
            return bare(path)
        return f"sha256:{sha256[name]}" if name in sha256 else ""

    def standing(entry: str | dict[str, Any]) -> str | dict[str, Any]:
        """As it was written, a path or a mapping; a path may have its name elsewhere."""
        path = entry if isinstance(entry, str) else str(entry["file"])
        name = _name_elsewhere(session, path)
        return bare(path) if name is None else {"file": of(path, name), "name": name}

    for entry in declared["trials"]:
        entry["file"] = of(entry["file"], entry["name"])
        entry["static"] = None if entry["static"] is None else standing(entry["static"])
    for entry in declared["calibration"]:
        entry["name"] = _name_elsewhere(session, entry["file"])
        entry["file"] = of(entry["file"], entry["name"])
    declared["static"] = [standing(entry) for entry in declared["static"]]
    declared |= {key: bare(declared[key]) for key in ("marker_set", "pipeline")}
    if declared["previous"] is not None and _personal(declared["previous"], person):
        declared["previous"] = None  # a folder has no content to be found again by
    return declared


def _name_elsewhere(session: Session, path: str) -> str | None:
    """What a static or calibration file is called wherever the session file names it; None where it has no name."""
    exact = session.names.get(Path(os.path.normpath(session.folder / path)))  # else relative to a file of defaults
    return exact or next((name for file, name in session.names.items() if file.name == PurePath(path).name), None)


def without_personal_folders(path: str, participant: str) -> str:
    """A path as it is, or the file's name alone where a folder in it is called by something else than a pseudonym."""
    return PurePath(path).name if _personal(str(PurePath(path).parent), participant) else path


def session_folder(session: Session, results: Path | None) -> str | None:
    """From the results to the session, so that a report drawn again finds the session before.

    None across drives, and where a folder on the way is called by something else than a pseudonym.
    """
    relative = _relative(session.folder, results)
    return None if relative is None or _personal(relative, session.participant.id) else relative


def pipeline_file(session: Session, results: Path | None) -> str | None:
    """From the results to the lab's own pipeline, beside which its reference values stand; None for a shipped one.

    None also where it lies below a folder that may be called by the participant's name.
    """
    if session.pipeline.parent == configs_folder():
        return None
    hidden = personal_folders([session.folder], session.participant.id)
    if any(session.pipeline.is_relative_to(folder) for folder in hidden):
        return None
    return _relative(session.pipeline, results)


def _personal(path: str, participant: str) -> bool:
    return any(looks_personal(part, participant) for part in PurePath(path).parts)


def _relative(place: Path, results: Path | None) -> str | None:
    try:
        return None if results is None else Path(os.path.relpath(place, results)).as_posix()
    except ValueError:
        return None
