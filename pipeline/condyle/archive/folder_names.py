"""Does an archive copy names of folders that may be people's? Said once, without repeating one."""

import csv
from pathlib import Path

from condyle.files.privacy import looks_like_a_full_name, personal_folders


def warning_of_names(out: Path) -> str:
    """A sentence on the sessions of a finished archive whose folders are called by no pseudonym; '' where none is."""
    with open(out / "sessions.csv", encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    many = sum(_seems_personal(Path(row["folder"]), row["participant"]) for row in rows)
    if not many:
        return ""
    return (
        f"The folders of {many} of {len(rows)} sessions hold a word that is no pseudonym and may be a person's name; "
        "sessions.csv, overview.html, records and folders of the archive repeat it: "
        "rename the folders and use a new --out before passing the archive on."
    )


def _seems_personal(folder: Path, participant: str) -> bool:
    if participant:
        return bool(personal_folders([folder], participant))
    # a session file with mistakes: no pseudonym is known against which a single word could be judged
    return any(looks_like_a_full_name(part) for part in folder.parts)
