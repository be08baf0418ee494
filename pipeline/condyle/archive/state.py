"""What a run would do with a session, without doing it."""

import tempfile
from collections.abc import Iterator
from pathlib import Path

from condyle.archive.cohort_text import told_by_origin
from condyle.archive.doubled import Names
from condyle.archive.record import Record, fingerprint, read_record, vouched_for
from condyle.archive.run import SESSIONS_FOLDER, Plan
from condyle.errors import CondyleError, ConfigurationErrors
from condyle.files.yaml_text import shown


def states_of(
    plan: Plan, out: Path | None, overwrite: bool = False, retry_failed: bool = False
) -> Iterator[tuple[str, str]]:
    """Every session's folder with ``new``, ``unchanged``, ``changed``, ``failed before``, ``cut off``, ... or a mistake.

    A mistake is ``wrong:`` and the first of its session file, or ``doubled:`` where a session before it has its name.
    """
    names = Names()
    for folder in plan.folders:
        yield folder, _state_of(plan, folder, out, names, overwrite, retry_failed)


def _state_of(plan: Plan, folder: str, out: Path | None, names: Names, overwrite: bool, retry_failed: bool) -> str:
    try:
        participant, session, made_from = _named(plan, folder)
    except CondyleError as error:
        return f"wrong: {str(error).splitlines()[0]}"
    record = read_record(out / SESSIONS_FOLDER / folder) if out is not None else None
    state = _by_record(out, folder, record, made_from, overwrite, retry_failed)
    if state != "failed before":
        beside, _ = names.met(Record(folder, made_from, "done", participant=participant, session=session))
        if beside.status == "failed":
            return f"doubled: {beside.reason}"
    return state


def _by_record(
    out: Path | None, folder: str, record: Record | None, made_from: str, overwrite: bool, retry_failed: bool
) -> str:
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


def _named(plan: Plan, folder: str) -> tuple[str, str, str]:
    """Participant, session and fingerprint."""
    root = str(plan.root.resolve())
    told = plan.described.get(folder)
    if told is None:
        return fingerprint(Path(root, folder, "session.yaml"), root)
    above = "" if plan.root == Path() else f"{shown(plan.root)}/"
    if told.mistake:
        raise ConfigurationErrors([above + told.mistake])
    with tempfile.TemporaryDirectory() as place:  # nothing is written where the user looks
        file = Path(place, "session.yaml")
        file.write_text(told.text, encoding="utf-8")
        try:
            return fingerprint(file, root)
        except ConfigurationErrors as error:
            raise ConfigurationErrors(told_by_origin(error.sentences, file, told.text, above)) from error
