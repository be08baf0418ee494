"""The answer for one leg, in a sentence: how much its frontal-plane angle changes, and which part does it."""

from typing import NamedTuple

import pandas as pd

from condyle.report.depths import depths_of
from condyle.report.legs import Estimate, Leg
from condyle.report.words import (
    BELOW_WORDS,
    CAUSE_WORDS,
    DIRECTION_WORDS,
    UNIT_WORDS,
    digits_for,
    interval,
    joined,
    number,
    repetition_words,
    spoken,
)

_SMALL = {"deg": 1.0, "mm": 7.0}  # parts below this are not worth a word in the sentence; the bar shows them all
_STANDING = "_from_standing"
_ENDS = {_STANDING: "from standing", "_at_60_knee_flexion": "to 60 degrees of knee flexion"}


class Answer(NamedTuple):
    """What the first screen says of a leg."""

    sentence: str
    mean_of: str  # over how many repetitions
    direction: str  # how the knee went
    cause: str  # the named cause in words, and how many repetitions agree
    confidence: str
    already: str  # where the posture was there before the squat; else empty
    from_below: str
    planar: str  # what a flat view would have said
    known: bool


def answer_of(leg: Leg, without: str = "no contributions were computed") -> Answer:
    """The sentence and its companions; every part that was not computed is said to be so.

    ``without`` says why a leg without contributions has none, as :func:`condyle.report.absent.why_no_contributions` does.
    """
    account = leg.explains
    change = leg.change(account)
    if not len(leg.valid):
        return _nothing("No repetition of this leg counts, so nothing is said about it; see the table below.")
    if not change.known:
        return _nothing(_why_nothing(leg, without))
    unit = leg.unit(account)
    measure, baseline = split_account(account)
    size = _size(change.value, unit)
    moved = f"{leg.side} {spoken(measure)} changes {size} {_way(measure, change.value)}"
    return Answer(
        f"The {moved} {baseline or 'from start to bottom'}: {_parts(leg, account, unit)}.",
        f"{_mean_of(change)}{_of_unlike_depth(leg, account)}",
        agreement(leg.valid["direction"], DIRECTION_WORDS),
        agreement(leg.valid["cause"], CAUSE_WORDS),
        _confidence(leg),
        _already(leg),
        agreement(leg.valid["from_below"], BELOW_WORDS),
        _planar(leg),
        True,
    )


def split_account(account: str) -> tuple[str, str]:
    """The measure of an account and its baseline in words (empty: from the start of the repetition)."""
    for end, words in _ENDS.items():
        if account.endswith(end):
            return account.removesuffix(end), words
    return account, ""


def account_words(account: str) -> str:
    """An account as a heading says it."""
    measure, baseline = split_account(account)
    return f"{spoken(measure)}, {baseline or 'start to bottom'}"


def _nothing(sentence: str) -> Answer:
    return Answer(sentence, "", "", "", "", "", "", "", False)


def _why_nothing(leg: Leg, without: str) -> str:
    if not len(leg.contributions):
        return f"No cause is named, for {without}."
    return "The contributions could not be measured at the bottom of any counted repetition: no cause is named."


def _size(value: float, unit: str) -> str:
    said = number(abs(value), 0)
    words = UNIT_WORDS.get(unit, unit)
    return f"{said} {'degree' if said == '1' and words == 'degrees' else words}"


def _way(measure: str, change: float) -> str:
    if measure == "thigh_axial_rotation":
        return "inward (internal)" if change >= 0 else "outward (external)"
    return "inward" if change >= 0 else "outward"


def _parts(leg: Leg, account: str, unit: str) -> str:
    parts = leg.sources(account)
    shown = {s: e for s, e in parts.items() if e.known and abs(e.value) >= _SMALL.get(unit, 0.0)}
    ordered = sorted(shown.items(), key=lambda item: -abs(item[1].value))
    words = [f"{spoken(s)} {number(e.value, 0)}{_spaced(interval(e.lower, e.upper, 0))}" for s, e in ordered]
    small = len([e for e in parts.values() if e.known]) - len(shown)
    if small:
        words.append(f"each other part less than {number(_SMALL.get(unit, 0.0), 0)}")
    return joined(words) if words else "no part stands out"


def _spaced(words: str) -> str:
    return f" {words}" if words else ""


def _mean_of(change: Estimate) -> str:
    if change.n == 1:
        return "One repetition."
    spread = f", standard deviation between them {number(change.sd)}" if change.sd == change.sd else ""
    return f"Mean of {change.n} repetitions{spread}."


def _of_unlike_depth(leg: Leg, account: str) -> str:
    """Where the repetitions of the mean are not equally deep: how deep, and what they come to at equal knee flexion."""
    depths, (measure, _) = depths_of(leg), split_account(account)
    if not depths.unlike:
        return ""
    deep = f"{number(depths.least, 0)} to {number(depths.most, 0)} degrees"
    words = f" The knee was bent {deep} at their bottoms, and depth drives it"
    equal = leg.change(f"{measure}_at_60_knee_flexion")
    if not equal.known:
        return f"{words}; none reaches 60 degrees of knee flexion, so no value at equal knee flexion stands beside the mean."
    size, unit = equal.value, leg.unit(account)
    times = "one repetition reaches" if equal.n == 1 else f"mean of {equal.n} repetitions that reach"
    told = f"it changes {_size(size, unit)} {_way(measure, size)} ({times} it)"
    return f"{words}: from the start to 60 degrees of knee flexion {told}."


def agreement(said: pd.Series, words: dict[str, str]) -> str:
    """``at the hip (4 of 5 repetitions); not separable (1)``; empty where nothing was said."""
    counts = said[said != ""].value_counts()
    if not len(counts):
        return ""
    total = int(counts.sum())
    first, *others = [(words.get(str(word), str(word).replace("_", " ")), int(n)) for word, n in counts.items()]
    text = f"{first[0]} ({first[1]} of {total} repetitions)"
    return "; ".join([text, *(f"{word} ({n})" for word, n in others)])


def _confidence(leg: Leg) -> str:
    rows = leg.valid
    if "confidence" not in rows:
        return ""
    values = pd.to_numeric(rows["confidence"]).dropna()
    if not len(values):
        return ""
    low, high = 100 * float(values.min()), 100 * float(values.max())
    share = f"{low:.0f} %" if round(low) == round(high) else f"{low:.0f} to {high:.0f} %"
    return f"named in {share} of the simulated draws of measurement error"


def _already(leg: Leg) -> str:
    """In which repetitions the posture was there before the squat, and what the causes and the account shown are about."""
    rows = leg.valid
    standing = rows["explains"].str.endswith(_STANDING)
    held, rest = rows[standing], rows[(rows["explains"] != "") & ~standing]
    if not len(held):
        return ""
    several = leg.repetitions["trial"].nunique() > 1
    posture = "the posture that brings the knee there was held before the squat began"
    if len(held) == len(rows):
        where = "the one repetition" if len(rows) == 1 else f"all {len(rows)} repetitions"
        return f"Already at the start: in {where} {posture}; the account is therefore taken from the standing trial."
    named = repetition_words(held, several)
    said = f"Already at the start: in {len(held)} of {len(rows)} repetitions ({named}) {posture}. The cause named for "
    said += f"{'it' if len(held) == 1 else 'them'} is that of the change from standing"
    if not leg.explains.endswith(_STANDING):
        return f"{said}; the account shown here is from start to bottom, as the other repetitions' causes are."
    if not len(rest):
        return f"{said}, as is the account shown here."
    return (
        f"{said}, as is the account shown here; the cause named for {repetition_words(rest, several)} is that of the "
        "change from start to bottom."
    )


def _planar(leg: Leg) -> str:
    if "planar_reading" not in leg.valid:
        return ""
    said = agreement(leg.valid["planar_reading"], {})
    misread = int((leg.valid["misread"] == "yes").sum()) if "misread" in leg.valid else 0
    if not said:
        return ""
    return f"{said}{f'; it would have blamed another part in {misread}' if misread else ''}"


def unit_digits(leg: Leg, account: str) -> int:
    """Decimals for an account's numbers."""
    return digits_for(leg.unit(account))
