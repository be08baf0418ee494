"""Which measures are laid against which? From --pair, from the settings, or from what the planar table holds."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from condyle.errors import UsageError
from condyle.files.suggestion import hint
from condyle.study.settings import LARGEST, AgreeSettings, CutoffSetting, PairSetting

_ENDS = (
    *("_at_bottom", "_at_start", "_at_60_knee_flexion", "_change", "_max", "_min", "_range", "_start_from_static"),
    *("_bottom", "_start", "_peak"),
)
_VIEWS = ("_frontal", "_pelvis_plane", "_camera", "_2d")
_SAME = {"pelvis_drop": "pelvis_obliquity"}
_OPPOSITE = {("fppa", "knee_adduction")}  # a knee medial of the line is abduction, and adduction is the positive one
_FOR_FPPA = ("hip_adduction", "hip_internal_rotation", "knee_adduction", "pelvis_rotation")


@dataclass(frozen=True)
class Names:
    """What measures there are: imported planar ones, planar ones computed from trials, and references."""

    imported: frozenset[str]
    computed: frozenset[str]
    reference: frozenset[str]

    @property
    def planar(self) -> list[str]:
        """Every name that can stand on the planar side."""
        return sorted(self.imported | self.computed) + sorted(self.reference)


def stem(measure: str) -> str:
    """The quantity a measure is of: without the moment it is read at and the view it is seen in."""
    name = measure
    for end in (*_ENDS, *_VIEWS):
        name = name.removesuffix(end)
    name = name.removesuffix("_asis")
    return _SAME.get(name, name)


def pair_from_words(words: str, names: Names, settings: AgreeSettings) -> PairSetting:
    """A pair from PLANAR:REFERENCE, with :same, :different or :opposite behind it where the user says so."""
    parts = [part.strip() for part in words.split(":")]
    extra = set(parts[2:])
    if len(parts) < 2 or not all(parts[:2]) or extra - {"same", "different", "opposite", "together"}:
        raise UsageError(
            f"--pair {words!r} is not of the form PLANAR:REFERENCE, such as fppa:hip_adduction_at_bottom; "
            "behind it may stand :same, :different, :together or :opposite."
        )
    planar = _resolved(parts[0], names.planar, "planar measure", words)
    reference = _resolved(parts[1], sorted(names.reference), "3D measure", words)
    known = next((p for p in settings.pairs if (p.planar, p.reference) == (planar, reference)), None)
    same = known.same_quantity if known else stem(planar) == stem(reference)
    runs = known.runs if known else ("opposite" if (stem(planar), stem(reference)) in _OPPOSITE else "together")
    if extra & {"same", "different"}:
        same = "same" in extra
    if extra & {"opposite", "together"}:
        runs = "opposite" if "opposite" in extra else "together"
    return PairSetting(planar=planar, reference=reference, same_quantity=same, runs=runs)


def _resolved(name: str, valid: Sequence[str], what: str, words: str) -> str:
    for candidate in (name, f"{name}_at_bottom", f"{name}_bottom"):
        if candidate in valid:
            return candidate
    raise UsageError(f"--pair {words!r}: there is no {what} {name!r}{hint(name, valid)}.")


def default_pairs(names: Names, settings: AgreeSettings) -> list[PairSetting]:
    """The pairs of the settings that the tables can serve, and for imported measures those that suggest themselves."""
    out = []
    for measure in sorted(names.imported):
        for reference in _suggested(measure, names.reference):
            runs = "opposite" if (stem(measure), stem(reference)) in _OPPOSITE else "together"
            out.append(
                PairSetting(
                    planar=measure, reference=reference, same_quantity=stem(measure) == stem(reference), runs=runs
                )
            )
    taken = {(p.planar, p.reference) for p in out}
    there = names.imported | names.computed | names.reference
    out += [
        p
        for p in settings.pairs
        if p.planar in there and p.reference in names.reference and (p.planar, p.reference) not in taken
    ]
    return out


def _suggested(measure: str, references: frozenset[str]) -> list[str]:
    end = next((e for e in _ENDS if measure.endswith(e)), "_at_bottom")
    wanted = [stem(measure), *list(_FOR_FPPA if stem(measure) == "fppa" else ())]
    found = []
    for quantity in wanted:
        found += [name for name in (f"{quantity}{end}", f"{quantity}_bottom", quantity) if name in references][:1]
    return list(dict.fromkeys(found))


def choose_pairs(
    planar: pd.DataFrame | None,
    computed: pd.DataFrame,
    reference: pd.DataFrame,
    words: Sequence[str],
    settings: AgreeSettings,
) -> list[PairSetting]:
    """The pairs asked for, or the ones that the tables can serve."""
    imported = frozenset(planar["measure"].unique()) if planar is not None else frozenset()
    names = Names(imported, frozenset(computed["measure"].unique()), frozenset(reference["measure"].unique()))
    if words:
        return list({(p.planar, p.reference): p for p in (pair_from_words(w, names, settings) for w in words)}.values())
    return default_pairs(names, settings)


def cutoff_from_words(words: str) -> CutoffSetting:
    """A cut-off from MEASURE:VALUE or MEASURE:VALUE:below."""
    parts = [part.strip() for part in words.split(":")]
    try:
        value = float(parts[1])
    except (IndexError, ValueError):
        value = float("nan")
    wrong = not math.isfinite(value) or not parts[0] or parts[2:] not in ([], ["above"], ["below"])
    if wrong:
        raise UsageError(
            f"--cutoff {words!r} is not of the form MEASURE:VALUE, such as hip_adduction_at_bottom:15, or "
            "MEASURE:VALUE:below."
        )
    if abs(value) > LARGEST:
        raise UsageError(f"--cutoff {words!r}: expected a value from {-LARGEST:g} to {LARGEST:g}.")
    beyond = "below" if parts[2:] == ["below"] else "above"
    return CutoffSetting(measure=parts[0], value=value, beyond=beyond, source="stated with --cutoff")


def cutoff_for(measure: str, cutoffs: Sequence[CutoffSetting]) -> CutoffSetting | None:
    """The cut-off stated for a measure: under its full name; where it is read at the bottom, its quantity's too."""
    elsewhere = any(measure.endswith(end) for end in _ENDS if end not in ("_at_bottom", "_bottom"))
    for name in (measure,) if elsewhere else (measure, stem(measure)):
        for cutoff in cutoffs:
            if cutoff.measure == name:
                return cutoff
    return None


def refuse_unused_cutoffs(words: Sequence[str], stated: Sequence[CutoffSetting], pairs: Sequence[PairSetting]) -> None:
    """A cut-off on a measure that is part of no pair is a usage error with the nearest name; so is one stated twice."""
    measures = list(dict.fromkeys(name for pair in pairs for name in (pair.reference, pair.planar)))
    named: dict[str, tuple[str, CutoffSetting]] = {}
    for said, cutoff in zip(words, stated, strict=True):
        if pairs and not any(cutoff_for(measure, [cutoff]) for measure in measures):
            raise UsageError(
                f"--cutoff {said!r}: {cutoff.measure!r} is no measure of any pair{hint(cutoff.measure, measures)}."
            )
        before = named.setdefault(cutoff.measure, (said, cutoff))
        if before[1] != cutoff:
            raise UsageError(f"--cutoff {before[0]!r} and {said!r} contradict one another; state one of them.")
