"""Which sessions lie below a folder?"""

import os
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

SESSION_FILE = "session.yaml"
COHORT_FILE = "cohort.yaml"
RESULTS = "results"  # beside a session.yaml: what a run of that session alone has written


@dataclass
class Found:
    """What a walk through the folders met, everything relative to the root and in order."""

    sessions: list[str] = field(default_factory=list)
    cohorts: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)


def find(root: Path, leave_out: Path | None = None) -> Found:
    """Every folder below ``root`` with a session.yaml or a cohort.yaml; hidden ones and ``leave_out`` not entered."""
    found = Found()
    for folder, files in walk(root, leave_out, found.complaints):
        if SESSION_FILE in files:
            found.sessions.append(folder or ".")
        if COHORT_FILE in files:
            found.cohorts.append(folder or ".")
    found.sessions.sort(key=in_order)
    found.cohorts.sort(key=in_order)
    return found


def in_order(folder: str) -> tuple[str, ...]:
    """The key by which folders are in order: part by part, so that a folder comes before its neighbours' children."""
    return tuple(folder.split("/"))


def walk(
    root: Path, leave_out: Path | None = None, complaints: list[str] | None = None
) -> Iterator[tuple[str, list[str]]]:
    """Every folder with its files, relative to ``root``; what cannot be looked into becomes a complaint.

    A link to a folder is followed and each real folder is visited once: a loop of links ends, and a session that is
    linked from elsewhere too is one session, under its own name where that lies below the root.
    """
    seen: set[tuple[int, int]] = set()
    if leave_out is not None and leave_out.is_dir():
        seen.add(_identity(leave_out))
    starts = [""]
    while starts:
        links: list[str] = []
        stack = starts[::-1]
        while stack:  # real folders first, so that a link never takes a folder's own place
            folder = stack.pop()
            try:
                if (identity := _identity(root / folder)) in seen:
                    continue
                seen.add(identity)
                with os.scandir(root / folder) as entries:
                    files, folders, linked = _sorted_out(sorted(entries, key=lambda entry: entry.name))
            except OSError as error:
                if complaints is not None:
                    reason = (error.strerror or str(error)).lower()
                    complaints.append(f"{folder or '.'} could not be looked into: {reason}.")
                continue
            above = f"{folder}/" if folder else ""
            if SESSION_FILE in files:
                folders = [name for name in folders if name != RESULTS]
            stack.extend(above + name for name in reversed(folders))
            links.extend(above + name for name in linked)
            yield folder, files
        starts = sorted(links, key=in_order)


def _sorted_out(entries: "list[os.DirEntry[str]]") -> tuple[list[str], list[str], list[str]]:
    files: list[str] = []
    folders: list[str] = []
    links: list[str] = []
    for entry in entries:
        if entry.name.startswith("."):
            continue
        try:
            if entry.is_dir():
                (links if entry.is_symlink() else folders).append(entry.name)
            elif entry.is_file():
                files.append(entry.name)
        except OSError:  # a link that leads round to itself
            continue
    return files, folders, links


def _identity(folder: Path) -> tuple[int, int]:
    status = os.stat(folder)
    return status.st_dev, status.st_ino
