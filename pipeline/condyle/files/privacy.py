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
    "results quality check folder station room round part measure measurement measurements optical root "
    "users documents desktop downloads share shared config configs settings pipeline pipelines output outputs sessions "
    "participants patients subjects studies tests clinic hospital research records files mocap capture"
)
_TRADE = frozenset(_TRADE_WORDS.split())
_RENAME_OR_NAME = "rename it, or give the trial a `name:` in the session file, so that it is not copied into results"
_EXPORT = "it is not copied into results, but whoever gets the file can read it; export it anew without that"
_LEVELS = 3  # ours: a session's folder and the two above it, such as COHORT/PARTICIPANT/SESSION
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


def looks_like_a_full_name(text: str, pseudonym: str = "") -> bool:
    """Whether a name holds two capitalised words that are neither trade words nor the pseudonym, or a date of birth."""
    own = {w.casefold() for w in _WORD.findall(pseudonym)}
    words = {w.casefold() for w in _WORD.findall(text) if w[0].isupper() and len(w) > 1}
    return len(words - own - _TRADE) > 1 or _BIRTH.search(text) is not None


def personal_folders(folders: Iterable[Path], participant: str) -> list[Path]:
    """The folders that seem to be called by a person's name: of each one given, itself and the two above it.

    A folder called by the pseudonym is the participant's; those above it are the study's, whose names may be any words,
    so that there only a full name or a date of birth counts. The user's own home, and what is above it, is not looked at.
    """
    found: dict[Path, None] = {}
    own_home = {Path.home(), *Path.home().parents}
    for folder in folders:
        above_the_participant = False
        for place in (folder, *folder.parents)[:_LEVELS]:
            if place in own_home:
                break
            if looks_like_a_full_name(place.name, participant) or (
                not above_the_participant and looks_personal(place.name, participant)
            ):
                found[place] = None
            above_the_participant = above_the_participant or place.name.casefold() == participant.casefold()
    return list(found)


def file_findings(path: Path, name: str, prefixes: Iterable[str], participant: str) -> list[Finding]:
    """A finding for each place of a file in which something else than a pseudonym may stand; it is not repeated.

    ``name`` is what the trial is called.
    """
    advice = _RENAME_OR_NAME if path.stem == name else "it is not copied into results, for the trial has a `name:`"
    places = {"the file's name": (path.stem, advice), "the prefix of the labels": (" ".join(prefixes), _EXPORT)}
    return [_finding(place, what) for place, (text, what) in places.items() if looks_personal(text, participant)]


def folder_findings(session: Path, files: Iterable[Path], participant: str) -> list[Finding]:
    """A finding for each folder of a session, or of its files, that is called by something else than a pseudonym."""
    folders = dict.fromkeys([session, *(file.parent for file in files)])
    names = {session: "the session folder's name", session.parent: "the name of the folder above the session"}
    names |= {session.parent.parent: "the name of the second folder above the session"}
    what = "rename it: an archive copies the names of folders, and so may other programs"
    found = dict.fromkeys(
        names.get(f, "the name of a folder of the files") for f in personal_folders(folders, participant)
    )
    return [_finding(place, what) for place in found]


def pseudonym_finding(place: str) -> Finding:
    """The warning for one place inside a file."""
    return _finding(place, _EXPORT)


def _finding(place: str, what: str) -> Finding:
    advice = f"{place} holds a word that is no pseudonym and may be a person's name or date of birth: {what}."
    return Finding("pseudonym", "file", None, None, "", "review", advice)
