"""What a run would do with a session, without doing it."""

import tempfile
from pathlib import Path

from condyle.archive.record import fingerprint, read_record, vouched_for
from condyle.archive.run import SESSIONS_FOLDER, Plan
from condyle.errors import CondyleError


def state_of(plan: Plan, folder: str, out: Path | None, overwrite: bool = False, retry_failed: bool = False) -> str:
    """``new``, ``unchanged``, ``changed``, ``failed before``, ``cut off``, or ``wrong:`` and the first mistake."""
    try:
        made_from = _made_from(plan, folder)
    except CondyleError as error:
        return f"wrong: {str(error).splitlines()[0]}"
    record = read_record(out / SESSIONS_FOLDER / folder) if out is not None else None
    if record is None:
        return "new"
    if overwrite:
        return "to be done again"
    if record.made_from != made_from:
        return "changed"
    if record.status == "running":
        return "cut off"
    if record.status == "failed":
        return "to be tried again" if retry_failed else "failed before"
    assert out is not None
    return "unchanged" if vouched_for(out / SESSIONS_FOLDER / folder, record) else "changed"


def _made_from(plan: Plan, folder: str) -> str:
    root = str(plan.root.resolve())
    text = plan.texts.get(folder)
    if text is None:
        return fingerprint(Path(root, folder, "session.yaml"), root)[2]
    with tempfile.TemporaryDirectory() as place:  # nothing is written where the user looks
        file = Path(place, "session.yaml")
        file.write_text(text, encoding="utf-8")
        return fingerprint(file, root)[2]
