"""Which sessions of an archive call themselves by the same participant and session?"""

from dataclasses import replace

from condyle.archive.found import in_order
from condyle.archive.record import Record

_HOLDS_NAME = ("done", "rejected")


class Names:
    """The folder that keeps each participant and session: the first in order of folder, whatever the order of coming."""

    def __init__(self) -> None:
        self._keepers: dict[tuple[str, str], str] = {}

    def met(self, record: Record) -> tuple[Record, str]:
        """The record as it stands beside those met so far, and the folder that has to give up its name to it.

        A session that was not processed keeps no name. The second is '' nearly always: it needs two sessions of one name
        of which the later in order of folder came first.
        """
        if record.status not in _HOLDS_NAME:
            return record, ""
        key = record.participant, record.session
        keeper = self._keepers.setdefault(key, record.folder)
        if keeper == record.folder:
            return record, ""
        if in_order(keeper) < in_order(record.folder):
            return doubled(record, keeper), ""
        self._keepers[key] = record.folder
        return record, keeper


def doubled(record: Record, keeper: str) -> Record:
    """The record of a session whose name ``keeper`` has: pooled, nobody could tell the two apart."""
    words = f"the same participant and session as {keeper}; give one of them another name in its session file."
    return replace(record, status="failed", reason=words, verdicts={})
