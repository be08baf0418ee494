"""What stands before the labels and is no part of them? A participant's prefix, if it stands before most of a file's labels."""

from collections import Counter
from collections.abc import Sequence

from condyle.draft.label_words import SIDE_WORDS
from condyle.files.privacy import looks_personal
from condyle.files.recording import Recording


def prefix_of(recordings: Sequence[Recording]) -> str:
    """The prefix that most files have, with the blanks that follow it in every label; empty where there is none.

    A prefix of a few labels among others without one belongs to these labels (``R: ASIS``), and so does a word for a side.
    """
    count = Counter(p for r in recordings for p in r.prefixes if _stands_before_most(p, r))
    if not count:
        return ""
    prefix = count.most_common(1)[0][0]
    rest = [label.removeprefix(prefix) for r in recordings for label in r.labels if label.startswith(prefix)]
    blanks = min((label[: len(label) - len(label.lstrip())] for label in rest), key=len)
    if all(label.startswith(blanks) and not label[len(blanks) : len(blanks) + 1].isspace() for label in rest):
        return prefix + blanks
    return ""  # its labels begin with blanks, now so, now so: only whole can they be written down


def written_prefix(prefix: str, recordings: Sequence[Recording]) -> tuple[str, str]:
    """What the marker set says of the prefix, empty for `auto`, and a note on it, empty where there is none.

    A participant's prefix, often a name, stands nowhere where reading finds it by itself: the set serves the next one too.
    """
    others = {p for r in recordings for p in r.prefixes} - {prefix}
    if prefix and not others and not prefix[-1].isspace():
        return "", ""
    if looks_personal(prefix):
        return prefix, "the prefix of the labels holds a word that may be a person's name: export the files without it"
    return prefix, ""


def _stands_before_most(prefix: str, recording: Recording) -> bool:
    labels = [n for n, ok in zip(recording.labels, recording.is_marker, strict=True) if ok]
    own = sum(label.startswith(prefix) for label in labels)
    without = sum(not label.startswith(recording.prefixes) for label in labels)
    return own > without and prefix[:-1].strip().lower() not in SIDE_WORDS
