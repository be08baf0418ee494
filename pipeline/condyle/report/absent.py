"""What a picture does not show, and why: a sentence in place of empty axes."""

import re
from collections.abc import Sequence

from condyle.mechanics.contributions import MODEL_ANGLES
from condyle.report.legs import Leg
from condyle.report.results_read import Results
from condyle.report.words import joined, spoken

_STAGE = "contributions"
_WIDTH_SERVED = "centre from the measured width"  # said of a joint that has all it needs
_MASS = "centre of mass"  # subject of its row in the quality table


def not_drawn(legs: Sequence[Leg], drawn: Sequence[bool], what: str) -> str:
    """A sentence for every leg of which nothing is drawn; ``what`` was not measured if its repetitions count."""
    return " ".join(
        f"{leg.side.capitalize()} leg: not drawn, for {why_absent(leg, what)}."
        for leg, there in zip(legs, drawn, strict=True)
        if not there
    )


def why_absent(leg: Leg, what: str) -> str:
    """Why a leg has no means of something, as the end of a sentence."""
    return f"{what} not measured" if len(leg.valid) else "none of its repetitions counts"


def mass_words(results: Results, legs: Sequence[Leg]) -> str:
    """What the quality table says of the centre of mass in these legs' trials: stand-ins, or what is missing for it."""
    table = results.table("quality")
    if not len(table):
        return ""
    trials = {str(name) for leg in legs for name in leg.repetitions["trial"]}
    rows = table[(table["subject"] == _MASS) & table["trial"].isin(trials)]
    said: dict[str, list[str]] = {}
    for name, advice in zip(rows["trial"], rows["advice"], strict=True):
        said.setdefault(str(advice), []).append(str(name))
    if len(said) == 1 and len(trials) == len(next(iter(said.values()))):
        return f"{_sentence(next(iter(said)))}"
    return " ".join(f"{joined(names)}: {advice}" for advice, names in said.items())


def why_no_contributions(results: Results, leg: Leg) -> str:
    """Why a leg has no contributions, as the end of a sentence: no such stage, or what its markers do not give and why."""
    if not results.stages:
        return "no contributions were computed"
    if _STAGE not in results.stages:
        return f"the pipeline has no stage `{_STAGE}`; add it behind `measures` and run again"
    table = results.table("quality")
    if not len(table):
        return "the contributions could not be computed from these markers"
    trials = set(map(str, leg.repetitions["trial"]))
    angles = table[(table["check"] == "angles given") & (table["subject"] == leg.side) & table["trial"].isin(trials)]
    lacking = [n for n in MODEL_ANGLES if any(n in re.findall(r"\w+", str(advice)) for advice in angles["advice"])]
    if not lacking:
        return "the contributions could not be computed at the bottom of any repetition; the quality table says what is missing"
    parts = [f"{part}_{leg.side[0]}" for part in ("thigh", "knee", "shank", "ankle")]
    notes = table[(table["check"] == "calibration") & table["subject"].isin(parts) & (table["verdict"] == "review")]
    said = dict.fromkeys(str(advice).rstrip(".") for advice in notes["advice"])
    why = "; ".join(words for words in said if not words.endswith(_WIDTH_SERVED))
    words = f"the contributions need {joined([spoken(n) for n in lacking])}, which these markers do not give"
    return f"{words} ({why})" if why else words


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:]
