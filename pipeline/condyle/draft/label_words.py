"""What do the words of a label say? Plain anatomical words and their usual short forms; no scheme is assumed."""

import re
from dataclasses import dataclass

SIDE_WORDS = {"r": "r", "right": "r", "rt": "r", "l": "l", "left": "l", "lt": "l"}
_LATERAL = frozenset({"lat", "lateral", "outer", "ext"})
_MEDIAL = frozenset({"med", "medial", "inner", "int"})
# word -> landmark; {} takes lateral or medial, # a ray of the foot
_WORDS: tuple[tuple[frozenset[str], str], ...] = (
    (frozenset({"asis"}), "asis"),
    (frozenset({"psis"}), "psis"),
    (frozenset({"sacrum", "sacral", "sacr"}), "sacrum"),
    (frozenset({"crest", "iliac", "ilium"}), "iliac_crest"),
    (frozenset({"troch", "trochanter", "gtroch"}), "greater_trochanter"),
    (frozenset({"patella", "pat", "kneecap"}), "patella"),
    (frozenset({"tuberosity", "tubtib", "tibtub"}), "tibial_tuberosity"),
    (frozenset({"knee", "epicondyle", "epi", "condyle"}), "{}_epicondyle"),
    (frozenset({"ankle", "malleolus", "mall"}), "{}_malleolus"),
    (frozenset({"heel", "calcaneus", "calc"}), "calcaneus"),
    (frozenset({"meta", "metatarsal", "mt", "met", "mth"}), "metatarsal_#"),
    (frozenset({"toe"}), "metatarsal_2"),
    (frozenset({"shoulder", "acromion", "acr"}), "acromion"),
    (frozenset({"notch", "jugular"}), "jugular_notch"),
    (frozenset({"xiphoid", "xiph"}), "xiphoid"),
)
_SEGMENT_WORDS = {
    **dict.fromkeys(("thigh", "femur"), "thigh"),
    **dict.fromkeys(("shank", "tibia", "leg"), "shank"),
    **dict.fromkeys(("pelvis", "hip"), "pelvis"),
    **dict.fromkeys(("trunk", "back", "chest"), "trunk"),
    "foot": "foot",
}
_UNSIDED = frozenset({"sacrum", "jugular_notch", "xiphoid", "c7", "t10"})
_PARTS = re.compile(r"[A-Z]?[a-z]+|[A-Z]+(?![a-z])|\d+")


@dataclass(frozen=True)
class Words:
    """What a label says: a landmark (or one of lateral and medial, not said which), a segment, a side, a number."""

    landmark: str | None = None
    open_landmark: str | None = None  # 'epicondyle' or 'malleolus', lateral or medial not said
    segment: str | None = None
    side: str | None = None
    number: int | None = None


def words_of(label: str) -> Words:
    """Read a label; what it does not say stays None."""
    parts = [p.lower() for p in _PARTS.findall(label)]
    parts = [q for p in parts for q in _split_side(p)]
    side = next((SIDE_WORDS[p] for p in parts if p in SIDE_WORDS), None)
    numbers = [int(p) for p in parts if p.isdigit()]
    number = numbers[-1] if numbers else None
    spine = re.fullmatch(r"(c7|t10|th10)", "".join(parts))
    if spine:
        return Words(landmark={"th10": "t10"}.get(spine[0], spine[0]))
    words = set(parts)
    tail = f"_{side}" if side else None
    for known, name in _WORDS:
        if not known & words:
            continue
        if name in _UNSIDED:
            return Words(landmark=name)
        if tail is None:
            return Words(number=number)
        if "{}" in name:
            which = "lateral" if _LATERAL & words else "medial" if _MEDIAL & words else None
            if which is None:
                return Words(open_landmark=name.removeprefix("{}_"), side=side, number=number)
            return Words(landmark=name.format(which) + tail, side=side)
        if "#" in name:
            ray = number if number in (1, 2, 5) else 2 if number is None else None
            return Words(landmark=None if ray is None else name.replace("#", str(ray)) + tail, side=side, number=number)
        return Words(landmark=name + tail, side=side, number=number)
    segment = next((_SEGMENT_WORDS[p] for p in parts if p in _SEGMENT_WORDS), None)
    if segment in ("pelvis", "trunk"):
        return Words(segment=segment, side=side, number=number)
    return Words(segment=f"{segment}{tail}" if segment and tail else None, side=side, number=number)


def _split_side(part: str) -> list[str]:
    """``rasis`` is r + asis, but ``ray`` is not r + ay: only before a word that is known."""
    everything = {w for known, _ in _WORDS for w in known} | set(_SEGMENT_WORDS)
    if part in everything or part in SIDE_WORDS or len(part) < 4:
        return [part]
    for side in ("right", "left", "r", "l"):
        rest = part.removeprefix(side)
        if rest != part and rest in everything:
            return [side, rest]
        rest = part.removesuffix(side)
        if rest != part and rest in everything:
            return [rest, side]
    return [part]
