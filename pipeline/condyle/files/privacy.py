"""Does a name in a file, a folder or a label look like a person's? Warned of, never repeated."""

import re
from collections.abc import Iterable
from pathlib import Path

from condyle.findings import Finding

# What file names of a gait lab are made of; any other word of four letters or more may be somebody's name.
_TRADE_WORDS = (
    "abduction adduction affected ankle arms back balance barefoot baseline behind bilateral body both "
    "calibration cluster clusters control data double down drop dynamic export fast file files foot free "
    "front frontal functional gait heel high home hips jump jumping knee knees land landing lateral left legs "
    "limb loaded main marker markers medial model month months motion movement neutral normal open "
    "participant patient pelvis person pilot plate post postop posture practice pre preop processed project "
    "range recording recordings repeat reference rehab right running sample scan screen screening season seat "
    "session sessions shank shoes side single slow squat squats stair stance standing start static step "
    "step_down stepdown study subject surgery swing task team test tester thigh tibia toes trial trials trunk "
    "turn used visit walk walking week weeks year yearly young "
    "first second third fourth fifth last next initial final archive batch cohort controls group healthy injured pain "
    "dominant closed eyes camera cameras plates calib circle axis hops hopping deep shallow minutes hours days morning "
    "evening spring summer autumn winter case copy demo example clean noisy edited fixed good warm warmup work temp team "
    "results quality check folder station room round part measure measurement measurements optical"
)
_TRADE = frozenset(_TRADE_WORDS.split())
_SHORTEST = 4  # letters; shorter words are codes
_WORD = re.compile(r"[A-Z]?[a-zà-öø-ÿ]+|[A-ZÀ-Þ]+(?![a-zà-öø-ÿ])|[^\W\d_]+")
_YEAR, _MONTH, _DAY, _GAP = r"(?:19[2-9]\d|200\d|201[0-2])", r"(?:0?[1-9]|1[0-2])", r"(?:[0-2]?\d|3[01])", r"[-_. ]"
_BIRTH = re.compile(
    rf"(?<!\d)(?:{_YEAR}{_GAP}{_MONTH}{_GAP}{_DAY}|{_DAY}{_GAP}{_MONTH}{_GAP}{_YEAR}|{_YEAR}(?:0[1-9]|1[0-2])(?:[0-2]\d|3[01]))(?!\d)"
)


def looks_personal(text: str, pseudonym: str = "") -> bool:
    """Whether a name holds a word that is no trade word, code or part of the pseudonym, or a date that may be of birth."""
    own = {w.casefold() for w in _WORD.findall(pseudonym)}
    words = {w.casefold() for w in _WORD.findall(text) if len(w) >= _SHORTEST}
    return bool(words - own - _TRADE) or _BIRTH.search(text) is not None


def privacy_findings(path: Path, prefixes: Iterable[str], participant: str) -> list[Finding]:
    """A finding for each place in which something else than a pseudonym may stand; what stands there is not repeated."""
    places = {
        "the file's name": path.stem,
        "the folder's name": path.parent.name,
        "the name of the folder above": ""
        if _WORD.search(path.parent.name)
        else path.parent.parent.name,  # above a date
        "the prefix of the labels": " ".join(prefixes),
    }
    return [pseudonym_finding(place) for place, text in places.items() if looks_personal(text, participant)]


def pseudonym_finding(place: str) -> Finding:
    """The warning for one place."""
    advice = (
        f"{place} holds a word that is no pseudonym and may be a person's name or date of birth: rename it, or give the trial a "
        "`name:` in the session file, so that it is not copied into results."
    )
    return Finding("pseudonym", "file", None, None, "", "review", advice)
