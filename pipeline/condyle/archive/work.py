"""One session of an archive: is it done already? If not, do it, and record how it ended."""

import errno
import json
import re
import shutil
from collections import Counter
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from time import perf_counter
from typing import TYPE_CHECKING, Any

from condyle.archive.cohort_text import told_by_origin
from condyle.archive.record import TABLES, Record, Status, fingerprint, read_record, vouched_for, write_record
from condyle.errors import CondyleError, ConfigurationErrors, DataError
from condyle.files.atomic import remove_stale, write_text
from condyle.files.fingerprints import sha256_of_file

if TYPE_CHECKING:
    from condyle.files.c3d import C3DReader

_LONGEST_REASON = 500


@dataclass(frozen=True)
class Job:
    """A session to be done: its folder below the root, its session file, and where its results go.

    ``text`` is the session file's content where a cohort.yaml describes it; ``session_file`` is then written first.
    ``mistake`` says why there can be none.
    """

    folder: str
    root: str
    session_file: str
    out: str
    text: str | None = None
    mistake: str = ""
    overwrite: bool = False
    retry_failed: bool = False

    def as_json(self) -> str:
        """One line of text, for a worker's pipe."""
        return json.dumps(asdict(self))


@dataclass(frozen=True)
class Outcome:
    """What became of a job.

    ``fresh`` is False where an earlier run had done it; ``stop`` says why no other session can be done either (a full
    disk), and then nothing was recorded.
    """

    record: Record
    fresh: bool = True
    stop: str = ""

    def as_json(self) -> str:
        """One line of text, for a worker's pipe."""
        return json.dumps(asdict(self))

    @staticmethod
    def from_json(line: str) -> "Outcome":
        """The outcome in a line that :meth:`as_json` wrote; ValueError for anything else."""
        try:
            content = json.loads(line)
            return Outcome(Record(**content["record"]), bool(content["fresh"]), str(content["stop"]))
        except (TypeError, KeyError) as error:
            raise ValueError(f"no outcome: {line[:80]!r}") from error


def work(job: Job, reader: "C3DReader | None" = None) -> Outcome:
    """Do the job; an error is how it ended, never an exception. ``reader`` serves one session after another."""
    try:
        return _worked(job, reader)
    except (OSError, CondyleError) as error:
        if not _nothing_can_be_written(error):
            raise
        return Outcome(Record(job.folder, "", "running"), stop=_sentence(str(error), job))


def _worked(job: Job, reader: "C3DReader | None") -> Outcome:
    started = perf_counter()
    out = Path(job.out)
    record = Record(job.folder, "", "failed")
    try:
        out.mkdir(parents=True, exist_ok=True)
        if job.mistake:
            raise ConfigurationErrors([job.mistake])
        if job.text is not None:
            _written_once(Path(job.session_file), job.text)
        participant, session, made_from = fingerprint(Path(job.session_file), job.root)
        record = replace(record, participant=participant, session=session, made_from=made_from)
        if (before := _trusted(job, out, made_from)) is not None:
            return Outcome(before, fresh=False)
        _clear(out)
        write_record(out, replace(record, status="running"))
        record = _processed(job, out, record, reader)
    except MemoryError:
        record = replace(record, reason="it needs more memory than one session may take; see --memory-gb.")
    except CondyleError as error:
        if _nothing_can_be_written(error):
            raise
        record = replace(record, reason=_sentence(_told(error, job), job))
    except OSError as error:
        if _nothing_can_be_written(error):
            raise
        record = replace(record, reason=_sentence(f"{error.strerror or error}".lower(), job))
    except Exception as error:  # a bug costs one session, and says so
        words = f"an error of condyle's own ({type(error).__name__}: {error}); run this session alone with --debug."
        record = replace(record, reason=_sentence(words, job))
    record = replace(record, seconds=round(perf_counter() - started, 3))
    if record.status == "failed":
        return _failed(out, record)
    write_record(out, record)
    return Outcome(record)


def _failed(out: Path, record: Record) -> Outcome:
    out.mkdir(parents=True, exist_ok=True)
    _clear(out)  # half of a session's results would look like all of them
    record = replace(record, status="failed", tables={}, verdicts={})
    write_record(out, record)
    return Outcome(record)


def _nothing_can_be_written(error: BaseException | None) -> bool:
    while error is not None:
        if isinstance(error, OSError) and error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EROFS):
            return True
        error = error.__cause__
    return False


def given_up(job: Job, reason: str, seconds: float) -> Outcome:
    """The outcome of a job whose workers died; what the dead worker noted before it began is kept in the record."""
    out = Path(job.out)
    before = read_record(out) or Record(job.folder, "", "failed")
    return _failed(out, replace(before, folder=job.folder, reason=reason, seconds=round(seconds, 3)))


def _trusted(job: Job, out: Path, made_from: str) -> Record | None:
    before = read_record(out)
    if job.overwrite or before is None or before.made_from != made_from or before.status == "running":
        return None
    if before.status == "failed":
        return None if job.retry_failed else before
    return before if vouched_for(out, before) else None


def _processed(job: Job, out: Path, record: Record, reader: "C3DReader | None") -> Record:
    from condyle.session import process

    result = process(job.session_file, out, overwrite=True, reader=reader)
    tables = {name: sha256_of_file(path) for name in TABLES if (path := out / f"{name}.csv").is_file()}
    if "quality" not in tables:
        raise DataError("its results lack quality.csv; run this session alone to see why.")
    verdicts = Counter(str(verdict) for verdict in _column(result.tables.get("quality"), "verdict"))
    status: Status = "rejected" if result.status == "rejected" else "done"
    reason = _sentence(_rejections(result.complaints()), job)
    return replace(record, status=status, reason=reason, tables=tables, verdicts=dict(sorted(verdicts.items())))


def _rejections(complaints: list[str]) -> str:
    """What was rejected and why, ``trial: check, subject: advice`` each; only which trials, where that gets long."""
    said = "; ".join(complaints)
    if len(said) <= _LONGEST_REASON:
        return said
    trials = dict.fromkeys(complaint.partition(": ")[0] for complaint in complaints)
    return f"rejected, for reasons in quality.csv: {', '.join(trials)}"


def _column(table: Any, name: str) -> list[Any]:
    return [] if table is None or name not in table else list(table[name])


def _told(error: CondyleError, job: Job) -> str:
    sentences = error.sentences if isinstance(error, ConfigurationErrors) else [str(error)]
    if job.text is not None:
        sentences = told_by_origin(sentences, Path(job.session_file), job.text)
    *first, last = sentences
    return "; ".join([*(sentence.rstrip(".") for sentence in first), last])


def _sentence(words: str, job: Job) -> str:
    # folders above the archive are nobody's business in a table that is passed on
    for place in (job.out, job.root):
        words = words.replace(place.rstrip("/") + "/", "")
    words = re.sub(r"\s+", " ", words).strip()
    return words if len(words) <= _LONGEST_REASON else f"{words[:_LONGEST_REASON]} ..."


def _clear(out: Path) -> None:
    """Take away what an earlier run has left, so that nothing old stands beside what is new."""
    remove_stale(out)
    for path in out.iterdir():
        if path.name == "trials" and path.is_dir():
            shutil.rmtree(path, ignore_errors=True)
        elif path.is_file() and path.suffix in {".csv", ".html", ".pdf", ".json"}:
            path.unlink(missing_ok=True)


def _written_once(file: Path, text: str) -> None:
    if not file.is_file() or file.read_text(encoding="utf-8") != text:
        write_text(file, text)
