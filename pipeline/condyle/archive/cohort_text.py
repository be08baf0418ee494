"""The session file that follows from a cohort.yaml, and where each of its lines comes from.

Nobody opens that file: a mistake in it is one in cohort.yaml or in the list of participants, and is told as such.
"""

import re
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

import yaml

from condyle.files.yaml_text import TreePath, shown

Origins = Mapping[
    TreePath, str
]  # by the path in the session file: `people.csv, line 3`, relative to the archive's root

_MARK = "  # from "


def session_text(content: Mapping[str, Any], origins: Origins) -> str:
    """A session.yaml with this content; every line ends in a comment that names its origin, the nearest one known."""
    head = f"# Written anew by every run; change what it was made from.{_MARK}{origins[()]}"
    return "\n".join([head, *_lines(content, origins, (), "")]) + "\n"


def told_by_origin(sentences: Iterable[str], file: Path, text: str, above: str = "") -> list[str]:
    """Sentences on a session file with this text, each with the place in front that the user wrote.

    ``above`` is put before that place: the root as the reader knows it.
    """
    place = re.compile(rf"{re.escape(shown(file))}(?:, line (\d+))?: ")
    lines = text.split("\n")

    def origin(match: re.Match[str]) -> str:
        return f"{above}{lines[int(match[1] or 1) - 1].rpartition(_MARK)[2]}: "

    return [place.sub(origin, sentence, count=1) if place.match(sentence) else sentence for sentence in sentences]


def _lines(node: Any, origins: Origins, path: TreePath, indent: str) -> Iterator[str]:
    for key, value in node.items() if isinstance(node, Mapping) else enumerate(node):
        here = (*path, key)
        lead = f"{indent}{_key(str(key))}:" if isinstance(node, Mapping) else f"{indent}-"
        mark = _MARK + next(origins[here[:end]] for end in range(len(here), -1, -1) if here[:end] in origins)
        if isinstance(value, Mapping | list):
            yield lead + mark
            yield from _lines(value, origins, here, f"{indent}  ")
        else:
            yield f"{lead} {_scalar(value)}{mark}"


def _key(text: str) -> str:
    return text if re.fullmatch(r"[a-z_]+", text) else _scalar(text)


def _scalar(text: str) -> str:
    """The text in quotes, which keep it in one line and let no `null` mean nothing."""
    return yaml.safe_dump(text, default_style='"', width=float("inf"), allow_unicode=True).rstrip("\n")
