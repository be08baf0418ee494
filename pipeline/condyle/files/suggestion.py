"""Which valid name was probably meant?"""

import re
from collections.abc import Iterable
from difflib import SequenceMatcher

_ALIKE = 0.6  # share of letters in common below which a suggestion would be a guess (ours)
_LISTED = 20  # more names than this in one sentence help nobody


def nearest(name: str, candidates: Iterable[str]) -> str | None:
    """The candidate most like ``name``, whatever its case; None where nothing is near."""
    wanted = _letters(name)
    scored = [(SequenceMatcher(None, wanted, _letters(c)).ratio(), c) for c in candidates]
    best, found = max(scored, key=lambda pair: pair[0], default=(0.0, None))
    return found if best >= _ALIKE else None


def hint(name: str, candidates: Iterable[str]) -> str:
    """The end of a sentence about an unknown name: its nearest valid name, else the valid ones."""
    valid = list(candidates)
    near = nearest(name, valid)
    if near is not None:
        return f"; nearest valid name: `{near}`"
    if not valid:
        return ""
    more = ", ..." if len(valid) > _LISTED else ""
    return f"; valid names: {', '.join(f'`{v}`' for v in valid[:_LISTED])}{more}"


def _letters(name: str) -> str:
    return re.sub(r"(?<=\w)[-_\s]+(?=\w)", "_", name.casefold().strip())
