"""Why has a planar value no reference? Which of its keys does not match, and what was probably meant."""

import re
from collections.abc import Sequence
from typing import Any

import pandas as pd

from condyle.files.suggestion import nearest

_LISTED = 4  # more known values than these in one reason help nobody
NOT_THIS_MEASURE = "the measures know this repetition, but hold no such reference value of it"


def reasons(lost: pd.DataFrame, known: pd.DataFrame, used: Sequence[str]) -> list[str]:
    """A reason for every row of ``lost``: the first key, from participant to repetition, that ``known`` does not have.

    A side that is none and a repetition that is no number are named too, whatever else does not match.
    """
    tree: dict[str, Any] = {}
    for row in known[list(used)].drop_duplicates().itertuples(index=False, name=None):
        node = tree
        for value in row:
            node = node.setdefault(value, {})
    everywhere = {key: set(known[key]) for key in used}
    return [_reason(dict(zip(used, row, strict=True)), tree, everywhere) for row in _rows(lost, used)]


def _rows(table: pd.DataFrame, used: Sequence[str]) -> list[tuple[str, ...]]:
    return list(table[list(used)].itertuples(index=False, name=None))


def _reason(key: dict[str, str], tree: dict[str, Any], everywhere: dict[str, set[str]]) -> str:
    wrong = {name: words for name, words in _malformed(key).items() if key[name] not in everywhere[name]}
    node, above = tree, ""
    for name, value in key.items():
        if value not in node:
            if name not in wrong:
                wrong = {name: _unknown(name, value, sorted(node, key=_in_order), above), **wrong}
            break
        node, above = node[value], value if name in ("participant", "trial") else above
    return "; ".join(wrong.values()) or NOT_THIS_MEASURE


def _malformed(key: dict[str, str]) -> dict[str, str]:
    out = {}
    if key.get("side", "") not in ("", "left", "right", "both"):
        out["side"] = f"side {key['side']!r} is neither left nor right"
    if not key.get("repetition", "1").isdigit() and key["repetition"]:
        out["repetition"] = f"repetition {key['repetition']!r} is no whole number"
    return out


def _unknown(name: str, value: str, there: Sequence[str], above: str) -> str:
    of = f" of {above}" if above else ""
    if not value:
        return f"no {name} is given"
    alike = next((other for other in there if _loose(other) == _loose(value)), None)
    if alike is not None:
        return f"the planar table says {name} {value!r}, the measures {alike!r}: spell them alike"
    said = f"{name} {value!r}{of} is not in the measures"
    near = nearest(value, there) if name in ("participant", "session", "trial") else None
    if near is not None:
        return f"{said}; nearest: {near!r}"
    named = [other for other in there if other]
    more = f" and {len(named) - _LISTED} more" if len(named) > _LISTED else ""
    return f"{said}; there {'is' if len(named) == 1 else 'are'} {', '.join(named[:_LISTED])}{more}" if named else said


def _in_order(value: str) -> tuple[int, str]:
    return (int(value), "") if value.isdigit() else (-1, value)


def _loose(name: str) -> tuple[str, ...] | str:
    """A name without case, separators and leading zeros: MR01, mr1 and MR-1 are alike, 2026-1-13 and 2026-11-3 are not."""
    words = re.findall(r"[^\W\d_]+|\d+", name.casefold())
    return tuple(word.lstrip("0") or "0" for word in words) or name
