"""Labels that are not in a file, but nearly: which of the file's own was probably meant?"""

import re
from collections.abc import Iterable, Mapping
from difflib import get_close_matches

from condyle.findings import Finding

_ALIKE = 0.75
_NAMED = 6  # labels that a row lists before it only counts on


def nearest_label(label: str, candidates: Iterable[str]) -> str | None:
    """The candidate that was probably meant: the same but for case and blanks, else one or two letters apart."""
    folded = {_folded(c): c for c in candidates}
    if _folded(label) in folded:
        return folded[_folded(label)]
    close = get_close_matches(_folded(label), folded, n=1, cutoff=_ALIKE)
    return folded[close[0]] if close and _same_numbers(label, close[0]) else None


def nearly_right(missing: Iterable[str], there: Mapping[str, str]) -> list[Finding]:
    """A row for each missing label that is nearly there; one for all of them that are only written otherwise.

    ``there``: labels of the file without their prefix, and how each may be printed.
    """
    near = {label: found for label in missing if (found := nearest_label(label, there)) is not None}
    only_written = [label for label, found in near.items() if _folded(label) == _folded(found)]
    out = []
    if len(only_written) > 1:
        how = "case" if all(n.casefold() == near[n].casefold() for n in only_written) else "case, blanks or separators"
        pairs = some([f"{there[near[label]]} for {label}" for label in only_written])
        words = f"labels of the marker set are in the file but for their {how}: {pairs}"
        words += "; names are matched exactly, so none of these was taken: correct marker set or file"
        out.append(Finding("label nearly right", "file", float(len(only_written)), 0.0, "labels", "review", words))
        near = {label: found for label, found in near.items() if label not in only_written}
    for label, found in near.items():
        text = f"not in the file, but {there[found]} is: did you mean that? correct marker set or file"
        out.append(Finding("label nearly right", label, None, None, "", "review", text))
    return out


def some(words: list[str]) -> str:
    """The first few, and how many more there are."""
    more = f" and {len(words) - _NAMED} more" if len(words) > _NAMED else ""
    return ", ".join(words[:_NAMED]) + more


def _folded(label: str) -> str:
    return re.sub(r"[\s_.\-]+", "_", label).casefold()


def _same_numbers(label: str, other: str) -> bool:
    """R_THIGH_1 is no misspelling of R_THIGH_2, nor R_ of L_: a digit or the side word tells markers apart."""
    first, second = _folded(label).split("_"), other.split("_")
    sides = {"r", "l", "right", "left"}
    return re.findall(r"\d+", label) == re.findall(r"\d+", other) and [w for w in first if w in sides] == [
        w for w in second if w in sides
    ]
