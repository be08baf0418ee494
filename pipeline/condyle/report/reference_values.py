"""Published values beside the participant's: context, never a limit between normal and not."""

from typing import NamedTuple

from condyle.files.reference import Reference, references
from condyle.report.legs import Leg
from condyle.report.results_read import Results
from condyle.report.words import digits_for, number, spoken, with_interval
from condyle.vocabulary import JOINT_ANGLES


class Beside(NamedTuple):
    """A measure of a leg beside a published group, as text."""

    what: str
    unit: str
    values: dict[str, str]  # side: value with its interval
    published: list[str]


class Context(NamedTuple):
    """The table of published values, with its sources."""

    sides: list[str]
    rows: list[Beside]
    sources: list[str]


def published_for(results: Results, task: str) -> dict[str, list[Reference]]:
    """By measure, the groups of the participant's sex; of both where the sex is not given."""
    sex = (results.declared.get("participant") or {}).get("sex")
    other = {"female": "men", "male": "women"}.get(str(sex), "")
    found: dict[str, list[Reference]] = {}
    for (of_task, measure), groups in references().items():
        kept = [g for g in groups if not (other and g.group.split()[0] == other)]
        if of_task == task and kept:
            found[measure] = kept
    return found


def peaks(published: dict[str, list[Reference]]) -> dict[str, list[tuple[float, float]]]:
    """By angle: mean and SD of published peaks, for the margin of a curve's panel."""
    out: dict[str, list[tuple[float, float]]] = {}
    for angle in JOINT_ANGLES:
        for end in ("max", "min"):
            out.setdefault(angle, []).extend((r.mean, r.sd) for r in published.get(f"{angle}_{end}", []))
    return {angle: values for angle, values in out.items() if values}


def context(legs: list[Leg], published: dict[str, list[Reference]]) -> Context | None:
    """The measures of these legs that have published values."""
    rows = []
    for measure, groups in published.items():
        unit = next((u for leg in legs if (u := leg.unit(measure))), "")
        digits = digits_for(unit)
        values = {
            leg.side: with_interval(*leg.measure(measure)[:3], digits) for leg in legs if leg.measure(measure).known
        }
        if values:
            said = [f"{g.group}: {number(g.mean, digits)} ± {number(g.sd, digits)}" for g in groups]
            rows.append(
                Beside(
                    f"{spoken(measure).removesuffix(' max').removesuffix(' min')}{_end(measure)}", unit, values, said
                )
            )
    if not rows:
        return None
    used = [g.origin for m in published for g in published[m]]
    return Context(list(dict.fromkeys(leg.side for leg in legs)), rows, list(dict.fromkeys(used)))


def _end(measure: str) -> str:
    return ", largest" if measure.endswith("_max") else ", smallest" if measure.endswith("_min") else ""
