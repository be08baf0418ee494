"""cohort.yaml: one pattern instead of thousands of session files."""

import os
import re
from collections.abc import Iterable
from pathlib import Path, PurePosixPath

from condyle.archive.cohort_file import Cohort
from condyle.archive.cohort_session import Described, Files, Source, described, participants, shipped_names
from condyle.archive.found import in_order, walk
from condyle.errors import ConfigurationErrors, UsageError
from condyle.files.checked import validate
from condyle.files.found_files import beside
from condyle.files.suggestion import hint
from condyle.files.yaml_text import read_yaml_text


def sessions_of_cohort(root: Path, folder: str, leave_out: Path | None, taken: Iterable[str]) -> dict[str, Described]:
    """The sessions that a cohort.yaml describes, by their folder below ``root``.

    Their texts name files absolutely. ``taken`` are the folders that hold a session.yaml of their own; their files are
    left to it. Raises UsageError where nothing matches the pattern, or where a file that all sessions share is missing.
    """
    home = root / folder
    text = read_yaml_text(home / "cohort.yaml")
    cohort, sentences = validate(Cohort, text)
    if cohort is None:
        raise ConfigurationErrors(sentences)
    if missing := _missing(home, cohort):
        raise ConfigurationErrors([text.sentence((key,), words) for key, words in missing.items()])
    above = "" if folder == "." else f"{folder}/"
    groups = _grouped(home, cohort, leave_out, {*taken}, above)
    if not groups:
        raise UsageError(
            text.sentence(("pattern",), f"no file below this folder matches `{cohort.pattern}`; see its parts")
        )
    source = Source(home, cohort, text, f"{above}cohort.yaml", participants(home, cohort, text, above))
    owners = _owners(groups)
    sessions = {
        above + _place(files, owners, *key): described(source, *key, files) for key, files in sorted(groups.items())
    }
    return dict(sorted(sessions.items(), key=lambda item: in_order(item[0])))


def _missing(home: Path, cohort: Cohort) -> dict[str, str]:
    """Key and sentence of what all sessions share and cannot be found."""
    found = {}
    for key in ("defaults", "marker_set", "pipeline"):
        value = getattr(cohort, key)
        if value is None or value in shipped_names(key) or (home / value).is_file():
            continue
        near = beside(home / value)
        if key != "defaults" and _is_bare(value):
            near = f", nor is one of that name shipped{hint(value, shipped_names(key))}"
        found[key] = f"{key.replace('_', ' ')} `{value}` is not there{near}"
    return found


def _is_bare(value: str) -> bool:
    return not value.endswith((".yaml", ".yml")) and "/" not in value and "\\" not in value


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
