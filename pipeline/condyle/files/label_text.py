"""What are the points called, once text that cannot be written or printed is cleaned away?"""

import re
import unicodedata

from condyle.files.c3d_structure import Structure

UNLABELLED = re.compile(r"\*\d*$")
SEPARATORS = ":|/\\_.- "
_SURE_SEPARATOR = re.compile(r"^(?P<prefix>[^:|\\/]+[:|\\/])[^:|\\/]+$")
_SIDES = ("r", "l", "right", "left")
_FEWEST = 4  # labels that begin alike, for the beginning to be a participant's
_UNPRINTABLE = frozenset(("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"))
_PSEUDONYM = re.compile(r"[A-Za-z]{0,4}[-_]?\d{1,6}$")


def clean(raw: bytes) -> tuple[str, bool]:
    """Text without padding, control characters and broken UTF-8; and whether anything but padding was changed."""
    try:
        text, changed = raw.decode("utf-8"), False
    except UnicodeDecodeError:
        text, changed = raw.decode("latin-1"), True
    text = text.replace("\x00", " ").strip()
    if text.isprintable():
        return text, changed
    return "".join("?" if unicodedata.category(c) in _UNPRINTABLE else c for c in text), True


def point_labels(structure: Structure, points: int) -> tuple[tuple[str, ...], list[str]]:
    """A label for every point, LABELS2 and so on joined, `*12` for the twelfth where it has none; and what was odd."""
    raw: list[bytes] = []
    odd: list[str] = []
    number = 1
    while records := structure.all("POINT", "LABELS" if number == 1 else f"LABELS{number}"):
        raw += records[0].texts()
        number += 1
    cleaned = [clean(r) for r in raw[:points]]
    if any(changed for _, changed in cleaned):
        odd.append(
            f"{sum(changed for _, changed in cleaned)} labels held characters that cannot be written and were cleaned"
        )
    if len(raw) < points:
        odd.append(f"{points} points have only {len(raw)} labels; the others are unlabelled")
    given = [label for label, _ in cleaned] + [""] * (points - len(cleaned))
    return tuple(label or f"*{k + 1}" for k, label in enumerate(given)), odd


def labels_damaged(structure: Structure) -> bool:
    """Whether the labels may be read at the wrong places: each of them would then name another point."""
    records = [r for (group, name), r in structure.parameters.items() if group == "POINT" and name.startswith("LABELS")]
    return any(record.spare or not record.complete for kept in records for record in kept)


def is_unlabelled(label: str) -> bool:
    """Whether the recording software left the point without a name."""
    return UNLABELLED.match(label) is not None


def prefixes(labels: tuple[str, ...]) -> tuple[str, ...]:
    """Participants' prefixes with their separator, most frequent first.

    What stands before a colon; before a bar or a slash where two labels share it; and before an underscore, a dot, a
    hyphen or a blank where every label begins so and goes on with a word: there it may as well belong to the label,
    and ``match_labels``, which knows what is wanted, looks for itself.
    """
    named = [label for label in labels if not is_unlabelled(label)]
    count: dict[str, int] = {}
    for label in named:
        if match := _SURE_SEPARATOR.match(label):
            count[match["prefix"]] = count.get(match["prefix"], 0) + 1
    count = {prefix: n for prefix, n in count.items() if n > 1 or prefix.endswith(":")}
    if not count and len(named) >= _FEWEST:
        cuts = [named[0][: match.end()] for match in re.finditer(r"[_. -]", named[0])]
        alike = [cut for cut in cuts if all(n.startswith(cut) and n[len(cut) :][:1].isalpha() for n in named)]
        count = {cut: len(named) for cut in alike[-1:] if cut[:-1].lower() not in _SIDES}
    return tuple(sorted(count, key=lambda p: (-count[p], p)))


def shown(label: str, known_prefixes: tuple[str, ...]) -> str:
    """The label as it may be printed: a prefix that may be a person's name becomes `participant 1:`."""
    for number, prefix in enumerate(known_prefixes, 1):
        if label.startswith(prefix):
            if _PSEUDONYM.match(prefix[:-1]):
                return label
            return f"participant {number}:{label[len(prefix) :]}" if len(known_prefixes) > 1 else label[len(prefix) :]
    return label


def is_pseudonym(text: str) -> bool:
    """Whether the text looks like P01 or MR-003 and not like a name."""
    return _PSEUDONYM.match(text.rstrip(SEPARATORS)) is not None
